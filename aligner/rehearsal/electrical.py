"""What the circuits of a virtual set do, exactly: resonances, oscillator, levels. No instrument, no hand, no noise."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from aligner.rehearsal.laws import (
    Numbers,
    diode_capacitance,
    gang_capacitance,
    inductance,
    self_capacitance,
    trimmer_capacitance,
)
from aligner.rehearsal.parts import Parts, TunedCircuit

Positions = Mapping[str, Numbers]
Curve = Callable[[Numbers], Numbers]
Vector = npt.NDArray[np.float64]
_HERTZ = 1 / (2 * math.pi)
_CLOSE = 1e-6  # of the step of a grid: a crossing that moves by no more has been found, far closer than that
_STEPS = 60
_SCANNED = 65


@dataclass(frozen=True)
class Electrical:
    """The circuits of one set on one band (empty: the only one)."""

    parts: Parts
    band: str = ""

    def on(self, circuit: TunedCircuit) -> bool:
        """Whether a circuit works on this band."""
        return not circuit.bands or not self.band or self.band in circuit.bands

    @cached_property
    def oscillator(self) -> TunedCircuit:
        """The oscillator's circuit of this band."""
        return next(row for row in self.parts.circuits if row.role == "oscillator" and self.on(row))

    @cached_property
    def signals(self) -> tuple[TunedCircuit, ...]:
        """The signal circuits of this band."""
        return tuple(row for row in self.parts.circuits if row.role == "signal" and self.on(row))

    def element(self, circuit: TunedCircuit, tuning: Numbers) -> Numbers:
        """Capacitance [F] of the tuning diode or gang section at a position of the tuning ([V] or shaft)."""
        if circuit.diode is not None:
            return diode_capacitance(circuit.diode, tuning)
        assert circuit.section is not None, "a circuit has a diode or a section"  # noqa: S101 - drawn so
        assert self.parts.gang is not None, "a section belongs to a gang"  # noqa: S101 - drawn so
        return gang_capacitance(self.parts.gang, circuit.section, tuning)

    def resonance(self, circuit: TunedCircuit, tuning: Numbers, positions: Positions) -> Numbers:
        """Resonance [Hz]."""
        return self._resonance_by(circuit, positions)(tuning)

    def _resonance_by(self, circuit: TunedCircuit, positions: Positions) -> Curve:
        """Resonance [Hz] by the tuning, the screws left alone: what they make is worked out once."""
        by_element = _resonance_by_element(circuit, positions)
        return lambda tuning: by_element(self.element(circuit, tuning))

    def oscillator_hz(self, tuning: Numbers, positions: Positions) -> Numbers:
        """Frequency [Hz] of the warm oscillator, pulled a little by the signal circuits."""
        return self._oscillator_by(positions)(tuning)

    def _oscillator_by(self, positions: Positions) -> Curve:
        """The same by the tuning, the screws left alone."""
        by_elements = self._oscillator_by_elements(positions)
        return lambda tuning: by_elements(self._elements(tuning))

    def _elements(self, tuning: Numbers) -> list[Numbers]:
        """The elements of all circuits that the oscillator's frequency depends on, its own first."""
        pulling = self.signals if self.parts.pulling else ()
        return [self.element(circuit, tuning) for circuit in (self.oscillator, *pulling)]

    def _oscillator_by_elements(self, positions: Positions) -> Callable[[list[Numbers]], Numbers]:
        """The same by those elements."""
        alone = _resonance_by_element(self.oscillator, positions)
        pulling = [_resonance_by_element(circuit, positions) for circuit in self.signals]

        def runs(elements: list[Numbers]) -> Numbers:
            free = alone(elements[0])
            if not self.parts.pulling:
                return free
            pulled: Numbers = 0.0
            for resonance, element in zip(pulling, elements[1:], strict=True):
                apart = 1 - (resonance(element) / free) ** 2
                pulled = pulled + apart / (apart * apart + 0.02)  # the damping keeps it finite where both fall together
            return free * (1 + self.parts.pulling**2 / 2 * pulled)

        return runs

    @cached_property
    def _scan(self) -> tuple[Vector, list[Numbers]]:
        """Places all over the tuning, where a search for one begins, and the elements there: no screw moves them."""
        grid = _even(*self.parts.tuning, _SCANNED)
        return grid, self._elements(grid)

    def tuned_to(self, received_hz: float, positions: Positions, near: float | None = None) -> float | None:
        """Where the tuning must stand for the oscillator to be one IF from `received_hz`; None where it cannot."""
        low, high = self.parts.tuning
        wanted = received_hz + self.parts.side * self.parts.intermediate
        start = (low + high) / 2 if near is None else near
        by_elements = self._oscillator_by_elements(positions)
        grid, elements = self._scan
        runs = by_elements(elements)
        return _crossing(grid, runs, lambda place: by_elements(self._elements(place)), wanted, start)

    def response_db(self, circuit: TunedCircuit, resonance_hz_: Numbers, generator_hz: Numbers) -> Numbers:
        """Level [dB] of a single tuned circuit against its own peak."""
        detuning = generator_hz / resonance_hz_ - resonance_hz_ / generator_hz
        return -10 * np.log10(1 + (circuit.coil.quality * detuning) ** 2)

    def signal_db(self, tuning: Numbers, positions: Positions, generator_hz: Numbers) -> Numbers:
        """Level [dB] behind all signal circuits against all of them peaked."""
        level: Numbers = 0.0
        for circuit in self.signals:
            level = level + self.response_db(circuit, self.resonance(circuit, tuning, positions), generator_hz)
        return level


