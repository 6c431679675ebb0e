"""The steps and the log side by side below the large figures: whole names on several lines, as far as rows go."""

import re
from itertools import groupby

from textual.content import Content

from aligner.screens.desk import Desk
from aligner.screens.ended import placed
from aligner.screens.log import LogLine, broken, fitted, whole
from aligner.screens.view import StepLine

_MOST_ROWS, _RUNNING_ROWS = 3, 4
"""Of one step, and of the running one: a long reason stands whole on the page of the place in the job."""

_LOG_ROWS = 3

_HEAD = "$secondary"
"""The style of the two heads: what the theme has for what matters less, which high contrast shows as bright as all."""

_SENSE = re.compile(r"[,;:.] (?=[^()]*(?:\([^()]*\)[^()]*)*$)")
"""Where what is known of a step can end, outside of brackets."""

_DONE = "done: "

_MORE, _STOPS = " ...", " ,;:."
"""What a preparation ends with that has no room, and what does not stand before that."""

_TOLERANCE = re.compile(r"± (?=\d)")


def lower_left(desk: Desk, rows: int, columns: int, *, ascii_only: bool = False) -> Content:
    """The steps, those around the running one where not all fit; at the end the table, as broad in plain characters."""
    seen = desk.seen
    if seen is None or desk.end:
        table = placed(desk.end, rows, columns)
        return Content(_TOLERANCE.sub("+-", table).replace("±", "+-") if ascii_only else table)
    steps, room = list(seen.steps), max(1, rows - 1)
    wide = max((len(step.state) for step in steps), default=0)
    blocks = [_block(step, wide, columns, room) for step in steps]
    at = next((index for index, step in enumerate(steps) if step.running), 0)
    shown = _around(at, [len(block) for block in blocks], room)
    more = (*(("g: take up",) if seen.aside else ()), *(() if len(shown) == len(steps) else ("p: all",)))
    lines = [Content.styled(whole((f"STEPS  {seen.done}", *more), columns, "   "), _HEAD)]
    for index in shown:
        style = "bold" if steps[index].running else ""
        lines += [Content.styled(line, style) for line in blocks[index]]
    return Content("\n").join(lines[: room + 1])


def lower_right(desk: Desk, rows: int, columns: int) -> Content:
    """The newest entries of the log that fit."""
    lines: list[str] = []
    for entry in reversed(_folded(desk.seen.log if desk.seen is not None else ())):
        block = _log_block(entry, columns)
        if len(lines) + len(block) > rows - 1:
            break
        lines = [*block, *lines]
    undone = ("undone too",) if desk.seen is not None and desk.seen.undone else ()
    counts = (f"LOG  {desk.seen.counts}", "u: undo", *undone) if desk.seen is not None else ("LOG",)
    head = Content.styled(whole(counts, columns, "   "), _HEAD)
    return Content("\n").join([head, *(Content(line) for line in lines)])


def _folded(log: tuple[LogLine, ...]) -> list[str]:
    """The entries, those that were only confirmed one after the other as one: the page of the log has each."""
    shown: list[str] = []
    for only, group in groupby(log, key=lambda line: line.text.startswith(_DONE) and not line.mark):
        rows = list(group)
        if only and len(rows) > 1:
            shown.append(f"{rows[0].seq:>3}-{rows[-1].seq} {len(rows)} confirmations")
        else:
            shown += [str(row) for row in rows]
    return shown


def _around(at: int, heights: list[int], room: int) -> range:
    """The most neighbours of the running step that fit, as many before it as after it where there are."""
    first, last, left = at, at, room - heights[at] if heights else 0
    grew = bool(heights)
    while grew:
        grew = False
        if last + 1 < len(heights) and heights[last + 1] <= left:
            last, grew = last + 1, True
            left -= heights[last]
        if first > 0 and heights[first - 1] <= left:
            first, grew = first - 1, True
            left -= heights[first]
    return range(first, last + 1) if heights else range(0)


def _block(step: StepLine, wide: int, columns: int, room: int) -> list[str]:
    """The state first: it is what changes, and must not be cut off. What is known has the rows that are left."""
    head = f"{'>' if step.running else ' '}{step.mark} {step.state:<{wide}} "
    most = min(room, _RUNNING_ROWS if step.running else _MOST_ROWS)
    lines = _told(step, max(4, columns - len(head)), most)
    return [line[:columns] for line in (head + lines[0], *(" " * len(head) + line for line in lines[1:]))]


def _told(step: StepLine, columns: int, most: int) -> list[str]:
    """Title and what is known of it in so many rows: without its last parts where they are too many, at a sense."""
    details = (*_senses(step.detail), "")
    texts = [broken(f"{step.title} ({detail})" if detail else step.title, columns) for detail in details]
    fitting = next((lines for lines in texts if len(lines) <= most), None)
    return fitting or [*texts[-1][: most - 1], f"{texts[-1][most - 1][: columns - 4].rstrip()} ..."]


def _senses(detail: str) -> tuple[str, ...]:
    """The whole, then without what follows its last comma, semicolon or colon, and so on."""
    ends = [cut.start() for cut in _SENSE.finditer(detail)]
    return (detail, *(detail[:end] for end in reversed(ends))) if detail else ()


def _log_block(line: str, columns: int) -> list[str]:
    """An entry on a few rows at most; what was only confirmed needs no second one."""
    wrapped = broken(line, columns, " " * 4)
    if line[4:].startswith(_DONE) and len(wrapped) > 1:
        return [f"{broken(line, columns - len(_MORE))[0].rstrip(_STOPS)}{_MORE}"]
    return wrapped if len(wrapped) <= _LOG_ROWS else [fitted(line, columns)]
