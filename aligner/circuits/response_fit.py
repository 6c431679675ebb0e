"""A response fitted to a handful of (frequency, level) readings, and which kind of circuit it looks like.

Several kinds of response are fitted by least squares of the levels, each with and without skew as far as the number of
readings allows, and besides poles alone (`poles`), for a real strip is seldom exactly of any kind. What explains the
readings best is chosen by an information criterion, n ln(s^2 + RSS/n) + k ln n: the curve is its own, and it has a name
where a kind explains the readings nearly as well. Uncertainties are those of the fit, as good as the readings show
themselves to be, plus how far others that explain the readings nearly as well would disagree.
"""

import math
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from scipy.optimize import least_squares

from aligner.circuits.candidates import FEATURES, Candidate, Kind, sds_of, seen_at
from aligner.circuits.features import features
from aligner.circuits.pole_fit import MOST_POLES, pole_candidate
from aligner.circuits.reals import Array
from aligner.circuits.response import Resonators, Response, level_db
from aligner.circuits.uncertain import CannotTell, Uncertain, averaged, covariance_of, criterion, noise_factor
from aligner.errors import CircuitError

Points: TypeAlias = tuple[tuple[float, float], ...]
"""(frequency [Hz], level [dB])."""

_SHAPES: dict[Kind, Resonators] = {
    "single": Resonators(1.0, 1.0),
    "cascade of two": Resonators(1.0, 1.0, stages=2),
    "cascade of three": Resonators(1.0, 1.0, stages=3),
    "pair": Resonators(1.0, 1.0, "pair"),
    "strip": Resonators(1.0, 1.0, "triple"),
    "strip of two": Resonators(1.0, 1.0, "triple", stages=2),
}
KINDS: tuple[Kind, ...] = (*_SHAPES, "poles")
"""The kinds that can be fitted."""

_LEAST_READINGS = 5
_LEAST_FALL_DB = 1.5
_COUPLING_SD = 1.0  # of ln(coupling): what is built lies between far under and far over critical
_SKEW_SD = 0.1
_ENOUGH = 1e-4  # of the squares: criteria closer than that are alike
_WORSE = 2  # more poles in vain
_TRIED = 2  # of the starts, those that lie nearest to the readings
_AS_WELL = 4.0  # of the criterion: what explains the readings nearly as well
_UNKNOWNS = ("reference", "centre", "quality", "coupling", "skew")
_BOUNDS = (-200.0, -3.0, -3.0, math.log(0.1), -0.6), (200.0, 3.0, 3.0, math.log(12.0), 0.6)


