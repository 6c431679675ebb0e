"""One virtual set led through a whole procedure by the real engine, and judged by the truth; and many of them.

Touches are counted here from the asks alone, independently of the engine's own count: one visit to one adjuster, with
no other adjuster or point between.
"""

import math
import multiprocessing
import os
import signal
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from aligner import __version__
from aligner.engine.answers import Cannot, SwitchWay
from aligner.engine.asks import Ask, Read, Sweep, Turning, Wand
from aligner.engine.history import History
from aligner.engine.run import entry_for, survey
from aligner.engine.stated import stated
from aligner.engine.survey import Survey
from aligner.procedure.model import CoverageStep, DetectorStep, IfPeakStep, IfSweepStep, Procedure, TrackingStep, Way
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.draw import draw
from aligner.rehearsal.paper_way import PaperWay
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.stated_truth import StatedTruth
from aligner.rehearsal.strip_truth import StripTruth
from aligner.rehearsal.truth import Judged, Truth

_SURE = 1.96  # standard errors of a 95 % interval
_TOLD = 3.0  # an unknown counts as told when its standard error is so many times smaller than before any reading
MOST_ASKS = 300  # ten times what the longest procedure of ours needs: beyond it nothing will come of it


@dataclass(frozen=True, slots=True)
class Plan:
    """What to rehearse. spreads: factor on all spreads of the population; blunders: share of typed readings."""

    procedure: Path
    population: Path
    sets: int
    seed: int
    by: Way | None = None
    spreads: float = 1.0
    blunders: float = 0.0


@dataclass(frozen=True, slots=True)
class StepEnd:
    """How one step ended, and how it truly is."""

    state: str
    judged: Judged
    said: float | None
    plus_minus: float | None

    @property
    def right(self) -> bool:
        """Held and truly within tolerance, or at limit where the hardware cannot."""
        return self.judged.aligned if self.state == "held" else self.state == "at-limit" and not self.judged.can

    @property
    def covered(self) -> bool | None:
        """Whether the 95 % interval of what was said holds the truth; None where nothing was said."""
        if self.said is None or not self.plus_minus:
            return None
        shown = self.judged.error if self.judged.shown is None else abs(self.judged.shown)
        return abs(abs(self.said) - shown) <= self.plus_minus


@dataclass(frozen=True, slots=True)
class Interval:
    """A value that was stated at the end, and how many standard errors the truth is away from it."""

    step: str
    about: str
    off: float

    @property
    def holds(self) -> bool:
        """Whether the 95 % interval holds the truth."""
        return abs(self.off) <= _SURE


@dataclass(slots=True)
class SetEnd:
    """One set, after its job."""

    index: int
    finished: bool = False
    claimed: bool = False
    steps: dict[str, StepEnd] = field(default_factory=dict)
    intervals: tuple[Interval, ...] = ()
    touches: dict[str, int] = field(default_factory=dict)
    readings: dict[str, int] = field(default_factory=dict)
    engine_touches: int = 0
    engine_readings: int = 0
    ran_out: tuple[str, ...] = ()
    paper: dict[str, int] = field(default_factory=dict)
    paper_aligned: bool | None = None  # None: there is no such way, as of a strip
    slowest_s: float = 0.0
    failure: str = ""

    @property
    def aligned(self) -> bool:
        """Whether every step is truly within tolerance."""
        return bool(self.steps) and all(step.judged.aligned for step in self.steps.values())

    @property
    def right(self) -> bool:
        """Whether the job ended, and every step of it rightly."""
        return self.finished and bool(self.steps) and all(step.right for step in self.steps.values())


class Tally:
    """Touches and readings by circuit, counted from the asks as they are answered."""

    def __init__(self) -> None:
        self.touches: dict[str, int] = {}
        self.readings: dict[str, int] = {}
        self._visit: tuple[str, object] | None = None

    def count(self, ask: Ask, *, seen: bool = True) -> None:
        """One ask was answered and the answer taken; `seen` False: there was nothing to read, so no reading either."""
        if isinstance(ask, Turning):
            visit = (ask.adjuster, ask.point)
            if visit != self._visit:
                self.touches[ask.circuit] = self.touches.get(ask.circuit, 0) + 1
            self._visit = visit
        elif isinstance(ask, Read | Wand | Sweep):
            if self._visit is not None and ask.point != self._visit[1]:
                self._visit = None
            many = {Read: 1, Wand: 3}.get(type(ask), ask.count if isinstance(ask, Sweep) else 1)
            circuit = ask.circuit or "oscillator"
            self.readings[circuit] = self.readings.get(circuit, 0) + (many if seen else 0)


