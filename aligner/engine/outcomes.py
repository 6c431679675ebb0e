"""Outcomes of steps that have no error to show."""

from aligner.engine.asks import Ask
from aligner.engine.bench import Outcome
from aligner.engine.survey import StepReport, StepState
from aligner.procedure.model import Step


def plain(step: Step, state: StepState, why: str, ask: Ask | None = None) -> Outcome:
    """A state, why, and the ask that would bring the step on."""
    return Outcome(StepReport(step.id, step.kind, step.title, state, why), ask)


def busy(*, passed: bool) -> StepState:
    """The state of a step that has something left to ask: a passed one has been disturbed."""
    return "disturbed" if passed else "to-do"
