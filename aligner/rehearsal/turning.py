"""Touches and peaks: a person turns one adjuster while watching one instrument, and stops a little off."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from aligner.rehearsal.bench import Bench
from aligner.rehearsal.electrical import crossing
from aligner.rehearsal.laws import Numbers
from aligner.rehearsal.parts import TunedCircuit

_GRID = 257
_SEEN_DB = 0.3  # a change of the level that nobody overlooks
_UNCOUNTED = ("spread", "slide")


@dataclass(frozen=True)
class Turned:
    """What came of it: the reading, net turns (clockwise positive), and why it went no further ("" where it did)."""

    reading: float | None
    turns: float
    cannot: str = ""


class Turning:
    """The person's ways of turning, on one bench."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def touch(self, ask: Mapping[str, object]) -> Turned:
        """Turn until the reading stands at the aim."""
        bench, name, aim = self._bench, str(ask["adjuster"]), ask["aim"]
        assert isinstance(aim, Mapping)  # noqa: S101 - the pipe's own form
        if bench.lost:
            return Turned(None, 0.0, "no-reading")
        begun, stood = bench.hand.clockwise(name), dict(bench.positions())
        circuit = bench.circuit(str(ask.get("circuit", "")))
        quantity, value, within = str(aim["quantity"]), float(aim["value"]), float(aim["within"])
        if quantity == "turns":
            whole = bench.hand.turn(name, value)
            bench.settle_presets(stood)
            return Turned(None, bench.hand.clockwise(name) - begun, "" if whole else "end-of-travel")
        if quantity == "level":
            reached = self._fall(name, value, self._inwards(circuit, name, str(ask.get("direction") or "")))
        elif quantity == "volts":
            reached = self._stage(name, circuit, value)
        else:
            inwards = self._inwards(circuit, name, str(ask.get("direction") or ""))
            reached = self._stop_at(name, self._watched(name, circuit, quantity), (value, within), inwards)
        bench.settle_presets(stood)
        reading = bench.reading(quantity, circuit.id)
        if reading is None:
            return Turned(None, bench.hand.clockwise(name) - begun, "no-reading")
        return Turned(reading, bench.hand.clockwise(name) - begun, "" if reached else "end-of-travel")

    def peak(self, ask: Mapping[str, object]) -> Turned:
        """Turn to the most signal (or to the least or zero, where that is asked for)."""
        bench, name = self._bench, str(ask["adjuster"])
        if bench.lost:
            return Turned(None, 0.0, "no-reading")
        begun = bench.hand.clockwise(name)
        circuit = bench.circuit(str(ask.get("circuit", "")))
        hz = bench.generator_hz or bench.received_hz()
        low, high = bench.hand.reach(name)
        best = np.max(bench.level_db(bench.with_screw(name, np.linspace(low, high, 65))))
        if not ask.get("rock") and not bench.useful(float(best)):
            return Turned(None, 0.0, "no-reading")
        aim = hz + bench.peak_error_hz(circuit, hz, fine=bool(ask.get("fine")))
        if circuit.role == "oscillator":
            reached = self._rocked(name, hz) if ask.get("rock") else self._beat(name, hz)
        else:
            reached = self._left_at(name, lambda places: bench.resonance(circuit, bench.with_screw(name, places)), aim)
        reading = bench.reading(str(ask.get("quantity") or "level"), circuit.id)
        return Turned(reading, bench.hand.clockwise(name) - begun, "" if reached else "end-of-travel")

    # Where to stop

    def _watched(self, name: str, circuit: TunedCircuit, quantity: str) -> Callable[[Numbers], Numbers]:
        bench = self._bench
        if quantity == "resonance":
            return lambda places: bench.resonance(circuit, bench.with_screw(name, places))
        shows = bench.instruments
        displayed_per_hz = shows.displayed(1.0) - shows.displayed(0.0)
        offset = shows.displayed(0.0)
        return lambda places: bench.oscillator_hz(bench.with_screw(name, places)) * displayed_per_hz + offset

    def _stop_at(
        self, name: str, watched: Callable[[Numbers], Numbers], aim: tuple[float, float], inwards: int
    ) -> bool:
        """Stop at an aim (value, half width), a little off; a hand that is too far off for the width tries again."""
        bench, (value, within) = self._bench, aim
        spread = bench.instruments.population.spread.hand
        sd = (spread.stop_uncounted if self._coarse(name) else spread.stop) * abs(value)
        off = 0.0
        for _ in range(bench.instruments.population.fixed.hand.tries):
            off = bench.instruments.normal(sd)
            if abs(off) <= within:
                break
        return self._left_at(name, watched, value + off, inwards)

    def _coarse(self, name: str) -> bool:
        circuits = self._bench.electrical.parts.circuits
        return any(row.coil.screw == name and row.coil.law in _UNCOUNTED for row in circuits)

    def _left_at(self, name: str, watched: Callable[[Numbers], Numbers], value: float, inwards: int = 0) -> bool:
        """Turn to where it reads `value`; where it never does, to where it comes nearest, and say so."""
        bench = self._bench
        low, high = bench.hand.reach(name)
        at = crossing(watched, low, high, value, bench.hand.at[name], points=_GRID, sense=inwards)
        if at is not None:
            bench.hand.move_to(name, at)
            return True
        grid = np.linspace(low, high, _GRID)
        bench.hand.move_to(name, float(grid[np.argmin(np.abs(np.asarray(watched(grid)) - value))]))
        return False

    def _inwards(self, circuit: TunedCircuit, name: str, direction: str) -> int:
        """The sense of the screw for "more" or "less" of its own quantity, as far as a person would see it at once.

        A rotor that goes round and round shows by its plates which way they come further into mesh.
        """
        if not direction:
            return 0
        if any(row.screw == name and row.law == "rotary" for row in circuit.trimmers):
            meshing = 1 if math.sin(2 * math.pi * self._bench.hand.at[name]) >= 0 else -1
            return meshing if direction == "more" else -meshing
        less_inwards = circuit.coil.screw == name and (circuit.coil.law in _UNCOUNTED or circuit.coil.reach < 0)
        return -1 if (direction == "more") == less_inwards else 1

    def _fall(self, name: str, shown: float, inwards: int) -> bool:
        """On past the peak until the level has fallen to what is to be shown."""
        bench = self._bench
        shows = bench.instruments
        value = shows.true_level(shown) - bench.electrical.parts.gain_db
        value += shows.normal(shows.population.spread.meter.stop_db)
        low, high = bench.hand.reach(name)
        at = bench.hand.at[name]

        def level(places: Numbers) -> Numbers:
            return bench.level_db(bench.with_screw(name, places))

        sense = inwards or bench.hand.sense.get(name, 0) or self._rising(level, at)
        grid = np.linspace(at, high if sense > 0 else low, _GRID)
        stopped, last = _watched_fall(np.asarray(level(grid)), value)
        if not stopped:
            bench.hand.move_to(name, float(grid[last]))
            return False
        if last == 0:
            return True
        left, right = sorted((float(grid[last - 1]), float(grid[last])))
        found = crossing(level, left, right, value, right, points=9)
        bench.hand.move_to(name, float(grid[last]) if found is None else found)
        return True

    def _rising(self, level: Callable[[Numbers], Numbers], at: float) -> int:
        return 1 if float(level(at + 1e-3)) >= float(level(at - 1e-3)) else -1

    def _stage(self, name: str, circuit: TunedCircuit, volts: float) -> bool:
        """With the stage's own tuning held at so many volts, turn to the peak on the generator."""
        bench = self._bench
        hz = bench.generator_hz or bench.received_hz()
        aim = hz + bench.peak_error_hz(circuit, hz, fine=False)
        return self._left_at(
            name, lambda places: bench.electrical.resonance(circuit, volts, bench.with_screw(name, places)), aim
        )

    def _beat(self, name: str, hz: float) -> bool:
        """The oscillator's screw to the most signal: one IF from the generator, as well as a flat top tells."""
        bench, parts = self._bench, self._bench.electrical.parts
        width = bench.instruments.population.fixed.meter.intermediate_width * parts.intermediate
        aim = hz + parts.side * parts.intermediate + bench.instruments.normal(width / 10)
        return self._left_at(name, lambda places: bench.oscillator_hz(bench.with_screw(name, places)), aim)

    def _rocked(self, name: str, hz: float) -> bool:
        """The oscillator's screw and the gang together to the most signal: where the signal circuits resonate."""
        bench, circuits, places = self._bench, self._bench.electrical, self._bench.positions()
        grid = np.linspace(*circuits.parts.tuning, 2049)
        best = float(grid[np.argmax(circuits.signal_db(grid, places, hz))])
        if circuits.signals:
            first = circuits.signals[0]
            aim = float(circuits.resonance(first, best, places)) + bench.peak_error_hz(first, hz, fine=False)
            found = crossing(lambda x: circuits.resonance(first, x, places), *circuits.parts.tuning, aim, best)
            best = best if found is None else found
        bench.tuning = best
        return self._beat(name, hz)


def _watched_fall(levels: npt.NDArray[np.float64], value: float) -> tuple[bool, int]:
    """Where a hand stops that waits for the level to fall to `value` past the peak, and whether it got there.

    A level that rises again before it has fallen so far tells that the screw went through the extreme of its effect:
    then the hand goes back to there, for further on everything only comes once more.
    """
    top, lowest, above = float(levels[0]), 0, bool(levels[0] > value)
    for n, level in enumerate(levels.tolist()):
        if above and level <= value:
            return True, n
        above = above or level > value
        if level > top:
            top, lowest = level, n
        elif level < levels[lowest]:
            lowest = n
        elif top - levels[lowest] > _SEEN_DB and level - levels[lowest] > _SEEN_DB:
            return False, lowest
    return False, len(levels) - 1
