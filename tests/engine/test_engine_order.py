"""What is asked, in which order, and how the steps stand meanwhile."""

import json
import re
from itertools import pairwise

import msgspec
import pytest

from aligner.engine.answers import Cannot, Done, GoTo, Note, Reading, SetAside, Sitting, SwitchWay, Undo
from aligner.engine.asks import Confirm, Finished, Peak, Point, Read, Touch
from aligner.engine.history import History
from aligner.engine.run import entry_for, next_ask, survey
from aligner.errors import AnswerError
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, MW, circuit, coverage, fm_head, oscillator, prepare, read, read_back, tracking

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
HAZARDS = 'hazards = ["mains", "the back has sharp edges"]'
BODY = oscillator() + circuit("antenna") + prepare("Sketch them.", "Look.", "Sketch them.") + coverage() + tracking()
CAREFUL = fm_head(more=HAZARDS) + BODY
FM_PREPARED = fm_head() + oscillator() + circuit("antenna") + prepare("Sketch them.", "Look.") + coverage() + tracking()
LIMIT = '{ volts = "8 V", received = "108 MHz", quantity = "frequency", within = "75 kHz" }'


def is_touch(ask: object) -> bool:
    return isinstance(ask, Touch)


def test_cautions_come_first_then_every_preparation_then_the_first_reading() -> None:
    talk = Conversation(read(CAREFUL))
    asked = []
    while isinstance(talk.ask, Confirm):
        asked.append((talk.ask.hazard, talk.ask.text))
        talk.honest()
    assert [hazard for hazard, _ in asked] == [True, True, False, False, False]
    assert [text for _, text in asked[2:]] == ["Sketch them.", "Look.", "Sketch them."]
    assert "sharp edges" in asked[1][1]
    assert talk.report("connect").state == "held"
    assert isinstance(talk.ask, Read)


def test_cautions_come_first_where_no_step_prepares_anything() -> None:
    talk = Conversation(read(CAREFUL.replace(prepare("Sketch them.", "Look.", "Sketch them."), "")))
    assert isinstance(talk.ask, Confirm)
    assert talk.ask.hazard
    with pytest.raises(AnswerError, match="cautions cannot be set aside"):
        talk.say(SetAside("I know all that"))


def test_a_step_of_preparations_can_be_set_aside_but_not_the_cautions_before_it() -> None:
    talk = Conversation(read(CAREFUL))
    talk.say(Done())
    talk.say(Done())
    talk.say(SetAside("done yesterday"))
    assert talk.report("connect").state == "set-aside"
    assert isinstance(talk.ask, Read)


def test_coverage_reads_all_its_points_then_turns_the_coil_low_and_the_trimmer_high() -> None:
    talk = Conversation(read(FM), FAULTS)
    asked = []
    while talk.ask.step == "coverage":
        asked.append((type(talk.ask).__name__, getattr(talk.ask, "adjuster", ""), getattr(talk.ask, "point", None)))
        talk.honest()
    low, high = Point(volts=2.0), Point(volts=8.0)
    assert asked == [
        ("Read", "", low),
        ("Read", "", high),
        ("Touch", "oscillator-coil", low),
        ("Touch", "oscillator-trimmer", high),
        ("Read", "", low),
    ]


def test_a_reason_gives_what_will_be_left_and_its_doubt_in_one_way() -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.work_to_the_end()
    reasons = [e.ask.why for e in talk.history.entries if isinstance(e.ask, Touch)]
    left = [why.partition("the greatest error of ")[2] for why in reasons if "the greatest error of " in why]
    exact, balanced = left  # two adjusters for two points leave nothing but doubt, for three points a balance
    assert re.fullmatch(r"oscillator should be within [1-9]\d* kHz\.", exact)
    assert re.fullmatch(r"antenna should be about [1-9]\d* kHz \(± [1-9]\d* kHz\)\.", balanced)


def test_with_a_padder_each_of_the_three_is_touched_once() -> None:
    talk = Conversation(read(MW), {"oscillator": (0.05, 0.04, 0.0, -0.05), "antenna": (-0.05, 0.06, 0.0, 0.0)})
    done = talk.work_to_the_end()
    touched = [e.ask.adjuster for e in talk.history.entries if isinstance(e.ask, Touch) and e.ask.step == "coverage"]
    assert sorted(touched) == ["oscillator-coil", "oscillator-padder", "oscillator-trimmer"]
    assert done.aligned