def _resonance_by_element(circuit: TunedCircuit, positions: Positions) -> Curve:
    """Resonance [Hz] by the tuning element [F], the screws left alone: what they make is worked out once."""
    coil, padder = circuit.coil, circuit.padder
    henry = _plain(inductance(coil, positions.get(coil.screw, 0.0)))
    trim: Numbers = 0.0
    for trimmer in circuit.trimmers:
        trim = trim + trimmer_capacitance(trimmer, positions.get(trimmer.screw, 0.0))
    series = None if padder is None else _plain(trimmer_capacitance(padder, positions.get(padder.screw, 0.0)))
    trim = _plain(trim)
    return lambda element: resonance_hz(circuit, henry, trim, series, element)


def _plain(value: Numbers) -> Numbers:
    """A single number as Python's own: it is reckoned with several times as fast as one of numpy's."""
    return float(value) if isinstance(value, float) else value


def resonance_hz(
    circuit: TunedCircuit, henry: Numbers, trim: Numbers, series: Numbers | None, element: Numbers
) -> Numbers:
    """Resonance [Hz] from inductance [H], trimmers [F], padder [F] (None: none) and tuning element [F]."""
    # What does not depend on the tuning comes first: mostly numbers, while the element is a long array.
    beside: Numbers = circuit.coil_stray + self_capacitance(circuit.coil, henry)
    across_tuning = circuit.trimmer_across == "tuning"
    front = circuit.stray + trim if across_tuning else circuit.stray
    beside = beside if across_tuning else beside + trim
    if series is None:
        square = henry * (element + (front + beside))
    else:
        whole = element + front
        square = henry * (whole * series / (whole + series) + beside)
    return _HERTZ / (math.sqrt(square) if isinstance(square, float) else np.sqrt(square))


def crossing(
    function: Callable[[Numbers], Numbers],
    low: float,
    high: float,
    target: float,
    start: float,
    *,
    points: int = 257,
    sense: int = 0,
) -> float | None:
    """The place nearest to `start` where the function passes `target`; sense +-1 prefers places on that side."""
    grid = _even(low, high, points)
    return _crossing(grid, function(grid), function, target, start, sense)


def _crossing(
    grid: Vector, there: Numbers, function: Curve, target: float, start: float, sense: int = 0
) -> float | None:
    """The same from what the function is on a grid."""
    off = np.asarray(there) - target
    above = off > 0
    (changes,) = (above[:-1] != above[1:]).nonzero()
    if not changes.size:
        return None
    best = int(changes[0]) if changes.size == 1 else _nearest(grid, changes, start, sense)
    left, right = (float(grid[best]), float(off[best])), (float(grid[best + 1]), float(off[best + 1]))
    return _refined(lambda place: float(function(place)) - target, left, right)


def _nearest(grid: Vector, changes: npt.NDArray[np.int64], start: float, sense: int) -> int:
    """The one of several steps of a grid that is nearest to `start`, on the side of `sense` where there is one."""
    middles = (grid[changes] + grid[changes + 1]) / 2 - start
    preferred = changes[middles * sense > 0] if sense else changes
    chosen = preferred if preferred.size else changes
    return int(chosen[np.argmin(np.abs(grid[chosen] - start))])


def _refined(off: Callable[[float], float], left: tuple[float, float], right: tuple[float, float]) -> float:
    """Where it is nought between two places (place, how far off) that lie on both sides of that.

    Regula falsi, with half the weight for an end that stays (the Illinois way: M. Dowell and P. Jarratt, BIT 11, 1971,
    168; from memory): a circuit bends little between two points of a grid, and a few single places find it.
    """
    close, at = _CLOSE * (right[0] - left[0]), left[0]
    for _ in range(_STEPS):
        before, at = at, right[0] - right[1] * (right[0] - left[0]) / (right[1] - left[1])
        if abs(at - before) <= close:
            break
        here = off(at)
        if here == 0.0:
            break
        left = right if (here > 0.0) != (right[1] > 0.0) else (left[0], 0.5 * left[1])
        right = (at, here)
    return at


def _even(low: float, high: float, points: int) -> Vector:
    """Evenly from low to high, both ends met: numpy's linspace without its care for every other case."""
    grid = low + _counts(points) * ((high - low) / (points - 1))
    grid[-1] = high
    return grid


@lru_cache(maxsize=8)
def _counts(points: int) -> npt.NDArray[np.float64]:
    counts = np.arange(points, dtype=np.float64)
    counts.setflags(write=False)
    return counts
