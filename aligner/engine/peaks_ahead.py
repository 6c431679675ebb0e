"""Which adjuster of a circuit seen by the level is still worth a peak, and where: by what peaks ahead will leave.

Near its place a circuit comes onto the generator at any place where it is peaked, so any adjuster may be peaked
anywhere. Which peak, or pair of peaks, brings the band nearest to its best and its points to safety can be told before
one is made (`estimate/ahead.py`); it is made if it betters more than a touch is worth.
"""

from dataclasses import replace

from aligner.engine.asks import Peak
from aligner.engine.bench import Target, goal_of, movables
from aligner.engine.instruments import PEAK_FINE
from aligner.engine.peaking import STRONG, Scene, peak_ask, round_hz, spent, target_at, unreadable_at
from aligner.engine.touches import target_for
from aligner.estimate.ahead import Price, first_peak, strengths
from aligner.estimate.best import Movable

_PLACES = 21
"""Over the band, where a peak is thought of."""
_PRICE = Price(touch=0.04, wrong=17.0, peak=PEAK_FINE)
"""What a touch must be expected to better, and what a wrong end costs, in tolerances.

Wrong is dear because errors by level have more than a normal law's share far out: levels tell of the curve in widths
only, so that what is known of the Q makes all of them greater or less at once.
"""
_LATE = replace(_PRICE, touch=0.15)
"""The same when the tool was put to the circuit's adjusters often: what is believed then was often believed before."""


def peak_ahead(scene: Scene, *, late: bool) -> Peak | None:
    """The next peak of the best plan of one or two; None where none is worth it, or other rules lead.

    They do far from the circuit's place, and where levels are not decibels.
    """
    if not scene.bench.instruments.in_db:
        return None
    places = _places(scene)
    targets = (*places, *_ends(scene), *scene.targets)
    rows = tuple(m for m in movables(scene.bench, scene.belief, scene.circuit) if m.up > m.down)
    where = _candidates(scene, targets, len(places), rows)
    fits = (scene.circuit, *scene.circuit.others)
    first = first_peak(fits, goal_of(scene.belief, targets), len(scene.targets), rows, where, _LATE if late else _PRICE)
    if first is None:
        return None
    row, place = where[first]
    return peak_ask(scene, rows[row].adjuster, targets[place], first=False)


def _places(scene: Scene) -> list[Target]:
    """Places all over the band that a generator can be set to: even over it, and over the shaft's travel of a gang too.

    At the low end of its scale the errors go from one end of the tolerance to the other within a twentieth of the band.
    """
    low, high = _ends(scene)
    span = high.wanted_hz - low.wanted_hz
    powers = (1.0, -scene.circuit.frame.travel) if scene.bench.procedure.tuning.by == "gang" else (1.0,)
    grid = {round_hz(hz, span) for power in powers for hz in _even(low.wanted_hz, high.wanted_hz, power)}
    return [target_at(scene, hz) for hz in sorted(grid) if low.wanted_hz <= hz <= high.wanted_hz]


def _even(low_hz: float, high_hz: float, power: float) -> list[float]:
    """Places from end to end that are even in that power of the frequency."""
    start, step = low_hz**power, (high_hz**power - low_hz**power) / (_PLACES - 1)
    return [float((start + step * n) ** (1.0 / power)) for n in range(_PLACES)]


def _ends(scene: Scene) -> tuple[Target, Target]:
    band = scene.belief.frame.band
    return target_at(scene, band.low_hz), target_at(scene, band.high_hz)


def _candidates(
    scene: Scene, targets: tuple[Target, ...], count: int, rows: tuple[Movable, ...]
) -> list[tuple[int, int]]:
    """Adjusters that still turn at those of the first `count` targets where they move the circuit: row and target."""
    found: list[tuple[int, int]] = []
    for n, strength in enumerate(strengths(scene.circuit, goal_of(scene.belief, targets), rows)):
        own = target_for(rows[n].setting, scene.peaks).wanted_hz
        at_own = strength[min(range(len(targets)), key=lambda g: abs(targets[g].wanted_hz - own))]
        found += [
            (n, g)
            for g, target in enumerate(targets[:count])
            if strength[g] > STRONG * at_own and not unreadable_at(scene, target) and not spent(scene, rows[n], target)
        ]
    return found
