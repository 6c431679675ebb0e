"""What only the rehearsal knows: the true errors of a virtual set, and the best that its drawn parts could do."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from aligner.procedure.model import CoveragePoint, CoverageStep, Procedure, TrackingStep
from aligner.rehearsal.balance import balanced
from aligner.rehearsal.electrical import Electrical, resonance_hz
from aligner.rehearsal.laws import Numbers, inductance, trimmer_capacitance
from aligner.rehearsal.parts import Trimmer, TunedCircuit
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.shared import Excess, bounded, leaning, left_of

Vector = npt.NDArray[np.float64]
_BAND_POINTS = 33
_JUDGED = (CoverageStep, TrackingStep)


@dataclass(frozen=True)
class Judged:
    """One step as it truly is. All in the unit of the step's tolerance ([Hz] or [dB]).

    error: greatest true error at the step's points; best: the least greatest error there that the hardware can do.
    band_error and band_best: the same over the whole band (tracking only).
    """

    step: str
    tolerance: float
    error: float
    best: float
    band_error: float | None = None
    band_best: float | None = None
    shown: float | None = None  # what the step's own report should say; None: the error

    @property
    def aligned(self) -> bool:
        """Whether every point of the step is truly within tolerance."""
        return self.error <= self.tolerance

    @property
    def can(self) -> bool:
        """Whether the hardware can; a tenth of the tolerance is left for where hands stop."""
        return self.best <= 0.9 * self.tolerance


class Truth:
    """The truth about one virtual set as it stands now."""

    def __init__(self, virtual: VirtualSet, procedure: Procedure | None = None) -> None:
        self._set = virtual
        virtual.bench.settle_strip()
        self._procedure = procedure or virtual.procedure
        self._bounds: dict[str, tuple[float, float]] = {}
        self._ran: tuple[tuple[object, ...], Vector, Vector] | None = None

    def electrical(self, band: str) -> Electrical:
        """The circuits of a band."""
        return Electrical(self._set.bench.electrical.parts, band)

    def judge(self, step: CoverageStep | TrackingStep) -> Judged:
        """How a step truly stands."""
        self._bounds = self._left_by_others(step)
        self._set.bench.begin(step.band)
        return self._coverage(step) if isinstance(step, CoverageStep) else self._tracking(step)

    def aligned(self, step: CoverageStep | TrackingStep) -> bool:
        """Whether every point of a step is truly within tolerance; what the hardware could do at best is not sought."""
        self._set.bench.begin(step.band)
        if isinstance(step, CoverageStep):
            led = step.leader == "signal"
            return self.judge(step).aligned if led else _greatest(self.oscillator_errors_hz(step)) <= step.tolerance_hz
        error = self._error(step, self._set.parts.circuit(step.circuit), self._points(step))
        return error <= _tolerance(step)

    # What other bands leave

    def _left_by_others(self, step: CoverageStep | TrackingStep) -> dict[str, tuple[float, float]]:
        """Between which capacitances [F] shared trimmers may stand for the bands that have no other."""
        parts = self._set.bench.electrical.parts
        circuit = parts.circuit(step.circuit)
        bounds = {}
        for row in circuit.trimmers:
            others = {one.id for one in leaning(parts, circuit, row.screw)}
            steps = [self._excess(s) for s in self._procedure.steps if isinstance(s, _JUDGED) and s.circuit in others]
            if steps:
                travel = next(screw.travel for screw in parts.screws if screw.id == row.screw)
                bounds[row.screw] = left_of(row, travel, self._set.positions(), steps)
        return bounds

    def _excess(self, step: CoverageStep | TrackingStep) -> Excess:
        """How far a step is off, in its tolerances, by where the screws stand."""
        self._set.bench.begin(step.band)
        circuits, circuit = self.electrical(step.band), self._set.parts.circuit(step.circuit)
        if isinstance(step, CoverageStep):
            hz = np.array([point.received_hz for point in step.points])
            at, wanted = np.array([self.tuning(point) for point in step.points]), self._wanted(hz)
        else:
            wanted = np.array(step.points_hz)
            at = self.tunings(wanted, step.band)

        def excess(positions: Mapping[str, Numbers]) -> float:
            if isinstance(step, CoverageStep):
                runs = np.asarray(circuits.oscillator_hz(at, positions)) * (1 + self._set.bench.drift)
                return _greatest(runs - wanted) / step.tolerance_hz
            off = np.asarray(circuits.resonance(circuit, at, positions)) - wanted
            if step.tolerance_hz is not None:
                return _greatest(off) / step.tolerance_hz
            return _loss_db(circuit, _greatest(off / wanted)) / (step.tolerance_db or 0.3)

        return excess

    # Coverage

    def oscillator_errors_hz(self, step: CoverageStep) -> Vector:
        """Measured - wanted oscillator [Hz] at the step's points, the points set exactly."""
        self._set.bench.begin(step.band)  # a dial frequency is a place on the scale of its band
        circuits = self.electrical(step.band)
        at = np.array([self.tuning(point) for point in step.points])
        runs = np.asarray(circuits.oscillator_hz(at, self._set.positions())) * (1 + self._set.bench.drift)
        return runs - self._wanted(np.array([point.received_hz for point in step.points]))

    def tuning(self, point: CoveragePoint) -> float:
        """The exact position of the tuning of a coverage point."""
        bench, place = self._set.bench, point.place
        if place.volts is not None:
            return place.volts
        if place.end is not None:
            return float(bench.by_preset(self._set.parts.ends[0 if place.end == "low" else 1]))
        return float(bench.by_preset(bench.dialled(place.dial or point.received_hz)))

    def _wanted(self, received_hz: Vector) -> Vector:
        parts = self._set.bench.electrical.parts
        return received_hz + parts.side * parts.intermediate

    def _coverage(self, step: CoverageStep) -> Judged:
        circuits = self.electrical(step.band)
        if step.leader == "signal" and circuits.signals:
            return self._led(step, circuits)
        errors = self.oscillator_errors_hz(step)
        at = np.array([self.tuning(point) for point in step.points])
        best = self._oscillator_best(circuits, at, errors, np.array([point.received_hz for point in step.points]))
        by_scale = all(point.place.volts is None for point in step.points)
        if self._set.parts.presets and by_scale and len(step.points) <= len(self._set.parts.presets):
            best = min(best, self._presets_best(step, circuits))
        return Judged(step.id, step.tolerance_hz, _greatest(errors), best)

    def _presets_best(self, step: CoverageStep, circuits: Electrical) -> float:
        """The least greatest error [Hz] of the end points in reach of the presets."""
        points = sorted(step.points, key=lambda point: point.received_hz)
        ends = {"low-end": points[0], "high-end": points[-1]}
        fixed = [point for sets, point in ends.items() if sets not in {row.sets for row in self._set.parts.presets}]
        left = [abs(float(error)) for error in self.oscillator_errors_hz(replace(step, points=tuple(fixed)))]
        for preset in self._set.parts.presets:
            travel = np.linspace(0.0, preset.travel, 257)
            middle = self.tuning(ends[preset.sets]) / float(self._set.bench.preset(preset))
            at = middle * (1 + preset.reach * (2 * travel / preset.travel - 1))
            runs = np.asarray(circuits.oscillator_hz(at, self._set.positions())) * (1 + self._set.bench.drift)
            wanted = float(self._wanted(np.array([ends[preset.sets].received_hz]))[0])
            inside = runs.min() <= wanted <= runs.max()
            left.append(0.0 if inside else float(np.min(np.abs(runs - wanted))))
        return max(left, default=0.0)

    def _led(self, step: CoverageStep, circuits: Electrical) -> Judged:
        """The signal circuit leads: its own error counts, and the dial's where a trimmer lets it follow."""
        lead = next((row for row in circuits.signals if row.coil.law == "fixed"), circuits.signals[0])
        rows = sorted(step.points, key=lambda point: point.received_hz)
        kept = rows[-1:] if lead.trimmers and len(rows) > 1 else []
        led = np.array([point.received_hz for point in rows if point not in kept])
        off = self.tracking_errors_hz(lead.id, led, step.band)
        dial = self.oscillator_errors_hz(replace(step, points=tuple(kept)))
        grid = np.linspace(*self._set.parts.tuning, 1025)
        own = np.asarray(circuits.resonance(lead, grid, self._set.positions()))
        order = np.argsort(own)
        at = np.array([*np.interp(led, own[order], grid[order]), *(self.tuning(point) for point in kept)])
        received = np.array([*led, *(point.received_hz for point in kept)])
        runs = np.asarray(circuits.oscillator_hz(at, self._set.positions())) * (1 + self._set.bench.drift)
        best = self._oscillator_best(circuits, at, runs - self._wanted(received), received)
        # What the step tells is the error where the signal circuit leads.
        return Judged(step.id, step.tolerance_hz, _greatest(np.concatenate((off, dial))), best, shown=_greatest(off))

    def _oscillator_best(self, circuits: Electrical, at: Vector, errors: Vector, received_hz: Vector) -> float:
        """The least greatest error [Hz] of the oscillator at places of the tuning, pull and drift as they are now."""
        leader = circuits.oscillator
        free = np.asarray(circuits.resonance(leader, at, self._set.positions()))
        wanted = self._wanted(received_hz)
        alone = free * wanted / (wanted + errors)  # what the circuit must do: pull and drift stay as they are now
        reach = bounded(leader, self._bounds)
        return least_greatest(circuits, reach, at, alone, np.ones(len(at)), self._values(leader))

    # Tracking

    def tunings(self, received_hz: Vector, band: str) -> Vector:
        """Where the tuning must stand to receive each frequency; NaN where it cannot."""
        runs, at = self._running(band)
        return np.interp(self._wanted(received_hz), runs, at, left=np.nan, right=np.nan)

    def _running(self, band: str) -> tuple[Vector, Vector]:
        """Frequencies [Hz] of the oscillator over the tuning, rising, and where they lie; kept while nothing moves."""
        parts, drift, places = self._set.bench.electrical.parts, self._set.bench.drift, self._set.positions()
        moment = (band, drift, parts, *places.values())
        if self._ran is None or self._ran[0] != moment:
            grid = np.linspace(*self._set.parts.tuning, 1025)
            runs = np.asarray(self.electrical(band).oscillator_hz(grid, places)) * (1 + drift)
            order = np.argsort(runs)
            self._ran = moment, runs[order], grid[order]
        return self._ran[1:]

    def tracking_errors_hz(self, circuit_id: str, received_hz: Vector, band: str = "") -> Vector:
        """Resonance - frequency received there [Hz]; NaN where the set cannot be tuned to it."""
        at = self.tunings(received_hz, band)
        circuit = self._set.parts.circuit(circuit_id)
        return np.asarray(self.electrical(band).resonance(circuit, at, self._set.positions())) - received_hz

    def _tracking(self, step: TrackingStep) -> Judged:
        circuit = self._set.parts.circuit(step.circuit)
        band, points = self._procedure.band_of(step.band), self._points(step)
        whole = np.linspace(band.low_hz, band.high_hz, _BAND_POINTS)
        at_points = self._errors(step, circuit, points)
        if np.isnan(self.tunings(points, step.band)).any():
            at_points = (math.inf, math.inf)  # a point that the set cannot be tuned to is no aligned point
        shown = self._worst_hz(step, circuit, points)  # reports are in Hz, whatever the tolerance is given in
        return Judged(step.id, _tolerance(step), *at_points, *self._errors(step, circuit, whole), shown)

    def _points(self, step: TrackingStep) -> Vector:
        band = self._procedure.band_of(step.band)
        return np.array(step.points_hz) if step.points_hz else np.array([band.low_hz, band.high_hz])

    def _error(self, step: TrackingStep, circuit: TunedCircuit, received_hz: Vector) -> float:
        """The greatest error in the unit of the tolerance; infinite where the set cannot be tuned to all places."""
        off = self.tracking_errors_hz(circuit.id, received_hz, step.band)
        if step.tolerance_hz is not None:
            return _greatest(off)
        return _loss_db(circuit, _greatest(off / received_hz))

    def _worst_hz(self, step: TrackingStep, circuit: TunedCircuit, received_hz: Vector) -> float:
        """The error [Hz] at the point that is worst by the step's tolerance."""
        off = self.tracking_errors_hz(circuit.id, received_hz, step.band)
        weight = np.ones(len(off)) if step.tolerance_hz is not None else 1 / received_hz
        return math.inf if np.isnan(off).any() else float(off[np.argmax(np.abs(off * weight))])

    def _errors(self, step: TrackingStep, circuit: TunedCircuit, received_hz: Vector) -> tuple[float, float]:
        """Greatest error and the least greatest that could be, in the unit of the tolerance."""
        at = self.tunings(received_hz, step.band)
        reached = ~np.isnan(at)
        if not reached.any():
            return math.inf, math.inf
        at, hz = at[reached], received_hz[reached]
        circuits = self.electrical(step.band)
        off = np.asarray(circuits.resonance(circuit, at, self._set.positions())) - hz
        values, reach = self._values(circuit), bounded(circuit, self._bounds)
        if step.tolerance_hz is not None:
            return _greatest(off), least_greatest(circuits, reach, at, hz, np.ones(len(hz)), values)
        relative = least_greatest(circuits, reach, at, hz, 1 / hz, values)
        return _loss_db(circuit, _greatest(off / hz)), _loss_db(circuit, relative)

    def _values(self, circuit: TunedCircuit) -> Vector:
        """What coil, trimmers together and padder are worth now: a good place to begin looking for better."""
        places = self._set.positions()
        trims = [float(trimmer_capacitance(row, places.get(row.screw, 0.0))) for row in circuit.trimmers]
        series = [] if circuit.padder is None else [circuit.padder]
        padders = [float(trimmer_capacitance(row, places.get(row.screw, 0.0))) for row in series]
        return np.array([float(inductance(circuit.coil, places.get(circuit.coil.screw, 0.0))), sum(trims), *padders])


