"""What is to be done next while a peak is sought: one decision behind the words, the bar and what is near enough."""

from typing import Literal

from aligner.engine.asks import Peak
from aligner.screens.desk import Desk
from aligner.screens.peaks import FALL_DB, Phase, Search, is_fine

Lead = Literal["unled", "start", "climb", "other-way", "other-peak", "home", "fall", "over", "beyond", "middle", "stop"]
"""What the hand does. unled: nothing can be said. climb: on, as long as it gets better. other-way: it only got worse.
other-peak: back from a second peak. home: back to the best. fall: past the best until it has fallen far. over: back
over it. beyond: until it has fallen far on the other side. middle: between both. stop: it stands where it should."""


_ALWAYS: dict[Phase, Lead] = {"start": "start", "climb": "climb", "middle": "middle"}
_FINE: dict[Phase, Lead] = {"worse": "other-way", "past": "fall", "back": "beyond"}


def lead(desk: Desk, ask: Peak, found: Search) -> Lead:
    """What comes next."""
    if desk.turnable and ask.rock:
        return "unled"
    if found.other and not found.stop and found.phase != "middle" and (found.phase == "climb" or not desk.twin):
        return "climb" if found.phase == "climb" else "other-peak"
    if found.stop:
        return "stop"
    return _ALWAYS.get(found.phase) or (_fine(desk, found) if is_fine(ask) else "home")


def share(leads: Lead, found: Search) -> float:
    """Of the way to what is to be done next, 0 to 1: it grows while the hand does that, and is 1 at STOP alone.

    Nobody knows how high a peak is before it was passed: what was risen is weighed against the fall that will tell.
    """
    fallen = min(FALL_DB, found.fallen) / FALL_DB
    back = 1.0 - min(1.0, found.fallen / found.deepest) if found.deepest > 0.0 else 0.0
    shares: dict[Lead, float] = {
        "stop": 1.0,
        "climb": found.risen / (found.risen + found.scale) if found.risen > 0.0 else 0.0,
        "home": back,
        "other-peak": back,
        "fall": fallen,
        "over": 0.5 - fallen / 2,
        "beyond": 0.5 + fallen / 2,
        "middle": found.share,
    }
    return shares.get(leads, 0.0)


def _fine(desk: Desk, found: Search) -> Lead:
    stopped = desk.stream is not None and desk.stream.at_stop
    if found.phase == "back" and not found.over:
        return "over"
    if found.rising or (stopped and found.phase in {"past", "back"}):
        return "home"
    return _FINE.get(found.phase, "unled")
