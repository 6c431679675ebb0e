"""What the guide shows, bound from the desk to widgets: rows of text, the large figures or the curves."""

from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from aligner.screens.desk import Desk
from aligner.screens.glance import Paper, glance
from aligner.screens.large import Large
from aligner.screens.paint import rows_of
from aligner.screens.row import Row
from aligner.screens.small import Small, small
from aligner.screens.sources import AT_STOP
from aligner.screens.tour import coach

if TYPE_CHECKING:
    from textual.content import Content

    from aligner.screens.chart import Chart

ROWS_FOR_BOTH = 36
"""From so many rows on there is room for the figures and a curve at once."""

_ONE_ROW = {"entry", "foot"}
"""Rows that are one row high whatever they say."""

_COME_AND_GO = {"place", "why", "coach"}
"""Rows that take no room while they are empty."""


WAY_BACK = "z steps and log back  "
"""What the key bar begins with while only the reading is shown."""


class Face(Vertical):
    """All that is seen of an open job. It knows no source and no job: whoever has them binds it."""

    DEFAULT_CSS = """
    Face > Static { width: 1fr; }
    Face #head { height: 1; background: $panel; text-style: bold; }
    Face #ask { height: auto; max-height: 8; text-style: bold; }
    Face #place, Face #why { height: auto; max-height: 3; color: $secondary; }
    Face #lower { height: 1fr; }
    Face #lower > Static { width: 1fr; height: 1fr; }
    Face #log { margin-left: 2; }
    Face #coach { height: auto; max-height: 4; background: $panel; color: $accent; }
    Face #entry { height: 1; background: $panel; text-style: bold; }
    Face #note { height: auto; min-height: 1; max-height: 4; color: $accent; }
    Face #foot { height: 1; color: $secondary; }
    Face #chart { display: none; }
    Face.cramped #place, Face.footless #foot, Face.stepless #lower { display: none; }
    Face.cramped #ask, Face.cramped #note { max-height: 100%; min-height: 0; }
    Face.cramped Large { margin-top: 0; }
    Face.zoomed #lower { visibility: hidden; }
    Face.charted #chart { display: block; }
    Face.charted.low #ask, Face.charted.low #place, Face.charted.low #why { display: none; }
    Face.charted.low Large { display: none; }
    Face #brief { display: none; }
    Face.low #brief { display: block; }
    Face.charted #lower, Face .empty, Face.ended #log { display: none; }
    """

    def __init__(self, *, plain: bool = False) -> None:
        super().__init__()
        self.plain = plain
        self.zoomed = False
        self.chart: Chart | None = None

    def compose(self) -> ComposeResult:
        """Rows from the most to the least important, the entry line at the foot."""
        yield Row("head", fixed=True)
        yield Row("ask", text="Opening the job ...")
        yield Row("place")
        yield Large(id="large")
        yield Row("why")
        with Horizontal(id="lower"):
            yield Row("steps", fixed=True)
            yield Row("log", fixed=True)
        for name in ("coach", "entry", "note", "foot"):
            yield Row(name, fixed=name in _ONE_ROW)

    def bind(self, desk: Desk, source: str, message: str) -> None:
        """Show that; `source` is what readings come from, `message` what the person must know of it."""
        columns, rows = max(20, self.size.width), self.size.height
        paper, message = Paper(columns, self.plain, rows), stop_words(desk, message)
        fits = small(desk, paper, message) if paper.small else None
        charted = self.has_class("charted")
        self._classify(desk, rows, fits)
        if self.chart is not None and charted:
            self.chart.show(desk, paper)
        if not charted or not self.has_class("low"):
            self.query_one(Large).show(fits.glance if fits else glance(desk, paper))
        words = fits.coach if fits else coach(desk.procedure, desk.history, desk.ask)
        lower_rows = self.query_one("#lower").size.height
        shown: dict[str, str | Content] = dict(rows_of(desk, paper, lower_rows, source, message))
        if fits:
            shown |= {"ask": fits.ask, "why": fits.why}
        if self.has_class("zoomed"):
            shown["foot"] = f"{WAY_BACK}{shown['foot']}"[:columns]
        for name, text in (shown | {"coach": "" if charted else words}).items():
            row = self.query_one(f"#{name}", Row)
            row.put(text)
            row.set_class((name in _COME_AND_GO or (fits is not None and name == "note")) and not text, "empty")

    def _classify(self, desk: Desk, rows: int, fits: Small | None) -> None:
        """What the style leaves out."""
        self.set_class(fits is not None, "cramped")
        self.set_class(fits is not None and not fits.foot and not self.has_class("charted"), "footless")
        self.set_class(fits is not None and not fits.lower, "stepless")
        self.set_class(rows < ROWS_FOR_BOTH, "low")
        self.set_class(bool(desk.end), "ended")
        self.set_class(self.zoomed and desk.reads_large, "zoomed")

    def carry_out(self, name: str) -> None:
        """A command that changes only how things are shown; they are bound anew after it."""
        match name:
            case "plain":
                self.plain = not self.plain
            case "zoom":
                self.zoomed = not self.zoomed
            case "curves":
                self._toggle_curves()
            case "next" if self.chart is not None:
                self.chart.turn()

    @work
    async def _toggle_curves(self) -> None:
        """Curves in place of the figures, or back; what draws them is loaded when it is first wanted."""
        if self.chart is None:
            from aligner.screens.chart import Chart  # noqa: PLC0415 - the guide does not wait for it

            self.chart = Chart()
            await self.mount(self.chart, before="#coach")
        self.chart.restart()
        self.toggle_class("charted")


def stop_words(desk: Desk, message: str) -> str:
    """What the source says; no end of travel is offered where the peak already lies behind."""
    found = desk.found
    return "" if message == AT_STOP and found is not None and found.seen_to_fall else message
