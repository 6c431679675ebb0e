"""`if-peak`: the cans of the IF strip peaked, from the last to the first."""

from aligner.procedure.form import Table
from aligner.procedure.model import IfPeakStep
from aligner.procedure.places import WholeSet
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead
from aligner.procedure.strip_form import read_cans, read_rest

USUAL_SWAMP = "a few kilohms in series with 10 nF"


def read_if_peak(table: Table, head: StepHead, whole: WholeSet) -> IfPeakStep | None:
    """The cans in the order of the signal, which of them are swamped and with what, and how the AGC line is held."""
    cans = read_cans(table.need("cans", 'name the cans in the order of the signal, such as ["if-1", "if-2"]'), whole)
    swamped_cell = table.may("swamped")
    swamped = read_cans(swamped_cell, whole, cans)
    for name in swamped:
        turned = sum(name in adjuster.circuits for adjuster in whole.adjusters)
        if turned < 2:
            cure = "describe both windings' adjusters, or leave the can out of this list"
            swamped_cell.fault(cure, f'a can with one adjuster, "{name}": there is no other winding to load')
    swamp_cell = table.may("swamp")
    if swamp_cell.given and not swamped_cell.given:
        swamp_cell.fault('leave it out, or name the cans under "swamped"', "something to swamp with, and no can for it")
    swamp = swamp_cell.text(120) or USUAL_SWAMP
    clamp = table.may("clamp").text(200) or ""
    tolerance_hz = table.may("tolerance").quantity("Hz")
    place = read_rest(table, whole)
    generator = read_generator(table.may("generator").table())
    if not cans:
        return None
    return IfPeakStep(head.id, cans, swamped, swamp, clamp, tolerance_hz, place, title=head.title, generator=generator)
