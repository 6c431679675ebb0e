"""Whether what a sweep says of virtual strips is as sure as it says: strips as drawn, out of step, of no one kind."""

from dataclasses import dataclass

import numpy as np
import pytest

from aligner.circuits.features import features
from aligner.circuits.response import Complex, Resonators
from aligner.circuits.response_fit import ResponseFit, fit_response
from aligner.procedure.model import IfSweepStep
from aligner.procedure.reader import read_procedure
from aligner.rehearsal.draw import draw
from aligner.rehearsal.population import Population
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.strip import StripElectrical
from aligner.shipped import folder

SD_DB = 0.15  # what the program supposes of a level read by hand on a meter of 0.1 dB
FEATURES = ("centre_hz", "width_3_hz", "width_20_hz", "ripple_db")


@dataclass(frozen=True)
class Drawn:
    """The level of a drawn strip as a response, for its features to be found by the same definitions."""

    virtual: VirtualSet

    def transfer(self, frequency_hz: np.ndarray) -> Complex:
        strip = self.virtual.parts.strip
        assert strip is not None
        level = np.asarray(StripElectrical(strip).level_db(frequency_hz, self.virtual.positions()))
        return np.asarray(10 ** (level / 20) + 0.0 * frequency_hz, dtype=np.complex128)


def drawn(name: str, population: Population, seed: int, index: int) -> tuple[Drawn, IfSweepStep]:
    procedure = read_procedure(folder("procedures") / f"{name}.toml")
    step = next(step for step in procedure.steps if isinstance(step, IfSweepStep))
    return Drawn(VirtualSet(procedure, draw(procedure, population, seed, index), population, index)), step


def share_held(population: Population, seed: int, noise_db: float) -> dict[str, float]:
    chance = np.random.default_rng(seed)
    held: dict[str, list[bool]] = {name: [] for name in FEATURES}
    for name, count in (("fm-varactor-full", 34), ("if-strip", 33), ("lw-mw-sw", 33)):
        for index in range(count):
            strip, step = drawn(name, population, seed, index)
            low, high = step.span_hz
            hz = np.linspace(low, high, step.count)
            levels = 20 * np.log10(np.abs(strip.transfer(hz))) + 50.0
            read = np.round(levels + chance.normal(0, noise_db, len(hz)), 1)
            fit = fit_response(tuple(zip(hz.tolist(), read.tolist(), strict=True)), SD_DB)
            if not isinstance(fit, ResponseFit):
                continue
            true = features(strip, fit.centre_hz.value, fit.width_3_hz.value)
            for feature in FEATURES:
                found = getattr(fit, feature)
                held[feature].append(abs(found.value - getattr(true, feature)) <= 1.96 * found.sd + 1e-9)
    assert min(len(rows) for rows in held.values()) >= 90
    return {feature: sum(rows) / len(rows) for feature, rows in held.items()}


@pytest.mark.parametrize("seed", [21, 22])
def test_intervals_of_levels_as_sure_as_supposed_hold_the_truth(population: Population, seed: int) -> None:
    held = share_held(population, seed, SD_DB)
    # 95 % wanted; of a hundred, fewer than 88 have a chance of one in three hundred.
    assert {name: share for name, share in held.items() if share < 0.88} == {}


def test_better_readings_than_supposed_give_surer_widths(population: Population) -> None:
    strip, step = drawn("if-strip", population, 21, 0)
    hz = np.linspace(*step.span_hz, 31)
    levels = 20 * np.log10(np.abs(strip.transfer(hz))) + 50.0
    chance = np.random.default_rng(1)
    good = fit_response(tuple(zip(hz.tolist(), np.round(levels, 1).tolist(), strict=True)), SD_DB)
    usual = levels + chance.normal(0, SD_DB, len(hz))
    plain = fit_response(tuple(zip(hz.tolist(), usual.tolist(), strict=True)), SD_DB)
    assert isinstance(good, ResponseFit)
    assert isinstance(plain, ResponseFit)
    assert good.width_3_hz.sd < 0.8 * plain.width_3_hz.sd


def test_coupling_and_q_of_pairs_are_as_sure_as_they_are_said_to_be() -> None:
    chance = np.random.default_rng(23)
    held: list[bool] = []
    called = 0
    for _ in range(100):
        coupling, quality = float(chance.uniform(0.7, 2.4)), float(chance.uniform(40, 90))
        pair = Resonators(455e3, quality, "pair", coupling)
        reach = 2.6 * max(1.0, coupling) * 455e3 / quality
        hz = np.linspace(455e3 - reach, 455e3 + reach, 15)
        levels = 20 * np.log10(np.abs(pair.transfer(hz))) + chance.normal(0, SD_DB, len(hz))
        fit = fit_response(tuple(zip(hz.tolist(), levels.tolist(), strict=True)), SD_DB)
        assert isinstance(fit, ResponseFit)
        if fit.kind == "pair":
            assert fit.coupling is not None
            called += 1
            held.append(abs(fit.coupling.value - coupling) <= 1.96 * fit.coupling.sd)
            held.append(abs(fit.quality.value - quality) <= 1.96 * fit.quality.sd)
    assert called >= 85
    assert sum(held) >= 0.90 * len(held)
