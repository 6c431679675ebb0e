"""Coverage by the presets of the tuning voltage: each sets its end of the scale, and all circuits move at once.

No aim half way is needed: a preset hardly moves the other end, so each is turned until the counter shows what it shall,
and both are read again. What follows the oscillator by the frequency received stays as it is. Where a preset comes to
its end, the oscillator's own adjusters take the rest, unless voltages have set them before.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np

from aligner.engine import by_reading
from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Amount, Ask, Read, Touch
from aligner.engine.bench import Bench, Outcome, Standing, Target, goal_of
from aligner.engine.by_reading import KNOWN, NEAR, read_ask
from aligner.engine.hand_words import turn_words
from aligner.engine.history import Entry
from aligner.engine.outcomes import busy
from aligner.engine.presets import known_by_volts, last_preset
from aligner.engine.step_reports import report_of
from aligner.engine.touches import aim_at, tune_words, way_words
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.estimate.events import Moved
from aligner.procedure.model import CoverageStep
from aligner.quantity import show

_MOST = 4
"""Touches of one preset, after which something must be loose, or the ends work against each other."""
_EFFECT_SPREAD = 0.15
"""How evenly a preset works along its travel (common practice, no source)."""


@dataclass(frozen=True)
class Ends:
    """What the choice of the next ask looks at; targets from the lowest."""

    bench: Bench
    step: CoverageStep
    belief: Belief
    targets: tuple[Target, ...]

    @property
    def oscillator(self) -> CircuitBelief:
        """The circuit that tells."""
        return self.belief.circuits[self.step.circuit]

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """Readings and touches of the oscillator's frequency, oldest first."""
        rows = []
        for entry in self.bench.ledger.entries:
            ask = entry.ask
            read = isinstance(ask, Read) and ask.quantity == "frequency"
            turned = isinstance(ask, Touch) and ask.aim.quantity == "frequency"
            if (read or turned) and _value(entry) is not None:
                rows.append(entry)
        return tuple(rows)

    def error_hz(self, target: Target) -> tuple[float, float] | None:
        """Error [Hz] and standard error [Hz] at a target; None where it was not read since a preset was moved.

        What the oscillator's own adjusters did since is added as it is believed.
        """
        since = last_preset(self.bench.procedure, self.bench.ledger.entries)
        seen = [e for e in self.entries if getattr(e.ask, "point", None) == target.point and e.seq >= since]
        value = _value(seen[-1]) if seen else None
        if value is None:
            return None
        hz = self.bench.instruments.oscillator_hz(value)
        moved = self._moved_hz(target, 2 * seen[-1].seq + 1)
        sd = self.bench.instruments.frequency_sd_hz(hz, "end")
        return hz + moved - target.wanted_hz, float(np.hypot(sd, 0.2 * moved))

    def vague(self, target: Target) -> bool:
        """Whether too much is only believed of a target: presets bend the scale more than the model has it."""
        return (self.error_hz(target) or (0.0, np.inf))[1] > KNOWN * target.tolerance_hz

    def _moved_hz(self, target: Target, seq: int) -> float:
        """How far [Hz] the oscillator was moved by its own adjusters since an event, by expectation."""
        now = self.oscillator
        if not any(isinstance(e, Moved) and e.seq > seq and e.seq in now.fit.layout.moves for e in now.fit.events):
            return 0.0
        z = np.array([target.spot.hz])
        return float((now.hz(z) - now.before(seq).hz(z))[0])


def _value(entry: Entry) -> float | None:
    if isinstance(entry.answer, Reading):
        return entry.answer.value
    return entry.answer.reading if isinstance(entry.answer, Cannot) else None


def work(bench: Bench, step: CoverageStep, belief: Belief, targets: tuple[Target, ...], *, passed: bool) -> Outcome:
    """Report and next ask of a coverage that the presets bring about."""
    scene = Ends(bench, step, belief, tuple(sorted(targets, key=lambda t: t.spot.hz)))
    working = busy(passed=passed)
    standing = _standing(scene)
    missing = [t for t in scene.targets if scene.error_hz(t) is None]
    if missing:
        look = _look(scene, missing)
        why = f"{len(scene.targets) - len(missing)} of {len(scene.targets)} points read"
        state = working if look else "at-limit"
        return Outcome(report_of(step, standing, state, why if look else "nothing to read at an end"), look)
    near = standing.worst <= (1.0 if passed else NEAR)
    found = None if near or _own_touched(scene) else _next(scene)
    if found is not None:
        return Outcome(report_of(step, standing, working, f"{found.adjuster} is to be set"), found)
    ask = None if near else _by_own(scene, passed=passed)
    ask = ask or _look(scene, [t for t in scene.targets if scene.vague(t)])
    if ask is not None:
        return Outcome(report_of(step, standing, working, "a preset is at its end; the oscillator takes the rest"), ask)
    if standing.worst <= 1.0:
        return Outcome(report_of(step, standing, "held", ""))
    return Outcome(report_of(step, standing, "at-limit", _limit_words(scene, standing)))


def _look(scene: Ends, missing: list[Target]) -> Ask | None:
    """A reading of the first of these points that can be read."""
    out = {point for at, _, point in scene.bench.ledger.unreadable if at == scene.step.id}
    return next((read_ask(scene.bench, scene.step, t) for t in missing if t.point not in out), None)


