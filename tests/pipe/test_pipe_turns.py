import io
from pathlib import Path

import pytest

from aligner.errors import Exit, JournalError, ProcedureError, UsageError
from aligner.job import Job
from aligner.journal.listing import summaries
from aligner.pipe import run
from aligner.procedure.library import find
from tests import plain_engine
from tests.pipe.conversation import Line, talk
from tests.small_sets import coverage, fm_head, oscillator

FM = "fm-varactor"
SMALL = fm_head() + oscillator() + coverage()
WHOLE_JOB: tuple[Line, ...] = (
    {"id": 1, "done": True},
    {"id": 2, "reading": 400_000.0},
    {"id": 3, "reading": 98.0e6, "turns": 0.5},
    {"id": 4, "none": -20.0, "ferrite": -21.0, "brass": -20.5},
    {"id": 5, "points": [[1.0e6, -3.0], [1.5e6, 0.0], [2.0e6, -3.0]]},
)


def entries(folder: Path) -> int:
    (row,) = summaries(folder)
    return row.entries


def test_the_first_lines_of_a_new_job_are_these(tmp_path: Path) -> None:
    spoken = talk(FM, tmp_path)
    file = str(tmp_path / "fm-varactor-1.job")
    assert spoken.job == {"tell": "job", "pipe": 1, "job": "fm-varactor-1", "file": file, "entries": 0}
    confirm = {"ask": "confirm", "id": 1, "step": "connect", "text": "Do it.", "why": "", "hazard": False}
    assert spoken.turns == [[confirm]]


def test_a_job_that_was_left_while_something_was_to_be_turned_names_the_adjuster_when_it_goes_on(
    tmp_path: Path,
) -> None:
    first = talk(FM, tmp_path, *WHOLE_JOB[:2])
    assert "left_open" not in first.job
    again = talk(first.job["file"], tmp_path, {"undo": True, "turned": True})
    assert again.job["left_open"] == first.last["adjuster"]
    assert again.turns[0][-1] == first.last
    assert "left_open" not in talk(first.job["file"], tmp_path).job


def test_an_answer_that_is_taken_brings_its_step_and_the_next_ask(tmp_path: Path) -> None:
    spoken = talk(FM, tmp_path, WHOLE_JOB[0])
    read = {"ask": "read", "id": 2, "step": "coverage", "text": "Read it.", "why": "", "quantity": "frequency"}
    assert spoken.turns[1] == [
        {"tell": "step", "step": "connect", "state": "held", "tolerance": 5.0},
        {**read, "circuit": "", "point": {"volts": 2.0}, "generator": None},
    ]


def test_a_whole_job_goes_through_each_kind_of_ask_and_ends_with_done(tmp_path: Path) -> None:
    spoken = talk(FM, tmp_path, *WHOLE_JOB)
    assert spoken.code == Exit.DONE
    assert [turn[-1].get("ask") for turn in spoken.turns] == ["confirm", "read", "touch", "wand", "sweep", None]
    steps = dict.fromkeys(("connect", "coverage", "interstage", "antenna", "final"), "held")
    assert spoken.turns[5] == [
        {"tell": "step", "step": "final", "state": "held", "tolerance": 5.0},
        {"tell": "done", "aligned": True, "steps": steps, "touches": 1, "readings": 1},
    ]


def test_what_an_ask_does_not_know_is_null_and_never_left_out(tmp_path: Path) -> None:
    spoken = talk(FM, tmp_path, *WHOLE_JOB[:4])
    touch, sweep = spoken.turns[2][-1], spoken.turns[4][-1]
    assert touch["aim"] == {"quantity": "resonance", "value": 98e6, "within": 1e5}
    assert (touch["amount"], touch["direction"], touch["generator"]) == (None, None, None)
    assert (sweep["from"], sweep["to"], sweep["count"], sweep["point"]) == (1e6, 2e6, 11, None)


def test_lines_are_plain_json_in_bytes_with_lf(tmp_path: Path) -> None:
    out = io.BytesIO()
    run(FM, tmp_path, io.BytesIO(b'{"id":1,"done":true}\r\n'), out, engine=plain_engine)
    assert out.getvalue().count(b"\n") == 4
    assert b"\r" not in out.getvalue()
    assert b"NaN" not in out.getvalue()  # the plain engine's plus_minus is none, and must be left out


def test_after_done_nothing_more_is_heard_or_said(tmp_path: Path) -> None:
    spoken = talk(FM, tmp_path, *WHOLE_JOB, {"undo": True}, b"nonsense\n")
    assert spoken.last["tell"] == "done"
    assert entries(tmp_path) == 5


def test_a_finished_job_tells_its_steps_and_done_at_once(tmp_path: Path) -> None:
    talk(FM, tmp_path, *WHOLE_JOB)
    again = talk("fm-varactor-1", tmp_path)
    assert again.code == Exit.DONE
    assert again.job["entries"] == 5
    (turn,) = again.turns
    assert [line.get("step") for line in turn[:-1]] == ["connect", "coverage", "interstage", "antenna", "final"]
    assert turn[-1]["tell"] == "done"


