"""`coverage`: the oscillator made to cover the band."""

from collections.abc import Sequence
from typing import Literal

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import Band, CoveragePoint, CoverageStep
from aligner.procedure.places import WholeSet, check_tolerance, read_where
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead, read_band

LEADERS: tuple[Literal["oscillator", "signal"], ...] = ("oscillator", "signal")
_EXAMPLE = 'such as [{ dial = "600 kHz" }, { dial = "1400 kHz" }]'


def read_coverage(table: Table, head: StepHead, whole: WholeSet) -> CoverageStep | None:
    """Points of the tuning with what shall be received there, and one tolerance."""
    band = read_band(table, whole)
    circuit = _oscillator(table, whole, band)
    points = _points(table.need("points", f"write a list of points, {_EXAMPLE}"), whole, band)
    tolerance = table.need("tolerance", 'write how far it may be off, such as "50 kHz"')
    tolerance_hz = tolerance.quantity("Hz")
    check_tolerance(tolerance, tolerance_hz, band)
    leader_cell = table.may("leader")
    leader = leader_cell.choice(LEADERS) or "oscillator"
    if leader == "signal" and whole.circuits and not whole.of_band("signal", band):
        leader_cell.fault("leave it out, or describe the signal circuit that leads", "no signal circuit on this band")
    generator = read_generator(table.may("generator").table())
    if tolerance_hz is None or circuit is None:
        return None
    band_id = band.id if band else ""
    return CoverageStep(head.id, points, tolerance_hz, circuit, leader, band_id, title=head.title, generator=generator)


def _oscillator(table: Table, whole: WholeSet, band: Band | None) -> str | None:
    """The oscillator of the band, unless another is named; something of it must be adjustable."""
    cell = table.may("circuit")
    if cell.given:
        name = cell.reference(whole.ids("oscillator"), "oscillator circuit")
    else:
        name = next((circuit.id for circuit in whole.of_band("oscillator", band)), None)
        if name is None and whole.circuits:
            cure = 'add a circuit with role = "oscillator" for its band'
            table.fault("", "a coverage step without an oscillator", cure)
    if name and not whole.presets and not any(name in adjuster.circuits for adjuster in whole.adjusters):
        table.fault("", f'nothing to turn in the circuit "{name}"', "describe its adjusters under [[circuit.adjuster]]")
    return name


def _points(cell: Cell, whole: WholeSet, band: Band | None) -> tuple[CoveragePoint, ...]:
    points: list[CoveragePoint] = []
    for row in cell.rows(f"a list of points, {_EXAMPLE}"):
        table = row.table()
        where = read_where(table, whole, band)
        table.close()
        if where is None or where.received_hz is None:
            continue
        point = CoveragePoint(where.place, where.received_hz)
        _check_against(row, point, points)
        points.append(point)
    return tuple(points)


def _check_against(row: Cell, point: CoveragePoint, earlier: Sequence[CoveragePoint]) -> None:
    """Each frequency and each place once; a higher dial and a higher tuning voltage receive more."""
    for other in earlier:
        if other.place == point.place or other.received_hz == point.received_hz:
            row.fault("write each place and each frequency once", "a point that is there already")
            return
        pairs = [(point.place.volts, other.place.volts), (point.place.dial, other.place.dial)]
        for mine, others in pairs:
            if mine is not None and others is not None and (mine > others) != (point.received_hz > other.received_hz):
                row.fault("check both: a higher place receives a higher frequency", "a point that contradicts another")
                return
