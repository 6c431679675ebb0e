"""A job that asks what a test has written down, and a source that shows what a test says; nothing is computed."""

from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from aligner.engine.answers import Answer, Reading, Remark
from aligner.engine.asks import Aim, Amount, Ask, Confirm, Peak, Point, Read, Touch
from aligner.engine.capture import Sample
from aligner.engine.history import Entry, History
from aligner.engine.survey import StepReport, Survey
from aligner.job import Job
from aligner.procedure.library import find
from aligner.procedure.model import Procedure
from aligner.procedure.reader import read_procedure
from aligner.readings.source import Live
from aligner.screens.desk import Desk
from aligner.screens.guide import Guide
from aligner.screens.opening import Opening
from aligner.screens.sources import Choice, Plugged

CONFIRM = Confirm(id=1, step="connect", text="The counter is coupled loosely.", why="1 of 1 things to see to.")
CAUTION = Confirm(id=1, step="connect", text="The oscillator can radiate.", hazard=True)
READ = Read(
    id=2, step="coverage", text="Set 2 V and read the counter.", quantity="frequency", circuit="oscillator",
    point=Point(volts=2.0),
)  # fmt: skip
TOUCH = Touch(
    id=3, step="coverage", text="Turn oscillator-coil until the counter shows 385.62 kHz.",
    why="It stands 5.155 MHz too high; the trimmer will take it the rest of the way.",
    adjuster="oscillator-coil", circuit="oscillator", point=Point(volts=2.0),
    aim=Aim("frequency", 385_620.0, 20.0), direction="more",
)  # fmt: skip
CORE = Touch(
    id=4, step="antenna", text="Turn antenna-coil past the peak.", adjuster="antenna-coil", circuit="antenna",
    point=Point(received=91.1e6), aim=Aim("level", -6.0, 0.3), direction="less", amount=Amount(0.75, "turn", 0.125),
)  # fmt: skip
PEAK = Peak(
    id=5, step="antenna", text="Peak antenna-coil.", adjuster="antenna-coil", circuit="antenna",
    point=Point(received=91.1e6),
)  # fmt: skip

COUNTER = frozenset({"frequency"})
"""What a counter on a port reads."""


@dataclass
class ScriptedEngine:
    """Asks in their order; an answer beyond `doubts_from` is questioned once."""

    asks: tuple[Ask, ...]
    doubts_from: float = float("inf")

    def survey(self, procedure: Procedure, history: History, /) -> Survey:
        """As many asks are gone as answers were taken."""
        taken = [row for row in history.live() if not row.doubt and not isinstance(row.answer, Remark)]
        ask = self.asks[len(taken)] if len(taken) < len(self.asks) else None
        doubt = history.entries[-1].doubt if history.entries else ""
        steps = tuple(
            StepReport(row.id, row.kind, row.title, "held" if ask is None else "to-do") for row in procedure.steps
        )
        return Survey(ask, steps, doubt, ask.step if ask else "", aligned=ask is None, touches=1, readings=len(taken))

    def entry_for(self, procedure: Procedure, history: History, answer: Answer, at_s: float, version: str, /) -> Entry:
        """Every answer fits."""
        ask = self.survey(procedure, history).ask
        odd = isinstance(answer, Reading) and answer.value > self.doubts_from and not answer.insist
        doubt = "that is far from what was expected" if odd else ""
        return Entry(len(history.entries) + 1, at_s, version, ask, answer, doubt)


@dataclass
class ShownSource:
    """A source that shows what `show` was told."""

    samples: list[Sample] = field(default_factory=list)
    message: str = ""
    connected: bool = True
    running: bool = False

    def start(self) -> None:
        """Begin."""
        self.running = True

    def stop(self) -> None:
        """End."""
        self.running = False

    def show(self, *values: float, since_s: float = 1e9, every_s: float = 0.25) -> None:
        """Show these from then on, as if they came one after the other."""
        first = self.samples[-1].at_s + every_s if self.samples else since_s
        self.samples += [Sample(first + at * every_s, value, f"{value:g}") for at, value in enumerate(values)]

    def latest(self) -> Live | None:
        """How it stands."""
        newest = self.samples[-1] if self.samples else None
        value = newest.value if newest else None
        at_s = newest.at_s if newest else 1e9
        return Live(value, "", at_s, 4.0, stable=True, connected=self.connected, message=self.message)

    def window(self) -> tuple[Sample, ...]:
        """What was shown."""
        return tuple(self.samples)


def procedure() -> Procedure:
    """The shipped FM procedure, as ground for any ask."""
    return read_procedure(find("fm-varactor"))


def desk_with(ask: Ask, *, serves: frozenset[str] = frozenset(), turnable: bool = False) -> Desk:
    """A desk in front of that ask."""
    desk = Desk(procedure(), serves, turnable)
    desk.tell(History(), ScriptedEngine((ask,)).survey(desk.procedure, History()))
    return desk


def told(desk: Desk, *answers: Answer, asks: tuple[Ask, ...], doubts_from: float = float("inf")) -> None:
    """Tell the desk of a history with those answers."""
    engine, history = ScriptedEngine(asks, doubts_from), History()
    for answer in answers:
        history = history.with_entry(engine.entry_for(desk.procedure, history, answer, 1.0, "0"))
    desk.tell(history, engine.survey(desk.procedure, history))


def guide(
    folder: Path, asks: tuple[Ask, ...], source: ShownSource | None = None, *, doubts_from: float = float("inf")
) -> Guide:
    """A guide over a new job that asks those."""
    engine = ScriptedEngine(asks, doubts_from)
    choice = Choice("serial", "/dev/counter") if source is not None else Choice()

    def job() -> Job:
        return Job.create(procedure(), "a set", folder, engine=engine)

    return Guide(Opening(job, lambda _: Plugged(choice, source), fresh=True))


def pipe_shaped(ask: Ask) -> dict[str, object]:
    """The ask as the pipe prints it."""
    shaped: dict[str, object] = msgspec.to_builtins(ask)
    return shaped
