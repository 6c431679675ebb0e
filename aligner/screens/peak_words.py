"""Words while a peak is sought, and for turning on past it: what to do next, which key does it, how near will do."""

import math

from aligner.engine.answers import Reading
from aligner.engine.asks import Peak, Touch
from aligner.engine.gauge import Gauge
from aligner.quantity import show
from aligner.screens.desk import Desk
from aligner.screens.leads import Lead, lead
from aligner.screens.peaks import FALL_DB, Search, is_fine
from aligner.screens.stream import Stream
from aligner.screens.view import Asked
from aligner.screens.words import EIGHTH

_MOST_COUNTED = 30
"""So many presses are counted to a person; of more only how far it is."""

TAKEN_UP = "Turn on from here: what was turned before the break is not counted"

_UNTOUCHED = "Nothing was turned yet, and this is not the aim: Enter again takes it as left here."
_UNTURNED = "Nothing was turned yet, so no peak was seen: Enter again takes it as left here."
_UNMOVED = "The reading has not moved yet, so no peak was seen: Enter again takes it as left here."

_FINEST = 1024
"""What is left below an eighth is told in parts by halves, down to this one: the arrow keys are finer than a hand."""

_WANTED = {"max": "highest", "min": "lowest", "null": "nearest to nought"}


def peak_words(desk: Desk, asked: Asked, found: Search) -> str:
    """What the hand does next."""
    ask = desk.ask
    if not isinstance(ask, Peak):
        return ""
    best = _WANTED[ask.find]
    match lead(desk, ask, found):
        case "unled":
            return "The arrow keys turn the adjuster, not the gang: a lets the owner rock both"
        case "stop":
            middle = found.phase == "middle" and not found.short
            return f"= STOP {'in the middle' if middle else f'at the {best}'}: Enter takes it"
        case "start":
            return f"Turn for the {best} reading: {_first(desk, asked)}"
        case leads:
            return _led(desk, ask, found, leads)


def _led(desk: Desk, ask: Peak, found: Search, leads: Lead) -> str:
    off, back = _off(desk, ask, found), _key(desk, found.home)
    match leads:
        case "climb":
            return _climb(desk, ask, found)
        case "middle":
            return _middle(desk, ask, found)
        case "over" | "home":
            return _home(desk, ask, found, over=leads == "over")
        case "other-peak":
            return f"{off}: it {'falls' if ask.find == 'min' else 'rises'} to another peak: back{back}"
        case "other-way":
            return f"{off} from where it stood: the other way{back}"
    return _on(desk, ask, found, beyond=leads == "beyond")


def _on(desk: Desk, ask: Peak, found: Search, *, beyond: bool) -> str:
    """Past the best it has not fallen far enough yet, on the first side or beyond it on the other."""
    on = _key(desk, _newest(desk))
    if beyond and desk.stream is not None and found.fallen <= 3 * desk.stream.resolution:
        return f"Back at the {_WANTED[ask.find]}: go on{on}, {FALL_DB:g} dB beyond it"
    side = " on the other side" if beyond else ""
    return f"{_off(desk, ask, found)}{side}: go on{on} to {FALL_DB:g} dB"


def _climb(desk: Desk, ask: Peak, found: Search) -> str:
    """It gets better on this way: how far on."""
    turned_back = desk.stream is not None and found.fallen > desk.stream.resolution and found.up * _newest(desk) < 0.0
    on, fine = _key(desk, found.up if turned_back else _newest(desk)), is_fine(ask)
    if found.other:
        past = f"past its {_WANTED[ask.find]} by {FALL_DB:g} dB" if fine else "until it gets worse again"
        return f"That is the other peak, either will do: on{on} {past}"
    best = f"{_WANTED[ask.find].capitalize()} so far"
    if not fine:
        return f"{best}: go on{on} until it gets worse again"
    stopped = desk.stream is not None and desk.stream.at_stop
    if found.anew and not stopped:
        sides = "the side behind is kept" if found.kept else "its sides are not seen yet"
        return f"A new {_WANTED[ask.find]}, {sides}: go on{on}, past it by {FALL_DB:g} dB"
    return best + (", at its end" if stopped else f": go on{on}, past it by {FALL_DB:g} dB")


