"""Rows of the guide as text, cut to the room there is."""

import re
from dataclasses import dataclass

from textual.content import Content

from aligner.engine.asks import Peak, Touch, Turning
from aligner.engine.capture import NotYet
from aligner.screens.commands import footer
from aligner.screens.desk import Desk
from aligner.screens.entry import Line
from aligner.screens.fingers import step_words
from aligner.screens.glance import FULL_COLUMNS, FULL_ROWS, Paper
from aligner.screens.keys import says_it_again
from aligner.screens.log import broken, whole
from aligner.screens.lower import lower_left, lower_right
from aligner.screens.sources import AT_STOP
from aligner.screens.stream import Stream
from aligner.screens.travel import away, away_words, other_way_words

_READING = ("take", "undo", "note", "help", "leave", "unreadable", "way", "curves", "where")
_TURNING = ("take", "undo", "note", "help", "leave", "end", *_READING[5:])
_SWEEPING = ("take", "file", *_READING[1:])
_CONFIRMING = ("take", "undo", "note", "help", "leave", "where", "aside")

_ENDED = ("undo", "help", "leave", "curves", "where", "known")

_FOOT = {"touch": _TURNING, "peak": _TURNING, "confirm": _CONFIRMING, "": _ENDED, "sweep": _SWEEPING}

_WRITING = "Enter: {}   Esc: leave it   Left/Right, Backspace: mend   Ctrl+U: empty"
_WRITTEN = {"note": "keep it", "aside": "set aside", "correct": "look at it", "": "take it"}
"""What Enter does with what is typed."""

_FIXED_ROWS = 17
"""Of the window: head, figures, bar and hand, three rows of steps, the entry line and what is below it."""

_APART = "   "
"""Between two things that the entry line offers."""

_AROUND = 10
"""Of the entry line: the prompt, the cursor, and what stands before the echo."""

_AND = "; "
_FINER = "; back is finer"
_SHIFT, _CONTROL = "; Shift finer", ", Ctrl coarser"
_READ = " the reading"
_TURNLESS = {"air-coil", "rod-coil", "wire-trimmer"}
"""Kinds that are bent, slid or wound: a part of a turn says nothing of them."""
_WITH_SHIFT = "now with Shift, a hair at a time"
"""Where a press alone would jump over the aim."""

_REPLIES = {"y": "I meant that", "i": "it is right"}
"""What the keys say of a reading that stands questioned."""

_STANDS = re.compile(r"\bIt stands (about .+? too (?:high|low)) here")
"""Where a circuit stands, as the reason of a touch begins."""

AT_REST = "If it no longer moves while you turn on, the adjuster is at its end of travel: press e."

_TYPED = {
    "sweep": "type 10.65 MHz -3; 10.7 MHz 0; ... (frequency, value), or f: from a file",
    "wand": "type 3 levels: none ferrite brass; or 2 signs, far poorer: + up - down = same",
    "wand by signs": "type 2 signs, ferrite and brass: + up - down = same",
}
"""What is typed where it is not one reading; signs alone where the law of the meter is unknown."""


@dataclass(frozen=True, slots=True)
class Room:
    """What is asked, in the rows that it may take."""

    ask: str
    place: str
    why: str


