"""A virtual set: answers any ask as a person with instruments would, through the same door.

Asks and answers are plain dictionaries, exactly as the pipe prints and reads them. Behind them stands the physics of
`electrical`, a hand with play and stops, and instruments with noise. Nothing here knows what the tool believes.
"""

from collections.abc import Callable, Mapping
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from aligner.procedure.model import Meter, Procedure, SealStep, Step, WarmUpStep
from aligner.rehearsal.bench import Bench
from aligner.rehearsal.electrical import Electrical
from aligner.rehearsal.hand import Hand
from aligner.rehearsal.instruments import Instruments, mistyped
from aligner.rehearsal.parts import Parts
from aligner.rehearsal.population import Population
from aligner.rehearsal.strip import StripElectrical
from aligner.rehearsal.strip_bench import StripBench
from aligner.rehearsal.turning import Turned, Turning

Ask: TypeAlias = Mapping[str, object]
Answer: TypeAlias = dict[str, object]


class VirtualSet:
    """One set on the bench. `blunders` is the share of typed readings that are wrong."""

    def __init__(
        self, procedure: Procedure, parts: Parts, population: Population, seed: int, *, blunders: float = 0.0
    ) -> None:
        self.procedure = procedure
        self.parts = parts
        self.population = population
        self._rng = np.random.default_rng((seed, 7919))
        meter = procedure.meter or Meter()
        instruments = Instruments(
            procedure.counter, meter, procedure.intermediate_hz, parts.side, population, self._rng
        )
        self.hand = Hand({screw.id: screw for screw in parts.screws})
        strip = StripElectrical(parts.strip) if parts.strip else None
        self.bench = Bench(procedure, Electrical(parts), self.hand, instruments, strip=strip)
        self.behind = StripBench(self.bench, strip) if strip else None
        self.turning = Turning(self.bench)
        self._blunders = blunders
        self._last: tuple[object, Answer] | None = None
        self._mistaken = False
        self._shown: dict[str, float] = {}

    def positions(self) -> dict[str, float]:
        """Where every adjuster stands [turn inwards]."""
        return dict(self.hand.at)

    def answer(self, ask: Ask) -> Answer:
        """The answer to an ask; the same ask again (it was doubted) is looked at once more and answered rightly."""
        if self._last is not None and self._last[0] == ask["id"]:
            return self._again(ask, self._last[1])
        self._prepare(ask)
        given = {"id": ask["id"], **self._given(ask)}
        typed = self._typed(given)
        self._mistaken = typed != given
        self._last = (ask["id"], given)
        return typed

    def _given(self, ask: Ask) -> Answer:
        step, kind = self.step(ask), str(ask["ask"])
        behind = self.behind if self.behind is not None and self.behind.works(step) else None
        return _KINDS[kind](self, ask) if behind is None else _BEHIND[kind](self, behind, ask)

    def step(self, ask: Ask) -> Step | None:
        """The step that an ask belongs to."""
        return next((step for step in self.procedure.steps if step.id == ask.get("step")), None)

    def turn(self, adjuster: str, turns: float) -> bool:
        """Turn one adjuster by hand, clockwise positive; False at its stop."""
        return self.hand.turn(adjuster, turns)

    def display(self, ask: Ask) -> tuple[str, float]:
        """What the instrument of an ask shows now: (quantity, value), live, while somebody turns."""
        self._prepare(ask)
        aim = ask.get("aim")
        quantity = str(aim["quantity"] if isinstance(aim, Mapping) else ask.get("quantity", "frequency"))
        if quantity == "turns":
            adjuster = str(ask["adjuster"])
            begun = self._shown.setdefault(str(ask["id"]), self.hand.clockwise(adjuster))
            return "turns", self.hand.clockwise(adjuster) - begun
        step = self.step(ask)
        if self.behind is not None and self.behind.works(step):
            reading = self.behind.reading(step, quantity, stabilised=ask.get("find") == "max" and self.behind.has_ratio)
        else:
            reading = self.bench.reading(quantity, str(ask.get("circuit", "")))
        return quantity, float("nan") if reading is None else reading

    def _prepare(self, ask: Ask) -> None:
        self.bench.begin(str(getattr(self.step(ask), "band", "")))
        self.bench.settle_strip()
        point, generator = ask.get("point"), ask.get("generator")
        self.bench.generator_hz = float(generator["hz"]) if isinstance(generator, Mapping) else None
        if isinstance(point, Mapping) and self.bench.electrical.parts.circuits:
            self.bench.tune(point)

    def _again(self, ask: Ask, given: Answer) -> Answer:
        """Look once more; what was read rightly the first time is insisted on."""
        self._prepare(ask)
        again = dict(given)
        if ask["ask"] == "read" and "reading" in given:
            again = {"id": ask["id"], **self._given(ask)}
        if not self._mistaken and "done" not in again and "cannot" not in again:
            again["insist"] = True
        self._mistaken = False
        return again

    def _typed(self, given: Answer) -> Answer:
        reading = given.get("reading")
        if not isinstance(reading, float) or self._rng.uniform() >= self._blunders:
            return given
        return {**given, "reading": mistyped(reading, self._rng)}

    def locked(self, step: SealStep, text: str) -> None:
        """Lock what the text names; wax and lacquer move a screw a little as they set."""
        locks = [lock for lock in step.locks if f"Lock {' and '.join(lock.adjusters)}:" in text]
        sd = self.population.spread.strip.lock
        for name in locks[0].adjusters if locks else ():
            screw = self.hand.screws[name]
            self.hand.move_to(name, self.hand.at[name] + self.bench.instruments.normal(sd) * screw.travel)

    def touched(self, ask: Ask, turned: Turned) -> Answer:
        """The answer after a touch or peak: the reading, net turns where they can be counted, or what stopped it."""
        answer: Answer = {}
        if turned.cannot:
            answer["cannot"] = turned.cannot
        if turned.reading is not None:
            answer["reading"] = turned.reading
        screw = self.parts.screw(str(ask["adjuster"]))
        if screw.counted and turned.cannot != "no-reading":
            answer["turns"] = self.bench.instruments.turns(turned.turns)
        aim = ask.get("aim")
        if isinstance(aim, Mapping) and aim["quantity"] == "turns":
            return {**answer, "reading": answer["turns"]} if screw.counted else {"cannot": "no-reading"}
        return answer