def test_a_job_that_ended_with_a_step_set_aside_takes_it_up_when_it_is_begun_anew(tmp_path: Path) -> None:
    procedure = tmp_path / "small.toml"
    procedure.write_text(SMALL)
    read_all = ({"id": 1, "reading": 98.2e6}, {"id": 2, "reading": 118.7e6})
    first = talk(procedure, tmp_path, {"id": 1, "set_aside": "no counter"}, {"go": "coverage"}, engine=None)
    assert first.code == Exit.DONE
    assert first.last["steps"] == {"coverage": "set-aside"}  # after done nothing is heard in the same run
    left = talk("small-1", tmp_path, engine=None)
    assert (left.code, left.last["tell"]) == (Exit.DONE, "done")
    wrong, again = {"go": "nowhere"}, {"go": "coverage"}
    taken_up = talk("small-1", tmp_path, wrong, again, engine=None)
    assert taken_up.turns[1][0]["why"].endswith("steps to go to: coverage")
    assert [turn[-1].get("step") for turn in taken_up.turns] == [None, None, "coverage"]
    assert taken_up.code == Exit.INPUT_ENDED
    numbers = taken_up.last["id"]
    rest = [{**row, "id": numbers + n} for n, row in enumerate(read_all)]
    ended = talk("small-1", tmp_path, *rest, {"note": "never heard"}, engine=None)
    assert (ended.code, ended.last["steps"], ended.last["readings"]) == (Exit.DONE, {"coverage": "held"}, 2)


def test_the_end_of_input_keeps_the_job_and_resuming_gives_the_same_ask(tmp_path: Path) -> None:
    first = talk(FM, tmp_path, *WHOLE_JOB[:3])
    assert first.code == Exit.INPUT_ENDED
    again = talk("fm-varactor-1", tmp_path)
    assert again.last == first.last
    assert again.job["entries"] == 3
    assert [line["state"] for line in again.turns[0][:-1]] == ["held", "held", "held"]


def test_a_last_line_without_its_end_is_heard(tmp_path: Path) -> None:
    talk(FM, tmp_path, b'{"id":1,"done":true}')
    assert entries(tmp_path) == 1


@pytest.mark.parametrize(
    "bad",
    [
        b"\n",
        b"{\n",
        b"[1]\n",
        b'{"id":2,"reading":NaN}\n',
        b'{"id":2,"reading":true}\n',
        b'{"id":2,"done":true}\n',
        b'{"id":2,"reading":5,"done":true}\n',
        b'{"id":1,"reading":5}\n',
        b'{"id":3,"reading":5}\n',
        b'{"id":2,"reading":5,"at_s":-1}\n',
        b'{"id":2,"reading":5,"at_s":1e300}\n',
        b'{"id":2,"none":1,"ferrite":2,"brass":3}\n',
        b'{"note":"\xff"}\n',
        b'{"note":"' + b"x" * 65_536 + b'"}\n',
        b"x" * 1_000_000 + b"\n",
        b"[" * 65_000 + b"\n",
    ],
    ids=lambda line: repr(line[:30]),
)
def test_what_is_malformed_brings_one_problem_and_the_same_ask_and_records_nothing(tmp_path: Path, bad: bytes) -> None:
    spoken = talk(FM, tmp_path, WHOLE_JOB[0], bad, WHOLE_JOB[1])
    problem, ask = spoken.turns[2]
    assert problem["tell"] == "problem"
    assert problem["why"]
    assert set(problem) == {"tell", "why"}
    assert ask == spoken.turns[1][-1]
    assert spoken.last["ask"] == "touch"
    assert entries(tmp_path) == 2


def test_a_doubt_comes_with_the_same_ask_and_a_repeated_answer_is_taken(tmp_path: Path) -> None:
    wild = {"id": 2, "reading": 1e12}
    spoken = talk(FM, tmp_path, WHOLE_JOB[0], wild, wild)
    doubt, ask = spoken.turns[2]
    assert doubt == {"tell": "doubt", "id": 2, "why": "That cannot be right."}
    assert ask == spoken.turns[1][-1]
    assert spoken.turns[3][0] == {
        "tell": "step",
        "step": "coverage",
        "state": "held",
        "error": 1e12,
        "tolerance": 5.0,
    }
    assert spoken.last["ask"] == "touch"


def test_a_doubted_answer_that_insists_is_taken_at_once(tmp_path: Path) -> None:
    spoken = talk(FM, tmp_path, WHOLE_JOB[0], {"id": 2, "reading": 1e12, "insist": True})
    assert spoken.last["ask"] == "touch"


def test_a_doubt_that_stands_is_told_again_at_the_next_start(tmp_path: Path) -> None:
    wild = {"id": 2, "reading": 1e12}
    first = talk(FM, tmp_path, WHOLE_JOB[0], wild)
    again = talk("fm-varactor-1", tmp_path, wild)
    assert [line.get("tell") for line in again.turns[0]] == ["doubt", "step", None]
    assert again.turns[0][-1] == first.last
    assert again.last["ask"] == "touch"


