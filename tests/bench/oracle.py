"""How near the best a hand comes by level that knows every part: what the readings themselves leave open.

    python -m tests.bench.oracle [SETS] [SEED]

The oracle knows the true circuits of each virtual set of `fm-varactor`, so that its coil is turned on past the peak to
just the right level and its trimmer is peaked just where the best curve crosses nought. What is left is the hand and
the meter: where it stops against the level, and how well a fine peak is found. Both are those of the population. The
advice of the program can be no better than that with as many touches.
"""

import sys
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

from aligner.procedure.model import TrackingStep
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.electrical import resonance_hz
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.runner import SetEnd, lead
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.truth import Truth, Vector, _improved, _limits

ROOT = Path(__file__).resolve().parents[2]
FALL_DB = 8.0  # a usual fall past the peak on this band
DRAWS = 20


def excess_of(virtual: VirtualSet, step: TrackingStep, population: Population, rng: np.random.Generator) -> list[float]:
    """Greatest error in the band above the least possible, in tolerances, of some draws of the last two touches."""
    truth, circuit = Truth(virtual), virtual.parts.circuit(step.circuit)
    band = virtual.procedure.band_of(step.band)
    hz = np.linspace(band.low_hz, band.high_hz, 41)
    at = truth.tunings(hz, step.band)
    hz, at = hz[~np.isnan(at)], at[~np.isnan(at)]
    element = np.asarray(truth.electrical(step.band).element(circuit, at))

    def errors(values: Vector) -> Vector:
        return np.asarray(resonance_hz(circuit, values[0], values[1], None, element) - hz)

    low, high = _limits(circuit)
    best = truth._values(circuit)
    for _ in range(10):
        best = _improved(errors, best, errors(best), (low, high))
    least = float(np.max(np.abs(errors(best))))
    crossed = np.nonzero(np.diff(np.sign(errors(best))) != 0)[0]
    place = int(crossed[-1]) if len(crossed) else len(hz) - 1
    spread, width = population.spread, circuit.coil.quality
    rounding = (virtual.procedure.meter.resolution_db if virtual.procedure.meter else 0.1) / np.sqrt(12.0)
    stop_db = float(np.hypot(spread.meter.stop_db, np.hypot(spread.meter.noise_db, rounding)))
    away = np.sqrt(10.0 ** (FALL_DB / 10.0) - 1.0)
    off = stop_db * np.log(10.0) / 10.0 * (1.0 + away**2) / (2.0 * away) / width  # of ln y, from d(dB)/d(Q x)
    found = []
    for _ in range(DRAWS):
        coil = best[0] * np.exp(rng.normal(0.0, off))
        aim = float(errors(best)[place]) + rng.normal(0.0, spread.hand.peak_fine_hz) * hz[place] / 98e6 * 60.0 / width

        def beyond(trimmer: float, coil: float = coil, aim: float = aim) -> float:
            return float(errors(np.array([coil, trimmer]))[place]) - aim

        trimmer = float(brentq(beyond, 0.2 * best[1], 5.0 * best[1], xtol=1e-18))
        worst = float(np.max(np.abs(errors(np.array([coil, trimmer])))))
        found.append((worst - least) / float(step.tolerance_hz or 1.0))
    return found


def main() -> None:
    """Print the median and the 95 % of the excess over many sets."""
    sets, seed = (int(text) for text in (*sys.argv[1:], *("100", "1")[len(sys.argv) - 1 :]))
    procedure = read_procedure(ROOT / "procedures" / "fm-varactor.toml")
    population = read_population(ROOT / "demo_data" / "population.toml", 1.0)
    rng = np.random.default_rng(seed)
    found: list[float] = []
    for index in range(sets):
        virtual = VirtualSet(procedure, draw(procedure, population, seed, index), population, seed)
        lead(procedure, virtual, None, SetEnd(index))  # the oscillator stands right before the others are judged
        for step in procedure.steps:
            if isinstance(step, TrackingStep):
                found.extend(excess_of(virtual, step, population, rng))
    half, most = np.percentile(found, [50, 95])
    sys.stdout.write(
        f"{sets} sets, seed {seed}: above the best, in band, by one who knows the parts: {half:.2f}, 95 %: {most:.2f}\n"
    )


if __name__ == "__main__":
    main()
