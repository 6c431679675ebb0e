"""Bytes to lines, however the port cuts them up: a pure machine, chunks in and whole lines out."""

LINE_LIMIT = 200
"""The longest line [bytes]. No counter prints more; what does is noise, another baud rate, or no line ends at all."""

_EMPTY = b" \t\0"


class LineCutter:
    """Cuts at CR, LF or CRLF; empty lines are dropped, and so is what comes before the first line end.

    The first line is the end of one that began before the port was opened: `12.3 MHz` may have been `112.3 MHz`.
    A line that is too long comes out once, cut to one byte more than the limit, so that its reader can tell.
    """

    def __init__(self, *, partial_first: bool = True, limit: int = LINE_LIMIT) -> None:
        self._limit = limit
        self._rest = b""
        self._skipping = partial_first

    def feed(self, chunk: bytes) -> list[bytes]:
        """The lines that this chunk completes."""
        *whole, rest = (self._rest + chunk).replace(b"\r", b"\n").split(b"\n")
        lines: list[bytes] = []
        for line in whole:
            if not self._skipping and line.strip(_EMPTY):
                lines.append(line[: self._limit + 1])
            self._skipping = False
        if len(rest) > self._limit:
            lines.append(rest[: self._limit + 1])
            self._skipping = True
            rest = b""
        self._rest = rest
        return lines
