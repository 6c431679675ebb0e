"""The step `prepare`: things to confirm one by one; the hazards of the procedure come before everything."""

from aligner.engine.answers import Done
from aligner.engine.asks import Confirm
from aligner.engine.bench import Bench, Outcome
from aligner.engine.ledger import confirmed
from aligner.engine.survey import StepReport
from aligner.procedure.hazards import cautions
from aligner.procedure.model import PrepareStep


def work(bench: Bench, step: PrepareStep) -> Outcome:
    """Held when everything is confirmed."""
    done = confirmed(bench.ledger, step.id)
    if done >= len(step.confirm):
        return Outcome(StepReport(step.id, step.kind, step.title, "held", f"all {len(step.confirm)} confirmed"))
    why = f"{done + 1} of {len(step.confirm)} things to see to before this job goes on."
    ask = Confirm(id=0, step=step.id, text=step.confirm[done], why=why)
    return Outcome(StepReport(step.id, step.kind, step.title, "to-do", f"{done} of {len(step.confirm)} confirmed"), ask)


def hazard_ask(bench: Bench) -> Confirm | None:
    """The next hazard that is not confirmed yet; they belong to the first step and cannot be set aside."""
    done = sum(isinstance(e.ask, Confirm) and e.ask.hazard and isinstance(e.answer, Done) for e in bench.ledger.entries)
    hazards = bench.procedure.hazards
    if done >= len(hazards):
        return None
    why = f"Caution {done + 1} of {len(hazards)}; confirm that you have read it and work accordingly."
    return Confirm(id=0, step=bench.procedure.steps[0].id, text=cautions(hazards[done]), why=why, hazard=True)