def _by_own(scene: Ends, *, passed: bool) -> Ask | None:
    """What a preset at its end has left of the ends, by the oscillator's own adjusters, unless voltages set them."""
    bench, step = scene.bench, scene.step
    own = bench.procedure.circuit(step.circuit).adjusters
    stopped = _preset_names(scene) & {stop.adjuster for stop in bench.ledger.stops}
    if not stopped or known_by_volts(bench.procedure, step.band) or not scene.belief.frame.handles.keys() & set(own):
        return None
    ends = tuple(dict.fromkeys((scene.targets[0], scene.targets[-1])))
    return by_reading.work(bench, step, scene.belief, ends, (goal_of(scene.belief, ends),), passed=passed).ask


def _preset_names(scene: Ends) -> set[str]:
    return {name for name, _ in scene.bench.procedure.tuning.presets}


def _own_touched(scene: Ends) -> bool:
    """Whether this step has gone on to the oscillator's own adjusters: then the presets stay where they are."""
    rows = scene.bench.ledger.of_step(scene.step.id)
    return any(isinstance(e.ask, Touch) and e.ask.adjuster not in _preset_names(scene) for e in rows)


def _standing(scene: Ends) -> Standing:
    rows = [scene.error_hz(target) or (0.0, 10.0 * target.tolerance_hz) for target in scene.targets]
    tolerance = np.array([t.tolerance_hz for t in scene.targets])
    return Standing(np.array([error for error, _ in rows]), np.array([sd for _, sd in rows]), tolerance)


def _next(scene: Ends) -> Touch | None:
    """The end that is farther off, where its preset can still go that way."""
    ends = {"low-end": scene.targets[0], "high-end": scene.targets[-1]}
    found = []
    for name, sets in scene.bench.procedure.tuning.presets:
        error, _ = scene.error_hz(ends[sets]) or (0.0, 0.0)
        direction: Literal["more", "less"] = "less" if error > 0 else "more"
        rows = [e for e in scene.entries if isinstance(e.ask, Touch) and e.ask.adjuster == name]
        if abs(error) > NEAR * ends[sets].tolerance_hz and len(rows) < _MOST and not _stopped(rows, direction):
            found.append((abs(error) / ends[sets].tolerance_hz, name, ends[sets], direction))
    if not found:
        return None
    _, name, target, direction = max(found, key=lambda row: row[0])
    return _touch(scene, name, target, direction)


def _stopped(rows: list[Entry], direction: str) -> bool:
    """Whether the preset met its end that way when it was last turned."""
    last = rows[-1] if rows else None
    return last is not None and isinstance(last.answer, Cannot) and getattr(last.ask, "direction", None) == direction


def _touch(scene: Ends, name: str, target: Target, direction: Literal["more", "less"]) -> Touch:
    bench = scene.bench
    adjuster = bench.procedure.adjuster(name)
    where = f" ({adjuster.where})" if adjuster.where else ""
    aim = aim_at(bench, scene.oscillator, target, target.wanted_hz)
    error, _ = scene.error_hz(target) or (0.0, 0.0)
    amount = _amount(scene, name, target, error)
    off = show(abs(error), "Hz", target.tolerance_hz / 20.0)
    return Touch(
        id=0,
        step=scene.step.id,
        text=(
            f"{tune_words(target)}. Turn {name}{where}: {way_words(adjuster, direction)}{turn_words(amount)}, "
            f"until the counter shows {show(aim.value, 'Hz', aim.within / 10.0)}."
        ),
        why=(
            f"This end of the scale receives {off} too {'high' if error > 0 else 'low'}; the preset moves all circuits "
            "together, so what follows the oscillator goes on following it."
        ),
        adjuster=name,
        circuit=scene.step.circuit,
        point=target.point,
        aim=aim,
        direction=direction,
        amount=amount,
    )


def _amount(scene: Ends, name: str, target: Target, error_hz: float) -> Amount | None:
    """Turns, by what the last counted turns of this preset did there."""
    rows = [e for e in scene.entries if getattr(e.ask, "point", None) == target.point]
    for before, after in reversed(list(pairwise(rows))):
        turned = isinstance(after.ask, Touch) and after.ask.adjuster == name
        turns = getattr(after.answer, "turns", None)
        first, last = _value(before), _value(after)
        if not turned or not turns or first is None or last is None:
            continue
        per_turn = (scene.bench.instruments.oscillator_hz(last) - scene.bench.instruments.oscillator_hz(first)) / turns
        if per_turn:
            size = -error_hz / per_turn
            return Amount(round(size, 3), "turn", round(abs(size) * _EFFECT_SPREAD + 0.03, 3))
    return None


def _limit_words(scene: Ends, standing: Standing) -> str:
    worst = scene.targets[standing.worst_index]
    error = float(standing.errors_hz[standing.worst_index])
    head = (
        f"{show(abs(error), 'Hz', worst.tolerance_hz / 10.0)} too {'high' if error > 0 else 'low'} at "
        f"{show(worst.spot.hz, 'Hz')} is what the presets leave"
    )
    stopped = sorted({s.adjuster for s in scene.bench.ledger.stops} & _preset_names(scene))
    if stopped:
        return f"{head}: at the end of travel {' and '.join(stopped)}. Change the fixed resistor beside it."
    return f"{head}: between the ends the scale is as it was made"
