"""`if-sweep`: the response of the IF strip, whose centre is the IF from then on."""

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import IfSweepStep
from aligner.procedure.places import WholeSet
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead
from aligner.procedure.strip_form import check_width, read_cans, read_count, read_rest, read_span

USUAL_SPAN = 0.05
_WIDTHS_EXAMPLE = 'a list such as ["230 kHz", "180 kHz"]'


def read_if_sweep(table: Table, head: StepHead, whole: WholeSet) -> IfSweepStep | None:
    """A span, how sure the centre shall be, and how far from nominal it may lie."""
    span = read_span(table, whole, USUAL_SPAN)
    tolerance_cell = table.need("tolerance", 'write how sure the centre shall be, such as "5 kHz"')
    tolerance_hz = tolerance_cell.quantity("Hz")
    check_width(tolerance_cell, tolerance_hz, span)
    off_cell = table.may("off-nominal")
    off_hz = off_cell.quantity("Hz")
    check_width(off_cell, off_hz, span)
    cans_cell = table.may("cans")
    cans = read_cans(cans_cell, whole) if cans_cell.given else tuple(whole.ids("if"))
    filters = _widths(table.may("filters"), span)
    count, place = read_count(table), read_rest(table, whole)
    generator = read_generator(table.may("generator").table())
    if tolerance_hz is None:
        return None
    return IfSweepStep(
        head.id,
        span,
        tolerance_hz,
        cans,
        count,
        off_hz,
        filters,
        place,
        title=head.title,
        generator=generator,
    )


def _widths(cell: Cell, span: tuple[float, float]) -> tuple[float, ...]:
    """Stated -3 dB widths of ceramic filters in cascade; the same width may stand twice."""
    widths = []
    for row in cell.rows(_WIDTHS_EXAMPLE):
        hz = row.quantity("Hz")
        if hz is not None and hz >= span[1] - span[0]:
            row.fault("write the width of the filter, less than the span")
        elif hz is not None:
            widths.append(hz)
    return tuple(widths)
