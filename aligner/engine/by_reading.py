"""A circuit whose frequency can be read while its adjusters are turned: read, touch each adjuster once, read again."""

from dataclasses import replace
from itertools import takewhile

import msgspec

from aligner.engine.answers import Result
from aligner.engine.asks import Read, Touch
from aligner.engine.bench import (
    EVEN,
    LIKELY,
    SAFE,
    SURE,
    Bench,
    Outcome,
    Standing,
    Target,
    goal_of,
    movables,
    standing_of,
)
from aligner.engine.ledger import spot_of
from aligner.engine.left_alone import left_as_it_was
from aligner.engine.outcomes import busy
from aligner.engine.quality_looks import ENOUGH, TELLS, look_after, look_before, looked_before
from aligner.engine.step_reports import limit_words, report_of
from aligner.engine.tolerances import allowed_words
from aligner.engine.touches import Plan, doubt_once_set, gain_of, plan_for, spare_for, target_for, touch_ask, tune_words
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.estimate.best import Goal, best_of, doubts_of
from aligner.estimate.events import Sighted
from aligner.procedure.model import CoverageStep, TrackingStep
from aligner.quantity import show

KNOWN = 0.3
"""A point need not be read at first when its error is known to this share of the tolerance (standard error)."""
AGREED = 2
"""Readings of a point since the last touch that settle it when they contradict the rest."""
NEAR = 0.6
"""A circuit that stands within this share of the tolerance is left alone."""
OPEN = 0.2
"""The same of a place beyond the points, where only the balance over the band rests on it."""
WORTH = 0.2
"""In tolerances: unless a touch makes the greatest error of the band less by so much."""
MOST_OPEN = 2
"""How many of them are read: that bends of a tuning law need (the ends of a band, mostly)."""
_BALANCED = "No point of the step, but the circuit is balanced over the whole band, and hardly known here."
STILL_SURE = 1.3
"""A step that was held stays so while the greatest error to be reckoned with is within so many tolerances."""
PATIENCE = 6
"""Touches of one step and adjuster after which something must be loose, or work against us."""


def work(
    bench: Bench,
    step: CoverageStep | TrackingStep,
    belief: Belief,
    targets: tuple[Target, ...],
    goals: tuple[Goal, ...],
    *,
    passed: bool,
    band: tuple[Target, ...] = (),
) -> Outcome:
    """Report and next ask of one circuit of one step that is seen by its frequency.

    `goals` are what to aim for, best first: the whole band where its greatest error is to be least, then the points.
    `band` are the places that the first goal looks at.
    """
    circuit = belief.circuits[step.circuit]
    standing = standing_of(circuit, belief, targets)
    first = None if passed else _read_first(bench, belief, step, targets, band)
    if first is not None:
        return Outcome(report_of(step, standing, "to-do", first[0]), first[1])
    unread = _unread(bench, step.circuit, targets, bench.last_move(step.circuit))
    known = _within(circuit, belief, targets, STILL_SURE if passed else 1.0) or _all_seen(bench, step.circuit, targets)
    against = _contradicted(bench, belief, step.circuit, targets)
    still = _still_held(bench, step, standing, against) if passed and known else None
    if still is not None:
        return still
    working = busy(passed=passed)
    onward = _turn_next(bench, belief, step, goals, targets)
    if onward is not None:
        return Outcome(report_of(step, standing, working, onward[0]), onward[1])
    unread += [target for target, times in against if times < AGREED]
    unread += [] if passed else _doubtful(bench, step.circuit, standing, targets)
    if unread:
        return Outcome(report_of(step, standing, working, "to be read again"), read_ask(bench, step, unread[0]))
    if standing.worst <= 1.0 and known and not against:
        return Outcome(report_of(step, standing, "held", ""))
    why = _against_words(against) or limit_words(bench, belief, circuit, standing, targets)
    return Outcome(report_of(step, standing, "at-limit", why))


