"""The search for the unknowns that explain a problem's equations best."""

from dataclasses import dataclass

import numpy as np

from aligner.estimate.equations import OUTLIER, CircuitBlock, Linear, TurnBlock, WandBlock
from aligner.estimate.falls import FallBlock
from aligner.estimate.ladder import Array
from aligner.estimate.tops import TopBlock

_SETTLED = 1e-4  # of twice the negative log posterior: what a further step would gain
_LONGEST_STEP = 1.5
_LEAST_DAMPING = 1e-3
_COST_NOISE = 1e-9

Block = CircuitBlock | WandBlock | FallBlock | TopBlock
"""Equations of one kind of what was seen."""


@dataclass(frozen=True, slots=True)
class About:
    """All equations about some white unknowns, and the cost there; derivatives are worked out where a step is taken."""

    white: Array
    linears: tuple[Linear, ...]
    cost: float

    @property
    def weights(self) -> dict[int, float]:
        """How much each reading counts [1] by its number, where that is less than wholly."""
        return {seq: weight for linear in self.linears for seq, weight in linear.weights.items()}


def settled(
    blocks: tuple[Block | TurnBlock, ...], prior: tuple[Array, Array], white: Array, rounds: int, outlier: float
) -> tuple[About, Array]:
    """Levenberg-Marquardt on r(q)^T W r(q) + (q - q0)^T P^-1 (q - q0), J analytic (`ladder`, `equations`).

    Robust by reweighting (P. J. Huber, Robust Statistics, 1981, ch. 7; formula from memory): a residual beyond three
    standard errors gets the weight (3/|r|)^2.

    Parameters
    ----------
    blocks : tuple of Block or TurnBlock
        the equations
    prior : tuple of Array [1]
        means and standard deviations [1] of the unknowns, (unknowns,)
    white : Array [1]
        where to start, in units of the priors [1], (unknowns,)
    rounds : int [1]
        steps tried at most [1]
    outlier : float [1]
        as in `robust` [1]

    Returns
    -------
    tuple of About and Array
        the equations where it ended, and the normal matrix there (unknowns, unknowns) [1]
    """
    here = _about(blocks, prior, white, outlier)
    normal, pull = _normal(here, prior[1])
    damping = 0.0
    for _ in range(rounds):
        damped = normal + damping * np.diag(np.diag(normal)) if damping else normal
        step = np.linalg.solve(damped, pull)
        size, gain = float(np.abs(step).max(initial=0.0)), float(step @ pull)
        there = _about(blocks, prior, here.white + step * min(1.0, _LONGEST_STEP / max(size, 1e-12)), outlier)
        if there.cost <= here.cost + _COST_NOISE:
            here = there
            normal, pull = _normal(here, prior[1])
            damping = damping / 10.0 if damping > _LEAST_DAMPING else 0.0
            if gain < _SETTLED:
                break
        else:
            damping = max(10.0 * damping, _LEAST_DAMPING)
    return here, normal


def _about(blocks: tuple[Block | TurnBlock, ...], prior: tuple[Array, Array], white: Array, outlier: float) -> About:
    mean = prior[0] + prior[1] * white
    told = [block for block in blocks if block.seqs]
    linears = tuple(b.linear(mean) if isinstance(b, TurnBlock) else b.linear(mean, outlier) for b in told)
    losses = [_loss(linear) for linear in linears]
    return About(white, linears, sum(losses, float(white @ white)))


def _normal(here: About, prior_sd: Array) -> tuple[Array, Array]:
    """Normal matrix and pull about the present unknowns."""
    normal = np.eye(len(here.white))
    pull = -here.white
    for linear in here.linears:
        jacobian = linear.jacobian * prior_sd
        weighted = jacobian / (linear.sd**2)[:, None]
        normal += weighted.T @ jacobian
        pull = pull + weighted.T @ linear.residual
    return normal, pull


def _loss(linear: Linear) -> float:
    """Sum of squares; a weighed-down residual r, of which sd already holds the weight, counts 9 (1 + 2 ln(|r|/3))."""
    scaled = linear.residual / linear.sd
    total = float(scaled @ scaled)
    return total + sum(-(OUTLIER**2) * float(np.log(weight)) for weight in linear.weights.values() if weight < 1.0)
