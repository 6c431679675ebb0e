"""The circuits and everything that can be turned: in a circuit, shared by several, or on the tuning voltage."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, get_args

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import COUNTED_BY_KIND, Adjuster, Band, Circuit, Does, Kind, Role, Tuning
from aligner.procedure.units import Unit

DOES: tuple[Does, ...] = get_args(Does)
KINDS: tuple[Kind, ...] = get_args(Kind)
ROLES: tuple[Role, ...] = get_args(Role)
ACROSS: tuple[Literal["tuning", "coil"], ...] = ("tuning", "coil")
SECTIONS: tuple[Literal["plain", "cut"], ...] = ("plain", "cut")
ROTATION: tuple[Literal["more", "less"], ...] = ("more", "less")
SETS: tuple[Literal["low-end", "high-end"], ...] = ("low-end", "high-end")

NEVER_COUNTED: frozenset[Kind] = frozenset({"air-coil", "rod-coil", "wire-trimmer"})
"""Spread, slid or unwound: what does not rotate has no turns to count."""

_COILS: tuple[Kind, ...] = ("air-coil", "ferrite-core", "brass-core", "rod-coil")
_TRIMMERS: tuple[Kind, ...] = ("compression-trimmer", "rotary-trimmer", "piston-trimmer", "wire-trimmer")
_PRESETS: tuple[Kind, ...] = ("preset",)
_KINDS_BY_DOES: dict[Does, tuple[Kind, ...]] = {
    "inductance": _COILS,
    "parallel": _TRIMMERS,
    "series": _TRIMMERS,
    "tuning-voltage": _PRESETS,
}
_UNITS: dict[Does, Unit] = {"inductance": "H", "parallel": "F", "series": "F", "tuning-voltage": "V"}


@dataclass(slots=True)
class Parts:
    """Circuits, adjusters and presets as they are gathered."""

    circuits: list[Circuit] = field(default_factory=list)
    adjusters: list[Adjuster] = field(default_factory=list)
    presets: list[tuple[str, Literal["low-end", "high-end"]]] = field(default_factory=list)

    @property
    def preset_ids(self) -> list[str]:
        """The ids of the presets."""
        return [preset for preset, _ in self.presets]

    def add(self, adjuster: Adjuster, id_cell: Cell) -> None:
        """One adjuster more; each has an id of its own in the whole file."""
        if adjuster.id and adjuster.id in [known.id for known in self.adjusters]:
            id_cell.fault("give each adjuster an id of its own")
        self.adjusters.append(adjuster)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What circuits and adjusters are checked against; tuning None where it is at fault."""

    bands: Sequence[Band]
    tuning: Tuning | None


def read_parts(top: Table, tuning_table: Table, around: Surroundings) -> Parts:
    """[[circuit]] with its adjusters, [[adjuster]] shared by circuits, [[tuning.adjuster]]."""
    parts = Parts()
    cells = top.need("circuit", "describe each tuned circuit under [[circuit]]").rows("[[circuit]] with id and role")
    for cell in cells:
        _read_circuit(cell.table(), parts, around)
    for cell in top.may("adjuster").rows("[[adjuster]] with circuits = [...]"):
        _read_shared(cell.table(), parts, around)
    for cell in tuning_table.may("adjuster").rows("[[tuning.adjuster]] with id and sets"):
        _read_preset(cell, parts, around)
    return parts


def _read_circuit(table: Table, parts: Parts, around: Surroundings) -> None:
    id_cell = table.need("id", 'give the circuit an id, such as "antenna"')
    circuit_id = id_cell.identifier() or ""
    if circuit_id and circuit_id in [circuit.id for circuit in parts.circuits]:
        id_cell.fault("give each circuit an id of its own")
    role = table.need("role", f"write one of {', '.join(ROLES)}").choice(ROLES)
    across = table.may("trimmer-across").choice(ACROSS) or "coil"
    bands = _references(table.may("bands"), [band.id for band in around.bands], "band")
    q = table.may("q").number()
    section = table.may("section").choice(SECTIONS)
    padder_cell = table.may("padder")
    padder_f = padder_cell.quantity("F")
    own = []
    for cell in table.may("adjuster").rows("[[circuit.adjuster]] with id, does and kind"):
        own_table = cell.table()
        adjuster, own_id = _read_adjuster(own_table, around, (circuit_id,))
        own_table.close()
        parts.add(adjuster, own_id)
        own.append(adjuster.id)
        if padder_cell.given and adjuster.does == "series":
            padder_cell.fault("leave it out: the padder that can be turned is described", "a fixed padder and another")
    if section and around.tuning and around.tuning.by != "gang":
        table.fault("section", "a section of a gang in a set that has none", "leave it out")
    table.close()
    # A circuit whose role is at fault counts as a signal circuit meanwhile; the fault is noted.
    parts.circuits.append(Circuit(circuit_id, role or "signal", tuple(own), across, bands, q, section, padder_f))


