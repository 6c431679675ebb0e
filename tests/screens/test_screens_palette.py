"""The palette is made of the same table as the keys."""

from pathlib import Path

from aligner.screens.app import AlignerApp
from aligner.screens.commands import GUIDE, JOBS
from tests.screens.driving import shown_guide, until
from tests.screens.scripted import CONFIRM, READ, guide


async def test_every_command_of_the_guide_is_in_the_palette_and_does_what_its_key_does(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (CONFIRM, READ)))
        shown, desk = await shown_guide(pilot)
        commands = {command.title: command for command in app.get_system_commands(shown)}
        assert {f"{command.name} ({command.shown})" for command in GUIDE} <= set(commands)
        commands["take (Enter)"].callback()
        await until(pilot, lambda: desk.history.entries)
        assert desk.history.entries[0].ask == CONFIRM


async def test_over_the_list_of_jobs_the_palette_has_the_commands_of_the_list(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)):
        titles = [command.title for command in app.get_system_commands(app.screen)]
        assert titles == [*(f"{command.name} ({command.shown})" for command in JOBS), "colours", "keys"]
