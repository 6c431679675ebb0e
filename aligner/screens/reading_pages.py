"""Pages over everything else, turned by Enter."""

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

_CONFIRM = "Enter: I have read it and will act on it   q: close the job"
_LAST = "Enter: go on   q: close the job"
_CLOSE = "Esc or Enter: back   Up/Down, PgUp/PgDn: scroll"


class Pages(ModalScreen[bool]):
    """Text in pages; True when the last was confirmed, False when it was left."""

    DEFAULT_CSS = """
    Pages { align: center middle; background: $background; }
    Pages VerticalScroll { width: 100%; max-width: 100; height: auto; max-height: 100%; }
    Pages VerticalScroll { background: $panel; padding: 1 2; }
    Pages #page { height: auto; }
    Pages #keys { height: auto; margin-top: 1; color: $accent; text-style: bold; }
    """
    AUTO_FOCUS: ClassVar[str] = ""

    def __init__(self, pages: tuple[str, ...], *, to_confirm: bool) -> None:
        super().__init__()
        self._pages = pages
        self._to_confirm = to_confirm
        self._at = 0

    def compose(self) -> ComposeResult:
        """The page, and what the keys do."""
        with VerticalScroll():
            yield Static("", id="page", markup=False)
            yield Static("", id="keys", markup=False)

    def on_mount(self) -> None:
        """The first page."""
        self._show()

    def on_key(self, event: events.Key) -> None:
        """Enter turns the page; leaving is one key too."""
        event.stop()
        event.prevent_default()
        if self._scrolled(event.key):
            return
        if event.key in {"q", "escape"} or (event.key == "enter" and not self._to_confirm):
            self.dismiss(False)
        elif event.key == "enter":
            self._at += 1
            if self._at == len(self._pages):
                self.dismiss(True)
            else:
                self._show()
        else:
            self._show_keys("These keys answer here:   ")

    def _scrolled(self, key: str) -> bool:
        """Whether that key scrolls: by a few rows, by all but one of those that are seen, or to an end."""
        view = self.query_one(VerticalScroll)
        rows = {"up": -3, "down": 3, "pageup": 1 - view.size.height, "pagedown": view.size.height - 1}
        rows |= {"space": rows["pagedown"], "home": -view.virtual_size.height, "end": view.virtual_size.height}
        if key in rows:
            view.scroll_relative(y=rows[key], animate=False)
        return key in rows

    def _show(self) -> None:
        self.query_one("#page", Static).update(self._pages[self._at])
        self._show_keys()
        self.query_one(VerticalScroll).scroll_home(animate=False)

    def _show_keys(self, before: str = "") -> None:
        last = self._at == len(self._pages) - 1
        keys = _CLOSE if not self._to_confirm else _LAST if last else _CONFIRM
        number = f"{self._at + 1} of {len(self._pages)}   " if len(self._pages) > 1 else ""
        self.query_one("#keys", Static).update(before + number + keys)
