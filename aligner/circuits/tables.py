"""Tuning laws from tables: a gang's, a varactor's, and the fit of the varactor's power law.

Tables are interpolated by shape-preserving cubics (PCHIP): no overshoot between rows, so that a capacitance that only
falls in the table only falls between its rows. A varactor's table is interpolated as ln C on ln(V + 0.7), where the
power law is nearly straight.
"""

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal, TypeAlias

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, least_squares

from aligner.circuits.laws import Law, VaractorLaw, inside
from aligner.circuits.reals import Array, Reals, like
from aligner.errors import CircuitError

Rows: TypeAlias = tuple[tuple[float, float], ...]
"""Rows of (position, capacitance [F])."""

_LOG_OFFSET_V = 0.7  # about the contact potential of silicon: keeps 0 V in the table
_ROWS_FOR_FIT = 6
_WORST_FIT = 0.02  # relative; hyperabrupt diodes may follow no single power law, and then the table is nearer the truth


@dataclass(frozen=True)
class TableLaw:
    """A tuning law interpolated in a table.

    Attributes
    ----------
    rows : tuple of (float, float) [V, Hz or 1; F]
        Position and capacitance, in any order; capacitance only rising or only falling with the position.
    scale : "linear" or "varactor" [-]
        "linear": C on x. "varactor": ln C on ln(V + 0.7).
    """

    rows: Rows
    scale: Literal["linear", "varactor"] = "linear"
    _curve: PchipInterpolator = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "rows", checked_rows(self.rows))
        if self.scale == "varactor" and self.rows[0][0] < 0:
            message = f"a varactor's table begins at 0 V or above, not at {self.rows[0][0]:g} V; give reverse voltages"
            raise CircuitError(message)
        positions, capacitances = np.array(self.rows).T
        if self.scale == "varactor":
            positions, capacitances = np.log(positions + _LOG_OFFSET_V), np.log(capacitances)
        object.__setattr__(self, "_curve", PchipInterpolator(positions, capacitances))

    @property
    def span(self) -> tuple[float, float]:
        """The first and the last position of the table [V, Hz or 1]."""
        return self.rows[0][0], self.rows[-1][0]

    def capacitance_f(self, position: Reals) -> Reals:
        """Capacitance at a position.

        Parameters
        ----------
        position : float or array (n,) [V, Hz or 1]
            Tuning position inside the table.

        Returns
        -------
        float or array (n,) [F]
            Capacitance; the table's own value at its rows. Source: F. N. Fritsch and R. E. Carlson, Monotone Piecewise
            Cubic Interpolation (1980), as scipy's PchipInterpolator has it.
        """
        place: Array = np.asarray(inside(position, *self.span, "tuning position"))
        found: Array = self._curve(np.log(place + _LOG_OFFSET_V) if self.scale == "varactor" else place)
        if self.scale == "varactor":
            found = np.exp(found)
        return like(position, found)

    def position(self, capacitance_f: float) -> float:
        """Position that gives a capacitance.

        Parameters
        ----------
        capacitance_f : float [F]
            Capacitance inside the table.

        Returns
        -------
        float [V, Hz or 1]
            Tuning position. Source: root of the monotone curve (Brent).
        """
        ends = self.rows[0][1], self.rows[-1][1]
        wanted = inside(capacitance_f, min(ends), max(ends), "capacitance [F]")

        def miss(position: float) -> float:
            return math.log(self.capacitance_f(position) / wanted)

        for end, value in zip(self.span, ends, strict=True):
            if math.isclose(wanted, value, rel_tol=1e-12):
                return end
        return float(brentq(miss, *self.span, xtol=1e-12 * (self.span[1] - self.span[0])))


