"""The scaled frame of a procedure: for each circuit its u(z), F and priors, from band ends and IF alone."""

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from aligner.estimate.ladder import COIL, INNER, OUTER, SERIES, Array
from aligner.estimate.nominal_settings import settings_through
from aligner.procedure.model import Adjuster, Band, Circuit, CoverageStep, Procedure

Law = Callable[[Array], Array]

_WIDE = {COIL: 0.15, INNER: 0.15, OUTER: 0.15, SERIES: 0.12}
"""Prior standard deviations of adjustable settings: a set anywhere from a slip of the core to the wrong coil."""
_PER_TURN = {COIL: (0.05, 0.5), INNER: (0.06, 0.8), OUTER: (0.06, 0.8), SERIES: (0.06, 0.8)}
"""Usual effect of one turn and the spread of its logarithm: cores change a third of L in seven turns (common practice,
no source)."""
_CARRIED_VHF, _CARRIED = (0.03, 0.025), (0.018, 0.015)
"""A coil of 1 to 2 pF in a circuit of some 20 pF, half of which goes with the core; 5 pF in some 120 pF below VHF
(common practice, no source)."""
_VHF_HZ = 30e6
_SWING = 0.006
"""Share by which the oscillator's swing raises its circuit's capacitance at 2 V."""
USUAL_Q = 60.0
"""Loaded Q of a signal circuit where the procedure does not say (common practice, no source)."""
_ANY_Q, _TOLD_Q = 0.3, 0.15
"""Standard deviations of its logarithm, from set to set: what a procedure says is the kind's, and no set's own, for
damping by the stages on both sides differs (common practice, no source)."""
_FIXED_STRAY = 0.03
"""Prior standard deviation of a stray that nobody turns (across the coil of a padded circuit), in mid-band units."""
_CUT_FROM = 0.3
"""An IF of so much of the low end or more: two adjusters could not follow it with plain plates."""
_FIXED_SERIES = 0.03
"""Prior standard deviation of a fixed padder's elastance, in mid-band units: what the start does not know of it."""
_REACH, _REACH_WIDE = 0.5, 0.38
"""Of the tuning's travel over a band: how far a bend of its law reaches; shorter where a band takes the whole travel
of a gang, with the slits of its plates (common practice, no source)."""
_TRAVEL = {"straight-capacitance": 2.0, "straight-frequency": -1.0, None: 1.0}
"""The shaft of a gang runs as this power of 1/z: straight plates as their capacitance, that is as 1/z^2; plates for a
straight scale as z; usual plates lie between (definition of the two laws)."""
_COMMON_LAW_RATIO = 1.5
"""Band ratios below this: plain circuits share one tuning law; above, the oscillator's gang section must be cut."""


@dataclass(frozen=True, slots=True)
class CircuitFrame:
    """One circuit in scaled form.

    f_mid_hz [Hz] is F. start and spread (4,) are the prior of the settings, spread 0 where a setting does not exist.
    bend [1] is the prior standard deviation of the discrepancy in ln y, reach [1] its correlation length in
    (F/z)^travel: the shaft runs as that power [1].
    leader is the oscillator of a circuit that follows one, led_hz [Hz] the places where that was seen: what those leave
    open of where the oscillator makes the other places lie, the circuit's own readings must bridge.
    carried (mean, spread) [1] is the prior of what a coil takes with it: of a rise in ln L, so much is added to the
    setting `carrier`, because a core or closer turns raise the coil's self-capacitance too.
    """

    id: str
    oscillator: bool
    f_mid_hz: float
    low_hz: float
    high_hz: float
    offset_hz: float
    start: tuple[float, float, float, float]
    spread: tuple[float, float, float, float]
    bend: float
    reach: float
    travel: float
    carried: tuple[float, float]
    carrier: int
    law: Law
    q: float
    q_sd: float
    leader: "CircuitFrame | None" = None
    led_hz: tuple[float, ...] = ()

    @property
    def padded(self) -> bool:
        """Whether a padder, or a capacitance across the coil, tells the circuit from one of a coil and a trimmer."""
        return any(self.start[n] != 0.0 or self.spread[n] != 0.0 for n in (OUTER, SERIES))

    def wanted_hz(self, z_hz: Array) -> Array:
        """The frequency [Hz] this circuit should have at the places z_hz [Hz], shape (n,)."""
        return z_hz + self.offset_hz if self.oscillator else z_hz

    def lny(self, f_hz: Array) -> Array:
        """ln (F / f)^2 [1] of frequencies f_hz [Hz], shape (n,)."""
        return -2.0 * np.log(f_hz / self.f_mid_hz)

    def hz(self, lny: Array) -> Array:
        """Frequencies [Hz] of lny [1], shape (n,)."""
        return self.f_mid_hz * np.exp(-0.5 * lny)

    def slope(self, z_hz: Array) -> Array:
        """du/dz [1/Hz] at the places z_hz [Hz], by a central difference, shape (n,)."""
        step = 1e-5 * self.f_mid_hz
        return (self.law(z_hz + step) - self.law(z_hz - step)) / (2.0 * step)


