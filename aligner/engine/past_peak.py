"""Turning on past a peak: the half-way aim of a circuit whose resonance cannot be read.

With one adjuster right and the other wrong a circuit peaks nowhere on the set's own tuning, so the adjuster just peaked
is turned on by the part that the model gives. Best by the level: fallen by so many decibels it is so many widths off,
and as the way before the peak was seen as a fall too, the Q of the circuit drops out of their ratio. Where the meter's
law is not known, by counted turns.
"""

import numpy as np

from aligner.engine.answers import Reading
from aligner.engine.asks import Aim, Amount, Peak, Touch
from aligner.engine.bench import goal_of, movables
from aligner.engine.history import Entry
from aligner.engine.instruments import received_spot
from aligner.engine.ledger import went_against
from aligner.engine.peaking import Scene
from aligner.engine.touches import amount_of, direction_of, turns_of_shift, way_words
from aligner.estimate.best import best_of
from aligner.estimate.events import Moved
from aligner.estimate.falls import widths_of
from aligner.estimate.frame import Handle
from aligner.quantity import show

LEAST_TRUST = 0.4
"""Below this the way past a peak is known no better than that there is one."""
WELL_TRUSTED = 0.85
"""Above this it is known well enough to go it without another look (two and a half standard errors)."""
_CAME_SURELY = 1.5
"""Standard errors of the way to the peak that make its direction certain enough."""
LEAST_TURN = 0.09
"""Turns that are not worth turning: less than an eighth cannot be counted."""
LEAST_FALL_DB = 0.1
"""A fall that is not worth turning for: the meter hardly shows it."""
MOST_FALL_DB = 24.0
"""How far the skirts of a circuit are trusted to be those of a single tuned one; beyond it, in two bites."""


def past_the_peak(scene: Scene, touches: list[Entry], least_trust: float = LEAST_TRUST) -> Touch | None:
    """After a peak: the rest of the adjuster's way, where that is known better than it is long."""
    if not touches or not isinstance(touches[-1].ask, Peak) or not isinstance(touches[-1].answer, Reading):
        return None
    ask, answer = touches[-1].ask, touches[-1].answer
    if ask.adjuster not in scene.plan.everything.shifts or _left_again(scene, touches[-1]):
        return None
    if _turned_again(scene, touches[-1], ask.adjuster):
        return None
    if scene.bench.instruments.in_db:
        if not _surely_onward(scene, touches[-1], ask.adjuster):
            return None
        return _by_fall(scene, ask, answer.value, least_trust)
    return None if answer.turns is None else _by_turns(scene, ask)


def _turned_again(scene: Scene, peak: Entry, adjuster: str) -> bool:
    """Whether the adjuster was turned on from its peak by nobody knows how much, and its ask left or taken back."""
    moved = (e for e in scene.bench.ledger.events if isinstance(e, Moved) and e.adjuster == adjuster)
    return any(e.seq > 2 * peak.seq for e in moved)


def _left_again(scene: Scene, peak: Entry) -> bool:
    """Whether the tool was taken away to read elsewhere: then a counted adjuster is peaked anew, to be led by turns."""
    handles = scene.belief.frame.handles
    counted = any(handles[a].adjuster.counted for a in scene.plan.everything.shifts)
    return counted and scene.bench.ledger.of_step(scene.step.id)[-1] is not peak


def _surely_onward(scene: Scene, peak: Entry, adjuster: str) -> bool:
    """Whether the adjuster belongs further the way in which it came to its peak, by every fit that is credible.

    Near its place a circuit comes from either side by chance, and going on would only lead away.
    """
    for circuit in (scene.circuit, *scene.circuit.others):
        fit = circuit.fit
        column = fit.layout.moves[2 * peak.seq]
        came, sd = float(fit.mean[column]), float(np.sqrt(fit.covariance[column, column]))
        rest = best_of(
            circuit, goal_of(scene.belief, scene.targets), movables(scene.bench, scene.belief, circuit)
        ).shifts[adjuster]
        if came * rest <= 0.0 or abs(came) < _CAME_SURELY * sd:
            return False
    return True


