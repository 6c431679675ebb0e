"""Tuning laws: how the capacitance of the tuning element follows the tuning position x.

x is whatever the tuning is read by: volts of a varactor, a dial frequency or a rotation of a gang. No law is ever
extrapolated: outside its span it raises.
"""

import math
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np

from aligner.circuits.reals import Reals, like
from aligner.errors import CircuitError

_ROUNDING = 1e-9  # of the span: a position that went through text and back is not outside


class Law(Protocol):
    """A tuning law: capacitance at a position, and back."""

    @property
    def span(self) -> tuple[float, float]:
        """The lowest and the highest position for which the law holds [V, Hz or 1]."""

    def capacitance_f(self, position: Reals) -> Reals:
        """Capacitance at a position.

        Parameters
        ----------
        position : float or array (n,) [V, Hz or 1, as the law is read]
            Tuning position inside the span.

        Returns
        -------
        float or array (n,) [F]
            Capacitance of the tuning element.
        """

    def position(self, capacitance_f: float) -> float:
        """Position that gives a capacitance.

        Parameters
        ----------
        capacitance_f : float [F]
            Capacitance that the law reaches inside its span.

        Returns
        -------
        float [V, Hz or 1, as the law is read]
            Tuning position.
        """


def inside(values: Reals, low: float, high: float, what: str) -> Reals:
    """The values, clipped to the span where rounding put them outside; anything further out raises.

    Parameters
    ----------
    values : float or array (n,) [any]
        What is asked for.
    low : float [as values]
        Lower end of the span.
    high : float [as values]
        Upper end of the span.
    what : str [-]
        Name and unit of the values for the message, as in "tuning voltage [V]".

    Returns
    -------
    float or array (n,) [as values]
        The values, all inside.

    Raises
    ------
    CircuitError
        Where a value lies outside (or is no number): a law is never extrapolated.
    """
    slack = _ROUNDING * (high - low)
    outside = ~(np.greater_equal(values, low - slack) & np.less_equal(values, high + slack))
    if np.any(outside):
        worst = float(np.atleast_1d(values)[np.atleast_1d(outside)][0])
        message = f"{what} {worst:.6g} is outside {low:.6g} to {high:.6g}; it is not extrapolated: add rows there"
        raise CircuitError(message)
    return like(values, np.clip(values, low, high))


@dataclass(frozen=True, slots=True)
class StraightLaw:
    """A law that is straight between two end values: in capacitance, or in frequency.

    "capacitance": C linear in x (plates cut to semicircles). "frequency": 1/sqrt(C) linear in x, so that a circuit with
    that whole capacitance has a scale with even steps.

    Attributes
    ----------
    straight : "capacitance" or "frequency" [-]
        What is linear in the position.
    span : (float, float) [Hz, V or 1]
        Positions of the two ends, the lower first.
    ends_f : (float, float) [F]
        Capacitance at those ends.
    """

    straight: Literal["capacitance", "frequency"]
    span: tuple[float, float]
    ends_f: tuple[float, float]

    def __post_init__(self) -> None:
        if not self.span[0] < self.span[1] or min(self.ends_f) <= 0 or self.ends_f[0] == self.ends_f[1]:
            message = (
                f"a straight law needs two unlike ends with capacitances above 0 F, not {self.span}, {self.ends_f}"
            )
            raise CircuitError(message)

    def capacitance_f(self, position: Reals) -> Reals:
        """Capacitance at a position: linear, or (linear in 1/sqrt(C)).

        Parameters
        ----------
        position : float or array (n,) [Hz, V or 1]
            Tuning position inside the span.

        Returns
        -------
        float or array (n,) [F]
            Capacitance. Source: definition of the two laws.
        """
        part = (inside(position, *self.span, "tuning position") - self.span[0]) / (self.span[1] - self.span[0])
        first, last = self._bend(self.ends_f[0]), self._bend(self.ends_f[1])
        straight = part * (last - first) + first
        bent: Reals = straight if self.straight == "capacitance" else straight**-2.0
        return bent

    def position(self, capacitance_f: float) -> float:
        """Position that gives a capacitance.

        Parameters
        ----------
        capacitance_f : float [F]
            Capacitance between the end values.

        Returns
        -------
        float [Hz, V or 1]
            Tuning position. Source: `capacitance_f` solved for x.
        """
        value = inside(capacitance_f, min(self.ends_f), max(self.ends_f), "capacitance [F]")
        first, last = self._bend(self.ends_f[0]), self._bend(self.ends_f[1])
        return self.span[0] + (self._bend(value) - first) / (last - first) * (self.span[1] - self.span[0])

    def _bend(self, capacitance_f: float) -> float:
        return capacitance_f if self.straight == "capacitance" else 1 / math.sqrt(capacitance_f)


@dataclass(frozen=True, slots=True)
class VaractorLaw:
    """The power law of a varactor: C(V) = Cj0 / (1 + V/phi)^gamma + Cp.

    Attributes
    ----------
    zero_bias_f : float [F]
        Cj0, junction capacitance at 0 V.
    contact_v : float [V]
        phi; from a fit it is a number without physical meaning.
    exponent : float [1]
        gamma: about 0.5 abrupt, 0.33 graded, 1 and more hyperabrupt.
    package_f : float [F]
        Cp, what does not change with the voltage.
    span : (float, float) [V]
        Reverse voltages for which the law holds.
    """

    zero_bias_f: float
    contact_v: float
    exponent: float
    package_f: float = 0.0
    span: tuple[float, float] = (0.0, math.inf)

    def capacitance_f(self, position: Reals) -> Reals:
        """Capacitance at a reverse voltage.

        Parameters
        ----------
        position : float or array (n,) [V]
            Reverse voltage inside the span.

        Returns
        -------
        float or array (n,) [F]
            Capacitance. Source: junction capacitance as in circuit simulators (M = gamma, VJ = phi).
        """
        volts = inside(position, *self.span, "tuning voltage [V]")
        junction: Reals = (volts / self.contact_v + 1) ** -self.exponent
        return junction * self.zero_bias_f + self.package_f

    def position(self, capacitance_f: float) -> float:
        """Reverse voltage that gives a capacitance.

        Parameters
        ----------
        capacitance_f : float [F]
            Capacitance that the law reaches inside its span.

        Returns
        -------
        float [V]
            Reverse voltage. Source: `capacitance_f` solved for V.
        """
        highest = self.capacitance_f(self.span[0])
        lowest = self.capacitance_f(self.span[1]) if math.isfinite(self.span[1]) else self.package_f
        junction = inside(capacitance_f, lowest, highest, "capacitance [F]") - self.package_f
        if junction <= 0:
            message = f"no voltage gives {capacitance_f:.6g} F, the part that does not change is {self.package_f:.6g} F"
            raise CircuitError(message)
        volts = self.contact_v * (float((self.zero_bias_f / junction) ** (1 / self.exponent)) - 1)
        return min(max(volts, self.span[0]), self.span[1])
