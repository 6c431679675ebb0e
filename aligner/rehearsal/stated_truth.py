"""The true values of what is stated with an uncertainty: errors at points, what a turn does, Q, a wand's pulls."""

import math

import numpy as np

from aligner.procedure.model import CoverageStep, Procedure, TrackingStep
from aligner.rehearsal.parts import TunedCircuit
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.truth import Truth

_NUDGE = 0.01  # [turn] either way, for a slope


class StatedTruth:
    """The truth about one virtual set as it stands now, value by value."""

    def __init__(self, virtual: VirtualSet) -> None:
        self._set = virtual
        self._truth = Truth(virtual)
        self._procedure: Procedure = virtual.procedure

    def value(self, step_id: str, about: str, at_hz: float, adjuster: str) -> float | None:
        """The true value, in the terms it is stated in; None where it has none that could be stated."""
        step = self._procedure.step(step_id)
        if not isinstance(step, CoverageStep | TrackingStep) or self._led_by_a_signal(step):
            return None
        circuit = self._set.parts.circuit(step.circuit)
        self._set.bench.begin(step.band)
        match about:
            case "error":
                found = self._error(step, at_hz)
            case "turn":
                found = self._turn(step, circuit, at_hz, adjuster)
            case "quality":
                found = math.log(circuit.coil.quality)
            case "ferrite":
                found = math.log1p(circuit.coil.ferrite_pull)
            case _:
                found = -math.log1p(-circuit.coil.brass_pull)
        if about in ("ferrite", "brass"):
            found = math.log(found)
        return found if math.isfinite(found) else None

    def _led_by_a_signal(self, step: CoverageStep | TrackingStep) -> bool:
        return isinstance(step, CoverageStep) and step.leader == "signal"

    def _error(self, step: CoverageStep | TrackingStep, at_hz: float) -> float:
        if isinstance(step, TrackingStep):
            return float(self._truth.tracking_errors_hz(step.circuit, np.array([at_hz]), step.band)[0])
        errors = self._truth.oscillator_errors_hz(step)
        return float(errors[[point.received_hz for point in step.points].index(at_hz)])

    def _turn(self, step: CoverageStep | TrackingStep, circuit: TunedCircuit, at_hz: float, adjuster: str) -> float:
        """By a clockwise turn, from where the screw stands [Hz]."""
        if isinstance(step, TrackingStep):
            tuning = float(self._truth.tunings(np.array([at_hz]), step.band)[0])
        else:
            tuning = self._truth.tuning(next(point for point in step.points if point.received_hz == at_hz))
        places, screw = self._set.positions(), self._set.parts.screw(adjuster)
        circuits = self._truth.electrical(step.band)
        at = np.array([places[adjuster] - _NUDGE, places[adjuster] + _NUDGE])
        below, above = np.asarray(circuits.resonance(circuit, tuning, {**places, adjuster: at}))
        return float(above - below) / (2 * _NUDGE) * screw.clockwise
