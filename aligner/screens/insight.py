"""Pages of text about a job: where it stands, its circuits as a picture, what is believed, and the whole log."""

import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from aligner.engine.history import History
from aligner.engine.survey import Believed, Survey
from aligner.procedure.model import Procedure
from aligner.screens.log import MOVED_SINCE, broken, log_lines
from aligner.screens.picture import picture
from aligner.screens.stale import moved_since
from aligner.screens.view import AT_WORST, count_words, known_error
from aligner.screens.words import MARKS, STATES

if TYPE_CHECKING:
    from aligner.engine.progress import Progress, StepCost

_ABOUT = 22
"""Columns for what a row is about."""

_CURVE_ROWS = 16

_AT_WORST = (
    f"{AT_WORST}: at the worst point of the step, from all readings together (of a read-back, as it was read); KNOWN "
    "tells of each point."
)

_MOVED_SINCE = (
    f"{MOVED_SINCE}: an adjuster of that circuit was turned after that reading, so its place is to be read again; once "
    "that is done, the mark goes."
)


@dataclass(frozen=True, slots=True)
class Subject:
    """What the pages are about."""

    procedure: Procedure
    history: History
    survey: Survey
    plain: bool = False


Page = Callable[[Subject, int], str]


def where_page(subject: Subject, columns: int) -> str:
    """All steps with their states, what disturbed what, and what it has cost so far."""
    from aligner.engine.progress import progress  # noqa: PLC0415 - numbers are slow to load, and few look here

    stands = progress(subject.procedure, subject.history, subject.survey)
    lines = [*textwrap.wrap(_cost_line(stands, subject.survey.readings), columns), ""]
    for cost in stands.steps:
        lines += _step_lines(cost, columns, running=cost.report.id == subject.survey.running)
    lines += ["", "[x] held   [!] disturbed   [ ] to do   [=] at limit   [-] set aside"]
    if any(known_error(cost.report).startswith(AT_WORST) for cost in stands.steps):
        lines += textwrap.wrap(_AT_WORST, columns)
    return _plainly("\n".join(lines), subject)


def picture_page(subject: Subject, columns: int) -> str:
    """The set's circuits, the adjuster to touch marked."""
    return picture(subject.procedure, subject.survey.ask, columns, plain=subject.plain)


def known_page(subject: Subject, columns: int) -> str:
    """What is believed, and why the open ask comes next."""
    from aligner.engine.beliefs import beliefs  # noqa: PLC0415 - numbers are slow to load, and few look here

    lines: list[str] = []
    for chapter in beliefs(subject.procedure, subject.history, subject.survey.ask):
        lines += [chapter.title, *(line for row in chapter.rows for line in _believed(row, columns)), ""]
    return _plainly("\n".join(lines), subject)


def curves_page(subject: Subject, columns: int) -> str:
    """All curves, one below the other."""
    from aligner.engine.curves import curves  # noqa: PLC0415 - numbers are slow to load, and few look here
    from aligner.screens.plot import Sheet, legend, plotted  # noqa: PLC0415 - the same

    lines: list[str] = []
    for curve in curves(subject.procedure, subject.history, subject.survey.ask):
        rows = plotted(curve, Sheet(columns, _CURVE_ROWS, subject.plain))
        lines += [
            curve.title,
            *("".join(sign for sign, _ in row) for row in rows),
            legend(curve, columns, plain=subject.plain),
        ]
        lines += [*(line for words in curve.words for line in textwrap.wrap(words, columns)), ""]
    return _plainly("\n".join(lines), subject) or "There is no curve yet: it comes with the first readings."


def log_page(subject: Subject, columns: int) -> str:
    """Everything that was said, oldest first."""
    stale = moved_since(subject.procedure, subject.history, subject.survey)
    lines = [
        line
        for row in log_lines(subject.history, stale, subject.procedure)
        for line in textwrap.wrap(str(row), columns, subsequent_indent=" " * 4) or [str(row)]
    ]
    if stale:
        lines += ["", *textwrap.wrap(_MOVED_SINCE, columns)]
    return "\n".join(lines) or "Nothing was said yet."


PAGES: tuple[tuple[str, Page], ...] = (
    ("where", where_page),
    ("picture", picture_page),
    ("known", known_page),
    ("curves", curves_page),
    ("log", log_page),
)
"""The pages in their order, by the names of the commands that open them."""

TITLES = {"where": "WHERE AM I", "picture": "SET", "known": "KNOWN", "curves": "CURVES", "log": "LOG"}


def _plainly(text: str, subject: Subject) -> str:
    return text.replace("±", "+-" if subject.plain else "±")


def _cost_line(stands: "Progress", readings: int) -> str:
    counts = f"{count_words(stands.touches, 'touch', 'es')}, {count_words(readings, 'reading', 's')}"
    paper = f" To and fro, the paper way, would take about {stands.paper} touches." if stands.paper else ""
    return f"So far {counts}, {round(stands.bench_s / 60)} min at the bench.{paper}"


def _step_lines(cost: "StepCost", columns: int, *, running: bool) -> list[str]:
    report = cost.report
    touches = f", {count_words(cost.touches, 'touch', 'es')}" if cost.touches else ""
    pointer = ">" if running else " "
    lines = [f"{pointer} {MARKS[report.state]} {STATES[report.state]:<9} {report.title or report.id}{touches}"]
    known = known_error(report, spread=True)
    if known:
        lines += _indented(known, columns)
    if report.why:
        lines += _indented(report.why, columns)
    if cost.moved_after:
        lines += _indented(f"Disturbed by: {', '.join(cost.moved_after)}, moved after this step was done.", columns)
    return lines


def _indented(words: str, columns: int) -> list[str]:
    return [f"{'':16}{line}" for line in broken(words, columns - 16)]


def _believed(row: Believed, columns: int) -> list[str]:
    spread = f" (95 %: ± {row.plus_minus})" if row.plus_minus else ""
    words = broken(f"{row.what}{spread}", columns - _ABOUT - 2)
    if len(row.about) < _ABOUT:
        words, head = words[1:], [f"  {row.about:<{_ABOUT}}{words[0]}"]
    else:
        head = [f"  {row.about}"]
    return [*head, *(f"{'':{_ABOUT + 2}}{line}" for line in words)]
