"""The set as its maker designed it, from what a procedure says; what it leaves open is invented so that it can align.

Nothing is drawn here: `draw` takes this design and makes it real.
"""

import math
from dataclasses import dataclass
from typing import Literal

import msgspec
import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from aligner.errors import UsageError
from aligner.procedure.model import Adjuster, Circuit, CoverageStep, Procedure
from aligner.rehearsal.design_parts import coil_for, padder_for, preset_for, screws_for, trimmer_for
from aligner.rehearsal.electrical import crossing, resonance_hz
from aligner.rehearsal.laws import Numbers, diode_capacitance, gang_capacitance, self_capacitance
from aligner.rehearsal.parts import Diode, GangLaw, Parts, Section, TunedCircuit
from aligner.rehearsal.population import Fixed

_MARGIN = 0.03  # a gang covers so much more than the band at each end: three-point tracking bends away there
Vector = npt.NDArray[np.float64]
_PLAIN = Section(1.0, 0.0, (0.0, 0.0, 0.0))


@dataclass(frozen=True)
class Element:
    """The tuning element of the design and where its ends are ([V] or shaft)."""

    ends: tuple[float, float]
    reach: tuple[float, float]
    diode: Diode | None = None
    gang: GangLaw | None = None

    def farad(self, tuning: Numbers) -> Numbers:
        """Capacitance [F] at positions of the tuning."""
        if self.diode is not None:
            return diode_capacitance(self.diode, tuning)
        assert self.gang is not None  # noqa: S101 - one of the two is always there
        return gang_capacitance(self.gang, _PLAIN, tuning)


@dataclass(frozen=True)
class Designed:
    """A circuit and the values its adjusters have in the design: inductance [H], all trimmers [F], padder [F]."""

    circuit: TunedCircuit
    henry: float
    trim: float
    series: float | None

    def hertz(self, element_f: Numbers) -> Numbers:
        """Resonance [Hz] of the design with that much at the tuning element [F]."""
        return resonance_hz(self.circuit, self.henry, self.trim, self.series, element_f)

    @property
    def extra(self) -> float:
        """Everything [F] parallel to the tuning element, where there is no padder."""
        coil = self_capacitance(self.circuit.coil, self.henry)
        return self.trim + self.circuit.stray + self.circuit.coil_stray + float(coil)


def design(procedure: Procedure, fixed: Fixed) -> Parts:
    """The nominal set."""
    chosen, henry = _designed(procedure, fixed, 1.0)
    leader = next(row for row in procedure.circuits if row.role == "oscillator")
    adjuster = _doing(procedure, leader, "inductance")
    if procedure.tuning.curve or (procedure.tuning.span and procedure.tuning.by == "gang") or not adjuster:
        return chosen
    if adjuster[0].travel is None:
        return chosen
    wanted = math.sqrt(adjuster[0].travel[0] * adjuster[0].travel[1])
    return _designed(procedure, fixed, henry / wanted)[0]


def _designed(procedure: Procedure, fixed: Fixed, scale: float) -> tuple[Parts, float]:
    """The set and its oscillator's inductance [H], with all capacitances of the tuning scaled."""
    element = _element(procedure, scale)
    worked = [row for row in procedure.circuits if row.role in ("oscillator", "signal")]
    plain = [row for row in worked if not _doing(procedure, row, "series")]
    reference = next((row for row in plain if row.role == "signal"), plain[0] if plain else worked[0])
    guide = _plain_circuit(procedure, fixed, reference, element, _anchors(procedure, reference, element))
    designed = [
        guide if row.id == reference.id else _following(procedure, fixed, row, element, guide) for row in worked
    ]
    circuits = tuple(row.circuit for row in designed)
    leader = next(row for row in designed if row.circuit.role == "oscillator")
    parts = Parts(
        circuits=circuits,
        screws=screws_for(procedure, fixed, circuits),
        tuning=element.reach,
        ends=element.ends,
        dial=_dial(procedure, leader, element),
        intermediate=procedure.intermediate_hz,
        side=_side(procedure),
        gang=element.gang,
        presets=tuple(preset_for(fixed, adjuster, sets) for adjuster, sets in procedure.tuning.presets),
        settle_s=fixed.oscillator.settle_s,
    )
    return parts, leader.henry


def _side(procedure: Procedure) -> Literal[1, -1]:
    return 1 if procedure.oscillator == "above" else -1


def _band(procedure: Procedure, circuit: Circuit) -> tuple[float, float]:
    band = procedure.band_of(circuit.bands[0] if circuit.bands else "")
    return band.low_hz, band.high_hz


def _doing(procedure: Procedure, circuit: Circuit, does: str) -> tuple[Adjuster, ...]:
    rows = (procedure.adjuster(name) for name in circuit.adjusters)
    return tuple(row for row in rows if row.does == does)


