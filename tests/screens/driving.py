"""The application driven by keys, and waiting for what must come of them instead of for time."""

import asyncio
import math
from collections.abc import Callable
from itertools import pairwise

from textual.pilot import Pilot
from textual.widgets import Static

from aligner.engine.asks import Ask
from aligner.screens.app import AlignerApp
from aligner.screens.desk import Desk
from aligner.screens.guide import Guide
from aligner.screens.keys import BOUNCE_S

AppPilot = Pilot[None]

PATIENCE_S = 30.0
"""How long something may take before it counts as never coming: a busy machine is not a fault of the code."""


async def until(pilot: AppPilot, holds: Callable[[], object]) -> None:
    """Let the application work until that holds."""
    async with asyncio.timeout(PATIENCE_S):
        while not holds():
            await pilot.pause(0.01)


async def at_rest(pilot: AppPilot, look: Callable[[], object]) -> object:
    """What `look` sees once it sees the same five times in a row: what was bound may not be laid out yet."""
    seen = [look()]
    async with asyncio.timeout(PATIENCE_S):
        while len(seen) < 5 or any(before != seen[-1] for before in seen[-5:]):
            await pilot.pause()
            seen.append(look())
    return seen[-1]


async def shown_guide(pilot: AppPilot) -> tuple[Guide, Desk]:
    """The guide, once its job is open."""
    app = pilot.app
    await until(pilot, lambda: isinstance(app.screen, Guide) and app.screen.desk is not None)
    guide = app.screen
    assert isinstance(guide, Guide)
    assert guide.desk is not None
    return guide, guide.desk


def rested(desk: Desk) -> None:
    """As if the second had passed in which arrow keys were meant for the adjuster before."""
    desk.quiet_s = -math.inf


async def kept(pilot: AppPilot, desk: Desk, *keys: str) -> None:
    """Press those keys and wait until one more entry is on the disk and shown."""
    before = len(desk.history.entries)
    for key, following in pairwise((*keys, "")):
        await pilot.press(key)
        if key == following:
            await pilot.pause(1.2 * BOUNCE_S)
    await until(pilot, lambda: len(desk.history.entries) > before and not desk.waiting)


async def taken(pilot: AppPilot, desk: Desk, ask: Ask, before: int) -> None:
    """Enter until there are more than `before` entries: it may only ask (nothing turned, not settled) the first time.

    Between two presses a bounce is waited out, for the same key so soon again confirms nothing.
    """

    def still_open() -> bool:
        return desk.ask is ask and not desk.waiting and len(desk.history.entries) == before

    for _ in range(3):
        if still_open():
            await pilot.press("enter")
        if still_open():
            await pilot.pause(1.2 * BOUNCE_S)
    await until(pilot, lambda: len(desk.history.entries) > before and not desk.waiting)


def words_on(app: AlignerApp) -> str:
    """Everything that the screen in front says."""
    return "\n".join(str(widget.render()) for widget in app.screen.query(Static) if widget.display)
