"""What a plan stands on: the tuning element at every place of a band, and the oscillator that its points ask for.

Four grounds, best first: a curve (of the varactor by volts, of the gang by dial); the gang's range, its ends taken for
the band's ends; nothing at all, and then one circuit's whole capacitance in mid-band is the unit of all others.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from aligner.circuits.nominal import (
    Nominal,
    Scale,
    Spot,
    best_on_scale,
    circuit_through,
    even_places_hz,
    nominal_circuit,
)
from aligner.circuits.reals import Array
from aligner.circuits.superhet import capacitance_ratio, oscillator_hz
from aligner.circuits.tables import TableLaw, varactor_law
from aligner.circuits.tank import TunedCircuit, capacitance_for_f
from aligner.procedure.model import Band, Circuit, CoveragePoint, CoverageStep, Place, Procedure, TrackingStep

if TYPE_CHECKING:
    from aligner.circuits.solve import Part

UNIT_F = 100e-12
"""Stands for a whole capacitance that is not known; only ratios to it are ever shown."""
_PLACES = 121
_CUT = (
    "No padder is described. On so wide a band equal gang sections cannot follow: either the oscillator's section is "
    'cut to a law of its own, as the advice will take it, or there is a padder to be described, does = "series".'
)
_WIDE_BAND = 1.5  # of the frequencies received: from here on equal gang sections need a padder to follow


@dataclass(frozen=True)
class Ground:
    """One band of a procedure with its oscillator set, and the tuning element [F] at places of the scale [Hz].

    reference: whose whole capacitance in mid-band, unit_f [F], is the unit where values are not known.
    """

    procedure: Procedure
    band: Band
    oscillator: Circuit | None
    signals: tuple[Circuit, ...]
    coverage: CoverageStep | None
    absolute: bool
    values_from: str
    reference: str
    unit_f: float
    set_to: TunedCircuit
    coverage_error_hz: float  # the greatest that is left at the coverage points
    scale: Scale
    places_hz: Array
    tuning_f: Array
    warnings: tuple[str, ...]
    cut: bool = False  # the oscillator's section of the gang must have a law of its own, which nobody has told

    def stands_hz(self, received_hz: float) -> float:
        """Where the oscillator stands when a frequency is received [Hz]."""
        return oscillator_hz(received_hz, self.procedure.intermediate_hz, self.procedure.oscillator)

    def spot(self, received_hz: float) -> Spot:
        """The tuning element where a frequency is truly received, and that frequency: a signal circuit's target."""
        return float(self.set_to.tuning_for_f(self.stands_hz(received_hz))), received_hz


def parts_of(procedure: Procedure, circuit: Circuit, does: str) -> tuple[str, ...]:
    """Ids of a circuit's adjusters that do one thing."""
    return tuple(a for a in circuit.adjusters if procedure.adjuster(a).does == does)


def padded(procedure: Procedure, circuit: Circuit | None) -> bool:
    """Whether a circuit has a padder, to be set or fixed."""
    return circuit is not None and (circuit.padder_f is not None or bool(parts_of(procedure, circuit, "series")))


def in_band(circuit: Circuit, band: Band) -> bool:
    """Whether a circuit works on a band."""
    return not circuit.bands or band.id in circuit.bands


def tracking_step(procedure: Procedure, circuit: Circuit, band: Band) -> TrackingStep | None:
    """The first step that sets a signal circuit on a band."""
    for step in procedure.steps:
        if isinstance(step, TrackingStep) and step.circuit == circuit.id and procedure.band_of(step.band) == band:
            return step
    return None


def ground_of(procedure: Procedure, band: Band) -> Ground:
    """The ground of a band; CircuitError where the values given contradict one another."""
    here = [c for c in procedure.circuits if in_band(c, band)]
    oscillator = next((c for c in here if c.role == "oscillator"), None)
    signals = tuple(c for c in here if c.role == "signal")
    coverage = next(
        (s for s in procedure.steps if isinstance(s, CoverageStep) and procedure.band_of(s.band) == band), None
    )
    rough = _Rough(procedure, band, oscillator, signals, coverage)
    return rough.by_voltage() if procedure.tuning.by == "voltage" else rough.by_gang()


