"""The application: themes, the palette, which screen comes first, and how it ends."""

from collections.abc import Callable, Iterable
from importlib import import_module
from pathlib import Path
from typing import Any, ClassVar, Protocol, runtime_checkable

from textual.app import App, SystemCommand
from textual.screen import Screen
from textual.worker import WorkerFailed

from aligner.crash import running_job
from aligner.errors import Exit
from aligner.journal.names import jobs_folder
from aligner.screens.commands import Command
from aligner.screens.hangup import told_to_leave
from aligner.screens.jobs import Jobs
from aligner.screens.pace import settle
from aligner.screens.themes import THEMES, after


@runtime_checkable
class TakesCommands(Protocol):
    """A screen that carries out the commands of a table: the guide, the list of jobs."""

    TABLE: ClassVar[tuple[Command, ...]]

    def command(self, name: str) -> None:
        """Carry it out."""


class AlignerApp(App[None]):
    """The screens of one person at one bench."""

    TITLE = "aligner"
    ENABLE_COMMAND_PALETTE: ClassVar[bool] = True

    def __init__(self, folder: Path | None, *, demo: bool = False) -> None:
        super().__init__()
        self._folder = folder
        self._jobs = Jobs(folder)
        self._demo = demo
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = THEMES[0].name

    def get_default_screen(self) -> Screen[Any]:
        """The list of jobs: an empty screen below it would be laid out and painted first."""
        return self._jobs

    def on_mount(self) -> None:
        """With the demo at once a job on top of the list."""
        if self._demo:
            from aligner.screens.launch import demo as demo_guide  # noqa: PLC0415 - the list does not wait for it

            self.push_screen(demo_guide(jobs_folder(self._folder)), lambda words: self._jobs.say(words or ""))

    def action_help(self) -> None:
        """All keys."""
        from aligner.screens.pages import help_text  # noqa: PLC0415 - the list does not wait for it
        from aligner.screens.reading_pages import Pages  # noqa: PLC0415 - the same

        words = help_text(jobs_first=isinstance(self.screen, Jobs), columns=self.size.width)
        self.push_screen(Pages((words,), to_confirm=False))

    def action_theme(self) -> None:
        """The next colours."""
        self.theme = after(self.theme)

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """The palette: the commands of the screen in front, and what every screen has."""
        if isinstance(screen, TakesCommands):
            for command in screen.TABLE:
                yield SystemCommand(f"{command.name} ({command.shown})", command.help, _bound(screen, command.name))
        yield SystemCommand("colours", "Next colours: dark, light, high contrast.", self.action_theme)
        yield SystemCommand("keys", "All keys.", self.action_help)

    def leave(self) -> None:
        """The terminal is gone, or somebody wants the program to end; what is open closes itself as it goes."""
        self.call_later(self.exit, return_code=Exit.INPUT_ENDED)

    def failure(self) -> Exception | None:
        """What ended the application, where something did that should not."""
        failed = self._exception
        return failed.error if isinstance(failed, WorkerFailed) and isinstance(failed.error, Exception) else failed

    def _fatal_error(self) -> None:
        # The framework would print a trace with the values of all variables, a person's notes among them.
        self._close_messages_no_wait()


def run(jobs_folder: Path | None, demo: bool = False) -> Exit:  # noqa: FBT001, FBT002 - the command line's own switch
    """Run the screens to their end; what failed inside is raised here, when the terminal is sound again."""
    if demo:
        import_module("aligner.screens.launch")  # before there is a screen that would stand still meanwhile
    app = AlignerApp(jobs_folder, demo=demo)
    try:
        with told_to_leave(app.leave):
            app.run()
    finally:
        settle()
        running_job(None)
    failed = app.failure()
    if failed is not None:
        raise failed
    return Exit(app.return_code or Exit.DONE)


def _bound(guide: TakesCommands, name: str) -> Callable[[], None]:
    return lambda: guide.command(name)
