"""What the person or the instrument gives back, and what else may be said at any ask."""

from typing import Literal

import msgspec


class Done(msgspec.Struct, frozen=True, tag_field="answer", tag="done"):
    """The thing asked for is done (confirm)."""


class Seen(msgspec.Struct, frozen=True, omit_defaults=True):
    """What a captured value was made of: number of values, spread (standard deviation) and raw text of the last."""

    n: int = 1
    spread: float = 0.0
    raw: str = ""


class Reading(msgspec.Struct, frozen=True, tag_field="answer", tag="reading", omit_defaults=True):
    """A reading (read, touch, peak) in the ask's quantity and the net turns since the ask was shown."""

    value: float
    turns: float | None = None
    insist: bool = False
    seen: Seen | None = None


Trend = Literal["up", "down", "same"]


class WandSeen(msgspec.Struct, frozen=True, tag_field="answer", tag="wand", omit_defaults=True):
    """Levels [dB] without and with the wand's ends, or for both ends only which way the level went."""

    ferrite: float | Trend
    brass: float | Trend
    none: float | None = None
    insist: bool = False


class SweepSeen(msgspec.Struct, frozen=True, tag_field="answer", tag="sweep", omit_defaults=True):
    """Pairs of (frequency [Hz], level [dB] or [V]), any order."""

    points: tuple[tuple[float, float], ...]
    insist: bool = False


class Cannot(msgspec.Struct, frozen=True, tag_field="answer", tag="cannot", omit_defaults=True):
    """What was asked for cannot be had: the adjuster is at its end of travel, or there is nothing to read."""

    why: Literal["end-of-travel", "no-reading"]
    reading: float | None = None
    turns: float | None = None
    turned: bool = False  # only where there is nothing to read; see `Undo`


class SetAside(msgspec.Struct, frozen=True, tag_field="answer", tag="set-aside", omit_defaults=True):
    """The step is left out, with the person's reason. `turned` as of `Undo`."""

    reason: str
    turned: bool = False


class SwitchWay(msgspec.Struct, frozen=True, tag_field="answer", tag="by", omit_defaults=True):
    """Another way of seeing, for one step or (step empty) for all that list it. `turned` as of `Undo`."""

    way: Literal["resonance", "level", "wand", "stage-voltage"]
    step: str = ""
    turned: bool = False


class GoTo(msgspec.Struct, frozen=True, tag_field="answer", tag="go", omit_defaults=True):
    """Another step first; the one that is open goes on afterwards. A step that was set aside is taken up again.

    `turned` as of `Undo`.
    """

    step: str
    turned: bool = False


class Undo(msgspec.Struct, frozen=True, tag_field="answer", tag="undo", omit_defaults=True):
    """Takes back the newest answer not yet taken back. `moved` False: the person says that nothing was turned for it.

    turned: the adjuster of the touch or peak that stood open has been turned since it was asked for, by nobody knows
    how much; that ask is left without a reading that would say so.
    """

    moved: bool = True
    turned: bool = False


class Note(msgspec.Struct, frozen=True, tag_field="answer", tag="note"):
    """Words for the record; changes nothing."""

    text: str


class Sitting(msgspec.Struct, frozen=True, tag_field="answer", tag="sitting"):
    """The job was opened: hazards are confirmed anew. Written by the shell, never by a person."""


Leaving = Undo | GoTo | SetAside | SwitchWay | Cannot
"""What can leave a touch or a peak open while its adjuster has been turned already."""

Result = Reading | Cannot
"""What comes of a read, a touch or a peak."""

Remark = Note | Sitting
"""What is kept and changes nothing that is asked."""

Answer = Done | Reading | WandSeen | SweepSeen | Cannot | SetAside | SwitchWay | GoTo | Undo | Note | Sitting
