"""Pages that are looked at and left again; each is computed on a thread when it is first turned to."""

from typing import ClassVar

from textual import events, work
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Static

from aligner.engine.survey import Survey
from aligner.screens.desk import Desk
from aligner.screens.insight import PAGES, TITLES, Subject

_KEYS = "Tab: next page   Up/Down, PgUp/PgDn: scroll   Esc: back"
_SCROLL = {"up": -1, "k": -1, "down": 1, "j": 1}


def folio_of(desk: Desk, first: str, *, plain: bool) -> "Folio":
    """The pages about the job that is open, opened at that one."""
    return Folio(Subject(desk.procedure, desk.history, desk.survey or Survey(None, ()), plain), first)


class Written(Message):
    """A page is ready."""

    def __init__(self, at: int, text: str) -> None:
        super().__init__()
        self.at = at
        self.text = text


class Folio(ModalScreen[None]):
    """Where the job stands, the set, what is known, the log."""

    DEFAULT_CSS = """
    Folio { layout: vertical; background: $background; }
    Folio #tabs { height: 1; background: $panel; text-style: bold; }
    Folio VerticalScroll { height: 1fr; padding: 0 1; }
    Folio #page { height: auto; width: 1fr; }
    Folio #keys { height: 1; color: $secondary; }
    """
    AUTO_FOCUS: ClassVar[str] = ""

    def __init__(self, subject: Subject, first: str) -> None:
        super().__init__()
        self._subject = subject
        self._at = [name for name, _ in PAGES].index(first)

    def compose(self) -> ComposeResult:
        """The names of the pages, the page, the keys."""
        yield Static("", id="tabs", markup=False)
        with VerticalScroll():
            yield Static("", id="page", markup=False)
        yield Static(_KEYS, id="keys", markup=False)

    def on_mount(self) -> None:
        """The page that was asked for."""
        self._turn(0)

    def on_key(self, event: events.Key) -> None:
        """Turn, scroll, leave."""
        event.stop()
        event.prevent_default()
        view = self.query_one(VerticalScroll)
        match event.key:
            case "tab" | "right":
                self._turn(1)
            case "shift+tab" | "left":
                self._turn(-1)
            case "up" | "down":
                view.scroll_relative(y=_SCROLL[event.key], animate=False)
            case "pageup" | "pagedown" | "space":
                rows = max(1, view.size.height - 1)
                view.scroll_relative(y=-rows if event.key == "pageup" else rows, animate=False)
            case "home":
                view.scroll_home(animate=False)
            case "end":
                view.scroll_end(animate=False)
            case "escape" | "enter" | "q" | "p" | "k":
                self.dismiss(None)

    def on_resize(self) -> None:
        """Lines are broken for the width that there is."""
        self._turn(0)

    def on_written(self, message: Written) -> None:
        """Show the page, unless another was turned to since."""
        if message.at == self._at:
            self.query_one("#page", Static).update(message.text)
            if PAGES[message.at][0] == "log":  # its newest lines are what is looked for
                self.call_after_refresh(self.query_one(VerticalScroll).scroll_end, animate=False)

    def _turn(self, by: int) -> None:
        self._at = (self._at + by) % len(PAGES)
        names = [TITLES[name] for name, _ in PAGES]
        names[self._at] = f"[ {names[self._at]} ]"
        self.query_one("#tabs", Static).update("  ".join(names))
        self.query_one("#page", Static).update("Computing ...")
        self.query_one(VerticalScroll).scroll_home(animate=False)
        self._write(self._at, max(40, self.size.width - 4))

    @work(thread=True, exclusive=True)
    def _write(self, at: int, columns: int) -> None:
        self.post_message(Written(at, PAGES[at][1](self._subject, columns)))
