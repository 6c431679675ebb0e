"""What a tracking step allows at a frequency."""

from typing import TYPE_CHECKING

from aligner.circuits.resonance import detuning_of_fall
from aligner.procedure.model import TrackingStep
from aligner.quantity import show

if TYPE_CHECKING:
    from aligner.engine.bench import Bench


def tolerance_hz(bench: "Bench", step: TrackingStep, hz: float) -> float:
    """The tolerance [Hz] at a frequency: as given, or what costs the given loss at the circuit's Q as it is known."""
    return tolerance_in(step, hz, quality_of(bench, step))


def quality_of(bench: "Bench", step: TrackingStep) -> float:
    """The Q that a tolerance given as a loss goes by; nought where it is given in hertz and goes by none."""
    return 0.0 if step.tolerance_hz is not None else bench.belief(step.band).circuits[step.circuit].quality[0]


def tolerance_in(step: TrackingStep, hz: float, quality: float) -> float:
    """The same by a Q."""
    if step.tolerance_hz is not None:
        return step.tolerance_hz
    return float(detuning_of_fall(step.tolerance_db or 0.3)) * hz / (2.0 * quality)


def allowed_words(hz: float) -> str:
    """A tolerance [Hz] as it is told: one that follows from a loss is worth no more than three digits."""
    return show(float(f"{hz:.3g}"), "Hz")
