"""What counts as a touch, and what as a reading."""

import msgspec
import pytest

from aligner.engine.answers import Answer, Cannot, Done, Note, Reading, SetAside, SweepSeen, Trend, Undo, WandSeen
from aligner.engine.asks import Aim, Ask, Confirm, Peak, Point, Read, Sweep, Touch, Wand
from aligner.engine.history import Entry, History
from aligner.engine.ledger import ledger_of, touch_count
from tests.small_sets import FM, read

HERE, THERE = Point(received=90e6), Point(received=106e6)
AIM = Aim("turns", 0.5, 0.125)


def peak(adjuster: str = "antenna-coil", point: Point = HERE) -> Peak:
    return Peak(id=1, step="antenna", text="", adjuster=adjuster, circuit="antenna", point=point)


def touch(adjuster: str = "antenna-coil", point: Point = HERE) -> Touch:
    return Touch(id=1, step="antenna", text="", adjuster=adjuster, circuit="antenna", point=point, aim=AIM)


def look(point: Point = HERE) -> Read:
    return Read(id=1, step="antenna", text="", quantity="level", circuit="antenna", point=point)


def wand(point: Point = HERE) -> Wand:
    return Wand(id=1, step="antenna", text="", circuit="antenna", point=point)


def sweep(point: Point | None) -> Sweep:
    return Sweep(id=1, step="antenna", text="", quantity="level", from_hz=1e6, to_hz=2e6, count=5, point=point)


SURE = Confirm(id=1, step="antenna", text="")
SEEN: dict[type, Answer] = {
    Confirm: Done(),
    Read: Reading(-3.0),
    Touch: Reading(0.5),
    Peak: Reading(-1.0),
    Wand: WandSeen("up", "down"),
    Sweep: SweepSeen(((1e6, 0.0), (1.5e6, -1.0), (2e6, -3.0))),
}


def entries(*asks: Ask | None) -> tuple[Entry, ...]:
    return tuple(
        Entry(n, float(n), "test", ask, Note("a word") if ask is None else SEEN[type(ask)])
        for n, ask in enumerate(asks, start=1)
    )


@pytest.mark.parametrize(
    ("asks", "touches"),
    [
        ((), 0),
        ((look(), wand(), sweep(THERE), SURE), 0),
        ((peak(),), 1),
        ((peak(), touch()), 1),  # a peak and turning on past it are one
        ((peak(), peak()), 1),
        ((peak(), None, touch()), 1),
        ((peak(), look(), touch()), 1),  # the level at the very place, the tool still in
        ((peak(), SURE, touch()), 1),
        ((peak(), look(THERE), touch()), 2),  # a reading elsewhere
        ((peak(), wand(THERE), touch()), 2),
        ((peak(), sweep(THERE), touch()), 2),
        ((peak(), touch(point=THERE)), 2),  # the same adjuster at another point
        ((peak(), touch("antenna-trimmer")), 2),  # another adjuster at the same point
        ((peak(), touch("antenna-trimmer"), peak()), 3),
        ((peak(), touch(), peak("antenna-trimmer", THERE), peak()), 3),
        ((touch(), look(THERE), look(HERE), touch()), 2),
    ],
)
def test_a_touch_is_one_visit_to_one_adjuster_with_nothing_else_between(asks: tuple[Ask, ...], touches: int) -> None:
    assert touch_count(entries(*asks)) == touches


def test_a_visit_that_met_the_end_of_travel_is_a_touch() -> None:
    stopped = Entry(1, 0.0, "test", peak(), Cannot("end-of-travel"))
    assert touch_count((stopped,)) == 1


def history(*pairs: tuple[Ask | None, Answer, str]) -> History:
    whole = History()
    for n, (ask, answer, doubt) in enumerate(pairs, start=1):
        whole = whole.with_entry(Entry(n, 0.0, "test", ask, answer, doubt))
    return whole


def test_a_touch_that_was_taken_back_counts_and_one_that_was_questioned_does_not() -> None:
    once = history((peak(), Reading(-1.0), ""), (peak(), Undo(), ""))
    assert ledger_of(read(FM), once).touches == 1
    questioned = history((peak(), Reading(-99.0), "far off"), (peak(), Reading(-1.0), ""))
    assert ledger_of(read(FM), questioned).touches == 1


def test_a_reading_is_one_a_wand_three_and_a_sweep_its_points() -> None:
    trend: Trend = "same"
    whole = history(
        (look(), Reading(-3.0), ""),
        (wand(), WandSeen(trend, trend), ""),
        (sweep(HERE), SEEN[Sweep], ""),
        (peak(), Reading(-1.0), ""),  # what a touch shows is no reading of its own
        (look(), Cannot("no-reading"), ""),
        (look(), Reading(-80.0), "far off"),
        (SURE, Done(), ""),
    )
    assert ledger_of(read(FM), whole).readings == 1 + 3 + 3
    assert ledger_of(read(FM), whole).readings_in == {"antenna": 1 + 3 + 3}


def test_a_step_set_aside_at_a_reading_has_none_and_one_that_was_taken_back_counts_as_a_touch_does() -> None:
    final = msgspec.structs.replace(look(), step="final")
    aside = history((look(), Reading(-3.0), ""), (final, SetAside("no meter"), ""), (final, Undo(), ""))
    back = history((look(), Reading(-3.0), ""), (final, Reading(-3.0), ""), (final, Undo(), ""))
    assert ledger_of(read(FM), aside).readings_in == {"antenna": 1, "final": 0}
    assert ledger_of(read(FM), back).readings_in == {"antenna": 1, "final": 1}
    assert ledger_of(read(FM), back).readings == 2
