"""`aligner listen PORT`: every line as it was received and as it was understood."""

import time
from collections import deque
from dataclasses import dataclass, field
from typing import TextIO

from aligner.errors import Exit, InstrumentError
from aligner.readings.cutter import LineCutter
from aligner.readings.lines import LineFault, LineValue, Want, understand, visible
from aligner.readings.rate import SILENT_AFTER_S, per_second
from aligner.readings.serial_source import RETRY_S, Port, PortSettings

_RATE_OVER_LINES = 20


@dataclass(slots=True)
class _Tally:
    """What came so far."""

    lines: int = 0
    understood: int = 0
    times_s: deque[float] = field(default_factory=lambda: deque(maxlen=_RATE_OVER_LINES))
    greatest: float | None = None
    least: float | None = None
    unit: str = ""

    def add(self, line: LineValue | LineFault) -> None:
        self.lines += 1
        self.times_s.append(time.monotonic())
        if isinstance(line, LineFault):
            return
        self.understood += 1
        self.unit = line.unit
        self.least = line.value if self.least is None else min(self.least, line.value)
        self.greatest = line.value if self.greatest is None else max(self.greatest, line.value)


def run(
    port: str,
    baud: int,
    out: TextIO,
    err: TextIO,
    *,
    limit: int | None = None,
    raw: bool = False,
    want: Want | None = None,
) -> Exit:
    """Show lines until Ctrl-C, or until `limit` of them; `raw` shows them only as received."""
    settings = PortSettings(port, baud)
    wire = Port(settings)
    err.write("Listening; the first line is left out, it may be half of one. Ctrl-C ends.\n")
    tally = _Tally()
    try:
        while not _full(tally, limit):
            try:
                _listen(wire, out, err, tally, limit, None if raw else want or Want())
            except InstrumentError as lost:
                wire.close()
                wire = _returned(settings, lost, err)
    except KeyboardInterrupt:
        err.write("\n")
    finally:
        wire.close()
    err.write(_summary(tally))
    return Exit.DONE


def _full(tally: _Tally, limit: int | None) -> bool:
    return limit is not None and tally.lines >= limit


def _listen(wire: Port, out: TextIO, err: TextIO, tally: _Tally, limit: int | None, want: Want | None) -> None:
    """Show what comes on an open port; an InstrumentError when it is lost."""
    cutter = LineCutter()
    heard_s = time.monotonic()
    while not _full(tally, limit):
        for line in cutter.feed(wire.read()):
            heard_s = time.monotonic()
            _show(line, out, tally, want)
            if _full(tally, limit):
                return
        if time.monotonic() - heard_s > SILENT_AFTER_S:
            err.write("No line for a while: is the instrument on, is the baud rate right, does it end its lines?\n")
            err.flush()
            heard_s = float("inf")


def _show(line: bytes, out: TextIO, tally: _Tally, want: Want | None) -> None:
    understood = understand(line, want)
    tally.add(understood)
    if want is None:
        out.write(f"{visible(line)}\n")
    else:
        rate = per_second(tally.times_s)
        out.write(f"{visible(line):<32} {_words(understood):<28} {rate:6.1f} lines a second\n")
    out.flush()


def _words(line: LineValue | LineFault) -> str:
    if isinstance(line, LineFault):
        return line.why if line.no_reading else f"not understood: {line.why}"
    return f"{_figure(line)} {line.unit}"


def _figure(line: LineValue) -> str:
    """The value in its plain unit, so that a misread kilo shows; spaces group the thousands."""
    places = 0
    while places < 9 and line.step * 10**places < 1 - 1e-9:
        places += 1
    return f"{line.value:,.{places}f}".replace(",", " ")


def _returned(settings: PortSettings, lost: InstrumentError, err: TextIO) -> Port:
    """Wait for a lost port until it can be opened again."""
    err.write(f"{lost}\n")
    err.flush()
    while True:
        time.sleep(RETRY_S)
        try:
            wire = Port(settings)
        except InstrumentError:
            continue
        err.write("The port is back.\n")
        return wire


def _summary(tally: _Tally) -> str:
    words = f"{tally.lines} lines, {tally.understood} understood"
    if tally.least is not None and tally.greatest is not None:
        words += f", between {tally.least:.10g} and {tally.greatest:.10g} {tally.unit}"
    return f"{words}.\n"
