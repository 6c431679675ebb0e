"""The list of jobs: unfinished ones first, so that Enter goes on with the newest of them."""

import asyncio
import time
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import ClassVar

from textual import events, work
from textual.app import ComposeResult
from textual.content import Content
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from aligner.journal.listing import Summary, summaries
from aligner.journal.names import jobs_folder
from aligner.screens.commands import JOBS, Command, keys_row
from aligner.screens.pace import settle
from aligner.text import clean

_TOUR = "+ guided tour: six asks on a virtual set, about three minutes"
_NONE = " No jobs yet. Enter: the guided tour   n: your own set"
_DEMO = "+ demo: a whole FM front end on a virtual set, from the first reading to the last"
_BEGIN = ("+ new job", _TOUR, _DEMO)


AT_END = replace(JOBS[0], short="look at the end")
"""Enter on a job in which nothing is left to do."""

TAKE_UP = replace(JOBS[0], short="go on (g there takes up what was set aside)")
"""Enter on a job that has ended with steps set aside."""


class Jobs(Screen[None]):
    """What was begun, and the way to something new."""

    DEFAULT_CSS = """
    Jobs #title { height: 1; background: $panel; text-style: bold; }
    Jobs OptionList, Jobs OptionList:focus { height: 1fr; border: none; background: $background; }
    Jobs #said { height: auto; max-height: 4; color: $accent; }
    Jobs #keys { height: auto; color: $secondary; }
    """
    AUTO_FOCUS: ClassVar[str] = "OptionList"
    TABLE: ClassVar[tuple[Command, ...]] = JOBS

    def __init__(self, folder: Path | None, said: str = "") -> None:
        super().__init__()
        self._folder = jobs_folder(folder)
        self._said = said
        self._rows: tuple[Summary, ...] = ()

    def compose(self) -> ComposeResult:
        """A title, the list, what went wrong last, the keys."""
        yield Static("", id="title", markup=False)
        yield OptionList(markup=False)
        yield Static(self._said, id="said", markup=False)
        yield Static("", id="keys", markup=False)

    def on_mount(self) -> None:
        """What the guide needs is loaded behind the list's back, once that can be seen."""
        self.call_after_refresh(self._load_ahead)

    @work(thread=True, exit_on_error=False)
    def _load_ahead(self) -> None:
        try:
            import_module("aligner.screens.launch")
            import_module("aligner.engine.run")
        finally:
            settle()

    def on_screen_resume(self) -> None:
        """Read the list: at the start, and after a job was open, for it may have changed."""
        self.refresh_list()

    def refresh_list(self) -> None:
        """Read the folder again; unfinished jobs first, the newest of them on top."""
        rows = sorted(summaries(self._folder), key=lambda row: (bool(row.fault), row.closed, -row.changed))
        self._rows = tuple(rows)
        options = self.query_one(OptionList)
        options.clear_options()
        now = time.time()
        options.add_options([Option(Content(_line(row, now, self.size.width - 4))) for row in rows])
        options.add_options([Option(Content(words)) for words in _BEGIN])
        options.highlighted = 0 if rows else _BEGIN.index(_TOUR)
        count = sum(not row.closed and not row.fault for row in rows)
        self._show_keys()
        self.query_one("#title", Static).update(f" Jobs: {count} unfinished of {len(rows)}" if rows else _NONE)

    def on_option_list_option_highlighted(self) -> None:
        """What Enter does hangs on what it would do it to."""
        self._show_keys()

    def _show_keys(self) -> None:
        row = self._chosen
        first = JOBS[0] if row is None or not row.finished else TAKE_UP if row.aside else AT_END
        self.query_one("#keys", Static).update(keys_row((first, *JOBS[1:]), max(20, self.size.width)))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Go on with that job, or begin a new one."""
        if event.option_index < len(self._rows):
            self._go_on(self._rows[event.option_index])
        else:
            self.command(("new", "tour", "demo")[event.option_index - len(self._rows)])

    def on_key(self, event: events.Key) -> None:
        """Single keys, by the table; the list keeps its own."""
        command = next((row for row in JOBS if event.key in row.keys and row.name != "on"), None)
        if command is not None:
            event.stop()
            self.command(command.name)

    def command(self, name: str) -> None:
        """Carry out what the table names."""
        match name:
            case "quit":
                self.app.exit()
            case "theme" | "help":
                self.app.call_later(self.app.run_action, name)
            case "new":
                self.begin()
            case "tour" | "demo":
                self._show(name)
            case "import":
                self._import()
            case _ if self._chosen is None:
                self.say("Choose a job first, with Up and Down.")
            case "on" | "source":
                self._go_on(self._chosen, other_source=name == "source")
            case _:
                self._handle(self._chosen, name)

    @property
    def _chosen(self) -> Summary | None:
        at = self.query_one(OptionList).highlighted or 0
        return self._rows[at] if at < len(self._rows) else None

    def say(self, words: str) -> None:
        """What the person must know of what was just tried."""
        self.query_one("#said", Static).update(words)

    @work
    async def begin(self) -> None:
        """A new job: what is to be known of it, then the guide."""
        from aligner.screens.new_job import NewJob  # noqa: PLC0415 - the list of jobs does not wait for it

        opening = await self.app.push_screen_wait(NewJob(self._folder))
        if opening is not None:
            self.say(await self.app.push_screen_wait(opening) or "")

    @work
    async def _show(self, name: str) -> None:
        from aligner.screens.launch import demo, tour  # noqa: PLC0415 - the list of jobs does not wait for it

        guide = demo(self._folder) if name == "demo" else tour(self._folder)
        self.say(await self.app.push_screen_wait(guide) or "")

    @work
    async def _import(self) -> None:
        from aligner.screens import shelf  # noqa: PLC0415 - the list of jobs does not wait for it
        from aligner.screens.one_line import OneLine  # noqa: PLC0415 - the same

        typed = await self.app.push_screen_wait(OneLine("Import a job from which file?"))
        if typed is not None:
            self.say(await asyncio.to_thread(shelf.imported, typed, self._folder))
            self.refresh_list()

    @work
    async def _handle(self, row: Summary, name: str) -> None:
        """Look at, copy or export a job that can be read."""
        from aligner.screens import handling  # noqa: PLC0415 - the list of jobs does not wait for it

        self.say(clean(row.fault) if row.fault else await handling.handled(self.app, row, name, self._folder))

    @work
    async def _go_on(self, row: Summary, *, other_source: bool = False) -> None:
        if row.fault:
            self.say(clean(row.fault))
            return
        from aligner.screens.ask_source import SourceScreen  # noqa: PLC0415 - the list of jobs does not wait for it
        from aligner.screens.launch import resumed  # noqa: PLC0415 - the same
        from aligner.screens.sources import Choice, remembered  # noqa: PLC0415 - the same

        choice = remembered(row.path)
        if choice is None or other_source:
            choice = await self.app.push_screen_wait(SourceScreen(choice or Choice()))
        if choice is not None:
            self.say(await self.app.push_screen_wait(resumed(row.path, choice)) or "")


def _line(row: Summary, now: float, columns: int) -> str:
    """One job: how it stands in words, the set, the step, how old; on two lines where one is too short for it."""
    if row.fault:
        return f"[?] {clean(row.job, 40)}: {clean(row.fault, 120)}"
    at = clean(row.step_title, 60) if row.step else ""
    mark = "[x]" if row.closed else "[-]" if row.aside else "[ ]"
    state = row.ended if row.finished else f"at {at}" if at else "new"
    name, age, title = clean(row.name, 24), _age(now - row.changed), clean(row.title, 60)
    line = f"{mark} {name:<24} {state:<45} {age:<14} {title}"
    if len(line) <= columns:
        return line
    return f"{f'{mark} {name:<24} {state}'[:columns]}\n{f'    {age:<24} {title}'[:columns]}"


def _age(seconds: float) -> str:
    for size, name in ((86400.0, "day"), (3600.0, "hour"), (60.0, "minute")):
        if seconds >= size:
            count = int(seconds // size)
            return f"{count} {name}{'s' if count > 1 else ''} ago"
    return "just now"
