"""The one table of commands: it feeds the keys, the footer, the help and the palette."""

import textwrap
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Command:
    """One thing that a key does on the guide while the entry line is empty.

    `short` stands in the footer (empty: not shown there), `help` in the help and the palette.
    """

    name: str
    keys: tuple[str, ...]
    shown: str
    short: str
    help: str


GUIDE: tuple[Command, ...] = (
    Command("take", ("enter",), "Enter", "take", "Take the reading that is shown, or confirm what was asked."),
    Command("insist", ("i",), "i", "", "Keep a questioned reading as it is."),
    Command("likely", ("y",), "y", "", "Yes: take the likely meaning of a questioned reading."),
    Command("undo", ("u",), "u", "undo", "Take back the newest answer. Undo never turns an adjuster back."),
    Command(
        "correct",
        ("r",),
        "r",
        "",
        "Correct an earlier answer by its number; what came after is asked again.",
    ),
    Command("end", ("e",), "e", "at end", "The adjuster is at its end and cannot go further."),
    Command("unreadable", ("x",), "x", "no reading", "There is nothing to read here; find another way."),
    Command("way", ("w",), "w", "other way", "See the circuit another way: by resonance, level, wand."),
    Command("file", ("f",), "f", "from a file", "Where a sweep is asked for: take it from a file."),
    Command("aside", ("s",), "s", "set aside", "Leave this step out, with a reason."),
    Command("go", ("g",), "g", "other step", "Do another step first, or take up one that was set aside."),
    Command("note", ("n",), "n", "note", "Write a note into the record."),
    Command("hands", ("h",), "h", "hands-free", "Hands-free on or off: a settled reading is taken by itself."),
    Command("curves", ("c",), "c", "curves", "Curves in place of the figures, and back."),
    Command("next", ("tab",), "Tab", "", "The next curve."),
    Command("where", ("p",), "p", "place", "Your place in the job: all steps, the set as a picture, touches, time."),
    Command("known", ("k",), "k", "known", "What is known of each circuit, and why this is next."),
    Command("zoom", ("z",), "z", "", "The reading alone, or with the steps and the log."),
    Command("theme", ("t",), "t", "", "Next colours: dark, light, high contrast."),
    Command("plain", ("b",), "b", "", "Blocks and dots, or plain characters where the font lacks them."),
    Command(
        "left",
        ("left", "shift+left", "ctrl+left"),
        "Left",
        "",
        "Virtual set: turn left; with Shift finer, with Ctrl coarser.",
    ),
    Command(
        "right",
        ("right", "shift+right", "ctrl+right"),
        "Right",
        "",
        "Virtual set: turn right; with Shift finer, with Ctrl coarser.",
    ),
    Command("answer", ("a",), "a", "", "Virtual set: let its owner do what is asked, turning included."),
    Command("help", ("question_mark", "f1"), "?", "help", "All keys."),
    Command("leave", ("q",), "q", "close", "Close the job; it is kept, and goes on where it stood."),
)


JOBS: tuple[Command, ...] = (
    Command("on", ("enter",), "Enter", "go on", "Go on with that job, or begin what the line says."),
    Command("new", ("n",), "n", "new", "A new job: procedure, name of the set, where readings come from."),
    Command("source", ("s",), "s", "other source", "Go on with that job, and choose anew where readings come from."),
    Command("look", ("l",), "l", "look at", "Look at that job: where it stands, what is known, its log."),
    Command("copy", ("c",), "c", "copy", "Copy: a new job for the next set of the same kind, by the same procedure."),
    Command("export", ("x",), "x", "export", "Export that job as one file, to keep or to send."),
    Command("import", ("i",), "i", "import", "Import a job from a file."),
    Command("tour", ("g",), "g", "guided tour", "A guided tour: six asks on a virtual set."),
    Command("theme", ("t",), "t", "colours", "Next colours: dark, light, high contrast."),
    Command("help", ("question_mark", "f1"), "?", "help", "All keys."),
    Command("quit", ("q",), "q", "quit", "Leave the program."),
)


_STICKS = "\xa0"
"""A space at which no line is broken."""


def keys_row(commands: tuple[Command, ...], columns: int) -> str:
    """All keys of a table in as many rows as they need."""
    parts = [f"{row.shown} {row.short}".replace(" ", _STICKS) for row in commands]
    return "\n".join(textwrap.wrap("   ".join(parts), columns)).replace(_STICKS, " ")


def by_key(key: str) -> Command | None:
    """The command that a key gives."""
    return next((command for command in GUIDE if key in command.keys), None)


def by_name(name: str) -> Command:
    """The command of that name."""
    return next(command for command in GUIDE if command.name == name)


def footer(names: tuple[str, ...], columns: int, words: Mapping[str, str] = MappingProxyType({})) -> str:
    """Keys and words for the last line of the screen, as many of `names` as fit; words: other ones than the table's."""
    line = ""
    for command in (by_name(name) for name in names):
        usual = command.short or command.help.split(":")[0].split(".")[0].lower()
        part = f"{command.shown} {words.get(command.name, usual)}"
        if len(line) + len(part) + 2 > columns:
            break
        line = f"{line}  {part}" if line else part
    return line


def help_lines(*, jobs_first: bool = False) -> tuple[tuple[str, str], ...]:
    """Every key with what it does, and how a reading is typed; a heading has no key."""
    jobs = (("", "IN THE LIST OF JOBS"), *((command.shown, command.help) for command in JOBS))
    typed = (
        ("digits", "Begin a reading: 98.412 MHz, 98,412M, 455k, -3 dB, or the bare number in the unit shown."),
        ("a, b", "A reading and the turns made: 12.3, 1 1/4 (clockwise; -1/4 is anticlockwise)."),
        ("wand", "Three levels (none ferrite brass): 10.2 11.4 9.0, or two signs: +- for up, down; = for same."),
        ("Esc", "Empties the entry line, drops a question, or puts away what stands questioned."),
    )
    guide = (
        ("", "WHILE A JOB IS OPEN, AND NOTHING IS TYPED"),
        *((command.shown, command.help) for command in GUIDE),
        ("", "TYPING A READING"),
        *typed,
    )
    return (*jobs, *guide) if jobs_first else (*guide, *jobs)
