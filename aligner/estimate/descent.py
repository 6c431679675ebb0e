"""The search for the unknowns that explain a problem's equations best.

Its matrices are so small that what it takes is the number of calls: LAPACK's own solver and `dot` take a third and half
of what `numpy.linalg.solve` and `@` do (measured), which look at their arguments for longer than they reckon.
"""

import math

import msgspec
import numpy as np
from scipy.linalg.lapack import dposv

from aligner.estimate.drifting import DriftBlock
from aligner.estimate.equations import OUTLIER, CircuitBlock, Linear, TurnBlock, WandBlock
from aligner.estimate.falls import FallBlock
from aligner.estimate.ladder import Array
from aligner.estimate.tops import TopBlock

_SETTLED = 1e-4  # of twice the negative log posterior: what a further step would gain
_CONTRADICTED, _EXPECTED = 1e-4, 2.0
"""Where readings contradict each other a step is small beside the doubt that this leaves: so much of the cost, as far
as that is more than so much for each equation."""
_LONGEST_STEP = 1.5
_COST_NOISE = 1e-9
_LITTLE, _MUCH = 0.25, 0.75  # of the gain that a step promised: beyond these its damping was too weak, too strong
_FASTER = 4.0
_OUT_OF_REACH = 4.0
"""Times what a step promises: so much more is seldom gained after it, and no search that ended so was of use in 2,000
of clumsy hands, mistyped readings and wide spreads (measured)."""
_FIRST_TRIED, _FAR_OUT_OF_REACH = 4, 16.0
"""The same where readings are weighed down, which far off promise next to nothing: only after so many steps, and so
many times what they promise (of 2,900 searches that came to something one in 100 would be lost, measured)."""
_REWEIGHED = 12

Block = CircuitBlock | WandBlock | FallBlock | TopBlock
"""Equations of one kind of what was seen."""
Equations = Block | TurnBlock | DriftBlock
"""The same, or of what was turned, or has drifted."""


class About(msgspec.Struct, frozen=True, eq=False):  # many are made: a struct is there sooner than a dataclass
    """All equations about some white unknowns, and the cost there; derivatives are worked out where a step is taken."""

    white: Array
    linears: tuple[Linear, ...]
    scaled: Array  # residuals of all of them, in standard errors
    cost: float

    @property
    def weights(self) -> dict[int, float]:
        """How much each reading counts [1] by its number, where that is less than wholly."""
        return {seq: weight for linear in self.linears for seq, weight in linear.weights.items()}


def settled(
    blocks: tuple[Equations, ...],
    prior: tuple[Array, Array],
    white: Array,
    rounds: int,
    outlier: float,
    hopeless: float = math.inf,
) -> tuple[About, Array]:
    """Levenberg-Marquardt on r(q)^T W r(q) + (q - q0)^T P^-1 (q - q0), J analytic (`ladder`, `equations`).

    Robust by reweighting (P. J. Huber, Robust Statistics, 1981, ch. 7; formula from memory): a residual beyond three
    standard errors gets the weight (3/|r|)^2.

    Parameters
    ----------
    blocks : tuple of Block, TurnBlock or DriftBlock
        the equations
    prior : tuple of Array [1]
        means and standard deviations [1] of the unknowns, (unknowns,)
    white : Array [1]
        where to start, in units of the priors [1], (unknowns,)
    rounds : int [1]
        steps tried at most [1]
    outlier : float [1]
        as in `robust` [1]
    hopeless : float [1]
        a cost [1] below which the end is of use; where the slopes put that out of reach the search is given up

    Returns
    -------
    tuple of About and Array
        the equations where it ended, and the normal matrix there (unknowns, unknowns) [1]
    """
    told = tuple(block for block in blocks if block.seqs)
    here = _about(told, prior, white, outlier)
    unit, damping = np.eye(len(white)), 0.0
    normal, pull = _normal(here, prior[1], unit)
    first, reach = (_FIRST_TRIED, _FAR_OUT_OF_REACH) if outlier <= OUTLIER else (0, _OUT_OF_REACH)
    for tried in range(rounds):
        _, step, failed = dposv(normal + damping * unit if damping else normal, pull)
        if failed:  # unknowns so far off that nothing finite is left
            break
        gain = float(step.dot(pull))
        if here.cost - reach * gain > hopeless and tried >= first:
            break
        share = min(1.0, _LONGEST_STEP / max(1e-12, *map(abs, step.tolist())))
        step *= share
        promised = float(step.dot(2.0 * pull - normal.dot(step))) if damping else share * (2.0 - share) * gain
        there = _about(told, prior, here.white + step, outlier)
        damping = _damped(damping, here.cost - there.cost, promised)
        if there.cost <= here.cost + _COST_NOISE:
            here = there
            normal, pull = _normal(here, prior[1], unit)
        if gain < _SETTLED + _CONTRADICTED * max(0.0, here.cost - _EXPECTED * len(here.scaled)):
            break
    return here, normal


