"""What steps of several kinds have in common."""

from dataclasses import dataclass

from aligner.procedure.form import Table
from aligner.procedure.model import Band
from aligner.procedure.places import WholeSet


@dataclass(frozen=True, slots=True)
class StepHead:
    """What every step has."""

    id: str
    title: str


def read_band(table: Table, whole: WholeSet) -> Band | None:
    """The step's band; it need not be named where there is only one. None where it is at fault."""
    names = [band.id for band in whole.bands]
    cell = table.need("band", f"name the band: {', '.join(names)}") if len(names) > 1 else table.may("band")
    name = cell.reference(names, "band")
    if len(names) == 1 and not cell.given:
        return whole.bands[0]
    return next((band for band in whole.bands if band.id == name), None)
