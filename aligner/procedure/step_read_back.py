"""`read-back`: readings at the end, compared with limits."""

from typing import Literal, get_args

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import Band, Limit, Place, ReadBackStep
from aligner.procedure.places import Where, WholeSet, check_in_band, check_tolerance, read_where
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead, read_band
from aligner.procedure.units import Unit

LimitQuantity = Literal["frequency", "resonance", "level", "volts"]
QUANTITIES: tuple[LimitQuantity, ...] = get_args(LimitQuantity)
_UNITS: dict[LimitQuantity, Unit] = {"frequency": "Hz", "resonance": "Hz", "level": "dB", "volts": "V"}
_EXAMPLE = '{ point = "1000 kHz", quantity = "frequency", within = "3 kHz" }'


def read_read_back(table: Table, head: StepHead, whole: WholeSet) -> ReadBackStep:
    """Limits, each at one place."""
    band = read_band(table, whole)
    limits = read_limits(table, whole, band)
    generator = read_generator(table.may("generator").table())
    return ReadBackStep(head.id, limits, band.id if band else "", title=head.title, generator=generator)


def read_limits(table: Table, whole: WholeSet, band: Band | None) -> tuple[Limit, ...]:
    """`limits`: what is read, where, and how far it may be off."""
    limits = []
    for row in table.need("limits", f"write a list of limits such as {_EXAMPLE}").rows(f"a list such as [{_EXAMPLE}]"):
        limit_table = row.table()
        limit = _limit(limit_table, whole, band)
        limit_table.close()
        if limit is not None:
            limits.append(limit)
    return tuple(limits)


def _limit(table: Table, whole: WholeSet, band: Band | None) -> Limit | None:
    quantity = table.need("quantity", f"write one of {', '.join(QUANTITIES)}").choice(QUANTITIES)
    within_cell = table.need("within", 'write how far it may be off, such as "3 kHz"')
    within = within_cell.quantity(_UNITS[quantity]) if quantity else None
    if quantity in ("frequency", "resonance"):
        check_tolerance(within_cell, within, band)
    circuit = _circuit(table, whole, quantity)
    where = _where(table, whole, band, quantity)
    if quantity is None or within is None or where is None:
        return None
    return Limit(where.place, quantity, within, circuit, where.received_hz)


def _circuit(table: Table, whole: WholeSet, quantity: LimitQuantity | None) -> str:
    """A resonance is one circuit's."""
    if quantity != "resonance":
        return table.may("circuit").reference(whole.ids(), "circuit") or ""
    return table.need("circuit", "name the circuit whose resonance is read").reference(whole.ids(), "circuit") or ""


def _where(table: Table, whole: WholeSet, band: Band | None, quantity: LimitQuantity | None) -> Where | None:
    """A place named in full, or a frequency as text for short."""
    point = table.may("point")
    if not point.given:
        return read_where(table, whole, band)
    hz = point.quantity("Hz")
    check_in_band(point, hz, band)
    for key in ("dial", "volts", "mark", "end", "received"):
        if table.may(key).given:
            cure = "name one place: a point for short, or dial, volts, mark or end"
            table.fault(key, f"a point and also {key}", cure)
    if quantity == "frequency":
        _check_dial(point, whole)
        return Where(Place(dial=hz), hz)
    return Where(Place(received=hz), hz)


def _check_dial(point: Cell, whole: WholeSet) -> None:
    """Without a dial a frequency is no place: the set would stand there only because the counter says so."""
    if whole.tuning and whole.tuning.by == "voltage":
        cure = 'name the place: volts = "2 V", received = "87.5 MHz"; or dial = "98 MHz" where the set has a scale'
        point.fault(cure, f"{point} as a place of a set tuned by voltage")
