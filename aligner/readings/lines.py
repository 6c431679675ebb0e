"""One line of an instrument, as bytes, to the value that it shows: pure, and strict.

A line comes from a machine, so it is read more strictly than what a person types: there is nobody to ask, and a wrong
reading that looks right does more harm than one left out. Hence a number counts only where it stands whole between
separators (`38?594` is none), an unknown word behind it is not passed over (`383.594 kH` is not 383.594 Hz), and a lone
comma that could group or divide is not guessed at. A bare number is in the unit wanted as printed: `1.234` is 1.234 Hz.
"""

import re
from dataclasses import dataclass

from aligner.readings.cutter import LINE_LIMIT
from aligner.readings.fields import Field, fields_of, label_without_number
from aligner.readings.numerals import DecimalMark, NoNumeral, Numeral, numeral
from aligner.readings.units import GREATEST, LABELS, Unit
from aligner.text import clean

NOT_A_READING = 9.9e37
"""SCPI answers 9.91E37 for not a number and +-9.9E37 for an overflow."""

_CONTROL_SEQUENCE = re.compile(rb"\x1b\[[0-9;?]*[A-Za-z]")
_BLANKS = "\t\u00a0\u2009\u202f"
_NO_SIGNAL = frozenset(
    [
        "ol",
        "ovl",
        "ovld",
        "ovf",
        "ofl",
        "over",
        "overload",
        "overflow",
        "nan",
        "inf",
        "infinity",
        "none",
        "nosignal",
        "err",
        "error",
    ]
)


@dataclass(frozen=True, slots=True)
class Want:
    """What a line shall give.

    field: the label of the number to take, or its place on the line counted from 1. decimal: the device's decimal mark
    where it is known. bare_power: a number without unit counts ten to this power of the unit (6: it is in MHz).
    """

    unit: Unit = "Hz"
    field: int | str | None = None
    decimal: DecimalMark = ""
    bare_power: int = 0


@dataclass(frozen=True, slots=True)
class LineValue:
    """The value of a line [Hz, dB or V], the step of its last digit, and the part of the line that it stands in."""

    value: float
    unit: Unit
    step: float
    taken: str


@dataclass(frozen=True, slots=True)
class LineFault:
    """Why a line gives no value. `no_reading`: the instrument itself says that it has none."""

    why: str
    no_reading: bool = False


def understand(raw: bytes, want: Want | None = None) -> LineValue | LineFault:
    """The value that a line shows, or why it shows none. Nothing of the line can do harm in either."""
    wanted = want or Want()
    if len(raw) > LINE_LIMIT:
        return LineFault(f"longer than {LINE_LIMIT} bytes: no line ends, or another baud rate")
    text = _text(raw)
    if isinstance(text, LineFault):
        return text
    if isinstance(wanted.field, int) and wanted.decimal != ",":
        text = text.replace(",", ";")
    fields = fields_of(text)
    chosen = _chosen(text, fields, wanted)
    return chosen if isinstance(chosen, LineFault) else _value(chosen, wanted)


def visible(raw: bytes) -> str:
    """A line as received, with everything that is no printable text as an escape, safe for any screen."""
    text = raw.decode("utf-8", errors="backslashreplace")
    return clean(
        text if text.isprintable() else "".join(mark if mark.isprintable() else _escape(mark) for mark in text)
    )


def _escape(mark: str) -> str:
    return mark.encode("unicode_escape").decode("ascii")


def _text(raw: bytes) -> str | LineFault:
    """The line as text. Screen codes of counters that paint a terminal part words; other controls spoil the line."""
    bare = _CONTROL_SEQUENCE.sub(b" ", raw).strip(b"\0 \t")
    try:
        text = bare.decode("utf-8")
    except UnicodeDecodeError:
        text = bare.decode("latin-1")  # a micro sign of an old device; anything else spoils the number that it is in
    strange = sum(not mark.isprintable() and mark not in _BLANKS for mark in text)
    if strange:
        return LineFault(f"{strange} of {len(text)} characters are no text: noise, or another baud rate")
    return text


