"""Looks at the level between and beyond the places where a circuit is peaked: they tell how its curve runs there.

No touch is spent: the circuit stands on the skirt of its resonance while it is on its way, and two looks at one place
with a known movement between them settle both the top of the peak there and how far off the circuit was (`tops`).
"""

from aligner.engine.asks import Read
from aligner.engine.bench import Target
from aligner.engine.history import Entry
from aligner.engine.peaking import Scene, level_ask, round_hz, target_at, unreadable_at
from aligner.estimate.events import Spot

_ENOUGH = 0.12
"""Standard error, in tolerances, of a place that need not be known better."""
_TOO_FAR = 8.0
"""Widths at which the level says no more where the circuit stands: 18 dB down."""
_APART = 0.05
"""Of the band: a place so near to one that is peaked tells nothing new."""


def curve_look(scene: Scene, touches: list[Entry], after: int = 2) -> Read | None:
    """A level where the curve is least known, if some place is not known well enough and was not read as it stands.

    Not before so many touches are made: by level nothing is known of where the circuit stands before both are.
    """
    if not scene.bench.instruments.in_db or len(touches) < after:
        return None
    readable = (t for t in _places(scene) if not unreadable_at(scene, t))
    open_places = [(doubt, t) for t in readable if (doubt := _doubt(scene, t)) > _ENOUGH]
    if not open_places:
        return None
    why = f"Nothing is peaked here; before and after a touch the level tells how {scene.step.circuit} runs here too."
    return level_ask(scene, max(open_places, key=lambda one: one[0])[1], why)


def _places(scene: Scene) -> list[Target]:
    """The ends of the band and its middle, where nothing is peaked."""
    band = scene.bench.procedure.band_of(scene.step.band)
    span = band.high_hz - band.low_hz
    middle = round_hz(_middle_hz(scene), span)
    return [
        target_at(scene, hz)
        for hz in (band.low_hz, middle, band.high_hz)
        if all(abs(hz - peak.spot.hz) > _APART * span for peak in scene.peaks)
    ]


def _middle_hz(scene: Scene) -> float:
    """Half way from peak to peak: of the shaft's travel where the law of the gang is stated, else of the frequency."""
    power = 1.0 if scene.bench.procedure.tuning.law is None else -scene.circuit.frame.travel
    low_hz, high_hz = scene.peaks[0].spot.hz, scene.peaks[-1].spot.hz
    return float((0.5 * (low_hz**power + high_hz**power)) ** (1.0 / power))


def _doubt(scene: Scene, target: Target) -> float:
    """Standard error of the circuit's place there, in tolerances; nought where a level would not tell more."""
    circuit = scene.circuit
    levels = [x.seq for x in scene.bench.ledger.levels if x.circuit == circuit.frame.id and x.hz == target.spot.hz]
    if any(seq > scene.bench.last_move(circuit.frame.id) for seq in levels):
        return 0.0
    z, generator = scene.belief.places_hz((target.spot,)), scene.belief.places_hz((Spot(target.spot.hz),))
    away = circuit.frame.q * float(circuit.lny(z)[0] - circuit.frame.lny(generator)[0])
    if abs(away) > _TOO_FAR:
        return 0.0
    return float(circuit.sd_hz(z)[0]) / target.tolerance_hz
