"""The units that people type, how they spell them, and what can be meant by them on a bench."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

UnitName = Literal["Hz", "V", "dB", "turn", "H", "F", "s", "ohm"]

_POWERS = {"G": 9, "M": 6, "k": 3, "K": 3, "": 0, "m": -3, "u": -6, "µ": -6, "n": -9, "p": -12}


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit.

    spelled: each spelling with its factor. asks: spellings (small letters) that are not settled by guessing, and why.
    least, most: sizes that can occur on a bench; what lies outside is a slip. ladder: (from this size on, shown as).
    """

    name: UnitName
    noun: str
    spelled: Mapping[str, Fraction]
    examples: tuple[str, ...]
    least: float
    most: float
    ladder: tuple[tuple[float, str], ...]
    asks: Mapping[str, str] = field(default_factory=dict)
    fractions: bool = False

    def factor(self, spelling: str) -> Fraction | None:
        """The factor of a spelling; capitals count only where they decide. None where it is none, or could be two."""
        if spelling in self.spelled:
            return self.spelled[spelling]
        folded = spelling.casefold()
        factors = {factor for name, factor in self.spelled.items() if name.casefold() == folded}
        return factors.pop() if len(factors) == 1 else None

    def possible(self, value: Fraction | float) -> bool:
        """Whether a value of this size can occur on a bench."""
        size = abs(Fraction(value))
        return size == 0 or self.least <= size <= self.most


def _power(exponent: int) -> Fraction:
    return Fraction(10) ** exponent


def _spelled(prefixes: str, *names: str) -> dict[str, Fraction]:
    """Every name with and without each prefix, and each prefix alone, as people leave out the unit."""
    table = {name: Fraction(1) for name in names}
    for prefix in prefixes:
        factor = _power(_POWERS[prefix])
        table |= {prefix + name: factor for name in names} | {prefix: factor}
    return table


_MEGA = _power(6)
_HZ = _spelled("GMkK", "Hz", "hertz") | {
    # Nobody at a bench means a thousandth of a hertz; "10.7 mhz" is what hurried hands make of 10.7 MHz.
    "m": _MEGA,
    "mHz": _MEGA,
    # Cycles, as old service sheets write.
    **dict.fromkeys(("c", "c/s", "cps", "cycles"), Fraction(1)),
    **dict.fromkeys(("kc", "kc/s", "kcs"), _power(3)),
    **dict.fromkeys(("mc", "Mc", "mc/s", "Mc/s", "mcs", "Mcs", "meg"), _MEGA),
}
_FARAD = _spelled("uµnp", "F", "farad") | {
    # Old sheets: microfarad and micromicrofarad.
    "mfd": _power(-6),
    "mmfd": _power(-12),
    "µµF": _power(-12),
    "uuF": _power(-12),
    "mmF": _power(-12),
}
_MILLI_OR_MICRO = "on old sheets it is a microfarad, by today's rule a millifarad: type uF or nF"
_SECOND = _spelled("mµu", "s", "sec", "secs", "second", "seconds")
del _SECOND["m"]
_SECOND |= dict.fromkeys(("min", "mins", "minute", "minutes"), Fraction(60))
_SECOND |= dict.fromkeys(("h", "hour", "hours"), Fraction(3600))
_DECIBEL = dict.fromkeys(("dB", "dBm", "dBu", "dBµ", "dBuV", "dBµV", "dBV", "dBmV", "dBf"), Fraction(1))
_TURN = dict.fromkeys(("turn", "turns", "t", "rev", "revs", "revolution", "revolutions"), Fraction(1))
_TURN |= dict.fromkeys(("°", "deg", "degree", "degrees"), Fraction(1, 360))

UNITS: Mapping[UnitName, Unit] = {
    "Hz": Unit(
        "Hz",
        "a frequency",
        _HZ,
        ("98.412 MHz", "98,2M", "455k", "1 234.5 kHz"),
        1e-3,
        3e9,
        # Medium wave is spoken of in kHz up to its end above 1600 kHz (common practice, no source).
        ((0, "Hz"), (1e3, "kHz"), (2e6, "MHz"), (2e9, "GHz")),
    ),
    "V": Unit(
        "V",
        "a voltage",
        _spelled("kmµu", "V", "volt", "volts"),
        ("2.35 V", "0,4V", "400 mV"),
        1e-9,
        1e5,
        ((0, "µV"), (1e-3, "mV"), (0.1, "V"), (1e4, "kV")),
    ),
    "dB": Unit("dB", "a level", _DECIBEL, ("-3 dB", "12,5", "-63 dBm"), 1e-6, 400, ((0, "dB"),), fractions=True),
    "turn": Unit(
        "turn",
        "an amount of turning",
        _TURN,
        ("1 1/4 turn", "1/8 turn anticlockwise", "-0.5", "90 deg cw"),
        1e-4,
        200,
        ((0, "turn"),),
        fractions=True,
    ),
    "H": Unit(
        "H",
        "an inductance",
        _spelled("mµun", "H", "henry", "henries"),
        ("82 nH", "4u7", "0,33 mH"),
        1e-12,
        1e3,
        ((0, "nH"), (1e-6, "µH"), (1e-3, "mH"), (1, "H")),
    ),
    "F": Unit(
        "F",
        "a capacitance",
        _FARAD,
        ("22 pF", "4p7", "0,1 uF"),
        1e-18,
        10,
        # Capacitors beside a gang are spoken of in pF up to some thousands (common practice, no source).
        ((0, "pF"), (1e-8, "nF"), (1e-6, "µF"), (1, "F")),
        {"mf": _MILLI_OR_MICRO, "m": _MILLI_OR_MICRO},
    ),
    "s": Unit(
        "s",
        "a time",
        _SECOND,
        ("90 s", "2 min", "1:30", "100 ms"),
        1e-9,
        1e7,
        ((0, "µs"), (1e-3, "ms"), (1, "s"), (120, "min")),
        {"m": "it may be minutes or thousandths of a second: type min or ms"},
    ),
    "ohm": Unit(
        "ohm",
        "a resistance",
        _spelled("GMkKm", "ohm", "ohms", "Ω", "R"),
        ("4k7", "470 ohm", "2,2 k"),
        1e-6,
        1e12,
        ((0, "Ω"), (1e3, "kΩ"), (1e6, "MΩ")),
    ),
}


def unit_named(name: UnitName, bare: str = "") -> tuple[Unit, Fraction]:
    """The unit, and the factor of a bare number where the caller names its unit as typed ("MHz")."""
    unit = UNITS[name]
    factor = unit.factor(bare) if bare else Fraction(1)
    if factor is None:
        raise ValueError(f"{bare!r} is no unit of {unit.noun}")
    return unit, factor
