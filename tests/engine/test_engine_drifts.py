"""What may have moved by itself widens what is said, and asks for nothing."""

import math

from aligner.engine.asks import Read
from aligner.engine.bench import Bench, standing_of
from aligner.engine.coverage import targets_of
from aligner.engine.drifts import drifts
from aligner.engine.history import Entry, History
from aligner.engine.ledger import ledger_of
from aligner.engine.run import survey
from aligner.estimate.belief import belief_of
from aligner.estimate.events import Drifted, Moved, Sighted
from aligner.procedure.model import CoverageStep
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM_ENDS, circuit, coverage, fm_head, oscillator, read, tracking

_TEXT = fm_head() + oscillator() + circuit("antenna") + coverage(FM_ENDS) + tracking()


def _done() -> Conversation:
    talk = Conversation(read(_TEXT), {"oscillator": (0.03, 0.02, 0.0, 0.0), "antenna": (-0.03, 0.02, 0.0, 0.0)})
    talk.work_to_the_end()
    return talk


def _until_the_antenna(talk: Conversation) -> History:
    """The history up to the last reading of the oscillator."""
    last = max(e.seq for e in talk.history.entries if e.ask is not None and e.ask.step == "coverage")
    return History(tuple(e for e in talk.history.entries if e.seq <= last))


def _drifts(talk: Conversation, entries: tuple[Entry, ...] | None = None) -> list[Drifted]:
    bench = Bench(talk.procedure, ledger_of(talk.procedure, talk.history))
    return list(drifts(talk.procedure, bench.frame(""), entries or bench.ledger.entries, bench.ledger.events))


def _sd_hz(talk: Conversation, history: History) -> float:
    bench, step = Bench(talk.procedure, ledger_of(talk.procedure, history)), talk.procedure.step("coverage")
    assert isinstance(step, CoverageStep)
    belief = bench.belief("")
    return float(standing_of(belief.circuits["oscillator"], belief, targets_of(bench, step)).sd_hz.max())


def test_adjusters_of_a_signal_circuit_widen_what_is_said_of_the_oscillator() -> None:
    talk = _done()
    before, after = _sd_hz(talk, _until_the_antenna(talk)), _sd_hz(talk, talk.history)
    # Two adjusters that may each pull it by 1.8 kHz.
    assert math.hypot(before, 1.5e3) < after < math.hypot(before, 6e3)


def test_a_reading_of_the_oscillator_tells_of_the_drift_before_it() -> None:
    talk = _done()
    assert [d.circuit for d in _drifts(talk)] == ["oscillator"]
    bench = Bench(talk.procedure, ledger_of(talk.procedure, talk.history))
    belief = bench.belief("")
    told = belief.circuits["oscillator"]
    last = next(e for e in reversed(belief.events) if isinstance(e, Sighted) and e.circuit == "oscillator")
    again = Sighted(belief.events[-1].seq + 1, "oscillator", last.spot, last.hz + 20e3, last.sd_hz)
    seen = belief_of(belief.frame, (*belief.events, again)).circuits["oscillator"]
    assert told.unrest > 0.0
    assert seen.unrest == 0.0
    place = belief.places_hz((last.spot,))
    assert 2e3 < float((seen.hz(place) - told.hz(place))[0]) < 20e3


def test_time_alone_counts_from_five_minutes_on_and_has_an_end() -> None:
    talk = _done()
    quiet = tuple(e for e in talk.history.entries if e.ask is not None and e.ask.step == "coverage")
    bench = Bench(talk.procedure, ledger_of(talk.procedure, talk.history))
    own = tuple(e for e in bench.ledger.events if not isinstance(e, Moved) and e.seq <= 2 * quiet[-1].seq + 1)

    def after(minutes: float) -> float:
        note = Entry(
            seq=quiet[-1].seq + 1, at_s=quiet[-1].at_s + 60.0 * minutes, version="", ask=None, answer=quiet[-1].answer
        )
        found = list(drifts(talk.procedure, bench.frame(""), (*quiet, note), own))
        return max((d.sd for d in found if d.seq > own[-1].seq), default=0.0)

    assert after(3.0) == 0.0
    assert 0.0 < after(10.0) < after(30.0) < after(24 * 60.0) < 1.001 * after(7 * 24 * 60.0) < 1e-4


def test_drift_by_itself_asks_for_no_reading() -> None:
    talk = _done()
    known = survey(talk.procedure, talk.history)
    assert known.ask is None
    assert {report.state for report in known.steps} == {"held"}
    asks = [e.ask for e in talk.history.entries if e.ask is not None]
    first = next(n for n, ask in enumerate(asks) if ask.step == "antenna")
    assert not any(isinstance(ask, Read) and ask.step == "coverage" for ask in asks[first:])
