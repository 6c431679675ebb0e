"""Warm-up: readings over time fitted to an exponential settle, y(t) = y_end + A exp(-(t - t0) / tau).

t0 is the time of the first reading. For a given tau the rest is linear, so only ln tau is searched, with a wide prior,
for what warms up on a bench takes minutes to an hour. Three stories are compared by an information criterion: standing
still, going on evenly, settling. Only the first and the third say when; while the readings still go on evenly, "cannot
tell yet" is the answer.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import minimize_scalar

from aligner.circuits.reals import Array
from aligner.circuits.response_fit import Points
from aligner.circuits.uncertain import CannotTell, Uncertain, covariance_of, criterion

_LEAST_READINGS = 5
_WORST_LN_TAU_SD = 0.25  # worse than this, those that pass for a settle would mostly be too quick by chance
_CLEARLY = 3.0  # of the criterion: a bend by chance must not pass for a settle
_USUAL_S = 600.0  # common practice, no source: 15 to 30 minutes of warm-up are two or three of these
_LN_TAU_SD = 1.0
_LONGEST = 10.0  # times the span of the readings


@dataclass(frozen=True, slots=True)
class Settle:
    """A settle, fitted.

    Attributes
    ----------
    final : Uncertain [as the readings]
        Where it ends.
    swing : float [as the readings]
        A: how far from the end it stood at the first reading; 0 where it stood still from then on.
    started_s : float [s]
        t0, time of the first reading.
    time_constant_s : Uncertain or None [s]
        tau; None where it stood still.
    covariance : array (3, 3) [mixed]
        Of y_end, A and ln tau.
    rms : float [as the readings]
        Root mean square of what the fit leaves.
    """

    final: Uncertain
    swing: float
    started_s: float
    time_constant_s: Uncertain | None
    covariance: Array = field(compare=False)
    rms: float

    def value(self, at_s: float) -> float:
        """What will be read at a time.

        Parameters
        ----------
        at_s : float [s]
            Time on the readings' clock.

        Returns
        -------
        float [as the readings]
            Value. Source: the module's equation.
        """
        if self.time_constant_s is None:
            return self.final.value
        return self.final.value + self.swing * math.exp(-(at_s - self.started_s) / self.time_constant_s.value)

    def within_at_s(self, limit: float) -> Uncertain:
        """The time from which on the value stays within a limit of its end: t0 + tau ln(|A| / limit).

        Parameters
        ----------
        limit : float [as the readings]
            How far from the end is near enough, above zero.

        Returns
        -------
        Uncertain [s]
            Time on the readings' clock, that of the first reading where it was so from the beginning. Source: the
            equation solved for t; the uncertainty from the covariance of A and ln tau.
        """
        if self.time_constant_s is None or abs(self.swing) <= limit:
            return Uncertain(self.started_s, 0.0)
        tau = self.time_constant_s.value
        after_s = tau * math.log(abs(self.swing) / limit)
        gradient = np.array([0.0, tau / self.swing, after_s])
        return Uncertain(self.started_s + after_s, math.sqrt(float(gradient @ self.covariance @ gradient)))


def fit_settle(readings: Points, sd: float) -> Settle | CannotTell:
    """The settle behind readings over time.

    Parameters
    ----------
    readings : tuple of (float, float) [s; any]
        (time, value) in any order, five or more.
    sd : float [as the values]
        Standard uncertainty of one reading.

    Returns
    -------
    Settle or CannotTell [-]
        The settle, or when to read again. Source: separable least squares, derived; see the module.
    """
    ordered = tuple(sorted(readings))
    times, values = np.array(ordered).T if ordered else (np.empty(0), np.empty(0))
    span = float(np.ptp(times)) if len(times) else 0.0
    if len(times) < _LEAST_READINGS or span <= 0:
        step = span / max(len(times) - 1, 1) or 60.0
        last = float(times[-1]) if len(times) else 0.0
        return CannotTell(f"{_LEAST_READINGS} readings or more are needed", (last + step,))
    later = (float(times[-1]) + span / 2,)
    since = times - times[0]
    still = criterion(values - values.mean(), sd, 1)
    evenly = criterion(values - np.polyval(np.polyfit(since, values, 1), since), sd, 2)
    tau = _best_tau(since, values, sd, span)
    settling = criterion(_linear(since, values, tau)[1], sd, 3) + _prior(math.log(tau)) ** 2
    if still <= min(evenly, settling):
        return _still(float(times[0]), values, sd)
    if settling > evenly - _CLEARLY:
        return CannotTell("it still goes on evenly; read on", later)
    settle = _settle(times, values, tau, sd)
    if settle.covariance[2, 2] > _WORST_LN_TAU_SD**2 or tau > 0.9 * _LONGEST * span:
        return CannotTell("it begins to slow down, too little to say where it ends; read on", later)
    return settle


def _linear(times: Array, values: Array, tau: float) -> tuple[Array, Array]:
    """(y_end, A) for a time constant, and what is left."""
    design = np.column_stack([np.ones_like(times), np.exp(-times / tau)])
    # Columns of like size: at late times exp(-t / tau) is tiny.
    size = np.abs(design).max(axis=0)
    found = np.linalg.lstsq(design / size, values, rcond=None)[0] / size
    return found, values - design @ found


def _prior(ln_tau: float) -> float:
    return (ln_tau - math.log(_USUAL_S)) / _LN_TAU_SD


def _best_tau(times: Array, values: Array, sd: float, span: float) -> float:
    def left(ln_tau: float) -> float:
        rest = _linear(times, values, math.exp(ln_tau))[1]
        return criterion(rest, sd, 3) + _prior(ln_tau) ** 2

    shortest = span / len(times) / 3
    grid = np.linspace(math.log(shortest), math.log(_LONGEST * span), 60)
    at = int(np.argmin([left(one) for one in grid.tolist()]))
    near = grid[max(at - 1, 0)], grid[min(at + 1, len(grid) - 1)]
    return math.exp(float(minimize_scalar(left, bounds=near, method="bounded", options={"xatol": 1e-7}).x))


def _settle(times: Array, values: Array, tau: float, sd: float) -> Settle:
    since = times - times[0]
    (final, swing), rest = _linear(since, values, tau)
    fall = np.exp(-since / tau)
    jacobian = np.column_stack([np.ones_like(times), fall, swing * since / tau * fall])
    noise = max(sd**2, float(rest @ rest) / (len(times) - 3))
    prior = np.array([[0.0, 0.0, 1 / _LN_TAU_SD]])
    covariance = covariance_of(np.vstack([jacobian / math.sqrt(noise), prior]))
    ln_tau_sd = math.sqrt(float(covariance[2, 2]))
    rms = math.sqrt(float(rest @ rest) / len(times))
    end = Uncertain(float(final), math.sqrt(float(covariance[0, 0])))
    return Settle(end, float(swing), float(times[0]), Uncertain(tau, tau * ln_tau_sd), covariance, rms)


def _still(started_s: float, values: Array, sd: float) -> Settle:
    rest = values - values.mean()
    noise = max(sd**2, float(rest @ rest) / (len(values) - 1))
    covariance = np.zeros((3, 3))
    covariance[0, 0] = noise / len(values)
    end = Uncertain(float(values.mean()), math.sqrt(noise / len(values)))
    return Settle(end, 0.0, started_s, None, covariance, math.sqrt(float(rest @ rest) / len(values)))