def _still_held(
    bench: Bench, step: CoverageStep | TrackingStep, standing: Standing, against: list[tuple[Target, int]]
) -> Outcome | None:
    """What to say of a passed step that is held by expectation; None where readings agree that it is not.

    One reading alone may be a slip: it is taken again before anything is turned for it.
    """
    if standing.worst > 1.0:
        return None
    doubted = [target for target, times in against if times < AGREED]
    if doubted:
        return Outcome(report_of(step, standing, "disturbed", "to be read again"), read_ask(bench, step, doubted[0]))
    if against or standing.worst_at(LIKELY) > 1.0:
        return None
    return Outcome(report_of(step, standing, "held", ""))


def _read_first(
    bench: Bench,
    belief: Belief,
    step: CoverageStep | TrackingStep,
    targets: tuple[Target, ...],
    band: tuple[Target, ...],
) -> tuple[str, Read] | None:
    """What is to be read before anything is planned, and what the report says of that."""
    name, circuit = step.circuit, belief.circuits[step.circuit]
    look = look_after(bench, step, circuit)
    if look is not None:
        return TELLS, look
    unseen = _unread(bench, name, targets, bench.last_lost(name))
    own = goal_of(belief, targets)
    known_by = zip(targets, doubts_of(circuit, own), strict=True)
    vague = [t for t, doubt in known_by if t in unseen and doubt > KNOWN]
    if vague:
        return _progress(bench, name, targets, unseen), read_ask(bench, step, vague[0])
    begun = touched(bench, step) or _unread(bench, name, targets, bench.last_move(name))
    beyond = None if begun else _open_place(bench, belief, circuit, own, band)
    if beyond is None:
        return None
    read = read_ask(bench, step, beyond)
    return "read away from its points too", msgspec.structs.replace(read, why=f"{_BALANCED} {read.why}")


def _turn_next(
    bench: Bench,
    belief: Belief,
    step: CoverageStep | TrackingStep,
    goals: tuple[Goal, ...],
    targets: tuple[Target, ...],
) -> tuple[str, Read | Touch] | None:
    """The next touch that is worth while, or a level before it, and what the report says of that."""
    name, circuit = step.circuit, belief.circuits[step.circuit]
    again, worst = touched(bench, step), standing_of(circuit, belief, targets).worst
    near = worst <= NEAR
    if _hopeless(bench, step) or (near and len(goals) == 1):
        return None
    plan = _planned(bench, belief, step, goals, targets, again, _spare(bench, belief, circuit, step, targets))
    unread = _unread(bench, name, targets, bench.last_move(name))
    if not plan.order or (near and gain_of(circuit, plan) <= WORTH) or (unread and frozenset(plan.order) <= again):
        return None
    if _blind(bench, belief, step, plan, targets):
        return None
    left = left_as_it_was(bench, step) if worst <= 1.0 else frozenset()
    ask = _first_to_turn(bench, belief, step, plan, targets, left)
    if ask is None:
        return None
    look = None if plan.goal is goals[0] else look_before(bench, step, belief, circuit, ask)
    return (f"{ask.adjuster} is to be touched", ask) if look is None else (TELLS, look)


def _planned(
    bench: Bench,
    belief: Belief,
    step: CoverageStep | TrackingStep,
    goals: tuple[Goal, ...],
    targets: tuple[Target, ...],
    again: frozenset[str],
    spare: float,
) -> Plan:
    """The plan, an adjuster that was touched twice running last: turns about end even where models fail."""
    circuit, own = belief.circuits[step.circuit], goal_of(belief, targets)
    plan = plan_for(bench, belief, circuit, goals, own, again, spare=spare)
    touches = [e.ask.adjuster for e in bench.ledger.of_step(step.id) if isinstance(e.ask, Touch)][-2:]
    if not plan.order or touches != [plan.order[0]] * 2:
        return plan
    return replace(plan, order=(*plan.order[1:], plan.order[0]))


def _first_to_turn(
    bench: Bench,
    belief: Belief,
    step: CoverageStep | TrackingStep,
    plan: Plan,
    targets: tuple[Target, ...],
    left: frozenset[str],
) -> Touch | None:
    """The touch of the first adjuster in a plan's order that does not stand at its aim already, nor was left."""
    for n in range(len(plan.order)):
        turned = replace(plan, order=(*plan.order[n:], *plan.order[:n]))
        ask = touch_ask(bench, belief, belief.circuits[step.circuit], turned, step.id, targets)
        if ask.adjuster not in left and not _stands_there(bench, ask):
            return ask
    return None


