"""What a tracking step allows at a frequency."""

from typing import TYPE_CHECKING

from aligner.circuits.resonance import detuning_of_fall
from aligner.estimate.frame import Frame
from aligner.procedure.model import TrackingStep
from aligner.quantity import show

if TYPE_CHECKING:
    from aligner.engine.bench import Bench


def tolerance_hz(bench: "Bench", step: TrackingStep, hz: float) -> float:
    """The tolerance [Hz] at a frequency: as given, or what costs the given loss at the circuit's Q."""
    return tolerance_in(bench.frame(step.band), step, hz)


def tolerance_in(frame: Frame, step: TrackingStep, hz: float) -> float:
    """The same by the frame of the step's band."""
    if step.tolerance_hz is not None:
        return step.tolerance_hz
    q = frame.circuits[step.circuit].q
    return float(detuning_of_fall(step.tolerance_db or 0.3)) * hz / (2.0 * q)


def allowed_words(hz: float) -> str:
    """A tolerance [Hz] as it is told: one that follows from a loss is worth no more than three digits."""
    return show(float(f"{hz:.3g}"), "Hz")
