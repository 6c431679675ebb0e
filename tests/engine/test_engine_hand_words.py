"""What the hand is told: turns in eighths with their way, and how an adjuster shows that it is at its limit."""

import pytest

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Aim, Amount, Peak, Touch, Turning
from aligner.engine.hand_words import turn_words
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, circuit, coverage, fm_head, oscillator, read, tracking

FAULTS = {"oscillator": (0.05, -0.03, 0.0, 0.0), "antenna": (-0.06, 0.05, 0.0, 0.0)}
BY_LEVEL = FM.replace('by = ["resonance", "level"]', 'by = ["level"]')


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        (Amount(0.375, "turn", 0.05), ", about 3/8 turn clockwise"),
        (Amount(-0.36, "turn", 0.05), ", about 3/8 turn anticlockwise"),
        (Amount(1.0, "turn", 0.1), ", about 1 turn clockwise"),
        (Amount(2.26, "turn", 0.1), ", about 2 1/4 turns clockwise"),
        (Amount(0.05, "turn", 0.03), ", less than 1/8 turn clockwise"),
        (Amount(1.0, "turn", 0.8), ""),
        (Amount(2e-12, "F", 1e-13), ""),
        (None, ""),
    ],
)
def test_turns_are_said_in_eighths_where_they_are_known_well_enough(amount: Amount | None, words: str) -> None:
    assert turn_words(amount) == words


def _of(name: str, kind: type[Touch] | type[Peak]) -> list[Turning]:
    """The asks of a whole job for one adjuster."""
    talk = Conversation(read(FM if kind is Touch else BY_LEVEL), FAULTS)
    talk.work_to_the_end()
    asks = [e.ask for e in talk.history.entries]
    return [ask for ask in asks if isinstance(ask, Turning) and isinstance(ask, kind) and ask.adjuster == name]


def test_the_first_touch_by_reading_says_how_a_rotary_trimmer_shows_its_limit() -> None:
    first = _of("antenna-trimmer", Touch)[0]
    assert "no stops; if the reading turns back before it gets there, the plates are fully in or out" in first.text


def test_the_first_peak_says_that_a_rotary_trimmer_peaks_twice_and_a_core_on_its_outer_peak() -> None:
    trimmer = _of("antenna-trimmer", Peak)
    assert "peaks twice a turn" in trimmer[0].text
    assert "if a whole turn shows only one" in trimmer[0].text
    assert all("peaks twice" not in ask.text for ask in trimmer[1:])
    core = _of("antenna-coil", Peak)
    assert "take the outer peak, unless the maker's sheet says otherwise" in core[0].text
    assert all("outer peak" not in ask.text for ask in core[1:])


def test_a_core_comes_to_the_middle_of_its_coil_only_on_the_way_in() -> None:
    inwards = Conversation(read(FM), {"antenna": (-0.08, 0.0, 0.0, 0.0)})
    outwards = Conversation(read(FM), {"antenna": (0.08, 0.0, 0.0, 0.0)})
    for talk, said in ((inwards, True), (outwards, False)):
        ask = talk.work_until(lambda ask: isinstance(ask, Touch) and ask.adjuster == "antenna-coil")
        assert ("come to the middle of the coil" in ask.text) == said


def test_a_brass_core_is_turned_the_other_way() -> None:
    brass = fm_head() + oscillator() + circuit("antenna", (("coil", "inductance", "brass-core"),)) + coverage()
    brass += tracking()
    talk = Conversation(read(brass), {"antenna": (-0.05, 0.0, 0.0, 0.0)})
    ask = talk.work_until(lambda ask: isinstance(ask, Touch) and ask.adjuster == "antenna-coil")
    assert isinstance(ask, Touch)
    assert ask.direction == "more"
    assert "core out of the coil for more inductance" in ask.text
    assert "middle of the coil" not in ask.text


def test_a_trimmer_reported_at_its_limit_while_it_is_peaked_is_no_peak_and_the_step_says_so_in_the_end() -> None:
    talk = Conversation(read(BY_LEVEL), FAULTS)
    for _ in range(80):
        ask = talk.known.ask
        if ask is None:
            break
        stopped = isinstance(ask, Turning) and ask.adjuster == "antenna-trimmer"
        if stopped:
            talk.say(Cannot("end-of-travel"))
        else:
            talk.honest()
    assert talk.known.ask is None
    report = talk.report("antenna")
    assert report.state == "at-limit"
    assert "at the end of travel antenna-trimmer" in report.why


def test_once_counted_the_effect_of_a_turn_is_said_in_the_next_touch() -> None:
    talk = Conversation(read(FM), FAULTS)
    ask = talk.work_until(lambda ask: isinstance(ask, Touch) and ask.adjuster == "antenna-coil")
    assert isinstance(ask, Touch)
    assert ask.amount is None
    assert "clockwise" not in ask.text
    before_hz = talk.set.hz("antenna", 90e6)
    half = Touch(
        **{name: getattr(ask, name) for name in ask.__struct_fields__}
        | {"aim": Aim("resonance", (before_hz + ask.aim.value) / 2.0, ask.aim.within)}
    )
    left = talk.set.answer(half)
    assert isinstance(left, Reading)
    talk.say(left)
    again = talk.work_until(lambda ask: isinstance(ask, Touch))
    assert isinstance(again, Touch)
    assert again.adjuster == "antenna-coil"
    assert again.amount is not None
    assert left.turns is not None
    assert again.amount.value == pytest.approx(left.turns, rel=0.3)
    assert (" anticlockwise," if left.turns < 0 else " clockwise,") in again.text
