"""A wand on a meter of unknown law, or that somebody tells in words: which way each end sent the level, and no more.

That says on which side a circuit stands, but hardly how far, so that it spares no touch beforehand. On a meter of
unknown law it is a check afterwards that peaks and turns do not share: where a circuit is right, both ends lower the
level, at every point. On one in decibels peaks and levels tell more than words do, and lead on from the first of them.
"""

from aligner.engine.answers import WandSeen
from aligner.engine.asks import Peak, Touch, Wand
from aligner.engine.bench import Bench, Target
from aligner.engine.looks import trends_of
from aligner.engine.touches import tune_words
from aligner.procedure.model import TrackingStep
from aligner.quantity import show

_BY_HOW_MUCH = (
    "Read the level with no wand, then with the ferrite end and with the brass end in the coil of {circuit}",
    "Ferrite raises the level where more inductance is wanted, brass where less; by how much tells how far.",
)
_WHICH_WAY = (
    "Hold the ferrite end and then the brass end into the coil of {circuit}, and see which way the level goes",
    "Peaks and turns say that it is right: then both ends lower the level. One that raises it says otherwise.",
)


def last_look(bench: Bench, step: TrackingStep, targets: tuple[Target, ...]) -> Wand | None:
    """A wand test of a point that was not tested since the circuit was touched last."""
    tested = [ask.point for ask, _ in _tests(bench, step)]
    out = {point for at, quantity, point in bench.ledger.unreadable if (at, quantity) == (step.id, "wand")}
    left = [t for t in targets if t.point not in tested and t.point not in out]
    touched = any(isinstance(e.ask, Peak | Touch) for e in bench.ledger.of_step(step.id))
    return wand_ask(bench, step, left[0], _WHICH_WAY) if left and touched else None


def in_words(bench: Bench, step: TrackingStep) -> bool:
    """Whether somebody has told of a wand test only which way the level went, though the meter reads in decibels."""
    answers = [e.answer for e in bench.ledger.of_step(step.id) if isinstance(e.ask, Wand)]
    return any(isinstance(a, WandSeen) and isinstance(a.ferrite, str) and isinstance(a.brass, str) for a in answers)


def contradicted(bench: Bench, step: TrackingStep) -> bool:
    """Whether an end of the wand raised the level somewhere since the last touch: the circuit is not right there."""
    found = (trends_of(bench.instruments, answer) for _, answer in _tests(bench, step))
    return any(trends is not None and "up" in trends for trends in found)


def _tests(bench: Bench, step: TrackingStep) -> list[tuple[Wand, WandSeen]]:
    """The wand tests of a step since anything of its circuit was moved."""
    last = bench.last_move(step.circuit)
    rows = [(e.ask, e.answer) for e in bench.ledger.of_step(step.id) if 2 * e.seq > last]
    return [(ask, answer) for ask, answer in rows if isinstance(ask, Wand) and isinstance(answer, WandSeen)]


def wand_ask(bench: Bench, step: TrackingStep, target: Target, words: tuple[str, str] = _BY_HOW_MUCH) -> Wand:
    """A wand test at a target: what to do and why by `words`."""
    what, why = words
    how = f"{what.format(circuit=step.circuit)}; turn nothing. Never in the oscillator's coil."
    return Wand(
        id=0,
        step=step.id,
        text=f"{tune_words(target)}, generator to {show(target.spot.hz, 'Hz')}. {how}",
        why=why,
        circuit=step.circuit,
        point=target.point,
        generator=bench.generator(target.spot.hz),
    )
