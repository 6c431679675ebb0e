"""A circuit of two adjusters on a meter of unknown law: peaks at two places by turns, and counted turns past the peak.

Peaked by turns at a low and at a high place, two adjusters bring a circuit right by themselves; but each round leaves
the share rho of what was wrong, rho = (w/c at the low place) / (w/c at the high one), where the coil changes ln y by c
a step and the trimmer by w. On a narrow band that is two thirds. If turning the counted adjuster (the ruler) from its
peak at the other's place to its peak at its own takes n turns, then rho / (1 - rho) n more the same way leave it where
it belongs: nothing of this needs the meter, the effect of a turn or the sense of the screw. So the ruler is peaked and
turned on, the other is peaked, and again, at places as far apart as the band allows, until the ruler hardly turns; then
both are peaked once more where the best balance crosses nought.

What readings are worth decides sooner only where they leave no doubt: the wide band ends after one round.
"""

from dataclasses import dataclass
from statistics import fmean

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Aim, Amount, Ask, Peak, Point, Touch
from aligner.engine.bench import SAFE, Outcome, Target, movables
from aligner.engine.by_reading import STILL_SURE
from aligner.engine.history import Entry
from aligner.engine.instruments import received_spot
from aligner.engine.ledger import turns_of
from aligner.engine.outcomes import busy
from aligner.engine.past_peak import LEAST_TURN
from aligner.engine.peaking import Scene, peak_ask, peak_targets, round_hz, touches_of, unreadable_at
from aligner.engine.step_reports import report_of
from aligner.engine.trends import contradicted
from aligner.estimate.belief import belief_of
from aligner.estimate.best import Goal
from aligner.estimate.ladder import COIL, INNER, OUTER
from aligner.quantity import show

SLOW = 0.5
"""A share left by each round that is worth going to the ends of the band for."""
INSIDE = 0.02
"""Of the band: so far from its ends a set is sure to come."""
POINTS = 0.146
"""Of the span of a step's points: where the best balance of a plain bend crosses nought (zeros of Chebyshev's T2)."""
COUNT = 0.1
"""Turns by which a count of a few eighths may be wrong: it is rounded, and the thread has play; so it is trusted by
n^2 / (n^2 + COUNT^2) (the mean of a normal distribution from a reading and a prior as wide as the reading)."""
HARDLY = 0.13
"""An eighth of a turn: what is left after it, turned on once more, no further count would tell."""
MOST_ON = 2.5
"""Turns past a peak in one go: along a thread the effect of a turn changes."""
ADJUSTERS = 2
LEFT = 0.02
"""Share of what was wrong that may be left where nobody counts turns."""
AT_REST = "by peaks that have come to rest"
MOST_AGAIN = 3
"""Rounds more at the fine places where the rest leaves it open that a point is out."""
MOST_ROUNDS = 9
"""Rounds after which more of them bring nothing: something is loose, or the count is wrong."""
MOST_BLIND = 15
"""The same where nobody counts turns: each round leaves two thirds on a narrow band, and a set may be far off."""


@dataclass(frozen=True)
class Pair:
    """The adjuster whose turns are counted (the ruler), the other, and where each is peaked.

    rho [1] is the share of what is wrong that one round of peaks leaves at the far places, rho_fine [1] at the fine
    ones; counted: whether there is a ruler at all.
    """

    ruler: str
    other: str
    far: tuple[Target, Target]
    fine: tuple[Target, Target]
    rho: float
    rho_fine: float
    counted: bool


def pair_of(scene: Scene, goal: Goal) -> Pair | None:
    """The two adjusters of a circuit and their places; None where there are other than two, or one is at its end."""
    rows = movables(scene.bench, scene.belief, scene.circuit)
    coils = [m.adjuster for m in rows if m.setting == COIL]
    trimmers = [m for m in rows if m.setting in (INNER, OUTER)]
    if len(rows) != ADJUSTERS or len(coils) != 1 or len(trimmers) != 1:
        return None
    fine = _readable(scene, peak_targets(scene.belief, scene.step.circuit, goal, scene.targets), scene.targets)
    if fine is None:
        return None
    far, setting = fine, trimmers[0].setting
    if _share_left(scene, fine, setting) > SLOW:  # the doubt that is left needs what room the step's own points have
        fine = _readable(scene, _places(scene, *_own_ends_hz(scene), POINTS), fine) or fine
        band = scene.belief.frame.band
        far = _readable(scene, _places(scene, band.low_hz, band.high_hz, INSIDE), fine) or fine
    names = (coils[0], trimmers[0].adjuster)
    if any(_stops_at(scene, a, t) for a, t in zip(names, far, strict=True)):
        far = fine  # nearer to the middle an adjuster need not go so far
    if any(_stops_at(scene, a, t) > 1 for a, t in zip(names, fine, strict=True)):
        return None
    rho, share = _share_left(scene, far, setting), _share_left(scene, fine, setting)
    if not 0.0 < rho <= share < 1.0:
        return None
    coil, trimmer = names
    counted = [_counted(scene, a) for a in (coil, trimmer)]
    if counted[1] and not counted[0]:
        return Pair(trimmer, coil, far[::-1], fine[::-1], rho, share, True)
    return Pair(coil, trimmer, far, fine, rho, share, counted[0])


