"""A strip alone on the screens: no band, no tuning; it opens, shows its views, and another step can be gone to."""

from pathlib import Path

from aligner.engine.asks import Confirm
from aligner.procedure.library import find
from aligner.screens.app import AlignerApp
from aligner.screens.launch import begun
from aligner.screens.sources import Choice
from tests.screens.driving import kept, shown_guide


async def test_a_strip_alone_opens_and_shows_every_view(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(begun(find("if-strip"), "strip", tmp_path, Choice("virtual")))
        _, desk = await shown_guide(pilot)
        while isinstance(desk.ask, Confirm):
            await kept(pilot, desk, "enter")
        assert desk.ask is not None
        for key in ("p", "escape", "k", "escape", "c", "tab", "c", "z", "z"):
            await pilot.press(key)
            await pilot.pause()
        assert app.return_code is None
        before = desk.ask.step
        await pilot.press("g")
        assert desk.question is not None
        assert desk.question.text.startswith("Which step first, before this one?  1: ")
        await kept(pilot, desk, "1")
        assert desk.ask is not None
        assert desk.ask.step != before
