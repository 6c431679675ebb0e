"""A bench counter or meter that is asked, by IEEE 488.2 and SCPI, over a serial port or a socket."""

import math
import re
import time
from collections.abc import Callable
from dataclasses import dataclass

from aligner.errors import InstrumentError
from aligner.readings.cutter import LineCutter
from aligner.readings.lines import NOT_A_READING
from aligner.readings.source import Wire
from aligner.text import clean

READ = "READ?"
"""Makes a fresh measurement; FETCh? gives the last one again."""

ERRORS_AT_MOST = 32
"""Entries taken from an error queue; an instrument that has more to say is not listening."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_ERROR = re.compile(r'([+-]?[0-9]{1,5})\s*,\s*"((?:[^"]|"")*)"')


@dataclass(frozen=True, slots=True)
class Identity:
    """Who an instrument says that it is."""

    maker: str
    model: str
    serial: str
    firmware: str


@dataclass(frozen=True, slots=True)
class ScpiFault:
    """One entry of an instrument's error queue; code 0 is none."""

    code: int
    text: str


def number(reply: str) -> float | None:
    """The number of a reply in the forms NR1, NR2 or NR3; None where the instrument says that it has no reading."""
    text = reply.strip()
    if not _NUMBER.fullmatch(text):
        raise InstrumentError(f"{clean(text, 60)!r} was answered where a number was asked for")
    value = float(text)
    return None if not math.isfinite(value) or abs(value) >= NOT_A_READING else value


def identity(reply: str) -> Identity:
    """The four fields of the answer to *IDN?."""
    fields = [clean(field.strip(), 60) for field in reply.split(",", 3)]
    if len(fields) != 4:
        raise InstrumentError(f"{clean(reply, 60)!r} was answered to *IDN?, which is not maker, model, number, version")
    return Identity(*fields)


def scpi_fault(reply: str) -> ScpiFault:
    """One answer to SYSTem:ERRor?, with or without sign."""
    match = _ERROR.fullmatch(reply.strip())
    if match is None:
        raise InstrumentError(f"{clean(reply, 60)!r} was answered to SYST:ERR?, which is no error entry")
    return ScpiFault(int(match[1]), clean(match[2].replace('""', '"'), 120))


class Conversation:
    """Questions and answers on an open port, one after the other."""

    def __init__(self, wire: Wire, *, timeout_s: float = 3.0, clock: Callable[[], float] = time.monotonic) -> None:
        self._wire = wire
        self._timeout_s = timeout_s
        self._clock = clock
        self._cutter = LineCutter(partial_first=False)

    def say(self, command: str) -> None:
        """Send a command that has no answer."""
        self._wire.write(command.encode("ascii") + b"\n")

    def ask(self, query: str) -> str:
        """Send a query and return its answer."""
        self.say(query)
        until = self._clock() + self._timeout_s
        while self._clock() < until:
            lines = self._cutter.feed(self._wire.read())
            if lines:
                return clean(lines[0].decode("ascii", errors="replace"))
        raise InstrumentError(f"no answer to {query} in {self._timeout_s:g} s: is it on, is the baud rate right?")

    def identify(self) -> Identity:
        """Return who it is."""
        return identity(self.ask("*IDN?"))

    def measure(self, query: str = READ) -> float | None:
        """Return a reading, None where it has none."""
        return number(self.ask(query))

    def faults(self) -> tuple[ScpiFault, ...]:
        """Empty the error queue, oldest first."""
        found: list[ScpiFault] = []
        for _ in range(ERRORS_AT_MOST):
            fault = scpi_fault(self.ask("SYST:ERR?"))
            if fault.code == 0:
                return tuple(found)
            found.append(fault)
        raise InstrumentError(f"more than {ERRORS_AT_MOST} entries in the error queue: send *CLS")

    def check(self) -> None:
        """Raise what stands in the error queue."""
        faults = self.faults()
        if faults:
            said = "; ".join(f"{fault.code} {fault.text}" for fault in faults)
            raise InstrumentError(f"the instrument reports {said}")


class Asking:
    """The dialogue of a source that asks again and again; `setup` is said once after each opening of the port."""

    def __init__(
        self,
        query: str = READ,
        *,
        setup: tuple[str, ...] = (),
        timeout_s: float = 5.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._query = query
        self._setup = setup
        self._timeout_s = timeout_s
        self._clock = clock
        self._cutter = LineCutter(partial_first=False)
        self._asked_s: float | None = None
        self.identity: Identity | None = None

    def begin(self, wire: Wire) -> None:
        """Clear the error queue, ask who it is, and set it up; an error that it reports is raised."""
        talk = Conversation(wire, clock=self._clock)
        talk.say("*CLS")
        self.identity = talk.identify()
        for command in self._setup:
            talk.say(command)
        talk.check()
        self._cutter = LineCutter(partial_first=False)
        self._asked_s = None

    def lines(self, wire: Wire) -> list[bytes]:
        """Ask if nothing is asked, and return the answer when it is there."""
        if self._asked_s is None:
            wire.write(self._query.encode("ascii") + b"\n")
            self._asked_s = self._clock()
        lines = self._cutter.feed(wire.read())
        if lines:
            self._asked_s = None
        elif self._clock() - self._asked_s > self._timeout_s:
            self._explain(wire)
        return lines

    def _explain(self, wire: Wire) -> None:
        """Raise why there is no answer, in the instrument's own words where it has any."""
        self._asked_s = None
        Conversation(wire, clock=self._clock).check()
        raise InstrumentError(f"no answer to {self._query} in {self._timeout_s:g} s: is there a signal?")
