"""The units and labels that counters and meters print."""

from dataclasses import dataclass
from typing import Literal

Unit = Literal["Hz", "dB", "V"]


@dataclass(frozen=True, slots=True)
class Printed:
    """A printed unit: the unit that it belongs to (empty where no reading of ours has it) and its power of ten."""

    unit: Unit | Literal[""]
    power: int = 0


# Case is no guide: "mhz", "MHZ" and "KHZ" are printed for mega and kilo, and no bench counts millihertz.
_BY_FOLDED: dict[str, Printed] = {
    "hz": Printed("Hz"),
    "khz": Printed("Hz", 3),
    "mhz": Printed("Hz", 6),
    "ghz": Printed("Hz", 9),
    # Every dB unit counts as dB: levels are against one unnamed reference a job.
    **dict.fromkeys(("db", "dbm", "dbu", "dbuv", "db\u03bcv", "dbv", "dbmv", "dbfs", "dbc", "dbr"), Printed("dB")),
    **dict.fromkeys(("v", "vdc", "vac", "vrms", "volt", "volts"), Printed("V")),
    "mv": Printed("V", -3),
    "uv": Printed("V", -6),
    "\u03bcv": Printed("V", -6),
    **dict.fromkeys(
        ("s", "sec", "ms", "us", "\u03bcs", "ns", "min", "%", "ppm", "ppb", "c", "degc", "a", "ma", "w", "mw", "ohm"),
        Printed(""),
    ),
    **dict.fromkeys(("h", "nh", "uh", "\u03bch", "mh", "pf", "nf", "uf", "\u03bcf", "rpm", "deg"), Printed("")),
}
_BY_LETTER: dict[str, Printed] = {
    "k": Printed("Hz", 3),
    "K": Printed("Hz", 3),
    "M": Printed("Hz", 6),
    "G": Printed("Hz", 9),
}

LABELS: dict[Unit, frozenset[str]] = {
    "Hz": frozenset(
        [
            "f",
            "fr",
            "frq",
            "freq",
            "frequency",
            "frequenz",
            "fréquence",
            "frequenza",
            "frecuencia",
            "fin",
            "fx",
            "ch",
            "channel",
        ]
    ),
    "dB": frozenset(["l", "lev", "level", "lvl", "p", "pwr", "power", "pegel", "rssi", "amplitude", "ampl"]),
    "V": frozenset(["u", "v", "volt", "volts", "voltage", "spannung", "tension"]),
}
"""Words that, before a number without unit, say that it is a reading of this unit."""

GREATEST: dict[Unit, float] = {"Hz": 1e11, "dB": 500.0, "V": 1e5}
"""What no counter or meter of a bench goes beyond: more is two lines that ran together, or noise."""


def printed_unit(word: str) -> Printed | None:
    """What a printed word means as a unit; None where it is none."""
    return _BY_LETTER.get(word) or _BY_FOLDED.get(word.casefold())
