"""Where readings come from: keyboard, an instrument on a port and how it speaks, the virtual set."""

from collections.abc import Sequence
from dataclasses import replace
from typing import ClassVar, TypeVar

from textual import events, work
from textual.app import ComposeResult
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from aligner.screens.one_line import OneLine
from aligner.screens.sources import Choice, DecimalMark, Shown
from aligner.text import clean

_Kind = TypeVar("_Kind")
_BAUDS = (9600, 115200, 57600, 38400, 19200, 4800, 2400, 1200)
_SHOWN: tuple[Shown, ...] = ("Hz", "kHz", "MHz", "dB", "V")
_SHOWN_WORDS: dict[Shown, str] = {
    "Hz": "frequency, bare numbers in Hz",
    "kHz": "frequency, bare numbers in kHz",
    "MHz": "frequency, bare numbers in MHz",
    "dB": "level in dB",
    "V": "volts",
}
_MARKS: tuple[DecimalMark, ...] = ("", ",", ".")
_MARK_WORDS: dict[DecimalMark, str] = {"": "as each line shows", ",": "comma", ".": "point"}
_OTHER = "Which port? /dev/ttyUSB0, COM5, or socket://HOST:PORT for an instrument on the network."
_FIELD = "Which number on a line that has several? Its place (1, 2, ...) or its label."


class SourceScreen(ModalScreen[Choice | None]):
    """Ends with what was chosen, or None."""

    DEFAULT_CSS = """
    SourceScreen { align: center middle; background: $background; }
    SourceScreen > * { width: 90%; max-width: 100; }
    SourceScreen #what { height: 1; background: $panel; text-style: bold; }
    SourceScreen OptionList { height: auto; max-height: 9; border: none; }
    SourceScreen #how { height: auto; background: $panel; }
    SourceScreen #said { height: auto; color: $secondary; }
    """
    AUTO_FOCUS: ClassVar[str] = "OptionList"

    def __init__(self, before: Choice) -> None:
        super().__init__()
        self._before = before
        self._how = replace(before, kind="serial")  # how any port is read; its port is chosen from the list
        self._found: tuple[tuple[str, str], ...] = ()
        self._choices: list[Choice] = []

    def compose(self) -> ComposeResult:
        """The question, the sources, how an instrument on a port speaks, the keys."""
        yield Static(" Where do readings come from?", id="what", markup=False)
        yield OptionList(markup=False)
        yield Static("", id="how", markup=False)
        yield Static("Enter: take it   o: another port or a network address   Esc: back", id="said", markup=False)

    def on_mount(self) -> None:
        """What is always there first; ports are looked for aside."""
        self._show()
        self._find_ports()

    def on_key(self, event: events.Key) -> None:
        """Escape goes back; letters change how an instrument is read."""
        how = self._how
        match event.key:
            case "escape":
                self.dismiss(None)
            case "b":
                self._how = replace(how, baud=_after(how.baud, _BAUDS))
            case "a":
                self._how = replace(how, asked=not how.asked)
            case "r":
                self._how = replace(how, shown=_after(how.shown, _SHOWN))
            case "d":
                self._how = replace(how, decimal=_after(how.decimal, _MARKS))
            case "f":
                self._ask_field()
            case "o":
                self._ask_port()
            case _:
                return
        event.stop()
        self._show()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """That one."""
        event.stop()
        self.dismiss(self._choices[event.option_index])

    @work
    async def _ask_field(self) -> None:
        typed = await self.app.push_screen_wait(OneLine(_FIELD, self._how.field))
        self._how = replace(self._how, field=typed or "")
        self._show()

    @work
    async def _ask_port(self) -> None:
        typed = await self.app.push_screen_wait(OneLine(_OTHER, self._before.port))
        if typed:
            self.dismiss(replace(self._how, port=typed))

    @work(thread=True, exclusive=True)
    def _find_ports(self) -> None:
        from aligner.readings.serial_source import ports  # noqa: PLC0415 - the first screen does not wait for it

        found = tuple((port.path, port.description) for port in ports())
        self.app.call_from_thread(self._take_ports, found)

    def _take_ports(self, found: tuple[tuple[str, str], ...]) -> None:
        self._found = found
        self._show()

    def _show(self) -> None:
        rows = [(Choice(), "Keyboard: readings are typed")]
        rows += [
            (replace(self._how, port=path), f"{clean(path, 60)} ({clean(about, 30)})") for path, about in self._found
        ]
        port = self._before.port
        if self._before.kind == "serial" and port not in {path for path, _ in self._found}:
            rows.append((replace(self._how, port=port), f"{clean(port, 60)} (not there now; it is waited for)"))
        rows.append((Choice("virtual"), "Virtual set: an invented set, turned with the arrow keys"))
        options = self.query_one(OptionList)
        at = self._choices[options.highlighted or 0] if self._choices else self._before
        self._choices = [choice for choice, _ in rows]
        options.clear_options()
        options.add_options([Option(Content(words)) for _, words in rows])
        same = [place for place, row in enumerate(self._choices) if (row.kind, row.port) == (at.kind, at.port)]
        options.highlighted = same[0] if same else 0
        self.query_one("#how", Static).update(how_words(self._how))


def how_words(how: Choice) -> str:
    """How an instrument on a port is read, each with the key that changes it."""
    speaks = "answers READ? (SCPI)" if how.asked else "prints lines by itself"
    number = clean(how.field, 20) or "found by itself"
    return (
        f"An instrument on a port:  b  {how.baud} baud    a  {speaks}\n"
        f"   r  reads {_SHOWN_WORDS[how.shown]}\n"
        f"   f  number on the line: {number}    d  decimal mark: {_MARK_WORDS[how.decimal]}"
    )


def _after(now: _Kind, row: Sequence[_Kind]) -> _Kind:
    return row[(row.index(now) + 1) % len(row)] if now in row else row[0]
