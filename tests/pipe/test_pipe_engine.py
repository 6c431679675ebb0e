import subprocess
import sys
from pathlib import Path

import pytest

from aligner.engine import run as real_engine
from aligner.errors import Exit, JournalError
from aligner.journal.store import Journal
from tests.pipe.conversation import Line, Talk, talk

IF_HZ = 10.7e6  # the shipped procedure's
PRESCALER = 256
ENOUGH = 80


def answer_to(ask: Line, touched: set[str]) -> Line:
    """What an easy set would show: the oscillator right, each aim met exactly, and each signal circuit 300 kHz high.

    Once adjusters of it were touched (`touched`: circuits, added to here) it is right.
    """
    if ask["ask"] == "confirm":
        return {"id": ask["id"], "done": True}
    if ask["ask"] == "touch":
        touched.add(ask["circuit"])
        return {"id": ask["id"], "reading": ask["aim"]["value"]}
    received = ask["point"].get("received", {2.0: 87.5e6, 8.0: 108e6}.get(ask["point"].get("volts")))
    high = 0.0 if ask["circuit"] in touched else 300e3
    reading = {"frequency": round((received + IF_HZ) / PRESCALER), "resonance": received + high}
    return {"id": ask["id"], "reading": reading[ask["quantity"]]}


def said_to_the_end(folder: Path) -> tuple[list[Line], Talk]:
    """All answers up to `done`, and the one conversation of a job that is opened anew for each of them."""
    said: list[Line] = []
    touched: set[str] = set()
    spoken = talk("fm-varactor", folder, engine=real_engine)
    job = spoken.job["file"]
    while spoken.last.get("tell") != "done":
        assert len(said) < ENOUGH
        said.append(answer_to(spoken.last, touched))
        before = spoken
        spoken = talk(job, folder, said[-1], engine=real_engine)
        assert spoken.job["entries"] == len(said) - 1
        assert spoken.turns[0][-1] == before.last
    return said, spoken


def test_a_job_cut_after_every_answer_goes_as_one_that_is_not(tmp_path: Path) -> None:
    said, cut = said_to_the_end(tmp_path / "cut")
    assert cut.code == Exit.DONE
    whole = talk("fm-varactor", tmp_path / "whole", *said, engine=real_engine)
    assert whole.code == Exit.DONE
    assert whole.turns[-1] == cut.turns[-1]
    assert whole.last["aligned"] is True
    assert set(whole.last["steps"].values()) == {"held"}
    reads = [turn[-1] for turn in whole.turns if turn[-1].get("ask") == "read"]
    touches = [turn[-1] for turn in whole.turns if turn[-1].get("ask") == "touch"]
    assert whole.last["readings"] == len(reads)
    assert 0 < whole.last["touches"] <= len(touches)


def test_numbers_of_asks_rise_and_each_is_shown_once(tmp_path: Path) -> None:
    said, _ = said_to_the_end(tmp_path / "cut")
    numbers = [line["id"] for line in said]
    assert numbers == sorted(set(numbers))


def test_the_cautions_come_first_and_cannot_be_set_aside(tmp_path: Path) -> None:
    spoken = talk("fm-varactor", tmp_path, {"id": 1, "set_aside": "later"}, engine=real_engine)
    assert (spoken.turns[0][-1]["ask"], spoken.turns[0][-1]["hazard"]) == ("confirm", True)
    assert spoken.turns[1][0]["tell"] == "problem"


def test_a_slipped_decimal_is_doubted_and_taken_when_it_is_said_again(tmp_path: Path) -> None:
    said, _ = said_to_the_end(tmp_path / "cut")
    first_read = next(place for place, line in enumerate(said) if "reading" in line)
    wild = {**said[first_read], "reading": said[first_read]["reading"] * 10}
    spoken = talk("fm-varactor", tmp_path / "wild", *said[:first_read], wild, wild, engine=real_engine)
    doubt, ask = spoken.turns[-2]
    assert (doubt["tell"], doubt["id"]) == ("doubt", wild["id"])
    assert ask == spoken.turns[-3][-1]
    assert all(line.get("tell") != "doubt" for line in spoken.turns[-1])
    assert spoken.last["id"] != wild["id"]


def test_a_disk_that_fails_ends_the_pipe_and_the_job_goes_on_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise JournalError("no room on the disk")

    with monkeypatch.context() as patch:
        patch.setattr(Journal, "append", full)
        with pytest.raises(JournalError, match="no room"):
            talk("fm-varactor", tmp_path, {"id": 1, "done": True}, engine=real_engine)
    assert talk("fm-varactor-1", tmp_path, {"id": 1, "done": True}, engine=real_engine).last["id"] == 2


def test_a_list_of_jobs_and_the_pipe_itself_wait_for_no_numerical_library() -> None:
    program = (
        "import sys, aligner.journal.listing, aligner.job, aligner.pipe; "
        "print([name for name in ('numpy', 'scipy', 'textual', 'rich', 'serial') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
