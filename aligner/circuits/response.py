"""Responses of tuned circuits and filters: single, coupled, cascaded, ceramic.

All are complex transfer functions, 1 at their centre, of a = Q (f/f0 - f0/f):

single   1 / (1 + ja)
pair     (1 + p^2) / ((1 + ja)^2 + p^2)            p = k Q; p = 1 critical, above it two peaks
triple   u / ((1 + ja) ((1 + ja) ja + u))          three coupled resonators, the ends loaded; u = 1 maximally flat

Two circuits of unlike Q have the level curve of a pair of equal Q (its denominator is a polynomial of the same form in
a^2), so levels alone cannot tell them apart; `UnequalPair` is for when both Q are known.
A ceramic filter is taken as a triple: a flat top and skirts of 18 dB an octave, which is what a handful of levels
shows. The spurious responses of real ceramic filters far from the pass-band are not in it.
"""

import math
from dataclasses import dataclass
from typing import Literal, Protocol, TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from aligner.circuits.reals import Array
from aligner.circuits.resonance import detuning
from aligner.errors import CircuitError

Complex: TypeAlias = "npt.NDArray[np.complex128]"
Shape = Literal["single", "pair", "triple"]

_STEP = 1e-6  # of the frequency: for the slope of the phase


class Response(Protocol):
    """Anything with a transfer function."""

    def transfer(self, frequency_hz: Array) -> Complex:
        """Complex response, shape (n,) [1], at frequencies frequency_hz (n,) [Hz]."""


@dataclass(frozen=True, slots=True)
class Resonators:
    """One, two or three coupled resonators, or several such stages in cascade.

    Attributes
    ----------
    centre_hz : float [Hz]
        Centre.
    quality : float [1]
        Loaded Q of each resonator (of the end ones of a triple).
    shape : "single", "pair" or "triple" [-]
        How many resonators are coupled.
    coupling : float [1]
        p = k Q of a pair, u of a triple; of no meaning for a single one.
    stages : int [1]
        Number of equal stages in cascade, not coupled to one another.
    skew : float [1]
        Far half widths stand as 1 + skew above to 1 - skew below; zero for circuits that are in tune.
    """

    centre_hz: float
    quality: float
    shape: Shape = "single"
    coupling: float = 1.0
    stages: int = 1
    skew: float = 0.0

    def transfer(self, frequency_hz: Array) -> Complex:
        """Complex response, 1 at the centre.

        Parameters
        ----------
        frequency_hz : array (n,) [Hz]
            Frequencies.

        Returns
        -------
        array (n,) of complex [1]
            Response. Source: nodal equations of coupled parallel circuits near resonance; for the pair F. E. Terman,
            Radio Engineers' Handbook (1943), from memory, and verified against a circuit simulator; the skew is an
            empirical bend of the frequency scale, a / (1 + skew * a / sqrt(1 + a^2)).
        """
        a = detuning(frequency_hz, self.centre_hz, self.quality)
        if self.skew:
            a = a / (1 + self.skew * a / np.sqrt(1 + a * a))
        pole: Complex = np.asarray(1 + 1j * a, dtype=np.complex128)
        if self.shape == "single":
            one = 1 / pole
        elif self.shape == "pair":
            one = (1 + self.coupling**2) / (pole * pole + self.coupling**2)
        else:
            one = self.coupling / (pole * (pole * 1j * a + self.coupling))
        return np.asarray(one**self.stages, dtype=np.complex128)


@dataclass(frozen=True, slots=True)
class UnequalPair:
    """A coupled pair of unlike Q, both circuits tuned to the centre.

    Attributes
    ----------
    centre_hz : float [Hz]
        Centre.
    qualities : (float, float) [1]
        Q of primary and secondary, each loaded but uncoupled.
    coefficient : float [1]
        Coupling coefficient k.
    """

    centre_hz: float
    qualities: tuple[float, float]
    coefficient: float

    def transfer(self, frequency_hz: Array) -> Complex:
        """Complex response, 1 at the centre: (1 + P^2) / ((1 + ja1)(1 + ja2) + P^2), P = k sqrt(Q1 Q2).

        Parameters
        ----------
        frequency_hz : array (n,) [Hz]
            Frequencies.

        Returns
        -------
        array (n,) of complex [1]
            Response. Source: as for `Resonators`.
        """
        first, second = (1 + 1j * detuning(frequency_hz, self.centre_hz, quality) for quality in self.qualities)
        square = self.coefficient**2 * self.qualities[0] * self.qualities[1]
        return np.asarray((1 + square) / (first * second + square), dtype=np.complex128)


