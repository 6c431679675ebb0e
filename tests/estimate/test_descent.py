"""The search for the unknowns: narrow valleys are followed to their end, and derivatives are those of the equations."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import minimize

from aligner.estimate.descent import priced, settled
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


@pytest.mark.parametrize("outlier", [OUTLIER, 1e9])
@pytest.mark.parametrize(("cost", "given_up"), [(1e-3, True), (1e3, False)])
def test_a_search_is_given_up_only_where_the_wished_cost_is_out_of_reach(
    cost: float, outlier: float, *, given_up: bool
) -> None:
    sought = np.array((3.0, -2.0))
    prior, start = (np.zeros(3), np.array([1.0, 0.3, 0.3])), np.zeros(3)
    valley = (Valley(sought),)
    whole, _ = settled(valley, prior, start, 40, outlier)  # type: ignore[arg-type]
    found, _ = settled(valley, prior, start, 40, outlier, cost)  # type: ignore[arg-type]
    assert (found.cost > 1.001 * whole.cost) == given_up
    assert found.cost > cost or not given_up


@pytest.mark.parametrize("bent", [0.0, -0.2, 0.08])
@pytest.mark.parametrize("steeper", [0.0, 0.3, -0.8, 1.4])
def test_derivatives_of_turns_are_those_of_small_differences(steeper: float, bent: float) -> None:
    layout = layout_of(("oscillator",), COUNTED)
    block = turn_block(frame(FM), layout, COUNTED, {"oscillator-coil": 1})
    mean = np.linspace(-0.3, 0.2, layout.count)
    mean[layout.turned["oscillator-coil"]], mean[layout.steeper["oscillator-coil"]] = np.log(0.05), steeper
    mean[layout.bent["oscillator-coil"]] = bent
    slopes = block.linear(mean).jacobian
    for column, exact in enumerate(slopes.T):
        there, here = mean.copy(), mean.copy()
        there[column] += 1e-6
        here[column] -= 1e-6
        change = (block.linear(here).residual - block.linear(there).residual) / 2e-6
        assert exact == pytest.approx(change, rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("slips", [{}, {1: 4.0}, {0: -2.0, 3: 9.0}])
def test_a_price_is_the_least_cost_that_more_equations_can_come_to(slips: dict[int, float]) -> None:
    rng = np.random.default_rng(7)
    jacobian, spread = rng.normal(size=(9, 3)), np.diag([0.3, 1.0, 0.05])
    sd, residual = np.full(9, 0.1), 0.1 * rng.normal(size=9)
    for row, slip in slips.items():
        residual[row] += slip

    def cost(by: Array) -> float:
        off = np.abs(residual - jacobian @ np.sqrt(spread) @ by) / sd
        inside = np.minimum(off, OUTLIER) ** 2
        return float(by @ by + np.sum(inside + 2 * OUTLIER**2 * np.log(np.maximum(off / OUTLIER, 1.0))))

    least = min(minimize(cost, start, method="BFGS").fun for start in np.vstack((np.zeros(3), rng.normal(size=(9, 3)))))
    found = priced(Linear(lambda: jacobian, residual, sd, residual / sd), spread)
    assert found == pytest.approx(least, rel=0.02)


def test_a_search_of_which_nothing_finite_is_left_ends_where_it_began() -> None:
    lost = Valley(np.array((np.nan, 1.0)))
    prior, start = (np.zeros(3), np.array([1.0, 0.3, 0.3])), np.array([0.5, 0.1, -0.2])
    found, _ = settled((lost,), prior, start, 40, OUTLIER)  # type: ignore[arg-type]
    assert found.white.tolist() == start.tolist()
