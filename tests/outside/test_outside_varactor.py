"""Varactors against textbooks, data sheets and the diode model of a circuit simulator."""

import numpy as np
import pytest

from aligner.circuits.laws import VaractorLaw
from aligner.circuits.tables import Rows, TableLaw, fit_varactor, varactor_law
from aligner.circuits.tank import resonance_hz, series_f
from tests.outside.conftest import Simulate

PF, UH, MHZ = 1e-12, 1e-6, 1e6


def rows(*pairs: tuple[float, float]) -> Rows:
    return tuple((volts, picofarads * PF) for volts, picofarads in pairs)


def test_abrupt_diode_of_a_textbook() -> None:
    # Roddy and Coolen, Electronic Communications, 4th ed., 6.6.1, p. 211: 20 pF, 0.5 V, 7 V: 5.16 pF.
    assert VaractorLaw(20 * PF, 0.5, 0.5).capacitance_f(7) == pytest.approx(5.163978 * PF, rel=1e-6)


def test_tuning_range_with_series_capacitors_of_a_textbook() -> None:
    # The same, 6.6.2, p. 212: in series with 300, 300 and 20 pF, 100 uH: 9.38 pF, 5.1966 MHz; 3.99 pF, 7.9677 MHz.
    # Computed without rounding on the way: 9.375 pF, 5.197979 MHz; 3.994953 pF, 7.962772 MHz.
    diode = VaractorLaw(20 * PF, 0.5, 0.5)
    low, high = (series_f(diode.capacitance_f(volts), 300 * PF, 300 * PF, 20 * PF) for volts in (0.0, 7.0))
    assert low == pytest.approx(9.375 * PF, rel=1e-6)
    assert high == pytest.approx(3.994953 * PF, rel=1e-6)
    assert resonance_hz(100 * UH, low) == pytest.approx(5.197979 * MHZ, rel=1e-6)
    assert resonance_hz(100 * UH, high) == pytest.approx(7.962772 * MHZ, rel=1e-6)
    assert resonance_hz(100 * UH, low) == pytest.approx(5.1966 * MHZ, rel=1e-3)
    assert resonance_hz(100 * UH, high) == pytest.approx(7.9677 * MHZ, rel=1e-3)


def test_two_diodes_back_to_back_of_a_textbook() -> None:
    # Sharma, Solid State Devices and Circuits, 5th ed., 1.3: two of 5 to 50 pF, 10 mH: 1 MHz and 318 kHz.
    assert resonance_hz(10e-3, series_f(5 * PF, 5 * PF)) == pytest.approx(1.006584 * MHZ, rel=1e-6)
    assert resonance_hz(10e-3, series_f(50 * PF, 50 * PF)) == pytest.approx(0.318310 * MHZ, rel=1e-5)


def test_inverse_root_law_of_a_textbook() -> None:
    # Kulshreshtha E14, p. 90: 5 pF at 4 V, C proportional to V^-0.5: 4.082 pF at 6 V. phi close to zero makes it so.
    tiny = 1e-9
    diode = VaractorLaw(5 * PF * (1 + 4 / tiny) ** 0.5, tiny, 0.5)
    assert diode.capacitance_f(6) == pytest.approx(4.082483 * PF, rel=1e-6)


# Data sheets, typical values [pF]; worst relative error of an independent least-squares fit in log C.
TABLES = [
    # BB535, Siemens/Infineon 1997-01-08, dtsheet.com/model/3108387
    (rows((1, 18.7), (2, 15), (25, 2.24), (28, 2.1)), 0.025, (25.263, 3.299, 1.1157)),
    # BBY55, Infineon Nov-14-2002, pdf.datasheet.directory BBY55-02W
    (rows((1, 18.6), (2, 15), (3, 12.6), (4, 11), (10, 6)), 0.0067, (24.210, 3.2586, 0.9934)),
    # BBY51, Infineon 2011-06-14, pdf.datasheet.directory BBY51-03W
    (rows((1, 5.4), (2, 4.2), (3, 3.5), (4, 3.1)), 0.0060, (8.984, 0.6308, 0.5352)),
    # BBY56, Infineon 2014-02-11, pdf.datasheet.live BBY56-02W
    (rows((1, 40), (3, 15.8), (4, 12.1)), 0.0, (159.59, 0.3473, 1.0207)),
]


