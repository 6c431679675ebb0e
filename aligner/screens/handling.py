"""Looking at a job, copying it for the next set, and exporting it: the questions, and what is told of them."""

import asyncio
from pathlib import Path
from typing import Any

from textual.app import App

from aligner.errors import AlignerError
from aligner.journal.listing import Summary
from aligner.screens import shelf
from aligner.screens.folio import Folio
from aligner.screens.launch import copied
from aligner.screens.one_line import OneLine
from aligner.screens.sources import Choice, remembered
from aligner.text import clean


async def handled(app: App[Any], row: Summary, name: str, folder: Path) -> str:
    """Do it; what to tell of it afterwards."""
    try:
        if name == "look":
            return await _look(app, row)
        return await (_export(app, row) if name == "export" else _copy(app, row, folder))
    except AlignerError as error:
        return clean(str(error))


async def _look(app: App[Any], row: Summary) -> str:
    subject = await asyncio.to_thread(shelf.looked_at, row.path)
    await app.push_screen_wait(Folio(subject, "where"))
    return ""


async def _export(app: App[Any], row: Summary) -> str:
    typed = await app.push_screen_wait(OneLine("Export to which file, or into which folder?", f"~/{row.path.name}"))
    return await asyncio.to_thread(shelf.exported, row.path, typed) if typed is not None else ""


async def _copy(app: App[Any], row: Summary, folder: Path) -> str:
    procedure = await asyncio.to_thread(shelf.procedure_of, row.path)
    name = await app.push_screen_wait(OneLine(f"{clean(procedure.title, 60)}: what do you call the next set?"))
    if name is None:
        return ""
    return await app.push_screen_wait(copied(procedure, name, folder, remembered(row.path) or Choice())) or ""
