"""`aligner rehearse`: a whole procedure on many virtual sets, with the paper way beside it."""

import sys
import time
from collections.abc import Callable
from typing import TextIO

import msgspec

from aligner.errors import Exit, UsageError
from aligner.procedure.library import find
from aligner.procedure.model import Procedure, TrackingStep, Way
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.design import design
from aligner.rehearsal.outcome import outcome, text
from aligner.rehearsal.population import read_population
from aligner.rehearsal.runner import Plan, rehearse
from aligner.shipped import folder

_BAR = 30


def run(
    procedure: str,
    *,
    sets: int,
    seed: int,
    by: Way | None = None,
    as_json: bool = False,
    spreads: float = 1.0,
    blunders: bool = False,
) -> Exit:
    """Rehearse and print; UsageError where a procedure cannot be rehearsed so, OUR_BUG where a set broke the engine."""
    path = find(procedure)
    drawn_from = folder("demo_data") / "population.toml"
    read = read_population(drawn_from, spreads)
    known = read_procedure(path)
    _demand(known, by, seed)
    design(known, read.fixed)
    share = read.fixed.blunder.share if blunders else 0.0
    plan = Plan(path, drawn_from, sets, seed, by, spreads, share)
    begun = time.perf_counter()
    ends = rehearse(plan, _bar(sets, sys.stderr))
    found = outcome(plan, ends, time.perf_counter() - begun)
    shown = msgspec.json.encode(found).decode() if as_json else text(found)
    sys.stdout.write(shown + "\n")
    return Exit.OUR_BUG if found.failures else Exit.DONE


def _demand(procedure: Procedure, by: Way | None, seed: int) -> None:
    if seed < 0:
        raise UsageError(f"--seed {seed}: give a whole number from 0 on")
    listed = {way for step in procedure.steps if isinstance(step, TrackingStep) for way in step.by}
    if by is not None and by not in listed:
        raise UsageError(f"--by {by}: the procedure lists {', '.join(sorted(listed)) or 'no way of seeing'}")


def _bar(sets: int, narration: TextIO) -> Callable[[int], None]:
    """A bar on the error stream, where somebody can see it."""
    if not narration.isatty():
        return lambda _done: None

    def tell(done: int) -> None:
        full = done * _BAR // sets
        end = "\n" if done == sets else ""
        narration.write(f"\r[{'#' * full}{'.' * (_BAR - full)}] {done}/{sets} sets{end}")
        narration.flush()

    return tell
