"""What FM sound asks of a strip: the deviation and the pre-emphasis of Recommendation ITU-R BS.450."""

import math
import re

import numpy as np
import pytest

from aligner.circuits.response import Cascade, ceramic_filter, delay_variation_s, ripple_over_db
from aligner.circuits.response_fit import ResponseFit, fit_response
from aligner.engine.selectivity import selectivity_words
from aligner.procedure.model import IfSweepStep
from aligner.procedure.reader import read_procedure
from aligner.shipped import folder

# ITU-R BS.450-3, read in a copy: greatest deviation 75 kHz each way (in some countries 50 kHz); pre-emphasis of 50 us
# in Europe, of 75 us in the United States.
DEVIATION_HZ = 75e3
PRE_EMPHASIS_S = (50e-6, 75e-6)
PROCEDURE = read_procedure(folder("procedures") / "fm-varactor-full.toml")
FILTERS = Cascade((ceramic_filter(10.7e6, 230e3), ceramic_filter(10.7e6, 180e3)))


def level_db(hz: np.ndarray) -> np.ndarray:
    return np.asarray(20 * np.log10(np.abs(FILTERS.transfer(hz))))


def test_the_sound_is_judged_over_the_deviation_each_way_and_not_over_half_of_it() -> None:
    hz = np.linspace(10.7e6 - DEVIATION_HZ, 10.7e6 + DEVIATION_HZ, 2001)
    assert ripple_over_db(FILTERS, 10.7e6, DEVIATION_HZ) == pytest.approx(float(np.ptp(level_db(hz))), abs=1e-3)
    phase = np.unwrap(np.angle(FILTERS.transfer(hz)))
    delay = -np.gradient(phase, hz) / (2 * math.pi)
    spread = float(np.ptp(delay[2:-2]))
    assert delay_variation_s(FILTERS, 10.7e6, DEVIATION_HZ) == pytest.approx(spread, rel=0.01)
    assert delay_variation_s(FILTERS, 10.7e6, DEVIATION_HZ / 2) < 0.6 * spread  # the trap: half of it flatters


def test_a_swept_strip_is_told_with_what_it_does_over_the_deviation_of_the_standard() -> None:
    hz = np.linspace(10.3e6, 11.1e6, 41)
    fit = fit_response(tuple(zip(hz.tolist(), level_db(hz).tolist(), strict=True)), 0.05)
    assert isinstance(fit, ResponseFit)
    step = next(step for step in PROCEDURE.steps if isinstance(step, IfSweepStep))
    words = selectivity_words(PROCEDURE, step, fit)
    assert f"over \u00b1{DEVIATION_HZ / 1e3:.0f} kHz" in words
    delay = delay_variation_s(FILTERS, 10.7e6, DEVIATION_HZ)
    assert f"{ripple_over_db(FILTERS, 10.7e6, DEVIATION_HZ):.1f} dB and {delay * 1e6:.2f} \u00b5s" in words
    for away in (100e3, 200e3, 300e3, 400e3):  # the trade of two unlike filters: neighbours against sound
        told = re.search(rf"(-\d+) dB at \u00b1{away / 1e3:.0f} kHz", words)
        assert told is not None
        assert float(told[1]) == pytest.approx(level_db(np.array([10.7e6 - away, 10.7e6 + away])).max(), abs=1.0)


@pytest.mark.parametrize("constant_s", PRE_EMPHASIS_S)
def test_pre_emphasised_sound_asks_for_the_strip_at_its_full_deviation_only_where_it_is_slow(constant_s: float) -> None:
    # The pre-emphasis lifts 15 kHz by 20 lg sqrt(1 + (2 pi f tau)^2) = 13.7 or 17.0 dB; a strip's delay turns it into
    # phase, and over the deviation that stays below a tenth of a period: the strip does not undo the emphasis.
    lift = 20 * math.log10(math.hypot(1.0, 2 * math.pi * 15e3 * constant_s))
    assert lift == pytest.approx({50e-6: 13.66, 75e-6: 17.07}[constant_s], abs=0.01)
    assert 15e3 * delay_variation_s(FILTERS, 10.7e6, DEVIATION_HZ) < 0.1
