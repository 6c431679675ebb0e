"""`trap`: an IF trap or a whistle filter, set for the least level at its frequency."""

from aligner.procedure.form import Table
from aligner.procedure.model import TrapStep
from aligner.procedure.places import WholeSet
from aligner.procedure.set_form import read_generator
from aligner.procedure.step_head import StepHead
from aligner.procedure.strip_form import read_circuit, read_rest


def read_trap(table: Table, head: StepHead, whole: WholeSet) -> TrapStep | None:
    """The circuit, the frequency that it takes away (the IF unless said), and by how much at least."""
    circuit = read_circuit(table, whole, "trap")
    hz = table.may("frequency").quantity("Hz") or whole.intermediate_hz
    least_db = table.may("rejection").quantity("dB")
    place = read_rest(table, whole)
    generator = read_generator(table.may("generator").table())
    if circuit is None or hz is None:
        return None
    return TrapStep(head.id, circuit.id, hz, least_db, place, title=head.title, generator=generator)
