"""How much readings scatter about a fit, and how much they should."""

from collections.abc import Iterable
from typing import Protocol

from aligner.estimate.equations import Linear
from aligner.estimate.ladder import Array


class _Told(Protocol):
    def linear(self, mean: Array) -> Linear: ...

    def telling(self, mean: Array) -> Array: ...


def scatter_of(blocks: Iterable[_Told], mean: Array, covariance: Array) -> tuple[float, float]:
    """Sum of squares of what readings are off, and what is to be expected of it: n - trace(W J C J^T).

    Parameters
    ----------
    blocks : iterable of blocks
        equations of readings, each with how much of its residuals is scatter
    mean, covariance : Array [1]
        the unknowns of the fit, shapes (q,) and (q, q)

    Returns
    -------
    tuple of float
        found and expected [1]
    """
    found = expected = 0.0
    for block in blocks:
        linear, telling = block.linear(mean), block.telling(mean)
        off = linear.scaled[telling > 0.0]
        found += float(off.dot(off))
        expected += float(telling.dot(linear.free(covariance)))
    return found, expected
