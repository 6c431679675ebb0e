"""The error of one circuit over the band: as found, as it is, and as the touch that is asked for will leave it."""

import numpy as np

from aligner.engine.asks import Peak, Touch, Turning
from aligner.engine.bench import Bench
from aligner.engine.curve import Curve, Line
from aligner.engine.curves_worst import Along, points_of, worst_words
from aligner.engine.ledger import spot_of
from aligner.engine.survey import StepReport
from aligner.engine.tolerances import tolerance_hz
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.estimate.events import Moved, Sighted, Spot
from aligner.estimate.ladder import Array
from aligner.procedure.model import CoverageStep, TrackingStep

_GRID = 61
_NEWTON_ROUNDS = 8
_FARTHEST = 0.5
"""A shift of a setting beyond this belongs to no adjuster; where it would be needed, nothing is promised."""


def tracking_curve(
    bench: Bench, step: CoverageStep | TrackingStep, ask: Turning | None, report: StepReport | None = None
) -> Curve | None:
    """The error over the band; None before anything has been read of the circuit. report: how the step stands."""
    belief = bench.belief(step.band)
    circuit = belief.circuits.get(step.circuit)
    seen = [e for e in belief.events if isinstance(e, Sighted) and e.circuit == step.circuit]
    if circuit is None or not seen:
        return None
    band = bench.procedure.band_of(step.band)
    received = np.linspace(band.low_hz, band.high_hz, _GRID)
    places, wanted = _places(belief, circuit, received)
    lines = [_line("now", received, circuit.hz(places) - wanted)]
    found = _as_found(circuit)
    if found is not None:
        lines.insert(0, _line("before", received, found.hz(places) - wanted))
    shift = _shift(bench, belief, circuit, ask) if ask is not None else None
    if shift is not None:
        lines.append(_line("after", received, circuit.hz(places, shift) - wanted))
    limit = np.array([_tolerance(bench, step, hz) for hz in received])
    along = Along(received, circuit.hz(places) - wanted, circuit.sd_hz(places), limit)
    lines += [Line("tolerance", _pairs(received, sign * limit), "limit") for sign in (1.0, -1.0)]
    return Curve(
        name=step.id,
        title=f"{step.title or step.id}: error over the frequency received",
        x_unit="Hz",
        y_unit="Hz",
        lines=tuple(lines),
        read=_read(bench, circuit, seen),
        marks=tuple((hz, "") for hz in points_of(step)),
        words=(worst_words(bench, step, belief, report, along),),
    )


def _places(belief: Belief, circuit: CircuitBelief, received: Array) -> tuple[Array, Array]:
    """Where on the scale the circuit is looked at, and where [Hz] it should stand there."""
    if circuit.frame.oscillator:
        return received, received + circuit.frame.offset_hz
    return belief.places_hz(tuple(Spot(float(hz), "received") for hz in received)), received


def _line(role: str, x: Array, y: Array) -> Line:
    names = {"before": "as found", "now": "now", "after": "after this touch"}
    return Line(names[role], _pairs(x, y), "before" if role == "before" else "after" if role == "after" else "now")


def _pairs(x: Array, y: Array) -> tuple[tuple[float, float], ...]:
    return tuple(zip(x.tolist(), y.tolist(), strict=True))


def _as_found(circuit: CircuitBelief) -> CircuitBelief | None:
    """The circuit before its first adjuster was moved, by today's fit; None where nothing was moved yet."""
    moves = [e.seq for e in circuit.fit.events if isinstance(e, Moved)]
    if not moves:
        return None
    return circuit.before(min(moves))


def _shift(bench: Bench, belief: Belief, circuit: CircuitBelief, ask: Turning) -> Array | None:
    """What the asked touch will do to the settings (4,) [1]; None where its aim does not tell."""
    handle = belief.frame.handles.get(ask.adjuster)
    if handle is None:
        return None
    push = circuit.push(handle.setting)
    if isinstance(ask, Touch) and ask.aim.quantity == "turns":
        effect = belief.effect(ask.adjuster)
        return None if effect is None else ask.aim.value * effect[0] * push
    aim = _aim_hz(bench, ask)
    spot = spot_of(bench.procedure, ask.step, ask.point)
    if aim is None or spot is None:
        return None
    amount = _solved(circuit, belief.places_hz((spot,)), push, aim)
    return None if amount is None else amount * push


def _aim_hz(bench: Bench, ask: Turning) -> float | None:
    if isinstance(ask, Peak):
        return ask.generator.hz if ask.generator is not None and ask.find == "max" else None
    if ask.aim.quantity == "resonance":
        return ask.aim.value
    return bench.instruments.oscillator_hz(ask.aim.value) if ask.aim.quantity == "frequency" else None


def _solved(circuit: CircuitBelief, place: Array, push: Array, aim_hz: float) -> float | None:
    """How far along `push` the circuit stands at the aim: Newton's method on f(x) = hz(x) - aim."""
    amount = 0.0
    for _ in range(_NEWTON_ROUNDS):
        hz = float(circuit.hz(place, amount * push)[0])
        slope = -0.5 * hz * float(circuit.by_setting(place, amount * push)[0] @ push)
        if not slope or not np.isfinite(hz):
            return None
        amount -= (hz - aim_hz) / slope
        if abs(amount) > _FARTHEST:
            return None
    return amount


def _tolerance(bench: Bench, step: CoverageStep | TrackingStep, hz: float) -> float:
    return step.tolerance_hz if isinstance(step, CoverageStep) else tolerance_hz(bench, step, hz)


def _read(bench: Bench, circuit: CircuitBelief, seen: list[Sighted]) -> tuple[tuple[float, float], ...]:
    """What was read since an adjuster of the circuit was last moved, as errors."""
    last = bench.last_move(circuit.frame.id)
    rows = []
    for event in seen:
        if event.seq > last:
            offset = circuit.frame.offset_hz if circuit.frame.oscillator else 0.0
            rows.append((event.spot.hz, event.hz - event.spot.hz - offset))
    return tuple(rows)
