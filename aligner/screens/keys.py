"""What each key does on the guide: commands while the entry line is empty, editing while it is not."""

import math

import msgspec

from aligner.engine.answers import Answer, Cannot, Done, GoTo, Note, Reading, SetAside, SwitchWay, Undo
from aligner.engine.asks import Confirm, Read, Touch, Turning
from aligner.engine.capture import NotYet, newest
from aligner.engine.order import steps_aside, ways_on
from aligner.errors import QuantityError
from aligner.procedure.model import TrackingStep
from aligner.screens.commands import by_key
from aligner.screens.desk import Desk, Do, Effect, Turn
from aligner.screens.entry import STARTERS, Line, understood
from aligner.screens.peak_words import near_question, untouched_question
from aligner.screens.questions import (
    Question,
    about_correction,
    about_end,
    about_no_reading,
    about_other,
    about_step,
    about_undo,
    about_way,
)
from aligner.screens.stream import Stream
from aligner.screens.travel import end_doubt
from aligner.text import clean

FINE, COARSE = 1 / 8, 8.0
"""What Shift and Control make of the turn of an arrow key."""

BOUNCE_S = 0.25
"""A key that comes again sooner was not meant twice, and confirms nothing [s]."""

QUIET_S = 1.0
"""So long after another adjuster is asked for, arrow keys were meant for the one before [s]."""

HELD_S = 0.2
"""A key that is held down comes again sooner [s]: let go of it first."""

TYPED_S = 1.0
"""A letter that comes so soon after one that does nothing goes on with a word [s]."""

_NOT_TYPED = "Nothing is typed here: each letter is a key of its own. Enter confirms; ? shows all keys."

FAR = 0.003
"""A typed reading so far from what the instrument shows, as a part of it, is asked about."""

_NO_ARROWS = "The arrow keys turn an adjuster of the virtual set, while one is to be turned."

_SCREENS = {"help", "leave", "theme", "zoom", "curves", "next", "where", "known", "plain", "file"}
"""Commands that only a screen can carry out."""

_SILENT = {"escape", "tab", "shift+tab"}
"""Keys that put away what is not there, or move a focus that there is not: nobody waits for what comes of them."""

_MOVES = {"left": -1, "right": 1, "home": -10_000, "end": 10_000}


def press(desk: Desk, key: str, character: str | None, at_s: float = math.inf) -> list[Effect]:
    """One key, pressed then [s]; what follows from it."""
    if _bounced(desk, key, at_s):
        return []
    desk.message = ""
    if desk.stream is not None and key != "enter":
        desk.stream.pressed_early = False
    if desk.waiting:
        return [Do("leave")] if key == "q" else []
    if desk.question is not None:
        return _replied(desk, desk.question, key)
    if desk.line.text or desk.writing:
        return _edited(desk, key, character)
    if character and character in STARTERS and desk.ask is not None:
        desk.line = Line().typed(character)
        return []
    if key == "escape":
        _put_away(desk)
    command = by_key(key)
    name = command.name if command else ""
    strays = name in {"left", "right"} and _strays(desk, at_s)
    idle = strays or _typed_on(desk, character, at_s) or _stops_hold(desk, name) or _unknown(desk, name, key, character)
    return [] if idle else run(desk, name, key)


def _unknown(desk: Desk, name: str, key: str, character: str | None) -> bool:
    """Whether no command has that key, which is said, for silence looks as if it had been taken."""
    if name or key in _SILENT:
        return False
    if isinstance(desk.ask, Confirm) and _letter(character):
        desk.letters_s, desk.message = desk.pressed[1], _NOT_TYPED
        return True
    known = character if character and character.isprintable() and character != " " else key.capitalize()
    desk.message = f"{known} does nothing here; the keys that do stand below, and ? shows all."
    return True


def _letter(character: str | None) -> bool:
    return character is not None and len(character) == 1 and character.isalpha()


