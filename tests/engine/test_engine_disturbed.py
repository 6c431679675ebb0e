"""A held step is disturbed only where the model says that it moved by more than its tolerance allows."""

from dataclasses import replace

import msgspec
import pytest

from aligner.engine import coverage, tracking
from aligner.engine.asks import Ask, Read, Touch
from aligner.engine.bench import Bench
from aligner.engine.ledger import ledger_of
from aligner.estimate.events import Event, Moved, Sighted
from aligner.procedure.model import CoverageStep, TrackingStep
from tests.engine.ideal_set import Conversation
from tests.small_sets import COIL_AND_TRIMMER, FM_ENDS, circuit, fm_head, oscillator, read
from tests.small_sets import coverage as coverage_step
from tests.small_sets import tracking as tracking_step

_SHARED = (
    '[[adjuster]]\nid = "common"\ncircuits = ["oscillator", "antenna"]\ndoes = "parallel"\nkind = "piston-trimmer"\n'
    'rotation = "more"\n'
)
_FAULTS = {"oscillator": (0.03, 0.02, 0.0, 0.0), "antenna": (-0.03, 0.02, 0.0, 0.0)}


def _text(tolerance: str) -> str:
    """A set with an adjuster that oscillator and antenna share."""
    pair = oscillator(COIL_AND_TRIMMER[:1]) + circuit("antenna", COIL_AND_TRIMMER[:1]) + _SHARED
    return fm_head() + pair + coverage_step(FM_ENDS, tolerance) + tracking_step(tolerance=tolerance)


def _states(talk: Conversation, *more: Event) -> tuple[str, str]:
    """How coverage and tracking stand after some events that nobody asked for."""
    ledger = ledger_of(talk.procedure, talk.history)
    bench = Bench(talk.procedure, replace(ledger, events=(*ledger.events, *more)))
    first, second = talk.procedure.step("coverage"), talk.procedure.step("antenna")
    assert isinstance(first, CoverageStep)
    assert isinstance(second, TrackingStep)
    return (
        coverage.work(bench, first, passed=True).report.state,
        tracking.work(bench, second, passed=True).report.state,
    )


@pytest.fixture(scope="module")
def done() -> Conversation:
    """A job that ended, with tolerances of half a megahertz."""
    talk = Conversation(read(_text("500 kHz")), _FAULTS)
    talk.work_to_the_end()
    assert _states(talk) == ("held", "held")
    assert any(isinstance(e.ask, Touch) and e.ask.adjuster == "common" for e in talk.history.entries)
    return talk


@pytest.mark.parametrize("turns", [0.02, -0.05])
def test_a_small_move_of_a_shared_adjuster_disturbs_neither(done: Conversation, turns: float) -> None:
    assert _states(done, Moved(10_000, "common", turns, 0.02)) == ("held", "held")


@pytest.mark.parametrize("turns", [1.0, -1.0])
def test_a_great_move_of_a_shared_adjuster_disturbs_both(done: Conversation, turns: float) -> None:
    assert _states(done, Moved(10_000, "common", turns, 0.02)) == ("disturbed", "disturbed")


def test_a_move_of_unknown_size_disturbs_what_rests_on_it_and_nothing_else(done: Conversation) -> None:
    assert _states(done, Moved(10_000, "antenna-coil")) == ("held", "disturbed")
    assert _states(done, Moved(10_000, "common")) == ("disturbed", "disturbed")


def test_a_pull_of_the_oscillator_that_was_read_counts_by_its_size(done: Conversation) -> None:
    """Signal circuits pull the oscillator without any adjuster of it being moved: only a reading can tell."""
    seen = [e for e in ledger_of(done.procedure, done.history).events if isinstance(e, Sighted)]
    last = next(e for e in reversed(seen) if e.circuit == "oscillator")
    small = msgspec.structs.replace(last, seq=10_001, hz=last.hz + 30e3)
    assert _states(done, Moved(10_000, "antenna-coil", 0.02, 0.01), small) == ("held", "held")


def _after_readings(times: int, off_hz: float = 120e3) -> Ask | None:
    """What coverage, to 50 kHz, asks for when the high end reads so much too high after the last circuit."""
    text = fm_head() + oscillator() + circuit("antenna") + coverage_step(FM_ENDS) + tracking_step()
    talk = Conversation(read(text), _FAULTS)
    talk.work_to_the_end()
    ledger = ledger_of(talk.procedure, talk.history)
    seen = [e for e in ledger.events if isinstance(e, Sighted) and e.circuit == "oscillator"]
    high = next(e for e in reversed(seen) if e.spot.hz == 108e6)
    more = tuple(msgspec.structs.replace(high, seq=10_001 + n, hz=high.hz + off_hz) for n in range(times))
    step = talk.procedure.step("coverage")
    assert isinstance(step, CoverageStep)
    return coverage.work(Bench(talk.procedure, replace(ledger, events=(*ledger.events, *more))), step, passed=True).ask


def test_one_reading_that_contradicts_a_held_step_is_taken_again_before_anything_is_turned() -> None:
    ask = _after_readings(1)
    assert isinstance(ask, Read)
    assert ask.point.volts == 8.0


def test_readings_that_agree_against_a_held_step_have_it_set_again() -> None:
    assert _after_readings(0) is None
    assert isinstance(_after_readings(3), Touch)


def test_a_pull_to_the_edge_of_the_tolerance_has_the_oscillator_set_again_and_a_small_one_has_not() -> None:
    assert isinstance(_after_readings(5, 49e3), Touch)
    assert _after_readings(5, 25e3) is None


def test_after_a_signal_circuit_was_set_the_oscillator_is_not_touched_again() -> None:
    talk = Conversation(read(_text("150 kHz")), _FAULTS)
    talk.work_to_the_end()
    asks = [e.ask for e in talk.history.entries if isinstance(e.ask, Touch)]
    own = [n for n, ask in enumerate(asks) if ask.adjuster == "antenna-coil"]
    assert own
    assert all(ask.adjuster != "oscillator-coil" for ask in asks[own[-1] :])
