"""One question that is answered by one line of text."""

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from aligner.text import clean


class OneLine(ModalScreen[str | None]):
    """Ends with what was typed, cleaned, or None; an empty line counts as none."""

    DEFAULT_CSS = """
    OneLine { align: center middle; }
    OneLine > * { width: 90%; max-width: 100; }
    OneLine #what { height: auto; background: $panel; text-style: bold; }
    OneLine #said { height: 1; color: $secondary; }
    """
    AUTO_FOCUS: ClassVar[str] = "Input"

    def __init__(self, question: str, proposed: str = "") -> None:
        super().__init__()
        self._question = question
        self._proposed = proposed

    def compose(self) -> ComposeResult:
        """The question, the line, the keys."""
        yield Static(f" {self._question}", id="what", markup=False)
        yield Input(self._proposed, select_on_focus=False)
        yield Static("Enter: do it   Esc: back", id="said", markup=False)

    def on_key(self, event: events.Key) -> None:
        """Escape goes back."""
        if event.key == "escape":
            event.stop()
            self.dismiss(None)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """That is it."""
        event.stop()
        self.dismiss(clean(event.value).strip() or None)
