"""The bench as it stands after a history: procedure, ledger, instruments and belief, and what a step gives back."""

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from aligner.engine.asks import Ask, GeneratorSetting, Point
from aligner.engine.drifts import drifts
from aligner.engine.history import History
from aligner.engine.instruments import Instruments, instruments_of
from aligner.engine.ledger import Ledger, Stop, ledger_of
from aligner.engine.shared import room_of
from aligner.engine.strip import Found, found_intermediate
from aligner.engine.survey import StepReport
from aligner.estimate.belief import Belief, CircuitBelief, belief_of
from aligner.estimate.best import Goal, Movable
from aligner.estimate.events import Drifted, Event, Moved, Sighted, Spot, Wanded
from aligner.estimate.frame import Frame, frame_of
from aligner.estimate.ladder import SERIES
from aligner.procedure.model import Procedure

_BEYOND_END = 0.3  # turns that no miscount explains
_CERTAIN = 3.0  # standard errors of a movement that tell its side, whatever was asked for
SURE = 1.96
"""How many standard errors count as certain: 95 % of a normal distribution."""
EVEN = 0.674
"""Standard errors that hold half of all errors: within these it is more likely right than not."""
LIKELY = 1.28
"""Standard errors that hold nine errors in ten on one side: what is asked of a way that will not tell more."""
SAFE = 2.6
"""Standard errors that must lie between a point's error and its limit before it is left: 99 in 100, on both sides."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A step's report, and the ask that would bring it on (None when there is nothing to do)."""

    report: StepReport
    ask: Ask | None = None


@dataclass(frozen=True, slots=True)
class Target:
    """One point of a step: its spot, the pipe's point, the frequency its circuit shall have and the tolerance [Hz]."""

    spot: Spot
    point: Point
    wanted_hz: float
    tolerance_hz: float


@dataclass(frozen=True, eq=False)
class Bench:
    """Everything that steps ask of a history; compared by identity."""

    procedure: Procedure
    ledger: Ledger

    @cached_property
    def instruments(self) -> Instruments:
        """Counter and meter."""
        return instruments_of(self.procedure)

    @cached_property
    def intermediate(self) -> Found | None:
        """The IF as a sweep of the strip found it; None while the nominal one is all there is."""
        return found_intermediate(self.procedure, self.ledger)

    @property
    def intermediate_hz(self) -> float:
        """The IF [Hz] as it is known now."""
        return self.procedure.intermediate_hz if self.intermediate is None else self.intermediate.hz

    def received_sd_hz(self, oscillator_sd_hz: float) -> float:
        """Standard error [Hz] of what is received, where the oscillator's is known: a found IF is not exact either."""
        return oscillator_sd_hz if self.intermediate is None else math.hypot(oscillator_sd_hz, self.intermediate.sd_hz)

    def frame(self, band: str) -> Frame:
        """The scaled frame of a band."""
        return frame_of(self.procedure, band, self.intermediate_hz)

    def belief(self, band: str) -> Belief:
        """What is believed of a band's circuits now."""
        return _belief(self, band)

    def events(self, band: str) -> tuple[Event, ...]:
        """The events that concern a band's circuits."""
        here = self.frame(band)
        own = tuple([e for e in self.ledger.events if _concerns(here, e)])
        drifted = tuple(drifts(self.procedure, here, self.ledger.entries, own))
        return tuple(sorted((*own, *drifted), key=lambda e: e.seq)) if drifted else own

    def generator(self, hz: float) -> GeneratorSetting:
        """The generator at a frequency [Hz], coupled as the procedure says."""
        how = self.procedure.generator
        return GeneratorSetting(hz, how.modulation, how.into, how.through)

    def last_move(self, circuit: str) -> int:
        """Number of the newest movement of an adjuster of a circuit, -1 for none."""
        return self._last_moves.get(circuit, -1)

    def last_lost(self, circuit: str) -> int:
        """Number of the newest movement of a circuit's adjuster that ended with no reading, -1 for none."""
        return _newest(self.procedure, self.ledger.lost).get(circuit, -1)

    def last_lost_adjuster(self, circuit: str) -> str:
        """The adjuster of that movement, empty for none."""
        newest = self.last_lost(circuit)
        return next((e.adjuster for e in self.ledger.lost if e.seq == newest), "")

    @cached_property
    def _last_moves(self) -> dict[str, int]:
        return _newest(self.procedure, tuple(e for e in self.ledger.events if isinstance(e, Moved)))

    def seen_since(self, circuit: str, seq: int) -> set[Spot]:
        """The spots where a circuit was sighted after event `seq`."""
        return {
            e.spot
            for e in self.ledger.events
            if isinstance(e, Sighted | Wanded) and e.circuit == circuit and e.seq > seq
        }


