"""`tracking`: one signal circuit made to follow the oscillator."""

from typing import get_args

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import Band, TrackingStep, Way
from aligner.procedure.places import WholeSet, check_in_band, check_tolerance
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead, read_band

WAYS: tuple[Way, ...] = get_args(Way)
USUAL_WAYS: tuple[Way, ...] = ("level",)
USUAL_LOSS_DB = 0.3
_WAYS_EXAMPLE = 'a list such as ["resonance", "level"]'
_POINTS_EXAMPLE = 'a list such as ["90 MHz", "98 MHz", "106 MHz"]'


def read_tracking(table: Table, head: StepHead, whole: WholeSet) -> TrackingStep | None:
    """A signal circuit, ways of seeing it, points, and a tolerance in Hz or as a loss."""
    band = read_band(table, whole)
    circuit = _signal_circuit(table, whole, band)
    ways = _ways(table.may("by"), whole)
    points = read_frequencies(table.need("points", f"write {_POINTS_EXAMPLE}"), band)
    tolerance_cell = table.may("tolerance")
    tolerance = tolerance_cell.measured("Hz", "dB")
    generator = read_generator(table.may("generator").table())
    tolerance_hz = tolerance[0] if tolerance and tolerance[1] == "Hz" else None
    tolerance_db = tolerance[0] if tolerance and tolerance[1] == "dB" else None
    check_tolerance(tolerance_cell, tolerance_hz, band)
    if not tolerance_cell.given:
        tolerance_db = USUAL_LOSS_DB
    if circuit is None or band is None:
        return None
    return TrackingStep(
        head.id, circuit, ways, points, tolerance_hz, tolerance_db, band.id, title=head.title, generator=generator
    )


def _signal_circuit(table: Table, whole: WholeSet, band: Band | None) -> str | None:
    cell = table.need("circuit", 'name the circuit, such as "antenna"')
    name = cell.reference(whole.ids(), "circuit")
    if name is None:
        return None
    circuit = next(circuit for circuit in whole.circuits if circuit.id == name)
    if circuit.role != "signal":
        cell.fault('name a circuit with role = "signal"', f'"{name}", whose role is "{circuit.role}"')
    elif circuit.bands and band and band.id not in circuit.bands:
        cell.fault("name a circuit of that band", f'"{name}", which does not work on the band "{band.id}"')
    elif not any(name in adjuster.circuits for adjuster in whole.adjusters):
        cell.fault("describe its adjusters under [[circuit.adjuster]]", f'nothing to turn in the circuit "{name}"')
    return name


def _ways(cell: Cell, whole: WholeSet) -> tuple[Way, ...]:
    if not cell.given:
        return USUAL_WAYS
    ways: list[Way] = []
    for row in cell.rows(_WAYS_EXAMPLE):
        way = row.choice(WAYS)
        if way in ways:
            row.fault("name each way once")
        elif way:
            ways.append(way)
        if way == "stage-voltage" and whole.tuning and whole.tuning.by == "gang":
            row.fault("leave it out: a gang has no tuning voltage to move")
    return tuple(ways)


def read_frequencies(cell: Cell, band: Band | None) -> tuple[float, ...]:
    """Places of the band [Hz], each once."""
    points: list[float] = []
    for row in cell.rows(_POINTS_EXAMPLE):
        hz = row.quantity("Hz")
        check_in_band(row, hz, band)
        if hz in points:
            row.fault("write each point once")
        elif hz is not None:
            points.append(hz)
    return tuple(points)
