"""A program of the screens with a watch on its event loop: how long each callback took, and what it handled.

    python tests/bench/watched.py REPORT SCRIPT [ARGUMENT ...]

The report is written when the program ends. Time is the wall's: a callback that waits for another thread's turn at the
interpreter keeps a key waiting just as well.
"""

import asyncio
import atexit
import gc
import json
import runpy
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from textual.message import Message
from textual.message_pump import MessagePump

KEPT_MS = 4.0
"""Shorter ones are not written down [ms]."""


class Watch:
    """What ran in the callback that runs now, and the long ones that ran before."""

    def __init__(self) -> None:
        self.long: list[tuple[float, float, str]] = []
        self.handled: list[str] = []
        self._collected_s = 0.0

    def start(self) -> None:
        """Watch the loop, the dispatch of messages, and the collector of garbage."""
        run, dispatch = asyncio.events.Handle._run, MessagePump._dispatch_message

        def timed(handle: asyncio.Handle) -> None:
            self.handled.clear()
            begun_s, own_s = time.perf_counter(), time.thread_time()
            run(handle)
            self._keep(
                time.perf_counter() - begun_s, time.thread_time() - own_s, " ".join(self.handled) or _waker(handle)
            )

        async def named(pump: MessagePump, message: Message) -> None:
            called = getattr(message, "callback", "")
            self.handled.append(f"{type(pump).__name__}.{type(message).__name__}{f'[{called}]' if called else ''}")
            await dispatch(pump, message)

        setattr(asyncio.events.Handle, "_run", timed)  # noqa: B010 - the checker would not let a method be replaced
        setattr(MessagePump, "_dispatch_message", named)  # noqa: B010 - the same
        gc.callbacks.append(self._collected)

    def write(self, report: Path) -> None:
        """The long ones, the longest first."""
        report.write_text(json.dumps(sorted(self.long, reverse=True)))

    def _keep(self, wall_s: float, own_s: float, what: str) -> None:
        if 1e3 * wall_s > KEPT_MS:
            self.long.append((1e3 * wall_s, 1e3 * own_s, what))

    def _collected(self, phase: str, info: Mapping[str, Any]) -> None:
        if phase == "start":
            self._collected_s = time.perf_counter()
        else:
            spent_s = time.perf_counter() - self._collected_s
            self._keep(spent_s, spent_s, f"garbage of generation {info['generation']}")


def _waker(handle: asyncio.Handle) -> str:
    """The task that goes on in a callback that begins with no message."""
    task = getattr(getattr(handle, "_callback", None), "__self__", None)
    return task.get_name() if isinstance(task, asyncio.Task) else repr(handle)


if __name__ == "__main__":
    watch = Watch()
    watch.start()
    atexit.register(watch.write, Path(sys.argv[1]))
    sys.argv = sys.argv[2:]
    if sys.argv[0].endswith(".py"):
        runpy.run_path(sys.argv[0], run_name="__main__")
    else:
        runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=True)
