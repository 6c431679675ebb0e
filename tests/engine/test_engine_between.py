"""Tracking by level on a scale: the oscillator is read where it was not seen; a lone trimmer is balanced."""

import numpy as np

from aligner.engine.asks import Ask, Peak, Point, Read
from aligner.engine.bench import Standing, Target
from aligner.engine.by_level import unsure_words
from aligner.engine.instruments import received_spot
from tests.engine.ideal_set import Conversation
from tests.small_sets import MW_PLACES, MW_POINTS, circuit, coverage, gang_head, oscillator, read, tracking

ENDS = (MW_PLACES[0], MW_PLACES[2])
TRIMMER = (("trimmer", "parallel", "rotary-trimmer"),)
FAULTS = {"oscillator": (0.03, -0.02, 0.0, 0.0), "antenna": (-0.02, 0.05, 0.0, 0.0)}


def _asks(text: str) -> list[Ask]:
    """The asks of the step `tracking` of a whole job."""
    procedure = read(text)
    talk = Conversation(procedure, FAULTS)
    talk.work_to_the_end()
    last = procedure.steps[-1].id
    return [e.ask for e in talk.history.entries if e.ask is not None and e.ask.step == last]


def _text(places: tuple[str, ...], *, by: str = "level", lone: bool = False) -> str:
    antenna = circuit("antenna", TRIMMER) if lone else circuit("antenna")
    steps = coverage(places, "4 kHz") + tracking(MW_POINTS, "5 kHz")
    return gang_head() + oscillator() + antenna + steps.replace('["resonance", "level"]', f'["{by}"]')


def _counted(asks: list[Ask]) -> list[Point]:
    return [ask.point for ask in asks if isinstance(ask, Read) and ask.quantity == "frequency"]


def test_the_oscillator_is_read_once_at_the_point_that_its_coverage_left_out() -> None:
    asks = _asks(_text(ENDS))
    assert _counted(asks) == [Point(dial=1000e3)]
    assert isinstance(asks[0], Read)


def test_it_is_not_read_again_where_the_coverage_saw_it_or_the_circuit_itself_is_read() -> None:
    assert not _counted(_asks(_text(MW_PLACES)))
    assert not _counted(_asks(_text(ENDS, by="resonance")))


def test_a_circuit_with_a_trimmer_alone_is_peaked_between_its_ends_where_one_peak_leaves_the_other_end_out() -> None:
    peaks = {ask.point.received for ask in _asks(_text(ENDS, lone=True)) if isinstance(ask, Peak)}
    assert any(hz is not None and 600e3 < hz < 1400e3 for hz in peaks)


def test_what_is_likely_right_but_cannot_be_told_says_how_far_off_it_may_be() -> None:
    targets = tuple(Target(*received_spot(hz), hz, 4e3) for hz in (600e3, 1000e3))
    wide = Standing(np.array([0.0, -3e3]), np.array([100.0, 2e3]), np.array([4e3, 4e3]))
    assert unsure_words(wide, targets).endswith("up to 6.9 kHz off at 1000 kHz, 4 kHz is allowed")
    mirrored = Standing(np.array([0.0, 1e3]), np.array([100.0, 500.0]), np.array([4e3, 4e3]), others=(wide,))
    assert "which way an adjuster works" in unsure_words(mirrored, targets)