@dataclass(frozen=True)
class _Rough:
    """What stands in the procedure, before anything is worked out."""

    procedure: Procedure
    band: Band
    oscillator: Circuit | None
    signals: tuple[Circuit, ...]
    coverage: CoverageStep | None

    @property
    def apart_hz(self) -> float:
        return self._stands(0.0)

    def _stands(self, received_hz: float) -> float:
        return oscillator_hz(received_hz, self.procedure.intermediate_hz, self.procedure.oscillator)

    def _points(self) -> tuple[CoveragePoint, ...]:
        """The step's points, or the band's ends where there is no such step."""
        if self.coverage:
            return self.coverage.points
        return CoveragePoint(Place(end="low"), self.band.low_hz), CoveragePoint(Place(end="high"), self.band.high_hz)

    def by_voltage(self) -> Ground:
        """A varactor's curve with two points of known voltage; else the oscillator is the unit."""
        tuning, warnings = self.procedure.tuning, []
        located = [(volts, p.received_hz) for p in self._points() if (volts := self._volts(p.place)) is not None]
        if len(located) < 2 and tuning.span:
            located = [(tuning.span[0], self.band.low_hz), (tuning.span[1], self.band.high_hz)]
            if tuning.curve:
                warnings.append(
                    "The ends of the band are taken to lie at the ends of the tuning voltage; a coverage point with "
                    "volts = ... would tell."
                )
        if tuning.curve and len(located) >= 2:
            law = varactor_law(tuning.curve)
            spots = [(float(law.capacitance_f(volts)), self._stands(hz)) for volts, hz in located]
            found = nominal_circuit(TunedCircuit(1.0, 0.0), tuple(spots), ("inductance", "trimmer"), "hz")
            return self._ground(found, "the diode's curve and the coverage points", "", UNIT_F, None, warnings)
        middle = self._stands(math.sqrt(self.band.low_hz * self.band.high_hz))
        unit = Nominal(TunedCircuit(capacitance_for_f(middle, UNIT_F), 0.0), ())
        return self._ground(unit, "", "the oscillator", UNIT_F, None, [])

    def _volts(self, place: Place) -> float | None:
        span = self.procedure.tuning.span
        if place.end and span:
            return span[0] if place.end == "low" else span[1]
        return place.volts

    def by_gang(self) -> Ground:
        """The gang's own table, or the circuit without padder for which the scale was drawn."""
        tuning = self.procedure.tuning
        if len(tuning.curve) >= 2:
            law = TableLaw(tuning.curve)
            found = self._set_oscillator(lambda hz: float(law.capacitance_f(hz)), 0.0)
            return self._ground(found, "the gang's curve and the coverage points", "", UNIT_F, law.capacitance_f, [])
        by_oscillator = any(padded(self.procedure, c) for c in self.signals)
        ends = self.band.low_hz, self.band.high_hz
        scale = (self._stands(ends[0]), self._stands(ends[1])) if by_oscillator else ends
        span = tuning.span or (UNIT_F, UNIT_F * capacitance_ratio(*scale))
        reference = circuit_through((span[1], scale[0]), (span[0], scale[1]))
        middle = self._stands(math.sqrt(ends[0] * ends[1])) if by_oscillator else math.sqrt(ends[0] * ends[1])
        unit_f = float(capacitance_for_f(middle, reference.inductance_h))
        apart = self.apart_hz if by_oscillator else 0.0

        def tuning_f(hz: Array) -> Array:
            return reference.tuning_for_f(hz + apart)

        found = self._set_oscillator(lambda hz: float(reference.tuning_for_f(hz + apart)), reference.trimmer_f)
        name = "the oscillator" if by_oscillator else "the signal circuit"
        source = "the gang's range, its ends taken for the band's ends" if tuning.span else ""
        ground = self._ground(found, source, name, unit_f, tuning_f, [_CUT] if self._is_cut() else [])
        by_signal = not by_oscillator and self.procedure.oscillator == "above"
        return replace(ground, scale="signal" if by_signal else "received", cut=self._is_cut())

    def _set_oscillator(self, tuning_f: Callable[[float], float], strays_f: float) -> Nominal:
        """Coil, trimmer and padder that bring the oscillator to its points."""
        targets = [(point.place.dial or point.received_hz, point.received_hz) for point in self._points()]
        has_padder = padded(self.procedure, self.oscillator) and len(targets) > 1
        has_trimmer = self.oscillator is not None and bool(parts_of(self.procedure, self.oscillator, "parallel"))
        if has_padder and has_trimmer and len(targets) == 2:
            targets = sorted([*targets, (self._third_point(),) * 2])
        free: tuple[Part, ...] = ("inductance", "padder") if len(targets) < 3 else ("inductance", "padder", "trimmer")
        across = self.oscillator.trimmer_across if self.oscillator else "coil"
        shape = TunedCircuit(1.0, strays_f, UNIT_F if has_padder else None, across)
        spots = tuple((tuning_f(dial_hz), self._stands(received_hz)) for dial_hz, received_hz in targets)
        return nominal_circuit(shape, spots, free, "hz")

    def _third_point(self) -> float:
        """Two points leave one of three values open: the middle one of the best three points settles it."""
        ends = self.band.low_hz, self.band.high_hz
        return best_on_scale(
            ends, self.procedure.intermediate_hz, self.procedure.oscillator, "padded", "relative", "received"
        ).points_hz[1]

    def _is_cut(self) -> bool:
        any_padder = any(padded(self.procedure, c) for c in (self.oscillator, *self.signals))
        return not any_padder and self.band.high_hz / self.band.low_hz >= _WIDE_BAND

    def _ground(
        self,
        found: Nominal,
        source: str,
        reference: str,
        unit_f: float,
        tuning_f: Callable[[Array], Array] | None,
        warnings: list[str],
    ) -> Ground:
        low, high = self.band.low_hz, self.band.high_hz
        curve = self.procedure.tuning.curve
        if curve and self.procedure.tuning.by == "gang":
            if not curve[0][0] <= low < high <= curve[-1][0]:
                warnings = [*warnings, "The gang's curve does not reach over the band: errors are shown where it does."]
            low, high = max(low, curve[0][0]), min(high, curve[-1][0])
        places = even_places_hz(low, high, _PLACES)
        tuned = tuning_f(places) if tuning_f else found.circuit.tuning_for_f(places + self.apart_hz)
        return Ground(
            self.procedure,
            self.band,
            self.oscillator,
            self.signals,
            self.coverage,
            absolute=bool(source),
            values_from=source,
            reference=reference,
            unit_f=unit_f,
            set_to=found.circuit,
            coverage_error_hz=max((abs(error) for error in found.error_hz), default=0.0),
            scale="received",
            places_hz=places,
            tuning_f=tuned,
            warnings=tuple(warnings),
        )
