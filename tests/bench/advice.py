"""How long the advice takes after an answer when the history is long. A tool, not a test.

    python tests/bench/advice.py                          200 entries, FM and medium wave, by resonance
    python tests/bench/advice.py 100 --sets 3 --by level  histories of 100 entries, three sets each, by level

No careful job comes to 200 entries. So a clumsy hand leads the virtual set: it stops far off every aim, and takes back
one answer in five. What is timed is what a voice waits for: the answer is checked, kept, and the next ask is there. On
a busy machine the processor's time says more than the clock's.
"""

import argparse
import os
import sys
import time
from random import Random

import msgspec
import numpy as np

from aligner import __version__
from aligner.engine.answers import Answer, Reading, SwitchWay, Undo
from aligner.engine.history import History
from aligner.engine.run import entry_for, survey
from aligner.procedure.library import find
from aligner.procedure.model import Procedure
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.door import answered, asked
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.set import VirtualSet
from aligner.shipped import folder

Took = tuple[float, float]  # [s] by the clock, of the processor
PROCEDURES = ("fm-varactor", "mw-gang-padder")
CLUMSY = 6e-3  # relative: sixty times the usual stop of a hand
CLUMSY_PEAK_HZ = 2e6
TAKEN_BACK = 0.2
BAR_MS = 50.0
AROUND = 20  # entries before and after the wished length that are timed


def main() -> None:
    """Lead sets until their histories are long enough, and print how long the advice took there."""
    wished = _arguments()
    population = _clumsy(read_population(folder("demo_data") / "population.toml"))
    for name in PROCEDURES:
        procedure = read_procedure(find(name))
        rows = [took for index in range(wished.sets) for took in _times(procedure, population, index, wished)]
        sys.stdout.write(f"{name}: {len(rows)} readings with {wished.entries} +- {AROUND} entries, by {wished.by}\n")
        for what, ms in zip(("by the clock", "of processor"), 1e3 * np.array(rows).T, strict=True):
            middle, high = np.percentile(ms, [50, 99])
            under = np.mean(ms < BAR_MS)
            worst = f"worst {ms.max():.1f} ms; {under:.1%} in time"
            sys.stdout.write(f"  {what}: median {middle:.1f} ms, 99 % {high:.1f} ms, {worst}\n")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("entries", nargs="?", type=int, default=200)
    parser.add_argument("--sets", type=int, default=10)
    parser.add_argument("--by", choices=("resonance", "level", "wand"), default="resonance")
    return parser.parse_args()


def _clumsy(population: Population) -> Population:
    change = msgspec.structs.replace
    worse = {"stop": CLUMSY, "stop_uncounted": CLUMSY, "peak_plain_hz": CLUMSY_PEAK_HZ, "peak_fine_hz": CLUMSY_PEAK_HZ}
    return change(population, spread=change(population.spread, hand=change(population.spread.hand, **worse)))


def _times(procedure: Procedure, population: Population, index: int, wished: argparse.Namespace) -> list[Took]:
    """Seconds from each reading to the next ask, where the history is about as long as wished."""
    virtual = VirtualSet(procedure, draw(procedure, population, 1, index), population, index)
    chance = Random(index)
    history, took = _kept(procedure, History(), SwitchWay(wished.by), 0.0)
    times: list[Took] = []
    last_undone = False
    while len(history.entries) < wished.entries + AROUND:
        ask = survey(procedure, history).ask
        last_undone = ask is None or (not last_undone and chance.random() < TAKEN_BACK)
        answer: Answer = Undo(moved=True) if last_undone or ask is None else answered(virtual.answer(asked(ask)))
        history, took = _kept(procedure, history, answer, virtual.bench.at_s)
        if isinstance(answer, Reading) and len(history.entries) >= wished.entries - AROUND:
            times.append(took)
    return times


def _kept(procedure: Procedure, history: History, answer: Answer, at_s: float) -> tuple[History, Took]:
    """The history with the answer, and how long it took until the next ask was there."""
    begun, busy = time.perf_counter(), time.process_time()
    longer = history.with_entry(entry_for(procedure, history, answer, at_s, __version__))
    survey(procedure, longer)
    return longer, (time.perf_counter() - begun, time.process_time() - busy)


if __name__ == "__main__":
    if "OPENBLAS_NUM_THREADS" not in os.environ:  # matrices are small: more threads would only wait for each other
        os.execve(sys.executable, [sys.executable, *sys.argv], {**os.environ, "OPENBLAS_NUM_THREADS": "1"})
    main()
