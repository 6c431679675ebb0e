"""The set as a whole: its bands, how it is tuned, and the instruments."""

from dataclasses import dataclass
from typing import Literal, get_args

from aligner.procedure.form import Cell, Table, nearest
from aligner.procedure.hazards import KNOWN_HAZARDS
from aligner.procedure.model import Band, Counter, Generator, Meter, Tuning

Side = Literal["above", "below"]
Law = Literal["straight-capacitance", "straight-frequency"]
Shows = Literal["divided", "oscillator", "received"]
MeterLaw = Literal["log", "linear", "unknown"]
MoreSignal = Literal["up", "down"]

SIDES: tuple[Side, ...] = get_args(Side)
LAWS: tuple[Law, ...] = get_args(Law)
SHOWS: tuple[Shows, ...] = get_args(Shows)
METER_LAWS: tuple[MeterLaw, ...] = get_args(MeterLaw)
MORE_SIGNAL: tuple[MoreSignal, ...] = get_args(MoreSignal)
TUNED_BY: tuple[Literal["voltage", "gang"], ...] = ("voltage", "gang")
INTO: tuple[str, ...] = ("aerial", "mixer", "stage")


@dataclass(frozen=True, slots=True)
class Superhet:
    """[set]: None where it is at fault."""

    intermediate_hz: float | None
    oscillator: Side | None


def read_hazards(cell: Cell) -> tuple[str, ...]:
    """Known hazards by name, others in words of one's own; a misspelt name must not lose its cautions."""
    hazards = []
    for row in cell.rows('a list such as ["mains", "stored-charge"]'):
        hazard = row.text()
        if hazard is None:
            continue
        cure = "" if hazard in KNOWN_HAZARDS else nearest(hazard, KNOWN_HAZARDS)
        if cure.startswith("did you mean") or (cure and " " not in hazard):
            row.fault(f"{cure}; for another hazard write a few words")
        elif hazard in hazards:
            row.fault("name each hazard once")
        hazards.append(hazard)
    return tuple(hazards)


def read_set(table: Table, *, alone: bool = False) -> Superhet:
    """[set]; an IF strip alone has no oscillator to stand on a side of anything."""
    intermediate = table.need("intermediate", 'write the intermediate frequency, such as "455 kHz"')
    cure = 'write "above" or "below"'
    oscillator = table.may("oscillator") if alone else table.need("oscillator", cure)
    side = oscillator.choice(SIDES)
    table.close()
    return Superhet(intermediate.quantity("Hz"), "above" if alone and not oscillator.given else side)


def read_bands(cell: Cell, superhet: Superhet) -> tuple[Band, ...]:
    """[[band]]: those that are sound."""
    bands: list[Band] = []
    for row in cell.rows("[[band]] with id and range"):
        table = row.table()
        id_cell = table.need("id", 'give the band an id, such as "fm"')
        range_cell = table.need("range", 'write its ends, such as ["87.5 MHz", "108 MHz"]')
        table.close()
        band_id, ends = id_cell.identifier(), range_cell.pair("Hz")
        if band_id in [band.id for band in bands]:
            id_cell.fault("give each band an id of its own")
        if ends:
            _check_band(range_cell, ends, superhet)
        if band_id and ends:
            bands.append(Band(band_id, *ends))
    return tuple(bands)


def _check_band(cell: Cell, ends: tuple[float, float], superhet: Superhet) -> None:
    """No superhet receives its own intermediate frequency, and below the signal the oscillator needs room."""
    if superhet.intermediate_hz is None:
        return
    if ends[0] <= superhet.intermediate_hz <= ends[1]:
        found = "a band with the intermediate frequency in it"
        cell.fault("check both: no set receives its own intermediate frequency", found)
    elif superhet.oscillator == "below" and ends[0] <= superhet.intermediate_hz:
        cell.fault('check both, or write oscillator = "above"', "a band below the oscillator's lowest place")


def read_tuning(table: Table) -> Tuning | None:
    """[tuning] without its presets, which are adjusters."""
    by_cell = table.need("by", 'write "voltage" or "gang"')
    range_cell, curve_cell, law_cell = table.may("range"), table.may("curve"), table.may("law")
    by = by_cell.choice(TUNED_BY)
    law = law_cell.choice(LAWS)
    if by is None:
        return None
    if law_cell.given and by == "voltage":
        law_cell.fault("leave it out: a law by name is for a gang, a varactor's law is given as a curve")
    if law_cell.given and curve_cell.given:
        law_cell.fault("give one of them only", "both a law and a curve")
    span = range_cell.pair("V" if by == "voltage" else "F")
    curve = _curve(curve_cell, by)
    if by == "voltage" and span and curve and not curve[0][0] <= span[0] < span[1] <= curve[-1][0]:
        found = "a curve that does not reach over the range"
        curve_cell.fault("add rows: a curve is never drawn on beyond its ends", found)
    return Tuning(by, span, law, curve)


def _curve(cell: Cell, by: Literal["voltage", "gang"]) -> tuple[tuple[float, float], ...]:
    """Rows of (volts or dial, capacitance), sorted by the author; capacitance falls as the frequency rises."""
    example = '["2 V", "16.3 pF"]' if by == "voltage" else '["600 kHz", "285 pF"]'
    rows: list[tuple[float, float]] = []
    cells = cell.rows(f"a list of rows such as {example}")
    for row in cells:
        members = row.rows(f"a row such as {example}")
        if len(members) != 2:
            if members:
                row.fault(f"write a row such as {example}", f"a row of {len(members)}")
            continue
        at, capacitance = members[0].quantity("V" if by == "voltage" else "Hz"), members[1].quantity("F")
        if at is None or capacitance is None:
            continue
        if rows and not (rows[-1][0] < at and rows[-1][1] > capacitance):
            row.fault("sort the rows upwards; the capacitance falls from each to the next", "a row out of order")
        rows.append((at, capacitance))
    if len(cells) == 1:
        cell.fault("give two rows at least", "a curve of one row")
    return tuple(rows)


def read_counter(table: Table) -> Counter:
    """[counter]."""
    shows = table.may("shows").choice(SHOWS) or "oscillator"
    cure = "write by how much the prescaler divides, such as 64"
    prescaler_cell = table.need("prescaler", cure) if shows == "divided" else table.may("prescaler")
    prescaler = prescaler_cell.whole(1) or 1
    gate_s = table.may("gate").quantity("s") or 1.0
    offset = table.may("offset")
    offset_hz = offset.quantity("Hz")
    if offset.given and shows != "received":
        offset.fault('leave it out, or write shows = "received"', "an offset of a counter that subtracts none")
    table.close()
    return Counter(shows, prescaler, gate_s, offset_hz)


def read_meter(table: Table) -> Meter | None:
    """[meter]; None where there is none."""
    law = table.may("law").choice(METER_LAWS) or "unknown"
    more_signal = table.may("more-signal").choice(MORE_SIGNAL) or "up"
    resolution_db = table.may("resolution").quantity("dB") or 0.5
    table.close()
    return None if table.absent else Meter(law, more_signal, resolution_db)


def read_generator(table: Table) -> Generator | None:
    """[generator], or a step's own; None where there is none."""
    usual = Generator()
    into = table.may("into").choice(INTO) or usual.into
    through = table.may("through").text() or usual.through
    modulation = table.may("modulation").text() or usual.modulation
    table.close()
    return None if table.absent else Generator(into, through, modulation)
