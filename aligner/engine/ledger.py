"""The history, read once: what was done to the circuits, what was seen of them, and what the person decided.

Every answer is interpreted by the ask that was recorded with it. Numbers of events: entry `seq` gives movement 2 seq
and sighting 2 seq + 1, because what is read after a touch is read with the adjuster already moved.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from aligner.engine.answers import Cannot, Done, Leaving, Reading, Result, SwitchWay, Undo
from aligner.engine.asks import Confirm, Peak, Point, Read, Single, Sweep, Touch, Turning, Wand
from aligner.engine.history import Entry, History, undoable, undone
from aligner.engine.instruments import (
    PEAK_FINE,
    PEAK_PLAIN,
    RESONANCE_NOISE,
    TURN_NOISE,
    instruments_of,
    place_kind,
    place_sd_hz,
)
from aligner.engine.levels import Level, falls_of, levels_read, looks_of, sided_of
from aligner.engine.locks import moved_by_locks
from aligner.engine.looks import stage_event, wand_event
from aligner.engine.order import steps_aside
from aligner.engine.presets import displaced, last_preset
from aligner.engine.rocked import rocked_sighting
from aligner.estimate.events import Event, Moved, Sighted, Spot
from aligner.estimate.frame import USUAL_Q
from aligner.procedure.model import CoverageStep, Procedure, TrackingStep, WarmUpStep


@dataclass(frozen=True, slots=True)
class Stop:
    """An adjuster at its end of travel: it could not go further `toward` ("more", "less", or "" where unknown).

    turns is the net turn with which the end was met; where the sense is learned later it tells the side.
    """

    seq: int
    adjuster: str
    toward: str
    turns: float = 0.0


@dataclass(frozen=True)
class Ledger:
    """The facts of a history, oldest first."""

    entries: tuple[Entry, ...]  # taken and not taken back; no notes and sittings, which must not change what is asked
    events: tuple[Event, ...]
    levels: tuple[Level, ...]
    stops: tuple[Stop, ...]
    visits: tuple[Entry, ...]  # the first entry of each touch; retracted ones and those left half turned count too
    readings_in: dict[str, int]  # readings of each step; retracted ones count too, as touches do
    ways: dict[str, str] = field(default_factory=dict)
    set_aside: dict[str, str] = field(default_factory=dict)
    unreadable: frozenset[tuple[str, str, Point]] = frozenset()  # (step, quantity, point)
    lost: tuple[Moved, ...] = ()  # movements that ended with no reading: of touches left or taken back

    @property
    def touches(self) -> int:
        """How many touches were made."""
        return len(self.visits)

    @property
    def readings(self) -> int:
        """How many readings were taken."""
        return sum(self.readings_in.values())

    def of_step(self, step: str) -> tuple[Entry, ...]:
        """The entries whose ask belonged to a step."""
        return tuple(e for e in self.entries if e.ask is not None and e.ask.step == step)


@lru_cache(maxsize=8)
def ledger_of(procedure: Procedure, history: History) -> Ledger:
    """The facts of `history` under `procedure`."""
    gone = undone(history.entries)
    said = tuple([e for e in history.entries if not e.doubt])
    taken = tuple([e for e in said if not isinstance(e.answer, Undo)])
    live = tuple([e for e in taken if undoable(e) and e.seq not in gone])
    events: list[Event] = []
    since = last_preset(procedure, taken)
    for entry in taken:
        events.extend(_events(_Entered(procedure, entry, gone.get(entry.seq), since)))
        stage = stage_event(procedure, entry, live) if entry.seq not in gone else None
        events.extend([stage] if stage is not None else [])
    left = tuple(_left_turned(said, gone))
    lost = (*left, *_taken_back(events, gone))
    events.extend(left)
    levels = sided_of(tuple(levels_read(procedure, live)), tuple(events))
    events.extend(falls_of(procedure, levels, tuple(events)))
    events.extend(looks_of(procedure, levels, tuple(events)))
    events.extend(moved_by_locks(procedure, live, tuple(events)))
    return Ledger(
        entries=live,
        events=tuple(sorted(events, key=lambda event: event.seq)),
        levels=levels,
        stops=tuple(_stops(live)),
        visits=tuple(_visits([e for e in said if not isinstance(e.answer, Undo) or left_turned(e)])),
        readings_in=_readings_in(taken),
        ways=_ways(procedure, live),
        set_aside=steps_aside(live),
        unreadable=frozenset(_unreadable(procedure, live)),
        lost=lost,
    )


def left_turned(entry: Entry) -> bool:
    """Whether a touch or peak was left open with its adjuster turned already."""
    return isinstance(entry.ask, Turning) and isinstance(entry.answer, Leaving) and entry.answer.turned


def turned_for(entry: Entry) -> bool:
    """Whether a hand was on the adjuster of a touch or peak: that was answered, or left with it turned already."""
    return isinstance(entry.ask, Turning) and (isinstance(entry.answer, Result) or left_turned(entry))


def _left_turned(said: tuple[Entry, ...], gone: Mapping[int, Undo]) -> Iterator[Moved]:
    """What hands did to an adjuster before its ask was left: unknown, and not undone by taking back the leaving."""
    for entry in said:
        undo = gone.get(entry.seq)
        if left_turned(entry) and isinstance(entry.ask, Turning) and (undo is None or undo.moved):
            yield Moved(2 * entry.seq, entry.ask.adjuster)


def _taken_back(events: list[Event], gone: Mapping[int, Undo]) -> list[Moved]:
    return [event for event in events if isinstance(event, Moved) and event.seq // 2 in gone]


def touch_count(taken: Sequence[Entry]) -> int:
    """Visits of the tool to an adjuster, with no other adjuster or point between; retracted ones count too."""
    return sum(1 for _ in _visits(taken))


def _visits(taken: Sequence[Entry]) -> Iterator[Entry]:
    """The entries with which those visits begin."""
    at: tuple[str, Point] | None = None
    for entry in taken:
        ask = entry.ask
        if isinstance(ask, Turning) and turned_for(entry):
            if at != (ask.adjuster, ask.point):
                yield entry
            at = (ask.adjuster, ask.point)
        elif at is not None and isinstance(ask, Read | Wand | Sweep) and ask.point != at[1]:
            at = None


def _readings_in(taken: tuple[Entry, ...]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for entry in taken:
        if entry.ask is not None:
            counts[entry.ask.step] = counts.get(entry.ask.step, 0) + _readings(entry)
    return counts


def _readings(entry: Entry) -> int:
    if isinstance(entry.answer, Reading):
        return int(isinstance(entry.ask, Read))
    points = getattr(entry.answer, "points", ())
    return 3 if isinstance(entry.ask, Wand) and hasattr(entry.answer, "ferrite") else len(points)


class _Entered:
    """An entry as the history has it now: equal to the same one alone, for to compare entries would take long."""

    def __init__(self, procedure: Procedure, entry: Entry, undo: Undo | None, since: int) -> None:
        self.about = (procedure, entry, undo, since)

    def __hash__(self) -> int:
        return id(self.about[1])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, _Entered):
            return False
        procedure, entry, undo, since = self.about
        return entry is other.about[1] and procedure is other.about[0] and (undo, since) == other.about[2:]


@lru_cache(maxsize=1024)
def _events(entered: _Entered) -> tuple[Event, ...]:
    """What one entry tells; kept, because a history that grows keeps its entries, and each answer reads all of them."""
    return tuple(_told(*entered.about))


def _told(procedure: Procedure, entry: Entry, undo: Undo | None, since: int) -> Iterator[Event]:
    """Movement and sighting of one entry; one that was taken back leaves a movement of unknown size, if hands moved.

    `since` is the entry that moved a preset last: places of the scale were others before.
    """
    ask, answer = entry.ask, entry.answer
    tested = wand_event(procedure, entry) if undo is None else None
    if tested is not None:
        yield tested
    if not isinstance(ask, Single) or not isinstance(answer, Result):
        return
    if isinstance(answer, Cannot) and answer.why == "no-reading":
        return
    if isinstance(ask, Turning):
        if undo is not None and undo.moved:
            yield Moved(2 * entry.seq, ask.adjuster)
        elif undo is None:
            turns = turns_of(ask, answer)
            yield Moved(2 * entry.seq, ask.adjuster, turns, TURN_NOISE, _rises(procedure, ask, turns))
    if undo is None:
        yield from _sighting(procedure, entry, since)


def _rises(procedure: Procedure, ask: Turning, turns: float | None) -> int:
    """Which way the setting surely went: a hand that turned against the turns it was told has gone by the direction."""
    if not went_against(ask, turns) or ask.direction is None:
        return 0
    more = 1 if ask.direction == "more" else -1
    return -more if procedure.adjuster(ask.adjuster).does == "series" else more


def went_against(ask: Turning, turns: float | None) -> bool:
    """Whether a touch by level was turned the other way than its amount says: the screw works against its custom."""
    level = isinstance(ask, Touch) and ask.aim.quantity == "level"
    return level and ask.amount is not None and turns is not None and turns * ask.amount.value < 0.0


def turns_of(ask: Turning, answer: Result) -> float | None:
    """Net turns since the ask was shown; where turns are the aim, the reading is turns."""
    reading = answer.value if isinstance(answer, Reading) else answer.reading
    if answer.turns is None and isinstance(ask, Touch) and ask.aim.quantity == "turns":
        return reading
    return answer.turns


def _sighting(procedure: Procedure, entry: Entry, since: int) -> Iterator[Sighted]:
    ask, answer = entry.ask, entry.answer
    if not isinstance(ask, Single):
        return
    value = answer.value if isinstance(answer, Reading) else getattr(answer, "reading", None)
    spot = spot_of(procedure, ask.step, ask.point)
    if spot is None or isinstance(procedure.step(ask.step), WarmUpStep):  # a set that warms up is not itself yet
        return
    if displaced(procedure, _band(procedure, ask.step), ask.point, entry.seq, since):
        return
    seq = 2 * entry.seq + 1
    if isinstance(ask, Peak):
        most = "max" if instruments_of(procedure).more_is_up else "min"
        if isinstance(answer, Reading) and ask.quantity == "level" and ask.find == most and ask.generator is not None:
            rocked = rocked_sighting(procedure, ask, seq, spot) if ask.rock else None
            if rocked is not None:
                yield rocked
                return
            q, widths = procedure.circuit(ask.circuit).q or USUAL_Q, PEAK_FINE if ask.fine else PEAK_PLAIN
            hz = ask.generator.hz
            yield Sighted(seq, ask.circuit, spot, hz, widths * hz / q, q)
        return
    if value is None:
        return
    quantity = ask.aim.quantity if isinstance(ask, Touch) else ask.quantity
    if quantity == "resonance":
        yield Sighted(seq, ask.circuit, spot, value, RESONANCE_NOISE * value)
    elif quantity == "frequency":
        instruments = instruments_of(procedure)
        hz = instruments.oscillator_hz(value)
        place = place_sd_hz(procedure, _band(procedure, ask.step), ask.point, spot.hz)
        sd = instruments.frequency_sd_hz(hz, place_kind(ask.point), place)
        yield Sighted(seq, ask.circuit or _oscillator(procedure), spot, hz, sd)


def _oscillator(procedure: Procedure) -> str:
    return next((c.id for c in procedure.circuits if c.role == "oscillator"), "")


def _band(procedure: Procedure, step_id: str) -> str:
    """The band of a step; the only one where it names none."""
    named = getattr(procedure.step(step_id), "band", "")
    return str(named) if named or not procedure.bands else procedure.bands[0].id


def spot_of(procedure: Procedure, step_id: str, point: Point) -> Spot | None:
    """Where a point lies on the scale: what it shall receive if it is a place of the coverage, else its frequency."""
    if point.received is not None:
        return Spot(point.received, "received")
    here = _band(procedure, step_id)
    for step in procedure.steps:
        if isinstance(step, CoverageStep | WarmUpStep) and _band(procedure, step.id) == here:
            for covered in step.points if isinstance(step, CoverageStep) else (step,):
                place = covered.place
                same = (place.dial, place.volts, place.mark, place.end) == (
                    point.dial,
                    point.volts,
                    point.mark,
                    point.end,
                )
                if same and (place.dial, place.volts, place.mark, place.end) != (None, None, None, None):
                    return Spot(covered.received_hz, "dial")
    if point.dial is not None:
        return Spot(point.dial, "dial")
    if point.end is not None:
        band = procedure.band_of(here)
        return Spot(band.low_hz if point.end == "low" else band.high_hz, "dial")
    return None


def _stops(live: tuple[Entry, ...]) -> Iterator[Stop]:
    stood: dict[str, bool] = {}  # adjusters that stand at an end they have met already
    for entry in live:
        ask, answer = entry.ask, entry.answer
        if not isinstance(ask, Turning) or not isinstance(answer, Result):
            continue
        turns = turns_of(ask, answer)
        still = turns == 0.0 and stood.get(ask.adjuster, False)
        stood[ask.adjuster] = isinstance(answer, Cannot) and answer.why == "end-of-travel"
        if stood[ask.adjuster] and not still:
            toward = ask.direction if isinstance(ask, Touch) else None
            yield Stop(2 * entry.seq + 1, ask.adjuster, toward or "", turns or 0.0)


def _ways(procedure: Procedure, live: tuple[Entry, ...]) -> dict[str, str]:
    ways: dict[str, str] = {}
    for entry in live:
        if isinstance(entry.answer, SwitchWay):
            for step in procedure.steps:
                if (
                    isinstance(step, TrackingStep)
                    and entry.answer.step in ("", step.id)
                    and entry.answer.way in step.by
                ):
                    ways[step.id] = entry.answer.way
    return ways


def _unreadable(procedure: Procedure, live: tuple[Entry, ...]) -> Iterator[tuple[str, str, Point]]:
    """Where there was nothing to read; the level may be read again once a circuit beside it was peaked."""
    for n, entry in enumerate(live):
        ask, answer = entry.ask, entry.answer
        if isinstance(answer, Cannot) and answer.why == "no-reading" and isinstance(ask, Single | Wand):
            quantity: str
            if isinstance(ask, Touch):
                quantity = "level" if ask.aim.quantity == "turns" else ask.aim.quantity
            else:
                quantity = "wand" if isinstance(ask, Wand) else ask.quantity
            if quantity != "level" or not any(_louder(procedure, ask, later) for later in live[n + 1 :]):
                yield ask.step, quantity, ask.point


def _louder(procedure: Procedure, ask: Single | Wand, later: Entry) -> bool:
    """Whether another circuit of the same band was peaked: then more of a signal comes through."""
    peak = later.ask
    if not isinstance(peak, Peak) or not isinstance(later.answer, Reading) or peak.circuit == ask.circuit:
        return False
    if not isinstance(procedure.step(ask.step), TrackingStep):
        return False
    return peak.quantity == "level" and _band(procedure, peak.step) == _band(procedure, ask.step)


def confirmed(ledger: Ledger, step: str) -> int:
    """How many confirmations of a step are done, cautions (which are asked in the name of the first step) apart."""
    return sum(
        isinstance(e.ask, Confirm) and not e.ask.hazard and isinstance(e.answer, Done) for e in ledger.of_step(step)
    )