def _by_fall(scene: Scene, ask: Peak, peak_db: float, least_trust: float) -> Touch | None:
    widths, sd = widths_to_go(scene, ask)
    trust = widths**2 / (widths**2 + sd**2) if widths else 0.0
    fall_db = min(float(10.0 * np.log10(1.0 + (trust * widths) ** 2)), MOST_FALL_DB)
    if trust < least_trust or fall_db < LEAST_FALL_DB:
        return None
    return _fall_ask(scene, ask, peak_db, fall_db)


def widths_to_go(scene: Scene, ask: Peak) -> tuple[float, float]:
    """Q x at the peak's place [1] when the adjuster stands where it belongs, and its standard error.

    With s the way in the settings and p its slope there, W = Q p s and dW = Q p ds + W dQ/Q.
    """
    fit, circuit = scene.circuit.fit, scene.circuit
    setting = scene.belief.frame.handles[ask.adjuster].setting
    shift = scene.plan.everything.shifts[ask.adjuster]
    here = scene.belief.places_hz((received_spot(ask.generator.hz)[0],)) if ask.generator else np.zeros(1)
    alone = shift * circuit.push(setting)
    off = float(circuit.lny(here, alone)[0] - circuit.lny(here)[0])
    column = fit.layout.quality.get(circuit.frame.id)
    quality = circuit.quality[0]
    row, unseen = _way_row(scene, setting)
    slope = quality * off / shift if shift else 0.0
    by_unknown = -slope * row
    q_sd = circuit.frame.q_sd if column is None else 0.0
    if column is not None:
        by_unknown[column] += quality * off
    variance = float(by_unknown @ fit.covariance @ by_unknown + slope**2 * unseen + (quality * off * q_sd) ** 2)
    return quality * off, float(np.sqrt(variance))


def _way_row(scene: Scene, setting: int) -> tuple[np.ndarray, float]:
    """What a setting has to be moved, by the unknowns (unknowns,), and the variance of the unseen part of it."""
    circuit = scene.circuit
    z = scene.belief.places_hz(tuple(t.spot for t in scene.targets))
    settings = sorted({scene.belief.frame.handles[a].setting for a in scene.plan.everything.shifts})
    solve = np.linalg.pinv(circuit.by_setting(z) @ np.array([circuit.push(k) for k in settings]).T)
    row = solve[settings.index(setting)]
    return row @ circuit.jacobian(z), float(row @ circuit.unseen(z) @ row)


def _by_turns(scene: Scene, ask: Peak) -> Touch | None:
    if not scene.belief.frame.handles[ask.adjuster].adjuster.counted:
        return None
    way = turns_to_go(scene, ask.adjuster)
    if way is None:
        return None
    turns, sd = way
    trust = turns**2 / (turns**2 + sd**2)
    rounded = round(trust * turns * 8.0) / 8.0
    if trust < LEAST_TRUST or abs(rounded) < LEAST_TURN:
        return None
    return _turn_ask(scene, ask, rounded)


def turns_to_go(scene: Scene, adjuster: str) -> tuple[float, float] | None:
    """Turns from here to an adjuster's best setting, with their standard error; None where its effect is not known.

    The effect per turn and the way in the settings are both uncertain, but together: their quotient is what the peaks
    have told. With x the way and e the effect, n = x/e and dn = (dx - n de)/e.
    """
    fit = scene.circuit.fit
    effect = fit.effect(adjuster)
    if effect is None:
        return None
    turns = scene.plan.everything.shifts[adjuster] / effect[0]
    row, unseen = _way_row(scene, scene.belief.frame.handles[adjuster].setting)
    by_unknown = -row / effect[0] - turns * fit.effect_row(adjuster, ahead=0.5 * turns)
    return float(turns), float(np.sqrt(by_unknown @ fit.covariance @ by_unknown + unseen / effect[0] ** 2))


