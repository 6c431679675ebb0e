"""Virtual sets whose parts are written down: the files `*-demo-set.toml` in `demo_data/`."""

from pathlib import Path

import msgspec

from aligner.errors import UsageError
from aligner.procedure.model import Procedure
from aligner.rehearsal.parts import Parts
from aligner.rehearsal.population import read_population
from aligner.rehearsal.set import VirtualSet
from aligner.shipped import folder


class SetFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """One virtual set: the shipped procedure it is made for, what it is, its parts."""

    format: int
    title: str
    procedure: str
    parts: Parts


def demo_sets() -> tuple[Path, ...]:
    """The files of the virtual sets that come with the program."""
    return tuple(sorted(folder("demo_data").glob("*-demo-set.toml")))


def read_set(path: Path) -> SetFile:
    """The virtual set of that file; UsageError names what is wrong with it."""
    try:
        return msgspec.toml.decode(path.read_bytes(), type=SetFile)
    except (OSError, UnicodeDecodeError, msgspec.MsgspecError) as fault:
        raise UsageError(f"{path.name}: {fault}; give a virtual set as demo_data/fm-demo-set.toml is one") from fault


def demo_set(procedure: Procedure, seed: int = 1) -> VirtualSet:
    """The virtual set that comes with the program for that procedure, on a bench with the usual instruments."""
    known = {found.procedure: found for found in map(read_set, demo_sets())}
    if procedure.name not in known:
        names = ", ".join(sorted(known))
        raise UsageError(f'There is no virtual set for the procedure "{procedure.name}"; there is one for {names}.')
    population = read_population(folder("demo_data") / "population.toml")
    return VirtualSet(procedure, known[procedure.name].parts, population, seed)
