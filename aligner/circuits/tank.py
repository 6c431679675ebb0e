"""A tuned circuit: coil, tuning element, trimmer, strays, with or without a series padder.

Without padder            C = c + t + s
Padder, trimmer "coil"    C = P c / (P + c) + t + s
Padder, trimmer "tuning"  C = P (c + t) / (P + c + t) + s

c is the capacitance of the tuning element (with any fixed capacitor that belongs to it), t the trimmer with the strays
beside it, P the padder, s strays across the coil. In all three y = 1/f^2 = 4 pi^2 L C.
"""

import math
from dataclasses import dataclass
from typing import Literal

from aligner.circuits.reals import Reals
from aligner.errors import CircuitError

Across = Literal["tuning", "coil"]
_FOUR_PI2 = 4 * math.pi**2


@dataclass(frozen=True, slots=True)
class TunedCircuit:
    """The values of one tuned circuit, without its tuning element.

    Attributes
    ----------
    inductance_h : float [H]
        Coil.
    trimmer_f : float [F]
        Trimmer and the strays beside it.
    padder_f : float or None [F]
        Series padder; None where there is none.
    trimmer_across : "tuning" or "coil" [-]
        Where the trimmer lies; of no meaning without a padder.
    strays_f : float [F]
        Capacitance across the coil, not adjustable.
    """

    inductance_h: float
    trimmer_f: float
    padder_f: float | None = None
    trimmer_across: Across = "coil"
    strays_f: float = 0.0

    def capacitance_f(self, tuning_f: Reals) -> Reals:
        """The whole capacitance across the coil, as the module says.

        Parameters
        ----------
        tuning_f : float or array (n,) [F]
            Capacitance of the tuning element.

        Returns
        -------
        float or array (n,) [F]
            Whole capacitance. Source: series and parallel connection.
        """
        if self.padder_f is None:
            return tuning_f + (self.trimmer_f + self.strays_f)
        if self.trimmer_across == "tuning":
            behind = tuning_f + self.trimmer_f
            return self.padder_f * behind / (self.padder_f + behind) + self.strays_f
        return self.padder_f * tuning_f / (self.padder_f + tuning_f) + (self.trimmer_f + self.strays_f)

    def y_s2(self, tuning_f: Reals) -> Reals:
        """y = 1/f^2 = 4 pi^2 L C, in which a coil multiplies and a trimmer adds.

        Parameters
        ----------
        tuning_f : float or array (n,) [F]
            Capacitance of the tuning element.

        Returns
        -------
        float or array (n,) [s^2]
            Inverse square of the resonance. Source: Thomson's formula.
        """
        return self.capacitance_f(tuning_f) * (_FOUR_PI2 * self.inductance_h)

    def resonance_hz(self, tuning_f: Reals) -> Reals:
        """Resonance at a capacitance of the tuning element: f = 1 / (2 pi sqrt(L C)).

        Parameters
        ----------
        tuning_f : float or array (n,) [F]
            Capacitance of the tuning element.

        Returns
        -------
        float or array (n,) [Hz]
            Resonance. Source: Thomson's formula; losses move it by 1 / (8 Q^2) at most and are left out.
        """
        resonance: Reals = self.y_s2(tuning_f) ** -0.5
        return resonance

    def tuning_for_f(self, resonance_hz: Reals) -> Reals:
        """The capacitance of the tuning element that gives a resonance.

        Parameters
        ----------
        resonance_hz : float or array (n,) [Hz]
            Resonance wanted.

        Returns
        -------
        float or array (n,) [F]
            Capacitance of the tuning element; negative where none can give it, infinite or negative beyond what the
            padder allows (the caller compares it with the element's range). Source: `capacitance_f` solved for c.
        """
        whole = capacitance_for_f(resonance_hz, self.inductance_h)
        if self.padder_f is None:
            return whole - (self.trimmer_f + self.strays_f)
        if self.trimmer_across == "tuning":
            return unseries_f(whole - self.strays_f, self.padder_f) - self.trimmer_f
        return unseries_f(whole - (self.trimmer_f + self.strays_f), self.padder_f)

    def inductance_for_h(self, resonance_hz: Reals, tuning_f: Reals) -> Reals:
        """The coil that gives a resonance with all capacitances as they are.

        Parameters
        ----------
        resonance_hz : float or array (n,) [Hz]
            Resonance wanted.
        tuning_f : float or array (n,) [F]
            Capacitance of the tuning element there.

        Returns
        -------
        float or array (n,) [H]
            Inductance. Source: Thomson's formula.
        """
        return capacitance_for_f(resonance_hz, 1.0) / self.capacitance_f(tuning_f)

    def trimmer_for_f(self, resonance_hz: Reals, tuning_f: Reals) -> Reals:
        """The trimmer that gives a resonance with all else as it is.

        Parameters
        ----------
        resonance_hz : float or array (n,) [Hz]
            Resonance wanted.
        tuning_f : float or array (n,) [F]
            Capacitance of the tuning element there.

        Returns
        -------
        float or array (n,) [F]
            Trimmer; negative where none can give it. Source: `capacitance_f` solved for t.
        """
        whole = capacitance_for_f(resonance_hz, self.inductance_h) - self.strays_f
        if self.padder_f is None:
            return whole - tuning_f
        if self.trimmer_across == "tuning":
            return unseries_f(whole, self.padder_f) - tuning_f
        return whole - self.padder_f * tuning_f / (self.padder_f + tuning_f)

    def padder_for_f(self, resonance_hz: Reals, tuning_f: Reals) -> Reals:
        """The padder that gives a resonance with all else as it is.

        Parameters
        ----------
        resonance_hz : float or array (n,) [Hz]
            Resonance wanted.
        tuning_f : float or array (n,) [F]
            Capacitance of the tuning element there.

        Returns
        -------
        float or array (n,) [F]
            Padder; negative where none can give it. Source: `capacitance_f` solved for P.
        """
        whole = capacitance_for_f(resonance_hz, self.inductance_h) - self.strays_f
        if self.trimmer_across == "tuning":
            return unseries_f(whole, tuning_f + self.trimmer_f)
        return unseries_f(whole - self.trimmer_f, tuning_f)