@dataclass(frozen=True, slots=True)
class Handle:
    """What an adjuster turns: its setting in each of its circuits, and the prior of its effect per turn.

    per_turn [1] is the usual size, per_turn_spread [1] that of its logarithm; sense is +1 or -1 where a clockwise turn
    is known to raise or lower the setting, 0 where that is to be learned, and usual_sense what is customary.
    """

    adjuster: Adjuster
    setting: int
    per_turn: float
    per_turn_spread: float
    sense: int
    usual_sense: int


@dataclass(frozen=True, eq=False)
class Frame:
    """All circuits of one band of a procedure at one intermediate frequency; compared by identity (they are cached)."""

    circuits: dict[str, CircuitFrame]
    handles: dict[str, Handle]
    oscillator: str
    intermediate_hz: float
    band: Band


def q_doubt(circuit: Circuit) -> float:
    """Standard deviation of ln Q [1] of a circuit of which nothing was seen."""
    return _TOLD_Q if circuit.q else _ANY_Q


@lru_cache(maxsize=32)
def frame_of(procedure: Procedure, band_id: str, intermediate_hz: float) -> Frame:
    """The frame of one band.

    Parameters
    ----------
    procedure : Procedure
        as read; nothing optional is needed
    band_id : str
        the band, empty for the first
    intermediate_hz : float [Hz]
        the IF as known now [Hz]

    Returns
    -------
    Frame
        scaled circuits and handles
    """
    band = procedure.band_of(band_id)
    offset = intermediate_hz if procedure.oscillator == "above" else -intermediate_hz
    working = [c for c in procedure.circuits if c.role in ("oscillator", "signal") and in_band(c, band)]
    circuits = {c.id: _circuit_frame(procedure, c, band, offset) for c in working}
    oscillator = next((c.id for c in working if c.role == "oscillator"), "")
    handles = {a.id: _handle(procedure, a) for a in _working(procedure, circuits)}
    return Frame(circuits, handles, oscillator, intermediate_hz, band)


@lru_cache(maxsize=64)
def following(frame: "Followed") -> Frame:
    """The frame with its signal circuits on an oscillator that was seen at some places.

    Parameters
    ----------
    frame : Followed
        the frame as its procedure gives it, and the places [Hz]

    Returns
    -------
    Frame
        the same, each signal circuit with its leader and the places [Hz]
    """
    whole = frame.frame
    leader = whole.circuits.get(whole.oscillator)
    if leader is None or whole.band.high_hz / whole.band.low_hz < _COMMON_LAW_RATIO:
        return whole  # with one law for all, the circuits' discrepancies are against the oscillator's own
    circuits = {
        name: circuit if circuit.oscillator else replace(circuit, leader=leader, led_hz=frame.seen_hz)
        for name, circuit in whole.circuits.items()
    }
    return replace(whole, circuits=circuits)


@dataclass(frozen=True, eq=False)
class Followed:
    """A frame and the places [Hz] where its oscillator was seen; frames are compared by identity (they are cached)."""

    frame: Frame
    seen_hz: tuple[float, ...]

    def __hash__(self) -> int:
        return hash((id(self.frame), self.seen_hz))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Followed) and self.frame is other.frame and self.seen_hz == other.seen_hz


def _working(procedure: Procedure, circuits: Collection[str]) -> list[Adjuster]:
    """The adjusters that turn something of a band; of one that bands share, only this band's circuits count."""
    rows = [a for a in procedure.adjusters if a.does != "tuning-voltage"]
    here = [replace(a, circuits=tuple(c for c in a.circuits if c in circuits)) for a in rows]
    return [a for a in here if a.circuits]