def _element(procedure: Procedure, scale: float) -> Element:
    low, high = _band(procedure, procedure.circuits[0])
    if procedure.tuning.by == "voltage":
        return _diode_element(procedure, scale, (high / low) ** 2, high)
    ratio = (high * (1 + _MARGIN) / (low * (1 - _MARGIN))) ** 2
    return Element((0.0, 1.0), (0.0, 1.0), gang=_gang_law(procedure, scale, ratio, (low, high)))


def _gang_law(procedure: Procedure, scale: float, ratio: float, band: tuple[float, float]) -> GangLaw:
    tuning = procedure.tuning
    if tuning.curve:
        share = _MARGIN * 2
        rows = tuple(
            (share + (1 - 2 * share) * (hz - band[0]) / (band[1] - band[0]), farad) for hz, farad in tuning.curve
        )
        return GangLaw(min(row[1] for row in rows), max(row[1] for row in rows), 0.0, 0.0, rows)
    least = (12e-12 if band[1] < 5e6 else 6e-12) * scale
    span = tuning.span or (least, least * (ratio + 3.0 * (ratio - 1)))
    blend = {"straight-capacitance": 0.0, "straight-frequency": 1.0, None: 0.6}[tuning.law]
    return GangLaw(min(span), max(span), 3.0 * min(span), blend)


def _volts(procedure: Procedure) -> tuple[float, float]:
    if procedure.tuning.span:
        return procedure.tuning.span
    rows = [point.place.volts for step in procedure.steps if isinstance(step, CoverageStep) for point in step.points]
    known = [volts for volts in rows if volts is not None]
    return (min(known), max(known)) if len(known) > 1 else (2.0, 8.0)


def _diode_element(procedure: Procedure, scale: float, ratio: float, high_hz: float) -> Element:
    low, high = _volts(procedure)
    reach = (max(0.3, 0.7 * low), 1.25 * high)
    if procedure.tuning.curve:
        return Element((low, high), reach, _fitted(procedure.tuning.curve))
    potential = 0.7
    exponent = math.log(ratio + 1.1 * (ratio - 1)) / math.log((potential + high) / (potential + low))
    least = 9e-12 * (108e6 / high_hz) ** 0.25 * scale
    junction = least * (1 + high / potential) ** exponent
    diode = Diode(junction, potential, exponent, 0.03 * least, 60 * least, 0.0)
    return Element((low, high), reach, diode)


def _fitted(curve: tuple[tuple[float, float], ...]) -> Diode:
    """A diode through a table of (V, F); the rest of the misfit is what tables and diodes differ by anyway."""
    volts, farad = np.array(curve).T

    def diode(guess: Vector) -> Diode:
        return Diode(math.exp(guess[0]), 0.7, math.exp(guess[1]), 0.0, 0.0, 0.0)

    def misfit(guess: Vector) -> Vector:
        return np.asarray(np.log(diode_capacitance(diode(guess), volts) / farad))

    return diode(least_squares(misfit, [math.log(farad[0] * 2), math.log(0.5)]).x)


def _anchors(procedure: Procedure, circuit: Circuit, element: Element) -> list[tuple[float, float]]:
    """Where (tuning, received Hz) the reference circuit is meant to be."""
    low, high = _band(procedure, circuit)
    if element.gang is None:
        rows = [
            (point.place.volts, point.received_hz)
            for step in procedure.steps
            if isinstance(step, CoverageStep)
            for point in step.points
            if point.place.volts is not None
        ]
        return sorted(rows)[:: len(rows) - 1] if len(rows) > 1 else [(element.ends[0], low), (element.ends[1], high)]
    if element.gang.rows:
        curve = sorted(procedure.tuning.curve)
        shafts = [row[0] for row in sorted(element.gang.rows)]
        return [(shafts[0], curve[0][0]), (shafts[-1], curve[-1][0])]
    return [(0.0, low * (1 - _MARGIN)), (1.0, high * (1 + _MARGIN))]


def _plain_circuit(
    procedure: Procedure, fixed: Fixed, circuit: Circuit, element: Element, anchors: list[tuple[float, float]]
) -> Designed:
    """A circuit with coil and parallel capacitance only, right at two anchors (tuning, received Hz)."""
    shift = _side(procedure) * procedure.intermediate_hz if circuit.role == "oscillator" else 0.0
    (at_low, low), (at_high, high) = anchors[0], anchors[-1]
    most, least = float(element.farad(at_low)), float(element.farad(at_high))
    ratio = ((high + shift) / (low + shift)) ** 2
    extra = (most - ratio * least) / (ratio - 1)
    if extra <= 0:
        raise UsageError(f"{circuit.id}: the tuning given changes the capacitance too little for the band; widen it")
    henry = 1 / ((2 * math.pi * (low + shift)) ** 2 * (most + extra))
    return _assembled(procedure, fixed, circuit, element, (henry, extra, None))


