"""Pages that are read and confirmed, as text: cautions at a sitting, where the job stands, the help."""

import textwrap

from aligner.engine.answers import Done, Remark, Undo
from aligner.engine.asks import Confirm, Touch
from aligner.engine.history import History
from aligner.engine.survey import Survey
from aligner.procedure.hazards import cautions
from aligner.procedure.model import Procedure
from aligner.screens.commands import help_lines
from aligner.screens.log import entry_words
from aligner.screens.view import count_words
from aligner.screens.words import generator_words, point_words
from aligner.text import clean

_BESIDE = 24
"""Columns of a window that the keys, the edges of the page and its scroll bar take from the words of the help."""

_NARROW, _WIDE = 80, 100
"""Windows, in columns, for which the help is laid out at least, and at most."""


def sitting_pages(procedure: Procedure, history: History, survey: Survey) -> tuple[str, ...]:
    """What is confirmed when a job is gone on with: each caution by itself, then where everything stands."""
    warned = tuple(f"CAUTION\n\n{clean(cautions(hazard), 2000)}" for hazard in procedure.hazards)
    return (*warned, where_it_stands(history, survey))


def where_it_stands(history: History, survey: Survey) -> str:
    """Three lines: what was done, what is next, what to connect."""
    return f"DONE     {_done(history)}\n\nNEXT     {_next(survey)}\n\nCONNECT  {_connect(survey)}"


def help_text(*, jobs_first: bool = False, columns: int = _NARROW) -> str:
    """All keys, from the table of commands; those of the list of jobs first where it was called from there."""
    width = max(_NARROW, min(_WIDE, columns)) - _BESIDE
    rows = ["Up/Down, PgUp/PgDn: scroll   Esc: back"]
    for key, words in help_lines(jobs_first=jobs_first):
        if not key:
            rows += ["", words]
            continue
        first, *more = textwrap.wrap(words, width)
        rows += [f"{key:>7}  {first}", *(f"{'':>7}  {line}" for line in more)]
    return "\n".join(rows).strip()


def _done(history: History) -> str:
    said = [row for row in history.live() if not isinstance(row.answer, Remark | Undo) and not row.doubt]
    if not said:
        return "nothing yet"
    log = f" (of {len(history.entries)} entries in the log)" if len(said) < len(history.entries) else ""
    confirmed = sum(isinstance(row.answer, Done) for row in said)
    of_them = f" ({confirmed} of them confirmations)" if confirmed else ""
    return f"{count_words(len(said), 'answer', 's')}{of_them} taken{log}; the last: {entry_words(said[-1])}"


def _next(survey: Survey) -> str:
    if survey.ask is not None:
        return survey.ask.text
    aside = [clean(report.title or report.id, 80) for report in survey.steps if report.state == "set-aside"]
    return f"nothing is asked; g takes up what was set aside: {', '.join(aside)}" if aside else "nothing is left to do"


def _connect(survey: Survey) -> str:
    ask = survey.ask
    if ask is None or isinstance(ask, Confirm):
        return "as the ask says"
    quantity = ask.aim.quantity if isinstance(ask, Touch) else getattr(ask, "quantity", "level")
    reads = {"frequency": "the counter", "level": "the level meter", "volts": "the voltmeter"}
    parts = (
        reads.get(quantity, "what reads the circuit's resonance"),
        generator_words(ask.generator),
        f"set at {point_words(ask.point)}" if ask.point is not None else "",
    )
    return ", ".join(part for part in parts if part)
