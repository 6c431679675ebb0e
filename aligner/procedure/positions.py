"""In which line each key and each member of a list stands in a TOML document that `tomllib` has accepted.

`tomllib` gives values without places. This scanner walks the same text once more and gives places without values. It
need not find faults, as the document is known to be sound: it only has to skip what it does not need in the right
way. It runs only when there is a fault to report, as it takes as long as parsing. (The form of TOML is that of
https://toml.io/en/v1.0.0.)
"""

import re

from aligner.procedure.faults import Path

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BASIC = re.compile(r'"(?:[^"\\]|\\.)*"')
_LITERAL = re.compile(r"'[^']*'")
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''(?:[^']|'{1,2}(?!'))*'{3,5}")
_PLAIN = re.compile(r"[^,\]}#\r\n]+")
_ESCAPED = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))", re.DOTALL)
_SIMPLE_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}


def line_numbers(text: str) -> dict[Path, int]:
    """The line, from 1, of every key and list member of a sound document."""
    return _Scanner(text).scan()


class _Scanner:
    """Walks the document from start to end; `_at` is where it stands."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._line = 1
        self._counted_to = 0
        self._lines: dict[Path, int] = {}
        self._newest: dict[Path, int] = {}  # of each list of [[tables]], the place of the last one

    def scan(self) -> dict[Path, int]:
        """All lines of the document."""
        heading: Path = ()
        self._skip(_BLANK)
        while self._at < len(self._text):
            if self._text.startswith("[", self._at):
                heading = self._heading()
            else:
                self._pair(heading)
            self._skip(_BLANK)
        return self._lines

    def _heading(self) -> Path:
        """[table] or [[list of tables]]; a list on the way stands for its last member."""
        several = self._text.startswith("[[", self._at)
        self._at += 2 if several else 1
        parts = self._key()
        self._at += 2 if several else 1
        path: Path = ()
        for count, part in enumerate(parts, start=1):
            path = (*path, part)
            self._note(path)
            if several and count == len(parts):
                self._newest[path] = self._newest.get(path, -1) + 1
            if path in self._newest:
                path = (*path, self._newest[path])
                self._note(path)
        return path

    def _pair(self, parent: Path) -> None:
        """key = value, where a dotted key makes the tables on its way."""
        path = parent
        for part in self._key():
            path = (*path, part)
            self._note(path)
        self._at += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path)

    def _key(self) -> list[str]:
        """The parts of a dotted key; stands on what follows it afterwards."""
        parts: list[str] = []
        while True:
            self._skip(_SPACE)
            parts.append(self._key_part())
            self._skip(_SPACE)
            if not self._text.startswith(".", self._at):
                return parts
            self._at += 1

    def _key_part(self) -> str:
        if self._text.startswith("'", self._at):
            return self._skip(_LITERAL)[1:-1]
        if self._text.startswith('"', self._at):
            return _ESCAPED.sub(_unescaped, self._skip(_BASIC)[1:-1])
        return self._skip(_BARE)

    def _value(self, path: Path) -> None:
        """Skips one value and notes what stands inside it."""
        start = self._text[self._at : self._at + 3]
        if start.startswith("["):
            self._list(path)
        elif start.startswith("{"):
            self._inline_table(path)
        elif start == '"""':
            self._skip(_LONG_BASIC)
        elif start == "'''":
            self._skip(_LONG_LITERAL)
        elif start.startswith('"'):
            self._skip(_BASIC)
        elif start.startswith("'"):
            self._skip(_LITERAL)
        else:
            self._skip(_PLAIN)

    def _list(self, path: Path) -> None:
        self._at += 1
        place = 0
        self._skip(_BLANK)
        while not self._text.startswith("]", self._at):
            self._note((*path, place))
            self._value((*path, place))
            place += 1
            self._skip_comma()
        self._at += 1

    def _inline_table(self, path: Path) -> None:
        self._at += 1
        self._skip(_BLANK)
        while not self._text.startswith("}", self._at):
            self._pair(path)
            self._skip_comma()
        self._at += 1

    def _skip_comma(self) -> None:
        self._skip(_BLANK)
        if self._text.startswith(",", self._at):
            self._at += 1
        self._skip(_BLANK)

    def _skip(self, form: re.Pattern[str]) -> str:
        """Moves past what has that form, and gives it."""
        found = form.match(self._text, self._at)
        if found is None:
            raise ValueError(f"the scanner lost its place at character {self._at}")
        self._at = found.end()
        return found.group()

    def _note(self, path: Path) -> None:
        """The first place where a path comes up is its place."""
        if path in self._lines:
            return
        self._line += self._text.count("\n", self._counted_to, self._at)
        self._counted_to = self._at
        self._lines[path] = self._line


def _unescaped(found: re.Match[str]) -> str:
    short, long, simple = found.groups()
    if short or long:
        return chr(int(short or long, 16))
    return _SIMPLE_ESCAPES.get(simple, simple)