def _typed_on(desk: Desk, character: str | None, at_s: float) -> bool:
    """Whether a letter belongs to a word that somebody types where nothing is to be typed: then it is no command."""
    typed = isinstance(desk.ask, Confirm) and _letter(character) and at_s - desk.letters_s < TYPED_S
    if typed:
        desk.message = _NOT_TYPED
    return typed


def paste(desk: Desk, text: str) -> None:
    """Pasted text goes into the entry line, never into commands, and is never sent by itself."""
    if desk.ask is not None and desk.question is None and not desk.waiting:
        desk.line = desk.line.typed(";".join(text.strip().splitlines()))


def run(desk: Desk, name: str, key: str = "") -> list[Effect]:
    """One command of the table, by key or from the palette."""
    if name in _SCREENS and (name != "zoom" or desk.reads_large):
        return [Do(name)]
    if name == "take":
        return _taken(desk)
    if name in {"likely", "insist"}:
        return _doubt_replied(desk, "y" if name == "likely" else "i")
    if name == "answer":
        return _answered(desk)
    if name in {"left", "right"}:
        return _turned(desk, -1.0 if name == "left" else 1.0, key)
    if name == "hands":
        desk.hands_free = not desk.hands_free
        desk.message = f"Hands-free {'on' if desk.hands_free else 'off'}."
    elif name == "zoom":
        desk.message = "z shows a reading alone, and none is asked for now."
    elif name in {"note", "aside", "correct"}:
        _write(desk, name)
    elif name:
        _ask_back(desk, name)
    return []


def _stops_hold(desk: Desk, name: str) -> bool:
    """Any key but those of the hands on the adjuster stops a hold that is filling, and does nothing else."""
    held = desk.hold()
    if desk.stream is None or name in {"take", "left", "right"} or not isinstance(held, NotYet) or held.held <= 0:
        return False
    desk.stream.stop_hold()
    desk.message = "Stopped: not taken by itself. Enter takes it."
    return True


def _put_away(desk: Desk) -> None:
    if desk.doubt is not None:
        desk.put_away = desk.history.digest
        desk.message = "Put away: what was asked is still open, and the log keeps what was questioned."


def _bounced(desk: Desk, key: str, at_s: float) -> bool:
    """Whether a key that has just opened a question came again by itself."""
    before, before_s = desk.pressed
    desk.pressed = key, at_s
    asked = desk.question is not None or (desk.stream is not None and desk.stream.left_here)
    return asked and key == before and at_s - before_s < BOUNCE_S


def _strays(desk: Desk, at_s: float) -> bool:
    """Whether an arrow key was still meant for the adjuster that has just been taken."""
    stray = at_s - desk.quiet_s < QUIET_S or at_s - desk.strayed_s < HELD_S
    if stray and isinstance(desk.ask, Turning):
        desk.strayed_s = at_s
        new = f"New: {desk.ask.adjuster}. The arrow keys turn it in a second, once they were let go."
        desk.message = f"{desk.by_itself} {new}".strip()
    return stray


def _replied(desk: Desk, question: Question, key: str) -> list[Effect]:
    if key == "escape":
        desk.question, desk.line, desk.writing = None, Line(), ""
    elif key in question.keys:
        answer = question.keys[key]
        return desk.send(answer, question.times) if question.final else _given(desk, answer, question.times)
    else:
        desk.message = "One of these keys answers:"
    return []


def _given(desk: Desk, answer: Answer, times: int = 1) -> list[Effect]:
    """Hand over an answer, asking first what was turned where it leaves a touch in the middle."""
    if isinstance(answer, Undo | GoTo | SetAside | SwitchWay):
        return desk.leave(answer, times)
    if isinstance(answer, Cannot) and answer.why == "no-reading":
        return desk.leave(answer)
    return desk.send(answer, times)