def _counted(scene: Scene, adjuster: str) -> bool:
    """Whether an adjuster's turns can be counted, and were at each of its peaks."""
    peaks = [e.answer for e in touches_of(scene) if isinstance(e.ask, Peak) and e.ask.adjuster == adjuster]
    told = all(a.turns is not None for a in peaks if isinstance(a, Reading))
    return told and scene.belief.frame.handles[adjuster].adjuster.counted


def _stops_at(scene: Scene, adjuster: str, target: Target) -> int:
    """How many of an adjuster's newest peaks at a place, one after the other, found it at an end of its travel."""
    count = 0
    for entry in reversed(touches_of(scene)):
        if isinstance(entry.ask, Peak) and (entry.ask.adjuster, entry.ask.point) == (adjuster, target.point):
            if not isinstance(entry.answer, Cannot) or entry.answer.why != "end-of-travel":
                break
            count += 1
    return count


def _readable(scene: Scene, wanted: tuple[Target, ...], instead: tuple[Target, ...]) -> tuple[Target, Target] | None:
    """The lowest and the highest of some places where there was a level to be had, else of others."""
    for places in (wanted, instead):
        here = sorted((t for t in places if not unreadable_at(scene, t)), key=lambda t: t.spot.hz)
        if len(here) > 1:
            return here[0], here[-1]
    return None


def _own_ends_hz(scene: Scene) -> tuple[float, float]:
    hz = [t.spot.hz for t in scene.targets]
    return min(hz), max(hz)


def _places(scene: Scene, low_hz: float, high_hz: float, inside: float) -> tuple[Target, ...]:
    """Two places of a span, so much of it inside its ends."""
    span = high_hz - low_hz
    tolerance = fmean(t.tolerance_hz for t in scene.targets)
    rounded = (round_hz(at, span) for at in (low_hz + inside * span, high_hz - inside * span))
    return tuple(Target(*received_spot(hz), hz, tolerance) for hz in rounded)


def _share_left(scene: Scene, places: tuple[Target, Target], trimmer: int) -> float:
    """rho [1] of a round of peaks at two places (low, high), by the circuit as it is meant to be."""
    nominal = belief_of(scene.belief.frame, ()).circuits[scene.step.circuit]
    by_setting = nominal.by_setting(scene.belief.places_hz(tuple(t.spot for t in places)))
    ratio = (by_setting @ nominal.push(trimmer)) / (by_setting @ nominal.push(COIL))
    return float(ratio[0] / ratio[1])


def work(scene: Scene, pair: Pair, *, passed: bool) -> Outcome | None:
    """Report and next ask; None where rounds have come to nothing, and what is known otherwise must decide."""
    touches = touches_of(scene)
    standing = scene.standing
    if passed and standing.worst <= 1.0 and standing.worst_at(1.0) <= STILL_SURE:
        return Outcome(report_of(scene.step, standing, "held", ""))
    if _peaked_both(pair, touches) and not contradicted(scene.bench, scene.step):
        rested = _at_rest(scene, pair, touches)
        if rested and (standing.worst_sure <= 1.0 or _again(pair, touches) > MOST_AGAIN):
            return Outcome(report_of(scene.step, standing, "held", AT_REST))
        if standing.worst_at(SAFE) <= 1.0:
            return Outcome(report_of(scene.step, standing, "held", ""))
    if _rounds(pair, touches) >= (MOST_ROUNDS if pair.counted else MOST_BLIND):
        return None
    report = report_of(scene.step, standing, busy(passed=passed), "by level")
    return Outcome(report, next_of(scene, pair, touches))


def next_of(scene: Scene, pair: Pair, touches: list[Entry]) -> Ask:
    """The next peak of the round, or on past the one just made."""
    if not touches:
        begin = pair.far[1] if pair.counted else pair.far[0]
        return peak_ask(scene, pair.ruler, begin, first=True)
    last = touches[-1]
    onward = _onward(scene, pair, touches)
    if onward is not None:
        return onward
    near = _near(pair, touches)
    if not _is_of(last, pair.ruler):
        return peak_ask(scene, pair.ruler, (pair.fine if near else pair.far)[0], first=False)
    if _point(last) == pair.far[1].point and isinstance(last.answer, Reading):
        return peak_ask(scene, pair.ruler, pair.far[0], first=False)
    finer = near and _point(last) == pair.fine[0].point
    return peak_ask(scene, pair.other, (pair.fine if finer else pair.far)[1], first=False)


