"""Where the guide's readings come from: the keyboard alone, a serial port, or the virtual set turned by keys."""

import json
import math
import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal, Protocol

import msgspec

from aligner.engine.answers import Answer
from aligner.engine.asks import Ask
from aligner.engine.capture import KEEP_S, Sample
from aligner.readings.source import Live, Source
from aligner.screens.feel import Felt
from aligner.screens.fingers import BOLDEST
from aligner.text import clean

if TYPE_CHECKING:
    from aligner.procedure.model import Procedure

DecimalMark = Literal["", ",", "."]
Shown = Literal["Hz", "kHz", "MHz", "dB", "V"]
"""What an instrument's numbers are in, where the line itself does not say it."""

_SERVES: dict[Shown, str] = {"Hz": "frequency", "kHz": "frequency", "MHz": "frequency", "dB": "level", "V": "volts"}
"""What an instrument on a port reads; everything else is typed."""

_POWERS: dict[Shown, int] = {"kHz": 3, "MHz": 6}

EVERYTHING: frozenset[str] = frozenset({"frequency", "resonance", "level", "volts", "turns"})
"""What the virtual set's instruments read."""

AT_STOP = "It no longer moves: at its end of travel? Press e."

SUFFIX = ".source.json"
"""Beside each job: where its readings come from, how the virtual set was left, and what turning it taught. A job does
without it."""


class SetOnBench(Protocol):
    """A virtual set, which takes asks and gives answers as plain dictionaries."""

    def display(self, ask: Mapping[str, object]) -> tuple[str, float]:
        """What the instrument of that ask shows now."""

    def turn(self, adjuster: str, turns: float) -> bool:
        """Turn an adjuster by hand; False at its stop."""

    def answer(self, ask: Mapping[str, object]) -> dict[str, object]:
        """What a person would answer."""

    def positions(self) -> dict[str, float]:
        """How the adjusters stand."""

    def clockwise(self, adjuster: str) -> float:
        """Where the tool stands, clockwise positive."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What was chosen as the source of readings: "keyboard", "serial" with a port, or "virtual".

    asked: the instrument answers READ? (SCPI) instead of printing by itself. field: the place on the line, or the
    label, of the number to take. decimal: the decimal mark, where lines alone do not tell.
    """

    kind: Literal["keyboard", "serial", "virtual"] = "keyboard"
    port: str = ""
    baud: int = 9600
    asked: bool = False
    shown: Shown = "Hz"
    field: str = ""
    decimal: DecimalMark = ""

    @property
    def words(self) -> str:
        """As it is shown."""
        meter = "counter" if _SERVES[self.shown] == "frequency" else "meter"
        return {"keyboard": "keyboard", "serial": f"{meter} on {clean(self.port, 40)}", "virtual": "virtual set"}[
            self.kind
        ]


class VirtualSource:
    """The virtual set as a source: its instrument is looked at whenever the screen looks."""

    def __init__(self, on_bench: SetOnBench, clock: Callable[[], float] = time.monotonic) -> None:
        self.on_bench = on_bench
        self._clock = clock
        self._ask: dict[str, object] | None = None
        self._samples: deque[Sample] = deque()
        self.at_stop = False
        self.waited_s = 0.0  # of the set's own time, for the newest answer of its owner
        self._begun: dict[str, float] = {}

    def show(self, ask: Ask | None) -> None:
        """Point the instruments at what that ask reads."""
        before, self._ask = self._ask, msgspec.to_builtins(ask) if ask is not None else None
        self._samples.clear()
        if self._ask != before:  # a note, or a reading that is questioned, leaves the adjuster's way as it was counted
            self._begun.clear()
            self.at_stop = False

    def turn(self, adjuster: str, turns: float) -> float:
        """Turn that adjuster by hand; the net turns since the ask was shown."""
        begun = self._begun.setdefault(adjuster, self.on_bench.clockwise(adjuster))
        self.at_stop = not self.on_bench.turn(adjuster, turns)
        return self.on_bench.clockwise(adjuster) - begun

    def answer(self, ask: Ask) -> Answer:
        """What the virtual set's owner would answer to that ask."""
        from aligner.rehearsal.door import answered, asked  # noqa: PLC0415 - only where there is a virtual set

        begun = getattr(self.on_bench, "at_s", 0.0)
        answer = answered(self.on_bench.answer(asked(ask)))
        self.waited_s = getattr(self.on_bench, "at_s", 0.0) - begun
        return answer

    def boldest(self, adjuster: str) -> float:
        """The boldest press of an arrow key on that adjuster [turn]."""
        felt = getattr(self.on_bench, "boldest", None)
        return float(felt(adjuster)) if felt is not None else BOLDEST

    def positions(self) -> dict[str, float]:
        """How the adjusters stand."""
        return self.on_bench.positions()

    def start(self) -> None:
        """Nothing is to be opened."""

    def stop(self) -> None:
        """Nothing is to be closed."""

    def latest(self) -> Live | None:
        """What the instrument shows now."""
        if self._ask is None or self._ask.get("ask") not in {"read", "touch", "peak"}:
            return None
        value = self.on_bench.display(self._ask)[1]
        now = self._clock()
        message = AT_STOP if self.at_stop else ""
        if not math.isfinite(value):
            return Live(None, "", now, 0.0, stable=False, connected=True, message="Nothing can be read here.")
        self._samples.append(Sample(now, value, f"{value:.10g}"))
        while self._samples[0].at_s < now - KEEP_S:
            self._samples.popleft()
        return Live(value, "", now, 0.0, stable=False, connected=True, message=message)

    def window(self) -> tuple[Sample, ...]:
        """What was shown in the last seconds."""
        return tuple(self._samples)