def _home(desk: Desk, ask: Peak, found: Search, *, over: bool) -> str:
    """The best lies behind: back to it, or over it to the other side."""
    off, back, wanted = _off(desk, ask, found), _key(desk, found.home), _WANTED[ask.find]
    if over and found.jumped:
        return f"{off}, the {wanted} was passed on the way: now back{back}"
    if over and found.unpassed:
        return f"No peak this way: back{back}, over the start and on"
    if over:
        return f"{off}: now back{back} over the {wanted}, to {FALL_DB:g} dB beyond it"
    if not is_fine(ask):
        return f"{off}: turn back{back} to the {wanted}"
    if found.rising:
        return f"{off}: back up{back} to the {wanted}" if ask.find == "max" else f"{off}: back down{back}"
    return f"{off} and at its end: back{back} to the {wanted}, Enter takes it"


def _middle(desk: Desk, ask: Peak, found: Search) -> str:
    if found.short:
        return f"The middle is not the {_WANTED[ask.find]}: back{_key(desk, found.home)} to it, {found.fallen:.1f} dB"
    if found.left is None:
        return f"Both sides seen: back{_key(desk, found.home)} by half of the way between them"
    key = f"{_name(found.left)}, " if desk.turnable else ""
    return f"Now to the middle: {key}{_turns(abs(found.left))} to go{_presses(desk, found.left, found.near)}"


def _presses(desk: Desk, left: float, near: float) -> str:
    """So many more presses of the key, as long as they can be counted at a glance."""
    if not desk.turnable or desk.stream is None:
        return ""
    count = desk.stream.fingers.presses_to(left, _MOST_COUNTED, near)
    return f", {count} press{'' if count == 1 else 'es'}" if 0 < count <= _MOST_COUNTED else ""


def near_words(desk: Desk, found: Search) -> str:
    """How near is near enough to what the hand is led to; empty where it must turn round or go on first."""
    ask, stream = desk.ask, desk.stream
    if not isinstance(ask, Peak) or stream is None:
        return ""
    begun, side = TAKEN_UP if desk.taken_up else "", f"{show(stream.resolution, 'dB')} of {FALL_DB:g} dB"
    words: dict[Lead, str] = {
        "start": begun,
        "climb": begun,
        "fall": f"Near enough: each side to {side}",
        "over": f"Near enough: each side to {side}" if _just_fallen(found, stream) else "",
        "beyond": f"Near enough: each side to {side}",
        "home": _near_home(ask, stream),
        "middle": _near_middle(found, stream),
    }
    return words.get(lead(desk, ask, found), "")


def _just_fallen(found: Search, stream: Stream) -> bool:
    """Whether the side was seen as far down as was asked for, past a best: then it is told how near that must be."""
    return not found.unpassed and abs(found.fallen - FALL_DB) <= 3 * stream.resolution


def _near_middle(found: Search, stream: Stream) -> str:
    if found.short:
        return f"The sides were seen unevenly, so the highest counts: within {show(3 * stream.resolution, 'dB')} of it"
    return "Near enough: a twentieth of the way from the middle to either side; then Enter"


def _near_home(ask: Peak, stream: Stream) -> str:
    if ask.quantity != "level":
        return "Enter takes it where it stands"
    if is_fine(ask) and not stream.at_stop:
        return ""  # turned round too early: it is no end of the search
    return f"Near enough: within {show(3 * stream.resolution, 'dB')}; then Enter"


def fine_words(ask: object) -> str:
    """How a fine peak is found, where no instrument shows it live."""
    if not isinstance(ask, Peak) or not is_fine(ask):
        return ""
    return f"Mark where it has lost {FALL_DB:g} dB on either side: the peak is half-way between"


def untouched_question(desk: Desk) -> str:
    """What Enter asks once where nothing was turned, so that nothing tells that it stands where it should."""
    stream, ask = desk.stream, desk.ask
    if stream is None:
        return ""
    if not isinstance(ask, Peak):
        return _UNTOUCHED if stream.untouched else ""
    if desk.turnable and not stream.handled and not desk.taken_up:
        return _UNTURNED
    return "" if stream.peak_is_moving else _UNMOVED