def _onward(scene: Scene, pair: Pair, touches: list[Entry]) -> Touch | None:
    """The ruler on past its peak, as far as the turns to it tell; nothing where they are too few to be trusted."""
    turns = _turned_to_peak(pair, touches)
    last = touches[-1].ask
    if turns is None or not isinstance(last, Peak) or last.adjuster != pair.ruler or _beyond(scene, touches[-1]):
        return None
    far = last.point == pair.far[0].point
    if abs(turns) < LEAST_TURN or (not far and abs(turns) <= HARDLY):
        return None
    rho = pair.rho if far else pair.rho_fine
    trust = turns**2 / (turns**2 + COUNT**2)
    onward = round(8.0 * min(max(trust * turns * rho / (1.0 - rho), -MOST_ON), MOST_ON)) / 8.0
    return _turn_ask(scene, pair, last, onward) if abs(onward) > LEAST_TURN else None


def _beyond(scene: Scene, peak: Entry) -> bool:
    """Whether the tool was taken away since a peak, to read elsewhere."""
    return scene.bench.ledger.of_step(scene.step.id)[-1] is not peak


def _turned_to_peak(pair: Pair, touches: list[Entry]) -> float | None:
    """Turns of the ruler's newest peak at its own place from a peak at the other's; None where one of them failed."""
    for before, entry in zip(reversed(touches[:-1]), reversed(touches[1:]), strict=True):
        if not _is_of(entry, pair.ruler) or not isinstance(entry.ask, Peak) or _point(entry) not in _points(pair, 0):
            continue
        peaked = isinstance(before.ask, Peak) and _point(before) in _points(pair, 1)
        if not peaked or not isinstance(before.answer, Reading) or not isinstance(entry.answer, Reading):
            return None
        return turns_of(entry.ask, entry.answer)
    return None


def _near(pair: Pair, touches: list[Entry]) -> bool:
    """Whether the ruler hardly turned to its newest peak; where nobody counts, whether so many rounds must do."""
    if not pair.counted:
        return pair.rho ** _rounds(pair, touches) < LEFT
    turns = _turned_to_peak(pair, touches)
    return turns is not None and abs(turns) <= HARDLY


def _at_rest(scene: Scene, pair: Pair, touches: list[Entry]) -> bool:
    """Whether the ruler turned by next to nothing to its newest peak, and nothing was moved since the last one."""
    if not _near(pair, touches):
        return False
    moved = max(scene.bench.last_move(c) for c in (scene.step.circuit, scene.belief.frame.oscillator))
    return moved <= 2 * touches[-1].seq


def _peaked_both(pair: Pair, touches: list[Entry]) -> bool:
    """Whether the last two visits peaked the ruler and the other at their fine places."""
    last = touches[-2:]
    wanted = [(pair.ruler, pair.fine[0].point), (pair.other, pair.fine[1].point)]
    done = all(isinstance(e.ask, Peak) and isinstance(e.answer, Reading) for e in last)
    return done and [(getattr(e.ask, "adjuster", ""), _point(e)) for e in last] == wanted


def _again(pair: Pair, touches: list[Entry]) -> int:
    """How often the other was peaked at its fine place."""
    return sum(_is_of(e, pair.other) and _point(e) == pair.fine[1].point for e in touches)


def _rounds(pair: Pair, touches: list[Entry]) -> int:
    return sum(_is_of(e, pair.other) for e in touches)


def _is_of(entry: Entry, adjuster: str) -> bool:
    return getattr(entry.ask, "adjuster", "") == adjuster


def _point(entry: Entry) -> Point | None:
    return getattr(entry.ask, "point", None)


def _points(pair: Pair, side: int) -> tuple[Point, Point]:
    """The far and the fine place of the ruler (side 0) or of the other (side 1)."""
    return pair.far[side].point, pair.fine[side].point


def _turn_ask(scene: Scene, pair: Pair, peak: Peak, turns: float) -> Touch:
    size, way = show(abs(turns), "turn"), "clockwise" if turns > 0 else "anticlockwise"
    return Touch(
        id=0,
        step=scene.step.id,
        text=f"Leave the tool in {pair.ruler} and turn on past the peak, the way you came: by {size} {way}.",
        why=(
            f"The peak is not where {pair.ruler} belongs: {pair.other} is still wrong. From {size} further, "
            f"{pair.other} will bring the peak back, everywhere; the turns to the peak tell how far."
        ),
        adjuster=pair.ruler,
        circuit=peak.circuit,
        point=peak.point,
        generator=peak.generator,
        aim=Aim("turns", turns, 0.125),
        amount=Amount(turns, "turn", 0.125),
    )