def _confirm(virtual: VirtualSet, ask: Ask) -> Answer:
    step = virtual.step(ask)
    if isinstance(step, SealStep):
        virtual.locked(step, str(ask.get("text", "")))
    return {"done": True}


def _read(virtual: VirtualSet, ask: Ask) -> Answer:
    step = virtual.step(ask)
    pause = step.every_s if isinstance(step, WarmUpStep) else 0.0
    virtual.bench.wait(max(pause, virtual.population.fixed.time.read_s))
    reading = virtual.bench.reading(str(ask["quantity"]), str(ask.get("circuit", "")))
    return {"cannot": "no-reading"} if reading is None else {"reading": reading}


def _touch(virtual: VirtualSet, ask: Ask) -> Answer:
    virtual.bench.wait(virtual.population.fixed.time.touch_s)
    return virtual.touched(ask, virtual.turning.touch(ask))


def _peak(virtual: VirtualSet, ask: Ask) -> Answer:
    virtual.bench.wait(virtual.population.fixed.time.peak_s)
    return virtual.touched(ask, virtual.turning.peak(ask))


def _wand(virtual: VirtualSet, ask: Ask) -> Answer:
    virtual.bench.wait(virtual.population.fixed.time.peak_s)
    levels = virtual.bench.wand(str(ask["circuit"]))
    if levels is None:
        return {"cannot": "no-reading"}
    none, ferrite, brass = levels
    if virtual.bench.instruments.meter.law != "unknown":
        return {"none": none, "ferrite": ferrite, "brass": brass}
    return {"ferrite": _trend(ferrite - none, virtual), "brass": _trend(brass - none, virtual)}


def _trend(change_db: float, virtual: VirtualSet) -> str:
    meter = virtual.bench.instruments.meter
    upright = change_db if meter.more_signal == "up" else -change_db
    if abs(upright) <= meter.resolution_db / 2:
        return "same"
    return "up" if upright > 0 else "down"


def _sweep(virtual: VirtualSet, ask: Ask) -> Answer:
    virtual.bench.wait(virtual.population.fixed.time.peak_s)
    circuit = str(ask.get("circuit", ""))
    return {"points": [[float(hz), virtual.bench.swept(float(hz), circuit)] for hz in _swept_at(ask)]}


def _swept_at(ask: Ask) -> npt.NDArray[np.float64]:
    low, high, count = (float(str(ask.get(key, 21))) for key in ("from", "to", "count"))
    return np.linspace(low, high, min(max(int(count), 3), 401))


_KINDS: dict[str, Callable[[VirtualSet, Ask], Answer]] = {
    "confirm": _confirm,
    "read": _read,
    "touch": _touch,
    "peak": _peak,
    "wand": _wand,
    "sweep": _sweep,
}


def _confirm_behind(virtual: VirtualSet, behind: StripBench, ask: Ask) -> Answer:
    behind.confirmed(virtual.step(ask), str(ask.get("text", "")))
    return _confirm(virtual, ask)


def _read_behind(virtual: VirtualSet, behind: StripBench, ask: Ask) -> Answer:
    virtual.bench.wait(virtual.population.fixed.time.read_s)
    reading = behind.reading(virtual.step(ask), str(ask["quantity"]))
    return {"cannot": "no-reading"} if reading is None else {"reading": reading}


def _touch_behind(virtual: VirtualSet, behind: StripBench, ask: Ask) -> Answer:
    virtual.bench.wait(virtual.population.fixed.time.touch_s)
    return virtual.touched(ask, behind.touch(virtual.step(ask), ask))


def _peak_behind(virtual: VirtualSet, behind: StripBench, ask: Ask) -> Answer:
    virtual.bench.wait(virtual.population.fixed.time.peak_s)
    return virtual.touched(ask, behind.peak(virtual.step(ask), ask))


def _sweep_behind(virtual: VirtualSet, behind: StripBench, ask: Ask) -> Answer:
    rows = _swept_at(ask)
    virtual.bench.wait(virtual.population.fixed.time.read_s * len(rows))
    return {"points": behind.swept(virtual.step(ask), str(ask["quantity"]), rows)}


def _cannot_behind(_virtual: VirtualSet, _behind: StripBench, _ask: Ask) -> Answer:
    return {"cannot": "no-reading"}


_BEHIND: dict[str, Callable[[VirtualSet, StripBench, Ask], Answer]] = {
    "confirm": _confirm_behind,
    "read": _read_behind,
    "touch": _touch_behind,
    "peak": _peak_behind,
    "wand": _cannot_behind,
    "sweep": _sweep_behind,
}
