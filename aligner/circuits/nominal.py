"""Nominal values, before anything is measured: the coil, trimmer and padder that meet targets on a tuning element."""

from dataclasses import dataclass, replace
from itertools import product
from typing import Literal, TypeAlias

import numpy as np
from scipy.optimize import linprog

from aligner.circuits.minimax import BestPoints, Hardware, Measure, error_curve, minimax_points
from aligner.circuits.reals import Array
from aligner.circuits.solve import Part, solve_circuit
from aligner.circuits.superhet import Side, received_hz
from aligner.circuits.tank import TunedCircuit, capacitance_for_f
from aligner.circuits.tracking import TrackingCurve
from aligner.errors import CircuitError

Scale = Literal["signal", "received"]
"""What the places of a curve go by: the signal circuit's resonance (a gang's dial), or what is received there."""
Spot: TypeAlias = tuple[float, float]
"""(capacitance of the tuning element [F], resonance wanted there [Hz])."""

_BETTER_WEIGHTS = 3
_STARTS = tuple(product((0.0, 0.05, 0.3), (1.0, 4.0, 16.0)))  # trimmer and padder, against the largest tuning value


@dataclass(frozen=True, slots=True)
class Nominal:
    """A circuit brought to its targets as nearly as its parts allow.

    Attributes
    ----------
    circuit : TunedCircuit [-]
        Its values.
    error_hz : tuple of float [Hz]
        Resonance reached - resonance wanted, at each target.
    """

    circuit: TunedCircuit
    error_hz: tuple[float, ...]


def circuit_through(first: Spot, second: Spot) -> TunedCircuit:
    """Coil and trimmer of a circuit without padder from two places: L = (Y1 - Y2) / (4 pi^2 (c1 - c2)), t = C1 - c1.

    Parameters
    ----------
    first : (float, float) [F; Hz]
        Capacitance of the tuning element, and resonance wanted there.
    second : (float, float) [F; Hz]
        The same at another place.

    Returns
    -------
    TunedCircuit [-]
        Coil and trimmer (with all strays); the trimmer is negative where the tuning element alone is too large.
        Source: derived from y = 4 pi^2 L (c + t).

    Raises
    ------
    CircuitError
        Where more capacitance would have to give a higher frequency.
    """
    slope = (capacitance_for_f(first[1], 1.0) - capacitance_for_f(second[1], 1.0)) / (
        (first[0] - second[0]) or float("nan")
    )
    if not slope > 0:
        message = (
            f"no coil and trimmer give {first[1]:.6g} Hz at {first[0] * 1e12:.4g} pF "
            f"and {second[1]:.6g} Hz at {second[0] * 1e12:.4g} pF; check the tuning's curve against the points"
        )
        raise CircuitError(message)
    return TunedCircuit(slope, capacitance_for_f(first[1], slope) - first[0])


def nominal_circuit(shape: TunedCircuit, spots: tuple[Spot, ...], free: tuple[Part, ...], measure: Measure) -> Nominal:
    """The values that bring a circuit to its targets; with more targets than values the greatest error is made least.

    Parameters
    ----------
    shape : TunedCircuit [-]
        Where the trimmer lies, whether there is a padder (any value), and the trimmer where it is not free.
    spots : tuple of (float, float) [F; Hz]
        Tuning element and resonance wanted at each target.
    free : tuple of "inductance", "trimmer", "padder" [-]
        What is sought in a circuit with padder, at most as many as targets; without padder it is coil and trimmer
        (one target: the coil).
    measure : "relative" or "hz" [-]
        What is made least where not all can be met; with a padder always the squares of the relative errors.

    Returns
    -------
    Nominal [-]
        Values and what is left at the targets. Source: `circuit_through`, `balanced_circuit`, `solve_circuit`.
    """
    tuning, wanted = (np.array(column) for column in zip(*spots, strict=True))
    if shape.padder_f is not None:
        circuit = _padded(shape, tuning, wanted, free)
    elif len(spots) == 1:
        circuit = replace(shape, inductance_h=float(shape.inductance_for_h(wanted, tuning)[0]))
    elif len(spots) == 2:
        circuit = circuit_through(*spots)
    else:
        circuit = balanced_circuit(tuning, wanted, measure)
    return Nominal(circuit, tuple((circuit.resonance_hz(tuning) - wanted).tolist()))


def _padded(shape: TunedCircuit, tuning_f: Array, wanted_hz: Array, free: tuple[Part, ...]) -> TunedCircuit:
    """From several starts: a padder far larger than the tuning element hardly acts, and the search would end there."""
    largest = float(tuning_f.max())
    found = []
    for trimmer, padder in _STARTS:
        start = replace(shape, padder_f=padder * largest)
        if "trimmer" in free:
            start = replace(start, trimmer_f=trimmer * largest)
        coil = float(np.exp(np.mean(np.log(start.inductance_for_h(wanted_hz, tuning_f)))))
        found.append(solve_circuit(replace(start, inductance_h=coil), tuning_f, wanted_hz, free))
    return min(found, key=lambda solution: float(np.max(np.abs(solution.error_hz / wanted_hz)))).circuit