@dataclass(frozen=True, slots=True)
class Cascade:
    """Responses one after the other, each fed by a source that the next does not load.

    Attributes
    ----------
    stages : tuple of Response [-]
        The responses.
    """

    stages: tuple[Response, ...]

    def transfer(self, frequency_hz: Array) -> Complex:
        """Product of the responses.

        Parameters
        ----------
        frequency_hz : array (n,) [Hz]
            Frequencies.

        Returns
        -------
        array (n,) of complex [1]
            Response; 1 at the centre only where all stages share it. Source: cascade of two-ports that are matched or
            buffered.
        """
        product = np.ones(len(frequency_hz), dtype=np.complex128)
        for stage in self.stages:
            product = product * stage.transfer(frequency_hz)
        return product


def level_db(response: Response, frequency_hz: Array) -> Array:
    """Level of a response: 20 lg |H|.

    Parameters
    ----------
    response : Response [-]
        The response.
    frequency_hz : array (n,) [Hz]
        Frequencies.

    Returns
    -------
    array (n,) [dB]
        Level against a response of 1. Source: definition.
    """
    level: Array = 20 * np.log10(np.abs(response.transfer(frequency_hz)))
    return level


def group_delay_s(response: Response, frequency_hz: Array) -> Array:
    """Group delay: -d(phase)/d(omega) = -Im(H'/H) / 2 pi.

    Parameters
    ----------
    response : Response [-]
        The response.
    frequency_hz : array (n,) [Hz]
        Frequencies.

    Returns
    -------
    array (n,) [s]
        Group delay, by a central difference. Source: definition.
    """
    step = frequency_hz * _STEP
    slope = (response.transfer(frequency_hz + step) - response.transfer(frequency_hz - step)) / (2 * step)
    delay: Array = -np.imag(slope / response.transfer(frequency_hz)) / (2 * math.pi)
    return delay


def delay_variation_s(response: Response, centre_hz: float, half_span_hz: float) -> float:
    """Largest less smallest group delay over a span; what an FM signal's deviation sees as distortion.

    Parameters
    ----------
    response : Response [-]
        The response.
    centre_hz : float [Hz]
        Middle of the span.
    half_span_hz : float [Hz]
        Half of the span.

    Returns
    -------
    float [s]
        Variation. Source: definition.
    """
    return float(np.ptp(group_delay_s(response, _span(centre_hz, half_span_hz))))


def ripple_over_db(response: Response, centre_hz: float, half_span_hz: float) -> float:
    """Largest less smallest level over a span.

    Parameters
    ----------
    response : Response [-]
        The response.
    centre_hz : float [Hz]
        Middle of the span.
    half_span_hz : float [Hz]
        Half of the span.

    Returns
    -------
    float [dB]
        Ripple over the span, droop at its edges included. Source: definition.
    """
    return float(np.ptp(level_db(response, _span(centre_hz, half_span_hz))))


def _span(centre_hz: float, half_span_hz: float) -> Array:
    return np.linspace(centre_hz - half_span_hz, centre_hz + half_span_hz, 301)


def critical_coupling(qualities: tuple[float, float]) -> float:
    """The coupling coefficient at which a pair just has one peak of full height: k_c = 1 / sqrt(Q1 Q2).

    Parameters
    ----------
    qualities : (float, float) [1]
        Q of both circuits, each loaded but uncoupled.

    Returns
    -------
    float [1]
        Coefficient. Source: R. Blake, Electronic Communication Systems, p. 258. With unlike Q the two peaks part a
        little later, at k^2 = (1/Q1^2 + 1/Q2^2) / 2.
    """
    return 1 / math.sqrt(qualities[0] * qualities[1])


def ceramic_filter(centre_hz: float, width_hz: float, flatness: float = 1.0) -> Resonators:
    """A ceramic filter of a stated -3 dB width, as three coupled resonators.

    Parameters
    ----------
    centre_hz : float [Hz]
        Centre.
    width_hz : float [Hz]
        Full width at -3 dB (half power) below the level at the centre.
    flatness : float [1]
        u: 1 maximally flat, below it rounder, above it with ripple (2: about 0.16 dB).

    Returns
    -------
    Resonators [-]
        The filter. Source: model of our own, see the module.
    """
    if not 0 < flatness < 10 or not 0 < width_hz < centre_hz:
        message = f"no ceramic filter is {width_hz:g} Hz wide at {centre_hz:g} Hz with flatness {flatness:g}"
        raise CircuitError(message)

    def excess(a: float) -> float:
        return (1 + a * a) * ((flatness - a * a) ** 2 + a * a) - 2 * flatness**2

    edge = brentq(excess, 1e-3, 20.0)
    return Resonators(centre_hz, edge * centre_hz / width_hz, "triple", flatness)