def test_a_set_without_a_fault_is_read_and_not_touched() -> None:
    talk = Conversation(read(FM))
    done = talk.work_to_the_end()
    assert done.touches <= 2  # the signal circuit's start is a nominal one, and may be a little off its own best
    assert not any(is_touch(e.ask) for e in talk.history.entries if e.ask and e.ask.step == "coverage")
    assert done.aligned


def test_a_set_with_faults_ends_aligned_with_one_touch_an_adjuster() -> None:
    talk = Conversation(read(FM + read_back(LIMIT)), FAULTS)
    done = talk.work_to_the_end()
    assert done.aligned
    assert done.touches == 4
    assert {report.id: report.state for report in done.steps} == dict.fromkeys(["coverage", "antenna", "final"], "held")
    assert next_ask(talk.procedure, talk.history) == Finished(aligned=True)


def test_steps_still_to_come_are_to_do_and_the_running_one_is_named() -> None:
    talk = Conversation(read(FM + read_back(LIMIT)), FAULTS)
    known = talk.known
    assert known.running == "coverage"
    assert [report.state for report in known.steps] == ["to-do", "to-do", "to-do"]
    talk.work_until(lambda ask: ask.step == "antenna")
    assert [report.state for report in talk.known.steps] == ["held", "to-do", "to-do"]


def test_by_level_both_adjusters_are_peaked_and_one_is_turned_on_past_its_peak_by_the_level() -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.say(SwitchWay("level"))
    talk.work_to_the_end()
    asked = [e.ask for e in talk.history.entries if e.ask is not None and e.ask.step == "antenna"]
    peaks = [ask for ask in asked if isinstance(ask, Peak)]
    assert {ask.adjuster for ask in peaks} == {"antenna-coil", "antenna-trimmer"}
    assert all(ask.generator is not None and ask.generator.hz == ask.point.received for ask in peaks)
    for before, onward in pairwise(asked):
        if isinstance(onward, Touch):
            assert onward.aim.quantity == "level"
            assert isinstance(before, Peak)
            assert (before.adjuster, before.point) == (onward.adjuster, onward.point)


def test_the_way_can_be_switched_in_the_middle_of_a_step_and_back() -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.work_until(lambda ask: ask.step == "antenna")
    before = talk.ask
    talk.say(SwitchWay("level", "antenna"))
    assert isinstance(talk.ask, Peak)
    talk.say(SwitchWay("resonance", "antenna"))
    assert msgspec.structs.replace(talk.ask, id=before.id) == before


@pytest.mark.parametrize(("way", "step"), [("wand", ""), ("level", "coverage"), ("level", "nowhere")])
def test_a_way_that_the_procedure_does_not_list_is_refused(way: str, step: str) -> None:
    talk = Conversation(read(FM))
    with pytest.raises(AnswerError):
        talk.say(SwitchWay(way, step))  # type: ignore[arg-type]
    assert talk.history == History()


def test_a_step_set_aside_is_left_with_its_reason_and_the_job_is_not_aligned() -> None:
    talk = Conversation(read(FM), FAULTS)
    talk.work_until(lambda ask: ask.step == "antenna")
    talk.say(SetAside("no dip meter here"))
    assert talk.report("antenna").state == "set-aside"
    assert talk.report("antenna").why == "no dip meter here"
    assert next_ask(talk.procedure, talk.history) == Finished(aligned=False)


@pytest.mark.parametrize("step", ["coverage", "antenna", "final"])
def test_a_step_set_aside_is_taken_up_after_the_end_and_what_it_disturbs_is_seen_to_again(step: str) -> None:
    talk = Conversation(read(FM + read_back(LIMIT)), FAULTS)
    talk.work_until(lambda ask: ask.step == step)
    talk.say(SetAside("no dip meter here"))
    ended = talk.work_to_the_end()
    assert (ended.ask, ended.aligned) == (None, False)
    talk.say(GoTo(step))
    assert (talk.known.running, talk.report(step).state) == (step, "to-do")
    assert talk.work_to_the_end().aligned


def test_after_the_end_only_what_was_set_aside_can_be_gone_to() -> None:
    talk = Conversation(read(FM + read_back(LIMIT)), FAULTS)
    talk.work_until(lambda ask: ask.step == "final")
    talk.say(SetAside("no time"))
    assert talk.known.ask is None
    with pytest.raises(AnswerError, match="steps to go to: final"):
        talk.say(GoTo("antenna"))
    talk.say(GoTo("final"))
    talk.say(Undo())
    assert talk.known.ask is None
    assert talk.report("final").state == "set-aside"
    talk.say(GoTo("final"))
    talk.work_to_the_end()
    with pytest.raises(AnswerError, match="there is no step to go to"):
        talk.say(GoTo("final"))


