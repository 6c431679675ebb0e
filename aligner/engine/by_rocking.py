"""Coverage with a signal circuit in the lead: it cannot be set at the low end, so the oscillator follows it there.

The signal circuit's trimmer is peaked at the high end, then the oscillator's padder or core is set for most signal
while the gang is rocked. After that it is known where on the scale the signal circuit resonates, and the oscillator's
adjusters are set by the counter, each once: the dial is kept at the high end and gives way elsewhere. The trimmer will
be peaked once more where the dial is then kept, so the low end is reckoned with the trimmer as it will stand.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import msgspec
import numpy as np

from aligner.engine.answers import Result
from aligner.engine.asks import Ask, Peak, Point, Touch, Turning
from aligner.engine.bench import Bench, Outcome, Standing, Target, goal_of, movables
from aligner.engine.by_reading import KNOWN, NEAR, PATIENCE, STILL_SURE, read_ask, touched
from aligner.engine.hand_words import peaked_manner
from aligner.engine.instruments import point_of, received_spot
from aligner.engine.outcomes import busy
from aligner.engine.rocked import dial_kept
from aligner.engine.step_reports import limit_words, report_of
from aligner.engine.touches import Plan, plan_for, target_for, touch_ask, tune_words
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.estimate.best import Goal, best_of
from aligner.estimate.events import Moved, Sighted, Spot
from aligner.estimate.ladder import COIL, INNER, OUTER, SERIES, Array
from aligner.procedure.model import CoverageStep
from aligner.quantity import show

_UNSURE = 0.4
"""In tolerances: a signal circuit known no better than this (standard error) must be seen where it leads."""
_MOST_ROCKS = 3
"""Rocked peaks at one point, after which they tell no more."""
_COARSE = 0.02
"""Where the dial is kept, an oscillator farther off than this share is brought near first: the trimmers of a set that
is tuned elsewhere on the gang peak elsewhere, or not at all."""
_GRID = 401


@dataclass(frozen=True)
class Rocking:
    """What the choice of the next ask looks at."""

    bench: Bench
    step: CoverageStep
    belief: Belief
    lead: str
    passed: bool

    @property
    def oscillator(self) -> CircuitBelief:
        """The circuit that is set."""
        return self.belief.circuits[self.step.circuit]

    @property
    def signal(self) -> CircuitBelief:
        """The circuit that leads."""
        return self.belief.circuits[self.lead]

    @cached_property
    def places(self) -> tuple[Target, ...]:
        """The step's points as places of the scale, from the lowest, with what the dial would have there."""
        offset = self.oscillator.frame.offset_hz
        rows = sorted(self.step.points, key=lambda p: p.received_hz)
        return tuple(
            Target(Spot(p.received_hz, "dial"), point_of(p.place), p.received_hz + offset, self.step.tolerance_hz)
            for p in rows
        )

    @cached_property
    def kept(self) -> tuple[Target, ...]:
        """Those where the dial is kept."""
        kept = {p.received_hz for p in dial_kept(self.bench.procedure, self.step)}
        return tuple(t for t in self.places if t.spot.hz in kept)

    @cached_property
    def led(self) -> tuple[Target, ...]:
        """Those where the signal circuit leads, as received frequencies."""
        kept = {t.spot.hz for t in self.kept}
        return tuple(
            Target(*received_spot(t.spot.hz), t.spot.hz, t.tolerance_hz) for t in self.places if t.spot.hz not in kept
        )

    @cached_property
    def ahead(self) -> Array:
        """Shift of the signal circuit's settings (4,) when its trimmer is peaked once more where the dial is kept."""
        trimmers = tuple(m for m in movables(self.bench, self.belief, self.signal) if m.setting in (INNER, OUTER))
        if self.passed or not self.kept or not trimmers:
            return np.zeros(4)
        hz = np.array([t.spot.hz for t in self.kept])
        goal = Goal(hz, hz, np.full(len(hz), self.step.tolerance_hz))
        return best_of(self.signal, goal, trimmers[:1]).settings

    @cached_property
    def standing(self) -> Standing:
        """Errors [Hz]: of the signal circuit where it leads, of the oscillator where the dial is kept."""
        others = tuple(self._standing(other) for other in self.signal.others)
        return replace(self._standing(self.signal), others=others)

    def _standing(self, signal: CircuitBelief) -> Standing:
        z = self.belief.places_hz(tuple(t.spot for t in self.led))
        led = np.array([t.spot.hz for t in self.led])
        sd = np.hypot(signal.sd_hz(z), self.oscillator.sd_hz(z))
        kept = np.array([t.spot.hz for t in self.kept])
        wanted = np.array([t.wanted_hz for t in self.kept])
        return Standing(
            np.concatenate((signal.hz(z, self.ahead) - led, self.oscillator.hz(kept) - wanted)),
            np.concatenate((sd, self.oscillator.sd_hz(kept))),
            np.full(len(self.places), self.step.tolerance_hz),
        )

    @property
    def told(self) -> Standing:
        """The part of it that the step is about: where the signal circuit leads; the dial's where it leads nowhere."""
        n = len(self.led) or len(self.places)
        return Standing(self.standing.errors_hz[:n], self.standing.sd_hz[:n], self.standing.tolerance_hz[:n])

    @cached_property
    def goal(self) -> Goal:
        """Where and how the oscillator shall stand: as the signal circuit leads, and by the dial where that is kept."""
        low, high = self.oscillator.frame.low_hz, self.oscillator.frame.high_hz
        grid = np.linspace(0.7 * low, 1.4 * high, _GRID)
        led = np.array([t.spot.hz for t in self.led])
        at = np.interp(led, self.signal.hz(grid, self.ahead), grid)
        wanted = np.concatenate((led + self.oscillator.frame.offset_hz, [t.wanted_hz for t in self.kept]))
        z = np.concatenate((at, [t.spot.hz for t in self.kept]))
        return Goal(z, wanted, np.full(len(z), self.step.tolerance_hz))

    def set_right(self, shift: Array) -> tuple[Target, ...]:
        """The step's places with what the oscillator shows there after a shift (4,) of its settings."""
        hz = self.oscillator.hz(np.array([t.spot.hz for t in self.places]), shift)
        return tuple(replace(t, wanted_hz=float(f)) for t, f in zip(self.places, hz, strict=True))