def resonance_hz(inductance_h: Reals, capacitance_f: Reals) -> Reals:
    """Thomson's formula: f = 1 / (2 pi sqrt(L C)).

    Parameters
    ----------
    inductance_h : float or array (n,) [H]
        Inductance, positive.
    capacitance_f : float or array (n,) [F]
        Whole capacitance, positive.

    Returns
    -------
    float or array (n,) [Hz]
        Resonance. Source: Thomson's formula.
    """
    resonance: Reals = (inductance_h * capacitance_f * _FOUR_PI2) ** -0.5
    return resonance


def capacitance_for_f(resonance_hz: Reals, inductance_h: float) -> Reals:
    """The whole capacitance that tunes a coil to a frequency: C = 1 / (4 pi^2 f^2 L).

    Parameters
    ----------
    resonance_hz : float or array (n,) [Hz]
        Resonance wanted.
    inductance_h : float [H]
        Inductance.

    Returns
    -------
    float or array (n,) [F]
        Whole capacitance. Source: Thomson's formula. The formula is symmetric: with a capacitance in place of the
        inductance it gives the inductance.
    """
    return 1 / (resonance_hz * resonance_hz * (_FOUR_PI2 * inductance_h))


def series_f(first_f: Reals, *others_f: float) -> Reals:
    """Capacitors in series: 1/C = sum of 1/C_i.

    Parameters
    ----------
    first_f : float or array (n,) [F]
        One capacitor.
    others_f : float [F]
        The others.

    Returns
    -------
    float or array (n,) [F]
        Capacitance of the chain. Source: series connection.
    """
    whole = first_f
    for other_f in others_f:
        whole = whole * other_f / (whole + other_f)
    return whole


def unseries_f(whole_f: Reals, known_f: Reals | float) -> Reals:
    """The capacitor that makes a whole in series with a known one: C = C_w C_k / (C_k - C_w).

    Parameters
    ----------
    whole_f : float or array (n,) [F]
        Capacitance of the pair.
    known_f : float or array (n,) [F]
        The one that is known.

    Returns
    -------
    float or array (n,) [F]
        The other one; negative where the whole is larger than the known one, which no capacitor can bring about.
        Source: `series_f` read backwards.
    """
    return whole_f * known_f / (known_f - whole_f)


def width_at_hz(at_hz: float, known_at_hz: float, known_width_hz: float, law: Literal["constant-q", "root-q"]) -> float:
    """The -3 dB width at another frequency of the band, under a stated assumption on Q.

    Parameters
    ----------
    at_hz : float [Hz]
        Resonance at which the width is wanted.
    known_at_hz : float [Hz]
        Resonance at which it is known.
    known_width_hz : float [Hz]
        The known -3 dB width.
    law : "constant-q" or "root-q" [-]
        "constant-q": Q does not change, the width grows as f. "root-q": Q grows as sqrt(f), and so does the width.

    Returns
    -------
    float [Hz]
        Width. Source: B = f / Q; "root-q" as in Blake, Electronic Communication Systems, p. 227, "constant-q" as in
        Beasley and Miller, Modern Electronic Communication, 9th ed., p. 120. Both are assumptions of textbooks.
    """
    if min(at_hz, known_at_hz, known_width_hz) <= 0:
        message = "widths and frequencies are above 0 Hz"
        raise CircuitError(message)
    return known_width_hz * float((at_hz / known_at_hz) ** (1.0 if law == "constant-q" else 0.5))
