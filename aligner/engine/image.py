"""The step `image`: the wanted signal and its image, two IFs apart, read with the same output of the generator.

What the circuits' Q promises is said beside what was found. An image that is as strong as the wanted signal means that
the oscillator stands on the wrong side, or that the signal circuits were peaked on the image.
"""

import math
from dataclasses import dataclass

from aligner.circuits.superhet import image_hz, image_rejection_db
from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import GeneratorSetting, Read
from aligner.engine.bench import Bench, Outcome
from aligner.engine.instruments import received_spot
from aligner.engine.outcomes import busy, plain
from aligner.engine.strip import moved_at
from aligner.engine.survey import StepReport
from aligner.procedure.model import Circuit, ImageStep
from aligner.quantity import show

SHORT_DB = 10.0
"""So much less than the circuits' Q promises is told: stray paths round the circuits, or circuits out of line."""
WRONG_DB = 3.0
"""An image less than this below the wanted signal: the oscillator is on the wrong side (common practice, no source)."""
_SAME_HZ = 0.5


@dataclass(frozen=True, slots=True)
class _Seen:
    """One place [Hz] with the levels [dB] there and at its image [Hz]; None: not read, nan: cannot be."""

    hz: float
    image_hz: float
    wanted_db: float | None
    image_db: float | None


def work(bench: Bench, step: ImageStep, *, passed: bool) -> Outcome:
    """Held when the image is as weak as was asked for, or clearly weaker than the signal where nothing was."""
    seen = [_seen(bench, step, hz) for hz in step.points_hz]
    now = busy(passed=passed)
    for one in seen:
        ask = _next(bench, step, one)
        if ask is not None:
            done = sum(row.image_db is not None for row in seen)
            return plain(step, now, f"{done} of {len(seen)} images read", ask)
    return Outcome(_judged(bench, step, seen))


def _seen(bench: Bench, step: ImageStep, hz: float) -> _Seen:
    image = float(image_hz(hz, bench.intermediate_hz, bench.procedure.oscillator))
    return _Seen(hz, image, _level(bench, step, hz, hz), _level(bench, step, hz, image))


def _level(bench: Bench, step: ImageStep, tuned_hz: float, generator_hz: float) -> float | None:
    """The newest level [dB] since anything in the path was moved; nan where there was nothing to read."""
    since = max(moved_at(bench.ledger, bench.procedure, _path(bench, step)), default=-1)
    for entry in reversed(bench.ledger.of_step(step.id)):
        ask = entry.ask
        if not isinstance(ask, Read) or ask.generator is None or 2 * entry.seq < since:
            continue
        if ask.point.received == tuned_hz and abs(ask.generator.hz - generator_hz) < _near(bench):
            if isinstance(entry.answer, Reading):
                return entry.answer.value
            if isinstance(entry.answer, Cannot):
                return float("nan")
    return None


def _near(bench: Bench) -> float:
    """How far [Hz] the generator may have stood from the image as it is reckoned now."""
    found = bench.intermediate
    return _SAME_HZ if found is None else max(4.0 * found.sd_hz, _SAME_HZ)


def _path(bench: Bench, step: ImageStep) -> tuple[str, ...]:
    """Oscillator and signal circuits of the band."""
    return tuple(bench.frame(step.band).circuits)


def _next(bench: Bench, step: ImageStep, one: _Seen) -> Read | None:
    """The wanted signal first, then its image with the set left as it is; what lies below nought is no frequency."""
    if one.wanted_db is None:
        why = "The level of the wanted signal, for comparison."
        return _ask(
            bench, step, one.hz, one.hz, f"generator to {show(one.hz, 'Hz')}, and tune for the most signal", why
        )
    if one.image_db is None and not math.isnan(one.wanted_db) and one.image_hz > 0.0:
        side = bench.procedure.oscillator
        there = show(one.image_hz, "Hz", 1e3)
        what = f"leave the set as it is and move only the generator to {there}, its output the same"
        why = (
            f"Its image, two IFs {side}; the circuits promise {_expected_db(bench, step, one):.0f} dB between the two."
        )
        return _ask(bench, step, one.hz, one.image_hz, what, why)
    return None


def _ask(bench: Bench, step: ImageStep, tuned_hz: float, generator_hz: float, what: str, why: str) -> Read:
    _, point = received_spot(tuned_hz)
    how = step.generator or bench.procedure.generator
    return Read(
        id=0,
        step=step.id,
        text=f"Tune the set to receive {show(tuned_hz, 'Hz')}: {what}. Read the level; turn nothing else.",
        why=why,
        quantity="level",
        circuit="",
        point=point,
        generator=GeneratorSetting(generator_hz, how.modulation, how.into, how.through),
    )


def _signals(bench: Bench, step: ImageStep) -> list[Circuit]:
    return [c for c in bench.procedure.circuits if c.role == "signal" and c.id in bench.frame(step.band).circuits]


def _expected_db(bench: Bench, step: ImageStep, one: _Seen) -> float:
    """What the signal circuits' Q promises, each in tune; the usual Q where the procedure gives none."""
    frame = bench.frame(step.band)
    qualities = tuple(frame.circuits[c.id].q for c in _signals(bench, step))
    return image_rejection_db(one.hz, one.image_hz, qualities)


def _judged(bench: Bench, step: ImageStep, seen: list[_Seen]) -> StepReport:
    read = [
        (one, one.wanted_db - one.image_db) for one in seen if one.wanted_db is not None and one.image_db is not None
    ]
    heard = [(one, rejection) for one, rejection in read if not math.isnan(rejection)]
    if any(one.wanted_db is not None and math.isnan(one.wanted_db) for one in seen):
        return StepReport(step.id, step.kind, step.title, "at-limit", "the wanted signal itself could not be read")
    if not heard:
        return StepReport(step.id, step.kind, step.title, "held", "no image is there to be heard")
    worst, rejection = min(heard, key=lambda row: row[1])
    expected = _expected_db(bench, step, worst)
    where = f"the image of {show(worst.hz, 'Hz')} at {show(worst.image_hz, 'Hz', 1e3)}"
    found = f"{where} is {rejection:.1f} dB down, {expected:.0f} dB promised by the circuits' Q"
    state, why = _verdict(bench, step, rejection, expected, found)
    return StepReport(
        id=step.id,
        kind=step.kind,
        title=step.title,
        state="held" if state else "at-limit",
        why=why,
        error=round(rejection, 2),
        tolerance=step.least_db,
        unit="dB",
    )


def _verdict(bench: Bench, step: ImageStep, rejection: float, expected: float, found: str) -> tuple[bool, str]:
    """Whether it will do, and why not."""
    side = bench.procedure.oscillator
    if rejection < WRONG_DB:
        other, which = ("below", "higher") if side == "above" else ("above", "lower")
        return False, (
            f"{found}: of the two places of the oscillator, two IFs apart, the wrong one was taken, and it stands "
            f"{other} the signal; take the {which} of the two, then look at coverage again"
        )
    if step.least_db is not None and rejection < step.least_db:
        return (
            False,
            f"{found}, {step.least_db:.0f} dB wanted: line the signal circuits up again, or look for stray paths",
        )
    if rejection < expected - SHORT_DB:
        return True, f"{found}: less than it could be, by stray paths round the circuits or circuits out of line"
    return True, found
