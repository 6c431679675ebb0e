"""Which adjuster of a circuit seen by the level is still worth a peak, and where: by what peaks ahead will leave.

Near its place a circuit comes onto the generator at any place where it is peaked, so any adjuster may be peaked
anywhere. Which peak, or pair of peaks, brings the band nearest to its best and its points to safety can be told before
one is made (`estimate/ahead.py`); it is made if it betters more than a touch is worth.
"""

from aligner.engine.asks import Peak
from aligner.engine.bench import SAFE, Target, goal_of, movables
from aligner.engine.instruments import PEAK_FINE, received_spot
from aligner.engine.peaking import STRONG, Scene, peak_ask, round_hz, spent, unreadable_at
from aligner.engine.tolerances import tolerance_in
from aligner.engine.touches import target_for
from aligner.estimate.ahead import Price, first_peak, strengths
from aligner.estimate.best import Movable

_PLACES = 21
"""Over the band, where a peak is thought of."""
_PRICE = Price(touch=0.08, safe=SAFE, peak=PEAK_FINE)
"""What a touch must be expected to better, in tolerances."""


def peak_ahead(scene: Scene) -> Peak | None:
    """The next peak of the best plan of one or two; None where none is worth it, or other rules lead.

    They do far from the circuit's place, and where levels are not decibels.
    """
    if not scene.bench.instruments.in_db:
        return None
    places = _places(scene)
    targets = (*places, *scene.targets)
    rows = tuple(m for m in movables(scene.bench, scene.belief, scene.circuit) if m.up > m.down)
    where = _candidates(scene, targets, rows)
    fits = (scene.circuit, *scene.circuit.others)
    first = first_peak(fits, goal_of(scene.belief, targets), len(scene.targets), rows, where, _PRICE)
    if first is None:
        return None
    row, place = where[first]
    return peak_ask(scene, rows[row].adjuster, targets[place], first=False)


def _places(scene: Scene) -> list[Target]:
    """Places all over the band that a generator can be set to."""
    frame = scene.belief.frame
    low, high = frame.band.low_hz, frame.band.high_hz
    grid = {round_hz(low + (high - low) * n / (_PLACES - 1), high - low) for n in range(_PLACES)}
    inside = sorted(hz for hz in grid if low <= hz <= high)
    return [Target(*received_spot(hz), hz, tolerance_in(frame, scene.step, hz)) for hz in inside]


def _candidates(scene: Scene, targets: tuple[Target, ...], rows: tuple[Movable, ...]) -> list[tuple[int, int]]:
    """Adjusters that still turn, each at the places where it moves the circuit enough: numbers of row and target."""
    found: list[tuple[int, int]] = []
    for n, strength in enumerate(strengths(scene.circuit, goal_of(scene.belief, targets), rows)):
        own = target_for(rows[n].setting, scene.peaks).wanted_hz
        at_own = strength[min(range(len(targets)), key=lambda g: abs(targets[g].wanted_hz - own))]
        found += [
            (n, g)
            for g, target in enumerate(targets[: -len(scene.targets)])
            if strength[g] > STRONG * at_own and not unreadable_at(scene, target) and not spent(scene, rows[n], target)
        ]
    return found