@pytest.mark.parametrize(("table", "worst", "values"), TABLES)
def test_power_law_fitted_to_data_sheets(table: Rows, worst: float, values: tuple[float, float, float]) -> None:
    fit = fit_varactor(table, package=False)
    assert fit.worst <= worst + 0.001
    # Cj0, phi and gamma go together: one by one they are settled to no better than 5 %.
    found = (fit.law.zero_bias_f / PF, fit.law.contact_v, fit.law.exponent)
    assert found == pytest.approx(values, rel=0.05)


def test_fit_of_a_data_sheet_predicts_a_value_it_was_not_given() -> None:
    # BBY56: the data sheet gives 22 to 25 pF at 2 V.
    assert 22 * PF < fit_varactor(TABLES[3][0], package=False).law.capacitance_f(2) < 25 * PF


def test_a_fitted_package_capacitance_never_fits_worse() -> None:
    table = TABLES[1][0]
    assert fit_varactor(table).worst <= fit_varactor(table, package=False).worst * 1.2  # least squares, not least worst


def test_diode_model_of_a_simulator() -> None:
    # MV1642 (ltwiki.org, MV1642_test.asc): Cjo 100 pF, Vj 0.75, M 0.38. Trap: its note swaps 29 and 62 pF.
    diode = VaractorLaw(100 * PF, 0.75, 0.38)
    expected = {0.0: 100.0, 2.0: 61.0347, 4.0: 49.5884, 20.0: 28.3176}
    for volts, picofarads in expected.items():
        assert diode.capacitance_f(volts) == pytest.approx(picofarads * PF, rel=1e-5)
    assert diode.capacitance_f(2.0) / diode.capacitance_f(20.0) == pytest.approx(2.155, abs=5e-4)


def test_the_simulator_sees_the_same_diode_and_the_fit_finds_it(simulate: Simulate) -> None:
    # ngspice: current through a reverse-biased diode at 1 MHz is 2 pi f C V.
    frequency = 1e6
    table = []
    for volts in (0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 20.0):
        net = f"V1 k 0 DC {volts} AC 1\nD1 0 k dv\n.model dv D(Cjo=100p Vj=0.75 M=0.38 Rs=0 Is=1e-18)"
        row = simulate(net, f"ac lin 1 {frequency!r} {frequency!r}", "i(v1)")[0]
        table.append((volts, abs(float(row[2])) / (2 * np.pi * frequency)))
    fit = fit_varactor(tuple(table))
    assert fit.worst < 1e-5
    assert isinstance(varactor_law(tuple(table)), VaractorLaw)
    for volts, capacitance_f in table:
        assert VaractorLaw(100 * PF, 0.75, 0.38).capacitance_f(volts) == pytest.approx(capacitance_f, rel=1e-5)
    assert (fit.law.contact_v, fit.law.exponent) == pytest.approx((0.75, 0.38), rel=0.01)


# Microsemi application note on hyperabrupt VHF diodes (studylib.net/doc/18553113): C normalised to 4 V, 3 to 8 V.
HYPERABRUPT = tuple(
    zip(
        (3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0),
        (1.192, 1.094, 1.000, 0.909, 0.817, 0.725, 0.635, 0.555, 0.487, 0.433, 0.390),
        strict=True,
    )
)


def test_hyperabrupt_table_is_met_at_its_rows() -> None:
    law = TableLaw(HYPERABRUPT, "varactor")
    for volts, ratio in HYPERABRUPT:
        assert law.capacitance_f(volts) == pytest.approx(ratio, rel=1e-12)
    assert law.capacitance_f(3.0) ** -0.5 == pytest.approx(0.9159, rel=1e-4)
    assert law.capacitance_f(8.0) ** -0.5 == pytest.approx(1.6013, rel=1e-4)
    assert law.capacitance_f(3.0) / law.capacitance_f(8.0) == pytest.approx(3.0564, rel=1e-4)
    assert (law.capacitance_f(3.0) / law.capacitance_f(8.0)) ** 0.5 == pytest.approx(1.74826, rel=1e-4)


def test_a_diode_that_follows_no_power_law_keeps_its_table() -> None:
    assert fit_varactor(HYPERABRUPT).worst > 0.02
    assert isinstance(varactor_law(HYPERABRUPT), TableLaw)