def _stands_there(bench: Bench, ask: Touch) -> bool:
    """Whether the newest reading since the last touch is the aim already."""
    spot = spot_of(bench.procedure, ask.step, ask.point)
    here = [e.hz for e in _seen(bench, ask.circuit) if e.spot == spot]
    if not here:
        return False
    shown = bench.instruments.displayed_hz(here[-1]) if ask.aim.quantity == "frequency" else here[-1]
    return abs(shown - ask.aim.value) <= ask.aim.within


def _spare(
    bench: Bench,
    belief: Belief,
    circuit: CircuitBelief,
    step: CoverageStep | TrackingStep,
    targets: tuple[Target, ...],
) -> float:
    """What the band must leave in hand at the points, in tolerances: a loss in dB is as doubtful as the Q behind it."""
    in_db = isinstance(step, TrackingStep) and step.tolerance_hz is None
    q_sd = ENOUGH if looked_before(bench, step, circuit) else circuit.quality[1]
    return spare_for(max(SURE * doubt_once_set(circuit, goal_of(belief, targets)), EVEN * q_sd if in_db else 0.0))


def _within(circuit: CircuitBelief, belief: Belief, targets: tuple[Target, ...], tolerances: float) -> bool:
    """Whether the greatest error to be reckoned with is, what may have drifted since the last reading left out."""
    return standing_of(circuit.rested, belief, targets).worst_sure <= tolerances


def _contradicted(bench: Bench, belief: Belief, circuit: str, targets: tuple[Target, ...]) -> list[tuple[Target, int]]:
    """Points whose newest reading is out of tolerance though the rest says otherwise, and how many say so in a row.

    The fit weighs such readings down; nothing may be called held against them unseen.
    """
    down = belief.circuits[circuit].fit.weights
    seen = _seen(bench, circuit)
    found = []
    for target in targets:
        here = [e for e in seen if e.spot == target.spot]
        if here and here[-1].seq in down and abs(here[-1].hz - target.wanted_hz) > target.tolerance_hz:
            found.append((target, len(list(takewhile(lambda e: e.seq in down, reversed(here))))))
    return found


def _doubtful(bench: Bench, circuit: str, standing: Standing, targets: tuple[Target, ...]) -> list[Target]:
    """Points within tolerance by expectation, though not safely, that another reading may still settle."""
    spots = [e.spot for e in _seen(bench, circuit)]
    doubtful = [
        t
        for t, worst in zip(targets, standing.most_at(SAFE), strict=True)
        if worst > 1.0 and spots.count(t.spot) < AGREED
    ]
    return [t for t in doubtful if _readable(bench, circuit, t)] if standing.worst <= 1.0 else []


def _against_words(against: list[tuple[Target, int]]) -> str:
    if not against:
        return ""
    return f"readings at {show(against[0][0].spot.hz, 'Hz')} contradict all the others: look for why"


def _unread(bench: Bench, circuit: str, targets: tuple[Target, ...], since: int) -> list[Target]:
    seen = bench.seen_since(circuit, since)
    return [t for t in targets if t.spot not in seen and _readable(bench, circuit, t)]


def _open_place(
    bench: Bench, belief: Belief, circuit: CircuitBelief, own: Goal, band: tuple[Target, ...]
) -> Target | None:
    """The place of the band, never read, where a circuit is known least, if that is too little to balance the band.

    Read once it tells how the curve runs there: the adjusters lift and tilt it, and bend it hardly. Where the points
    themselves cannot come right there is no balance to be sought.
    """
    if not band or best_of(circuit, own, movables(bench, belief, circuit)).worst > 1.0:
        return None
    name, doubts = circuit.frame.id, doubts_of(circuit, goal_of(belief, band))
    unread = _unread(bench, name, band, -1)
    if len(band) - len(unread) >= MOST_OPEN:
        return None
    left = [(doubt, t) for t, doubt in zip(band, doubts, strict=True) if t in unread and doubt > OPEN]
    return max(left, key=lambda one: one[0])[1] if left else None


