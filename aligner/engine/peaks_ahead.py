"""Which adjuster of a circuit seen by the level is still worth a peak, and where: by what peaks ahead will leave.

Near its place a circuit comes onto the generator at any place where it is peaked, so any adjuster may be peaked
anywhere. Which peak, or pair of peaks, brings the band nearest to its best and its points to safety can be told before
one is made (`estimate/ahead.py`); it is made if it betters more than a touch is worth.
"""

from dataclasses import dataclass

import numpy as np

from aligner.engine.bench import SAFE, Target, movables
from aligner.engine.instruments import PEAK_FINE, received_spot
from aligner.engine.peaking import STRONG, Scene, round_hz, spent, unreadable_at
from aligner.engine.tolerances import tolerance_in
from aligner.engine.touches import target_for
from aligner.estimate.ahead import Ground, Peaks, priced
from aligner.estimate.belief import CircuitBelief
from aligner.estimate.best import Movable
from aligner.estimate.ladder import Array

_PLACES = 21
"""Over the band, where a peak is thought of."""
_NEAR = 4.0
"""In tolerances: a circuit farther off than this moves by more than its derivatives tell."""
PRICE = 0.08
"""In tolerances: what a touch must be expected to better."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """The next peak of a plan: an adjuster at a target."""

    adjuster: str
    target: Target


@dataclass(frozen=True, slots=True)
class _Places:
    """Where the circuit is looked at: places to peak at, then the step's own points; frequencies and places in Hz."""

    targets: tuple[Target, ...]
    z_hz: Array
    tolerance_hz: Array

    @property
    def wanted_hz(self) -> Array:
        return np.array([t.wanted_hz for t in self.targets])


def next_peak(scene: Scene) -> Ahead | None:
    """The first peak of the best plan of one or two, each at its price; None where none is worth it.

    Only near the circuit's place and where levels are decibels: elsewhere other rules lead. Of fits that are all still
    credible the one by which it would end worst counts.
    """
    if not scene.bench.instruments.in_db:
        return None
    places = _places(scene)
    fits = (scene.circuit, *scene.circuit.others)
    grounds = [_ground(circuit, scene, places) for circuit in fits]
    if max(float(np.max(np.abs(ground.errors))) for ground in grounds) > _NEAR:
        return None
    rows = [m for m in movables(scene.bench, scene.belief, scene.circuit) if m.up > m.down]
    where = _candidates(scene, places, rows)
    if not where:
        return None
    ends = [priced(g, _peaks(circuit, places, rows, where)) for g, circuit in zip(grounds, fits, strict=True)]
    now, once, twice = (np.max(np.array(one), axis=0) for one in zip(*ends, strict=True))
    total = np.minimum(once + PRICE, twice + 2.0 * PRICE)
    first = int(np.argmin(total))
    if total[first] >= now:
        return None
    row, place = where[first]
    return Ahead(rows[row].adjuster, places.targets[place])


def _places(scene: Scene) -> _Places:
    frame = scene.belief.frame
    low, high = frame.band.low_hz, frame.band.high_hz
    grid = sorted({round_hz(float(hz), high - low) for hz in np.linspace(low, high, _PLACES)})
    ahead = [Target(*received_spot(hz), hz, tolerance_in(frame, scene.step, hz)) for hz in grid if low <= hz <= high]
    targets = (*ahead, *scene.targets)
    z = scene.belief.places_hz(tuple(t.spot for t in targets))
    return _Places(targets, z, np.array([t.tolerance_hz for t in targets]))


def _ground(circuit: CircuitBelief, scene: Scene, places: _Places) -> Ground:
    hz = circuit.hz(places.z_hz)
    scale = 0.5 * hz / places.tolerance_hz
    own = np.arange(len(places.targets)) >= len(places.targets) - len(scene.targets)
    covariance = circuit.covariance(places.z_hz) * np.outer(scale, scale)
    return Ground((hz - places.wanted_hz) / places.tolerance_hz, covariance, own, SAFE)


def _pushes(circuit: CircuitBelief, places: _Places, rows: list[Movable]) -> Array:
    """What a unit of each adjuster's setting does to the errors, (rows, places) [in tolerances]."""
    by_setting = circuit.by_setting(places.z_hz) * (-0.5 * circuit.hz(places.z_hz) / places.tolerance_hz)[:, None]
    return np.array([by_setting @ circuit.push(row.setting) for row in rows])


def _candidates(scene: Scene, places: _Places, rows: list[Movable]) -> list[tuple[int, int]]:
    """Adjusters that still turn, each at the places where it moves the circuit enough: numbers of row and place."""
    strength = np.abs(_pushes(scene.circuit, places, rows) * places.tolerance_hz) if rows else np.zeros((0, 0))
    found = []
    for n, row in enumerate(rows):
        own = target_for(row.setting, scene.peaks)
        at_own = strength[n, int(np.argmin(np.abs(places.wanted_hz - own.wanted_hz)))]
        found += [
            (n, g)
            for g, target in enumerate(places.targets[: -len(scene.targets)])
            if strength[n, g] > STRONG * at_own and not unreadable_at(scene, target) and not spent(scene, row, target)
        ]
    return found


def _peaks(circuit: CircuitBelief, places: _Places, rows: list[Movable], where: list[tuple[int, int]]) -> Peaks:
    adjuster, place = np.array(where, dtype=np.int64).T
    width_hz = places.wanted_hz[place] / circuit.frame.q
    return Peaks(
        adjuster=adjuster,
        place=place,
        push=_pushes(circuit, places, rows)[adjuster],
        sd=PEAK_FINE * width_hz / places.tolerance_hz[place],
        down=np.array([rows[n].down for n in adjuster]),
        up=np.array([rows[n].up for n in adjuster]),
    )
