"""A response fitted to a handful of (frequency, level) readings, and which kind of circuit it looks like.

Several kinds of response are fitted by least squares of the levels, each with and without skew as far as the number of
readings allows. The kind is chosen by an information criterion, n ln(s^2 + RSS/n) + k ln n, s being the standard
uncertainty of a reading: with good fits it is chi-square plus k ln n, with poor ones the Bayesian one of Schwarz.
Uncertainties are those of the fit, plus how far kinds that explain the readings nearly as well would disagree.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from scipy.optimize import least_squares

from aligner.circuits.features import Features, features
from aligner.circuits.reals import Array
from aligner.circuits.response import Resonators, level_db
from aligner.circuits.uncertain import CannotTell, Uncertain, averaged, covariance_of, criterion
from aligner.errors import CircuitError

Points: TypeAlias = tuple[tuple[float, float], ...]
"""(frequency [Hz], level [dB])."""
Kind = Literal["single", "cascade of two", "cascade of three", "pair", "strip", "strip of two"]

_SHAPES: dict[Kind, Resonators] = {
    "single": Resonators(1.0, 1.0),
    "cascade of two": Resonators(1.0, 1.0, stages=2),
    "cascade of three": Resonators(1.0, 1.0, stages=3),
    "pair": Resonators(1.0, 1.0, "pair"),
    "strip": Resonators(1.0, 1.0, "triple"),
    "strip of two": Resonators(1.0, 1.0, "triple", stages=2),
}
KINDS: tuple[Kind, ...] = tuple(_SHAPES)
"""The kinds that can be fitted."""

_LEAST_READINGS = 5
_LEAST_FALL_DB = 1.5
_COUPLING_SD = 1.0  # of ln(coupling): what is built lies between far under and far over critical
_SKEW_SD = 0.1
_UNKNOWNS = ("reference", "centre", "quality", "coupling", "skew")
_BOUNDS = (-200.0, -3.0, -3.0, math.log(0.1), -0.6), (200.0, 3.0, 3.0, math.log(12.0), 0.6)


@dataclass(frozen=True, slots=True)
class ResponseFit:
    """A fitted response.

    Attributes
    ----------
    kind : Kind [-]
        The kind that explains the readings best with the fewest unknowns.
    response : Resonators [-]
        The response itself, 1 at its centre.
    reference_db : float [dB]
        Level read at the response's centre, by the fit.
    centre_hz : Uncertain [Hz]
        Geometric middle of the half-power points.
    width_3_hz : Uncertain [Hz]
        Width at half power below the peak.
    width_20_hz : Uncertain [Hz]
        Width at -20 dB; where the readings do not reach so far down, what the kind of circuit makes of them.
    quality : Uncertain [1]
        Loaded Q of each resonator (of the end ones of a strip).
    coupling : Uncertain or None [1]
        k Q of a pair (1 critical), flatness of a strip; None for other kinds.
    ripple_db : Uncertain [dB]
        Peak to dip in the pass-band.
    symmetry : Uncertain [1]
        Shift of the -20 dB middle against the centre, in -20 dB widths.
    deepest_db : float [dB]
        How far below the peak the readings reach on the side where they reach less.
    rms_db : float [dB]
        Root mean square of what the fit leaves.
    rivals : tuple of Kind [-]
        Kinds that explain the readings nearly as well.
    """

    kind: Kind
    response: Resonators
    reference_db: float
    centre_hz: Uncertain
    width_3_hz: Uncertain
    width_20_hz: Uncertain
    quality: Uncertain
    coupling: Uncertain | None
    ripple_db: Uncertain
    symmetry: Uncertain
    deepest_db: float
    rms_db: float
    rivals: tuple[Kind, ...]


@dataclass(frozen=True, slots=True)
class _Candidate:
    kind: Kind
    response: Resonators
    reference_db: float
    names: tuple[str, ...]
    covariance: Array
    criterion: float
    rms_db: float
    features: Features
    gradients: Array  # (features, unknowns)


_FEATURES = ("centre_hz", "width_3_hz", "width_20_hz", "ripple_db", "symmetry")


def fit_response(points: Points, sd_db: float = 0.2, kinds: tuple[Kind, ...] = KINDS) -> ResponseFit | CannotTell:
    """The response behind a handful of readings.

    Parameters
    ----------
    points : tuple of (float, float) [Hz; dB]
        Readings in any order; five or more, on both sides of the peak.
    sd_db : float [dB]
        Standard uncertainty of one reading: the meter's resolution and how well it was read.
    kinds : tuple of Kind [-]
        Kinds that are possible; all unless given.

    Returns
    -------
    ResponseFit or CannotTell [-]
        The fit, or what is missing and where to take readings. Source: least squares with information criterion,
        derived; see the module.
    """
    lacking = _lacking(tuple(sorted(points)))
    if lacking:
        return lacking
    hz, levels = np.array(sorted(points)).T
    variants = [(kind, skewed) for kind in kinds for skewed in (False, True)]
    fitted = (_fit(kind, hz, levels, sd_db, skewed=skewed) for kind, skewed in variants)
    candidates = sorted((one for one in fitted if one), key=lambda one: one.criterion)
    if not candidates:
        return CannotTell("no kind of circuit fits these readings; read the levels again", ())
    return _report(candidates, levels)


def _lacking(points: Points) -> CannotTell | None:
    places = sorted({hz for hz, _ in points})
    if len(places) < _LEAST_READINGS:
        more = _LEAST_READINGS - len(places)
        return CannotTell(f"{more} more readings at other frequencies are needed, on both sides of the peak", ())
    peak_hz, peak_db = max(points, key=lambda point: point[1])
    step = (places[-1] - places[0]) / (len(places) - 1)
    take = []
    for end_hz, beyond_hz in ((places[0], places[0] - step), (places[-1], places[-1] + step)):
        side = [level for hz, level in points if (hz <= peak_hz if end_hz == places[0] else hz >= peak_hz)]
        if peak_db - min(side) < _LEAST_FALL_DB:
            take.append(beyond_hz)
    if take:
        where = " and ".join(f"{hz / 1e3:.6g} kHz" for hz in take)
        return CannotTell(f"the level has hardly fallen towards one side; take a reading at {where}", tuple(take))
    return None


@dataclass(frozen=True, slots=True)
class _Problem:
    """One kind, with or without skew: its unknowns in units that make them near one."""

    shape: Resonators
    names: tuple[str, ...]
    top_hz: float
    width_hz: float

    def response(self, unknowns: Array) -> Resonators:
        given = dict(zip(self.names, (float(value) for value in unknowns), strict=True))
        return replace(
            self.shape,
            centre_hz=self.top_hz + given["centre"] * self.width_hz,
            quality=self.top_hz / self.width_hz * math.exp(given["quality"]),
            coupling=math.exp(given.get("coupling", 0.0)),
            skew=given.get("skew", 0.0),
        )

    def priors(self, unknowns: Array) -> Array:
        given = dict(zip(self.names, unknowns, strict=True))
        return np.array([given.get("coupling", 0.0) / _COUPLING_SD, given.get("skew", 0.0) / _SKEW_SD])

    def bounds(self, top_db: float) -> tuple[Array, Array]:
        low, high = (np.array([bound[_UNKNOWNS.index(name)] for name in self.names]) for bound in _BOUNDS)
        low[0], high[0] = top_db - 30, top_db + 30
        return low, high


def _fit(kind: Kind, hz: Array, levels: Array, sd_db: float, *, skewed: bool) -> _Candidate | None:
    shape = _SHAPES[kind]
    absent = {"coupling"} if shape.shape == "single" else set()
    names = tuple(name for name in _UNKNOWNS if name not in absent and (skewed or name != "skew"))
    if len(names) > len(hz):  # as many are allowed: coupling and skew have priors
        return None
    problem = _Problem(shape, names, *_first_guess(hz, levels))

    def left(unknowns: Array) -> Array:
        miss: Array = level_db(problem.response(unknowns), hz) + unknowns[0] - levels
        return miss

    def residuals(unknowns: Array) -> Array:
        return np.append(left(unknowns) / sd_db, problem.priors(unknowns))

    bounds = problem.bounds(float(levels.max()))
    solutions = [least_squares(residuals, start, bounds=bounds) for start in _starts(names, float(levels.max()))]
    found = min(solutions, key=lambda solution: float(solution.cost))
    try:
        return _judged(kind, problem, np.asarray(found.x), np.asarray(found.jac), left(np.asarray(found.x)), sd_db)
    except CircuitError:  # a solution without a peak or without skirts is none
        return None


def _judged(kind: Kind, problem: _Problem, best: Array, jacobian: Array, left: Array, sd_db: float) -> _Candidate:
    squares, spare = float(left @ left), max(len(left) - len(best), 1)
    covariance = covariance_of(jacobian) * max(1.0, squares / sd_db**2 / spare)
    seen, gradients = _gradients(problem.response, best, problem.width_hz)
    return _Candidate(
        kind,
        problem.response(best),
        float(best[0]),
        problem.names,
        covariance,
        criterion(left, sd_db, len(best)),
        math.sqrt(squares / len(left)),
        seen,
        gradients,
    )


def _first_guess(hz: Array, levels: Array) -> tuple[float, float]:
    """Middle and width of where the curve stands less than 3 dB (or half of what was read) below its top."""
    fine = np.linspace(hz[0], hz[-1], 2001)
    curve = np.interp(fine, hz, levels)
    near = fine[curve > levels.max() - min(3.0, float(np.ptp(levels)) / 2)]
    return float((near[0] + near[-1]) / 2), float(max(near[-1] - near[0], (hz[-1] - hz[0]) / 200))


def _starts(names: tuple[str, ...], top_db: float) -> list[Array]:
    couplings = (0.0, math.log(2.0)) if "coupling" in names else (0.0,)
    rows = []
    for coupling in couplings:
        for quality in (-0.4, 0.3):
            given = {"reference": top_db, "centre": 0.0, "quality": quality, "coupling": coupling, "skew": 0.0}
            rows.append(np.array([given[name] for name in names]))
    return rows


def _gradients(response: Callable[[Array], Resonators], best: Array, width_hz: float) -> tuple[Features, Array]:
    """Features at the best values, and their derivatives to the unknowns by central differences."""

    def seen(unknowns: Array) -> Features:
        built = response(unknowns)
        return features(built, built.centre_hz, width_hz)

    rows = []
    for at in range(len(best)):
        step = np.zeros(len(best))
        step[at] = 1e-4
        above, below = seen(best + step), seen(best - step)
        rows.append([(getattr(above, name) - getattr(below, name)) / 2e-4 for name in _FEATURES])
    return seen(best), np.array(rows).T


def _report(candidates: list[_Candidate], levels: Array) -> ResponseFit:
    best = candidates[0]
    criteria = [one.criterion for one in candidates]
    feature = {
        name: averaged([_own(one, name, at) for one in candidates], criteria) for at, name in enumerate(_FEATURES)
    }
    spread = dict(zip(best.names, np.sqrt(np.diag(best.covariance)).tolist(), strict=True))
    quality = Uncertain(best.response.quality, best.response.quality * spread["quality"])
    coupling = None
    if "coupling" in spread:
        coupling = Uncertain(best.response.coupling, best.response.coupling * spread["coupling"])
    rivals = dict.fromkeys(
        one.kind for one in candidates if one.criterion < best.criterion + 4 and one.kind != best.kind
    )
    peak = int(np.argmax(levels))
    deepest = min(float(levels[peak] - levels[: peak + 1].min()), float(levels[peak] - levels[peak:].min()))
    return ResponseFit(
        best.kind,
        best.response,
        best.reference_db,
        feature["centre_hz"],
        feature["width_3_hz"],
        feature["width_20_hz"],
        quality,
        coupling,
        feature["ripple_db"],
        feature["symmetry"],
        deepest,
        best.rms_db,
        tuple(rivals),
    )


def _own(one: _Candidate, name: str, at: int) -> Uncertain:
    variance = float(one.gradients[at] @ one.covariance @ one.gradients[at])
    return Uncertain(float(getattr(one.features, name)), math.sqrt(max(variance, 0.0)))