def _edited(desk: Desk, key: str, character: str | None) -> list[Effect]:
    if key == "enter":
        return _entered(desk)
    if key == "escape":
        desk.line, desk.writing = Line(), ""
    elif key in {"backspace", "ctrl+h"}:
        desk.line = desk.line.backspace()
    elif key in _MOVES:
        desk.line = desk.line.moved(_MOVES[key])
    elif key == "ctrl+u":
        desk.line = Line()
    elif character and character.isprintable():
        desk.line = desk.line.typed(character)
    return []


def _entered(desk: Desk) -> list[Effect]:
    text = desk.line.text.strip()
    if desk.writing == "correct":
        return _correct(desk, text)
    if desk.writing:
        if text:
            return _given(desk, Note(text) if desk.writing == "note" else SetAside(text))
        desk.writing = ""
        return []
    if desk.ask is None:
        return []
    try:
        answer = understood(text, desk.ask, desk.near(), bare=desk.bare()).answer
    except QuantityError as error:
        desk.message = str(error)
        return []
    desk.question = _beside(desk, answer)
    return [] if desk.question is not None else desk.send(answer)


def _beside(desk: Desk, typed: Answer) -> Question | None:
    """The question which is meant, where the instrument beside it shows something else than was typed."""
    stream, unit = desk.stream, desk.unit
    if stream is None or stream.live is None or not desk.reads_live or unit not in {"Hz", "V"}:
        return None
    taken = newest(stream.window)
    if not isinstance(typed, Reading) or not isinstance(desk.ask, Read | Touch) or isinstance(taken, NotYet):
        return None
    if abs(typed.value - taken.value) <= max(FAR * abs(taken.value), 6 * stream.resolution):
        return None
    return about_other(typed, msgspec.structs.replace(typed, value=taken.value, seen=taken.seen), unit, desk.prescaler)


def _correct(desk: Desk, text: str) -> list[Effect]:
    back = about_correction(desk.history, text) if text else ""
    if isinstance(back, Question):
        desk.question, desk.line, desk.writing = back, Line(), ""
    elif text:
        desk.message = back
    else:
        desk.writing = ""
    return []


def _doubt_replied(desk: Desk, key: str) -> list[Effect]:
    doubt = desk.doubt
    if doubt is None and key == "y" and isinstance(desk.ask, Confirm) and not desk.ask.hazard:
        return desk.send(Done())
    if doubt is None:
        desk.message = _no_question(desk, key)
    elif key in doubt.keys:
        return desk.send(doubt.keys[key])
    else:
        desk.message = "No likely meaning is known: type the reading again."
    return []


def _no_question(desk: Desk, key: str) -> str:
    """What to say where y or i answers nothing. A caution is confirmed by Enter alone, never by a slip."""
    if isinstance(desk.ask, Confirm):
        return "Enter confirms the caution, once it was read." if desk.ask.hazard else "Enter confirms."
    does = "says yes" if key == "y" else "keeps a reading"
    return f"{key} {does} where something stands questioned; nothing does now."


def _answered(desk: Desk) -> list[Effect]:
    if desk.turnable and desk.ask is not None:
        return [Do("rehearse")]
    only = "Only the virtual set has an owner who can be asked to do it."
    desk.message = only if desk.ask is not None else "Nothing is left to be done."
    return []


def _turned(desk: Desk, sense: float, key: str) -> list[Effect]:
    ask = desk.ask
    if not desk.turnable or not isinstance(ask, Turning) or desk.stream is None:
        desk.message = desk.by_itself or desk.just_taken or _NO_ARROWS
        return []
    if _arrived(desk, desk.stream, key):
        desk.message = "At the aim, or all but there: a key kept pressed turns no further. Let it go, then press again."
        return []
    factor = FINE if key.startswith("shift") else COARSE if key.startswith("ctrl") else 1.0
    return [Turn(ask.adjuster, desk.stream.turn(sense, factor, desk.to_middle))]


