"""The step `trap`: an IF trap or a whistle filter set for the least level at its frequency."""

from aligner.engine.answers import Cannot, Done, Reading, Result
from aligner.engine.asks import Ask, Confirm, GeneratorSetting, Peak, Point, Read
from aligner.engine.bench import Bench, Outcome
from aligner.engine.history import Entry
from aligner.engine.outcomes import busy, plain
from aligner.engine.strip import into_words, moved_at, rest_point, rest_words
from aligner.engine.survey import StepReport
from aligner.procedure.model import TrapStep
from aligner.quantity import show


def work(bench: Bench, step: TrapStep, *, passed: bool) -> Outcome:
    """Held when every adjuster of the trap stands at its minimum, and the trap takes away what is asked of it."""
    entries = bench.ledger.of_step(step.id)
    if any(isinstance(e.ask, Read) and isinstance(e.answer, Cannot) for e in entries):
        why = (
            "nothing is heard at its frequency even with a strong signal: there is nothing to trap, or nothing comes in"
        )
        return plain(step, "at-limit", why)
    ask = _next(bench, step, entries)
    if ask is not None:
        return plain(step, busy(passed=passed), "to be set for the least level", ask)
    return Outcome(_judged(bench, step, entries))


def _next(bench: Bench, step: TrapStep, entries: tuple[Entry, ...]) -> Ask | None:
    if not any(isinstance(e.ask, Confirm) and isinstance(e.answer, Done) for e in entries):
        return _strong(bench, step)
    if not any(isinstance(e.ask, Read) for e in entries):
        return _before(bench, step)
    for name in bench.procedure.circuit(step.circuit).adjusters:
        if not _set(bench, step, entries, name):
            return _minimum(bench, step, name)
    return None


def _strong(bench: Bench, step: TrapStep) -> Confirm:
    how = into_words(_generator(bench, step))
    return Confirm(
        id=0,
        step=step.id,
        text=(
            f"{rest_words(bench.procedure, _point(bench, step))}Generator to {show(step.hz, 'Hz')}, {how}, strong "
            "enough to be read well; it is not radiated. Leave its output so to the end of this step."
        ),
        why="What shall be trapped must be heard before it can be made least.",
    )


def _before(bench: Bench, step: TrapStep) -> Read:
    return Read(
        id=0,
        step=step.id,
        text=f"Generator at {show(step.hz, 'Hz')}. Read the level; turn nothing.",
        why="What comes through before the trap is set.",
        quantity="level",
        circuit=step.circuit,
        point=_point(bench, step),
        generator=_generator(bench, step),
    )


def _minimum(bench: Bench, step: TrapStep, name: str) -> Peak:
    adjuster = bench.procedure.adjuster(name)
    where = f" ({adjuster.where})" if adjuster.where else ""
    turns = " Count the turns from where it stands now." if adjuster.counted else ""
    return Peak(
        id=0,
        step=step.id,
        text=f"Generator at {show(step.hz, 'Hz')}. Turn {name}{where} for the lowest level.{turns}",
        why="A trap takes away one frequency; at the minimum it takes away this one.",
        adjuster=name,
        circuit=step.circuit,
        point=_point(bench, step),
        generator=_generator(bench, step),
        find="min",
    )


def _set(bench: Bench, step: TrapStep, entries: tuple[Entry, ...], name: str) -> bool:
    """Whether an adjuster was set for the minimum and not moved since by anything else."""
    own = _tried(entries, name)
    own_moves = [
        seq
        for seq in moved_at(bench.ledger, bench.procedure, (step.circuit,))
        if own and seq > 2 * own[-1].seq and not any(seq == 2 * e.seq for e in entries)
    ]
    return bool(own) and not own_moves


def _tried(entries: tuple[Entry, ...], name: str) -> list[Entry]:
    return [e for e in entries if isinstance(e.ask, Peak) and e.ask.adjuster == name and isinstance(e.answer, Result)]


def _judged(bench: Bench, step: TrapStep, entries: tuple[Entry, ...]) -> StepReport:
    names = bench.procedure.circuit(step.circuit).adjusters
    last = [_tried(entries, name)[-1] for name in names]
    dead = [name for name, e in zip(names, last, strict=True) if isinstance(e.answer, Cannot)]
    if dead:
        why = f"{' and '.join(dead)} has no minimum within its travel: a fault in the trap, not a misalignment"
        return StepReport(step.id, step.kind, step.title, "at-limit", why)
    before = next(e.answer.value for e in entries if isinstance(e.ask, Read) and isinstance(e.answer, Reading))
    after = max(last, key=lambda e: e.seq).answer
    left = after.value if isinstance(after, Reading) else before
    why = f"level {before:.1f} dB before and {left:.1f} dB at the minimum, {before - left:.1f} dB less"
    fine = step.least_db is None or before - left >= step.least_db
    if not fine:
        why = f"{why}, {step.least_db:.0f} dB wanted: it stood near its minimum already, or its Q is low"
    return StepReport(
        id=step.id,
        kind=step.kind,
        title=step.title,
        state="held" if fine else "at-limit",
        why=why,
        error=round(before - left, 2),
        tolerance=step.least_db,
        unit="dB",
    )


def _point(bench: Bench, step: TrapStep) -> Point:
    return rest_point(bench.procedure, step.place)


def _generator(bench: Bench, step: TrapStep) -> GeneratorSetting:
    """A trap stands where the signal comes in, so the generator does too."""
    how = step.generator or bench.procedure.generator
    return GeneratorSetting(step.hz, how.modulation, how.into, how.through)
