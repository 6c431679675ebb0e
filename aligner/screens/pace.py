"""What keeps a key from waiting: rounds of the garbage collector, and threads that compute."""

import gc
import sys

TURN_S = 5e-4
"""The longest [s] that a thread which computes keeps the interpreter from the screen; the usual is ten times this."""

SELDOM = (3_000, 50, 50)
"""Young objects before a round over them (1 ms); such rounds before a larger, and larger ones before a full round.

What is loaded in mid-job, with the first fit, would else set off full rounds of 20 to 60 ms.
"""


def hurry() -> None:
    """Short turns for all threads; and no garbage is collected while the first screen is loaded."""
    sys.setswitchinterval(TURN_S)
    gc.set_threshold(*SELDOM)
    gc.disable()


def settle() -> None:
    """Collect again, but leave alone what stands now: a full round through all that is loaded takes 50 ms."""
    gc.freeze()
    gc.enable()
