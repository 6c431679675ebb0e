"""Drifts as soft equations: usually as small as their standard deviations say, and now and then far greater.

How strongly an oscillator is pulled differs from set to set by more than an order of magnitude, for the shift goes with
the square of a coupling that nobody measures. So a drift beyond three of its standard deviations is weighed down like a
reading: then what is read later is believed, and not taken for a wrong reading.
"""

from dataclasses import dataclass

import numpy as np

from aligner.estimate.equations import OUTLIER, Linear, NDArrayInt
from aligner.estimate.ladder import Array
from aligner.estimate.layout import Layout


@dataclass(frozen=True)
class DriftBlock:
    """The drifts of some circuits, each an even and a tilted part in its own standard deviations; numbered apart."""

    columns: NDArrayInt  # (n, 2)
    count: int

    @property
    def seqs(self) -> tuple[int, ...]:
        """Numbers [1] below nought, one a drift: those of events belong to what was seen."""
        return tuple(range(-len(self.columns), 0))

    def telling(self, mean: Array) -> Array:  # noqa: ARG002 - looks ask for it
        """How much of each part (2 n,) about a mean [1] is expected to be scatter [1]: all."""
        return np.ones(self.columns.size)

    def linear(self, mean: Array, outlier: float = OUTLIER) -> Linear:
        """The equations about a mean [1] of the unknowns; outlier [1] as in `robust`, of both parts together.

        Where every reading is to be believed, drifts may still be great: what then differs must be theirs.
        """
        outlier = min(outlier, OUTLIER)
        slopes = np.zeros((self.columns.size, self.count))
        slopes[np.arange(self.columns.size), self.columns.ravel()] = 1.0
        far = np.linalg.norm(mean[self.columns], axis=1)
        root = np.minimum(1.0, outlier / np.maximum(far, outlier))
        residual, roots = -mean[self.columns.ravel()], np.repeat(root, 2)
        return Linear(lambda: slopes, residual, 1.0 / roots, residual * roots, self.seqs, root)


def drift_block(layout: Layout) -> DriftBlock:
    """The block of all drifts of a layout [its columns, 1]."""
    first = np.array(list(layout.drifts.values()), dtype=np.int64)
    return DriftBlock(first[:, None] + np.arange(2), layout.count)
