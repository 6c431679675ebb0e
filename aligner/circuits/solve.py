"""Any of coil, trimmer and padder solved numerically for resonances at points of the tuning."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from scipy.optimize import least_squares

from aligner.circuits.reals import Array
from aligner.circuits.tank import TunedCircuit
from aligner.errors import CircuitError

Part = Literal["inductance", "trimmer", "padder"]
Travel: TypeAlias = Mapping[Part, tuple[float, float]]
"""The range of a part's value, [H] or [F]."""

_WIDEST = math.log(1e3)  # a coil or padder is looked for within a factor of a thousand of its start
_LARGEST_TRIMMER = 10.0  # times the largest value of the tuning element
_AT_END = 1e-6  # of the travel


@dataclass(frozen=True, slots=True)
class Solution:
    """What the solver found.

    Attributes
    ----------
    circuit : TunedCircuit [-]
        The circuit with the parts solved for.
    error_hz : array (n,) [Hz]
        Resonance reached - resonance wanted, at each point.
    at_end : tuple of Part [-]
        The parts that stand at an end of their travel.
    """

    circuit: TunedCircuit
    error_hz: Array
    at_end: tuple[Part, ...]

    @property
    def worst_hz(self) -> float:
        """The largest error left over all points [Hz]; near zero where the targets can be reached."""
        return float(np.max(np.abs(self.error_hz)))


def solve_circuit(
    circuit: TunedCircuit, tuning_f: Array, wanted_hz: Array, free: tuple[Part, ...], travel: Travel | None = None
) -> Solution:
    """The parts that bring a circuit's resonances to what is wanted: least squares of ln f.

    Parameters
    ----------
    circuit : TunedCircuit [-]
        The circuit as it is; the start of the search.
    tuning_f : array (n,) [F]
        Capacitance of the tuning element at the points.
    wanted_hz : array (n,) [Hz]
        Resonances wanted there.
    free : tuple of "inductance", "trimmer", "padder" [-]
        Parts to be solved for, at most as many as points.
    travel : mapping of part to (float, float) [H or F]
        Range of a part; without it coil and padder are sought within a factor 1000 of the start, a trimmer from zero.

    Returns
    -------
    Solution [-]
        Circuit, errors left at the points, parts at an end. With fewer parts than points the relative errors are
        balanced by least squares. Source: derived; closed forms exist for special cases only.

    Raises
    ------
    CircuitError
        Where more is to be solved for than points are given, or a padder where the circuit has none.
    """
    if len(free) > len(tuning_f) or ("padder" in free and circuit.padder_f is None):
        message = f"{len(tuning_f)} points do not settle {', '.join(free)} here; give more points or fewer parts"
        raise CircuitError(message)
    scale_f = float(np.max(tuning_f))
    start = _unknowns(circuit, free, scale_f)
    low, high = _bounds(start, free, travel or {}, scale_f)

    def residuals(unknowns: Array) -> Array:
        miss: Array = np.log(_with(circuit, free, unknowns, scale_f).resonance_hz(tuning_f) / wanted_hz)
        return miss

    inner = low + 1e-9 * (high - low), high - 1e-9 * (high - low)
    found = least_squares(
        residuals, np.clip(start, *inner), bounds=(low, high), x_scale="jac", xtol=1e-15, ftol=1e-15, gtol=1e-15
    )
    solved = _with(circuit, free, np.asarray(found.x), scale_f)
    slack = _AT_END * (high - low)
    near_end = (found.x - low < slack) | (high - found.x < slack)
    at_end = tuple(part for part, near in zip(free, near_end, strict=True) if near)
    return Solution(solved, solved.resonance_hz(tuning_f) - wanted_hz, at_end)


def _unknowns(circuit: TunedCircuit, free: tuple[Part, ...], scale_f: float) -> Array:
    """ln of coil and padder; the trimmer, which may be zero, against the tuning element, so that all are near one."""
    values = {"inductance": math.log(circuit.inductance_h), "trimmer": circuit.trimmer_f / scale_f}
    if circuit.padder_f is not None:
        values["padder"] = math.log(circuit.padder_f)
    return np.array([values[part] for part in free])


def _with(circuit: TunedCircuit, free: tuple[Part, ...], unknowns: Array, scale_f: float) -> TunedCircuit:
    given = dict(zip(free, (float(value) for value in unknowns), strict=True))
    return replace(
        circuit,
        inductance_h=math.exp(given["inductance"]) if "inductance" in given else circuit.inductance_h,
        trimmer_f=given["trimmer"] * scale_f if "trimmer" in given else circuit.trimmer_f,
        padder_f=math.exp(given["padder"]) if "padder" in given else circuit.padder_f,
    )


def _bounds(start: Array, free: tuple[Part, ...], travel: Travel, scale_f: float) -> tuple[Array, Array]:
    low, high = [], []
    for part, value in zip(free, start, strict=True):
        if part == "trimmer":
            ends = travel.get(part, (0.0, (_LARGEST_TRIMMER + value) * scale_f))
            ends = ends[0] / scale_f, ends[1] / scale_f
        elif part in travel:
            ends = math.log(travel[part][0]), math.log(travel[part][1])
        else:
            ends = value - _WIDEST, value + _WIDEST
        low.append(ends[0])
        high.append(ends[1])
    return np.array(low), np.array(high)