def _chosen(text: str, fields: tuple[Field, ...], want: Want) -> Field | LineFault:
    if want.field is not None:
        return _asked_for(fields, want.field)
    if label_without_number(text, LABELS[want.unit]):
        return LineFault("no reading: the label stands without a number", no_reading=True)
    sound = [field for field in fields if not field.fault]
    labelled = [field for field in sound if LABELS[want.unit] & field.labels]
    with_unit = [field for field in sound if field.unit == want.unit]
    both = [field for field in labelled if field.unit == want.unit]
    bare = [field for field in labelled if field.unit is None]
    for candidates in (both, with_unit, bare):
        if candidates:
            return candidates[0]
    return _only_one(text, fields, want)


def _asked_for(fields: tuple[Field, ...], asked: int | str) -> Field | LineFault:
    """The field that the person chose, by place or by label."""
    if isinstance(asked, int):
        found = fields[asked - 1 : asked] if asked > 0 else ()
    else:
        found = tuple(field for field in fields if asked.casefold() in field.labels)[:1]
    if not found:
        return LineFault(f"has no field {clean(str(asked), 40)}")
    return LineFault(found[0].fault) if found[0].fault else found[0]


def _only_one(text: str, fields: tuple[Field, ...], want: Want) -> Field | LineFault:
    """A line of one bare number, or the reason why there is nothing to take."""
    if not fields:
        return _nothing(text)
    faults = [field.fault for field in fields if field.fault]
    bare = [field for field in fields if not field.fault and field.unit is None and not field.labels]
    if len(bare) == 1 and not faults:
        return bare[0]
    if len(bare) > 1:
        return LineFault(f"{len(bare)} numbers without unit or label: choose the field by its place")
    if faults:
        return LineFault(faults[0])
    if any(field.unit is None for field in fields):
        label = clean(max(fields[0].labels, key=len, default="otherwise"), 40)
        return LineFault(f"a number labelled {label}, without unit: choose the field {label} if it is meant")
    return LineFault(f"no number in {want.unit}")


def _nothing(text: str) -> LineFault:
    words = {word.casefold() for word in re.findall(r"[^\W\d_]+", text)}
    if words & _NO_SIGNAL or re.search(r"[-*_?.]{2,}", text):
        return LineFault("no reading: the instrument shows none", no_reading=True)
    return LineFault("no number on the line")


def _value(field: Field, want: Want) -> LineValue | LineFault:
    if field.unit is not None and field.unit != want.unit:
        return LineFault(f"{clean(field.text, 40)} is not in {want.unit}")
    number = _numeral(field, want)
    shown = clean(field.text, 40)
    if isinstance(number, NoNumeral):
        return LineFault(f"{shown} {number.why}")
    if abs(number.value) >= NOT_A_READING:
        return LineFault("no reading: the instrument answers not a number, or an overflow", no_reading=True)
    if want.unit == "Hz" and number.value < 0:
        return LineFault(f"{shown}: no frequency is less than nothing")
    if abs(number.value) > GREATEST[want.unit]:
        return LineFault(f"{shown} is more than any counter or meter shows: two lines that ran together?")
    return LineValue(number.value, want.unit, number.step, shown)


def _numeral(field: Field, want: Want) -> Numeral | NoNumeral:
    bare = field.unit is None
    if bare and "," in field.digits and not want.decimal:
        return NoNumeral("may be two fields or one number: choose the field, or say which the decimal mark is")
    # Before kHz, MHz, dB or V a lone comma divides: nobody groups thousands of these, but of Hz many do.
    whole_hz = field.unit == "Hz" and field.power == 0
    power = want.bare_power if bare else field.power
    return numeral(field.digits, want.decimal, power=power, comma_unclear=whole_hz)
