"""What is believed, in words: computed when somebody wants to look, for advice does not need it.

Everything is said in the terms that readings determine: errors at points, what a turn does there, which way it goes;
never in component values, which many sets of readings leave open.
"""

from dataclasses import dataclass

import numpy as np

from aligner.engine.alternatives import alternatives, targets_of
from aligner.engine.asks import Ask
from aligner.engine.bench import SURE, Bench, Target, bench_of, standing_of
from aligner.engine.history import History
from aligner.engine.stated import sense_open, turn_hz
from aligner.engine.survey import Believed
from aligner.engine.tolerances import allowed_words
from aligner.engine.touches import target_for
from aligner.estimate.belief import Belief, CircuitBelief
from aligner.estimate.events import Moved, Sighted
from aligner.procedure.model import CoverageStep, Procedure, TrackingStep
from aligner.quantity import show

VAGUE = 5.0
"""In tolerances: an error that is known no better than this counts as not known yet."""
_TOLD = 0.7
"""A value counts as told by readings when they have made its error at least so much smaller than it was before."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """What belongs together, under a heading."""

    title: str
    rows: tuple[Believed, ...]


def beliefs(procedure: Procedure, history: History, ask: Ask | None) -> tuple[Chapter, ...]:
    """Why the open ask comes next, then every circuit that is aligned, then the readings that are distrusted."""
    bench = bench_of(procedure, history)
    chapters = [Chapter("WHY THIS IS NEXT, AND WHAT ELSE COULD BE DONE", alternatives(bench, ask))]
    chapters.append(Chapter("THE INTERMEDIATE FREQUENCY", _intermediate(bench)))
    steps = [step for step in procedure.steps if isinstance(step, CoverageStep | TrackingStep)]
    chapters += [Chapter(f"{s.circuit.upper()} ({s.title or s.id})", _circuit_rows(bench, s)) for s in steps]
    chapters.append(Chapter("READINGS THAT ARE WEIGHED DOWN, FOR THE REST CONTRADICTS THEM", _distrusted(bench)))
    return tuple(chapter for chapter in chapters if chapter.rows)


def _intermediate(bench: Bench) -> tuple[Believed, ...]:
    nominal = show(bench.procedure.intermediate_hz, "Hz")
    found = bench.intermediate
    if found is None:
        return (Believed("IF", f"{nominal}, the nominal one: no sweep has found another"),)
    grain = max(found.sd_hz, 1.0)
    spread = show(SURE * found.sd_hz, "Hz", grain)
    return (Believed("IF", f"{show(found.hz, 'Hz', grain)}, as found by {found.step} (nominal: {nominal})", spread),)


def _circuit_rows(bench: Bench, step: CoverageStep | TrackingStep) -> tuple[Believed, ...]:
    belief = bench.belief(step.band)
    circuit = belief.circuits.get(step.circuit)
    if circuit is None:
        return ()
    targets = targets_of(bench, step)
    names = [name for name in bench.procedure.circuit(step.circuit).adjusters if name in belief.frame.handles]
    effects = [_effect(belief, circuit, name, targets) for name in names]
    return (*_errors(belief, circuit, targets), *effects, *_carried(circuit))


def _errors(belief: Belief, circuit: CircuitBelief, targets: tuple[Target, ...]) -> list[Believed]:
    standing = standing_of(circuit, belief, targets)
    rows = []
    for at, (target, error, sd) in enumerate(zip(targets, standing.errors_hz, standing.sd_hz, strict=True)):
        about = f"error at {_place(target)}"
        if SURE * sd > VAGUE * target.tolerance_hz:
            rows.append(Believed(about, "not known yet"))
            continue
        grain = target.tolerance_hz / 20.0
        inside = "inside" if abs(error) <= target.tolerance_hz else "outside"
        way = "too high" if error > 0 else "too low"
        size = show(abs(float(error)), "Hz", grain)
        words = f"{'right' if size == show(0.0, 'Hz', grain) else f'{size} {way}'}"
        words += f", {inside} {allowed_words(target.tolerance_hz)}"
        words += ", the worst point" if len(targets) > 1 and at == standing.worst_index else ""
        if circuit.frame.oscillator:
            words += f"; {show(target.spot.hz, 'Hz')} received: oscillator {show(target.wanted_hz, 'Hz')}"
        rows.append(Believed(about, words, show(float(SURE * sd), "Hz", grain)))
    return rows


def _place(target: Target) -> str:
    """Where the set is tuned: by its voltage where that is how, for asks name it so."""
    volts = target.point.volts
    return show(target.spot.hz, "Hz") if volts is None else show(volts, "V")


def _effect(belief: Belief, circuit: CircuitBelief, name: str, targets: tuple[Target, ...]) -> Believed:
    """What one clockwise turn does to the circuit, where turns have told it."""
    handle = belief.frame.handles[name]
    about = f"a turn of {name}"
    if not handle.adjuster.counted:
        return Believed(about, "its turns cannot be counted, so only readings tell where it stands")
    turn = turn_hz(belief, circuit, name, targets)
    if turn is None:
        taught = handle.adjuster.taught
        by = f"{taught.jobs} finished job{'s' if taught.jobs > 1 else ''}" if taught else ""
        first = f"; {by} of this procedure taught about how much" if taught else ""
        return Believed(about, f"no counted turn of it yet: the first will tell what it does{first}")
    hz, sd = turn
    target = target_for(handle.setting, targets)
    open_sense = sense_open(circuit, name)
    way = "moves it (which way is still open) by" if open_sense else "raises it by" if hz > 0 else "lowers it by"
    grain = max(sd / 3.0, 1.0)
    at = show(target.spot.hz, "Hz")
    spread = show(SURE * sd, "Hz", grain, abs(hz))
    return Believed(about, f"clockwise {way} {show(abs(hz), 'Hz', grain)} at {at}", spread)


def _carried(circuit: CircuitBelief) -> list[Believed]:
    """What a coil takes with it, where readings have told it."""
    column = circuit.fit.layout.carried[circuit.frame.id]
    mean, sd = float(circuit.fit.mean[column]), float(np.sqrt(circuit.fit.covariance[column, column]))
    if sd > _TOLD * circuit.frame.carried[1]:
        return []
    words = f"its own capacitance goes with its inductance, {mean:.2f} % for 1 %: aims reckon with it, nothing is to do"
    return [Believed("the coil is not ideal", words, f"{SURE * sd:.2f} %")]


def _distrusted(bench: Bench) -> tuple[Believed, ...]:
    rows: dict[int, Believed] = {}
    bands = {
        getattr(step, "band", "") for step in bench.procedure.steps if isinstance(step, CoverageStep | TrackingStep)
    }
    for band in sorted(bands):
        belief = bench.belief(band)
        for circuit in belief.circuits.values():
            seen = {e.seq: e for e in circuit.fit.events if isinstance(e, Sighted)}
            turned = {e.seq: e for e in circuit.fit.events if isinstance(e, Moved)}
            for seq, weight in circuit.fit.weights.items():
                rows[seq] = _distrust(seq, weight, seen.get(seq), turned.get(seq))
    return tuple(rows[seq] for seq in sorted(rows))


def _distrust(seq: int, weight: float, seen: Sighted | None, turned: Moved | None) -> Believed:
    what = "a fall of the level"
    if seen is not None:
        what = f"{show(seen.hz, 'Hz', max(seen.sd_hz / 3.0, 1.0))} for {seen.circuit} at {show(seen.spot.hz, 'Hz')}"
    elif turned is not None:
        what = f"the turns of {turned.adjuster}"
    return Believed(f"entry {seq // 2}", f"{what}: counts for {100 * weight:.0f} % of a good one")