def test_a_note_changes_nothing_that_is_told(tmp_path: Path) -> None:
    spoken = talk(FM, tmp_path, {"note": "the core is stiff"})
    assert spoken.turns[1] == spoken.turns[0]
    assert entries(tmp_path) == 1


def test_an_undo_opens_the_step_again_under_a_number_never_used(tmp_path: Path) -> None:
    spoken = talk(FM, tmp_path, *WHOLE_JOB[:2], {"undo": True, "moved": False})
    step, ask = spoken.turns[3]
    assert step == {"tell": "step", "step": "coverage", "state": "to-do"}
    assert (ask["ask"], ask["step"]) == ("read", "coverage")
    assert ask["id"] not in {turn[-1]["id"] for turn in spoken.turns[:3]}


def test_what_cannot_be_had_and_what_is_set_aside_are_told_with_their_reasons(tmp_path: Path) -> None:
    spoken = talk(
        FM, tmp_path, WHOLE_JOB[0], {"id": 2, "set_aside": "no counter"}, {"id": 3, "cannot": "end-of-travel"}
    )
    assert spoken.turns[2][0] == {"tell": "step", "step": "coverage", "state": "set-aside", "why": "no counter"}
    assert spoken.turns[3][0]["state"] == "at-limit"


def test_an_answer_keeps_the_time_that_it_carries(tmp_path: Path) -> None:
    talk(FM, tmp_path, {"id": 1, "done": True, "at_s": 120}, {"id": 2, "reading": 5.0, "at_s": 180.5})
    job = Job.look(tmp_path / "fm-varactor-1.job", engine=plain_engine)
    assert [entry.at_s for entry in job.history.entries] == [120.0, 180.5]
    job.close()


def test_the_way_of_seeing_is_switched_at_the_start_and_only_once(tmp_path: Path) -> None:
    first = talk(FM, tmp_path, by="level")
    assert first.job["entries"] == 1
    again = talk("fm-varactor-1", tmp_path, by="level")
    assert again.job["entries"] == 1
    other = talk("fm-varactor-1", tmp_path, by="resonance")
    assert other.job["entries"] == 2


def test_a_way_that_no_step_lists_is_refused_before_a_job_is_made(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"--by wand: no step .* \(listed: level, resonance\)"):
        talk("mw-cut-plates", tmp_path, by="wand")
    assert summaries(tmp_path) == ()


def test_a_procedure_always_starts_a_new_job(tmp_path: Path) -> None:
    own = tmp_path / "mine.toml"
    own.write_bytes(find(FM).read_bytes())
    jobs = [talk(argument, tmp_path / "jobs").job["job"] for argument in (own, own, FM, FM)]
    assert jobs == ["mine-1", "mine-2", "fm-varactor-1", "fm-varactor-2"]


def test_a_job_can_be_named_by_file_by_name_and_by_its_set(tmp_path: Path) -> None:
    made = talk(FM, tmp_path, WHOLE_JOB[0], name="Kitchen radio")
    for argument in (made.job["file"], made.job["job"], "Kitchen radio"):
        again = talk(argument, tmp_path)
        assert again.job["entries"] == 1
        assert again.last == made.last


def test_a_name_for_a_job_that_there_is_already_is_refused(tmp_path: Path) -> None:
    talk(FM, tmp_path)
    with pytest.raises(UsageError, match="a name goes with a new one"):
        talk("fm-varactor-1", tmp_path, name="Kitchen radio")
    talk("fm-varactor-1", tmp_path)


def test_a_job_s_name_comes_before_a_shipped_procedure_s(tmp_path: Path) -> None:
    talk("mw-gang-padder", tmp_path, name=FM)
    again = talk(FM, tmp_path)
    assert again.job["job"] == "fm-varactor-1"
    assert len(summaries(tmp_path)) == 1


@pytest.mark.parametrize("argument", ["fm-varacter", "", ".", "../x", "a\x00b", "x" * 5000, "\x1b]0;t\x07"])
def test_an_argument_that_is_nothing_says_so(tmp_path: Path, argument: str) -> None:
    with pytest.raises(UsageError) as error:
        talk(argument, tmp_path)
    assert "\x1b" not in str(error.value)


def test_an_absent_procedure_file_and_a_damaged_job_file_say_so(tmp_path: Path) -> None:
    with pytest.raises(ProcedureError, match="no such file"):
        talk(tmp_path / "none.toml", tmp_path)
    (tmp_path / "bad.job").write_bytes(b"junk" * 1000)
    with pytest.raises(JournalError, match="damaged"):
        talk(tmp_path / "bad.job", tmp_path)


def test_an_output_that_nobody_reads_ends_as_an_interruption(tmp_path: Path) -> None:
    class Closed(io.BytesIO):
        def write(self, data: object, /) -> int:
            raise BrokenPipeError

    assert run(FM, tmp_path, io.BytesIO(), Closed(), engine=plain_engine) == Exit.INPUT_ENDED
    talk("fm-varactor-1", tmp_path)
