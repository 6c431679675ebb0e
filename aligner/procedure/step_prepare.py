"""`prepare`: things to confirm before anything is measured."""

from aligner.procedure.form import Table
from aligner.procedure.model import PrepareStep
from aligner.procedure.places import WholeSet
from aligner.procedure.step_head import StepHead


def read_prepare(table: Table, head: StepHead, _whole: WholeSet) -> PrepareStep:
    """A list of sentences."""
    cell = table.need("confirm", 'write a list of sentences, such as ["The AFC is off."]')
    sentences = [row.text() for row in cell.rows('a list of sentences, such as ["The AFC is off."]')]
    return PrepareStep(head.id, tuple(text for text in sentences if text), title=head.title)
