"""Touches that were left undone: within its tolerance a circuit need not be better than somebody wants it."""

from aligner.engine.answers import Reading
from aligner.engine.asks import Touch
from aligner.engine.bench import Bench
from aligner.engine.history import Entry
from aligner.engine.ledger import spot_of
from aligner.estimate.events import Sighted
from aligner.procedure.model import CoverageStep, TrackingStep

STIRRED = 0.1
"""Parts of the way to an aim: a hand that has gone less has left the adjuster where it was."""


def left_as_it_was(bench: Bench, step: CoverageStep | TrackingStep) -> frozenset[str]:
    """Adjusters whose newest touch was answered by the reading that there was: it is thought good enough."""
    last = {e.ask.adjuster: e for e in bench.ledger.of_step(step.id) if isinstance(e.ask, Touch)}
    return frozenset(name for name, entry in last.items() if _changed_nothing(bench, entry))


def _changed_nothing(bench: Bench, entry: Entry) -> bool:
    """Whether the circuit reads as it did before the touch, as far as its aim was off."""
    ask, seen = entry.ask, [e for e in bench.ledger.events if isinstance(e, Sighted) and e.seq <= 2 * entry.seq + 1]
    if not isinstance(ask, Touch) or not isinstance(entry.answer, Reading):
        return False
    spot = spot_of(bench.procedure, ask.step, ask.point)
    here = [e.hz for e in seen if e.circuit == ask.circuit and e.spot == spot][-2:]
    shown = [bench.instruments.displayed_hz(hz) if ask.aim.quantity == "frequency" else hz for hz in here]
    return len(shown) > 1 and abs(shown[1] - shown[0]) < STIRRED * abs(ask.aim.value - shown[0])
