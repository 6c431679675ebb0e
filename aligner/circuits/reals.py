"""The type of a quantity that may come as one number or as an array of them."""

from typing import TYPE_CHECKING, TypeAlias, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

Array: TypeAlias = "npt.NDArray[np.float64]"
"""An array of floats."""

Reals = TypeVar("Reals", float, "npt.NDArray[np.float64]")
"""A float gives a float, an array an array of the same shape."""
