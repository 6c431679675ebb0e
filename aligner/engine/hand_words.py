"""What the hand at an adjuster should know: how far and which way, and how its kind shows that it is at its limit.

Two settings a turn of a rotary trimmer, two peaks of a core that can go past the middle of its coil: common practice,
no source.
"""

from aligner.engine.asks import Amount, Turning
from aligner.engine.bench import Bench
from aligner.engine.ledger import turned_for
from aligner.engine.peak_phrases import PEAKED_CORE
from aligner.procedure.model import Adjuster

_EIGHTH = 0.125
_MOST_VAGUE = 0.7
"""An amount that is known no better than this share of itself is no help to the hand."""


def turn_words(amount: Amount | None) -> str:
    """About how many turns and which way, to be put behind the way; empty where that is not known."""
    if amount is None or amount.unit != "turn" or amount.plus_minus > max(_MOST_VAGUE * abs(amount.value), _EIGHTH):
        return ""
    way = "clockwise" if amount.value > 0 else "anticlockwise"
    eighths = round(abs(amount.value) / _EIGHTH)
    return f", about {_eighths(eighths)} {way}" if eighths else f", less than 1/8 turn {way}"


def _eighths(count: int) -> str:
    whole, left = divmod(count, 8)
    parts = ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"][left]
    said = " ".join(part for part in (str(whole) if whole else "", parts) if part)
    return f"{said} turn{'s' if count > 8 else ''}"


def peaked_manner(bench: Bench, adjuster: Adjuster) -> str:
    """How this kind shows that it is at its limit while it is peaked, said before it is turned for the first time."""
    if _turned_before(bench, adjuster):
        return ""
    return {"rotary-trimmer": _PEAKED_ROTARY, "ferrite-core": PEAKED_CORE, "brass-core": PEAKED_CORE}.get(
        adjuster.kind, ""
    )


def read_manner(bench: Bench, adjuster: Adjuster, direction: str) -> str:
    """The same while it is turned to a reading; a core comes to the middle of its coil on the way in only."""
    if _turned_before(bench, adjuster):
        return ""
    if adjuster.kind == "rotary-trimmer":
        return _READ_ROTARY
    inwards = {"ferrite-core": "more", "brass-core": "less"}.get(adjuster.kind)
    return _READ_CORE if inwards == direction else ""


def _turned_before(bench: Bench, adjuster: Adjuster) -> bool:
    """Whether it was turned for an ask that still counts; another way or step chosen meanwhile turns nothing."""
    return any(
        isinstance(e.ask, Turning) and e.ask.adjuster == adjuster.id and turned_for(e) for e in bench.ledger.entries
    )


_PEAKED_ROTARY = (
    " It has no stops and peaks twice a turn; either will do; if a whole turn shows only one, leave it there and say "
    "that it is at its end of travel."
)
_READ_ROTARY = (
    " It has no stops; if the reading turns back before it gets there, the plates are fully in or out: leave it there "
    "and say that it is at its end of travel."
)
_READ_CORE = (
    " If the reading turns back before it gets there, the core has come to the middle of the coil: leave it there and "
    "say that it is at its end of travel."
)