def checked_rows(rows: Rows) -> Rows:
    """The rows in order of position, or an error that names the row at fault.

    Parameters
    ----------
    rows : tuple of (float, float) [V, Hz or 1; F]
        Position and capacitance.

    Returns
    -------
    tuple of (float, float) [V, Hz or 1; F]
        The same rows, sorted.

    Raises
    ------
    CircuitError
        For fewer than two rows, a position given twice, a capacitance that is not above 0 F, or one that turns back.
    """
    ordered = tuple(sorted(rows))
    if len(ordered) < 2:
        message = f"a table needs two rows or more, not {len(ordered)}"
        raise CircuitError(message)
    rising = ordered[-1][1] > ordered[0][1]
    for (position, capacitance), (after, later) in pairwise(ordered):
        goes_on = later > capacitance if rising else later < capacitance
        if position == after or not min(capacitance, later) > 0 or not goes_on:
            message = (
                f"rows {position:g}: {capacitance:g} F and {after:g}: {later:g} F do not go on as the table does; "
                "each position once, capacitances above 0 F and only rising or only falling"
            )
            raise CircuitError(message)
    return ordered


@dataclass(frozen=True, slots=True)
class VaractorFit:
    """A power law fitted to a table.

    Attributes
    ----------
    law : VaractorLaw [-]
        The law, valid over the table's voltages.
    worst : float [1]
        Largest relative deviation from a row of the table.
    """

    law: VaractorLaw
    worst: float


def fit_varactor(rows: Rows, *, package: bool = True) -> VaractorFit:
    """Cj0 / (1 + V/phi)^gamma + Cp fitted to a C-V table by least squares of ln C.

    Parameters
    ----------
    rows : tuple of (float, float) [V; F]
        Reverse voltage and capacitance; three rows or more, four with `package`.
    package : bool [-]
        Whether Cp is fitted; otherwise it is zero.

    Returns
    -------
    VaractorFit [-]
        Law and worst relative deviation. Cj0 and phi are ill-determined one by one (their errors go together); the
        curve between the rows is not. Source: least squares, derived.

    Raises
    ------
    CircuitError
        Where there are fewer rows than unknowns.
    """
    ordered = checked_rows(rows)
    if len(ordered) < 3 + package:
        message = (
            f"a power law with {3 + package} unknowns needs as many rows, not {len(ordered)}; use the table itself"
        )
        raise CircuitError(message)
    volts, capacitances = np.array(ordered).T
    solutions = [_fit_from(volts, capacitances, contact, package=package) for contact in (0.5, 2.0)]
    cost, law = min(solutions, key=lambda solution: solution[0])
    worst = float(np.max(np.abs(law.capacitance_f(volts) / capacitances - 1))) if math.isfinite(cost) else math.inf
    return VaractorFit(law, worst)


def _fit_from(volts: Array, capacitances: Array, contact_v: float, *, package: bool) -> tuple[float, VaractorLaw]:
    least = float(capacitances.min())

    def law(unknowns: Array) -> VaractorLaw:
        first, contact, exponent = (float(value) for value in np.exp(unknowns[:3]))
        fixed = float(unknowns[3]) * least if package else 0.0
        # The capacitance at the first row stands for Cj0: the two then do not pull in the same direction.
        zero_bias = (first - fixed) * (1 + float(volts[0]) / contact) ** exponent
        return VaractorLaw(zero_bias, contact, exponent, fixed, (float(volts[0]), float(volts[-1])))

    def residuals(unknowns: Array) -> Array:
        miss: Array = np.log(law(unknowns).capacitance_f(volts) / capacitances)
        return miss

    first = math.log(capacitances.max())
    start = [first, math.log(contact_v), math.log(0.7), *([0.05] if package else [])]
    low = [first - 0.5, math.log(0.05), math.log(0.05), *([0.0] if package else [])]
    high = [first + 0.5, math.log(50.0), math.log(20.0), *([0.98] if package else [])]
    found = least_squares(residuals, start, bounds=(low, high), x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14)
    return float(found.cost), law(np.asarray(found.x))


def varactor_law(rows: Rows) -> Law:
    """The law of a varactor from its table: the power law where there are rows enough and it fits, else the table.

    Parameters
    ----------
    rows : tuple of (float, float) [V; F]
        Reverse voltage and capacitance, two rows or more.

    Returns
    -------
    Law [-]
        A `VaractorLaw` for six rows or more that it fits within 2 %, otherwise a `TableLaw` of ln C on ln(V + 0.7).
    """
    if len(rows) >= _ROWS_FOR_FIT:
        fit = fit_varactor(rows)
        if fit.worst <= _WORST_FIT:
            return fit.law
    return TableLaw(rows, "varactor")
