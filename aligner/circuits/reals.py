"""The type of a quantity that may come as one number or as an array of them."""

from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

Array: TypeAlias = "npt.NDArray[np.float64]"
"""An array of floats."""

Reals = TypeVar("Reals", float, "npt.NDArray[np.float64]")
"""A float gives a float, an array an array of the same shape."""


def like(given: Reals, result: Any) -> Reals:  # noqa: ANN401 - what numpy's functions give has no narrower type
    """The result as a plain float where a number was given, as an array where an array was.

    Parameters
    ----------
    given : float or array (n,) [any]
        What the caller was given.
    result : float or array (n,) [any]
        What was computed; numpy makes scalars of its own kind, which codecs of text do not take for numbers.

    Returns
    -------
    float or array (n,) [as result]
        The result.
    """
    if isinstance(given, int | float):
        result = float(result)
    plain: Reals = result
    return plain
