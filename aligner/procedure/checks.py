"""What only the whole file can show: circuits against bands, and the order of the steps."""

from collections.abc import Sequence

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import (
    CoverageStep,
    ImageStep,
    ReadBackStep,
    SealStep,
    Step,
    TrackingStep,
    WarmUpStep,
)
from aligner.procedure.places import WholeSet


def check_whole(top: Table, whole: WholeSet, steps: Sequence[tuple[Step, Cell]], *, alone: bool) -> None:
    """All of it, unknown keys at the top too; `alone`: the file describes an IF strip and no band."""
    top.close()
    check_oscillators(top, whole)
    check_order(steps, whole)
    if alone:
        check_front_end(steps)


def check_oscillators(top: Table, whole: WholeSet) -> None:
    """One oscillator a band: with two nobody could say which one the counter reads."""
    for band in whole.bands:
        names = [circuit.id for circuit in whole.of_band("oscillator", band)]
        if len(names) > 1:
            cure = "give each its own bands = [...], or leave one oscillator"
            top.fault("circuit", f'several oscillators on the band "{band.id}": {", ".join(names)}', cure)


def check_order(steps: Sequence[tuple[Step, Cell]], whole: WholeSet) -> None:
    """A signal circuit can only follow an oscillator that is there and has been set."""
    for place, (step, cell) in enumerate(steps):
        if not isinstance(step, TrackingStep):
            continue
        band = next((band for band in whole.bands if band.id == step.band), None)
        if not whole.of_band("oscillator", band):
            found = "a tracking step without an oscillator to follow"
            cell.fault('add a circuit with role = "oscillator" for its band', found)
        for later, _ in steps[place + 1 :]:
            if isinstance(later, CoverageStep) and later.band == step.band:
                found = f'tracking before its oscillator is set by "{later.id}"'
                cell.fault(f'write the step "{step.id}" after "{later.id}"', found)
                break


_FRONT_END = (WarmUpStep, CoverageStep, TrackingStep, ImageStep, ReadBackStep, SealStep)
_STRIP_ROLES = ("if", "detector", "trap")


def strip_alone(top: Table) -> bool:
    """Whether all circuits belong to an IF strip, so that band and tuning may be left out."""
    return top.all_hold("circuit", "role", _STRIP_ROLES)


def check_front_end(steps: Sequence[tuple[Step, Cell]]) -> None:
    """A step that tunes the set needs a band to tune over."""
    for step, cell in steps:
        if isinstance(step, _FRONT_END):
            cure = f'leave the step "{step.id}" out, or describe the front end: [[band]], [tuning] and its circuits'
            cell.fault(cure, f'a step of the kind "{step.kind}" for an IF strip alone')
