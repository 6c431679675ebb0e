"""What keeps a key from waiting: rounds of the garbage collector, threads that compute, and the pace of the paints."""

import gc
import os
import sys

TURN_S = 5e-4
"""The longest [s] that a thread which computes keeps the interpreter from the screen; the usual is ten times this."""

SELDOM = (3_000, 50, 50)
"""Young objects before a round over them (1 ms); such rounds before a larger, and larger ones before a full round.

What is loaded in mid-job, with the first fit, would else set off full rounds of 20 to 60 ms.
"""


PAINTS_A_SECOND = "250"
"""The framework's own name for it is a frame rate, of 60. After each paint it waits one to two frames for the next.

So the echo of a key that came just after the newest reading was painted would wait up to 33 ms; now at most 8. Nothing
is painted more often by it: there is a paint only where something has changed.
"""


def hurry() -> None:
    """Short turns for all threads, prompt paints, no garbage collected while the first screen is loaded.

    To be called before the framework is imported, which reads its pace then.
    """
    os.environ.setdefault("TEXTUAL_FPS", PAINTS_A_SECOND)
    sys.setswitchinterval(TURN_S)
    gc.set_threshold(*SELDOM)
    gc.disable()


def settle() -> None:
    """Collect again, but leave alone what stands now: a full round through all that is loaded takes 50 ms."""
    gc.freeze()
    gc.enable()
