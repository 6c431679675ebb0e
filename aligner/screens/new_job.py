"""A new job: the procedure, the name of the set, where readings come from; one question at a time."""

import re
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events, work
from textual.app import ComposeResult
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from aligner.errors import AlignerError, ProcedureError
from aligner.journal.names import jobs_folder
from aligner.procedure.library import find, procedures_in, shipped
from aligner.procedure.reader import read_procedure
from aligner.screens.ask_source import SourceScreen
from aligner.screens.guide import Guide
from aligner.screens.launch import begun
from aligner.screens.sources import Choice
from aligner.text import clean

if TYPE_CHECKING:
    from aligner.procedure.model import Procedure


_TITLE = re.compile(r'^title\s*=\s*"([^"\n]*)"', re.MULTILINE)


class NewJob(ModalScreen[Guide | None]):
    """Ends with the guide of the new job, or None."""

    DEFAULT_CSS = """
    NewJob { align: center middle; background: $background; }
    NewJob > * { width: 90%; max-width: 100; }
    NewJob #what { height: 1; background: $panel; text-style: bold; }
    NewJob OptionList { height: auto; max-height: 12; border: none; }
    NewJob #said { height: auto; max-height: 50%; overflow-y: auto; color: $accent; }
    """
    AUTO_FOCUS: ClassVar[str] = "OptionList"

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self._folder = folder
        self._own = jobs_folder().parent / "procedures"
        self._files: tuple[Path, ...] = (*procedures_in(self._own), *shipped())
        self._chosen: tuple[Path, Procedure] | None = None

    def compose(self) -> ComposeResult:
        """The question, the procedures, a line for a file elsewhere and later for the name of the set."""
        yield Static(" New job: which procedure?", id="what", markup=False)
        rows = [Option(Content(f"{path.stem:<20} {self._title(path)}")) for path in self._files]
        yield OptionList(*rows, markup=False)
        yield Input(placeholder="or the path of a procedure file (Tab), then Enter")
        yield Static(f"Own procedures lie in {clean(str(self._own), 200)}", id="said", markup=False)

    def _title(self, path: Path) -> str:
        """What stands after `title` in the file: reading it in full may take longer than one wants to wait."""
        try:
            found = _TITLE.search(path.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError):
            found = None
        own = "own: " if path.parent == self._own else ""
        return own + (clean(found[1], 80) if found else "")

    def on_key(self, event: events.Key) -> None:
        """Escape goes back."""
        if event.key == "escape":
            event.stop()
            self.dismiss(None)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A procedure was chosen."""
        event.stop()
        self._take(self._files[event.option_index])

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """The path of a procedure, or the name of the set."""
        event.stop()
        typed = clean(event.value).strip()
        if self._chosen is not None:
            self._finish(typed)
        elif typed:
            self._take_named(typed)

    def _take_named(self, typed: str) -> None:
        try:
            self._take(find(typed, self._own))
        except AlignerError as error:
            self._say(str(error))

    def _take(self, path: Path) -> None:
        try:
            procedure = read_procedure(path)
        except ProcedureError as error:
            self._say(clean(str(error), 4000, lines=True))
            return
        self._chosen = path, procedure
        self.query_one(OptionList).display = False
        self.query_one("#what", Static).update(f" {clean(procedure.title, 60)}: what do you call the set?")
        line = self.query_one(Input)
        line.value, line.placeholder = "", "name of the set, then Enter"
        line.focus()
        self._say(clean(procedure.about, 400))

    @work
    async def _finish(self, name: str) -> None:
        if self._chosen is None:
            return
        path, procedure = self._chosen
        choice = await self.app.push_screen_wait(SourceScreen(Choice()))
        if choice is not None:
            self.dismiss(begun(path, name or procedure.title, self._folder, choice))

    def _say(self, words: str) -> None:
        self.query_one("#said", Static).update(words)
