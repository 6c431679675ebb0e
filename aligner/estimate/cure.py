"""The fixed part that would bring a circuit right where its adjusters cannot: how much, and in preferred values.

What readings tell is a shift of a scaled setting: of ln L, of a trimmer in units of the tuning element's capacitance
in mid-band, of a padder's elastance in the same units. It becomes farads and henries only by an absolute value that
the procedure gives: a curve or range of the tuning, or the travel of a coil. With y = (F/f)^2 = 4 pi^2 L C F^2 and the
frame's y = exp(l) * (capacitance in units) the unit U and the coil L belong together: exp(l) = 4 pi^2 F^2 L U.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from aligner.circuits.nominal import circuit_through
from aligner.circuits.preferred import Series, nearest_preferred
from aligner.circuits.tank import capacitance_for_f
from aligner.estimate.belief import CircuitBelief
from aligner.estimate.best import Best, Goal, Movable, best_of
from aligner.estimate.frame import CircuitFrame, Frame
from aligner.estimate.ladder import COIL, INNER, OUTER, SERIES, Array
from aligner.procedure.model import CoverageStep, Procedure, Tuning

How = Literal["inductance", "add", "remove", "series", "padder", "larger"]
"""What is done: another inductance; a capacitor fitted beside the trimmer or taken from there; one fitted in series
with the tuning element, where there is none; one beside the padder or another padder; `larger`: whatever is in series
with the tuning element, as a blocking capacitor, must be larger, by how much only its own value would tell."""

_SERIES: tuple[Series, ...] = ("E12", "E24")
_WIDE_BAND = 1.5  # from here on the frame takes an oscillator's section without padder to be cut
_UNSEEN = 1e-6  # a shift so small is none


@dataclass(frozen=True, slots=True)
class Known:
    """The absolute values of one circuit.

    Attributes
    ----------
    unit_f : float [F]
        U, the tuning element's capacitance in mid-band, in units of which trimmers are scaled.
    coil_h : float [H]
        The coil as it stands now.
    spread : float [1]
        About how far both may be off, relative, as far as the procedure tells.
    source : str [-]
        Where they come from, in words.
    """

    unit_f: float
    coil_h: float
    spread: float
    source: str


@dataclass(frozen=True, slots=True)
class Preferred:
    """A preferred value for what is wanted, and what the rounding leaves.

    Attributes
    ----------
    series : Series [-]
        Which series of IEC 60063.
    value_f : float [F]
        The value to buy.
    left : float [1]
        Setting reached - setting wanted, in scaled terms.
    """

    series: Series
    value_f: float
    left: float


@dataclass(frozen=True, slots=True)
class Cure:
    """A fixed change.

    Attributes
    ----------
    setting : int [1]
        Column of the settings that it moves.
    how : How [-]
        What is to be done.
    share : float [1]
        Signed: of the inductance, of the tuning element's capacitance in mid-band, of the padder (`padder`), the series
        capacitor itself in units of that capacitance (`series`), or the elastance that is too much (`larger`).
    change : float or None [H or F]
        The same absolutely: change of inductance, capacitor to add or to take away (negative), change of the padder, or
        the series capacitor; None where no absolute value is known.
    preferred : tuple of Preferred [-]
        Capacitors to buy, one a series; empty where none is added or no absolute value is known.
    """

    setting: int
    how: How
    share: float
    change: float | None = None
    preferred: tuple[Preferred, ...] = ()

    @property
    def turns_share(self) -> float:
        """The change of a coil's turns that gives its change of inductance: sqrt(1 + share) - 1 [1].

        Holds for a winding whose length grows little, L going as the square of the turns (common practice, no source).
        """
        return math.sqrt(max(1.0 + self.share, 0.0)) - 1.0


def cure_of(setting: int, now: float, shift: float, known: Known | None) -> Cure:
    """The fixed change that stands for a shift of one setting.

    COIL: L'/L = exp(shift). INNER, OUTER: capacitance shift * U. SERIES, with P = U/s: P' = U/(s + shift).

    Parameters
    ----------
    setting : int [1]
        Column of the settings.
    now : float [1]
        The setting as it stands (needed for SERIES).
    shift : float [1]
        How far it should move.
    known : Known or None [-]
        Absolute values, where there are any.

    Returns
    -------
    Cure [-]
        The change, with preferred values where a capacitor is fitted. Source: derived from the scaled circuit.
    """
    if setting == COIL:
        share = math.expm1(shift)
        return Cure(setting, "inductance", share, known.coil_h * share if known else None)
    if setting in (INNER, OUTER):
        change = shift * known.unit_f if known else None
        if shift <= 0:
            return Cure(setting, "remove", shift, change)
        return Cure(setting, "add", shift, change, _capacitors(known, shift, lambda units: units - shift))
    return _padder_cure(now, shift, known)


def _padder_cure(now: float, shift: float, known: Known | None) -> Cure:
    """A first capacitor in series where there is none; else the padder made larger or smaller."""
    wanted = now + shift
    if wanted <= _UNSEEN:
        return Cure(SERIES, "larger", wanted)
    if now <= _UNSEEN:
        found = _capacitors(known, 1 / wanted, lambda units: 1 / units - wanted)
        return Cure(SERIES, "series", 1 / wanted, known.unit_f / wanted if known else None, found)
    units = 1 / wanted - 1 / now
    change = units * known.unit_f if known else None
    if units > 0:  # what is fitted beside it adds to it
        found = _capacitors(known, units, lambda more: 1 / (1 / now + more) - wanted)
    else:  # another padder
        found = _capacitors(known, 1 / wanted, lambda whole: 1 / whole - wanted)
    return Cure(SERIES, "padder", now / wanted - 1, change, found)


def _capacitors(known: Known | None, units: float, left: Callable[[float], float]) -> tuple[Preferred, ...]:
    """The nearest value of each series, and what it leaves of the setting."""
    if known is None or units <= _UNSEEN:
        return ()
    values = [(series, nearest_preferred(units * known.unit_f, series)) for series in _SERIES]
    return tuple(Preferred(series, value, left(value / known.unit_f)) for series, value in values)


def rounding_hz(circuit: CircuitBelief, goal: Goal, settings: Array, setting: int, left: float) -> float:
    """The greatest change of frequency at a goal's places by what a rounding leaves of one setting.

    Parameters
    ----------
    circuit : CircuitBelief [-]
        The circuit as believed.
    goal : Goal [-]
        Places, wanted frequencies and tolerances [Hz].
    settings : array (4,) [1]
        Shift of the settings at which the circuit would be right.
    setting : int [1]
        Column of the rounded setting.
    left : float [1]
        What the rounding leaves of it.

    Returns
    -------
    float [Hz]
        Size of the greatest change; adjusters that still move take most of it away. Source: computed at both values.
    """
    rounded = settings.copy()
    rounded[setting] += left
    return float(np.max(np.abs(circuit.hz(goal.z_hz, rounded) - circuit.hz(goal.z_hz, settings))))


def cures(
    circuit: CircuitBelief, goal: Goal, movable: tuple[Movable, ...], fixed: tuple[int, ...]
) -> tuple[tuple[int, Best], ...]:
    """What a change of each of some fixed settings would bring, with all adjusters set anew; the best one first.

    Parameters
    ----------
    circuit : CircuitBelief [-]
        The circuit as believed.
    goal : Goal [-]
        Places, wanted frequencies and tolerances [Hz].
    movable : tuple of Movable [-]
        The adjusters with what is left of their travel [1].
    fixed : tuple of int [1]
        Columns of the settings that a fixed part may change.

    Returns
    -------
    tuple of (int, Best) [1; -]
        Column, and the balance reached with it; its shift stands under the name "". Source: `best_of`.
    """
    tried = [(setting, best_of(circuit, goal, (*movable, Movable("", setting)))) for setting in fixed]
    return tuple(sorted(tried, key=lambda pair: pair[1].worst))


def known_of(procedure: Procedure, frame: Frame, circuit: CircuitBelief, stood_h: float | None = None) -> Known | None:
    """The absolute values of a circuit, where the procedure gives any.

    Parameters
    ----------
    procedure : Procedure [-]
        As read.
    frame : Frame [-]
        The band's frame.
    circuit : CircuitBelief [-]
        The circuit as believed.
    stood_h : float or None [H]
        Its inductance now, where it stands at a known end of its travel.

    Returns
    -------
    Known or None [-]
        None where neither a curve or range of the tuning nor a coil's travel tells. Source: exp(l) = 4 pi^2 F^2 L U.
    """
    factor = math.exp(float(circuit.settings[COIL]))
    unit = _unit_of_tuning(procedure, frame, circuit.frame)
    if unit is not None:
        return Known(unit[0], factor * capacitance_for_f(circuit.frame.f_mid_hz, unit[0]), 0.05, unit[1])
    coil = (stood_h, 0.02, "the coil's travel") if stood_h else _coil_of_travel(procedure, circuit.frame.id)
    if coil is None:
        return None
    return Known(factor * capacitance_for_f(circuit.frame.f_mid_hz, coil[0]), *coil)


def _unit_of_tuning(procedure: Procedure, frame: Frame, circuit: CircuitFrame) -> tuple[float, str] | None:
    """The unit in which the frame holds this circuit's capacitances, from the tuning's curve or range."""
    tuning, band = procedure.tuning, frame.band
    middle = math.sqrt(band.low_hz * band.high_hz)
    if tuning.by == "voltage":
        spots = _diode_spots(procedure, frame)
        return _of_plain(spots, middle + circuit.offset_hz, "the diode's curve") if len(spots) > 1 else None
    padded = any(handle.setting == SERIES for handle in frame.handles.values())
    narrow = band.high_hz / band.low_hz < _WIDE_BAND
    if circuit.oscillator and not padded and not narrow:  # cut to a law of its own, which is its unit
        return None
    if len(tuning.curve) >= 3 and (padded or not circuit.oscillator):
        return _gang_at(tuning, middle), "the gang's curve"
    if not tuning.span:
        return None
    offset = 0.0 if padded or not narrow else circuit.offset_hz  # equal sections: the oscillator's is everybody's unit
    ends = [(tuning.span[1], band.low_hz + offset), (tuning.span[0], band.high_hz + offset)]
    return _of_plain(ends, middle + offset, "the gang's range")


def _of_plain(spots: list[tuple[float, float]], middle_hz: float, source: str) -> tuple[float, str]:
    """The whole capacitance in mid-band of the circuit without padder that runs through the outer two places."""
    coil_h = circuit_through(spots[0], spots[-1]).inductance_h
    return float(capacitance_for_f(middle_hz, coil_h)), source


def _gang_at(tuning: Tuning, hz: float) -> float:
    """C on 1/f^2 is nearly straight, as the frame takes it."""
    rows = sorted(tuning.curve, reverse=True)
    return float(np.interp(hz**-2, [dial**-2 for dial, _ in rows], [farad for _, farad in rows]))


def _diode_spots(procedure: Procedure, frame: Frame) -> list[tuple[float, float]]:
    """(capacitance [F], oscillator [Hz]) at the coverage points whose voltage is given; ln C on ln(V + 0.7)."""
    if len(procedure.tuning.curve) < 2:
        return []
    volts, farads = (np.array(column) for column in zip(*procedure.tuning.curve, strict=True))
    offset = frame.intermediate_hz if procedure.oscillator == "above" else -frame.intermediate_hz
    spots = []
    for step in procedure.steps:
        if isinstance(step, CoverageStep) and procedure.band_of(step.band) == frame.band:
            for point in step.points:
                if point.place.volts is not None:
                    log_c = np.interp(math.log(point.place.volts + 0.7), np.log(volts + 0.7), np.log(farads))
                    spots.append((float(np.exp(log_c)), point.received_hz + offset))
    return sorted(spots, reverse=True)


def _coil_of_travel(procedure: Procedure, circuit_id: str) -> tuple[float, float, str] | None:
    """The middle of the coil's travel, and how far its ends are off."""
    for name in procedure.circuit(circuit_id).adjusters:
        adjuster = procedure.adjuster(name)
        if adjuster.does == "inductance" and adjuster.travel:
            low, high = adjuster.travel
            middle = math.sqrt(low * high)
            return middle, high / middle - 1, "the middle of the coil's travel"
    return None
