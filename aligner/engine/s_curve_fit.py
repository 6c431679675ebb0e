"""The S-curve behind (frequency, volts) readings, fitted once for the same readings."""

from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from aligner.engine.strip import thinned

if TYPE_CHECKING:
    from aligner.circuits.response_fit import Points
    from aligner.circuits.s_curve import Detector, SCurveFit
    from aligner.circuits.uncertain import CannotTell

_SHARE = 0.01
_LEAST_V = 1e-3
"""Standard error of one voltage: one part in a hundred of the greatest, a millivolt at least (common practice)."""


@lru_cache(maxsize=32)
def s_curve_of(points: "Points", form: Literal["discriminator", "ratio", "quadrature"]) -> "SCurveFit | CannotTell":
    """The curve, by the shape of that kind of detector."""
    from aligner.circuits.s_curve import fit_s_curve  # noqa: PLC0415 - scipy only where a curve was read

    greatest = max((abs(volts) for _, volts in points), default=0.0)
    kinds: tuple[Detector, ...] = ("quadrature",) if form == "quadrature" else ("discriminator",)
    return fit_s_curve(thinned(points), max(_SHARE * greatest, _LEAST_V), kinds)
