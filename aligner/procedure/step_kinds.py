"""The table of step kinds: how each is read. A new kind is one entry here and one module beside this one."""

from collections.abc import Callable

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import Step
from aligner.procedure.places import WholeSet
from aligner.procedure.step_coverage import read_coverage
from aligner.procedure.step_detector import read_detector
from aligner.procedure.step_head import StepHead
from aligner.procedure.step_if_peak import read_if_peak
from aligner.procedure.step_if_sweep import read_if_sweep
from aligner.procedure.step_image import read_image
from aligner.procedure.step_prepare import read_prepare
from aligner.procedure.step_read_back import read_read_back
from aligner.procedure.step_seal import read_seal
from aligner.procedure.step_tracking import read_tracking
from aligner.procedure.step_trap import read_trap
from aligner.procedure.step_warm_up import read_warm_up

StepReader = Callable[[Table, StepHead, WholeSet], Step | None]

WORKED: dict[str, StepReader] = {
    "prepare": read_prepare,
    "warm-up": read_warm_up,
    "if-peak": read_if_peak,
    "if-sweep": read_if_sweep,
    "trap": read_trap,
    "detector": read_detector,
    "coverage": read_coverage,
    "tracking": read_tracking,
    "image": read_image,
    "read-back": read_read_back,
    "seal": read_seal,
}


def read_steps(top: Table, whole: WholeSet) -> list[tuple[Step, Cell]]:
    """[[step]]: those that could be read, each with its place in the file."""
    steps: list[tuple[Step, Cell]] = []
    seen: set[str] = set()
    cells = top.need("step", "describe what is to be done under [[step]]").rows("[[step]] with id and kind")
    for cell in cells:
        step = _read_step(cell.table(), whole, seen)
        if step is not None:
            steps.append((step, cell))
    return steps


def _read_step(table: Table, whole: WholeSet, seen: set[str]) -> Step | None:
    id_cell = table.need("id", 'give the step an id, such as "coverage"')
    kind_cell = table.need("kind", f"write one of {', '.join(WORKED)}")
    step_id = id_cell.identifier()
    if step_id in seen:
        id_cell.fault("give each step an id of its own")
    if step_id:
        seen.add(step_id)
    kind = kind_cell.choice(tuple(WORKED))
    if kind not in WORKED:
        table.close_unjudged()
        return None
    step = WORKED[kind](table, StepHead(step_id or "", table.may("title").text() or ""), whole)
    table.close()
    return step
