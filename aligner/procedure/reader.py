"""From a TOML file to a `Procedure`, or to all faults of the file at once."""

import hashlib
import re
import tomllib
from dataclasses import replace
from pathlib import Path

from aligner.errors import Fault, ProcedureError
from aligner.procedure.checks import check_whole, strip_alone
from aligner.procedure.circuit_form import Surroundings, read_parts
from aligner.procedure.faults import Faults
from aligner.procedure.form import Cell, Table
from aligner.procedure.model import Generator, Procedure, Tuning
from aligner.procedure.places import WholeSet
from aligner.procedure.positions import line_numbers
from aligner.procedure.set_form import (
    read_bands,
    read_counter,
    read_generator,
    read_hazards,
    read_meter,
    read_set,
    read_tuning,
)
from aligner.procedure.step_kinds import read_steps
from aligner.text import clean

FORMAT = 1
SIZE_LIMIT = 256 * 1024
ABOUT_LIMIT = 4000
TITLE_LIMIT = 120
_TUNING_CURE = 'add [tuning] with by = "voltage" or by = "gang"'

# Starts at the start of a word only, and gives nothing back, or long words would take quadratic time.
_MANY_PARTS = re.compile(r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){16}""")
_PLACE = re.compile(r" \(at line (\d+), column \d+\)$")


def read_procedure(path: Path) -> Procedure:
    """The procedure in that file; ProcedureError with all its faults."""
    try:
        if not path.is_file():
            raise _refused(str(path), "there is no such file", "give the path of a procedure file")
        with path.open("rb") as file:
            data = file.read(SIZE_LIMIT + 1)
    except OSError as error:
        cure = "check that the file is there and may be read"
        raise _refused(str(path), f"it cannot be read ({error.strerror})", cure) from error
    if len(data) > SIZE_LIMIT:
        raise _too_large(str(path))
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _refused(str(path), "it is not text in UTF-8", "save it as UTF-8", line) from error
    return parse_procedure(text, str(path))


def parse_procedure(text: str, file: str) -> Procedure:
    """The procedure in that text; `file` names it in faults, and its stem is the procedure's name."""
    text = text.removeprefix("\ufeff")  # some editors begin a file with this mark
    document = _parsed(text, file)
    faults = Faults()
    procedure = _procedure(Table(document, (), faults), faults, text, file)
    if faults or procedure is None:
        raise ProcedureError(faults.located(file, line_numbers(text)))
    return procedure


def _parsed(text: str, file: str) -> dict[str, object]:
    """The document as TOML; a file that is none has this one fault."""
    encoded_length = len(text.encode("utf-8", "surrogatepass"))
    if encoded_length > SIZE_LIMIT:
        raise _too_large(file)
    if many := _MANY_PARTS.search(text):  # the parser would take hours over a key of very many parts
        line = text.count("\n", 0, many.start()) + 1
        raise _refused(file, "a key of very many parts", "use the keys of the form", line)
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise _refused(file, "lists or tables nested far too deep", "use the keys of the form") from error
    except ValueError as error:  # TOMLDecodeError, and numbers too long to be read
        place = _PLACE.search(str(error))
        line = int(place[1]) if place else 0
        found = f"it is not sound TOML: {clean(_PLACE.sub('', str(error)), 120)}"
        raise _refused(file, found, "mend this first; more faults may show then", line) from error


def _procedure(top: Table, faults: Faults, text: str, file: str) -> Procedure | None:
    """Reads the document from top to bottom; None where it has a fault."""
    if not _format_is_ours(top):
        return None
    title = top.need("title", "say in a few words what is aligned").text(TITLE_LIMIT)
    about = top.may("about").text(ABOUT_LIMIT)
    hazards = read_hazards(top.may("hazards"))
    alone = strip_alone(top)
    superhet = read_set(top.need("set", "add [set] with intermediate and oscillator").table(), alone=alone)
    bands = read_bands(_front_end(top, "band", "add [[band]] with id and range", alone=alone), superhet)
    tuning_table = _front_end(top, "tuning", _TUNING_CURE, alone=alone).table()
    tuning = Tuning("none") if alone and tuning_table.absent else read_tuning(tuning_table)
    parts = read_parts(top, tuning_table, Surroundings(bands, tuning))
    tuning_table.close()
    whole = WholeSet(bands, tuning, parts.circuits, parts.adjusters, parts.preset_ids, superhet.intermediate_hz)
    counter = read_counter(top.may("counter").table())
    meter = read_meter(top.may("meter").table())
    generator = read_generator(top.may("generator").table()) or Generator()
    steps = read_steps(top, whole)
    check_whole(top, whole, steps, alone=alone and not bands)
    if faults or title is None or tuning is None or superhet.intermediate_hz is None or superhet.oscillator is None:
        return None
    return Procedure(
        format=FORMAT,
        title=title,
        about=about or "",
        hazards=hazards,
        intermediate_hz=superhet.intermediate_hz,
        oscillator=superhet.oscillator,
        bands=bands,
        tuning=replace(tuning, presets=tuple(parts.presets)),
        counter=counter,
        meter=meter,
        generator=generator,
        circuits=tuple(parts.circuits),
        adjusters=tuple(parts.adjusters),
        steps=tuple(step for step, _ in steps),
        name=clean(Path(file).stem, TITLE_LIMIT),
        text=text,
        digest=hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest(),
    )


def _front_end(top: Table, key: str, cure: str, *, alone: bool) -> Cell:
    """What belongs to a front end and may be left out for an IF strip alone."""
    return top.may(key) if alone else top.need(key, cure)


def _format_is_ours(top: Table) -> bool:
    """A newer form cannot be judged at all, so nothing else of the file is."""
    cell = top.need("format", f"write format = {FORMAT}")
    number = cell.whole(1)
    if number is not None and number > FORMAT:
        found = f"form {cell}, newer than this version can read"
        cell.fault(f"use a newer version of the program, or write format = {FORMAT}", found)
        return False
    return True


def _refused(file: str, found: str, cure: str, line: int = 0) -> ProcedureError:
    return ProcedureError((Fault(clean(file), line, "", found, cure),))


def _too_large(file: str) -> ProcedureError:
    cure = "a procedure is a short text: check that this is the right file"
    return _refused(file, f"it is larger than {SIZE_LIMIT // 1024} KiB", cure)
