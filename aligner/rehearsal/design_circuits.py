"""The circuits of the design: coils, trimmers, padders and cut sections that track as far as their kind can."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import msgspec
import numpy as np
from scipy.optimize import least_squares

from aligner.errors import UsageError
from aligner.procedure.model import Adjuster, Band, Circuit, CoveragePoint, CoverageStep, Procedure
from aligner.rehearsal.design_element import MARGIN, PLAIN, Element, Vector, widest
from aligner.rehearsal.design_parts import coil_for, fixed_padder, padder_for, side_of, trimmer_for
from aligner.rehearsal.electrical import crossing, resonance_hz
from aligner.rehearsal.laws import Numbers, self_capacitance
from aligner.rehearsal.parts import Diode, Section, Trimmer, TunedCircuit
from aligner.rehearsal.population import Fixed

_CUT_FROM = 0.3  # an IF of so much of the low end or more: without a padder the oscillator's plates must be cut
_ROWS = 25
_PADDED_OFF = 0.01  # [ln Hz] at the worst of three places: more would be another set's padder


@dataclass(frozen=True)
class Designed:
    """A circuit and the values its adjusters have in the design: inductance [H], all trimmers [F], padder [F]."""

    circuit: TunedCircuit
    henry: float
    trim: float
    series: float | None

    @property
    def section(self) -> Section:
        """Its section of the gang."""
        return self.circuit.section or PLAIN

    def hertz(self, element_f: Numbers) -> Numbers:
        """Resonance [Hz] of the design with that much at the tuning element [F]."""
        return resonance_hz(self.circuit, self.henry, self.trim, self.series, element_f)

    @property
    def extra(self) -> float:
        """Everything [F] parallel to the tuning element, where there is no padder."""
        coil = self_capacitance(self.circuit.coil, self.henry)
        return self.trim + self.circuit.stray + self.circuit.coil_stray + float(coil)


@dataclass(frozen=True)
class Nominal:
    """Values of a circuit to be: inductance [H], parallel capacitance [F], padder [F], and what lies behind it [F]."""

    henry: float
    extra: float
    series: float | None = None
    behind: float = 0.0
    section: Section = PLAIN


@dataclass(frozen=True)
class Maker:
    """Makes the circuits of one band; `shared` are trimmers that a band before has already, by screw."""

    procedure: Procedure
    fixed: Fixed
    element: Element
    band: Band
    shared: Mapping[str, Trimmer]

    def doing(self, circuit: Circuit, does: str) -> tuple[Adjuster, ...]:
        """The circuit's adjusters of one kind."""
        rows = (self.procedure.adjuster(name) for name in circuit.adjusters)
        return tuple(row for row in rows if row.does == does)

    def padded(self, circuit: Circuit) -> bool:
        """Whether a padder, to be turned or fixed, lies in series with the tuning."""
        return bool(self.doing(circuit, "series")) or circuit.padder_f is not None

    def _shift(self, *, oscillator: bool) -> float:
        return side_of(self.procedure) * self.procedure.intermediate_hz if oscillator else 0.0

    def anchors(self) -> list[tuple[float, float]]:
        """Where (tuning, received Hz) the reference circuit is meant to be."""
        low, high = self.band.low_hz, self.band.high_hz
        element = self.element
        if element.gang is None:
            rows = [(point.place.volts, point.received_hz) for point in self._points() if point.place.volts is not None]
            usual = [(element.ends[0], low), (element.ends[1], high)]
            return sorted(rows)[:: len(rows) - 1] if len(rows) > 1 else usual
        if element.gang.rows and self.band == widest(self.procedure):
            curve = sorted(self.procedure.tuning.curve)
            shafts = [row[0] for row in sorted(element.gang.rows)]
            return [(shafts[0], curve[0][0]), (shafts[-1], curve[-1][0])]
        return [(0.0, low * (1 - MARGIN)), (1.0, high * (1 + MARGIN))]

    def _points(self, circuit: str = "") -> list[CoveragePoint]:
        """The coverage points of this band, or of one oscillator."""
        return [
            point
            for step in self.procedure.steps
            if isinstance(step, CoverageStep)
            and self.procedure.band_of(step.band) == self.band
            and circuit in ("", step.circuit)
            for point in step.points
        ]

    def plain(self, circuit: Circuit, anchors: list[tuple[float, float]]) -> Designed:
        """A circuit with coil and parallel capacitance only, right at two anchors (tuning, received Hz)."""
        shift = self._shift(oscillator=circuit.role == "oscillator")
        (at_low, low), (at_high, high) = anchors[0], anchors[-1]
        most, least = float(self.element.farad(at_low)), float(self.element.farad(at_high))
        ratio = ((high + shift) / (low + shift)) ** 2
        extra = (most - ratio * least) / (ratio - 1)
        if extra <= 0:
            raise UsageError(
                f"{circuit.id}: the tuning given changes the capacitance too little for the band; widen it"
            )
        henry = 1 / ((2 * math.pi * (low + shift)) ** 2 * (most + extra))
        return self.assembled(circuit, Nominal(henry, extra))

    def assembled(self, circuit: Circuit, nominal: Nominal) -> Designed:
        """Parts for nominal values."""
        henry, extra, series, behind = nominal.henry, nominal.extra, nominal.series, nominal.behind
        own = 0.15 * extra if series is None else 0.6 * behind
        free = extra - own if series is None else extra
        trim, trimmers = self._trimmers(self.doing(circuit, "parallel"), free)
        on_coil = circuit.trimmer_across == "coil" and series is not None
        oscillator = circuit.role == "oscillator"
        made = TunedCircuit(
            id=circuit.id,
            role="oscillator" if oscillator else "signal",
            bands=circuit.bands,
            coil=coil_for(self.procedure, self.fixed, circuit, henry, own),
            trimmers=trimmers,
            trimmer_across=circuit.trimmer_across,
            stray=0.0 if on_coil else free - trim,
            coil_stray=0.4 * behind + (free - trim if on_coil else 0.0),
            padder=self._padder(circuit, series),
            diode=_swung(self.element.diode, self.fixed.oscillator.swing_v if oscillator else 0.0),
            section=None if self.element.gang is None else nominal.section,
        )
        return Designed(made, henry, trim, series)

    def _trimmers(self, rows: tuple[Adjuster, ...], free: float) -> tuple[float, tuple[Trimmer, ...]]:
        """What the trimmers give together of what is free [F], and they themselves.

        They give a little over half, or the middle of their travel if that fits; shared ones are what they are.
        """
        there = [self.shared[row.id] for row in rows if row.id in self.shared]
        own = [row for row in rows if row.id not in self.shared]
        taken = sum((row.low + row.high) / 2 for row in there)
        if not rows:
            return 0.0, ()
        left = free - taken
        given = sum(sum(row.travel) / 2 if row.travel else 0.53 * left / len(own) for row in own)
        trim = min(taken + given, 0.95 * free)
        made = {row.id: trimmer_for(self.fixed, row, (trim - taken) / len(own)) for row in own}
        return trim, tuple(made.get(row.id) or self.shared[row.id] for row in rows)

    def _padder(self, circuit: Circuit, series: float | None) -> Trimmer | None:
        if series is None:
            return None
        turned = self.doing(circuit, "series")
        return padder_for(self.fixed, turned[0], series) if turned else fixed_padder(series)

    def following(self, circuit: Circuit, guide: Designed) -> Designed:
        """A circuit that is right, as far as its adjusters go, where the guide circuit is at its own frequencies."""
        places = self._places(circuit, guide)
        if self.padded(circuit):
            return self._behind_padder(circuit, guide, places)
        if circuit.role == "oscillator" and self._is_cut(circuit):
            return self._cut(circuit, guide)
        return self.plain(circuit, [places[0], places[-1]])

    def _is_cut(self, circuit: Circuit) -> bool:
        usual = self.procedure.intermediate_hz > _CUT_FROM * self.band.low_hz
        return self.element.gang is not None and (usual if circuit.section is None else circuit.section == "cut")

    def _cut(self, circuit: Circuit, guide: Designed) -> Designed:
        """An oscillator whose plates are cut so that it stands one IF from the guide at every position."""
        shift = self._shift(oscillator=True)
        shaft = np.linspace(0.0, 1.0, _ROWS)
        wanted = np.asarray(guide.hertz(self.element.farad(shaft))) + shift
        least = float(self.element.farad(1.0))
        henry = 1 / ((2 * math.pi * wanted[-1]) ** 2 * (least + guide.extra))
        farad = 1 / ((2 * math.pi * wanted) ** 2 * henry) - guide.extra
        rows = tuple((float(x), float(c)) for x, c in zip(shaft, farad, strict=True))
        return self.assembled(circuit, Nominal(henry, guide.extra, section=Section(1.0, 0.0, (0.0, 0.0, 0.0), rows)))

    def _behind_padder(self, circuit: Circuit, guide: Designed, places: list[tuple[float, float]]) -> Designed:
        farad = np.asarray(self.element.farad(np.array([row[0] for row in places])))
        wanted = np.array([row[1] for row in places]) + self._shift(oscillator=circuit.role == "oscillator")

        def made(guess: Vector) -> Designed:
            series = float(farad[0]) * math.exp(guess[2])
            henry, extra = guide.henry * math.exp(guess[0]), guide.extra * math.exp(guess[1])
            return self.assembled(circuit, Nominal(henry, extra, series, 0.2 * guide.extra))

        def misfit(guess: Vector) -> Vector:
            return np.asarray(np.log(made(guess).hertz(farad) / wanted))

        found = least_squares(misfit, [-0.6, 0.0, 0.3])
        if np.max(np.abs(found.fun)) > 1e-4:
            raise UsageError(
                f"{circuit.id}: no coil, trimmer and padder make this circuit track; check band, IF and side"
            )
        given = self._given_padder(circuit)
        if given is None:
            return made(found.x)
        fixed = math.log(given / float(farad[0]))

        def misfit_beside(guess: Vector) -> Vector:
            return misfit(np.append(guess, fixed))

        rest = least_squares(misfit_beside, found.x[:2])
        if np.max(np.abs(rest.fun)) > _PADDED_OFF:
            tracks = float(farad[0]) * math.exp(float(found.x[2])) * 1e12
            raise UsageError(
                f"{circuit.id}: with a padder of {given * 1e12:.0f} pF this circuit cannot track; {tracks:.0f} pF "
                "would with the gang that is given: check padder and gang"
            )
        return made(np.append(rest.x, fixed))

    def _given_padder(self, circuit: Circuit) -> float | None:
        """The fixed padder [F] of the procedure; beside an invented gang its value would mean nothing."""
        told = self.procedure.tuning.span or self.procedure.tuning.curve
        return circuit.padder_f if told and not self.doing(circuit, "series") else None

    def _places(self, circuit: Circuit, guide: Designed) -> list[tuple[float, float]]:
        """Where (tuning, received Hz) a circuit shall be right: at the coverage points, or spread over its band."""
        low, high = self.band.low_hz, self.band.high_hz
        points = self._points("" if circuit.role == "signal" else circuit.id)
        received = sorted({point.received_hz for point in points})
        if len(received) < (3 if self.padded(circuit) else 2):
            received = [(low + high) / 2 + share * (high - low) / 2 for share in (-0.87, 0.0, 0.87)]
        volts = {point.received_hz: point.place.volts for point in points}
        shift = self._shift(oscillator=guide.circuit.role == "oscillator")
        chosen = (received[0], received[len(received) // 2], received[-1])
        return [(volts.get(hz) or tuned(guide, self.element, hz + shift), hz) for hz in chosen]


def _swung(diode: Diode | None, swing: float) -> Diode | None:
    return None if diode is None else msgspec.structs.replace(diode, swing=swing)


def tuned(designed: Designed, element: Element, hz: float) -> float:
    """The position of the tuning at which a circuit of the design resonates at `hz`."""
    middle = sum(element.ends) / 2
    at = crossing(lambda x: designed.hertz(element.farad(x, designed.section)), *element.reach, hz, middle)
    if at is None:
        raise UsageError(f"{designed.circuit.id}: {hz:.0f} Hz is outside what the tuning can reach; check its range")
    return at
