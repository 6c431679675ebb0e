"""Words for hands: which way to turn what, how much, where, and the names of units and states."""

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from aligner.engine.asks import AimQuantity, Amount, Ask, GeneratorSetting, Peak, Point, Read, Sweep, Touch, Wand
from aligner.procedure.model import Adjuster, Kind, Place, Procedure
from aligner.quantity import UnitName, show

MORE: dict[Kind, str] = {
    "air-coil": "squeeze the turns together",
    "ferrite-core": "core further in",
    "brass-core": "core further out",
    "rod-coil": "coil towards the middle of the rod",
    "compression-trimmer": "plates closer together",
    "rotary-trimmer": "plates further in",
    "piston-trimmer": "piston further in",
    "wire-trimmer": "wind more wire on",
    "preset": "turn until the reading falls",
}
"""What gives more inductance or more capacitance, by the kind of the adjuster (common practice, no source)."""

LESS: dict[Kind, str] = {
    "air-coil": "spread the turns",
    "ferrite-core": "core further out",
    "brass-core": "core further in",
    "rod-coil": "coil towards the end of the rod",
    "compression-trimmer": "plates further apart",
    "rotary-trimmer": "plates further out",
    "piston-trimmer": "piston further out",
    "wire-trimmer": "take wire off",
    "preset": "turn until the reading rises",
}

UNITS: dict[AimQuantity, UnitName] = {
    "frequency": "Hz",
    "resonance": "Hz",
    "level": "dB",
    "volts": "V",
    "turns": "turn",
}

LADDERS: dict[UnitName, tuple[tuple[float, str, float], ...]] = {
    "Hz": ((3e6, "MHz", 1e6), (1e3, "kHz", 1e3), (0.0, "Hz", 1.0)),
    "V": ((0.1, "V", 1.0), (0.0, "mV", 1e-3)),
}
"""From this size on, the unit that a reading is shown in."""

UNIT_SHOWN: dict[UnitName, str] = {"turn": "turns"}

EIGHTH = 0.125
"""What a hand can tell of a turn (common practice, no source)."""

_SMALL = 0.25
"""Below so much of a turn an eighth is told no longer as if it were all there is: sixteenths are."""

_TRUE = 1 / 512
"""A part of a turn is told without "about" where it is right to so much of a turn."""

MARKS: dict[str, str] = {"to-do": "[ ]", "held": "[x]", "disturbed": "[!]", "at-limit": "[=]", "set-aside": "[-]"}
STATES: dict[str, str] = {
    "to-do": "to do",
    "held": "held",
    "disturbed": "disturbed",
    "at-limit": "at limit",
    "set-aside": "set aside",
}


def turning(adjuster: Adjuster, way: Literal["more", "less"] | None) -> str:
    """What the hand does to that adjuster, with the sense of rotation where the procedure knows it."""
    if way is None:
        return ""
    words = (MORE if way == "more" else LESS)[adjuster.kind]
    if adjuster.rotation is None or not adjuster.counted:
        return words
    return f"{words}, {'clockwise' if adjuster.rotation == way else 'anticlockwise'}"


def amount_words(amount: Amount | None) -> str:
    """About how much, as a person turns or trims; empty where it is not known."""
    if amount is None:
        return ""
    grain = EIGHTH if amount.unit == "turn" else abs(amount.plus_minus) / 3 or None
    size = show(abs(amount.value), amount.unit, grain)
    spread = show(abs(amount.plus_minus), amount.unit, grain)
    if amount.unit == "turn":
        if abs(amount.value) < EIGHTH / 2:
            return turns_words(amount.value)
        size = turns_words(amount.value)
    else:
        size = f"{'+' if amount.value > 0 else '-'}{size}"
    return f"about {size}" if spread.startswith("0 ") else f"about {size}, give or take {spread}"


def turned_words(turns: float) -> str:
    """How far an adjuster has been turned since the ask was shown."""
    if not turns:
        return "not turned yet"
    parts = round(abs(turns) * 16)
    if parts >= 16 * _SMALL:
        return f"turned {turns_words(turns)}"
    if not parts:
        return f"turned less than 1/16 turn {_sense(turns)}"
    about = "" if abs(abs(turns) - parts / 16) <= _TRUE else "about "
    return f"turned {about}{'1/8' if parts == 2 else f'{parts}/16'} turn {_sense(turns)}"


def turns_words(turns: float) -> str:
    """So many turns and which way, as a hand can tell them."""
    size = show(abs(turns), "turn", EIGHTH) if abs(turns) >= EIGHTH / 2 else "less than 1/8 turn"
    return f"{size} {_sense(turns)}"


def _sense(turns: float) -> str:
    return "clockwise" if turns > 0 else "anticlockwise"


def unit_of(ask: Ask) -> UnitName | None:
    """The unit in which that ask is read; None where nothing is read."""
    if isinstance(ask, Touch):
        return UNITS[ask.aim.quantity]
    if isinstance(ask, Read | Peak | Sweep):
        return UNITS[ask.quantity]
    return "dB" if isinstance(ask, Wand) else None


def resolution_of(procedure: Procedure, ask: Ask) -> float | None:
    """What the instrument of that ask can show, in the ask's unit; None where nobody knows."""
    quantity = ask.aim.quantity if isinstance(ask, Touch) else getattr(ask, "quantity", "")
    counter = procedure.counter
    if quantity == "frequency":
        return (1 if counter.shows == "divided" else counter.prescaler) / counter.gate_s
    if quantity == "level":
        return procedure.meter.resolution_db if procedure.meter else 0.5
    return None


@dataclass(frozen=True, slots=True)
class Scale:
    """A unit that does not change while readings move: its name, its size in SI, decimals worth showing."""

    unit: str
    factor: float
    decimals: int

    def figures(self, value: float) -> str:
        """The figures alone, for they are drawn large."""
        # By decimals, as the log rounds: 368.895 is a little less in binary, and the two would differ by a digit.
        shown = f"{Decimal(value) / Decimal(repr(self.factor)):.{self.decimals}f}"
        return shown[1:] if shown.startswith("-") and not shown.strip("-0.") else shown


def scale_for(unit: UnitName, about: float, resolution: float | None) -> Scale:
    """The scale for readings about that large, to about that resolution (or to six figures)."""
    rungs = LADDERS.get(unit, ((0.0, UNIT_SHOWN.get(unit, unit), 1.0),))
    name, factor = next((name, factor) for least, name, factor in rungs if abs(about) >= least)
    grain = resolution or max(abs(about), factor) * 1e-5
    return Scale(name, factor, max(0, min(6, math.ceil(-math.log10(grain / factor) - 1e-9))))


def point_words(point: Point | Place | None) -> str:
    """Where the set is tuned, as short as can be."""
    if point is None:
        return ""
    if point.dial is not None:
        return f"{show(point.dial, 'Hz')} on the dial"
    if point.received is not None:
        return show(point.received, "Hz")
    if point.volts is not None:
        return show(point.volts, "V")
    return f'mark "{point.mark}"' if point.mark else f"{point.end} end"


def generator_words(generator: GeneratorSetting | None) -> str:
    """What the generator must give, and where it goes in."""
    if generator is None:
        return ""
    through = f" through {generator.through}" if generator.through else ""
    return f"generator {show(generator.hz, 'Hz')} into the {generator.into}{through}"