def rows_of(
    desk: Desk, paper: Paper, lower_rows: int, source: str, message: str
) -> tuple[tuple[str, str | Content], ...]:
    """Every row of text, by the name of its widget; `lower_rows` is the room for steps and log."""
    columns, rows = paper.columns, paper.rows
    room, left = room_for(desk, columns, rows), columns if desk.end else columns // 2 - 2
    return (
        ("head", head_row(desk, columns, source, rows)),
        ("ask", room.ask),
        ("place", room.place),
        ("why", room.why),
        ("steps", lower_left(desk, lower_rows, left, ascii_only=paper.ascii_only)),
        ("log", lower_right(desk, lower_rows, columns // 2 - 2)),
        ("entry", entry_row(desk, columns)),
        ("note", note_row(desk, message, columns)),
        ("foot", foot_row(desk, columns)),
    )


def room_for(desk: Desk, columns: int, rows: int) -> Room:
    """The ask, where everything stands, and why; shorter in a low window."""
    seen = desk.seen
    if seen is None:
        return Room("", "", "")
    asked = seen.asked
    if asked is None:
        return Room(cut(seen.ended, columns, 4), "", reasons(desk))
    most = 8 if asked.kind == "confirm" else 6
    spot = f"The adjuster: {asked.spot}." if asked.spot and asked.spot not in asked.text else ""
    place = ". ".join(part for part in (asked.place, spot) if part)
    if rows < 30:
        place = ""  # the ask says it in its own words, and rows are few
    asks_back = desk.question is not None or desk.doubt is not None
    why = reasons(desk) if not (asks_back and rows < 30) else ""
    shown = cut(instruction(desk), columns, most)
    why_rows = min(3, max(2, rows - _FIXED_ROWS - shown.count("\n") - 1))
    return Room(shown, cut(place, columns, 2), without_the_lesser(why, columns, why_rows))


def instruction(desk: Desk) -> str:
    """What is to be done, whole; or how the job has ended."""
    seen = desk.seen
    if seen is None or seen.asked is None:
        return seen.ended if seen is not None else ""
    return f"{'CAUTION. ' if seen.asked.hazard else ''}{seen.asked.text}"


def reasons(desk: Desk) -> str:
    """What the ask rests on, and why it is asked."""
    seen = desk.seen
    if seen is None or seen.asked is None:
        return _at_the_end(seen.aside) if seen is not None else ""
    why = past(seen.asked.why) if desk.taken_up or desk.moved else seen.asked.why
    because = why if seen.asked.kind == "confirm" or not why else f"Why: {why}"
    return " ".join(part for part in (seen.rests, because) if part)


def _at_the_end(aside: tuple[str, ...]) -> str:
    """What can still be done; `aside` are the titles of the steps that were set aside."""
    offer = f"g: {_take_up(aside)}. " if aside else ""
    return f"{offer}Enter closes the job. Undo takes back the newest answer."


def _take_up(aside: tuple[str, ...]) -> str:
    return f"take up {aside[0]}" if len(aside) == 1 else f"take up one of the {len(aside)} steps set aside"


def past(why: str) -> str:
    """The reason of a touch once its adjuster was turned: what it says of the error was so before."""
    return _STANDS.sub(r"It stood \1 here before this touch", why)


def head_row(desk: Desk, columns: int, source: str, rows: int) -> str:
    """Where in the procedure, and what the readings come from; or that the window is too small."""
    seen = desk.seen
    if seen is None:
        return ""
    if Paper(columns, rows=rows).small:
        size = f"Window {columns}x{rows}: {FULL_COLUMNS}x{FULL_ROWS} shows all."
        return whole((size, "Readings are taken all the same."), columns, " ")
    right = (source or "keyboard") + ("" if desk.hands_free else ", hands-free off")
    left = " - ".join(part for part in (seen.where, seen.title) if part)
    room = columns - len(right) - 2
    left = left if len(left) <= room else seen.where or left  # whose procedure it is stands in the list of jobs
    shown = left if len(left) <= room else f"{left[: room - 3].rstrip(' -')}..."
    return f"{shown:<{room}}  {right}"


def entry_row(desk: Desk, columns: int) -> str:
    """The entry line, with what has been understood of it so far."""
    if desk.waiting:
        return " keeping ..."
    prompt = {"note": " note: ", "aside": " set aside, because: ", "correct": " correct entry number: "}.get(
        desk.writing, " > "
    )
    line = desk.line
    if desk.question is not None:
        kept = f"{line.text}   waits: " if line.text else ""
        return f"{prompt}{kept}first the question below"[:columns]
    typed = prompt + _scrolled(line, columns - len(prompt))
    sound, echo = desk.echo()
    if echo:
        typed += f"   {'=' if sound else '?'} {'see below' if _unread(desk, columns) else echo}"
    elif not line.text and not desk.writing:
        typed = prompt + _offered(_invitation(desk), columns - len(prompt))
    return typed[:columns]


def _scrolled(line: Line, columns: int) -> str:
    """What is typed with its cursor, and of a long line the part about the cursor."""
    text = f"{line.text[: line.cursor]}_{line.text[line.cursor :]}"
    if len(text) <= columns:
        return text
    start = max(0, min(line.cursor - columns // 2, len(text) - columns))
    return text[start : start + columns]


def _unread(desk: Desk, columns: int) -> str:
    """Why what is typed is not understood, where the entry line has no room for it."""
    sound, echo = desk.echo()
    return echo if not sound and len(desk.line.text) + len(echo) + _AROUND > columns else ""


def note_row(desk: Desk, source_message: str, columns: int = FULL_COLUMNS) -> str:
    """A question, a doubt, what was typed wrongly, or what went wrong: the most urgent of them."""
    doubt = desk.doubt
    if desk.question is not None:
        return f"{desk.message} {desk.question.text}".strip()
    if doubt is not None and desk.survey is not None:
        return f"{desk.message} Questioned: {desk.survey.doubt}   {doubt.text}".strip()
    early = desk.stream.early_words() if desk.stream is not None else ""
    source = _at_stop(desk) if source_message == AT_STOP else source_message
    return _unread(desk, columns) or desk.message or early or source or desk.by_itself or _at_rest(desk)


def _at_rest(desk: Desk) -> str:
    """What only the hand can tell where an instrument is read: whether the adjuster still moves what is read."""
    stream = desk.stream
    if stream is None or not desk.reads_live or desk.turnable or not stream.at_rest:
        return ""
    return "The reading went away from the aim: turn the other way." if away(desk) else AT_REST


def _at_stop(desk: Desk) -> str:
    return away_words(desk) or other_way_words(desk) or AT_STOP


def foot_row(desk: Desk, columns: int) -> str:
    """The keys that matter now."""
    if desk.waiting:
        return footer(("leave",), columns)
    if desk.question is not None:
        return f"{', '.join(desk.question.keys)}, Esc: as the question says"[:columns]
    if desk.writing or desk.line.text:
        return _WRITING.format(_WRITTEN[desk.writing])[:columns]
    if desk.doubt is not None:
        replies = "".join(f"{key} {_REPLIES[key]}  " for key in desk.doubt.keys)
        own = f"{replies}Esc put away  "
        return own + footer(("undo", "help", "leave", "note"), columns - len(own))
    kind = desk.seen.asked.kind if desk.seen and desk.seen.asked else ""
    many = desk.seen is not None and len(desk.seen.ways) > 1
    names = tuple(name for name in _FOOT.get(kind, _READING) if many or name != "way")
    if desk.seen is not None and desk.seen.aside:
        names = (*names[:1], "go", *names[1:])
    return footer(names, columns, {"go": "take up"} | ({"take": "done"} if kind == "confirm" else {}))


def without_the_lesser(text: str, columns: int, rows: int) -> str:
    """The text in so many rows, without its last sentences or brackets where it is longer: `k` shows it whole."""
    parts = re.split(r"(?<=[.)]) +(?=[A-Z(])", text)
    while len(parts) > 1 and len(broken(" ".join(parts), max(10, columns))) > rows:
        parts.pop()
    return cut(" ".join(parts), columns, rows)


def cut(text: str, columns: int, rows: int) -> str:
    """The text in at most so many rows; an ellipsis where it had to be cut."""
    lines = broken(text, max(10, columns)) if text else []
    if len(lines) <= rows:
        return "\n".join(lines)
    return "\n".join([*lines[: rows - 1], lines[rows - 1][: columns - 4].rstrip() + " ..."])


def _invitation(desk: Desk) -> str:
    asked = desk.seen.asked if desk.seen else None
    if asked is None or asked.kind == "confirm":
        aside = desk.seen.aside if desk.seen is not None and not asked else ()
        offer = f"g: {_take_up(aside)}{_APART}" if aside else ""
        return "Enter: done" if asked else f"{offer}Enter: close the job"
    if says_it_again(desk):
        return (
            f"{_hands(desk)}   or type it" if desk.turnable and asked.can_turn else "type the reading again, then Enter"
        )
    if desk.turnable and asked.can_turn:
        return f"{_hands(desk)}   Enter: take it"
    if desk.reads_live:
        held = desk.hold()
        return "Enter: take the reading" if isinstance(held, NotYet) else ""
    if desk.turnable:
        signs = "; or type 2 signs: + up - down = same" if asked.kind == "wand" else ""
        return f"Enter: let the virtual set answer{signs}"
    kind = "wand by signs" if asked.kind == "wand" and not desk.law_known else asked.kind
    return _TYPED.get(kind, "type the reading, then Enter")


def _offered(invitation: str, columns: int) -> str:
    """The invitation without what has no room: what goes without saying, then what is offered last."""
    for lesser in (_CONTROL, _FINER, _READ, _SHIFT):
        invitation = invitation.replace(lesser, "") if len(invitation) > columns else invitation
    parts = invitation.split(_APART)
    first = whole(tuple(parts[0].split(_AND)), columns, _AND)
    return whole((first, *parts[1:]), columns, _APART)


def _next_press(desk: Desk, stream: Stream) -> float:
    """What one more press turns [turn]."""
    if (middle := desk.to_middle) is not None:
        return stream.fingers.step(middle)
    return stream.fingers.step(stream.to_go, most=stream.boldest)


def _hands(desk: Desk) -> str:
    """What the arrow keys do to the reading, once that was seen; a hand knows it by feel."""
    stream = desk.stream
    raising = stream.raising if stream is not None else 0.0
    step = f"{_step_words(desk, stream)}{_SHIFT}{_CONTROL}" if stream is not None else "Shift is finer"
    if isinstance(desk.ask, Peak) or (isinstance(desk.ask, Touch) and desk.ask.aim.quantity == "level"):
        return f"Left/Right: turn{_FINER}; {step}"
    if not raising:
        return f"Left/Right: try one{_FINER}; {step}"
    up, down = ("Right", "Left") if raising > 0 else ("Left", "Right")
    if stream is not None and stream.too_coarse:
        step = _WITH_SHIFT
    return f"{up} raises, {down} lowers{_READ}; {step}"


def _step_words(desk: Desk, stream: Stream) -> str:
    """What one more press turns; parts of a turn only of what rotates."""
    ask = desk.ask
    turns = isinstance(ask, Turning) and desk.procedure.adjuster(ask.adjuster).kind not in _TURNLESS
    return step_words(_next_press(desk, stream), rotates=turns)
