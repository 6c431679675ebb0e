"""Mixing: oscillator, received frequency, image, and the range of capacitance that a band needs."""

import math
from typing import Literal

from aligner.circuits.reals import Reals
from aligner.errors import CircuitError

Side = Literal["above", "below"]
"""Where the oscillator stands with respect to the signal."""


def side_sign(side: Side) -> int:
    """+1 where the oscillator stands above the signal, -1 below.

    Parameters
    ----------
    side : "above" or "below" [-]
        Where the oscillator stands.

    Returns
    -------
    int [1]
        The sign of the intermediate frequency in f_oscillator = f_received + sign * IF.
    """
    return 1 if side == "above" else -1


def oscillator_hz(received_hz: Reals, intermediate_hz: float, side: Side) -> Reals:
    """The oscillator frequency that receives a signal: f_o = f_r +/- IF.

    Parameters
    ----------
    received_hz : float or array (n,) [Hz]
        Frequency received.
    intermediate_hz : float [Hz]
        Intermediate frequency, positive.
    side : "above" or "below" [-]
        Where the oscillator stands.

    Returns
    -------
    float or array (n,) [Hz]
        Oscillator frequency. Source: definition of the superheterodyne.
    """
    return received_hz + side_sign(side) * intermediate_hz


def received_hz(oscillator_hz: Reals, intermediate_hz: float, side: Side) -> Reals:
    """The frequency received with the oscillator where it stands: f_r = f_o -/+ IF.

    Parameters
    ----------
    oscillator_hz : float or array (n,) [Hz]
        Oscillator frequency.
    intermediate_hz : float [Hz]
        Intermediate frequency, positive.
    side : "above" or "below" [-]
        Where the oscillator stands.

    Returns
    -------
    float or array (n,) [Hz]
        Frequency received. Source: definition of the superheterodyne.
    """
    return oscillator_hz - side_sign(side) * intermediate_hz


def intermediate_found_hz(oscillator_hz: Reals, generator_hz: Reals) -> Reals:
    """The intermediate frequency as it is, from a signal peaked (or zeroed) on a known generator: IF = |f_o - f_g|.

    Parameters
    ----------
    oscillator_hz : float or array (n,) [Hz]
        Oscillator frequency, read while the signal is at its peak or zero.
    generator_hz : float or array (n,) [Hz]
        Frequency of the generator, on the same timebase.

    Returns
    -------
    float or array (n,) [Hz]
        Intermediate frequency, positive. Source: definition of the superheterodyne.
    """
    return abs(oscillator_hz - generator_hz)


def image_hz(received_hz: Reals, intermediate_hz: float, side: Side) -> Reals:
    """The other frequency that gives the same IF: f_image = f_r +/- 2 IF.

    Parameters
    ----------
    received_hz : float or array (n,) [Hz]
        Frequency the set is meant to receive.
    intermediate_hz : float [Hz]
        Intermediate frequency, positive.
    side : "above" or "below" [-]
        Where the oscillator stands; the image lies on the same side.

    Returns
    -------
    float or array (n,) [Hz]
        Image frequency; negative or zero means that there is none. Source: definition of the superheterodyne.
    """
    return received_hz + 2 * side_sign(side) * intermediate_hz


def image_dial_hz(station_hz: Reals, intermediate_hz: float, side: Side) -> Reals:
    """The place on the dial where a station is heard as an image: f = f_station -/+ 2 IF.

    Parameters
    ----------
    station_hz : float or array (n,) [Hz]
        Frequency of the station.
    intermediate_hz : float [Hz]
        Intermediate frequency, positive.
    side : "above" or "below" [-]
        Where the oscillator stands.

    Returns
    -------
    float or array (n,) [Hz]
        Frequency the set is tuned to. Source: the image relation read backwards.
    """
    return station_hz - 2 * side_sign(side) * intermediate_hz


def image_rejection(wanted_hz: float, image_hz: float, quality: float) -> float:
    """How much weaker one tuned circuit hands on the image: sqrt(1 + Q^2 rho^2), rho = f_i/f_s - f_s/f_i.

    Parameters
    ----------
    wanted_hz : float [Hz]
        Frequency the circuit is tuned to.
    image_hz : float [Hz]
        Image frequency.
    quality : float [1]
        Loaded Q of the circuit at the wanted frequency.

    Returns
    -------
    float [1]
        Ratio of amplitudes, 1 or more; ratios of several circuits multiply. Source: the exact single tuned response
        (series circuit, constant Q); Kennedy, Davis and Prasanna, Electronic Communication Systems, 5th ed., p. 153.
    """
    return math.hypot(1.0, quality * _image_ratio(wanted_hz, image_hz))


def image_rejection_db(wanted_hz: float, image_hz: float, qualities: tuple[float, ...]) -> float:
    """The rejection of the image by all tuned circuits before the mixer: sum of 20 lg sqrt(1 + Q^2 rho^2).

    Parameters
    ----------
    wanted_hz : float [Hz]
        Frequency the circuits are tuned to.
    image_hz : float [Hz]
        Image frequency.
    qualities : tuple of float [1]
        Loaded Q of each circuit.

    Returns
    -------
    float [dB]
        Rejection, positive. Valid for circuits that are not coupled to one another. Source: see `image_rejection`.
    """
    return sum(20 * math.log10(image_rejection(wanted_hz, image_hz, quality)) for quality in qualities)


def quality_for_rejection(wanted_hz: float, image_hz: float, rejection: float) -> float:
    """The Q that one tuned circuit needs: Q = sqrt(alpha^2 - 1) / |rho|.

    Parameters
    ----------
    wanted_hz : float [Hz]
        Frequency the circuit is tuned to.
    image_hz : float [Hz]
        Image frequency.
    rejection : float [1]
        Ratio of amplitudes wanted, 1 or more.

    Returns
    -------
    float [1]
        Loaded Q. Source: `image_rejection` solved for Q.

    Raises
    ------
    CircuitError
        Where the ratio is below 1, or both frequencies are the same.
    """
    ratio = abs(_image_ratio(wanted_hz, image_hz))
    if rejection < 1 or ratio == 0:
        message = f"no Q rejects {image_hz:g} Hz by {rejection:g} at {wanted_hz:g} Hz; give a ratio of 1 or more"
        raise CircuitError(message)
    return math.sqrt(rejection**2 - 1) / ratio


def _image_ratio(wanted_hz: float, image_hz: float) -> float:
    if min(wanted_hz, image_hz) <= 0:
        message = f"a frequency is above 0 Hz, not {min(wanted_hz, image_hz):g} Hz; there is no image below zero"
        raise CircuitError(message)
    return image_hz / wanted_hz - wanted_hz / image_hz


def capacitance_ratio(low_hz: float, high_hz: float) -> float:
    """How far the whole capacitance must change to cover a range: C_max / C_min = (f_high / f_low)^2.

    Parameters
    ----------
    low_hz : float [Hz]
        Lowest frequency of the circuit.
    high_hz : float [Hz]
        Highest frequency of the circuit.

    Returns
    -------
    float [1]
        Ratio of the whole capacitances, strays included. Source: Thomson's formula.
    """
    return (high_hz / low_hz) ** 2
