"""The log file: events with numbers, failures by kind and place, and no words of a person."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from aligner.log import log_event, log_failure, log_folder, start_log, stop_log


@pytest.fixture
def log_file(tmp_path: Path) -> Iterator[Path]:
    path = start_log(tmp_path)
    assert path is not None
    yield path
    stop_log()


def test_an_event_is_kept_with_its_numbers_and_the_time(log_file: Path) -> None:
    log_event("answer kept", seq=12, took_s=0.25)
    stop_log()
    line = log_file.read_text(encoding="utf-8")
    assert line.endswith("INFO answer kept seq=12 took_s=0.25\n")
    assert line[10] == "T"
    assert line[19] == "Z"


def test_a_failure_is_kept_without_what_it_says(log_file: Path) -> None:
    words = "a note " + "of the person"
    try:
        raise OSError(28, words)
    except OSError as error:
        log_failure("not kept", error)
    stop_log()
    text = log_file.read_text(encoding="utf-8")
    assert "builtins.OSError (error 28 of the system)" in text
    assert "in test_a_failure_is_kept_without_what_it_says" in text
    assert words not in text


def test_a_log_that_cannot_be_written_stops_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    assert start_log(tmp_path / "file") is None
    log_event("goes nowhere")
    stop_log()
    assert (tmp_path / "file").read_text(encoding="utf-8") == "in the way"


def test_the_log_stays_small(log_file: Path) -> None:
    for number in range(9000):
        log_event("a reading has come from the instrument and was shown", number=number)
    stop_log()
    files = list(log_file.parent.iterdir())
    assert len(files) == 3
    assert all(file.stat().st_size < 300_000 for file in files)


def test_the_folder_is_the_platforms_own_for_logs() -> None:
    assert "aligner" in log_folder().parts
