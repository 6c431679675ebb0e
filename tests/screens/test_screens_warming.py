"""A warm-up on the virtual set: its minutes pass while its owner waits, and nobody has to sit through them."""

from pathlib import Path

from aligner.engine.asks import Confirm
from aligner.procedure.library import find
from aligner.screens.app import AlignerApp
from aligner.screens.launch import begun
from aligner.screens.sources import Choice
from tests.screens.driving import kept, shown_guide


async def test_enter_lets_the_owner_wait_and_the_sets_own_minutes_are_recorded(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(begun(find("fm-varactor-full"), "whole", tmp_path, Choice("virtual")))
        _, desk = await shown_guide(pilot)
        while isinstance(desk.ask, Confirm):
            await kept(pilot, desk, "enter")
        assert desk.warming
        for _ in range(3):
            await kept(pilot, desk, "enter")
        times = [entry.at_s for entry in desk.history.entries[-3:]]
        step = desk.procedure.step("warm")
        assert step.kind == "warm-up"
        assert times[2] - times[1] >= 0.5 * step.every_s
