"""A picture of the set: the way of the signal from the aerial down, and the adjuster to touch marked."""

import textwrap
from dataclasses import dataclass

from aligner.engine.asks import Ask, Turning
from aligner.procedure.model import Adjuster, Circuit, Procedure
from aligner.text import clean

_AERIAL = ("aerial", "antenna")
_KINDS = {
    "air-coil": "air coil", "ferrite-core": "ferrite core", "brass-core": "brass core", "rod-coil": "coil on the rod",
    "compression-trimmer": "compression trimmer", "rotary-trimmer": "rotary trimmer", "piston-trimmer":
    "piston trimmer", "wire-trimmer": "wire trimmer", "preset": "preset",
}  # fmt: skip
_DOES = {"inductance": "L", "parallel": "C", "series": "C in series", "tuning-voltage": "tuning voltage"}


@dataclass(frozen=True, slots=True)
class Ink:
    """What lines, corners and the mark of the adjuster to touch are drawn with."""

    down: str
    across: str
    corner: str
    into: str
    hand: str


LINES = Ink("│", "─", "├", "◀", "▶")
PLAIN = Ink("|", "-", "+", "<", ">")


def picture(procedure: Procedure, ask: Ask | None, columns: int, *, plain: bool = False) -> str:
    """The circuits in the order of the signal; the oscillator at the mixer's side. The adjuster to touch is marked."""
    ink = PLAIN if plain else LINES
    wanted = ask.adjuster if isinstance(ask, Turning) else ""
    lines = [f"  {'generator' if not procedure.bands else 'aerial'}"]
    for circuit in _signal(procedure):
        lines += _stage(procedure, circuit, wanted, ink)
    oscillators = [row for row in procedure.circuits if row.role == "oscillator"]
    if procedure.bands:
        lines += [f"  {ink.down}", f"  MIXER {ink.into}{ink.across * 4} oscillator"]
        for circuit in oscillators:
            lines += _adjusters(procedure, circuit, wanted, " " * 8, ink)
    for circuit in (row for row in procedure.circuits if row.role in {"if", "detector", "trap"}):
        lines += _stage(procedure, circuit, wanted, ink)
    shared = [row for row in procedure.adjusters if len(row.circuits) > 1 or row.does == "tuning-voltage"]
    lines += [f"  {row.id} moves several circuits: {', '.join(row.circuits)}" for row in shared if row.circuits]
    return "\n".join(line[:columns].rstrip() for line in [*lines, "", *_spot(procedure, wanted, ink, columns)])


def _signal(procedure: Procedure) -> list[Circuit]:
    """From the aerial to the mixer: procedures list them from the mixer outwards, or name the aerial's."""
    rows = [row for row in procedure.circuits if row.role == "signal"]
    rows.reverse()
    return sorted(rows, key=lambda row: not any(word in row.id for word in _AERIAL))


def _stage(procedure: Procedure, circuit: Circuit, wanted: str, ink: Ink) -> list[str]:
    role = "" if circuit.role == "signal" else f" ({circuit.role.upper() if circuit.role == 'if' else circuit.role})"
    bands = f", band {', '.join(circuit.bands)}" if circuit.bands else ""
    head = [f"  {ink.down}", f"  {ink.corner}{ink.across} {clean(circuit.id, 40)}{role}{bands}"]
    return head + _adjusters(procedure, circuit, wanted, f"  {ink.down}     ", ink)


def _adjusters(procedure: Procedure, circuit: Circuit, wanted: str, indent: str, ink: Ink) -> list[str]:
    lines = []
    for name in circuit.adjusters:
        adjuster = procedure.adjuster(name)
        mark = f"{ink.hand} " if name == wanted else "  "
        now = "   <== NOW" if name == wanted else ""
        lines.append(f"{indent}{mark}{clean(name, 30):<22} {_what(adjuster)}{now}")
    return lines


def _what(adjuster: Adjuster) -> str:
    return f"{_DOES[adjuster.does]}, {_KINDS[adjuster.kind]}"


def _spot(procedure: Procedure, wanted: str, ink: Ink, columns: int) -> list[str]:
    if not wanted:
        return ["Nothing is to be turned now."]
    where = procedure.adjuster(wanted).where
    words = f"{ink.hand} {wanted}" + (f" sits: {clean(where, 300)}" if where else ": the procedure does not say where")
    return textwrap.wrap(words, columns, subsequent_indent="  ")