def _newest(procedure: Procedure, moves: tuple[Moved, ...]) -> dict[str, int]:
    """Number of the newest of some movements, by circuit."""
    newest: dict[str, int] = {}
    for move in moves:
        for circuit in procedure.adjuster(move.adjuster).circuits:
            newest[circuit] = max(move.seq, newest.get(circuit, -1))
    return newest


@lru_cache(maxsize=32)
def _belief(bench: Bench, band: str) -> Belief:
    """Every step asks for it, and it changes with nothing but the history."""
    return belief_of(bench.frame(band), bench.events(band))


@lru_cache(maxsize=8)
def bench_of(procedure: Procedure, history: History) -> Bench:
    """The bench after a history; kept, because an answer is checked on the same one that its ask was made on."""
    return Bench(procedure, ledger_of(procedure, history))


def _concerns(frame: Frame, event: Event) -> bool:
    """Whether something happened to a circuit of a frame, and within its band."""
    if isinstance(event, Moved):
        return event.adjuster in frame.handles
    return not isinstance(event, Drifted) and event.circuit in frame.circuits and _inside(frame, event.spot)


def _inside(frame: Frame, spot: Spot) -> bool:
    return 0.8 * frame.band.low_hz <= spot.hz <= 1.25 * frame.band.high_hz


@dataclass(frozen=True)
class Standing:
    """How a circuit stands at the points of a step: expected errors, their standard errors and tolerances [Hz]."""

    errors_hz: np.ndarray
    sd_hz: np.ndarray
    tolerance_hz: np.ndarray
    others: tuple["Standing", ...] = ()

    @property
    def worst(self) -> float:
        """The greatest expected error in tolerances."""
        return float(self._off.max())

    @property
    def worst_sure(self) -> float:
        """The greatest error that must be reckoned with, in tolerances, by every fit that is still credible."""
        return self.worst_at(SURE)

    def worst_at(self, sds: float) -> float:
        """The greatest error with so many standard errors added, in tolerances, by every fit that is still credible."""
        own = float(self.most_at(sds).max())
        return max([own, *(other.worst_at(sds) for other in self.others)])

    def most_at(self, sds: float) -> np.ndarray:
        """The error at each point with so many standard errors added, in tolerances, shape (n,)."""
        return np.asarray((np.abs(self.errors_hz) + sds * self.sd_hz) / self.tolerance_hz)

    @property
    def doubt(self) -> float:
        """The greatest standard error in tolerances."""
        return float(np.max(self.sd_hz / self.tolerance_hz))

    @property
    def worst_index(self) -> int:
        """Which point that is."""
        return int(self._off.argmax())

    @cached_property
    def _off(self) -> np.ndarray:
        """The size of the expected errors in tolerances, shape (n,)."""
        return np.asarray(np.abs(self.errors_hz) / self.tolerance_hz)


def standing_of(circuit: CircuitBelief, belief: Belief, targets: tuple[Target, ...]) -> Standing:
    """How a circuit stands at targets, by belief."""
    return _standing(circuit, goal_of(belief, targets))


@lru_cache(maxsize=64)
def _standing(circuit: CircuitBelief, goal: Goal) -> Standing:
    """Both are compared by identity; reports, plans and words ask for the same."""
    z, wanted, tolerance = goal.z_hz, goal.wanted_hz, goal.tolerance_hz
    others = tuple(Standing(other.hz(z) - wanted, other.sd_hz(z), tolerance) for other in circuit.others)
    return Standing(circuit.hz(z) - wanted, circuit.sd_hz(z), tolerance, others)


def goal_of(belief: Belief, targets: tuple[Target, ...]) -> Goal:
    """The targets as the search for the best settings wants them."""
    return _goal(belief.places_hz(tuple(t.spot for t in targets)).tobytes(), targets)


