"""`aligner check FILE --plan`: what is to be expected before a job, as text or as one JSON object."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import TextIO

from aligner.errors import Exit, ProcedureError
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure
from aligner.sheet.plan import plan_of
from aligner.sheet.plan_text import plan_lines


def check_plan(name_or_path: str, out: TextIO, *, as_json: bool = False, own_folder: Path | None = None) -> Exit:
    """Writes the plan of a sound procedure, or the faults of another; CircuitError where its values contradict."""
    try:
        procedure = read_procedure(find(name_or_path, own_folder))
    except ProcedureError as error:
        out.writelines(f"{fault}\n" for fault in error.faults)
        return error.exit_code
    plan = plan_of(procedure)
    if as_json:
        out.write(json.dumps(asdict(plan), allow_nan=False) + "\n")
    else:
        out.writelines(f"{line}\n" for line in plan_lines(plan))
    return Exit.DONE
