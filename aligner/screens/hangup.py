"""The terminal may go while a job is open: a closed window, a lost line. Then the screens end.

The framework alone would go on without it: its reader finds the end of the input again and again, as fast as the
machine can. Whatever was taken is on the disk already; how a virtual set stands is noted as the guide goes.
"""

import os
import select
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from aligner.errors import Exit

PATIENCE_S = 5.0
"""To end in order; what paints may by then wait for a terminal that takes nothing any more [s]."""

_SIGNALS = [getattr(signal, name) for name in ("SIGHUP", "SIGTERM") if hasattr(signal, name)]


@contextmanager
def told_to_leave(leave: Callable[[], None]) -> Iterator[None]:
    """While this lasts, `leave` is called where the terminal is lost or the program is told to end."""

    def heard(_number: int, _frame: FrameType | None) -> None:
        leave()

    before = [(number, signal.signal(number, heard)) for number in _SIGNALS]
    if hasattr(select, "poll"):
        threading.Thread(target=_watch, args=(sys.stdin.fileno(),), name="terminal", daemon=True).start()
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


def _watch(terminal: int) -> None:
    """Wait until the terminal hangs up; not every terminal gives the signal for that."""
    poll = select.poll()
    poll.register(terminal, 0)
    if any(flags & select.POLLHUP for _, flags in poll.poll()):  # some systems cannot watch a terminal, and say so
        os.kill(os.getpid(), signal.SIGHUP)
        time.sleep(PATIENCE_S)
        os._exit(Exit.INPUT_ENDED)
