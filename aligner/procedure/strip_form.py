"""What the steps that feed the IF strip have in common: where the set rests, the cans, a span of the generator."""

from collections.abc import Sequence

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import Circuit, Place, Role
from aligner.procedure.places import ENDS, WholeSet, check_volts

_REST_EXAMPLE = '{ end = "low" }'
_CANS_EXAMPLE = 'a list such as ["if-1", "if-2"]'


def read_rest(table: Table, whole: WholeSet) -> Place | None:
    """`point`: where the set stands meanwhile, one of dial, volts, mark and end; None where it is not said."""
    cell = table.may("point")
    inner = cell.table()
    dial, volts, mark, end = (inner.may(key) for key in ("dial", "volts", "mark", "end"))
    given = [one for one in (dial, volts, mark, end) if one.given]
    inner.close()
    if inner.absent:
        return None
    if len(given) != 1:
        cell.fault(f"name one place: dial, volts, mark or end, such as {_REST_EXAMPLE}")
        return None
    place = Place(dial.quantity("Hz"), None, volts.quantity("V"), mark.text(60), end.choice(ENDS))
    check_volts(volts, place, whole.tuning)
    return None if place == Place() else place


def read_cans(cell: Cell, whole: WholeSet, known: Sequence[str] = ()) -> tuple[str, ...]:
    """Circuits of the IF strip with something to turn, each once."""
    named: list[str] = []
    for row in cell.rows(_CANS_EXAMPLE):
        name = checked_circuit(row, whole, "if")
        if name in named:
            row.fault("name each can once")
        elif name and known and name not in known:
            row.fault(f"name one of the cans of this step: {', '.join(known)}")
        elif name:
            named.append(name)
    return tuple(named)


def read_circuit(table: Table, whole: WholeSet, role: Role) -> Circuit | None:
    """`circuit` of one role; it need not be named where there is only one."""
    names = whole.ids(role)
    cell = table.may("circuit") if len(names) == 1 else table.need("circuit", f'name a circuit with role = "{role}"')
    name = checked_circuit(cell, whole, role) if cell.given else names[0] if len(names) == 1 else None
    found = next((circuit for circuit in whole.circuits if circuit.id == name), None)
    if found and not cell.given and not found.adjusters:
        cure = "describe its adjusters under [[circuit.adjuster]]"
        table.fault("", f'nothing to turn in the circuit "{found.id}"', cure)
    return found


def checked_circuit(cell: Cell, whole: WholeSet, role: Role) -> str | None:
    """The id of a circuit of that role that can be adjusted."""
    name = cell.reference(whole.ids(), "circuit")
    if name is None or name not in whole.ids():
        return None
    circuit = next(circuit for circuit in whole.circuits if circuit.id == name)
    if circuit.role != role:
        cell.fault(f'name a circuit with role = "{role}"', f'"{name}", whose role is "{circuit.role}"')
        return None
    if not circuit.adjusters:
        cell.fault("describe its adjusters under [[circuit.adjuster]]", f'nothing to turn in the circuit "{name}"')
    return name


def read_span(table: Table, whole: WholeSet, usual: float) -> tuple[float, float]:
    """`span`: from where to where the generator goes, the IF inside; a share of the IF each side unless said."""
    nominal = whole.intermediate_hz or 1.0
    cell = table.may("span")
    span = cell.pair("Hz")
    if span and whole.intermediate_hz and not span[0] < whole.intermediate_hz < span[1]:
        found = f"a span from {span[0]:g} Hz to {span[1]:g} Hz"
        cell.fault("write a span with the intermediate frequency inside", found)
    return span or (nominal * (1.0 - usual), nominal * (1.0 + usual))


def read_count(table: Table) -> int:
    """`count`: how many readings a sweep shall have; 15 where it is not said."""
    cell = table.may("count")
    count = cell.whole(5)
    if count and count > 1000:
        cell.fault("write at most 1000: that is more than any hand reads")
    return count or 15


def check_width(cell: Cell, hz: float | None, span: tuple[float, float]) -> None:
    """A tolerance of half the span or more holds whatever is read."""
    if hz is not None and hz >= (span[1] - span[0]) / 2.0:
        cell.fault("write a smaller one: this is half the span or more")
