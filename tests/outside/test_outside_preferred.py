"""Preferred values against the rule of rounding with its known exceptions.

The series are those of IEC 60063, FROM MEMORY: E48 and E96 are 10^(n/N) rounded to three figures; E24 is 10^(n/24)
rounded to two, but for eight values that are older than the rule.
"""

import pytest

from aligner.circuits.preferred import decade, nearest_preferred

OLDER_THAN_THE_RULE = {2.6: 2.7, 2.9: 3.0, 3.2: 3.3, 3.5: 3.6, 3.8: 3.9, 4.2: 4.3, 4.6: 4.7, 8.3: 8.2}


def test_e24_is_rounding_but_for_its_eight_known_exceptions() -> None:
    rounded = [round(10 ** (step / 24), 1) for step in range(24)]
    assert list(decade("E24")) == [OLDER_THAN_THE_RULE.get(value, value) for value in rounded]
    assert len(set(decade("E24"))) == 24


def test_coarser_series_take_every_second_value() -> None:
    assert decade("E12") == decade("E24")[::2] == (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
    assert decade("E6") == decade("E12")[::2] == (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
    assert decade("E48") == decade("E96")[::2]


def test_fine_series_hold_the_values_that_shelves_hold() -> None:
    # FROM MEMORY of component catalogues.
    assert {1.05, 1.47, 2.26, 3.32, 4.64, 6.81, 9.53} <= set(decade("E48"))
    assert {1.02, 1.07, 2.21, 3.57, 4.99, 7.32, 9.76} <= set(decade("E96"))
    assert (len(decade("E48")), len(decade("E96"))) == (48, 96)


def test_nearest_is_by_ratio() -> None:
    # 2.7 and 3.3 nF: their geometric mean is 2.985, the arithmetic one 3.0.
    assert nearest_preferred(2.98e-9, "E12") == pytest.approx(2.7e-9)
    assert nearest_preferred(2.99e-9, "E12") == pytest.approx(3.3e-9)
