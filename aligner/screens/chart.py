"""The curves in place of the guide's large figures: computed on a thread, drawn anew when something has changed."""

from textual import work
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message

from aligner.engine.asks import Ask, Peak
from aligner.engine.curve import Curve, Line
from aligner.engine.history import History
from aligner.procedure.model import Procedure
from aligner.screens.desk import Desk
from aligner.screens.glance import Paper, brief
from aligner.screens.peaks import FALL_DB
from aligner.screens.plot import Sheet, legend, plotted
from aligner.screens.row import Row
from aligner.screens.stream import Stream

_STYLES = {
    "now": "bold $primary", "before": "$secondary", "after": "$accent", "limit": "$success", "zero": "$secondary",
    "read": "bold $accent", "axis": "$secondary",
}  # fmt: skip
_FEWEST = 3
"""Values of a peak before there is a curve of it."""


class Computed(Message):
    """What the thread has found, for the history that it was asked about."""

    def __init__(self, digest: str, curves: tuple[Curve, ...]) -> None:
        super().__init__()
        self.digest = digest
        self.curves = curves


class Chart(Vertical):
    """One curve at a time. The newest reading stays in sight, and all keys of the guide go on working."""

    DEFAULT_CSS = """
    Chart { height: 1fr; }
    Chart Row { width: 1fr; }
    Chart #brief { height: auto; max-height: 2; text-style: bold; }
    Chart #tabs { height: 1; color: $secondary; }
    Chart #plot { height: 1fr; }
    Chart #legend { height: auto; max-height: 2; color: $secondary; }
    Chart #words { height: auto; max-height: 3; }
    """

    def __init__(self) -> None:
        super().__init__(id="chart")
        self.curves: tuple[Curve, ...] = ()
        self._at = 0
        self._step = ""
        self._digest: str | None = None
        self._asked: str | None = None

    def compose(self) -> ComposeResult:
        """The reading, which curves there are, the plot, what its lines are, what it says."""
        for name in ("brief", "tabs", "plot", "legend", "words"):
            yield Row(name)

    def turn(self) -> None:
        """The next curve."""
        self._at += 1

    def restart(self) -> None:
        """The first curve again: that of what is asked."""
        self._at = 0

    def show(self, desk: Desk, paper: Paper) -> None:
        """Bind what there is; what the history tells is computed aside where it is not known yet."""
        step = desk.ask.step if desk.ask is not None else ""
        if step != self._step:
            self._step = step
            self.restart()
        self._compute_if_new(desk)
        live = peak_curve(desk)
        curves = (live, *self.curves) if live is not None else self.curves
        self._put("brief", brief(desk, paper))
        if not curves:
            waits = self._digest is None
            self._put("tabs", "Computing ..." if waits else "There is no curve yet: it comes with the first readings.")
            for name in ("plot", "legend", "words"):
                self._put(name, "")
            return
        self._draw(curves, paper)

    def on_computed(self, message: Computed) -> None:
        """Take over what was computed last."""
        message.stop()
        self.curves, self._digest = message.curves, message.digest

    def _draw(self, curves: tuple[Curve, ...], paper: Paper) -> None:
        at = self._at % len(curves)
        curve = curves[at]
        more = f"   ({at + 1} of {len(curves)}: Tab)" if len(curves) > 1 else ""
        self._put("tabs", f"{curve.title}{more}")
        size = self.query_one("#plot").size
        rows = plotted(curve, Sheet(size.width, size.height, paper.ascii_only))
        self._put("plot", Content("\n").join(_row(row) for row in rows) if rows else "No room here for a plot.")
        self._put("legend", legend(curve, paper.columns, plain=paper.ascii_only))
        words = "\n".join(curve.words)
        self._put("words", words.replace("±", "+-") if paper.ascii_only else words)

    def _compute_if_new(self, desk: Desk) -> None:
        if desk.history.digest != self._asked:
            self._asked = desk.history.digest
            self._compute(desk.procedure, desk.history, desk.ask)

    @work(thread=True, exclusive=True)
    def _compute(self, procedure: Procedure, history: History, ask: Ask | None) -> None:
        from aligner.engine.curves import curves  # noqa: PLC0415 - on this thread: numbers are slow to load

        self.post_message(Computed(history.digest, curves(procedure, history, ask)))

    def _put(self, name: str, text: str | Content) -> None:
        self.query_one(f"#{name}", Row).put(text)


def peak_curve(desk: Desk) -> Curve | None:
    """The level over the turns of the peak that is being made, or over the readings where turns are not seen."""
    stream, ask = desk.stream, desk.ask
    if stream is None or not isinstance(ask, Peak) or len(stream.trace) < _FEWEST:
        return None
    turned = len(set(stream.turns)) > 1
    places = stream.turns if turned else tuple(float(at) for at in range(len(stream.trace)))
    rows = tuple(zip(places, stream.trace, strict=True))
    unit = desk.unit if desk.unit in {"dB", "V", "Hz"} else ""
    over = "turns, clockwise to the right" if turned else "readings"
    least = FALL_DB if unit == "dB" else 0.0
    line = Line("so far", _thinned(stream, rows))
    return Curve(
        "peak",
        f"Peak of {ask.adjuster} over {over}",
        "turn" if turned else "",
        unit,
        (line,),
        read=rows[-1:],
        least_y=least,
    )


def _thinned(stream: Stream, rows: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    every = max(1, len(stream.trace) // 600)
    return rows[::every]


def _row(cells: tuple[tuple[str, str], ...]) -> Content:
    """Runs of one meaning together: fewer pieces are painted faster."""
    runs: list[tuple[str, str]] = []
    for sign, role in cells:
        if runs and runs[-1][1] == role:
            runs[-1] = runs[-1][0] + sign, role
        else:
            runs.append((sign, role))
    return Content.assemble(*((text, _STYLES.get(role, "")) for text, role in runs))
