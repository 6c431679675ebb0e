"""Counter arithmetic: what is displayed, what the oscillator does, what is received, and how sure all that is.

A counter may show the prescaler's output ("divided"), the oscillator ("oscillator"), or the frequency received
("received": it takes a fixed offset of its own off the oscillator, or adds it where the oscillator stands below). The
offset is the counter's, not the set's: a newly found IF changes what is received, never what was counted.
"""

import math
from dataclasses import dataclass
from typing import Literal

from aligner.circuits.reals import Reals
from aligner.circuits.superhet import Side, oscillator_hz, received_hz, side_sign
from aligner.errors import CircuitError

Shows = Literal["divided", "oscillator", "received"]


@dataclass(frozen=True, slots=True)
class Counting:
    """How a counter comes to what it displays.

    Attributes
    ----------
    shows : "divided", "oscillator" or "received" [-]
        What the display stands for.
    prescaler : int [1]
        Division before the counter, 1 for none.
    gate_s : float [s]
        Time for which the divided frequency is counted.
    side : "above" or "below" [-]
        Where the oscillator stands.
    offset_hz : float [Hz]
        What a counter that shows "received" takes off (or adds, oscillator below); not used otherwise.
    timebase : float [1]
        Standard uncertainty of the timebase, relative.
    """

    shows: Shows = "oscillator"
    prescaler: int = 1
    gate_s: float = 1.0
    side: Side = "above"
    offset_hz: float = 0.0
    timebase: float = 0.0

    def __post_init__(self) -> None:
        if self.prescaler < 1 or not self.gate_s > 0:
            message = (
                f"a counter has a prescaler of 1 or more and a gate above 0 s, not {self.prescaler}, {self.gate_s:g} s"
            )
            raise CircuitError(message)


def oscillator_from_displayed(displayed_hz: Reals, counting: Counting) -> Reals:
    """The oscillator frequency behind a display: N f_d, f_d, or f_d +/- offset.

    Parameters
    ----------
    displayed_hz : float or array (n,) [Hz]
        What the counter shows.
    counting : Counting [-]
        How it comes to that.

    Returns
    -------
    float or array (n,) [Hz]
        Oscillator frequency. Source: derived from the counter's construction.
    """
    if counting.shows == "divided":
        return displayed_hz * counting.prescaler
    if counting.shows == "received":
        return displayed_hz + side_sign(counting.side) * counting.offset_hz
    return displayed_hz


def displayed_from_oscillator(oscillator_hz: Reals, counting: Counting) -> Reals:
    """What the counter shows for an oscillator frequency, before it is rounded to whole counts.

    Parameters
    ----------
    oscillator_hz : float or array (n,) [Hz]
        Oscillator frequency.
    counting : Counting [-]
        How the counter comes to what it shows.

    Returns
    -------
    float or array (n,) [Hz]
        Displayed value. Source: `oscillator_from_displayed` read backwards.
    """
    if counting.shows == "divided":
        return oscillator_hz / counting.prescaler
    if counting.shows == "received":
        return oscillator_hz - side_sign(counting.side) * counting.offset_hz
    return oscillator_hz


def received_from_displayed(displayed_hz: Reals, counting: Counting, intermediate_hz: float) -> Reals:
    """What the set receives, from the display and the true intermediate frequency.

    Parameters
    ----------
    displayed_hz : float or array (n,) [Hz]
        What the counter shows.
    counting : Counting [-]
        How it comes to that.
    intermediate_hz : float [Hz]
        Intermediate frequency of the set, as found; not the counter's offset.

    Returns
    -------
    float or array (n,) [Hz]
        Frequency received. Source: derived.
    """
    return received_hz(oscillator_from_displayed(displayed_hz, counting), intermediate_hz, counting.side)


def displayed_from_received(received_hz: Reals, counting: Counting, intermediate_hz: float) -> Reals:
    """What the counter shows when the set receives a frequency.

    Parameters
    ----------
    received_hz : float or array (n,) [Hz]
        Frequency received.
    counting : Counting [-]
        How the counter comes to what it shows.
    intermediate_hz : float [Hz]
        Intermediate frequency of the set, as found; not the counter's offset.

    Returns
    -------
    float or array (n,) [Hz]
        Displayed value before rounding to whole counts. Source: derived.
    """
    return displayed_from_oscillator(oscillator_hz(received_hz, intermediate_hz, counting.side), counting)


def oscillator_resolution_hz(counting: Counting) -> float:
    """One count, in terms of the oscillator: N / T_gate.

    Parameters
    ----------
    counting : Counting [-]
        Prescaler and gate.

    Returns
    -------
    float [Hz]
        Smallest step of the oscillator frequency that the counter can show. Source: derived; one count is one edge
        of the divided signal in the gate time.
    """
    return counting.prescaler / counting.gate_s


def displayed_resolution_hz(counting: Counting) -> float:
    """One count, in terms of the display: 1 / T_gate where the divided frequency is shown, N / T_gate otherwise.

    Parameters
    ----------
    counting : Counting [-]
        Prescaler and gate.

    Returns
    -------
    float [Hz]
        Smallest step of the display. Source: derived.
    """
    return 1 / counting.gate_s if counting.shows == "divided" else oscillator_resolution_hz(counting)


def oscillator_uncertainty_hz(oscillator_hz: float, counting: Counting, drift_hz: float = 0.0) -> float:
    """Standard uncertainty of an oscillator frequency from count, timebase and drift, added in quadrature.

    Parameters
    ----------
    oscillator_hz : float [Hz]
        Oscillator frequency.
    counting : Counting [-]
        Prescaler, gate and timebase.
    drift_hz : float [Hz]
        Half width by which the oscillator may have moved between reading and use.

    Returns
    -------
    float [Hz]
        One standard deviation. Source: derived; a gate that is not locked to the signal errs by -p or 1 - p of a count
        with chances 1 - p and p, p evenly spread: variance 1/6 of a count squared. Drift is even within its half width
        (variance 1/3 of it squared).
    """
    count = oscillator_resolution_hz(counting) / math.sqrt(6)
    return math.hypot(count, counting.timebase * oscillator_hz, drift_hz / math.sqrt(3))
