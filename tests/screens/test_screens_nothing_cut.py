"""Whole jobs at 80 columns and 24 rows: nothing that matters is cut off."""

import math

import msgspec
import pytest

from aligner.engine.asks import Turning
from aligner.engine.capture import Sample
from aligner.procedure.model import Way
from aligner.rehearsal.set import VirtualSet
from aligner.screens.desk import Desk
from aligner.screens.glance import Paper, glance
from aligner.screens.lower import lower_left, lower_right
from aligner.screens.paint import room_for, rows_of
from tests.screens.walked import walked

COLUMNS, ROWS = 80, 24
HALF = COLUMNS // 2 - 2
END_ROWS = 19
"""What the table has when a job of 15 steps has ended: 24 less head, words and foot."""

JOBS: list[tuple[str, Way | None]] = [
    ("fm-varactor", None), ("fm-varactor", "level"), ("fm-varactor", "wand"), ("fm-varactor", "stage-voltage"),
    ("mw-fixed-rod", None), ("fm-presets", None), ("lw-mw-sw", None), ("lw-mw-sw", "level"), ("fm-gang-ratio", None),
    ("fm-varactor-full", None), ("oscillator-below", None), ("sw-image", None), ("if-strip", None),
]  # fmt: skip
"""Resonance, level, wand, stage voltage, rocking, presets, three bands, IF peaks, sweep, detector."""


def cut_off(desk: Desk, virtual: VirtualSet) -> list[str]:
    """Every row that is cut, of those that must not be, as it is shown."""
    room = room_for(desk, COLUMNS, ROWS)
    shown = dict(rows_of(desk, Paper(COLUMNS), 8, "virtual set", ""))
    rows = [*room.ask.split("\n"), *room.why.split("\n"), *(str(shown[name]) for name in ("entry", "foot"))]
    rows += _glanced(desk, virtual)
    found = [row for row in rows if row.endswith("...") or len(row) > COLUMNS]
    found += [row for row in (str(shown["entry"]),) if len(row) >= COLUMNS]
    return found + _lower(desk)


def _glanced(desk: Desk, virtual: VirtualSet) -> list[str]:
    """What stands below the figures, by keyboard, and before the virtual set's instrument where it can be read."""
    if not isinstance(desk.ask, Turning):
        return []
    before = glance(desk, Paper(COLUMNS))
    value = virtual.display(msgspec.to_builtins(desk.ask))[1]
    if math.isfinite(value):
        desk.sample((Sample(10.0, value), Sample(11.0, value)))
    after = glance(desk, Paper(COLUMNS))
    return [before.hand, before.amount, after.hand, after.amount]


def _lower(desk: Desk) -> list[str]:
    """Steps without the title of the running one, entries of the log without what was read."""
    assert desk.seen is not None
    if desk.ask is None:
        table = str(lower_left(desk, END_ROWS, COLUMNS))
        return [line for line in table.split("\n") if len(line) > COLUMNS] + (
            [table] if len(table.split("\n")) > END_ROWS else []
        )
    steps = " ".join(str(lower_left(desk, 8, HALF)).split())
    titles = [step.title for step in desk.seen.steps if step.running and " ".join(step.title.split()) not in steps]
    log = str(lower_right(desk, 8, HALF)).split("\n")
    return titles + [row for row in log if "..." in row and " done: " not in row and " note: " not in row]


@pytest.mark.parametrize(("name", "by"), JOBS)
def test_nothing_that_matters_is_cut_in_a_whole_job(name: str, by: Way | None) -> None:
    asks = 0
    for desk, virtual in walked(name, by, on_bench=True):
        assert cut_off(desk, virtual) == [], desk.ask
        asks += 1
    assert asks > 15
    assert desk.ask is None
