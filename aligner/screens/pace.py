"""What keeps a key from waiting: rounds of the garbage collector, and threads that compute."""

import gc
import sys

TURN_S = 5e-4
"""The longest [s] that a thread which computes keeps the interpreter from the screen; the usual is ten times this."""


def hurry() -> None:
    """Short turns for all threads; and no garbage is collected while the first screen is loaded."""
    sys.setswitchinterval(TURN_S)
    gc.disable()


def settle() -> None:
    """Collect again, but leave alone what stands now: a full round through all that is loaded takes 50 ms."""
    gc.freeze()
    gc.enable()
