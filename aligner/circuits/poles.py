"""A response given by its poles alone, whatever circuits they belong to.

Coupled circuits, cascades, circuits out of step and filters of several resonators all have one thing in common: the
inverse of their power response is a polynomial in the detuning, a product of one factor for each resonator. So a
response of so many poles holds every one of them, and none has to be named for the curve to be followed.
"""

from dataclasses import dataclass

import numpy as np

from aligner.circuits.reals import Array
from aligner.circuits.resonance import detuning
from aligner.circuits.response import Complex

_DB = 20.0 / np.log(10.0)


@dataclass(frozen=True, slots=True)
class Poles:
    """As many resonators as there are poles, coupled, in cascade or staggered.

    Attributes
    ----------
    centre_hz : float [Hz]
        About the middle of the pass-band: where the scale of the poles has its zero.
    width_hz : float [Hz]
        About its width: half of it is the unit of that scale.
    places : tuple of float [half widths]
        Where each pole resonates.
    halves : tuple of float [half widths]
        Half the width of each.
    """

    centre_hz: float
    width_hz: float
    places: tuple[float, ...]
    halves: tuple[float, ...]

    def transfer(self, frequency_hz: Array) -> Complex:
        """Complex response, 1 at the centre: the product of (q - jp) / (q + j(x - p)) over the poles.

        Parameters
        ----------
        frequency_hz : array (n,) [Hz]
            Frequencies.

        Returns
        -------
        array (n,) of complex [1]
            Response, x being the detuning in half widths, p the place and q the half width of a pole. Source: a
            band-pass of resonators without zeros near its pass-band; derived.
        """
        x = detuning(frequency_hz, self.centre_hz, self.centre_hz / self.width_hz)[:, None]
        place, half = np.array(self.places), np.array(self.halves)
        ratios = (half - 1j * place) / (half + 1j * (x - place))
        return np.asarray(np.prod(ratios, axis=1), dtype=np.complex128)


def pole_slopes(x: Array, places: Array, halves: Array) -> Array:
    """Derivatives of the level to the places of the poles and to the logarithms of their half widths.

    Parameters
    ----------
    x : array (n,) [half widths]
        Detuning.
    places : array (m,) [half widths]
        Places of the poles.
    halves : array (m,) [half widths]
        Half widths of the poles.

    Returns
    -------
    array (n, 2m) [dB by half width; dB]
        Slopes, those to the places first; the level at x = 0 stays 0. Source: derived.
    """
    power = (x[:, None] - places) ** 2 + halves**2
    rest = places**2 + halves**2
    to_place = _DB * ((x[:, None] - places) / power + places / rest)
    to_half = -_DB * halves**2 * (1.0 / power - 1.0 / rest)
    return np.hstack([to_place, to_half])