def lead(procedure: Procedure, virtual: VirtualSet, by: Way | None, end: SetEnd) -> History:
    """Lead one virtual set through the procedure; what was counted on the way is put into `end`."""
    history = History()
    tally = Tally()
    out: list[str] = []
    if by is not None:
        history = history.with_entry(entry_for(procedure, history, SwitchWay(by), 0.0, __version__))
    known = survey(procedure, history)
    for _ in range(MOST_ASKS):
        ask = known.ask
        if ask is None:
            end.finished = True
            break
        answer = answered(virtual.answer(asked(ask)))
        begun = time.perf_counter()
        entry = entry_for(procedure, history, answer, virtual.bench.at_s, __version__)
        history = history.with_entry(entry)
        known = survey(procedure, history)
        end.slowest_s = max(end.slowest_s, time.perf_counter() - begun)
        if not entry.doubt:
            tally.count(ask, seen=not isinstance(answer, Cannot))
            if isinstance(answer, Cannot) and answer.why == "end-of-travel" and isinstance(ask, Turning):
                out.append(ask.adjuster)
    end.touches, end.readings = tally.touches, tally.readings
    end.engine_touches, end.engine_readings = known.touches, known.readings
    end.claimed, end.ran_out = known.aligned, tuple(sorted(set(out)))
    return history


def hand_of(seed: int, index: int) -> int:
    """The seed of the hand and the instruments of a set, apart from that of its parts."""
    return seed * 1_000_003 + index


def rehearse_one(plan: Plan, index: int) -> SetEnd:
    """One set of the plan: by the engine, and by the paper way on the same parts."""
    procedure, population = _loaded(plan.procedure, plan.population, plan.spreads)
    parts = draw(procedure, population, plan.seed, index)
    hand = hand_of(plan.seed, index)
    end = SetEnd(index)
    virtual = VirtualSet(procedure, parts, population, hand, blunders=plan.blunders)
    try:
        history = lead(procedure, virtual, plan.by, end)
    except Exception:  # noqa: BLE001 - a worker's edge: one set that breaks the engine must not end the rehearsal
        end.failure = traceback.format_exc()
        return end
    end.steps = _judged(procedure, virtual, survey(procedure, history))
    end.intervals = tuple(_intervals(procedure, virtual, history))
    if procedure.bands:
        _by_paper(plan, end, VirtualSet(procedure, parts, population, hand))
    return end


def _by_paper(plan: Plan, end: SetEnd, paper: VirtualSet) -> None:
    """The same set aligned the paper way; of a strip there is no such way to compare with."""
    way = PaperWay(paper.procedure, paper, plan.by or "resonance")
    way.run()
    end.paper = way.touches
    truth = Truth(paper)
    steps = [step for step in paper.procedure.steps if isinstance(step, CoverageStep | TrackingStep)]
    end.paper_aligned = all(truth.aligned(step) for step in steps)


@lru_cache(maxsize=4)
def _loaded(procedure: Path, population: Path, spreads: float) -> tuple[Procedure, Population]:
    return read_procedure(procedure), read_population(population, spreads)


def _judged(procedure: Procedure, virtual: VirtualSet, known: Survey) -> dict[str, StepEnd]:
    reports = {report.id: report for report in known.steps}
    ends: dict[str, StepEnd] = {}
    truth = Truth(virtual)
    for step in procedure.steps:
        report = reports[step.id]
        said = report.error if _finite(report.error) else None
        about = report.plus_minus if _finite(report.plus_minus) else None
        if isinstance(step, CoverageStep | TrackingStep):
            ends[step.id] = StepEnd(report.state, truth.judge(step), said, about)
        elif isinstance(step, IfPeakStep | IfSweepStep | DetectorStep):
            # What is said of a zero is against the IF that was found, and no interval of the true one.
            about = about if isinstance(step, IfSweepStep) else None
            ends[step.id] = StepEnd(report.state, StripTruth(virtual).judge(step, said), said, about)
    return ends


def _intervals(procedure: Procedure, virtual: VirtualSet, history: History) -> Iterator[Interval]:
    """What was stated at the end, held against the truth; of unknowns only what readings have told."""
    truth = StatedTruth(virtual)
    for value in stated(procedure, history):
        true = truth.value(value.step, value.about, value.at_hz, value.adjuster)
        if true is not None and (value.about == "error" or value.told >= _TOLD):
            yield Interval(value.step, value.about, (value.value - true) / value.sd)


def _finite(value: float | None) -> bool:
    return value is not None and math.isfinite(value)


def rehearse(plan: Plan, tell: Callable[[int], None]) -> list[SetEnd]:
    """All sets of the plan, in order, on all cores; `tell` is told how many are done."""
    ends = []
    for end in _ends(plan):
        ends.append(end)
        tell(len(ends))
    return sorted(ends, key=lambda end: end.index)


def _ends(plan: Plan) -> Iterator[SetEnd]:
    workers = min(os.cpu_count() or 1, plan.sets)
    if workers == 1 or plan.sets < 4:
        yield from (rehearse_one(plan, index) for index in range(plan.sets))
        return
    # One thread each: matrices are small, and threads of one process would only wait for those of the others.
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, context, signal.signal, (signal.SIGINT, signal.SIG_IGN)) as pool:
        with deaf_to_interrupts():
            ends = pool.map(rehearse_one, [plan] * plan.sets, range(plan.sets))
        yield from ends


@contextmanager
def deaf_to_interrupts() -> Iterator[None]:
    """Processes begun meanwhile leave Ctrl-C to this one from their first moment, not only when they are at work."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