@lru_cache(maxsize=64)
def _goal(z_hz: bytes, targets: tuple[Target, ...]) -> Goal:
    """One goal for the same targets at the same places, so that what was found for it is found again."""
    wanted, tolerance = (
        np.array(values) for values in zip(*((t.wanted_hz, t.tolerance_hz) for t in targets), strict=True)
    )
    return Goal(np.frombuffer(z_hz), wanted, tolerance)


def movables(bench: Bench, belief: Belief, circuit: CircuitBelief) -> tuple[Movable, ...]:
    """The adjusters of a circuit with what is left of their travel, and what other bands leave of shared ones."""
    found = []
    for adjuster in bench.procedure.circuit(circuit.frame.id).adjusters:
        handle = belief.frame.handles.get(adjuster)
        if handle is None:
            continue
        stops = stops_of(bench, circuit, adjuster)
        room, _ = room_of(bench, belief.frame, adjuster)
        down, up = (0.0, 0.0) if stuck(bench, adjuster, stops) else room
        for stop in stops:
            if stop.toward:
                left = -_moved_since(circuit, belief, adjuster, stop.seq)
                upward = (stop.toward == "more") != (handle.setting == SERIES)
                down, up = (down, min(up, left)) if upward else (max(down, left), up)
        found.append(Movable(adjuster, handle.setting, min(down, 0.0), max(up, 0.0)))
    return tuple(found)


def stops_of(bench: Bench, circuit: CircuitBelief, adjuster: str) -> list[Stop]:
    """The ends that an adjuster has met, each on the side to which it went by what was seen of its circuit.

    Where that is not sure it is the side that was asked for, or that of the turns by the learned sense.
    """
    stops = [stop for stop in bench.ledger.stops if stop.adjuster == adjuster and not _passed(bench, stop)]
    return [_sided(circuit, stop) for stop in stops]


def _passed(bench: Bench, stop: Stop) -> bool:
    """Whether the adjuster was later turned on beyond that end, the same way: then it was none.

    A core that goes on past the middle of its coil peaks no higher there, though its thread does not end.
    """
    net = 0.0
    for event in bench.ledger.events:
        if isinstance(event, Moved) and event.adjuster == stop.adjuster and event.seq > stop.seq:
            net += event.turns or 0.0
            if net * stop.turns > 0.0 and abs(net) > _BEYOND_END:
                return True
    return False


def way_gone(circuit: CircuitBelief, seq: int) -> int:
    """Whether a movement (its event's number) raised its setting for sure (+1), lowered it (-1), or neither is sure."""
    column = circuit.fit.layout.moves.get(seq)
    if column is None:
        return 0
    moved, sd = float(circuit.fit.mean[column]), math.sqrt(circuit.fit.covariance[column, column])
    return int(math.copysign(1, moved)) if abs(moved) > _CERTAIN * sd else 0


def _sided(circuit: CircuitBelief, stop: Stop) -> Stop:
    way = way_gone(circuit, stop.seq - 1)
    if way:
        more = (way > 0) != (circuit.fit.frame.handles[stop.adjuster].setting == SERIES)
        return Stop(stop.seq, stop.adjuster, "more" if more else "less", stop.turns)
    effect = circuit.fit.effect(stop.adjuster)
    if stop.toward or not stop.turns or effect is None:
        return stop
    upward = (stop.turns * effect[0] > 0) != (circuit.fit.frame.handles[stop.adjuster].setting == SERIES)
    return Stop(stop.seq, stop.adjuster, "more" if upward else "less", stop.turns)


def stuck(bench: Bench, adjuster: str, stops: list[Stop]) -> bool:
    """Whether an adjuster has met both ends, or an unknown end twice with another adjuster moved in between."""
    if {"more", "less"} <= {s.toward for s in stops}:
        return True
    blind = [s.seq for s in stops if not s.toward]
    moved = [e.seq for e in bench.ledger.events if isinstance(e, Moved) and e.adjuster != adjuster]
    return len(blind) >= 2 and any(blind[0] < seq < blind[-1] for seq in moved)


def _moved_since(circuit: CircuitBelief, belief: Belief, adjuster: str, seq: int) -> float:
    """How far the adjuster's setting has been moved since event `seq`, by expectation."""
    fit = circuit.fit
    moves = [e.seq for e in belief.events if isinstance(e, Moved) and e.adjuster == adjuster and e.seq > seq]
    return float(sum(fit.mean[fit.layout.moves[m]] for m in moves))
