"""What other jobs taught: effect per turn and sense of an adjuster, frozen into a job when it begins.

The text is kept in the job's row, and the procedure of the job carries it as priors; so the next ask stays a function
of procedure and history. Sets of one kind differ, and a core does more in one part of its travel than in another, so a
lesson is never taken for surer than `LEAST_SPREAD`, and a sense only for the usual one.
"""

import hashlib
import math
from collections.abc import Sequence
from dataclasses import replace

import msgspec

from aligner.engine.bench import bench_of
from aligner.engine.history import History
from aligner.estimate.belief import Belief
from aligner.procedure.model import Procedure
from aligner.procedure.set_model import Taught

LEAST_SPREAD = 0.3
"""Standard deviation of the logarithm of an effect from set to set (common practice, no source)."""
_KNOWN = 0.35
"""An effect with a greater relative standard error was not learned."""
Lesson = dict[str, float]  # signed effect per turn [1] by adjuster


def lesson_of(procedure: Procedure, history: History) -> Lesson:
    """What one job has learned of its adjusters; only what is well known."""
    bench = bench_of(procedure, history)
    lesson: Lesson = {}
    for band in procedure.bands:
        belief = bench.belief(band.id)
        for name in belief.frame.handles:
            effect = None if _sense_open(belief, name) else belief.effect(name)
            if effect is not None and effect[1] < _KNOWN * abs(effect[0]):
                lesson[name] = effect[0]
    return lesson


def _sense_open(belief: Belief, name: str) -> bool:
    circuit = belief.circuits[belief.frame.handles[name].adjuster.circuits[0]]
    return any(other.fit.senses.get(name) != circuit.fit.senses.get(name) for other in circuit.others)


def taught_by(lessons: Sequence[Lesson]) -> str:
    """Several jobs' lessons in one text."""
    names = sorted({name for lesson in lessons for name in lesson})
    rows = {name: _together([lesson[name] for lesson in lessons if name in lesson]) for name in names}
    return msgspec.json.encode(rows).decode()


def _together(effects: list[float]) -> Taught:
    logs = [math.log(abs(effect)) for effect in effects]
    mean = sum(logs) / len(logs)
    own = math.sqrt(sum((log - mean) ** 2 for log in logs) / len(logs))
    balance = sum(1 if effect > 0 else -1 for effect in effects)
    sense = (balance > 0) - (balance < 0)
    return Taught(round(math.exp(mean), 6), round(max(LEAST_SPREAD, own), 3), sense, len(effects))


def with_taught(procedure: Procedure, text: str) -> Procedure:
    """The procedure with what was taught in its adjusters; as it is where the text teaches nothing."""
    try:
        rows = msgspec.json.decode(text, type=dict[str, Taught])
    except msgspec.MsgspecError:
        return procedure
    rows = {name: row for name, row in rows.items() if row.per_turn > 0.0 and row.spread > 0.0}
    if not rows.keys() & {adjuster.id for adjuster in procedure.adjusters}:
        return procedure
    adjusters = tuple(replace(a, taught=rows.get(a.id)) for a in procedure.adjusters)
    mark = hashlib.sha256(text.encode()).hexdigest()[:16]
    return replace(procedure, adjusters=adjusters, digest=f"{procedure.digest or procedure.text}+{mark}")