def _loss_db(circuit: TunedCircuit, relative: float) -> float:
    return 10 * math.log10(1 + (2 * circuit.coil.quality * relative) ** 2)


def _tolerance(step: TrackingStep) -> float:
    return step.tolerance_hz if step.tolerance_hz is not None else step.tolerance_db or 0.3


def _greatest(errors: Vector) -> float:
    return math.inf if np.isnan(errors).any() else float(np.max(np.abs(errors)))


def least_greatest(
    circuits: Electrical,
    circuit: TunedCircuit,
    at: Vector,
    wanted_hz: Vector,
    weight: Vector,
    start: Vector | None = None,
) -> float:
    """The least greatest weighted error [Hz times weight] that the circuit's own adjusters can reach.

    Gauss-Newton on the minimax problem: each round solves the linear one exactly (linear programming) within the
    adjusters' limits. The values of coil, trimmers together and padder are turned, not their screws: so stops are
    plain bounds, and a core that peaks twice has one value.
    """
    element = np.asarray(circuits.element(circuit, at))
    low, high = _limits(circuit)
    value = (low + high) / 2 if start is None else np.clip(start, low, high)
    best = math.inf

    def errors(values: Vector) -> Vector:
        series = values[2] if circuit.padder is not None else None
        return np.asarray(resonance_hz(circuit, values[0], values[1], series, element) - wanted_hz) * weight

    for _ in range(8):
        here = errors(value)
        found = float(np.max(np.abs(here)))
        if best * 0.998 < found <= best or found < 1e-9 * float(np.max(np.abs(wanted_hz * weight))):
            best = min(best, found)
            break
        best = min(best, found)
        value = _improved(errors, value, here, (low, high))
    return best


def _limits(circuit: TunedCircuit) -> tuple[Vector, Vector]:
    coil = np.asarray(inductance(circuit.coil, np.linspace(0.0, circuit.coil.travel, 129)))
    rows: list[Trimmer] = [circuit.padder] if circuit.padder is not None else []
    trim = (sum(row.low for row in circuit.trimmers), sum(row.high for row in circuit.trimmers))
    low = [float(coil.min()), trim[0], *(row.low for row in rows)]
    high = [float(coil.max()), trim[1], *(row.high for row in rows)]
    return np.array(low), np.array(high)


def _improved(errors: Callable[[Vector], Vector], value: Vector, here: Vector, limits: tuple[Vector, Vector]) -> Vector:
    low, high = limits
    span = np.where(high > low, high - low, 1.0)
    step = 1e-5
    slopes = np.column_stack([(errors(value + step * span * unit) - here) / step for unit in np.eye(len(value))])
    found = balanced(here, slopes, (low - value) / span, (high - value) / span)
    return value if found is None else value + found * span