def work(bench: Bench, step: CoverageStep, belief: Belief, lead: str, *, passed: bool) -> Outcome:
    """Report and next ask of an oscillator that follows a signal circuit."""
    scene = Rocking(bench, step, belief, lead, passed)
    standing = scene.standing
    working = busy(passed=passed)
    if passed and standing.worst <= 1.0 and standing.worst_sure <= STILL_SURE:
        return Outcome(report_of(step, scene.told, "held", _dial_words(scene)))
    look = _unread(scene) or _coarse(scene) or _trimmer_first(scene) or _rock(scene)
    if look is not None:
        return Outcome(report_of(step, scene.told, working, f"{lead} leads; the dial gives way"), look)
    plan = plan_for(bench, belief, scene.oscillator, (scene.goal,), scene.goal, touched(scene.bench, scene.step))
    if plan.order and standing.worst > NEAR and not _hopeless(scene):
        return Outcome(report_of(step, scene.told, working, f"{plan.order[0]} is to be touched"), _touch(scene, plan))
    if standing.worst <= 1.0:
        return Outcome(report_of(step, scene.told, "held", _dial_words(scene)))
    right = scene.set_right(plan.everything.settings)
    why = limit_words(bench, belief, scene.oscillator, standing, (*right,))
    return Outcome(report_of(step, scene.told, "at-limit", why))


def _unread(scene: Rocking) -> Ask | None:
    """A place of the oscillator that is not known and was not read since its last touch."""
    last = scene.bench.last_move(scene.step.circuit)
    seen = scene.bench.seen_since(scene.step.circuit, last)
    sd = scene.oscillator.sd_hz(np.array([t.spot.hz for t in scene.places]))
    for target, vague in zip(scene.places, sd, strict=True):
        out = (scene.step.id, "frequency", target.point) in scene.bench.ledger.unreadable
        if target.spot not in seen and vague > KNOWN * target.tolerance_hz and not out:
            return read_ask(scene.bench, scene.step, target)
    return None


def _coarse(scene: Rocking) -> Touch | None:
    """The oscillator to the dial, as long as it is far off where the dial is kept."""
    z = np.array([t.spot.hz for t in scene.kept])
    off = np.abs(scene.oscillator.hz(z) - np.array([t.wanted_hz for t in scene.kept]))
    if _followed(scene) or not np.any(off > _COARSE * z) or _hopeless(scene):
        return None
    goal = goal_of(scene.belief, scene.places)
    plan = plan_for(scene.bench, scene.belief, scene.oscillator, (goal,), goal, touched(scene.bench, scene.step))
    if not plan.order:
        return None
    return touch_ask(scene.bench, scene.belief, scene.oscillator, plan, scene.step.id, scene.places)


def _trimmer_first(scene: Rocking) -> Peak | None:
    """The signal circuit's trimmer at the high end, once, where that circuit was never seen there."""
    if scene.passed or not scene.kept:
        return None
    target = Target(*received_spot(scene.kept[0].spot.hz), scene.kept[0].spot.hz, scene.step.tolerance_hz)
    if _followed(scene) or _tried(scene, target.point):
        return None
    adjusters = (scene.bench.procedure.adjuster(a) for a in scene.bench.procedure.circuit(scene.lead).adjusters)
    name = next(a.id for a in adjusters if a.does == "parallel")
    why = f"{scene.lead} leads at the low end, and there it must stand as its trimmer at the high end leaves it."
    return _peak(scene, name, scene.lead, target, why)


