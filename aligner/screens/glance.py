"""What is read at a glance, as rows of text: the reading now, an arrow, the aim, the bar, what the hand does."""

from dataclasses import dataclass
from typing import Literal

from aligner.engine.asks import Ask, Peak, Single, Touch
from aligner.engine.gauge import Best, Gauge, Way
from aligner.screens.bar import BLOCKS, PLAIN, Marks, bar, goal_bar, hold_bar
from aligner.screens.blocks import Size, blocks, enlarged, width
from aligner.screens.desk import Desk
from aligner.screens.leads import lead, share
from aligner.screens.peak_words import TAKEN_UP, fine_words, near_words, onward, onward_words, peak_words
from aligner.screens.view import Asked, scale_of
from aligner.screens.words import EIGHTH, Scale, turned_words, turns_words

State = Literal["nothing", "seek", "inside", "peaking", "here", "aim"]

_ARROWS: dict[Way, tuple[str, ...]] = {
    "up": ("  ##  ", " #### ", "######", "  ##  ", "  ##  "),
    "down": ("  ##  ", "  ##  ", "######", " #### ", "  ##  "),
    "there": ("      ", "######", "      ", "######", "      "),
}
_SIZES: tuple[Size, ...] = ("huge", "tall", "low")

FULL_COLUMNS, FULL_ROWS = 80, 24
"""The smallest window that shows all."""

_NEARLY = 3.0
"""So many half widths of the aim away from it the reading leads, and no turns are told that are still to go."""

GAP, TIGHT = 4, 2
"""Columns between two large numbers; the lesser where there is no room for the arrow otherwise."""

_SIGNS: dict[Way, str] = {"up": "▲", "down": "▼", "there": "="}
_ASCII_SIGNS: dict[Way, str] = {"up": "^", "down": "v", "there": "="}


@dataclass(frozen=True, slots=True)
class Column:
    """One large number: its label with the unit, and its rows."""

    label: str
    rows: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Glance:
    """All of it. An empty `columns` means that there is nothing to show large."""

    state: State
    columns: tuple[Column, ...] = ()
    bar: str = ""
    hand: str = ""
    amount: str = ""
    gap: int = GAP


@dataclass(frozen=True, slots=True)
class Paper:
    """What there is to draw on: the window's columns and rows, and whether it has block characters.

    scant: figures at half their height, for rows are few.
    """

    columns: int
    ascii_only: bool = False
    rows: int = 24
    scant: bool = False

    @property
    def small(self) -> bool:
        """Whether the window has not the size that shows all."""
        return self.columns < FULL_COLUMNS or self.rows < FULL_ROWS

    @property
    def roomy(self) -> bool:
        """Whether figures twice as large leave enough for everything else."""
        return self.columns >= 110 and self.rows >= 36

    @property
    def spread(self) -> str:
        """The sign before a tolerance."""
        return "+-" if self.ascii_only else "±"

    @property
    def marks(self) -> Marks:
        """What the bar is drawn with."""
        return PLAIN if self.ascii_only else BLOCKS


def glance(desk: Desk, paper: Paper) -> Glance:
    """What to show large for the open ask and the newest reading."""
    asked, stream = desk.seen.asked if desk.seen else None, desk.stream
    ask = desk.ask
    if asked is None or stream is None or not isinstance(ask, Single):
        return Glance("nothing")
    scale = scale_of(asked, stream.live)
    if stream.live is None:
        return _without_reading(asked, ask, scale, paper, waits=desk.reads_live)
    shown, best = stream.gauge(), stream.best()
    if shown is not None:
        return _seeking(desk, asked, shown, scale, paper)
    now = _column("NOW", stream.live, scale, paper)
    if best is not None:
        return _peaking(desk, asked, now, best, scale, paper)
    return Glance("nothing", (now,))


def brief(desk: Desk, paper: Paper) -> str:
    """The same in one row, for where the room is wanted for something else."""
    asked, stream = desk.seen.asked if desk.seen else None, desk.stream
    if asked is None or asked.unit is None:
        return asked.text if asked else ""
    live = stream.live if stream is not None else None
    scale = scale_of(asked, live)
    parts = [f"NOW {scale.figures(live)} {scale.unit}"] if live is not None else []
    if asked.aim is not None:
        parts.append(f"AIM {scale.figures(asked.aim)} {scale.unit}")
    shown = glance(desk, paper)
    held = _hold_words(desk, paper)
    return "   ".join(part for part in (*parts, held or shown.hand) if part) or asked.text


