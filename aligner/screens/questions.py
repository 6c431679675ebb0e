"""Questions asked back before something is said that a slip of the finger could have meant."""

from dataclasses import dataclass

import msgspec

from aligner.engine.answers import Answer, Cannot, GoTo, Leaving, Reading, SwitchWay, Undo, WandSeen
from aligner.engine.asks import Ask, Turning
from aligner.engine.history import Entry, History, undoable, undone
from aligner.quantity import Slip, UnitName, show, slip_named, slips
from aligner.screens.log import entry_words, turned_something

_DIGITS = 9


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, and the answer that each key gives; Esc drops the question, every other key leaves it."""

    text: str
    keys: dict[str, Answer]
    times: int = 1  # how often the answer is given: to take back several
    final: bool = False  # nothing more is asked before the answer is given


def about_undo(history: History, ask: Ask | None = None, *, turned: bool | None = False) -> Question | str:
    """What would be taken back; a reason where there is nothing.

    turned: whether the open ask's adjuster was turned since it was asked for; None: only the person knows, who is asked
    that next.
    """
    gone = undone(history.entries)
    newest = next((row for row in reversed(history.entries) if _can_go(row) and row.seq not in gone), None)
    if newest is None:
        return "There is nothing to take back."
    words = f"ake back {entry_words(newest).rstrip('.')}?"
    words = f"First of two questions: t{words}" if isinstance(ask, Turning) and turned is None else f"T{words}"
    if isinstance(ask, Turning):
        words += _meanwhile(ask.adjuster, turned=turned)
    if turned_something(newest) and isinstance(newest.ask, Turning):
        own = newest.ask.adjuster
        text = f"{words}  u or y: yes ({own} stays where it is)   0: yes ({own} was not turned for it)   Esc: no"
        return Question(text, {"u": Undo(), "y": Undo(), "0": Undo(moved=False)})
    return Question(f"{words}  u or y: yes   Esc: no", {"u": Undo(), "y": Undo()})


def _meanwhile(adjuster: str, *, turned: bool | None) -> str:
    """What becomes of the adjuster of the open ask when that is left by taking back what came before."""
    if turned:
        return f" {adjuster} was turned meanwhile and stays so. Points that it moved are read again."
    return " Nothing is turned back by that."


def about_turned(adjuster: str, leaving: Leaving, times: int = 1) -> Question:
    """Whether the adjuster of the open touch was turned already, where that touch is left unanswered."""
    second = "Second of two questions: y" if isinstance(leaving, Undo) else "Y"
    text = (
        f"{second}ou leave {adjuster}, which was to be turned now. Did you turn it since it was asked for, if only a "
        f"little?  y: yes, {adjuster} stays where it is   n: no, not at all   Esc: go on with it"
    )
    keys: dict[str, Answer] = {"y": msgspec.structs.replace(leaving, turned=True), "n": leaving}
    return Question(text, keys, times, final=True)


def about_correction(history: History, typed: str) -> Question | str:
    """What must be taken back to say another thing at an entry of the log; a reason where that cannot be."""
    gone = undone(history.entries)
    later = [row for row in history.entries if _can_go(row) and row.seq not in gone]
    if not typed.isdecimal() or int(typed[:9]) not in {row.seq for row in later}:
        return "Give the number of an answer that still stands."
    back = [row for row in later if row.seq >= int(typed)]
    turned = sum(turned_something(row) for row in back[1:])
    words = [f"Say entry {typed} anew ({entry_words(back[0])})?"]
    if len(back) > 1:
        words.append(f"This takes back the {len(back) - 1} after it, too: they are asked for again.")
    if turned:
        words.append("What hands have turned since stays turned.")
    return Question(f"{' '.join(words)}  r or y: yes   Esc: no", {"r": Undo(), "y": Undo()}, len(back))


def about_end(
    ask: Ask | None, reading: float | None, turns: float | None, unit: UnitName | None, against: str = ""
) -> Question | str:
    """Whether the adjuster really stands at its end, with the reading there. against: what speaks against that."""
    if not isinstance(ask, Turning):
        return "End of travel belongs to an adjuster, and none is to be turned now."
    there = f", reading {show(reading, unit)}" if reading is not None and unit else ""
    end = Cannot("end-of-travel", reading, turns)
    but = f" But {against}." if against else ""
    return Question(f"{ask.adjuster} at its end of travel{there}?{but}  e or y: yes   Esc: no", {"e": end, "y": end})


def about_no_reading() -> Question:
    """Whether there is really nothing to read."""
    none = Cannot("no-reading")
    return Question("Nothing can be read here?  x or y: yes, find another way   Esc: no", {"x": none, "y": none})


_WAND_IN_DB = "(by wand: levels in dB; + and - alone need many more touches)"


def about_way(ways: tuple[str, ...], elsewhere: tuple[str, ...] = (), *, law_known: bool = True) -> Question | str:
    """Which way of seeing to go on with, in every step that knows it: a bench has the same instruments for all.

    elsewhere: the titles of the steps that know several. law_known: whether the meter's decibels can be trusted.
    """
    if len(ways) < 2:
        there = f" Steps with several: {', '.join(elsewhere)}." if elsewhere else ""
        return f"This step knows only one way of seeing.{there}"
    keys: dict[str, Answer] = {
        str(number): msgspec.convert({"answer": "by", "way": way}, SwitchWay) for number, way in enumerate(ways, 1)
    }
    words = (
        "From here on by:  " + "   ".join(f"{number} {way}" for number, way in enumerate(ways, 1)) + "   Esc: as before"
    )
    return Question(f"{words} {_WAND_IN_DB}" if "wand" in ways and law_known else words, keys)


def about_step(steps: tuple[tuple[str, str], ...], *, ended: bool = False) -> Question | str:
    """Which step to do before the open one, each with its title; at the end of a job, which to take up again."""
    if not steps:
        return "No step was set aside." if ended else "There is no other step to go to now."
    if ended and len(steps) == 1:
        again = GoTo(steps[0][0])
        return Question(f"Take up again: {steps[0][1]}?  g or y: yes   Esc: no", {"g": again, "y": again})
    shown = steps[:_DIGITS]
    keys: dict[str, Answer] = {str(number): GoTo(step) for number, (step, _) in enumerate(shown, 1)}
    head, stay = ("Take up again", "none") if ended else ("Which step first, before this one", "go on here")
    choices = "   ".join(f"{number}: {title}" for number, (_, title) in enumerate(shown, 1))
    return Question(f"{head}?  {choices}   Esc: {stay}", keys)


def about_other(typed: Reading, live: Reading, unit: UnitName, prescaler: int = 1) -> Question:
    """Which is meant where what was typed and what the instrument shows are far apart."""
    values = show(typed.value, unit), show(live.value, unit)
    text, keys = f"{values[0]} was typed, and NOW shows {values[1]}.", dict[str, Answer](y=live, n=live, i=typed)
    parts = [f"y or n: take NOW, {values[1]}"]
    for slip in slips(typed.value, live.value, unit, prescaler=prescaler)[:1]:
        text = f"{text} Perhaps {slip.text}."
        keys["y"] = msgspec.structs.replace(typed, value=slip.value)
        parts = [f"y: I meant {show(slip.value, unit)}", f"n: take NOW, {values[1]}"]
    parts += [f"i: {values[0]} is right", "Esc: type again"]
    return Question(f"{text}  {'   '.join(parts)}", keys)


def about_doubt(
    doubted: Answer | None, near: float | None, unit: UnitName | None, prescaler: int = 1, why: str = ""
) -> Question | None:
    """What to do with a questioned answer; it may also simply be typed again.

    why: the words of the doubt. Where they name a likely meaning, that is the one which is offered.
    """
    if doubted is None:
        return None
    keys: dict[str, Answer] = {}
    parts = []
    likely: Slip | None = None
    if isinstance(doubted, Reading) and unit:
        close = slips(doubted.value, near, unit, prescaler=prescaler)[:1] if near is not None else ()
        likely = slip_named(doubted.value, why, unit, prescaler=prescaler) or next(iter(close), None)
    if likely is not None:
        keys["y"] = msgspec.structs.replace(doubted, value=likely.value)
        parts.append(f"y: I meant {show(likely.value, unit)}" if unit else "y: I meant that")
    if isinstance(doubted, Reading | WandSeen) or hasattr(doubted, "insist"):
        keys["i"] = msgspec.structs.replace(doubted, insist=True)
        kept = show(doubted.value, unit) if isinstance(doubted, Reading) and unit else "it"
        parts.append(f"i: {kept} is right")
    return Question("   ".join([*parts, "or read and type it again", "Esc: put this away"]), keys)


def _can_go(entry: Entry) -> bool:
    return undoable(entry) and not isinstance(entry.answer, Undo)
