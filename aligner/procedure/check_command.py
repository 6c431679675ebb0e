"""`aligner check FILE`: says that a procedure has no fault, or names all of them."""

from pathlib import Path
from typing import TextIO

from aligner.errors import Exit, ProcedureError
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure
from aligner.procedure.sharing import advice
from aligner.text import clean


def check(name_or_path: str, out: TextIO, own_folder: Path | None = None) -> Exit:
    """Writes one line a fault, or that there is none; UsageError where there is no such procedure."""
    path = find(name_or_path, own_folder)
    try:
        procedure = read_procedure(path)
    except ProcedureError as error:
        out.writelines(f"{fault}\n" for fault in error.faults)
        return error.exit_code
    out.write(f"{clean(str(path))}: no fault\n")
    out.writelines(f"  order: {clean(words)}\n" for words in advice(procedure))
    return Exit.DONE
