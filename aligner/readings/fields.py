"""The numbers on a line, each with the label before it, the unit behind it, and what is wrong with it."""

import re
from dataclasses import dataclass

from aligner.readings.numerals import GROUP_SPACES
from aligner.readings.units import LABELS, Unit, printed_unit
from aligner.text import clean

# The grouped form needs its unit in sight: without it `383 594` may as well be two fields.
_TOKEN = re.compile(
    rf"""
    (?P<number>[+\-\u2212]?
        (?: [0-9]{{1,3}}(?:[{GROUP_SPACES}][0-9]{{3}})+(?:[.,][0-9]+)?(?=[ \u00a0\u202f]*[kKmMgG]?[hH][zZ]\b)
          | [.]?[0-9](?:[0-9.,]*[0-9])?[.]?(?![0-9]) )
        (?:[eE][+-]?[0-9]{{1,3}}(?![0-9.]))?)
    | (?P<word>[^\W\d_]\w*|%)
    | (?P<link>[:=])
    | (?P<gap>[\s;|,()\[\]<>*"]+)
    | (?P<other>.)
    """,
    re.VERBOSE,
)
_ALL_LABELS = frozenset[str]().union(*LABELS.values())


@dataclass(frozen=True, slots=True)
class Field:
    """A number on a line. unit: None where it is bare, "" where it is of no interest. fault: why it cannot be taken."""

    digits: str
    text: str
    labels: frozenset[str]
    unit: Unit | str | None
    power: int = 0
    fault: str = ""


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    text: str


_END = _Token("gap", "")


def fields_of(text: str) -> tuple[Field, ...]:
    """All numbers of a line in their order."""
    tokens = _tokens(text)
    return tuple(_field(tokens, place) for place, token in enumerate(tokens) if token.kind == "number")


def label_without_number(text: str, labels: frozenset[str]) -> bool:
    """Whether a label such as `F=` stands there with something else than a number behind it: `F: ---`."""
    tokens = [token for token in _tokens(text) if token.text.strip()]
    for place, token in enumerate(tokens[:-1]):
        if token.kind == "word" and token.text.casefold() in labels and tokens[place + 1].kind == "link":
            return place + 2 >= len(tokens) or tokens[place + 2].kind != "number"
    return False


def _tokens(text: str) -> tuple[_Token, ...]:
    return tuple(_Token(match.lastgroup or "other", match[0]) for match in _TOKEN.finditer(text))


def _at(tokens: tuple[_Token, ...], place: int) -> _Token:
    return tokens[place] if 0 <= place < len(tokens) else _END


def _field(tokens: tuple[_Token, ...], place: int) -> Field:
    digits = tokens[place].text
    labels = _labels(tokens, place)
    behind, apart = _word_behind(tokens, place)
    printed = printed_unit(behind) if behind else None
    text = f"{digits} {behind}" if printed else digits
    fault = _neighbours(tokens, place)
    if not fault and behind and printed is None:
        fault = f"{clean(digits, 40)} is followed by {clean(behind, 20)}, which is no unit"
    if not fault and printed and not apart and _at(tokens, place + 2).kind in {"number", "other"}:
        fault = f"{clean(text, 40)} runs into what follows it"
    if printed is None:
        return Field(digits, text, labels, None, 0, fault)
    return Field(digits, text, labels, printed.unit, printed.power, fault)


def _word_behind(tokens: tuple[_Token, ...], place: int) -> tuple[str, bool]:
    """The word behind a number that must be its unit (empty where there is none), and whether a gap is between."""
    after = _at(tokens, place + 1)
    if after.kind == "word":
        return after.text, False
    word = _at(tokens, place + 2)
    if after.kind != "gap" or after.text.strip(" \t\u00a0\u202f([") or word.kind != "word":
        return "", False
    return ("", False) if _is_label(tokens, place + 2) else (word.text, True)


def _is_label(tokens: tuple[_Token, ...], place: int) -> bool:
    """Whether the word there names the number that comes after it."""
    rest = [token for token in tokens[place + 1 : place + 4] if token.text.strip() or token.kind != "gap"]
    if rest and rest[0].kind == "link":
        return True
    return printed_unit(tokens[place].text) is None and bool(rest) and rest[0].kind == "number"


def _labels(tokens: tuple[_Token, ...], place: int) -> frozenset[str]:
    """The words before a number that name it, back to the number or the separator before them."""
    words: list[str] = []
    linked = False
    for before in range(place - 1, -1, -1):
        token = tokens[before]
        if token.kind == "word":
            words.append(token.text.casefold())
        elif token.kind == "link" and not linked and not words:
            linked = True
        elif token.kind != "gap" or token.text.strip():
            break
    stopped_at_number = len(words) > 0 and _number_before(tokens, place, len(words))
    if stopped_at_number and not (linked and len(words) == 1) and printed_unit(words[-1]):
        words.pop()  # it is the unit of the number before
    return frozenset(words) | {word.rstrip("0123456789") for word in words}  # "CH1" is also "CH"


def _number_before(tokens: tuple[_Token, ...], place: int, words: int) -> bool:
    """Whether the run of words before a number begins right behind another number."""
    left = words
    for before in range(place - 1, -1, -1):
        if tokens[before].kind == "word":
            left -= 1
        elif tokens[before].kind == "number" and left == 0:
            return True
        elif left == 0 and tokens[before].text.strip():
            return False
    return False


def _neighbours(tokens: tuple[_Token, ...], place: int) -> str:
    """What touches a number that nothing of the kind may touch; empty where it stands whole."""
    before, after = _at(tokens, place - 1), _at(tokens, place + 1)
    signed_label = before.kind == "word" and before.text.casefold() in _ALL_LABELS and tokens[place].text[0] in "+-"
    clock = before.kind == "link" and _at(tokens, place - 2).kind == "number"
    broken_before = before.kind in {"number", "other"} or (before.kind == "word" and not signed_label) or clock
    broken_after = after.kind in {"number", "other", "link"}
    if not broken_before and not broken_after:
        return ""
    return f"{clean(_run(tokens, place), 40)} is no whole number"


def _run(tokens: tuple[_Token, ...], place: int) -> str:
    """Everything that hangs together with the number at that place."""
    first = last = place
    while first > 0 and tokens[first - 1].kind != "gap":
        first -= 1
    while last + 1 < len(tokens) and tokens[last + 1].kind != "gap":
        last += 1
    return "".join(token.text for token in tokens[first : last + 1])
