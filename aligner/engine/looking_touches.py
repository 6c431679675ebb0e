"""Touches of a circuit that is looked at between them: to the peak where that is right, else on to an aim past it.

With two adjusters to set, the circuit must stand off by a known amount after the first, so that the second brings it
right everywhere. Where the curve that the first one shall leave crosses nought inside the band, it is peaked there.
Else it is turned on past a peak until the level has fallen by so much, or peaked with the stage held at a voltage of
its own. How well the way is known decides: an aim that would leave too much to the other adjuster is not worth a turn.
"""

import msgspec
import numpy as np

from aligner.engine.answers import Reading
from aligner.engine.asks import Aim, Peak, Touch
from aligner.engine.bench import Target, way_gone
from aligner.engine.history import Entry
from aligner.engine.instruments import received_spot
from aligner.engine.looks import Scale
from aligner.engine.peaking import Scene, peak_again, to_peak, touches_of
from aligner.engine.touches import amount_of, direction_of, target_for, tune_words, way_words
from aligner.estimate.best import Best, errors_of
from aligner.estimate.falls import widths_of
from aligner.estimate.ladder import Array
from aligner.quantity import show

AIMED = 0.25
"""In tolerances: what the doubt of an aim may leave after the other adjusters have done their best (standard error)."""
LEAST_FALL_DB = 0.3
"""A smaller fall lies in the meter's own doubt."""
MOST_FALL_DB = 24.0
"""How far the skirts of a circuit are trusted to be those of a single tuned one."""
MISSED = 0.08
"""In tolerances: a peak is made once more, the tool still in its adjuster, where the greatest error would be so much
less had it been met; a fine peak is met to a tenth or so."""
MOST_PEAKS = 3
"""How often a peak is made in one visit."""
_PLACES = 121
_HALF_V = 0.005


def others_of(scene: Scene, name: str) -> list[str]:
    """The other adjusters that the plan moves."""
    return [a for a in scene.plan.order if a != name]


def shift_alone(scene: Scene, best: Best, name: str) -> Array:
    """What the settings (4,) move by when an adjuster goes its part of a plan, and no other."""
    return best.shifts[name] * scene.circuit.push(scene.belief.frame.handles[name].setting)


def own_target(scene: Scene, name: str) -> Target:
    """The end of the step's points where an adjuster does most."""
    return target_for(scene.belief.frame.handles[name].setting, scene.targets)


def still_there(scene: Scene, last: Entry | None) -> bool:
    """Whether nothing was looked at elsewhere since the last peak, so that the tool still sits in its adjuster."""
    entries = scene.bench.ledger.of_step(scene.step.id)
    since = [e for e in entries if last is not None and e.seq > last.seq]
    return all(getattr(e.ask, "point", None) == getattr(last.ask, "point", None) for e in since if last and e.ask)


def missed_place(scene: Scene, last: Entry | None) -> Target | None:
    """The place of a peak that shall be the last of its circuit: a look there tells how well it was met."""
    if scene.way != "wand" or last is None or not isinstance(last.ask, Peak) or last.ask.generator is None:
        return None
    if not isinstance(last.answer, Reading) or scene.standing.worst > 1.0 or not still_there(scene, last):
        return None
    hz = last.ask.generator.hz
    return Target(*received_spot(hz), hz, scene.targets[0].tolerance_hz)


def once_more(scene: Scene, last: Entry | None) -> Peak | None:
    """The same peak again within the same visit, where looks tell that the hand has missed it."""
    place = missed_place(scene, last)
    if place is None or last is None or not isinstance(last.ask, Peak):
        return None
    name, goal, circuit = last.ask.adjuster, scene.plan.goal, scene.circuit
    alike = [e.ask for e in touches_of(scene)[-MOST_PEAKS:]]
    if all(isinstance(a, Peak) and (a.adjuster, a.point) == (name, place.point) for a in alike):
        return None
    shift, _ = to_peak(scene, circuit, name, place)
    met = shift * circuit.push(scene.belief.frame.handles[name].setting)
    now, then = (np.max(np.abs(errors_of(circuit, goal, x))) for x in (np.zeros(4), met))
    return peak_again(scene, last.ask, shift) if now - then > MISSED else None


def left_by_doubt(scene: Scene, name: str) -> float:
    """What the doubt of a way past the peak leaves, in tolerances, when the plan's others do their best after it.

    Turned on by W = Q p s widths (p the slope, s the way), the adjuster goes s Q(believed)/Q, and what it should have
    gone is in doubt by ds: the sum is what counts, for falls and wand tests tell widths better than hertz.
    """
    circuit, goal, fit = scene.circuit, scene.plan.goal, scene.circuit.fit
    z = scene.belief.places_hz(tuple(t.spot for t in scene.targets))
    names = list(scene.plan.order)
    n = names.index(name)
    pushes = np.array([circuit.push(scene.belief.frame.handles[a].setting) for a in names])
    row = np.linalg.pinv(circuit.by_setting(z) @ pushes.T)[n]
    doubt = -row @ circuit.jacobian(z)
    column = fit.layout.quality.get(circuit.frame.id)
    shift = scene.plan.chosen.shifts[name]
    if column is not None:
        doubt[column] += shift
    alone = 0.0 if column is not None else shift * circuit.frame.q_sd
    variance = float(doubt @ fit.covariance @ doubt + row @ circuit.unseen(z) @ row + alone**2)
    columns = (0.5 * goal.wanted_hz / goal.tolerance_hz)[:, None] * (circuit.by_setting(goal.z_hz) @ pushes.T)
    rest = np.delete(columns, n, axis=1)
    left = columns[:, n] - rest @ np.linalg.lstsq(rest, columns[:, n], rcond=None)[0]
    return float(np.max(np.abs(left)) * np.sqrt(variance))


