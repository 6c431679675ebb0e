"""`seal`: what to lock, in which order, and what is read back after each lock."""

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import Lock, SealStep
from aligner.procedure.places import WholeSet
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead, read_band
from aligner.procedure.step_read_back import read_limits

_LOCKS_EXAMPLE = '{ adjusters = ["oscillator-coil"], how = "a drop of wax" }'


def read_seal(table: Table, head: StepHead, whole: WholeSet) -> SealStep | None:
    """Locks in their order, and limits: how far each reading may move by a lock."""
    band = read_band(table, whole)
    locks = _locks(table.need("locks", f"write a list of locks such as [{_LOCKS_EXAMPLE}]"), whole)
    limits = read_limits(table, whole, band)
    generator = read_generator(table.may("generator").table())
    if not locks:
        return None
    return SealStep(head.id, locks, limits, band.id if band else "", title=head.title, generator=generator)


def _locks(cell: Cell, whole: WholeSet) -> tuple[Lock, ...]:
    locks: list[Lock] = []
    known = [adjuster.id for adjuster in whole.adjusters]
    for row in cell.rows(f"a list such as [{_LOCKS_EXAMPLE}]"):
        table = row.table()
        adjusters_cell = table.need("adjusters", 'name what is locked, such as ["oscillator-coil"]')
        names: list[str] = []
        for name_cell in adjusters_cell.rows('a list such as ["oscillator-coil"]'):
            name = name_cell.reference(known, "adjuster")
            if name and (name in names or any(name in lock.adjusters for lock in locks)):
                name_cell.fault("lock each adjuster once")
            elif name:
                names.append(name)
        how = table.may("how").text(200) or ""
        table.close()
        if names:
            locks.append(Lock(tuple(names), how))
    return tuple(locks)
