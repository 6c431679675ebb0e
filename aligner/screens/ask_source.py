"""Where readings come from: keyboard, a serial port that is there now, the virtual set."""

from typing import ClassVar

from textual import events, work
from textual.app import ComposeResult
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from aligner.screens.sources import Choice
from aligner.text import clean

BAUDS = (9600, 115200, 57600, 38400, 19200, 4800, 2400, 1200)


class SourceScreen(ModalScreen[Choice | None]):
    """Ends with what was chosen, or None."""

    DEFAULT_CSS = """
    SourceScreen { align: center middle; }
    SourceScreen > * { width: 90%; max-width: 100; }
    SourceScreen #what { height: 1; background: $panel; text-style: bold; }
    SourceScreen OptionList { height: auto; max-height: 14; border: none; }
    SourceScreen #said { height: auto; color: $secondary; }
    """
    AUTO_FOCUS: ClassVar[str] = "OptionList"

    def __init__(self, before: Choice) -> None:
        super().__init__()
        self._before = before
        self._baud = before.baud
        self._choices: list[Choice] = []

    def compose(self) -> ComposeResult:
        """The question, the sources, the speed of serial ports."""
        yield Static(" Where do readings come from?", id="what", markup=False)
        yield OptionList(markup=False)
        yield Static("", id="said", markup=False)

    def on_mount(self) -> None:
        """What is always there first; ports are looked for aside."""
        self._show(())
        self._find_ports()

    def on_key(self, event: events.Key) -> None:
        """Escape goes back, b changes the speed."""
        if event.key == "escape":
            event.stop()
            self.dismiss(None)
        elif event.key == "b":
            event.stop()
            at = BAUDS.index(self._baud) if self._baud in BAUDS else -1
            self._baud = BAUDS[(at + 1) % len(BAUDS)]
            self._find_ports()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """That one."""
        event.stop()
        self.dismiss(self._choices[event.option_index])

    @work(thread=True, exclusive=True)
    def _find_ports(self) -> None:
        from aligner.readings.serial_source import ports  # noqa: PLC0415 - the first screen does not wait for it

        found = tuple((port.path, port.description) for port in ports())
        self.app.call_from_thread(self._show, found)

    def _show(self, found: tuple[tuple[str, str], ...]) -> None:
        rows = [(Choice("keyboard"), "Keyboard: readings are typed")]
        rows += [
            (
                Choice("serial", path, self._baud),
                f"Counter on {clean(path, 60)}, {self._baud} baud ({clean(about, 30)})",
            )
            for path, about in found
        ]
        if self._before.kind == "serial" and self._before.port not in {path for path, _ in found}:
            again = Choice("serial", self._before.port, self._baud)
            rows.append((again, f"Counter on {clean(self._before.port, 60)} (not there now; it is waited for)"))
        rows.append((Choice("virtual"), "Virtual set: an invented set, turned with the arrow keys"))
        self._choices = [choice for choice, _ in rows]
        options = self.query_one(OptionList)
        options.clear_options()
        options.add_options([Option(Content(words)) for _, words in rows])
        same = [index for index, choice in enumerate(self._choices) if (choice.kind, choice.port) == self._was]
        options.highlighted = same[0] if same else 0
        self.query_one("#said", Static).update("Enter: take it   b: another baud rate   Esc: back")

    @property
    def _was(self) -> tuple[str, str]:
        return self._before.kind, self._before.port
