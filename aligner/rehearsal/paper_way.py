"""The classical way on the same sets: coil at the low end, trimmer at the high end, until neither needs touching.

It uses the set only as a person does: through asks and answers. A touch is one visit to one adjuster; a peak counts
even if nothing moved, because without it nobody would know. A padder and the middle of the scale are left alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from aligner.procedure.model import CoverageStep, Place, Procedure, TrackingStep, Way
from aligner.rehearsal.set import VirtualSet

_ROUNDS = 100  # a hundred rounds and no end: nobody goes on
_STUCK = 3  # an adjuster that stood at its stop so many rounds running will not get any further
_STILL = 0.13  # a peak that moved by no more than an eighth of a turn, or so little of frequency, did not move


@dataclass
class PaperWay:
    """One set aligned the classical way; touches by circuit."""

    procedure: Procedure
    virtual: VirtualSet
    by: Way = "resonance"
    touches: dict[str, int] = field(default_factory=dict)
    readings: int = 0
    _id: int = 0

    def run(self) -> None:
        """All steps, in file order."""
        for step in self.procedure.steps:
            if isinstance(step, CoverageStep):
                self._coverage(step)
            elif isinstance(step, TrackingStep):
                self._tracking(step)

    def _ask(self, **what: object) -> Mapping[str, object]:
        self._id += 1
        return self.virtual.answer({"id": self._id, "text": "", "why": "", **what})

    def _ends(self, circuit_id: str) -> tuple[str | None, str | None]:
        """The adjuster of the low end and of the high end."""
        rows = [self.procedure.adjuster(name) for name in self.procedure.circuit(circuit_id).adjusters]
        coil = next((row.id for row in rows if row.does == "inductance"), None)
        padder = next((row.id for row in rows if row.does == "series"), None)
        trimmer = next((row.id for row in rows if row.does == "parallel"), None)
        return coil or padder, trimmer

    def _coverage(self, step: CoverageStep) -> None:
        side = 1 if self.procedure.oscillator == "above" else -1
        points = sorted(step.points, key=lambda point: point.received_hz)
        shows = self.virtual.bench.instruments
        scale = shows.displayed(1.0) - shows.displayed(0.0)
        stops = [
            (_point(point.place), shows.displayed(point.received_hz + side * self.procedure.intermediate_hz))
            for point in (points[0], points[-1])
        ]
        presets = {sets: name for name, sets in self.procedure.tuning.presets}
        by_scale = presets and all(point.place.volts is None for point in points)
        ends = (presets.get("low-end"), presets.get("high-end")) if by_scale else self._ends(step.circuit)
        self._alternate(step.id, step.circuit, "frequency", stops, step.tolerance_hz * scale, ends)

    def _tracking(self, step: TrackingStep) -> None:
        low, high = min(step.points_hz), max(step.points_hz)
        if self.by == "resonance":
            tolerance = step.tolerance_hz if step.tolerance_hz is not None else 0.002 * low
            stops: list[tuple[dict[str, object], float]] = [({"received": hz}, hz) for hz in (low, high)]
            self._alternate(step.id, step.circuit, "resonance", stops, tolerance, self._ends(step.circuit))
        else:
            self._peaks(step, low, high)

    def _count(self, circuit: str) -> None:
        self.touches[circuit] = self.touches.get(circuit, 0) + 1

    def _alternate(
        self,
        step: str,
        circuit: str,
        quantity: str,
        stops: list[tuple[dict[str, object], float]],
        tolerance: float,
        ends: tuple[str | None, str | None],
    ) -> None:
        """Read one end, turn it right if it is off, go to the other; stop when a whole round needed nothing."""
        stuck: dict[str, int] = {}
        for _ in range(_ROUNDS):
            touched = False
            for (point, value), adjuster in zip(stops, ends, strict=True):
                common = {"step": step, "circuit": circuit, "point": point, "generator": None}
                self.readings += 1
                seen = self._ask(ask="read", quantity=quantity, **common).get("reading")
                off = not isinstance(seen, float) or abs(seen - value) > tolerance
                if adjuster is None or not off:
                    continue
                aim = {"quantity": quantity, "value": value, "within": tolerance / 5}
                answer = self._ask(ask="touch", adjuster=adjuster, aim=aim, direction=None, amount=None, **common)
                self._count(circuit)
                stuck[adjuster] = stuck.get(adjuster, 0) + 1 if "cannot" in answer else 0
                touched = True
            if not touched or _STUCK in stuck.values():
                return

    def _peaks(self, step: TrackingStep, low: float, high: float) -> None:
        """Peak one end, peak the other, until neither moved; the screws show it, since a blunt level does not."""
        for _ in range(_ROUNDS):
            moved = False
            for hz, adjuster in zip((low, high), self._ends(step.circuit), strict=True):
                if adjuster is None:
                    continue
                before = self.virtual.positions()[adjuster]
                generator = {"hz": hz, "modulation": "none", "into": "aerial", "through": ""}
                common = {"step": step.id, "circuit": step.circuit, "point": {"received": hz}, "generator": generator}
                self._ask(ask="peak", adjuster=adjuster, quantity="level", find="max", fine=False, rock=False, **common)
                self._count(step.circuit)
                still = _STILL * self._turn_share(adjuster)
                moved = moved or abs(self.virtual.positions()[adjuster] - before) > still
            if not moved:
                return

    def _turn_share(self, adjuster: str) -> float:
        """A screw with few turns is watched by its slot: a rotary trimmer's half turn does what others do in seven."""
        return min(1.0, self.virtual.parts.screw(adjuster).travel / 7)


def _point(place: Place) -> dict[str, object]:
    rows = {
        "dial": place.dial, "received": place.received, "volts": place.volts, "mark": place.mark, "end": place.end
    }  # fmt: skip
    return {name: value for name, value in rows.items() if value is not None}
