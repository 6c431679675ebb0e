"""What many rehearsed sets add up to, as one plain value for text and JSON alike."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

import msgspec
import numpy as np

from aligner.rehearsal.runner import Plan, SetEnd, StepEnd


class Typical(msgspec.Struct, frozen=True, rename="kebab"):
    """Median and a high percentile of something."""

    median: float
    high: float


class CircuitOutcome(msgspec.Struct, frozen=True, rename="kebab"):
    """Touches and readings of one circuit: median and 90 %."""

    touches: Typical
    readings: Typical
    paper_touches: Typical | None  # None: there is no such way, as of a strip


class Outcome(msgspec.Struct, frozen=True, rename="kebab"):
    """The whole rehearsal. Shares are 0 to 1; None where nothing was there to be counted.

    intervals: 95 % intervals of errors at points (or of a step's one value) at the end of the job, and the share that
    held the truth; unknowns: the same of effects per turn, Q and a wand's pulls that readings have told at least three
    times better than was known before.
    above_best: (greatest error in the band - the least greatest of that hardware) / tolerance, median and 95 %.
    """

    procedure: str
    sets: int
    seed: int
    by: str
    spreads: float
    blunders: float
    touches: Typical
    readings: Typical
    paper_touches: Typical | None  # None: there is no such way, as of a strip
    paper_aligned: float | None
    circuits: dict[str, CircuitOutcome]
    aligned: float
    rightly_ended: float
    wrong_sets: tuple[int, ...]
    at_limit: dict[str, int]
    above_best: Typical | None
    above_best_at_points: Typical | None
    intervals: int
    intervals_true: float | None
    unknowns: int
    unknowns_true: float | None
    ran_out: dict[str, int]
    unfinished: int
    failures: tuple[str, ...]
    touches_miscounted: int  # sets where the engine's count of touches or readings is not the one from the asks
    slowest_s: float
    sets_per_second: float


def outcome(plan: Plan, ends: Sequence[SetEnd], seconds: float) -> Outcome:
    """The sum of all sets."""
    worked = [end for end in ends if not end.failure]
    steps = [step for end in worked for step in end.steps.values()]
    covered = [held for end in worked for held in _held(end)]
    told = [row.holds for end in worked for row in end.intervals if row.about != "error"]
    return Outcome(
        procedure=plan.procedure.stem,
        sets=len(ends),
        seed=plan.seed,
        by=plan.by or "as listed",
        spreads=plan.spreads,
        blunders=plan.blunders,
        touches=_spread((sum(end.touches.values()) for end in worked), 90),
        readings=_spread((sum(end.readings.values()) for end in worked), 90),
        paper_touches=_spread((sum(e.paper.values()) for e in _on_paper(ends)), 90) if _on_paper(ends) else None,
        paper_aligned=_share(end.paper_aligned for end in _on_paper(ends)) if _on_paper(ends) else None,
        circuits={name: _circuit(worked, name) for name in dict.fromkeys(n for end in worked for n in end.touches)},
        aligned=_share(end.aligned for end in ends),
        rightly_ended=_share(end.right for end in ends),
        wrong_sets=tuple(end.index for end in ends if not end.right),
        at_limit=dict(Counter(n for end in worked for n, step in end.steps.items() if step.state == "at-limit")),
        above_best=_above(steps, lambda step: (step.judged.band_error, step.judged.band_best)),
        above_best_at_points=_above(
            [step for step in steps if step.judged.band_error is not None],
            lambda step: (step.judged.error, step.judged.best),
        ),
        intervals=len(covered),
        intervals_true=_share(covered) if covered else None,
        unknowns=len(told),
        unknowns_true=_share(told) if told else None,
        ran_out=dict(Counter(name for end in worked for name in end.ran_out)),
        unfinished=sum(not end.finished for end in ends),
        failures=tuple(f"set {end.index}: {end.failure.strip().splitlines()[-1]}" for end in ends if end.failure),
        touches_miscounted=sum(
            (sum(end.touches.values()), sum(end.readings.values())) != (end.engine_touches, end.engine_readings)
            for end in worked
        ),
        slowest_s=max((end.slowest_s for end in worked), default=0.0),
        sets_per_second=len(ends) / seconds,
    )


def _on_paper(ends: Sequence[SetEnd]) -> list[SetEnd]:
    return [end for end in ends if not end.failure and end.paper_aligned is not None]


def _circuit(ends: Sequence[SetEnd], name: str) -> CircuitOutcome:
    return CircuitOutcome(
        _spread((end.touches.get(name, 0) for end in ends), 90),
        _spread((end.readings.get(name, 0) for end in ends), 90),
        _spread((end.paper.get(name, 0) for end in ends), 90) if any(name in end.paper for end in ends) else None,
    )


def _held(end: SetEnd) -> list[bool]:
    """Whether each interval held: at every point where points were told, else of the step's one value."""
    rows = [row for row in end.intervals if row.about == "error"]
    by_point = {row.step for row in rows}
    whole = [step.covered for name, step in end.steps.items() if name not in by_point]
    return [row.holds for row in rows] + [held for held in whole if held is not None]


def _above(steps: Sequence[StepEnd], errors: Callable[[StepEnd], tuple[float | None, float | None]]) -> Typical | None:
    rows = []
    for step in steps:
        error, best = errors(step)
        if step.state == "held" and error is not None and best is not None:
            rows.append((error - best) / step.judged.tolerance)
    return _spread(rows, 95) if rows else None


def _spread(values: Iterable[float], high: float) -> Typical:
    rows = list(values)
    if not rows:
        return Typical(0.0, 0.0)
    return Typical(float(np.median(rows)), float(np.percentile(rows, high)))


def _share(flags: Iterable[bool | None]) -> float:
    rows = [bool(flag) for flag in flags]
    return sum(rows) / len(rows) if rows else 0.0


def text(found: Outcome) -> str:
    """The outcome for people."""
    lines = [
        f"{found.procedure}: {found.sets} virtual sets, seed {found.seed}, by {found.by}"
        + (f", all spreads times {found.spreads:g}" if found.spreads != 1 else "")
        + (f", {found.blunders:.0%} of typed readings blundered" if found.blunders else ""),
        "",
        f"{'':24}{'median':>8}{'90 %':>8}" + ("" if found.paper_touches is None else f"{'paper way':>12}{'90 %':>8}"),
        _row("touches", found.touches, found.paper_touches),
        *(_row(f"  {name}", row.touches, row.paper_touches) for name, row in found.circuits.items()),
        _row("readings", found.readings, None),
        *(_row(f"  {name}", row.readings, None) for name, row in found.circuits.items()),
        "",
        f"rightly ended           {found.rightly_ended:8.2%}",
        f"truly aligned           {found.aligned:8.2%}   {_by_paper(found)}".rstrip(),
        *_accuracy(found),
        *(f"ended at limit          {count:8d}   {name}" for name, count in found.at_limit.items()),
        *(f"ran out of travel       {count:8d}   {name}" for name, count in sorted(found.ran_out.items())),
        *_troubles(found),
        f"slowest advice          {found.slowest_s * 1e3:8.0f} ms    {found.sets_per_second:.1f} sets a second",
    ]
    return "\n".join(lines)


def _by_paper(found: Outcome) -> str:
    return "" if found.paper_aligned is None else f"paper way, by the same measure: {found.paper_aligned:.2%}"


def _row(name: str, ours: Typical, paper: Typical | None) -> str:
    row = f"{name:24}{ours.median:8g}{ours.high:8g}"
    return row if paper is None else f"{row}{paper.median:12g}{paper.high:8g}"


def _accuracy(found: Outcome) -> list[str]:
    rows = []
    if found.above_best is not None:
        both = found.above_best
        rows.append(f"above the best, in band {both.median:8.2f}   95 %: {both.high:.2f} (in parts of the tolerance)")
    if found.above_best_at_points is not None:
        both = found.above_best_at_points
        rows.append(f"  at the step's points  {both.median:8.2f}   95 %: {both.high:.2f}")
    if found.intervals_true is not None:
        rows.append(f"intervals that held     {found.intervals_true:8.2%}   of {found.intervals} (95 % intervals)")
    if found.unknowns_true is not None:
        rows.append(
            f"  of unknowns           {found.unknowns_true:8.2%}   of {found.unknowns} (told three times better)"
        )
    return rows


def _troubles(found: Outcome) -> list[str]:
    rows = [f"FAILED                             {failure}" for failure in found.failures[:5]]
    if found.unfinished:
        rows.append(f"NOT FINISHED            {found.unfinished:8d}   sets never came to an end")
    if found.wrong_sets:
        shown = ", ".join(str(index) for index in found.wrong_sets[:12])
        more = ", ..." if len(found.wrong_sets) > 12 else ""
        rows.append(f"wrongly ended           {len(found.wrong_sets):8d}   sets {shown}{more}")
    if found.touches_miscounted:
        rows.append(f"COUNTED OTHERWISE       {found.touches_miscounted:8d}   sets by the engine itself")
    return rows