@dataclass(frozen=True, slots=True)
class ResponseFit:
    """A fitted response.

    Attributes
    ----------
    kind : Kind [-]
        The kind that explains the readings best with the fewest unknowns; "poles" where none does as well as they.
    response : Resonators or Poles [-]
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
        Loaded Q of each resonator (of the end ones of a strip); of "poles" centre over width.
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
    response: Response
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
    middle = _first_guess(hz, levels)
    named = [(kind, skewed) for kind in kinds if kind != "poles" for skewed in (False, True)]
    fitted = [_fit(kind, hz, levels, sd_db, middle, skewed=skewed) for kind, skewed in named]
    if "poles" in kinds:
        fitted += _pole_candidates(hz, levels, sd_db, middle)
    candidates = sorted((one for one in fitted if one), key=lambda one: one.criterion)
    if not candidates:
        return CannotTell("no kind of circuit fits these readings; read the levels again", ())
    return _report(candidates, levels)


def _pole_candidates(hz: Array, levels: Array, sd_db: float, middle: tuple[float, float]) -> list[Candidate]:
    """With one pole, two and so on, until more of them no longer explain the readings better."""
    found: list[Candidate] = []
    for count in range(1, min(MOST_POLES, (len(hz) - 2) // 2) + 1):
        one = pole_candidate(hz, levels, sd_db, count, middle)
        found += [one] if one else []
        if len(found) > _WORSE and min(map(_criterion, found[-_WORSE:])) > min(map(_criterion, found)):
            break
    return found


def _criterion(one: Candidate) -> float:
    return one.criterion


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


def _fit(
    kind: Kind, hz: Array, levels: Array, sd_db: float, middle: tuple[float, float], *, skewed: bool
) -> Candidate | None:
    shape = _SHAPES[kind]
    absent = {"coupling"} if shape.shape == "single" else set()
    names = tuple(name for name in _UNKNOWNS if name not in absent and (skewed or name != "skew"))
    if len(names) > len(hz):  # as many are allowed: coupling and skew have priors
        return None
    problem = _Problem(shape, names, *middle)

    def left(unknowns: Array) -> Array:
        miss: Array = level_db(problem.response(unknowns), hz) + unknowns[0] - levels
        return miss

    def residuals(unknowns: Array) -> Array:
        return np.append(left(unknowns) / sd_db, problem.priors(unknowns))

    bounds = problem.bounds(float(levels.max()))
    starts = _starts(names, float(levels.max()))
    near = sorted(starts, key=lambda start: float(np.sum(residuals(start) ** 2)))[:_TRIED]
    found = min(
        (least_squares(residuals, start, bounds=bounds, ftol=_ENOUGH, xtol=_ENOUGH) for start in near),
        key=lambda one: float(one.cost),
    )
    try:
        best = np.asarray(found.x)
        ends = (float(hz[0]), float(hz[-1]))
        return _judged(kind, problem, best, np.asarray(found.jac), left(best), sd_db, ends)
    except CircuitError:  # a solution without a peak or without skirts is none
        return None


def _judged(
    kind: Kind, problem: _Problem, best: Array, jacobian: Array, left: Array, sd_db: float, ends: tuple[float, float]
) -> Candidate:
    response = problem.response(best)
    seen = features(response, response.centre_hz, problem.width_hz)
    covariance = covariance_of(jacobian) * noise_factor(left, sd_db, len(best)) ** 2
    return Candidate(
        kind=kind,
        response=response,
        reference_db=float(best[0]),
        own=dict(zip(problem.names, np.sqrt(np.diag(covariance)).tolist(), strict=True)),
        criterion=criterion(left, 0.25 * sd_db, len(best)),
        rms_db=math.sqrt(float(left @ left) / len(left)),
        features=seen,
        sds=sds_of(response, seen, _slopes(problem, best, seen_at(seen)), covariance, ends),
    )


def _slopes(problem: _Problem, best: Array, hz: Array) -> Array:
    """Derivatives of the level at some frequencies to the unknowns, by central differences."""
    columns = [np.ones(len(hz))]
    for at in range(1, len(best)):
        step = np.zeros(len(best))
        step[at] = 1e-4
        above, below = (level_db(problem.response(best + sign * step), hz) for sign in (1, -1))
        columns.append((above - below) / 2e-4)
    return np.array(columns).T


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


def _report(candidates: list[Candidate], levels: Array) -> ResponseFit:
    best = candidates[0]
    named = next((one for one in candidates if one.kind != "poles" and one.criterion < best.criterion + _AS_WELL), best)
    criteria = [one.criterion for one in candidates]
    found = {name: averaged([one.of(at) for one in candidates], criteria) for at, name in enumerate(FEATURES)}
    rivals = dict.fromkeys(
        one.kind for one in candidates if one.criterion < best.criterion + _AS_WELL and one.kind != named.kind
    )
    peak = int(np.argmax(levels))
    deepest = min(float(levels[peak] - levels[: peak + 1].min()), float(levels[peak] - levels[peak:].min()))
    return ResponseFit(
        kind=named.kind,
        response=best.response,
        reference_db=best.reference_db,
        quality=_quality(named),
        coupling=_coupling(named),
        deepest_db=deepest,
        rms_db=best.rms_db,
        rivals=tuple(rivals),
        **found,
    )


def _quality(named: Candidate) -> Uncertain:
    """Q of each resonator; where no kind has a name, of the whole: centre over width."""
    if isinstance(named.response, Resonators):
        return Uncertain(named.response.quality, named.response.quality * named.own["quality"])
    seen = named.features
    whole = seen.centre_hz / seen.width_3_hz
    return Uncertain(whole, whole * named.of(FEATURES.index("width_3_hz")).sd / seen.width_3_hz)


def _coupling(named: Candidate) -> Uncertain | None:
    if not isinstance(named.response, Resonators) or "coupling" not in named.own:
        return None
    return Uncertain(named.response.coupling, named.response.coupling * named.own["coupling"])
