"""The search for the unknowns: narrow valleys are followed to their end, and derivatives are those of the equations."""

from dataclasses import dataclass

import numpy as np
import pytest

from aligner.estimate.descent import settled
from aligner.estimate.equations import OUTLIER, Linear, robust, turn_block
from aligner.estimate.events import Moved
from aligner.estimate.ladder import Array
from aligner.estimate.layout import layout_of
from tests.estimate.worked import frame
from tests.small_sets import FM

COUNTED = Moved(2, "oscillator-coil", 4.0), Moved(4, "oscillator-coil", -1.5)


@dataclass(frozen=True)
class Valley:
    """Products exp(q) x_n, q first, that are known to a few parts in a thousand."""

    products: Array
    seqs: tuple[int, ...] = (1,)

    def linear(self, mean: Array, outlier: float = OUTLIER) -> Linear:
        """Its equations."""
        now = np.exp(mean[0]) * mean[1:]

        def slopes() -> Array:
            return np.column_stack((now, np.exp(mean[0]) * np.eye(len(now))))

        return robust(tuple(range(len(now))), slopes, self.products - now, 0.003 * np.abs(self.products), outlier)


@pytest.mark.parametrize(("products", "from_q"), [((3.0, -2.0), 2.0), ((8.0,), 3.0)])
def test_a_narrow_valley_is_followed_to_its_end_in_few_rounds(products: tuple[float, ...], from_q: float) -> None:
    sought = np.array(products)
    prior = np.zeros(len(products) + 1), np.concatenate(([1.0], np.full(len(products), 0.3)))
    start = np.concatenate(([from_q], sought * np.exp(-from_q) / 0.3))  # on the floor, far from its lowest place
    few, _ = settled((Valley(sought),), prior, start, 40, OUTLIER)  # type: ignore[arg-type]
    along = np.linspace(-3.0, 6.0, 200001)
    floor = along**2 + np.sum((np.exp(-along)[:, None] * sought / 0.3) ** 2, axis=1)
    assert few.cost == pytest.approx(float(floor.min()), abs=0.01)


@pytest.mark.parametrize("steeper", [0.0, 0.3, -0.8, 1.4])
def test_derivatives_of_turns_are_those_of_small_differences(steeper: float) -> None:
    layout = layout_of(("oscillator",), COUNTED)
    block = turn_block(frame(FM), layout, COUNTED, {"oscillator-coil": 1})
    mean = np.linspace(-0.3, 0.2, layout.count)
    mean[layout.turned["oscillator-coil"]], mean[layout.steeper["oscillator-coil"]] = np.log(0.05), steeper
    slopes = block.linear(mean).jacobian
    for column, exact in enumerate(slopes.T):
        there, here = mean.copy(), mean.copy()
        there[column] += 1e-6
        here[column] -= 1e-6
        change = (block.linear(here).residual - block.linear(there).residual) / 2e-6
        assert exact == pytest.approx(change, rel=1e-5, abs=1e-6)
