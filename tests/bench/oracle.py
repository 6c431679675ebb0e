"""How near the best a hand comes that knows every part: what hands and instruments themselves leave open.

    python -m tests.bench.oracle [SETS] [SEED] [PROCEDURE] [WAY]

The oracle knows the true circuits of each virtual set. It seeks the settings that make the greatest error in the band
least and leave the step's points within `ROOM` of the tolerance; its coil is set once and its trimmer once, each to
just where it belongs. What is left is the hand and the instruments, both those of the population:

resonance       both are stopped on a frequency
level           the coil is turned on past its peak to just the right level, the trimmer is finely peaked
stage-voltage   both are finely peaked where the curve that is sought crosses nought

The advice of the program can be no better than that with one touch of each; what it is worse by is what it does not
know.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from aligner.procedure.model import TrackingStep
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.electrical import resonance_hz
from aligner.rehearsal.parts import TunedCircuit
from aligner.rehearsal.population import Population, read_population
from aligner.rehearsal.runner import SetEnd, lead
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.truth import Truth, Vector, _improved, _limits, _loss_db

ROOT = Path(__file__).resolve().parents[2]
FALL_DB = 8.0  # a usual fall past the peak
ROOM = 0.95  # of the tolerance: hands stop a little off
DRAWS = 20
LEANING = 1.0 + 0.05 * np.arange(41)  # by how much more than the rest of the band the step's points must be right

Places: TypeAlias = npt.NDArray[np.bool_]
Curve: TypeAlias = Callable[[Vector], Vector]  # relative errors of a circuit over the band, by its coil and trimmer


@dataclass(frozen=True)
class Scene:
    """One circuit of one set: where it is looked at, which of these places are the step's points, and its errors."""

    step: TrackingStep
    circuit: TunedCircuit
    hz: Vector
    points: Places
    errors: Curve

    def judged(self, relative: float, hz: float) -> float:
        """An error at a place in tolerances of the step, in the unit that these are given in."""
        if self.step.tolerance_hz is not None:
            return abs(relative) * hz / self.step.tolerance_hz
        return _loss_db(self.circuit, relative) / (self.step.tolerance_db or 0.3)

    def worst(self, values: Vector, where: Places) -> float:
        """The greatest error at some of the places, in tolerances."""
        errors = self.errors(values)
        return max(self.judged(float(errors[n]), float(self.hz[n])) for n in np.nonzero(where)[0])


def scene_of(virtual: VirtualSet, step: TrackingStep) -> Scene:
    """The circuit of a step, at even places of the band and at the step's points."""
    truth, circuit = Truth(virtual), virtual.parts.circuit(step.circuit)
    band = virtual.procedure.band_of(step.band)
    even = np.linspace(band.low_hz, band.high_hz, 41)
    hz = np.concatenate((even, step.points_hz))
    at = truth.tunings(hz, step.band)
    reached = ~np.isnan(at)
    points = (np.arange(len(hz)) >= len(even))[reached]
    hz, element = hz[reached], np.asarray(truth.electrical(step.band).element(circuit, at[reached]))

    def errors(values: Vector) -> Vector:
        return np.asarray(resonance_hz(circuit, values[0], values[1], None, element) / hz - 1.0)

    return Scene(step, circuit, hz, points, errors)


def settings_of(scene: Scene, start: Vector) -> tuple[Vector, float]:
    """What the oracle seeks, and the least greatest error in the band, in tolerances, of which that may fall short."""
    by = scene.hz if scene.step.tolerance_hz is not None else np.ones(len(scene.hz))
    best, least = start, np.inf
    for share in LEANING:
        weight = by * np.where(scene.points, share, 1.0)

        def weighed(values: Vector, weight: Vector = weight) -> Vector:
            return scene.errors(values) * weight

        for _ in range(10 if least == np.inf else 3):
            best = _improved(weighed, best, weighed(best), _limits(scene.circuit))
        least = min(least, scene.worst(best, ~scene.points))
        if scene.worst(best, scene.points) <= ROOM:
            break
    return best, least


def hands_of(scene: Scene, population: Population, way: str, resolution_db: float) -> tuple[float, float]:
    """Standard deviations of ln L where the coil is left, and of the relative error where the trimmer is left."""
    spread, width = population.spread, scene.circuit.coil.quality
    if way == "resonance":
        return 2.0 * spread.hand.stop, spread.hand.stop
    fine = spread.hand.peak_fine_hz / 98e6 * 60.0 / width
    if way == "stage-voltage":
        return 2.0 * fine, fine
    stop_db = float(np.hypot(spread.meter.stop_db, np.hypot(spread.meter.noise_db, resolution_db / np.sqrt(12.0))))
    away = np.sqrt(10.0 ** (FALL_DB / 10.0) - 1.0)
    off = stop_db * np.log(10.0) / 10.0 * (1.0 + away**2) / (2.0 * away) / width  # of ln y, from d(dB)/d(Q x)
    return off, fine


def excess_of(
    virtual: VirtualSet, step: TrackingStep, hands: tuple[Population, str], rng: np.random.Generator
) -> Vector:
    """Greatest error in the band above the least possible, in tolerances, of some draws of the last two touches."""
    scene, meter = scene_of(virtual, step), virtual.procedure.meter
    best, least = settings_of(scene, Truth(virtual)._values(scene.circuit))
    coil_sd, peak_sd = hands_of(scene, *hands, meter.resolution_db if meter else 0.1)
    crossed = np.nonzero(np.diff(np.sign(scene.errors(best)[~scene.points])) != 0)[0]
    place = int(crossed[-1]) if len(crossed) else int(np.argmax(np.where(scene.points, 0.0, scene.hz)))
    found = []
    for _ in range(DRAWS):
        coil = best[0] * np.exp(rng.normal(0.0, coil_sd))
        aim = float(scene.errors(best)[place]) + rng.normal(0.0, peak_sd)

        def beyond(trimmer: float, coil: float = coil, aim: float = aim) -> float:
            return float(scene.errors(np.array([coil, trimmer]))[place]) - aim

        trimmer = float(brentq(beyond, 0.2 * best[1], 5.0 * best[1], xtol=1e-18))
        found.append(scene.worst(np.array([coil, trimmer]), ~scene.points) - least)
    return np.array(found)


def main() -> None:
    """Print the median and the 95 % of the excess over many sets."""
    sets, seed, name, way = (*sys.argv[1:], *("100", "1", "fm-varactor", "level")[len(sys.argv) - 1 :])
    procedure = read_procedure(ROOT / "procedures" / f"{name}.toml")
    population = read_population(ROOT / "demo_data" / "population.toml", 1.0)
    rng = np.random.default_rng(int(seed))
    found: list[Vector] = []
    for index in range(int(sets)):
        virtual = VirtualSet(procedure, draw(procedure, population, int(seed), index), population, int(seed))
        lead(procedure, virtual, None, SetEnd(index))  # the oscillator stands right before the others are judged
        steps = [step for step in procedure.steps if isinstance(step, TrackingStep)]
        found.extend(excess_of(virtual, step, (population, way), rng) for step in steps)
    half, most = np.percentile(np.concatenate(found), [50, 95])
    sys.stdout.write(
        f"{name} by {way}, {sets} sets, seed {seed}: above the best, in band, by one who knows the parts: {half:.2f}, "
        f"95 %: {most:.2f}\n"
    )


if __name__ == "__main__":
    main()