@dataclass(slots=True)
class Plugged:
    """A source in use, with what it reads."""

    choice: Choice
    source: Source | None = None

    @property
    def serves(self) -> frozenset[str]:
        """The quantities that it reads."""
        if self.source is None:
            return frozenset()
        return EVERYTHING if isinstance(self.source, VirtualSource) else frozenset({_SERVES[self.choice.shown]})

    @property
    def virtual(self) -> VirtualSource | None:
        """The virtual set, where it is one."""
        return self.source if isinstance(self.source, VirtualSource) else None


def plugged(choice: Choice, procedure: "Procedure", job: Path | None) -> Plugged:
    """The source that was chosen, ready to start; slow, for it may load what the virtual set needs."""
    if choice.kind == "serial":
        return Plugged(choice, _on_port(choice))
    if choice.kind == "virtual":
        from aligner.screens.virtual import placed  # noqa: PLC0415 - it loads what is slow to load

        return Plugged(choice, VirtualSource(placed(procedure, job)))
    return Plugged(choice)


def _on_port(choice: Choice) -> Source:
    from aligner.readings.lines import Want  # noqa: PLC0415 - only where it is used
    from aligner.readings.scpi import Asking  # noqa: PLC0415 - the same
    from aligner.readings.serial_source import PortSettings, SerialSource  # noqa: PLC0415 - the same

    want = Want(
        unit=choice.shown if choice.shown in {"dB", "V"} else "Hz",
        field=int(choice.field) if choice.field.isdecimal() else choice.field or None,
        decimal=choice.decimal,
        bare_power=_POWERS.get(choice.shown, 0),
    )
    return SerialSource(PortSettings(choice.port, choice.baud), want, dialogue=Asking() if choice.asked else None)


def remembered(job: Path) -> Choice | None:
    """What was chosen for that job; None where nothing sound is kept."""
    try:
        kept = json.loads(job.with_suffix(SUFFIX).read_text(encoding="utf-8"))
        return msgspec.convert(kept["source"], Choice)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def remember(job: Path, choice: Choice, left: Mapping[str, float] | None = None, felt: tuple[Felt, ...] = ()) -> None:
    """Keep the choice beside the job, how the virtual set was left, what its keys taught; a full disk stops nobody."""
    kept = {"source": choice, "left": dict(left or {}), "felt": felt}
    text = json.dumps(msgspec.to_builtins(kept))
    target = job.with_suffix(SUFFIX)
    draft = target.with_suffix(".draft")
    try:
        draft.write_text(text, encoding="utf-8")
        draft.replace(target)
    except OSError:
        return


def felt_before(job: Path) -> tuple[Felt, ...]:
    """What the arrow keys taught of that job's adjusters, empty where nothing sound is kept."""
    try:
        kept = json.loads(job.with_suffix(SUFFIX).read_text(encoding="utf-8"))
        return msgspec.convert(kept["felt"], tuple[Felt, ...])
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def left_positions(job: Path) -> dict[str, float]:
    """How the virtual set of that job was left [turn], empty where nothing sound is kept."""
    try:
        kept = json.loads(job.with_suffix(SUFFIX).read_text(encoding="utf-8"))
        return msgspec.convert(kept["left"], dict[str, float])
    except (OSError, ValueError, KeyError, TypeError):
        return {}