def breadth(columns: tuple[Column, ...], gap: int = GAP) -> int:
    """Columns that they take side by side."""
    return (
        0
        if not columns
        else sum(max((len(row) for row in column.rows), default=0) for column in columns) + gap * (len(columns) - 1)
    )


def _seeking(desk: Desk, asked: Asked, shown: Gauge, scale: Scale, paper: Paper) -> Glance:
    now = _column("NOW", shown.value, scale, paper)
    edge = desk.stream.edge() if desk.stream is not None else None
    arrow = Column("", () if paper.scant else _arrow((edge or shown).way, paper))
    aim = _aim_column(shown, scale, paper, paper.columns - breadth((now, arrow)) - GAP)
    columns, gap = _with_arrow(now, arrow, aim, paper)
    drawn = bar(edge or shown, paper.columns, paper.marks)
    return Glance(
        state="inside" if shown.inside and edge is None else "seek",
        columns=columns,
        gap=gap,
        bar=f"{drawn}\n{drawn}" if paper.roomy else drawn,
        hand=_at_edge(asked, edge, paper)
        if edge is not None
        else _hand(asked, shown.way, shown.turn, paper, beyond=_beyond(desk, shown)) + onward_words(desk, shown),
        amount=_hold_words(desk, paper)
        or _amount(
            desk,
            asked,
            onward(desk, shown),
            stop=shown.inside and edge is None,
            quiet=edge is not None or _nearly(shown),
        ),
    )


def _with_arrow(now: Column, arrow: Column, aim: Column, paper: Paper) -> tuple[tuple[Column, ...], int]:
    """The arrow between the numbers, where need be with less room around it; and that room."""
    gaps = (gap for gap in (GAP, TIGHT) if arrow.rows and breadth((now, arrow, aim), gap) <= paper.columns)
    gap = next(gaps, None)
    return ((now, aim), GAP) if gap is None else ((now, arrow, aim), gap)


def _peaking(desk: Desk, asked: Asked, now: Column, best: Best, scale: Scale, paper: Paper) -> Glance:
    find = desk.ask.find if isinstance(desk.ask, Peak) else "max"
    name = {"max": "HIGHEST SO FAR", "min": "LOWEST SO FAR", "null": "NEAREST TO 0"}[find]
    kept = _column(name, best.value, scale, paper, "low")
    found = desk.found
    if found is None:
        return Glance("peaking", (now, kept))
    leads = lead(desk, desk.ask, found) if isinstance(desk.ask, Peak) else "unled"
    drawn = goal_bar(share(leads, found), paper.columns, paper.marks) if leads != "unled" else ""
    return Glance(
        state="here" if leads == "stop" else "peaking",
        columns=(now, kept),
        bar=f"{drawn}\n{drawn}" if paper.roomy and drawn else drawn,
        hand=peak_words(desk, asked, found),
        amount=near_words(desk, found)
        or _amount(desk, asked, desk.stream.fingers.sense if desk.stream else 0.0, stop=leads == "stop"),
    )


def _without_reading(asked: Asked, ask: Ask, scale: Scale, paper: Paper, *, waits: bool) -> Glance:
    """The keyboard alone (or a source that is silent): then the aim is what matters, and it is large."""
    if not isinstance(ask, Touch) or asked.aim is None or asked.within is None:
        movement = " / ".join(way for way in asked.ways if way)
        return Glance("nothing", hand=movement, amount=fine_words(ask) or asked.amount)
    way: Way = "down" if asked.direction == "more" else "up"
    known = asked.direction is not None and ask.aim.quantity in {"frequency", "resonance"}
    label = "AIM (no reading yet)" if waits else "TURN UNTIL IT READS"
    column = _column(label, asked.aim, scale, paper)
    arrow = Column("", _arrow(way, paper))
    within = Column("", ("", f"{paper.spread} {scale.figures(asked.within)} {scale.unit}" if asked.within else ""))
    columns = (column, arrow, within) if known and not paper.scant else (column, within)
    movement = asked.ways[0 if asked.direction == "more" else 1] if asked.direction else ""
    hand = _hand(asked, way, asked.direction, paper) if known else movement
    return Glance("aim", columns, hand=hand, amount=asked.amount)