def _fall_ask(scene: Scene, peak: Peak, peak_db: float, fall_db: float) -> Touch:
    """An adjuster turned on past the peak where it stands, until the level has fallen."""
    instruments = scene.bench.instruments
    down = -1.0 if instruments.more_is_up else 1.0
    step = max(instruments.resolution_db, 0.01)
    value = round(peak_db + down * fall_db, 2)
    shift = scene.plan.everything.shifts[peak.adjuster]
    handle = scene.belief.frame.handles[peak.adjuster]
    amount = _rough_amount(scene, peak.adjuster, shift)
    turn = "" if amount is None else f", {'clockwise' if amount.value > 0 else 'anticlockwise'}"
    direction = direction_of(handle.setting, shift) if _to_be_led(scene, handle) else None
    movement = f" ({way_words(handle.adjuster, direction)})" if direction and not turn else ""
    return Touch(
        id=0,
        step=scene.step.id,
        text=(
            f"Leave the tool in {peak.adjuster} and turn on past the peak, the way you came{turn}{movement}, until the "
            f"level has fallen by {show(fall_db, 'dB', step)}, to {show(value, 'dB', step)}. Should it rise again "
            "before that, go back to where it was lowest and report the end of travel."
        ),
        why=_why(scene, peak.adjuster, "there"),
        adjuster=peak.adjuster,
        circuit=peak.circuit,
        point=peak.point,
        generator=peak.generator,
        aim=Aim("level", value, max(step, round(_half_db(fall_db), 2))),
        direction=direction,
        amount=amount,
    )


def _to_be_led(scene: Scene, handle: Handle) -> bool:
    """Whether "more" or "less" is to be said: the sense is known beforehand, or a hand did not go on as it was told.

    A sense that only levels have told is not said: the mirror image of a circuit fits them nearly as well, and the way
    on is the way it came on either side.
    """
    name = handle.adjuster.id
    if name not in scene.circuit.fit.senses:
        return handle.sense != 0
    return any(
        isinstance(e.ask, Touch) and e.ask.adjuster == name and went_against(e.ask, getattr(e.answer, "turns", None))
        for e in scene.bench.ledger.of_step(scene.step.id)
    )


def _rough_amount(scene: Scene, adjuster: str, shift: float) -> Amount | None:
    """Turns, however vague: their sign says which way the hand came, even where a screw works against its custom."""
    effect = scene.belief.effect(adjuster)
    return None if effect is None else turns_of_shift(shift, effect)


def _half_db(fall_db: float) -> float:
    """Half width of a level aim: what a twentieth of the way changes of it."""
    away = widths_of(fall_db)
    return float(10.0 * np.log10((1.0 + (1.05 * away) ** 2) / (1.0 + away**2)))


def _turn_ask(scene: Scene, peak: Peak, turns: float) -> Touch:
    """An adjuster turned on past the peak where it stands, by counted turns."""
    handle = scene.belief.frame.handles[peak.adjuster]
    shift = scene.plan.everything.shifts[peak.adjuster]
    direction = direction_of(handle.setting, shift)
    way = "clockwise" if turns > 0 else "anticlockwise"
    size = show(abs(turns), "turn")
    return Touch(
        id=0,
        step=scene.step.id,
        text=(
            f"Leave the tool in {peak.adjuster} and turn on past the peak by {size} {way} "
            f"({way_words(handle.adjuster, direction)})."
        ),
        why=_why(scene, peak.adjuster, f"{size} further"),
        adjuster=peak.adjuster,
        circuit=peak.circuit,
        point=peak.point,
        generator=peak.generator,
        aim=Aim("turns", turns, 0.125),
        direction=direction,
        amount=amount_of(scene.belief, peak.adjuster, shift),
    )


def _why(scene: Scene, adjuster: str, where: str) -> str:
    others = " and ".join(a for a in scene.plan.everything.shifts if a != adjuster) or "nothing else"
    return f"The peak is not where {adjuster} belongs: with it {where}, {others} will bring the peak back, everywhere."