def near_question(desk: Desk) -> str:
    """What Enter asks once where it would take a peak well off it; empty where it stands near enough."""
    ask, found, stream = desk.ask, desk.found, desk.stream
    if not isinstance(ask, Peak) or found is None or stream is None or found.stop or found.phase == "start":
        return ""
    best = stream.best()
    if best is None or desk.unit is None or best.fallen <= 3 * stream.resolution:
        return ""
    where = {"max": "below the highest", "min": "above the lowest", "null": "off the nearest to nought"}[ask.find]
    return f"Still {show(best.fallen, desk.unit, stream.resolution)} {where}: Enter again takes it."


def onward_words(desk: Desk, shown: Gauge) -> str:
    """Past a peak the hand goes on as it came: which key, or which way, that is."""
    ask = desk.ask
    if not isinstance(ask, Touch) or ask.aim.quantity != "level" or shown.way == "there":
        return ""
    sense = onward(desk, shown)
    if not sense:
        return ", back" if _beyond(desk, shown) else ", on the way you came"
    way = "clockwise" if sense > 0 else "anticlockwise"
    return f": {_name(sense)} ({way})" if desk.turnable else f", {way}"


def onward(desk: Desk, shown: Gauge) -> float:
    """The sense in which the level comes to its aim, clockwise positive; 0 where nobody knows or no level is read."""
    ask = desk.ask
    if not isinstance(ask, Touch) or ask.aim.quantity != "level" or shown.way == "there":
        return 0.0
    came = _came(desk, ask)
    return _back(desk, shown, came) if came and _beyond(desk, shown) else came


def _beyond(desk: Desk, shown: Gauge) -> bool:
    start = desk.stream.start if desk.stream is not None else None
    return start is not None and (start - shown.aim) * shown.off < 0.0


def _back(desk: Desk, shown: Gauge, came: float) -> float:
    """The sense in which the level comes back to its aim: by what was seen of it, else back to where it stood."""
    stream = desk.stream
    if stream is None or not stream.raising:
        return came if stream is not None and stream.turned * came < 0.0 else -came
    return stream.raising if shown.off < 0.0 else -stream.raising


def _came(desk: Desk, ask: Touch) -> float:
    """The sense in which the peak was come to, clockwise positive; 0 where nobody knows."""
    if ask.amount is not None and ask.amount.unit == "turn":
        return ask.amount.value
    adjuster, turns = desk.came
    if adjuster == ask.adjuster:
        return turns
    newest = desk.history.live()[-1] if desk.history.live() else None
    told = newest is not None and isinstance(newest.ask, Peak) and newest.ask.adjuster == ask.adjuster
    return (newest.answer.turns or 0.0) if told and newest and isinstance(newest.answer, Reading) else 0.0


def _first(desk: Desk, asked: Asked) -> str:
    if desk.turnable and asked.turns is not None:
        return f"{_name(asked.turns.value)} first"
    if asked.direction:
        return asked.ways[0 if asked.direction == "more" else 1]
    if desk.turnable:
        return "try Left or Right; if it gets worse, the other"
    return " / ".join(way for way in asked.ways if way)


def _off(desk: Desk, ask: Peak, found: Search) -> str:
    """How far it stands from the best, in the unit that is read."""
    unit, stream = desk.unit, desk.stream
    far = f"{found.fallen:.1f} dB"
    if unit not in {None, "dB"} and stream is not None:
        far = show(found.fallen, unit, stream.resolution)
    return f"{'Fallen' if ask.find == 'max' else 'Risen' if ask.find == 'min' else 'Off'} {far}"


def _newest(desk: Desk) -> float:
    return desk.stream.fingers.sense if desk.stream is not None else 0.0


def _key(desk: Desk, sense: float) -> str:
    """The key that turns that way."""
    return f" with {_name(sense)}" if desk.turnable and sense else ""


def _name(sense: float) -> str:
    return "Right" if sense > 0 else "Left"


def _turns(left: float) -> str:
    """A way still to go [turn], in fractions as a person says them."""
    if left >= EIGHTH / 2 + EIGHTH / 4:
        return show(left, "turn", EIGHTH)
    part = 2 ** round(math.log2(1.0 / max(left, 1.0 / (2 * _FINEST))))
    return f"1/{max(16, part)} turn" if part <= _FINEST else "a hair"