def _arrived(desk: Desk, stream: Stream, key: str) -> bool:
    """Whether the key was kept pressed until the reading had come to its aim; over a peak a level comes by twice."""
    ask = desk.ask
    aimed = isinstance(ask, Touch) and ask.aim.quantity != "level" and desk.reads_live
    return stream.held.arrived(key, desk.pressed[1], stream.gauge() if aimed else None)


def _taken(desk: Desk) -> list[Effect]:
    ask, stream = desk.ask, desk.stream
    if ask is None or stream is None:
        return [Do("leave")]
    if isinstance(ask, Confirm):
        return desk.send(Done())
    if says_it_again(desk):
        desk.put_away, desk.message = "", "Enter does not answer this."
    elif desk.turnable and (stream.live is None or not desk.reads_live or desk.warming):
        return [Do("rehearse")]  # its owner is asked where no instrument shows it, and to wait while it warms up
    elif not desk.reads_live:
        desk.message = "Type the reading, then Enter."
    elif (untouched := untouched_question(desk)) and not stream.left_here:
        stream.left_here = True
        desk.message = untouched
    elif (off := near_question(desk)) and not stream.left_here:
        stream.left_here = True
        desk.message = off
    else:
        return _taken_live(desk, stream)
    return []


def _taken_live(desk: Desk, stream: Stream) -> list[Effect]:
    taken = stream.by_key()
    if isinstance(taken, NotYet):
        desk.message = "" if stream.pressed_early else "No reading yet."  # `paint` says why while it is so
        return []
    return desk.send(stream.reading(taken, counted=desk.counted))


def says_it_again(desk: Desk) -> bool:
    """Whether Enter would only repeat what stands questioned, or answer a question that it was not offered for."""
    doubted, live = desk.doubted, desk.stream.live if desk.stream else None
    if doubted is None or desk.ask is None:
        return False
    value = doubted.reading if isinstance(doubted, Cannot) else getattr(doubted, "value", None)
    if value is None or live is None or not desk.reads_live:
        return desk.doubt is not None
    from aligner.engine.doubt import agrees  # noqa: PLC0415 - numbers are slow to load, and nothing is doubted before

    return agrees(desk.ask, Reading(value), Reading(live))


def _write(desk: Desk, name: str) -> None:
    ask = desk.ask
    if name == "aside" and (ask is None or (isinstance(ask, Confirm) and ask.hazard)):
        desk.message = "Cautions cannot be set aside." if ask is not None else "No step is open."
    else:
        desk.writing = name


def _ask_back(desk: Desk, name: str) -> None:
    ask, stream = desk.ask, desk.stream
    back: Question | str = "Nothing is asked now."
    if name == "undo":
        back = about_undo(desk.history, ask, turned=desk.turned)
    elif ask is not None and name == "end":
        turns = stream.turned if stream and stream.turned and desk.counted else None
        back = about_end(ask, stream.live if stream else None, turns, desk.unit, end_doubt(desk))
    elif ask is not None and name == "unreadable":
        back = about_no_reading()
    elif name == "go":
        back = about_step(_ways_on(desk), ended=ask is None)
    elif ask is not None and name == "way":
        back = about_way(desk.seen.ways if desk.seen else (), _many_ways(desk), law_known=desk.law_known)
    if isinstance(back, Question):
        desk.question = back
    else:
        desk.message = back


def _ways_on(desk: Desk) -> tuple[tuple[str, str], ...]:
    """The steps that may be gone to, each with what it is called, and whether it was set aside."""
    live = desk.history.live()
    aside = steps_aside(live)
    titles = {step.id: clean(step.title, 60) or step.id for step in desk.procedure.steps}
    ways = ways_on(desk.procedure, live, desk.ask.step if desk.ask is not None else "")
    return tuple((way, titles[way] + (" (set aside)" if way in aside and desk.ask else "")) for way in ways)


def _many_ways(desk: Desk) -> tuple[str, ...]:
    """The titles of the steps that may be seen by several ways."""
    return tuple(
        step.title or step.id for step in desk.procedure.steps if isinstance(step, TrackingStep) and len(step.by) > 1
    )