def _read_shared(table: Table, parts: Parts, around: Surroundings) -> None:
    """An adjuster that several circuits share stands last in each."""
    known = [circuit.id for circuit in parts.circuits]
    named = _references(table.need("circuits", "name the circuits that it moves"), known, "circuit")
    adjuster, id_cell = _read_adjuster(table, around, named)
    table.close()
    parts.add(adjuster, id_cell)
    for place, circuit in enumerate(parts.circuits):
        if circuit.id in named:
            parts.circuits[place] = _with_adjuster(circuit, adjuster.id)


def _with_adjuster(circuit: Circuit, adjuster_id: str) -> Circuit:
    return replace(circuit, adjusters=(*circuit.adjusters, adjuster_id))


def _read_preset(cell: Cell, parts: Parts, around: Surroundings) -> None:
    """A preset of the tuning voltage moves every circuit at once."""
    table = cell.table()
    sets = table.need("sets", 'write "low-end" or "high-end"').choice(SETS)
    id_cell = table.need("id", 'give it an id, such as "low-end-preset"')
    kind = table.may("kind").choice(_PRESETS) or "preset"
    adjuster = _details(table, id_cell.identifier() or "", "tuning-voltage", kind, tuple(c.id for c in parts.circuits))
    table.close()
    if around.tuning and around.tuning.by == "gang":
        cell.fault("leave it out: a gang has no presets of a tuning voltage", "a preset of the tuning voltage")
    parts.add(adjuster, id_cell)
    if sets:
        parts.presets.append((adjuster.id, sets))


def _read_adjuster(table: Table, around: Surroundings, circuits: tuple[str, ...]) -> tuple[Adjuster, Cell]:
    id_cell = table.need("id", 'give the adjuster an id, such as "antenna-coil"')
    does_cell = table.need("does", f"write one of {', '.join(DOES)}")
    kind_cell = table.need("kind", f"write one of {', '.join(KINDS)}")
    does, kind = does_cell.choice(DOES), kind_cell.choice(KINDS)
    if does and kind and kind not in _KINDS_BY_DOES[does]:
        kind_cell.fault(f"{does} is changed by one of {', '.join(_KINDS_BY_DOES[does])}")
    if does and around.tuning:
        _check_does(does_cell, does, around.tuning)
    return _details(table, id_cell.identifier() or "", does, kind, circuits), id_cell


def _check_does(cell: Cell, does: Does, tuning: Tuning) -> None:
    """A padder belongs to a gang, a preset to a tuning voltage."""
    if does == "series" and tuning.by != "gang":
        cell.fault('only a set tuned by a gang has one: write "parallel", or by = "gang" under [tuning]')
    if does == "tuning-voltage" and tuning.by != "voltage":
        cell.fault('a gang has no tuning voltage: write "parallel", or by = "voltage" under [tuning]')


def _details(
    table: Table, adjuster_id: str, does: Does | None, kind: Kind | None, circuits: tuple[str, ...]
) -> Adjuster:
    """What may be said of every adjuster."""
    unit = _UNITS[does] if does else None
    counted_cell, turn_cell, rotation_cell = table.may("counted"), table.may("turn"), table.may("rotation")
    travel_cell = table.may("travel")
    counted = counted_cell.flag()
    rotation = rotation_cell.choice(ROTATION)
    if kind in NEVER_COUNTED:
        if counted:
            found = f'true for the kind "{kind}"'
            counted_cell.fault("leave it out: it does not rotate, so it has no turns to count", found)
        for cell in (turn_cell, rotation_cell):
            if cell.given:
                cell.fault("leave it out: it does not rotate", f'{cell} for the kind "{kind}"')
    usual = COUNTED_BY_KIND[kind] if kind else False
    return Adjuster(
        id=adjuster_id,
        does=does or "parallel",  # stands in for one that is at fault
        kind=kind or "rotary-trimmer",
        counted=usual if counted is None else counted,
        circuits=circuits,
        where=table.may("where").text() or "",
        travel=travel_cell.pair(unit) if unit else None,
        rotation=rotation,
        turn=turn_cell.quantity(unit) if unit else None,
    )


def _references(cell: Cell, known: Sequence[str], what: str) -> tuple[str, ...]:
    """Ids of things that stand elsewhere in the file, each once."""
    named: list[str] = []
    for row in cell.rows(f"a list of {what} ids"):
        name = row.reference(known, what)
        if name in named:
            row.fault(f"name each {what} once")
        elif name:
            named.append(name)
    return tuple(named)
