"""The virtual FM set by keys alone, its signal circuits seen by level or by wand, with slips on the way."""

from pathlib import Path

import pytest

from aligner.engine.answers import Note, Reading, Undo, WandSeen
from aligner.engine.asks import Ask, Single, Touch, Turning
from aligner.screens.app import AlignerApp
from aligner.screens.desk import Desk
from tests.screens.driving import AppPilot, kept, shown_guide, taken, until, words_on
from tests.screens.test_screens_journey import turn_to_the_aim


async def answer(pilot: AppPilot, desk: Desk, ask: Ask) -> None:
    """Do what is asked with keys alone: frequencies by the arrow keys, peaks and falls by the set's owner.

    An owner turns as a person does, with errors of hand and of counting.
    """
    before = len(desk.history.entries)
    if isinstance(ask, Single):
        await until(pilot, lambda: desk.stream is not None and desk.stream.live is not None)
    if isinstance(ask, Touch) and ask.aim.quantity == "frequency":
        await turn_to_the_aim(pilot, desk, ask)
    elif isinstance(ask, Turning):
        await pilot.press("a")
    await taken(pilot, desk, ask, before)


async def slips(pilot: AppPilot, desk: Desk, app: AlignerApp) -> None:
    """Wrong keys, a note, a reading said anew, and an undo; none of them costs more than being asked again."""
    await pilot.press("y", "f", "space", "escape", "9", "backspace")
    await kept(pilot, desk, "n", *"a note", "enter")
    newest = next(row for row in reversed(desk.history.entries) if isinstance(row.answer, Reading))
    await pilot.press("r", *str(newest.seq), "enter")
    assert "Say entry" in words_on(app)
    await kept(pilot, desk, "r")
    await kept(pilot, desk, "u", "u")


@pytest.mark.parametrize(("way", "key", "most"), [("level", "2", 22), ("wand", "3", 20)])
async def test_the_fm_set_is_aligned_by_keys_by_another_way_of_seeing(
    tmp_path: Path, way: str, key: str, most: int
) -> None:
    app = AlignerApp(tmp_path, demo=True)
    async with app.run_test(size=(80, 24)) as pilot:
        _, desk = await shown_guide(pilot)
        changed: set[str] = set()
        while (ask := desk.ask) is not None:
            if ask.step in {"interstage", "antenna"} and ask.step not in changed:
                await pilot.press("w")
                assert f"{key} {way}" in words_on(app)
                if not changed:
                    await pilot.press("escape")
                    await slips(pilot, desk, app)
                    changed.add("slips")
                    if desk.ask is None or desk.ask.step != ask.step:
                        continue
                    await pilot.press("w")
                await kept(pilot, desk, key)
                changed |= {"interstage", "antenna"}  # the way holds from here on
                continue
            await answer(pilot, desk, ask)
        assert desk.survey is not None
        assert desk.survey.aligned, words_on(app)
        assert desk.survey.touches <= most
        given = [entry.answer for entry in desk.history.entries]
        assert any(isinstance(row, Undo) for row in given)
        assert Note("a note") in given
        assert any(isinstance(row, WandSeen) for row in given) == (way == "wand")
        assert "Aligned: every step is held" in words_on(app)
