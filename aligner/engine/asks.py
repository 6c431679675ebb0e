"""What the tool may ask for next. The pipe writes these as they stand, and the journal keeps them as they were shown.

Units: Hz, V, H, F; levels in dB against one unnamed reference a job; turns positive clockwise seen from the tool.
"""

from typing import Literal

import msgspec

Quantity = Literal["frequency", "resonance", "level", "volts"]
AimQuantity = Literal["frequency", "resonance", "level", "volts", "turns"]


class Point(msgspec.Struct, frozen=True, omit_defaults=True):
    """Where the set is tuned: exactly one field is given."""

    dial: float | None = None
    received: float | None = None
    volts: float | None = None
    mark: str | None = None
    end: Literal["low", "high"] | None = None


class GeneratorSetting(msgspec.Struct, frozen=True):
    """What the generator gives [Hz], and how it is coupled."""

    hz: float
    modulation: str = "none"
    into: str = "aerial"
    through: str = ""


class Aim(msgspec.Struct, frozen=True):
    """The reading at which to stop turning; `within` is a half width in the terms of `value`."""

    quantity: AimQuantity
    value: float
    within: float


class Amount(msgspec.Struct, frozen=True):
    """About how much to turn: signed turns ("turn"), or a size in "H" or "F", with its standard uncertainty."""

    value: float
    unit: Literal["turn", "H", "F"]
    plus_minus: float


class _Ask(msgspec.Struct, frozen=True, tag_field="ask", kw_only=True):
    """What every ask carries. `text` and `why` are for people."""

    id: int
    step: str
    text: str
    why: str = ""


class Confirm(_Ask, frozen=True, tag="confirm", kw_only=True):
    """Something done and confirmed. `hazard` marks the cautions, which cannot be set aside."""

    hazard: bool = False


class Read(_Ask, frozen=True, tag="read", kw_only=True):
    """One reading; nothing is turned for it but the tuning."""

    quantity: Quantity
    circuit: str = ""
    point: Point
    generator: GeneratorSetting | None = None


class Touch(_Ask, frozen=True, tag="touch", kw_only=True):
    """One adjuster turned until the reading stands at the aim."""

    adjuster: str
    circuit: str
    point: Point
    generator: GeneratorSetting | None = None
    aim: Aim
    direction: Literal["more", "less"] | None = None
    amount: Amount | None = None


class Peak(_Ask, frozen=True, tag="peak", kw_only=True):
    """One adjuster turned to the maximum (or minimum, or zero) of what is read."""

    adjuster: str
    circuit: str
    point: Point
    generator: GeneratorSetting | None = None
    quantity: Quantity = "level"
    find: Literal["max", "min", "null"] = "max"
    fine: bool = False
    rock: bool = False
    direction: Literal["more", "less"] | None = None
    amount: Amount | None = None


class Wand(_Ask, frozen=True, tag="wand", kw_only=True):
    """The level with no wand, with the ferrite end and with the brass end in the coil."""

    circuit: str
    point: Point
    generator: GeneratorSetting | None = None


class Sweep(_Ask, frozen=True, tag="sweep", kw_only=True, rename={"from_hz": "from", "to_hz": "to"}):
    """Readings over a span of the generator: `count` is wished, 3 to 10,000 are taken."""

    quantity: Literal["level", "volts"]
    from_hz: float
    to_hz: float
    count: int
    circuit: str = ""
    point: Point | None = None
    generator: GeneratorSetting | None = None


Turning = Touch | Peak
"""What a hand is on an adjuster for."""

Single = Read | Touch | Peak
"""What one reading answers."""

Ask = Confirm | Read | Touch | Peak | Wand | Sweep


class Finished(msgspec.Struct, frozen=True, tag_field="ask", tag="finished"):
    """Nothing is left to do. `aligned` is true when every step is held (set aside and at limit are not)."""

    aligned: bool