def _assembled(
    procedure: Procedure,
    fixed: Fixed,
    circuit: Circuit,
    element: Element,
    nominal: tuple[float, float, float | None],
    behind: float = 0.0,
) -> Designed:
    """Parts for inductance [H], parallel capacitance [F] and padder [F] or None; `behind` [F] is on its far side."""
    henry, extra, series = nominal
    own = 0.15 * extra if series is None else 0.6 * behind
    free = extra - own if series is None else extra
    trimmers = _doing(procedure, circuit, "parallel")
    trim = _trim(trimmers, free)
    on_coil = circuit.trimmer_across == "coil" and series is not None
    oscillator = circuit.role == "oscillator"
    padder = _doing(procedure, circuit, "series")
    made = TunedCircuit(
        id=circuit.id,
        role="oscillator" if oscillator else "signal",
        bands=circuit.bands,
        coil=coil_for(procedure, fixed, circuit, henry, own),
        trimmers=tuple(trimmer_for(fixed, row, trim / len(trimmers)) for row in trimmers),
        trimmer_across=circuit.trimmer_across,
        stray=0.0 if on_coil else free - trim,
        coil_stray=0.4 * behind + (free - trim if on_coil else 0.0),
        padder=padder_for(fixed, padder[0], series) if series is not None else None,
        diode=_swung(element.diode, fixed.oscillator.swing_v if oscillator else 0.0),
        section=None if element.gang is None else _PLAIN,
    )
    return Designed(made, henry, trim, series)


def _trim(trimmers: tuple[Adjuster, ...], free: float) -> float:
    """What the trimmers give of what is free [F]: a little over half, or the middle of their travel if that fits."""
    if not trimmers:
        return 0.0
    given = sum(sum(row.travel) / 2 if row.travel else 0.53 * free / len(trimmers) for row in trimmers)
    return min(given, 0.95 * free)


def _swung(diode: Diode | None, swing: float) -> Diode | None:
    return None if diode is None else msgspec.structs.replace(diode, swing=swing)


def _following(procedure: Procedure, fixed: Fixed, circuit: Circuit, element: Element, guide: Designed) -> Designed:
    """A circuit that is right, as far as its adjusters go, where the guide circuit is at its own frequencies."""
    places = _places(procedure, circuit, element, guide)
    if not _doing(procedure, circuit, "series"):
        return _plain_circuit(procedure, fixed, circuit, element, [places[0], places[-1]])
    shift = _side(procedure) * procedure.intermediate_hz if circuit.role == "oscillator" else 0.0
    farad = np.asarray(element.farad(np.array([row[0] for row in places])))
    wanted = np.array([row[1] for row in places]) + shift

    def made(guess: Vector) -> Designed:
        series = float(farad[0]) * math.exp(guess[2])
        nominal = (guide.henry * math.exp(guess[0]), guide.extra * math.exp(guess[1]), series)
        return _assembled(procedure, fixed, circuit, element, nominal, 0.2 * guide.extra)

    def misfit(guess: Vector) -> Vector:
        return np.asarray(np.log(made(guess).hertz(farad) / wanted))

    found = least_squares(misfit, [-0.6, 0.0, 0.3])
    if np.max(np.abs(found.fun)) > 1e-4:
        raise UsageError(f"{circuit.id}: no coil, trimmer and padder make this circuit track; check band, IF and side")
    return made(found.x)


def _places(procedure: Procedure, circuit: Circuit, element: Element, guide: Designed) -> list[tuple[float, float]]:
    """Where (tuning, received Hz) a circuit shall be right: at the coverage points, or spread over its band."""
    low, high = _band(procedure, circuit)
    points = [
        point
        for step in procedure.steps
        if isinstance(step, CoverageStep) and (circuit.role == "signal" or step.circuit == circuit.id)
        for point in step.points
    ]
    received = sorted({point.received_hz for point in points})
    if len(received) < (3 if _doing(procedure, circuit, "series") else 2):
        received = [(low + high) / 2 + share * (high - low) / 2 for share in (-0.87, 0.0, 0.87)]
    volts = {point.received_hz: point.place.volts for point in points}
    shift = _side(procedure) * procedure.intermediate_hz if guide.circuit.role == "oscillator" else 0.0
    chosen = (received[0], received[len(received) // 2], received[-1])
    return [(volts.get(hz) or _tuned(guide, element, hz + shift), hz) for hz in chosen]


def _tuned(designed: Designed, element: Element, hz: float) -> float:
    """The position of the tuning at which a circuit of the design resonates at `hz`."""
    at = crossing(lambda x: designed.hertz(element.farad(x)), *element.reach, hz, sum(element.ends) / 2)
    if at is None:
        raise UsageError(f"{designed.circuit.id}: {hz:.0f} Hz is outside what the tuning can reach; check its range")
    return at


def _dial(procedure: Procedure, leader: Designed, element: Element) -> tuple[tuple[float, float], ...]:
    """The printed scale: the position of the tuning at which the design's oscillator receives each frequency."""
    band = procedure.bands[0]
    shift = _side(procedure) * procedure.intermediate_hz
    return tuple(
        (float(hz), _tuned(leader, element, float(hz) + shift)) for hz in np.linspace(band.low_hz, band.high_hz, 33)
    )
