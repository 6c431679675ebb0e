"""`image`: how much weaker the image is than the wanted signal."""

from aligner.procedure.form import Table
from aligner.procedure.model import ImageStep
from aligner.procedure.places import WholeSet
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead, read_band
from aligner.procedure.step_tracking import read_frequencies

_POINTS_EXAMPLE = 'a list such as ["90 MHz", "106 MHz"]'


def read_image(table: Table, head: StepHead, whole: WholeSet) -> ImageStep:
    """Places, and how much weaker the image shall be there at least."""
    band = read_band(table, whole)
    points = read_frequencies(table.need("points", f"write {_POINTS_EXAMPLE}"), band)
    least_db = table.may("rejection").quantity("dB")
    generator = read_generator(table.may("generator").table())
    return ImageStep(head.id, points, least_db, band.id if band else "", title=head.title, generator=generator)
