"""How truly a set is brought back to a place: what a millivolt, or a hair's breadth of the scale, is worth there."""

from dataclasses import replace

import pytest

from aligner.engine.asks import Point
from aligner.engine.instruments import place_sd_hz
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure

FM, MW = read_procedure(find("fm-varactor")), read_procedure(find("mw-gang-padder"))


def test_a_millivolt_is_worth_most_at_the_low_end() -> None:
    low, high = place_sd_hz(FM, "", Point(volts=2.0), 87.5e6), place_sd_hz(FM, "", Point(volts=8.0), 108e6)
    assert low is not None
    assert high is not None
    assert low / high == pytest.approx(4.0 * 87.5 / 108.0)
    assert low == pytest.approx(6.6e3, rel=0.01)  # 87.5 MHz ln(108/87.5) / ln 4 / 2 V, times 1 mV


@pytest.mark.parametrize("law", ["straight-capacitance", "straight-frequency"])
def test_a_law_of_the_gang_says_what_the_scale_is_worth_at_a_place(law: str) -> None:
    known = replace(MW, digest="", text=law, tuning=replace(MW.tuning, law=law))  # type: ignore[arg-type]
    power = 1.0 if law == "straight-frequency" else -2.0  # what goes evenly along the scale: f or 1/f^2
    low, high = (hz**power for hz in (525e3, 1620e3))
    z, step = 1400e3, 1e-6 * (high - low)
    moved = (z**power + step) ** (1.0 / power) - z
    found = place_sd_hz(known, "", Point(dial=z), z)
    assert found == pytest.approx(1.3e-4 * moved / 1e-6, rel=1e-3)


def test_a_place_found_by_frequency_or_at_a_stop_has_no_scale() -> None:
    assert place_sd_hz(MW, "", Point(received=1e6), 1e6) is None
    assert place_sd_hz(MW, "", Point(end="low"), 525e3) is None