def balanced_circuit(tuning_f: Array, wanted_hz: Array, measure: Measure) -> TunedCircuit:
    """Coil and trimmer that make the greatest error over many places least: a few linear programmes in L and L t.

    With a = 4 pi^2 L and b = a t the error in y is e = (a c + b) / Y - 1, linear in both; that in frequency is
    (1 + e)^-1/2 - 1, and its ratio to e, found at one solution, is the weight of the place in the next.

    Parameters
    ----------
    tuning_f : array (n,) [F]
        Capacitance of the tuning element, n of 2 or more.
    wanted_hz : array (n,) [Hz]
        Resonance wanted.
    measure : "relative" or "hz" [-]
        Whether relative errors or errors in Hz are weighed alike.

    Returns
    -------
    TunedCircuit [-]
        Coil and trimmer. Source: derived; minimax over a list of places as a linear programme is textbook knowledge.

    Raises
    ------
    CircuitError
        Where no coil comes of it.
    """
    unit_f, unit_hz = float(np.mean(tuning_f)), float(np.mean(wanted_hz))
    rows = np.column_stack((tuning_f / unit_f, np.ones_like(tuning_f))) * ((wanted_hz / unit_hz) ** 2)[:, None]
    kind = wanted_hz / unit_hz if measure == "hz" else np.ones_like(wanted_hz)
    slope, shift = _least_greatest(rows, kind)
    for _ in range(_BETTER_WEIGHTS):
        error = np.maximum(rows @ np.array([slope, shift]) - 1, -0.9)
        nought = np.abs(error) < 1e-12
        ratio = np.where(nought, 0.5, np.abs((1 + error) ** -0.5 - 1) / np.where(nought, 1.0, np.abs(error)))
        slope, shift = _least_greatest(rows, kind * 2 * ratio)
    return TunedCircuit(slope * capacitance_for_f(unit_hz, 1.0) / unit_f, shift / slope * unit_f)


def _least_greatest(rows: Array, weight: Array) -> tuple[float, float]:
    """The two factors that make max |weight (rows @ factors - 1)| least."""
    weighted, bound = rows * weight[:, None], -np.ones((len(weight), 1))
    found = linprog(
        [0.0, 0.0, 1.0],
        A_ub=np.vstack((np.hstack((weighted, bound)), np.hstack((-weighted, bound)))),
        b_ub=np.concatenate((weight, -weight)),
        bounds=[(0.0, None), (None, None), (0.0, None)],
    )
    if found.x is None or not found.success or not found.x[0] > 0:
        message = "no coil and trimmer follow these places; check the tuning's curve against the points"
        raise CircuitError(message)
    return float(found.x[0]), float(found.x[1])


def along_tuning(
    signal: TunedCircuit, oscillator: TunedCircuit, tuning_f: Array, intermediate_hz: float, side: Side
) -> TrackingCurve:
    """Tracking error along the tuning, refused where a circuit has no capacitance left or nothing can be received.

    Parameters
    ----------
    signal : TunedCircuit [-]
        The signal circuit.
    oscillator : TunedCircuit [-]
        The oscillator circuit.
    tuning_f : array (n,) [F]
        Capacitance of the tuning element.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.

    Returns
    -------
    TrackingCurve [-]
        Frequency received and tracking error. Source: definition.

    Raises
    ------
    CircuitError
        Where a capacitance or a frequency received is not above zero.
    """
    for circuit in (signal, oscillator):
        if not np.all(circuit.capacitance_f(tuning_f) > 0):
            message = "a circuit has no capacitance left at an end of the band; check the tuning's curve and points"
            raise CircuitError(message)
    received = received_hz(oscillator.resonance_hz(tuning_f), intermediate_hz, side)
    if not np.all(received > 0):
        message = "the oscillator comes nearer to nought than the IF at an end of the band; check curve and points"
        raise CircuitError(message)
    return TrackingCurve(received, signal.resonance_hz(tuning_f) - received)


def even_places_hz(low_hz: float, high_hz: float, count: int) -> Array:
    """Places spread evenly over a band, ends included.

    Parameters
    ----------
    low_hz : float [Hz]
        Lower end.
    high_hz : float [Hz]
        Upper end.
    count : int [1]
        How many, two or more.

    Returns
    -------
    array (count,) [Hz]
        The places, rising. Source: definition.
    """
    return np.linspace(low_hz, high_hz, count)


def best_on_scale(
    band_hz: tuple[float, float],
    intermediate_hz: float,
    side: Side,
    hardware: Hardware,
    measure: Measure,
    scale: Scale,
) -> BestPoints:
    """The best tracking points where the band's ends are ends of a dial, or of what is received.

    Parameters
    ----------
    band_hz : (float, float) [Hz]
        Ends of the band, on the scale.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.
    hardware : "padded" or "unpadded" [-]
        Coil, trimmer and padder (three points); or coil and trimmer (two points).
    measure : "relative" or "hz" [-]
        Relative detuning, or tracking error in Hz.
    scale : "signal" or "received" [-]
        What the band's ends are ends of.

    Returns
    -------
    BestPoints [-]
        Points, and tracking errors in the measure (signal circuit - received). Source: `minimax_points`.
    """

    def errors(points_hz: Array, at_hz: Array) -> Array:
        if scale == "signal" and side == "above":
            off = error_curve(points_hz, at_hz, intermediate_hz, side, hardware, "hz")
            return -off if measure == "hz" else -off / (at_hz + off)
        relative = error_curve(points_hz, at_hz, intermediate_hz, side, hardware, "relative")
        return relative * at_hz if measure == "hz" else relative

    return minimax_points(errors, *band_hz, 3 if hardware == "padded" else 2)
