"""What only the whole file can show: circuits against bands, and the order of the steps."""

from collections.abc import Sequence

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import CoverageStep, Step, TrackingStep
from aligner.procedure.places import WholeSet


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