def _followed(scene: Rocking) -> bool:
    """Whether the signal circuit has been seen, so that the oscillator can follow it."""
    return any(isinstance(e, Sighted) and e.circuit == scene.lead for e in scene.bench.ledger.events)


def _rock(scene: Rocking) -> Peak | None:
    """The lowest point where the signal circuit leads, where that is not known yet."""
    if not scene.led:
        return None
    target, sd = scene.led[0], float(scene.standing.sd_hz[0])
    if sd <= _UNSURE * target.tolerance_hz or _tried(scene, target.point):
        return None
    handles = scene.belief.frame.handles
    usable = [m for m in movables(scene.bench, scene.belief, scene.oscillator) if m.setting in (SERIES, COIL)]
    usable.sort(key=lambda m: handles[m.adjuster].setting != SERIES)
    if not usable:
        return None
    why = (
        f"{scene.lead} cannot be set at the low end, so the oscillator follows it and the dial gives way: they "
        "agree where any place of the gang gives most signal."
    )
    return _peak(scene, usable[0].adjuster, scene.step.circuit, target, why)


def _tried(scene: Rocking, point: Point) -> bool:
    """Whether a peak there told nothing, or was made with nothing moved since but what it was made with."""
    rows = [e for e in scene.bench.ledger.of_step(scene.step.id) if isinstance(e.ask, Peak) and e.ask.point == point]
    rows = [e for e in rows if isinstance(e.answer, Result)]
    if not rows or len(rows) >= _MOST_ROCKS or (scene.step.id, "level", point) in scene.bench.ledger.unreadable:
        return bool(rows)
    names = {*scene.bench.procedure.circuit(scene.lead).adjusters}
    return not any(
        isinstance(e, Moved) and e.adjuster in names and e.seq > 2 * rows[-1].seq for e in scene.bench.ledger.events
    )


def _peak(scene: Rocking, name: str, circuit: str, target: Target, why: str) -> Peak:
    """A peak of the signal, the gang rocked with it where it is the oscillator's adjuster that is turned."""
    adjuster = scene.bench.procedure.adjuster(name)
    rock = circuit == scene.step.circuit
    where = f" ({adjuster.where})" if adjuster.where else ""
    hz = show(target.spot.hz, "Hz")
    most = "highest" if scene.bench.instruments.more_is_up else "lowest"
    how = (
        f"Generator to {hz}, the set tuned to it. Turn {name}{where} a little, swing the gang across the signal, and "
        f"go on so to the {most} reading that any place of the gang gives; the pointer need not say {hz}. "
        "Leave both there."
        if rock
        else f"{tune_words(target)}, generator to {hz}. Peak {name}{where} for the {most} reading."
    )
    return Peak(
        id=0,
        step=scene.step.id,
        text=f"{how}{peaked_manner(scene.bench, adjuster)}",
        why=why,
        adjuster=name,
        circuit=circuit,
        point=target.point,
        generator=scene.bench.generator(target.spot.hz),
        find="max" if scene.bench.instruments.more_is_up else "min",
        rock=rock,
    )


def _touch(scene: Rocking, plan: Plan) -> Touch:
    """The next touch by the counter, with what the dial gives way by."""
    targets = scene.set_right(plan.everything.settings)
    ask = touch_ask(scene.bench, scene.belief, scene.oscillator, plan, scene.step.id, targets)
    target = target_for(scene.belief.frame.handles[plan.order[0]].setting, targets)
    says = f"{scene.lead} leads: here {show(_received_hz(scene, target), 'Hz', 1e3)} will be received."
    kept = target.spot in {t.spot for t in scene.kept}
    return ask if kept else msgspec.structs.replace(ask, why=f"{ask.why} {says}")


def _received_hz(scene: Rocking, target: Target) -> float:
    return target.wanted_hz - scene.oscillator.frame.offset_hz


def _dial_words(scene: Rocking) -> str:
    """By how much the dial gives way, at the points where it does."""
    kept = {t.spot.hz for t in scene.kept}
    rows = [t for t in scene.set_right(np.zeros(4)) if t.spot.hz not in kept]
    grain = scene.step.tolerance_hz / 10.0
    said = [
        f"where the dial says {show(t.spot.hz, 'Hz')} the set receives {show(_received_hz(scene, t), 'Hz', grain)}"
        for t in rows
    ]
    return f"the dial gives way: {', '.join(said)}"


def _hopeless(scene: Rocking) -> bool:
    touches = sum(isinstance(e.ask, Turning) for e in scene.bench.ledger.of_step(scene.step.id))
    return touches >= PATIENCE * len(scene.bench.procedure.circuit(scene.step.circuit).adjusters)