def test_preparations_set_aside_are_taken_up_after_the_end_and_nothing_else_is_asked_again() -> None:
    talk = Conversation(read(FM_PREPARED), FAULTS)
    talk.say(SetAside("done yesterday"))
    talk.work_to_the_end()
    talk.say(GoTo("connect"))
    asked = []
    while talk.known.ask is not None:
        asked.append(talk.ask.step)
        talk.honest()
    assert asked == ["connect"] * 2
    assert talk.known.aligned


@pytest.mark.parametrize("answer", [Done(), Cannot("end-of-travel"), Reading(float("nan")), Note(" "), SetAside("")])
def test_an_answer_that_does_not_fit_is_refused_and_changes_nothing(answer: Done) -> None:
    talk = Conversation(read(FM))
    before = talk.known
    with pytest.raises(AnswerError):
        talk.say(answer)
    assert talk.history == History()
    assert survey(talk.procedure, talk.history) == before


def test_turns_of_what_cannot_be_counted_are_refused() -> None:
    talk = Conversation(read(FM), FAULTS)
    ask = talk.work_until(is_touch)
    assert isinstance(ask, Touch)
    with pytest.raises(AnswerError, match="cannot be counted"):
        talk.say(Reading(ask.aim.value, turns=1.0))


def test_nothing_is_answered_after_the_end_but_it_can_be_taken_back_and_noted() -> None:
    talk = Conversation(read(FM))
    talk.work_to_the_end()
    with pytest.raises(AnswerError):
        talk.say(Reading(1e6))
    assert entry_for(talk.procedure, talk.history, Note("sealed with wax"), 1.0, "test").ask is None
    assert entry_for(talk.procedure, talk.history, Sitting(), 1.0, "test").ask is None


def test_a_held_step_that_a_shared_adjuster_disturbs_is_looked_at_again() -> None:
    named = '[[adjuster]]\nid = "common"\ncircuits = ["oscillator", "antenna"]\n'
    shared = f'{named}does = "parallel"\nkind = "piston-trimmer"\n'
    text = (
        fm_head()
        + oscillator((("coil", "inductance", "air-coil"),))
        + circuit("antenna")
        + shared
        + coverage()
        + tracking()
    )
    talk = Conversation(read(text), {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, -0.05, 0.0, 0.0)})
    states: list[str] = []
    for _ in range(60):
        if talk.known.ask is None:
            break
        if not states or talk.report("coverage").state != states[-1]:
            states.append(talk.report("coverage").state)
        entry = talk.honest()
        if isinstance(entry.ask, Touch) and (entry.ask.step, entry.ask.adjuster) == ("antenna", "common"):
            assert talk.report("coverage").state in ("disturbed", "held")
    assert talk.known.ask is None
    assert states[:2] == ["to-do", "held"]


def test_a_disturbed_step_is_checked_again_before_the_next_one_begins() -> None:
    talk = Conversation(read(FM + read_back(LIMIT)), FAULTS)
    talk.work_until(lambda ask: ask.step == "antenna")
    talk.work_until(is_touch)
    ask = talk.ask
    assert isinstance(ask, Touch)
    talk.honest()
    talk.work_until(lambda ask: ask.step == "final")
    assert talk.report("coverage").state == talk.report("antenna").state == "held"


def test_an_ask_is_this_line_of_json() -> None:
    talk = Conversation(read(FM), FAULTS)
    first = json.loads(msgspec.json.encode(talk.ask))
    assert list(first) == ["ask", "id", "step", "text", "why", "quantity", "circuit", "point", "generator"]
    assert first["ask"] == "read"
    assert (first["id"], first["step"], first["quantity"]) == (1, "coverage", "frequency")
    assert (first["circuit"], first["point"], first["generator"]) == ("oscillator", {"volts": 2.0}, None)
    talk.work_until(lambda ask: isinstance(ask, Touch) and ask.step == "antenna")
    touch = json.loads(msgspec.json.encode(talk.ask))
    assert touch["ask"] == "touch"
    assert set(touch) == {
        *("ask", "id", "step", "text", "why", "adjuster", "circuit"),
        *("point", "generator", "aim", "direction", "amount"),
    }
    assert touch["point"] == {"received": 90e6}
    assert touch["generator"] == {"hz": 90e6, "modulation": "none", "into": "aerial", "through": ""}
    assert set(touch["aim"]) == {"quantity", "value", "within"}
    assert touch["aim"]["quantity"] == "resonance"
    assert touch["direction"] == "more"
    assert touch["amount"] is None
