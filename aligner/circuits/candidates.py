"""One way to explain readings of a response: its curve, its features, and how sure the readings make them.

Standard errors of features are carried over from those of the unknowns. An edge at a fixed fall below the peak moves by
(dL(peak) - dL(edge)) / L'(edge) when an unknown moves the level by dL; so only the slopes of the level at the peak, the
dip and the edges are needed, and no feature has to be found again.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from aligner.circuits.features import Features
from aligner.circuits.reals import Array
from aligner.circuits.response import Response, level_db
from aligner.circuits.uncertain import Uncertain

Kind = Literal["single", "cascade of two", "cascade of three", "pair", "strip", "strip of two", "poles"]
"""What a response may be called; "poles": nothing but that many resonators."""
FEATURES = ("centre_hz", "width_3_hz", "width_20_hz", "ripple_db", "symmetry")
"""What is carried over, in this order."""
_NUDGE = 1e-6
_CARRIED_ON = 1.5
_LEAST_SLOPE = 1e-12  # [dB/Hz]: an edge on a flank as flat as this lies nowhere


@dataclass(frozen=True, slots=True)
class Candidate:
    """One fitted response.

    Attributes
    ----------
    kind : Kind [-]
        What it is called.
    response : Response [-]
        The response, 1 at its centre.
    reference_db : float [dB]
        Level read there, by the fit.
    own : dict of str to float [1]
        Standard error of each unknown that has a name.
    criterion : float [1]
        Information criterion.
    rms_db : float [dB]
        Root mean square of what the fit leaves.
    features : Features [-]
        Its features.
    sds : tuple of float [as FEATURES]
        Their standard errors.
    """

    kind: Kind
    response: Response
    reference_db: float
    own: dict[str, float]
    criterion: float
    rms_db: float
    features: Features
    sds: tuple[float, ...]

    def of(self, at: int) -> Uncertain:
        """A feature with its standard error.

        Parameters
        ----------
        at : int [1]
            Which of FEATURES.

        Returns
        -------
        Uncertain [as the feature]
            Value and standard error.
        """
        return Uncertain(float(getattr(self.features, FEATURES[at])), self.sds[at])


def seen_at(seen: Features) -> Array:
    """The places whose slopes settle how sure the features are.

    Parameters
    ----------
    seen : Features [-]
        Features of a response.

    Returns
    -------
    array (6,) [Hz]
        Peak, dip, lower and upper half-power point, lower and upper -20 dB point.
    """
    return np.array([seen.peak_hz, seen.dip_hz, *seen.edges_3_hz, *seen.edges_20_hz])


def sds_of(
    response: Response, seen: Features, slopes: Array, covariance: Array, ends: tuple[float, float]
) -> tuple[float, ...]:
    """Standard errors of the features.

    Parameters
    ----------
    response : Response [-]
        The response.
    seen : Features [-]
        Its features.
    slopes : array (6, k) [dB by unknown]
        Derivatives of the level to the unknowns at `seen_at`.
    covariance : array (k, k) [product of two unknowns]
        Covariance of the unknowns.
    ends : (float, float) [Hz]
        Least and greatest frequency that was read.

    Returns
    -------
    tuple of float [as FEATURES]
        Standard errors. Source: linear propagation of errors; see the module. An edge beyond the readings may lie
        anywhere about there, for what resonates out there was not seen: half as far again as it was carried on.
    """
    peak, dip, *at_edges = slopes
    edges = np.array([*seen.edges_3_hz, *seen.edges_20_hz])
    step = _NUDGE * edges
    steep = (level_db(response, edges + step) - level_db(response, edges - step)) / (2.0 * step)
    steep = np.where(np.abs(steep) < _LEAST_SLOPE, _LEAST_SLOPE, steep)
    low_3, high_3, low_20, high_20 = ((peak - row) / slope for row, slope in zip(at_edges, steep, strict=True))
    centre = (low_3 + high_3) / 2.0
    wide = high_20 - low_20
    symmetry = ((low_20 + high_20) / 2.0 - centre - seen.symmetry * wide) / seen.width_20_hz
    rows = (centre, high_3 - low_3, wide, peak - dip, symmetry)
    seen_sds = np.sqrt([max(float(row @ covariance @ row), 0.0) for row in rows])
    far_3, far_20 = (_CARRIED_ON * _beyond(pair, ends) for pair in (seen.edges_3_hz, seen.edges_20_hz))
    unseen = np.array([far_3 / 2.0, far_3, far_20, 0.0, math.hypot(far_3, far_20) / (2.0 * seen.width_20_hz)])
    return tuple(np.hypot(seen_sds, unseen).tolist())


def _beyond(edges: tuple[float, float], ends: tuple[float, float]) -> float:
    """How far [Hz] edges lie outside of what was read, both sides together."""
    return math.hypot(max(ends[0] - edges[0], 0.0), max(edges[1] - ends[1], 0.0))