def in_band(circuit: Circuit, band: Band) -> bool:
    """Whether a circuit belongs to a band."""
    return not circuit.bands or band.id in circuit.bands


def _circuit_frame(procedure: Procedure, circuit: Circuit, band: Band, offset_hz: float) -> CircuitFrame:
    oscillator = circuit.role == "oscillator"
    middle = float(np.sqrt(band.low_hz * band.high_hz))
    f_mid = middle + offset_hz if oscillator else middle
    padded, travel = _padded(procedure, circuit), _TRAVEL[procedure.tuning.law]
    law = _law(procedure, band, offset_hz, middle)
    if oscillator and not _any_padder(procedure, band) and _cut(procedure, circuit, band, offset_hz):
        law = _power_law(offset_hz, middle + offset_hz)
    places = _nominal_places(procedure, circuit, band, 3 if padded else 2)
    wanted = places + offset_hz if oscillator else places
    start = settings_through(law(places), -2.0 * np.log(wanted / f_mid), padded=padded, across=circuit.trimmer_across)
    return CircuitFrame(
        id=circuit.id,
        oscillator=oscillator,
        f_mid_hz=f_mid,
        low_hz=band.low_hz,
        high_hz=band.high_hz,
        offset_hz=offset_hz,
        start=start,
        spread=_spread(padded=padded, across=circuit.trimmer_across, fixed=circuit.padder_f is not None),
        bend=_bend(band),
        reach=_reach(band) * abs((f_mid / band.low_hz) ** travel - (f_mid / band.high_hz) ** travel),
        travel=travel,
        carried=_CARRIED_VHF if band.high_hz > _VHF_HZ else _CARRIED,
        carrier=OUTER if padded else INNER,
        law=law,
        q=circuit.q or USUAL_Q,
        q_sd=q_doubt(circuit),
    )


def _cut(procedure: Procedure, circuit: Circuit, band: Band, offset_hz: float) -> bool:
    """Whether an oscillator without a padder follows by the shape of its tuning element, not by coil and trimmer alone.

    By voltage and on a narrow band all circuits share one law, the oscillator's; else plates are cut where the IF is no
    small part of the frequency, and plain where it is (common practice, no source), unless the procedure says which.
    """
    if procedure.tuning.by != "gang" or band.high_hz / band.low_hz < _COMMON_LAW_RATIO:
        return True
    return abs(offset_hz) > _CUT_FROM * band.low_hz if circuit.section is None else circuit.section == "cut"


def _padded(procedure: Procedure, circuit: Circuit) -> bool:
    return circuit.padder_f is not None or any(procedure.adjuster(a).does == "series" for a in circuit.adjusters)


def _any_padder(procedure: Procedure, band: Band) -> bool:
    return any(_padded(procedure, c) for c in procedure.circuits if c.role != "if" and in_band(c, band))


def _power_law(offset_hz: float, f_mid_hz: float) -> Law:
    """u(z) of a circuit that stands at z + offset_hz [Hz] when it is right and has no padder."""

    def law(z_hz: Array) -> Array:
        return np.asarray((f_mid_hz / (z_hz + offset_hz)) ** 2)

    return law


def _law(procedure: Procedure, band: Band, offset_hz: float, middle_hz: float) -> Law:
    """The tuning element that the signal circuits share, up to a factor and a shift."""
    table = [row for row in procedure.tuning.curve if procedure.tuning.by == "gang"]
    if len(table) >= 3 and table[0][0] <= band.low_hz * 1.02 and table[-1][0] >= band.high_hz * 0.98:
        return _table_law(table, middle_hz)
    common = procedure.tuning.by == "voltage" or band.high_hz / band.low_hz < _COMMON_LAW_RATIO
    if common and not _any_padder(procedure, band):
        return _without_swing(procedure, band, _power_law(offset_hz, middle_hz + offset_hz))
    return _power_law(0.0, middle_hz)