def _damped(damping: float, gained: float, promised: float) -> float:
    """The damping of the next step, by how much of what the last one promised was gained.

    It is as if so many priors more held the unknowns where they stand (K. Levenberg, Q. Appl. Math. 2, 1944, 164; from
    memory): narrow valleys, where turns tie movements to effects and falls tie distances to Q, are followed all the
    faster for it than with a part of the normal matrix, which holds what no reading tells far too hard.
    """
    if gained < _LITTLE * promised:
        return max(_FASTER * damping, 1.0)
    if gained > _MUCH * promised:
        return damping / _FASTER if damping > 1.0 else 0.0
    return damping


def _about(blocks: tuple[Equations, ...], prior: tuple[Array, Array], white: Array, outlier: float) -> About:
    mean = prior[0] + prior[1] * white
    linears = tuple([b.linear(mean) if isinstance(b, TurnBlock) else b.linear(mean, outlier) for b in blocks])
    scaled = _together([linear.scaled for linear in linears])
    squares = float(white.dot(white)) + float(scaled.dot(scaled))
    return About(white, linears, scaled, squares + sum([linear.beyond for linear in linears]))


def _normal(here: About, prior_sd: Array, unit: Array) -> tuple[Array, Array]:
    """Normal matrix and pull about the present unknowns, whose priors alone make the unit matrix."""
    if not here.linears:
        return unit, -here.white
    jacobian = _together([linear.jacobian for linear in here.linears]) * prior_sd
    jacobian /= _together([linear.sd for linear in here.linears])[:, None]
    return unit + jacobian.T @ jacobian, here.scaled.dot(jacobian) - here.white


def _together(parts: list[Array]) -> Array:
    """Parts one behind the other; mostly there is one."""
    return parts[0] if len(parts) == 1 else np.concatenate(parts or [np.zeros(0)])


def priced(linear: Linear, covariance: Array) -> float:
    """The least cost of more equations, and of what they move the unknowns by, where these have a covariance already.

    r^T (W^-1 + J C J^T)^-1 r, which is what least squares with a prior come to; robust by reweighting, as in `settled`.

    Parameters
    ----------
    linear : Linear [1]
        the equations about the unknowns' present mean, nothing weighed down
    covariance : Array [1]
        of the unknowns, (unknowns, unknowns)

    Returns
    -------
    float
        twice the negative logarithm of how likely they are [1], up to what is the same for all
    """
    jacobian = linear.jacobian
    spread, square = jacobian @ covariance @ jacobian.T, linear.sd**2
    together = spread.copy()

    def balance(weight: Array) -> tuple[Array, Array]:
        """What pulls at the unknowns, and how many standard errors each equation is left off."""
        loose = square / weight
        np.fill_diagonal(together, spread.diagonal() + loose)
        pull = dposv(together, linear.residual)[1]
        return pull, np.abs(loose * pull) / linear.sd

    weight = np.ones(len(square))
    pull, left = balance(weight)
    for _ in range(_REWEIGHED if np.any(left > OUTLIER) else 0):
        weight = 0.5 * (weight + (OUTLIER / np.maximum(left, OUTLIER)) ** 2)  # half way: else it swings
        pull, left = balance(weight)
    far = np.maximum(left / OUTLIER, 1.0)
    return float(pull @ spread @ pull + np.sum(np.minimum(left, OUTLIER) ** 2 + 2.0 * OUTLIER**2 * np.log(far)))
