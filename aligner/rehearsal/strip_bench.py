"""The bench behind the mixer: the generator on the IF, levels and the detector's voltage, cans and zeros."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from aligner.procedure.model import DetectorStep, IfPeakStep, IfSweepStep, Step, TrapStep
from aligner.rehearsal.bench import Bench
from aligner.rehearsal.electrical import crossing
from aligner.rehearsal.laws import Numbers
from aligner.rehearsal.parts import Winding
from aligner.rehearsal.strip import StripElectrical, resonance_of
from aligner.rehearsal.turning import Turned

KINDS = (IfPeakStep, IfSweepStep, DetectorStep, TrapStep)
_GRID = 513
_ALIKE_DB = 1.0  # two peaks of one core so near in height: a person who was told to takes the outer one


@dataclass
class StripBench:
    """The strip of a set on its bench."""

    bench: Bench
    electrical: StripElectrical

    def works(self, step: Step | None) -> bool:
        """Whether a step's asks are answered here."""
        return isinstance(step, KINDS) or not self.bench.electrical.parts.circuits

    @property
    def has_ratio(self) -> bool:
        """Whether the detector has a stabilised voltage."""
        detector = self.electrical.strip.detector
        return detector is not None and detector.form == "ratio"

    # Readings

    def reading(self, step: Step | None, quantity: str, *, stabilised: bool = False) -> float | None:
        """What the instrument shows with the generator where it stands; None where there is nothing to read."""
        hz = self.bench.generator_hz or self.electrical.strip.nominal
        if quantity == "volts":
            return self._volts_shown(self._volts(hz, self.bench.positions(), stabilised=stabilised))
        if quantity == "level":
            return self.bench.level_reading(float(self._level(step, hz, self.bench.positions())))
        return None

    def _level(self, step: Step | None, hz: Numbers, positions: Mapping[str, Numbers]) -> Numbers:
        level = self.electrical.level_db(hz, positions)
        if not isinstance(step, TrapStep):
            return level
        near = abs(step.hz / self.electrical.strip.nominal - 1) < 0.2  # else a whistle, behind the detector
        level = level - self.electrical.strip.through if near else 0.0 * level
        for trap in self.electrical.strip.traps:
            if trap.id == step.circuit:
                level = level + self.electrical.trap_db(trap, hz, positions)
        return level

    def _volts(self, hz: Numbers, positions: Mapping[str, Numbers], *, stabilised: bool = False) -> Numbers:
        if self.electrical.strip.detector is None:
            return 0.0 * hz
        return self.electrical.detector_volts(hz, positions)[int(stabilised)]

    def _volts_shown(self, volts: Numbers) -> float:
        detector = self.electrical.strip.detector
        shows = self.bench.instruments
        height = abs(detector.height) if detector else 0.0
        return shows.volts(float(volts) + height * shows.normal(shows.population.spread.strip.volts))

    def swept(self, step: Step | None, quantity: str, rows: npt.NDArray[np.float64]) -> list[list[float]]:
        """One reading at each frequency; a level in the noise is read as the noise."""
        positions = self.bench.positions()
        if quantity == "volts":
            return [[float(hz), self._volts_shown(self._volts(float(hz), positions))] for hz in rows]
        gain = self.bench.electrical.parts.gain_db
        shows = self.bench.instruments
        return [[float(hz), shows.level(gain + float(self._level(step, float(hz), positions)))] for hz in rows]

    # Turning

    def peak(self, step: Step | None, ask: Mapping[str, object]) -> Turned:
        """Turn to the most, the least, or through zero, and leave it about there."""
        name, find = str(ask["adjuster"]), str(ask["find"])
        quantity = str(ask.get("quantity") or "level")
        hz = self.bench.generator_hz or self.electrical.strip.nominal
        begun = self.bench.hand.clockwise(name)
        # A ratio detector's primary is peaked on its electrolytic; any other's on the output.
        stabilised = find == "max" and self.has_ratio

        def seen(places: Numbers) -> Numbers:
            at = self.bench.with_screw(name, places)
            return self._volts(hz, at, stabilised=stabilised) if quantity == "volts" else self._level(step, hz, at)

        alike = _ALIKE_DB if quantity == "level" else 0.0
        most = (name, seen, -1 if find == "min" else 1, alike)
        place = self._zero(name, seen) if find == "null" else self._most(*most)
        if place is not None:
            spread = self.bench.instruments.population.spread
            sd = spread.strip.null * hz if find == "null" else self._peak_sd_hz(name, hz, fine=bool(ask.get("fine")))
            self._leave(name, place, self.bench.instruments.normal(sd) / hz)
        else:
            self._leave_at_end(name, seen, find)
        reading = self.reading(step, quantity, stabilised=stabilised)
        if reading is None:
            return Turned(None, self.bench.hand.clockwise(name) - begun, "no-reading")
        return Turned(reading, self.bench.hand.clockwise(name) - begun, "" if place is not None else "end-of-travel")

    def touch(self, step: Step | None, ask: Mapping[str, object]) -> Turned:
        """Turn until the meter shows what is aimed at."""
        name, aim = str(ask["adjuster"]), ask["aim"]
        assert isinstance(aim, Mapping)  # noqa: S101 - the pipe's own form
        quantity, value = str(aim["quantity"]), float(aim["value"])
        hz = self.bench.generator_hz or self.electrical.strip.nominal
        begun = self.bench.hand.clockwise(name)
        value += self.bench.instruments.normal(float(aim["within"]) / 3)

        def seen(places: Numbers) -> Numbers:
            at = self.bench.with_screw(name, places)
            return self._volts(hz, at) if quantity == "volts" else self._level(step, hz, at)

        low, high = self.bench.hand.reach(name)
        sense = self._inwards(name, str(ask.get("direction") or ""))
        found = crossing(seen, low, high, value, self.bench.hand.at[name], points=_GRID, sense=sense)
        if found is None:
            grid = np.linspace(low, high, _GRID)
            self.bench.hand.move_to(name, float(grid[np.argmin(np.abs(np.asarray(seen(grid)) - value))]))
        else:
            self.bench.hand.move_to(name, found)
        why = "" if found is not None else "end-of-travel"
        return Turned(self.reading(step, quantity), self.bench.hand.clockwise(name) - begun, why)

    def _inwards(self, name: str, direction: str) -> int:
        """The sense of the screw for more or less of its own quantity."""
        if not direction:
            return 0
        less_inwards = self._winding(name).coil.screw == name and self._winding(name).coil.reach < 0
        return -1 if (direction == "more") == less_inwards else 1

    def _zero(self, name: str, seen: Callable[[Numbers], Numbers]) -> float | None:
        low, high = self.bench.hand.reach(name)
        return crossing(seen, low, high, 0.0, self.bench.hand.at[name], points=_GRID)

    def _most(self, name: str, seen: Callable[[Numbers], Numbers], way: int, alike: float) -> float | None:
        """The outermost of the best peaks inside the travel; None where it rises towards an end."""
        low, high = self.bench.hand.reach(name)
        grid = np.linspace(low, high, _GRID)
        values = way * np.asarray(seen(grid))
        (tops,) = np.nonzero((values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:]))
        if not tops.size or values[tops + 1].max() < max(values[0], values[-1]):
            return None
        best = tops[values[tops + 1] > values[tops + 1].max() - alike - 1e-9] + 1
        at = int(best[0])
        left, top, right = values[at - 1 : at + 2]
        return float(grid[at] + (grid[1] - grid[0]) * (left - right) / (2 * (left - 2 * top + right)))

    def _winding(self, name: str) -> Winding:
        return self.electrical.windings()[name]

    def _peak_sd_hz(self, name: str, hz: float, *, fine: bool) -> float:
        spread = self.bench.instruments.population.spread.hand
        sd = spread.peak_fine_hz if fine else spread.peak_plain_hz
        return sd * (hz / 98e6) * (60 / self._winding(name).coil.quality)

    def _leave(self, name: str, place: float, off: float) -> None:
        """Leave a screw where its winding's resonance is off by a share from what it is at a place."""
        winding = self._winding(name)
        wanted = float(resonance_of(winding, {**self.bench.positions(), name: place})) * (1 + off)
        low, high = self.bench.hand.reach(name)

        def own(places: Numbers) -> Numbers:
            return resonance_of(winding, self.bench.with_screw(name, places))

        found = crossing(own, low, high, wanted, place, points=_GRID)
        self.bench.hand.move_to(name, place if found is None else found)

    def _leave_at_end(self, name: str, seen: Callable[[Numbers], Numbers], find: str) -> None:
        low, high = self.bench.hand.reach(name)
        ends = [float(seen(end)) for end in (low, high)]
        better = ends[0] > ends[1] if find == "max" else abs(ends[0]) < abs(ends[1])
        self.bench.hand.move_to(name, low if better else high)

    # What is clipped on

    def confirmed(self, step: Step | None, text: str) -> None:
        """Do what a confirmation of clipping something on or off says; the last screw it names is the loaded one."""
        if not isinstance(step, IfPeakStep):
            return
        named = [(text.rfind(f"winding of {name}"), name) for name in self.electrical.windings()]
        at, name = max(named, default=(-1, ""))
        if at >= 0:
            clipped = "lip " in text[:at]
            self.electrical = StripElectrical(self.electrical.strip, name if clipped else "")
