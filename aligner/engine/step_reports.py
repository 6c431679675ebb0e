"""How the step of a circuit is reported: its error and what is to be reckoned with, and why it ends short."""

from aligner.engine.bench import SURE, Bench, Standing, Target
from aligner.engine.cures import balance_words, cure_words
from aligner.engine.shared import room_of
from aligner.engine.survey import StepReport, StepState
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.procedure.model import CoverageStep, TrackingStep
from aligner.quantity import show


def report_of(step: CoverageStep | TrackingStep, standing: Standing, state: StepState, why: str) -> StepReport:
    """A step's report with the error [Hz] at its worst point and the 95 % half width [Hz] of that error."""
    worst = standing.worst_index
    vague = standing.sd_hz[worst] > 5.0 * standing.tolerance_hz[worst] and state == "to-do"
    return StepReport(
        id=step.id,
        kind=step.kind,
        title=step.title,
        state=state,
        why=why,
        error=None if vague else round(float(standing.errors_hz[worst]), 1),
        tolerance=round(float(standing.tolerance_hz[worst]), 1),
        plus_minus=None if vague else round(float(SURE * standing.sd_hz[worst]), 1),
        unit="Hz",
    )


def _needed_words(bench: Bench, belief: Belief, circuit: CircuitBelief) -> str:
    """Which adjusters would help and must stay where other bands need them."""
    own = bench.procedure.circuit(circuit.frame.id).adjusters
    rooms = {a: room_of(bench, belief.frame, a)[1] for a in own if a in belief.frame.handles}
    held = [f"{a} is needed where it is by {' and '.join(steps)}" for a, steps in rooms.items() if steps]
    return f"; {', '.join(held)}" if held else ""


def doubt_words(standing: Standing, targets: tuple[Target, ...], way: str) -> str:
    """Why a step ends that is believed within its tolerance, but not surely, and can be told no better that way."""
    place = int(standing.most_at(SURE).argmax())
    most_hz = float(standing.most_at(SURE)[place] * standing.tolerance_hz[place])
    tenth_hz = float(standing.tolerance_hz[place]) / 10.0
    return (
        f"believed within {show(float(standing.tolerance_hz[place]), 'Hz')}, but at "
        f"{show(targets[place].spot.hz, 'Hz')} it may be as much as {show(most_hz, 'Hz', tenth_hz)} off, and by {way} "
        f"no more can be told: another way of seeing would tell it"
    )


def limit_words(
    bench: Bench, belief: Belief, circuit: CircuitBelief, standing: Standing, targets: tuple[Target, ...]
) -> str:
    """Why a step ends short of its tolerance, and what would cure it."""
    worst = standing.worst_index
    error = show(abs(float(standing.errors_hz[worst])), "Hz", float(standing.tolerance_hz[worst]) / 10.0)
    way = "high" if standing.errors_hz[worst] > 0 else "low"
    stopped = sorted(
        {s.adjuster for s in bench.ledger.stops if s.adjuster in bench.procedure.circuit(circuit.frame.id).adjusters}
    )
    head = f"{error} too {way} at {show(targets[worst].spot.hz, 'Hz')} is the best that is left"
    head += _needed_words(bench, belief, circuit)
    cure, balance = cure_words(bench, belief, circuit, targets), balance_words(bench, belief, circuit, targets)
    if stopped:
        met = [f"{s.adjuster} (no {s.toward or 'further'})" for s in bench.ledger.stops if s.adjuster in stopped]
        ends = " and ".join(dict.fromkeys(met))
        return f"{head}: at the end of travel {ends}. A fixed part must change: {cure}. {balance}."
    return f"{head}: the adjusters are at their best balance. {cure[:1].upper()}{cure[1:]}. {balance}."
