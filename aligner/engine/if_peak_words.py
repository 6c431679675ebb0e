"""How a can is peaked, and when a peak is looked at a second time."""

from aligner.engine.answers import Reading
from aligner.procedure.model import Adjuster, Kind

MANY_TURNS = 2.5
"""Net turns of a core after which it may have run through its peak into the one on the far side (common practice)."""
LESS_DB = 0.5
"""Peaking can only raise the level; so much less is not a matter of reading."""

_CORES: tuple[Kind, ...] = ("ferrite-core", "brass-core")
_OUTER = "A core has two peaks, one on each side of its winding: take the outer one"
_TWO_PEAKS: dict[Kind, str] = {
    "ferrite-core": (
        f"{_OUTER}, where it sits nearer the end it is turned in from, unless the service sheet says otherwise."
    ),
    "brass-core": f"{_OUTER}, unless the service sheet says otherwise.",
    "rotary-trimmer": "A rotary trimmer without a stop peaks twice a turn; if once a turn only, it stands at an end.",
    "compression-trimmer": "If it peaks only fully tight or fully loose it has no peak: say that it is at its end.",
}


def peak_text(adjuster: Adjuster, generator: str) -> str:
    """What to do with one adjuster of a can."""
    where = f" ({adjuster.where})" if adjuster.where else ""
    turns = " Count the turns from where it stands now." if adjuster.counted else ""
    more = f" {_TWO_PEAKS[adjuster.kind]}" if adjuster.kind in _TWO_PEAKS else ""
    return (
        f"Generator at {generator}. Peak {adjuster.id}{where} for the highest level, as the middle between two "
        f"settings of equal fall.{turns}{more}"
    )


def suspicion(adjuster: Adjuster, answer: Reading, before_db: float | None) -> str:
    """Why a peak may be the wrong one; empty where nothing speaks against it. before_db [dB] is the level before."""
    if before_db is not None and answer.value < before_db - LESS_DB:
        fell = f"Peaking can only raise the level, and it fell by {before_db - answer.value:.1f} dB"
        wrong = "the core stands on the wrong one of its two peaks" if adjuster.kind in _CORES else "this is no peak"
        return f"{fell}: {wrong}. Go back and look for the other."
    if adjuster.kind in _CORES and answer.turns is not None and abs(answer.turns) > MANY_TURNS:
        return (
            f"{abs(answer.turns):.1f} turns are far for a can: the core may have gone through its winding to the inner "
            "one of its two peaks. Look whether the outer one is there too, and take it; otherwise peak here once more."
        )
    return ""
