"""Words while a peak is sought, and for turning on past it: what to do next, which key does it, how near will do."""

from aligner.engine.answers import Reading
from aligner.engine.asks import Peak, Touch
from aligner.engine.gauge import Gauge
from aligner.quantity import show
from aligner.screens.desk import Desk
from aligner.screens.peaks import FALL_DB, FINEST_TURN, Search
from aligner.screens.view import Asked

_WANTED = {"max": "highest", "min": "lowest", "null": "nearest to nought"}


def peak_words(desk: Desk, asked: Asked, found: Search) -> str:
    """What the hand does next."""
    ask = desk.ask
    if not isinstance(ask, Peak):
        return ""
    if desk.turnable and ask.rock:
        return "The arrow keys turn the adjuster, not the gang: a lets the owner rock both"
    if found.stop:
        where = "in the middle" if found.phase == "middle" else f"at the {_WANTED[ask.find]}"
        return f"= STOP {where}: Enter takes it"
    if found.phase == "start":
        return f"Turn for the {_WANTED[ask.find]} reading: {_first(desk, asked)}"
    return _fine(desk, ask, found) if ask.fine and ask.find != "null" else _plain(desk, ask, found)


def _plain(desk: Desk, ask: Peak, found: Search) -> str:
    if found.phase == "climb":
        best = _WANTED[ask.find].capitalize()
        return f"{best} so far: go on{_key(desk, _newest(desk))} until it gets worse again"
    return f"{_off(ask, found)}: turn back{_key(desk, found.home)} to the {_WANTED[ask.find]}"


def _fine(desk: Desk, ask: Peak, found: Search) -> str:
    far, off, wanted = f"{FALL_DB:g} dB", _off(ask, found), _WANTED[ask.find]
    on, back = _key(desk, _newest(desk)), _key(desk, found.home)
    if found.phase == "middle":
        return _middle(desk, found)
    if found.phase == "back" and not found.over:
        return f"{off}: now back{back} over the {wanted}, to {far} beyond it"
    words = {
        "climb": f"{wanted.capitalize()} so far: go on{on}, past it by {far}",
        "worse": f"{off} from where it stood: the other way{back}",
        "past": f"{off}: go on{on} to {far}",
        "back": f"{off} on the other side: go on{on} to {far}",
    }
    return words.get(found.phase, "")


def _middle(desk: Desk, found: Search) -> str:
    if found.left is None:
        return f"Both sides seen: back{_key(desk, found.home)} by half of the way between them"
    key = f"{_name(found.left)}, " if desk.turnable else ""
    return f"Now to the middle of the two: {key}{_turns(found.left)} to go"


def near_words(desk: Desk, found: Search) -> str:
    """How near is near enough, once the end of the search is in sight."""
    ask = desk.ask
    if not isinstance(ask, Peak) or desk.stream is None or found.stop or found.phase in {"start", "climb"}:
        return ""
    if ask.quantity != "level":
        return "Enter takes it where it stands"
    if not ask.fine or ask.find == "null":
        return f"Near enough: within {show(3 * desk.stream.resolution, 'dB')}; then Enter"
    if found.phase == "middle":
        return "Near enough: a twentieth of the way from the middle to either side; then Enter"
    return f"Near enough: each side to {show(desk.stream.resolution, 'dB')} of {FALL_DB:g} dB"


def fine_words(ask: object) -> str:
    """How a fine peak is found, where no instrument shows it live."""
    if not isinstance(ask, Peak) or not ask.fine or ask.quantity != "level" or ask.find == "null":
        return ""
    return f"Mark where it has lost {FALL_DB:g} dB on either side: the peak is half-way between"


def onward_words(desk: Desk, shown: Gauge) -> str:
    """Past a peak the hand goes on as it came: which key, or which way, that is."""
    ask = desk.ask
    if not isinstance(ask, Touch) or ask.aim.quantity != "level" or shown.way == "there":
        return ""
    came = _came(desk, ask)
    start = desk.stream.start if desk.stream is not None else None
    beyond = start is not None and (start - shown.aim) * shown.off < 0.0
    if not came:
        return ", back" if beyond else ", on the way you came"
    sense = _back(desk, shown, came) if beyond else came
    way = "clockwise" if sense > 0 else "anticlockwise"
    return f": {_name(sense)} ({way})" if desk.turnable else f", {way}"


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


def _off(ask: Peak, found: Search) -> str:
    return f"{'Fallen' if ask.find == 'max' else 'Risen' if ask.find == 'min' else 'Off'} {found.fallen:.1f} dB"


def _newest(desk: Desk) -> float:
    return desk.stream.fingers.sense if desk.stream is not None else 0.0


def _key(desk: Desk, sense: float) -> str:
    """The key that turns that way."""
    return f" with {_name(sense)}" if desk.turnable and sense else ""


def _name(sense: float) -> str:
    return "Right" if sense > 0 else "Left"


def _turns(left: float) -> str:
    """A way still to go, shown finer than a hand counts, for the arrow keys are finer."""
    return show(max(abs(left), FINEST_TURN), "turn", abs(left) / 20)