def onward(scene: Scene, last: Entry | None) -> Touch | None:
    """After a peak that is not where its adjuster belongs: on past it until the level has fallen by so much."""
    if last is None or not isinstance(last.ask, Peak) or not isinstance(last.answer, Reading):
        return None
    ask, name = last.ask, last.ask.adjuster
    if name not in scene.plan.order or ask.generator is None or not scene.bench.instruments.in_db:
        return None
    here = scene.belief.places_hz((received_spot(ask.generator.hz)[0],))
    off = scene.circuit.lny(here, shift_alone(scene, scene.plan.chosen, name)) - scene.circuit.lny(here)
    fall_db = min(10.0 * float(np.log10(1.0 + (scene.circuit.quality[0] * off[0]) ** 2)), MOST_FALL_DB)
    if fall_db < LEAST_FALL_DB or left_by_doubt(scene, name) > AIMED:
        return None
    fall = _fall_ask(scene, ask, last.answer.value, fall_db)
    return _turned_round(scene, fall, last) if _past_middle(scene, last) else fall


def _past_middle(scene: Scene, peak: Entry) -> bool:
    """Whether an adjuster came to its peak against what its turns tell: a core is past the middle of its coil."""
    turns = peak.answer.turns if isinstance(peak.answer, Reading) else None
    effect = scene.circuit.fit.effect(getattr(peak.ask, "adjuster", ""))
    return effect is not None and way_gone(scene.circuit, 2 * peak.seq) * (turns or 0.0) * effect[0] < 0.0


def _turned_round(scene: Scene, fall: Touch, peak: Entry) -> Touch | None:
    """The same touch by the way in which the adjuster came, where that leads on: words for more and less would lie."""
    if way_gone(scene.circuit, 2 * peak.seq) * scene.plan.chosen.shifts[fall.adjuster] <= 0.0:
        return None
    until = fall.text.partition("until ")[2]
    return msgspec.structs.replace(
        fall,
        text=f"Leave the tool in {fall.adjuster} and turn on past the peak, the way you came to it, until {until}",
        direction=None,
        amount=None,
    )


def _fall_ask(scene: Scene, peak: Peak, peak_db: float, fall_db: float) -> Touch:
    instruments = scene.bench.instruments
    step = max(instruments.resolution_db, 0.01)
    value = round(peak_db - fall_db if instruments.more_is_up else peak_db + fall_db, 2)
    handle = scene.belief.frame.handles[peak.adjuster]
    shift = scene.plan.chosen.shifts[peak.adjuster]
    direction = direction_of(handle.setting, shift)
    away = widths_of(fall_db)
    return Touch(
        id=0,
        step=scene.step.id,
        text=(
            f"Leave the tool in {peak.adjuster} and turn on past the peak ({way_words(handle.adjuster, direction)}), "
            f"until the level has fallen by {show(fall_db, 'dB', step)}, to {show(value, 'dB', step)}."
        ),
        why=_why(scene, peak.adjuster),
        adjuster=peak.adjuster,
        circuit=peak.circuit,
        point=peak.point,
        generator=peak.generator,
        aim=Aim("level", value, max(step, round(10.0 * float(np.log10((1 + (1.03 * away) ** 2) / (1 + away**2))), 2))),
        direction=direction,
        amount=amount_of(scene.belief, peak.adjuster, shift),
    )


def held_ask(scene: Scene, name: str, scale: Scale) -> Touch | None:
    """An adjuster peaked with the stage held at the voltage that makes it right; None where no such voltage is."""
    own = own_target(scene, name)
    settings = shift_alone(scene, scene.plan.chosen, name)
    places = np.linspace(*scale.ends_hz, _PLACES)
    z = scene.belief.places_hz(tuple(received_spot(float(x))[0] for x in places))
    hz = scene.circuit.hz(z, settings) - own.spot.hz
    crossed = np.nonzero(np.diff(np.sign(hz)) != 0)[0]
    if not len(crossed):
        return None
    n = crossed[0]
    place = float(places[n] + (places[n + 1] - places[n]) * hz[n] / (hz[n] - hz[n + 1]))
    volts = round(scale.volts(place), 3)
    handle = scene.belief.frame.handles[name]
    shift = scene.plan.chosen.shifts[name]
    direction = direction_of(handle.setting, shift)
    where = f" ({handle.adjuster.where})" if handle.adjuster.where else ""
    most = "highest" if scene.bench.instruments.more_is_up else "lowest"
    return Touch(
        id=0,
        step=scene.step.id,
        text=(
            f"{tune_words(own)}, generator to {show(own.spot.hz, 'Hz')}. Hold the tuning voltage of "
            f"{scene.step.circuit} alone at {show(volts, 'V', 0.001)} and turn {name}{where} for the {most} reading: "
            f"{way_words(handle.adjuster, direction)}. Read the voltage that peaks the stage then."
        ),
        why=_why(scene, name),
        adjuster=name,
        circuit=scene.step.circuit,
        point=own.point,
        generator=scene.bench.generator(own.spot.hz),
        aim=Aim("volts", volts, _HALF_V),
        direction=direction,
        amount=amount_of(scene.belief, name, shift),
    )


def _why(scene: Scene, name: str) -> str:
    rest = " and ".join(others_of(scene, name))
    if not rest:
        return f"The peak there is not yet where {name} belongs: so it will be right at every point."
    return f"The peak there is not where {name} belongs: from here {rest} will bring the peak back, at every point."