def _readable(bench: Bench, circuit: str, target: Target) -> bool:
    quantity = "frequency" if bench.procedure.circuit(circuit).role == "oscillator" else "resonance"
    return not any(q == quantity and p == target.point for _, q, p in bench.ledger.unreadable)


def _seen(bench: Bench, circuit: str) -> list[Sighted]:
    """The readings of a circuit since the last touch, oldest first."""
    last = bench.last_move(circuit)
    return [e for e in bench.ledger.events if isinstance(e, Sighted) and e.circuit == circuit and e.seq > last]


def _all_seen(bench: Bench, circuit: str, targets: tuple[Target, ...]) -> bool:
    """Whether every point was really read since the last touch; one that cannot be read is not."""
    seen = bench.seen_since(circuit, bench.last_move(circuit))
    return all(t.spot in seen for t in targets)


def _blind(
    bench: Bench, belief: Belief, step: CoverageStep | TrackingStep, plan: Plan, targets: tuple[Target, ...]
) -> bool:
    """Whether there was nothing to read where the next touch would be made."""
    point = target_for(belief.frame.handles[plan.order[0]].setting, targets).point
    return any(at == step.id and p == point and q != "level" for at, q, p in bench.ledger.unreadable)


def touched(bench: Bench, step: CoverageStep | TrackingStep) -> frozenset[str]:
    """The adjusters that were touched in a step."""
    entries = bench.ledger.of_step(step.id)
    return frozenset(e.ask.adjuster for e in entries if isinstance(e.ask, Touch) and isinstance(e.answer, Result))


def _hopeless(bench: Bench, step: CoverageStep | TrackingStep) -> bool:
    touches = sum(isinstance(e.ask, Touch) for e in bench.ledger.of_step(step.id))
    return touches >= PATIENCE * max(len(bench.procedure.circuit(step.circuit).adjusters), 1)


def read_ask(bench: Bench, step: CoverageStep | TrackingStep, target: Target) -> Read:
    """A plain reading of the step's circuit at a target."""
    quantity = "frequency" if bench.procedure.circuit(step.circuit).role == "oscillator" else "resonance"
    return Read(
        id=0,
        step=step.id,
        text=read_target_words(target, quantity, step.circuit),
        why=wanted_words(bench, step.circuit, target, quantity),
        quantity="frequency" if quantity == "frequency" else "resonance",
        circuit=step.circuit,
        point=target.point,
        generator=None if quantity == "frequency" else bench.generator(target.spot.hz),
    )


def wanted_words(bench: Bench, circuit: str, target: Target, quantity: str) -> str:
    """Where a circuit should stand at a target, in the instrument's figures too where those are others."""
    wanted, shown = show(target.wanted_hz, "Hz", target.tolerance_hz / 20.0), ""
    if quantity == "frequency" and bench.instruments.counting.shows != "oscillator":
        counter_hz = bench.instruments.displayed_hz(target.wanted_hz)
        shown = f": the counter would then show {show(counter_hz, 'Hz', bench.instruments.shown_step_hz())}"
    return f"{circuit} should stand at {wanted} here, within {allowed_words(target.tolerance_hz)}{shown}."


def read_target_words(target: Target, quantity: str, circuit: str) -> str:
    """What to tune, and what to read there."""
    what = {
        "frequency": "the counter. Hand and tool away from the circuits first",
        "resonance": f"the resonance of {circuit} (dip meter near its coil, or a swept analyser)",
        "level": "the level",
        "volts": "the voltage",
    }[quantity]
    return f"{tune_words(target)} and read {what}."


def _progress(bench: Bench, circuit: str, targets: tuple[Target, ...], unseen: list[Target]) -> str:
    """How many points are read; where points that were read are read anew, because of which adjuster."""
    lost = bench.last_lost_adjuster(circuit)
    again = bench.seen_since(circuit, -1) & {target.spot for target in unseen}
    why = f", for {lost} was turned" if lost and again else ""
    return f"{len(targets) - len(unseen)} of {len(targets)} points read{why}"
