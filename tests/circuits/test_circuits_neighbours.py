import math

import pytest

from aligner.circuits.neighbours import neighbours_db
from aligner.circuits.response import Resonators


def test_a_single_circuit_keeps_out_what_the_resonance_curve_says() -> None:
    """|H| = 1/sqrt(1 + a^2) with a = 2 Q d near resonance: one half width is 3.01 dB, two are 6.99 dB."""
    circuit = Resonators(10.7e6, 107.0)  # 100 kHz wide at half power
    near, far = neighbours_db(circuit, 10.7e6, (50e3, 100e3))
    assert near == pytest.approx(-20 * math.log10(math.sqrt(2.0)), abs=0.03)
    assert far == pytest.approx(-6.990, abs=0.05)


def test_the_two_sides_of_a_lopsided_response_are_taken_together() -> None:
    level, skewed = (neighbours_db(Resonators(10.7e6, 107.0, skew=skew), 10.7e6, (200e3,))[0] for skew in (0.0, 0.2))
    assert skewed == pytest.approx(level, abs=0.5)