def _without_swing(procedure: Procedure, band: Band, law: Law) -> Law:
    """A diode law as the signal circuits see it: the oscillator's own swing raises its diode's mean C at low bias.

    With a swing of amplitude A on V the mean of C(V) rises by A^2/4 C''(V) (Taylor), that is by a share that goes as
    1 / (V + 0.7 V)^2; about 0.6 % of the circuit's total at 2 V (common practice, no source).
    """
    span = procedure.tuning.span
    if procedure.tuning.by != "voltage" or span is None:
        return law
    low_v, high_v = span

    def seen(z_hz: Array) -> Array:
        share = np.log(z_hz / band.low_hz) / np.log(band.high_hz / band.low_hz)
        volts = low_v * (high_v / low_v) ** np.clip(share, -0.5, 1.5)
        return np.asarray(law(z_hz) * (1.0 - _SWING * ((2.0 + 0.7) / (volts + 0.7)) ** 2))

    return seen


def _table_law(table: list[tuple[float, float]], middle_hz: float) -> Law:
    """A gang's table of (dial [Hz], capacitance [F]) as C of 1/f^2, nearly straight, carried on at the ends."""
    rows = sorted(table)
    x = np.array([(middle_hz / hz) ** 2 for hz, _ in rows])[::-1]
    c = np.array([farad for _, farad in rows])[::-1]
    unit = float(np.interp(1.0, x, c))

    def law(z_hz: Array) -> Array:
        at = (middle_hz / z_hz) ** 2
        inside = np.interp(at, x, c)
        below = c[0] + (at - x[0]) * (c[1] - c[0]) / (x[1] - x[0])
        above = c[-1] + (at - x[-1]) * (c[-1] - c[-2]) / (x[-1] - x[-2])
        return np.asarray(np.where(at < x[0], below, np.where(at > x[-1], above, inside)) / unit)

    return law


def _nominal_places(procedure: Procedure, circuit: Circuit, band: Band, least: int) -> Array:
    """Where the circuit is meant to be right: at its own points where they settle its settings, else over the band."""
    for step in procedure.steps:
        own = isinstance(step, CoverageStep) and step.circuit == circuit.id and procedure.band_of(step.band) == band
        if own and isinstance(step, CoverageStep) and len(step.points) >= least:
            return np.array(sorted(point.received_hz for point in step.points))
    nodes = np.cos(np.pi * (np.arange(3)[::-1] + 0.5) / 3)
    return 0.5 * (band.low_hz + band.high_hz) + 0.5 * (band.high_hz - band.low_hz) * nodes


def _spread(*, padded: bool, across: Literal["tuning", "coil"], fixed: bool) -> tuple[float, float, float, float]:
    if not padded:
        return (_WIDE[COIL], _WIDE[INNER], 0.0, 0.0)
    series = _FIXED_SERIES if fixed else _WIDE[SERIES]
    if across == "tuning":
        return (_WIDE[COIL], _WIDE[INNER], _FIXED_STRAY, series)
    return (_WIDE[COIL], _FIXED_STRAY, _WIDE[OUTER], series)


def _reach(band: Band) -> float:
    return _REACH if band.high_hz / band.low_hz < _COMMON_LAW_RATIO else _REACH_WIDE


def _bend(band: Band) -> float:
    ratio = band.high_hz / band.low_hz
    return 0.0015 if ratio < _COMMON_LAW_RATIO else 0.006


def _handle(procedure: Procedure, adjuster: Adjuster) -> Handle:
    """The prior of the effect per turn: of usual size, its sign that of the sense where the procedure knows it."""
    setting = _setting(procedure, adjuster)
    sense = {"more": 1, "less": -1, None: 0}[adjuster.rotation]
    if setting == SERIES:
        sense = -sense  # more capacitance in series is less elastance
    usual = -1 if (adjuster.kind == "brass-core") != (setting == SERIES) else 1  # a clockwise turn goes in
    taught = adjuster.taught
    if taught is not None:
        return Handle(adjuster, setting, taught.per_turn, taught.spread, sense, sense or taught.sense or usual)
    return Handle(adjuster, setting, *_PER_TURN[setting], sense, sense or usual)


def _setting(procedure: Procedure, adjuster: Adjuster) -> int:
    if adjuster.does == "inductance":
        return COIL
    if adjuster.does == "series":
        return SERIES
    circuit = procedure.circuit(adjuster.circuits[0])
    padded = _padded(procedure, circuit)
    return OUTER if padded and circuit.trimmer_across == "coil" else INNER
