"""A virtual set: answers any ask as a person with instruments would, through the same door.

Asks and answers are plain dictionaries, exactly as the pipe prints and reads them. Behind them stands the physics of
`electrical`, a hand with play and stops, and instruments with noise. Nothing here knows what the tool believes.
"""

from collections.abc import Callable, Mapping
from typing import TypeAlias

import numpy as np

from aligner.procedure.model import CoverageStep, Meter, Procedure, TrackingStep
from aligner.rehearsal.bench import Bench
from aligner.rehearsal.electrical import Electrical
from aligner.rehearsal.hand import Hand
from aligner.rehearsal.instruments import Instruments, mistyped
from aligner.rehearsal.parts import Parts
from aligner.rehearsal.population import Population
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
        self.bench = Bench(procedure, Electrical(parts), self.hand, instruments)
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
        given = {"id": ask["id"], **_KINDS[str(ask["ask"])](self, ask)}
        typed = self._typed(given)
        self._mistaken = typed != given
        self._last = (ask["id"], given)
        return typed

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
        reading = self.bench.reading(quantity, str(ask.get("circuit", "")))
        return quantity, float("nan") if reading is None else reading

    def _prepare(self, ask: Ask) -> None:
        self.bench.begin(_band(self.procedure, str(ask.get("step", ""))))
        point, generator = ask.get("point"), ask.get("generator")
        self.bench.generator_hz = float(generator["hz"]) if isinstance(generator, Mapping) else None
        if isinstance(point, Mapping):
            self.bench.tune(point)

    def _again(self, ask: Ask, given: Answer) -> Answer:
        """Look once more; what was read rightly the first time is insisted on."""
        self._prepare(ask)
        again = dict(given)
        if ask["ask"] == "read" and "reading" in given:
            again.update(_read(self, ask))
        if not self._mistaken and "done" not in again and "cannot" not in again:
            again["insist"] = True
        self._mistaken = False
        return again

    def _typed(self, given: Answer) -> Answer:
        reading = given.get("reading")
        if not isinstance(reading, float) or self._rng.uniform() >= self._blunders:
            return given
        return {**given, "reading": mistyped(reading, self._rng)}

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


def _confirm(_set: VirtualSet, _ask: Ask) -> Answer:
    return {"done": True}


def _read(virtual: VirtualSet, ask: Ask) -> Answer:
    virtual.bench.wait(virtual.population.fixed.time.read_s)
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
    low, high = ask["from"], ask["to"]
    count = ask.get("count", 21)
    assert isinstance(low, float | int) and isinstance(high, float | int)  # noqa: S101, PT018 - the pipe's own form
    assert isinstance(count, int)  # noqa: S101 - the pipe's own form
    rows = np.linspace(float(low), float(high), min(max(count, 3), 401))
    return {"points": [[float(hz), virtual.bench.swept(float(hz), str(ask.get("circuit", "")))] for hz in rows]}


_KINDS: dict[str, Callable[[VirtualSet, Ask], Answer]] = {
    "confirm": _confirm,
    "read": _read,
    "touch": _touch,
    "peak": _peak,
    "wand": _wand,
    "sweep": _sweep,
}


def _band(procedure: Procedure, step_id: str) -> str:
    for step in procedure.steps:
        if step.id == step_id and isinstance(step, CoverageStep | TrackingStep):
            return step.band
    return ""
