"""`clean`: what every text goes through that somebody else wrote, at the boundary where it comes in.

A terminal obeys what is printed: a title in a procedure file could rename the window, write the clipboard or leave the
screen in ruins, and an override of the writing direction can make a line read backwards. The frameworks that draw our
screens hand such codes on. So they are taken out once, on the way in, and what is left is only what can be read.
"""

import re
import unicodedata

_STRING_START = "\x1b[\\]PX^_]|[\x90\x98\x9d\x9e\x9f]"  # OSC, DCS, SOS, PM, APC in 7 and in 8 bits (ECMA-48)
_STRING_END = "\x07|\x1b\\\\|\x9c"
# Neither an end nor a start may stand in the body, or many starts without an end would take quadratic time.
_STRING = f"(?:{_STRING_START})[^\x07\x1b\x90\x98\x9c-\x9f]*(?:{_STRING_END})"
_CONTROL_SEQUENCE = "(?:\x1b\\[|\x9b)[0-?]*[ -/]*[@-~]?"
_ESCAPE = "\x1b[ -/]*[0-~]?"
_SEQUENCE = re.compile(f"{_STRING}|{_CONTROL_SEQUENCE}|{_ESCAPE}")
_LINE_END = re.compile("\r\n|[\n\r\x0b\x0c\x85\u2028\u2029]")

# Cc: controls. Cf: invisible, among them every override of the writing direction. Cs: halves of characters, which
# cannot be written to a file as UTF-8. Zl and Zp are made line ends before this is asked.
_DROPPED = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def clean(text: str, limit: int = 400, *, lines: bool = False) -> str:
    """The text without anything that a terminal obeys, at most `limit` characters long (the last is then an ellipsis).

    Line ends and tabs become single spaces; with `lines` they are kept, every line end as a newline.
    """
    kept = text if text.isprintable() else _bare(text, lines=lines)  # what is printable has nothing to be taken out
    if len(kept) <= limit:
        return kept
    return kept[: limit - 1] + "…" if limit > 0 else ""


def _bare(text: str, *, lines: bool) -> str:
    kept = _LINE_END.sub("\n", _SEQUENCE.sub("", text))
    if not lines:
        kept = kept.replace("\n", " ").replace("\t", " ")
    return "".join(mark for mark in kept if mark in "\n\t" or unicodedata.category(mark) not in _DROPPED)
