"""How the signal circuits can follow: the curve with the procedure's points, and with the best ones."""

from typing import TYPE_CHECKING

from aligner.circuits.nominal import along_tuning, best_on_scale, nominal_circuit
from aligner.circuits.resonance import loss_db
from aligner.circuits.superhet import image_hz, image_rejection_db
from aligner.circuits.tank import TunedCircuit
from aligner.errors import CircuitError
from aligner.estimate.frame import frame_of
from aligner.procedure.model import Circuit
from aligner.sheet.ground import UNIT_F, Ground, padded, parts_of, tracking_step
from aligner.sheet.plan_model import ImageLine, Placement, PointError, TrackingPlan

if TYPE_CHECKING:
    from aligner.circuits.minimax import Hardware, Measure
    from aligner.circuits.solve import Part


def signal_set_to(ground: Ground, circuit: Circuit) -> TunedCircuit:
    """A signal circuit as its step's points ask for it: exact, or with the least greatest error at them."""
    points = points_of(ground, circuit)
    has_padder = padded(ground.procedure, circuit) and len(points) > 1
    three = has_padder and len(points) > 2 and bool(parts_of(ground.procedure, circuit, "parallel"))
    free: tuple[Part, ...] = ("inductance", "padder", "trimmer") if three else ("inductance", "padder")
    shape = TunedCircuit(1.0, 0.0, UNIT_F if has_padder else None, circuit.trimmer_across)
    return nominal_circuit(shape, tuple(ground.spot(hz) for hz in points), free, measure_of(ground, circuit)).circuit


def points_of(ground: Ground, circuit: Circuit) -> tuple[float, ...]:
    """The step's points [Hz]; without a step the best ones."""
    step = tracking_step(ground.procedure, circuit, ground.band)
    return step.points_hz if step else _best(ground, "relative")[0]


def measure_of(ground: Ground, circuit: Circuit) -> "Measure":
    """What the step's tolerance is in."""
    step = tracking_step(ground.procedure, circuit, ground.band)
    return "hz" if step and step.tolerance_hz is not None else "relative"


def tracking_planned(ground: Ground, circuit: Circuit, set_to: TunedCircuit) -> TrackingPlan:
    """The curve of one signal circuit."""
    procedure, step = ground.procedure, tracking_step(ground.procedure, circuit, ground.band)
    q = frame_of(procedure, ground.band.id, procedure.intermediate_hz).circuits[circuit.id].q
    measure, points = measure_of(ground, circuit), points_of(ground, circuit)
    found = along_tuning(set_to, ground.set_to, ground.tuning_f, procedure.intermediate_hz, procedure.oscillator)
    curve = tuple(
        _point(hz, error, q) for hz, error in zip(found.received_hz.tolist(), found.error_hz.tolist(), strict=True)
    )
    at_points = tuple(_point(hz, float(set_to.resonance_hz(ground.spot(hz)[0])) - hz, q) for hz in points)
    return TrackingPlan(
        circuit=circuit.id,
        step=step.id if step else "",
        tolerance_hz=step.tolerance_hz if step else None,
        tolerance_db=step.tolerance_db if step else None,
        q=q,
        q_given=circuit.q is not None,
        at_points=at_points,
        own=_placement(points, curve, measure),
        best=_best_placement(ground, measure, q),
        measure=measure,
        equal_sections=ground.cut,
        curve=curve,
    )


def _point(received_hz: float, error_hz: float, q: float) -> PointError:
    return PointError(received_hz, error_hz, loss_db(received_hz, received_hz + error_hz, q))


def size_of(point: PointError, measure: "Measure") -> float:
    """The size of an error in its measure [Hz or 1]."""
    return abs(point.error_hz) if measure == "hz" else abs(point.error_hz / point.received_hz)


def _placement(points: tuple[float, ...], curve: tuple[PointError, ...], measure: "Measure") -> Placement:
    return Placement(points, max(curve, key=lambda p: size_of(p, measure)), max(p.loss_db for p in curve))


def _best(ground: Ground, measure: "Measure") -> tuple[tuple[float, ...], tuple[tuple[float, float], ...]]:
    any_padder = any(padded(ground.procedure, c) for c in (ground.oscillator, *ground.signals))
    hardware: Hardware = "padded" if any_padder else "unpadded"
    ends = ground.band.low_hz, ground.band.high_hz
    side = ground.procedure.oscillator
    best = best_on_scale(ends, ground.procedure.intermediate_hz, side, hardware, measure, ground.scale)
    return best.points_hz, best.extremes


def _best_placement(ground: Ground, measure: "Measure", q: float) -> Placement | None:
    """None where no placement makes the extremes equal, as on a band that this hardware cannot follow."""
    try:
        points, extremes = _best(ground, measure)
    except CircuitError:
        return None
    errors = [(hz, error if measure == "hz" else error * hz) for hz, error in extremes]
    if ground.scale == "signal":  # there the places are the signal circuit's, and it receives that much beside it
        errors = [(hz - error, error) for hz, error in errors]
    return _placement(points, tuple(_point(hz, error, q) for hz, error in errors), measure)


def images_planned(ground: Ground) -> tuple[ImageLine, ...]:
    """Image and rejection at the ends and in the middle of the band."""
    procedure, band = ground.procedure, ground.band
    circuits = frame_of(procedure, band.id, procedure.intermediate_hz).circuits
    qualities = tuple(circuits[c.id].q for c in ground.signals)
    lines = []
    for hz in (band.low_hz, (band.low_hz * band.high_hz) ** 0.5, band.high_hz):
        image = image_hz(hz, procedure.intermediate_hz, procedure.oscillator)
        if image > 0:
            lines.append(ImageLine(hz, image, image_rejection_db(hz, image, qualities)))
    return tuple(lines)
