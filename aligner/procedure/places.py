"""Where the set is tuned for a reading, as points and limits of steps say it, and what shall be received there."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from aligner.procedure.form import Cell, Table
from aligner.procedure.model import Adjuster, Band, Circuit, Place, Tuning

ENDS: tuple[Literal["low", "high"], ...] = ("low", "high")
_PLACES = ("dial", "volts", "mark", "end")


@dataclass(frozen=True, slots=True)
class WholeSet:
    """What steps are checked against; tuning None where it is at fault."""

    bands: Sequence[Band]
    tuning: Tuning | None
    circuits: Sequence[Circuit]
    adjusters: Sequence[Adjuster]
    presets: Sequence[str]
    intermediate_hz: float | None = None

    def ids(self, role: str = "") -> list[str]:
        """The ids of all circuits, or of those with one role."""
        return [circuit.id for circuit in self.circuits if role in ("", circuit.role)]

    def of_band(self, role: str, band: Band | None) -> list[Circuit]:
        """The circuits of one role that work on a band."""
        rows = [circuit for circuit in self.circuits if circuit.role == role]
        return [circuit for circuit in rows if band is None or not circuit.bands or band.id in circuit.bands]


@dataclass(frozen=True, slots=True)
class Where:
    """A place and what [Hz] shall be received there; None where it is not said or at fault."""

    place: Place
    received_hz: float | None


def read_where(table: Table, whole: WholeSet, band: Band | None) -> Where | None:
    """One of dial, volts, mark or end, and received, which a dial and an end imply."""
    dial, volts, mark, end = (table.may(key) for key in _PLACES)
    given = [cell for cell in (dial, volts, mark, end) if cell.given]
    received = table.may("received")
    if len(given) != 1 and not table.absent:
        found = " and ".join(str(cell.path[-1]) for cell in given) or "no place"
        table.fault("", found, 'name one place: dial, volts, mark or end, such as { dial = "600 kHz" }')
        return None
    place = Place(dial.quantity("Hz"), None, volts.quantity("V"), mark.text(60), end.choice(ENDS))
    if place == Place():
        return None
    check_volts(volts, place, whole.tuning)
    check_in_band(dial, place.dial, band)
    received_hz = received.quantity("Hz")
    check_in_band(received, received_hz, band)
    return Where(place, received_hz or _implied(table, place, band, received))


def _implied(table: Table, place: Place, band: Band | None, received: Cell) -> float | None:
    if place.dial is not None or received.given:
        return place.dial
    if place.end is not None:
        return (band.low_hz if place.end == "low" else band.high_hz) if band else None
    cure = 'write what shall be received there, such as received = "87.5 MHz"'
    table.fault("received", 'there is no "received"', cure)
    return None


def check_volts(cell: Cell, place: Place, tuning: Tuning | None) -> None:
    """A tuning voltage is a place of a set tuned by voltage, inside its range."""
    if place.volts is None or tuning is None or tuning.by == "none":
        return
    if tuning.by == "gang":
        cell.fault("name a place of the gang: dial, mark or end", "a tuning voltage of a set tuned by a gang")
    elif tuning.span and not tuning.span[0] <= place.volts <= tuning.span[1]:
        cell.fault(f"write {tuning.span[0]:g} V to {tuning.span[1]:g} V, or widen the range under [tuning]")


def check_in_band(cell: Cell, hz: float | None, band: Band | None) -> None:
    """A point outside the band is a slip of the pen."""
    if hz is not None and band and not band.low_hz <= hz <= band.high_hz:
        cell.fault(f'write a place in the band "{band.id}", {band.low_hz / 1e6:g} MHz to {band.high_hz / 1e6:g} MHz')


def check_tolerance(cell: Cell, hz: float | None, band: Band | None) -> None:
    """A tolerance of half the band or more holds whatever is read."""
    if hz is not None and band and hz >= (band.high_hz - band.low_hz) / 2:
        cell.fault("write a smaller one: this is half the band or more")
