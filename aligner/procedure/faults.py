"""Faults gathered while a procedure is read; their lines are looked up at the end, and only if there are any."""

from collections.abc import Mapping

from aligner.errors import Fault
from aligner.text import clean

Path = tuple[str | int, ...]
"""Keys and (from 0) places in lists, from the top of the file down to a value."""


class Faults:
    """All faults of one file, in the order in which they were found."""

    def __init__(self) -> None:
        self._rows: list[tuple[Path, str, str]] = []

    def __len__(self) -> int:
        return len(self._rows)

    def add(self, path: Path, found: str, cure: str) -> None:
        """One fault more: what was found at that path, and what is meant there."""
        self._rows.append((path, found, cure))

    def located(self, file: str, lines: Mapping[Path, int]) -> tuple[Fault, ...]:
        """The faults with their lines, in the order of the file."""
        name = clean(file)
        faults = [Fault(name, _line(path, lines), shown_path(path), found, cure) for path, found, cure in self._rows]
        return tuple(sorted(faults, key=lambda fault: fault.line))


def _line(path: Path, lines: Mapping[Path, int]) -> int:
    """The line of that path, or of the nearest thing around it; what is missing stands nowhere itself."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 1


def shown_path(path: Path) -> str:
    """A path as people read it, lists counted from 1: `step[2].points[1].volts`."""
    shown = ""
    for part in path:
        if isinstance(part, int):
            shown += f"[{part + 1}]"
        else:
            shown += f".{clean(part, 60)}" if shown else clean(part, 60)
    return shown


def shown(value: object) -> str:
    """What was found, short and harmless to print."""
    if isinstance(value, str):
        return f'"{clean(value, 60)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, int) and abs(value) > 10**30:  # longer ones cannot even be written in decimal
        return "a very large number"
    return clean(str(value), 60)