def _column(name: str, value: float, scale: Scale, paper: Paper, most: Size = "huge") -> Column:
    """A number as large as five eighths of the window allow, and not larger than `most`."""
    figures = scale.figures(value)
    most = "low" if paper.scant else most
    sizes = _SIZES[_SIZES.index(most) :] if paper.roomy or most == "low" else _SIZES[1:]
    size: Size = next((size for size in sizes if width(figures, size) <= paper.columns * 5 // 8), "low")
    return Column(f"{name} {scale.unit}", blocks(figures, size, ascii_only=paper.ascii_only))


def _aim_column(shown: Gauge, scale: Scale, paper: Paper, room: int) -> Column:
    """The aim with its tolerance below, as large as the room beside the reading allows."""
    figures = scale.figures(shown.aim)
    size: Size = "tall" if width(figures, "tall") <= room and not paper.scant else "low"
    # In plain characters there is only the tall size, which may have no room beside the reading.
    small = paper.ascii_only and size == "low"
    rows = (figures,) if small else blocks(figures, size, ascii_only=paper.ascii_only)
    spread = f"{paper.spread} {scale.figures(shown.within)} {scale.unit}"
    if paper.scant:
        return Column(f"AIM {scale.unit}  {spread}", rows)
    return Column(f"AIM {scale.unit}", (*rows, "", spread) if len(rows) < 5 or paper.roomy else rows)


def _arrow(way: Way, paper: Paper) -> tuple[str, ...]:
    rows = _ARROWS[way] if paper.ascii_only else tuple(row.replace("#", "█") for row in _ARROWS[way])
    return enlarged(rows, 2) if paper.roomy else rows


def _at_edge(asked: Asked, edge: Gauge, paper: Paper) -> str:
    """In place of words that alternate with STOP while the reading plays about the edge of the aim."""
    sign = (_ASCII_SIGNS if paper.ascii_only else _SIGNS)[edge.way]
    movement = asked.ways[0 if edge.turn == "more" else 1] if edge.turn else ""
    return f"{sign} At the edge of the aim: a hair further" + (f", {movement}" if movement else "")


def _nearly(shown: Gauge) -> bool:
    """Whether the reading is so near to its aim that no forecast of turns is worth as much as the reading itself."""
    return abs(shown.off) <= _NEARLY * shown.within


def _beyond(desk: Desk, shown: Gauge) -> bool:
    """Whether the reading has passed its aim, so that the hand must do the contrary of what the ask says."""
    ask = desk.ask
    if not isinstance(ask, Touch) or ask.aim.quantity == "level" or shown.turn is None:
        return False
    return ask.direction is not None and shown.turn != ask.direction


def _hand(asked: Asked, way: Way, turn: Literal["more", "less"] | None, paper: Paper, *, beyond: bool = False) -> str:
    sign = (_ASCII_SIGNS if paper.ascii_only else _SIGNS)[way]
    if way == "there":
        return f"{sign} STOP: inside the aim"
    movement = asked.ways[0 if turn == "more" else 1] if turn else ""
    if beyond:
        return f"{sign} Past the aim: back" + (f", {movement}" if movement else "")
    wanted = "Reading must rise" if way == "up" else "Reading must fall"
    return f"{sign} {wanted}" + (f": {movement}" if movement else "")


def _amount(desk: Desk, asked: Asked, sense: float = 0.0, *, stop: bool = False, quiet: bool = False) -> str:
    """About how much at the start, and how far it has been turned since.

    sense: which way the level leads, clockwise positive; where what was counted leads the other way it is not told.
    stop: it stands where it should, whatever turns were thought to lead there. quiet: what is still to be turned is not
    told, for the reading tells it better.
    """
    turned = desk.stream.turned if desk.stream else 0.0
    if stop:
        return turned_words(turned) if desk.turnable and desk.counted else ""
    if desk.taken_up:
        return TAKEN_UP
    if not desk.turnable or not desk.counted:
        return asked.amount
    done = turned_words(turned)
    if asked.turns is None or abs(turned) < EIGHTH / 2:
        return ", ".join(part for part in (asked.amount, done) if part)
    left = asked.turns.value - turned
    quiet = quiet or abs(left) < EIGHTH / 2
    return done if quiet or left * sense < 0.0 else f"{done}; still {turns_words(left)}"


def _hold_words(desk: Desk, paper: Paper) -> str:
    held = getattr(desk.hold(), "held", 0.0)
    if held <= 0:
        return ""
    return f"Hold still: {hold_bar(held, 20, paper.marks)} taken by itself; any key stops it"
