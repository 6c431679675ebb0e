import numpy as np
import pytest

from aligner.circuits.padding import padded_law
from aligner.estimate.frame import CircuitFrame, Frame, frame_of
from aligner.estimate.ladder import COIL, INNER, OUTER, SERIES, ladder
from tests.small_sets import (
    FM,
    MW,
    MW_PLACES,
    PADDED_MORE,
    THREE,
    circuit,
    coverage,
    fm_head,
    gang_head,
    oscillator,
    read,
    tracking,
)

F3 = (600e3, 1000e3, 1400e3)
IF_HZ = 455e3
COIL_ONLY = (("coil", "inductance", "ferrite-core"),)
MIDDLE = float(np.sqrt(525e3 * 1620e3))
GRID = 1e-5  # the start of a padded circuit is searched on a grid; a prior 1e4 times as wide does not see it


def frame(text: str) -> Frame:
    procedure = read(text)
    return frame_of(procedure, "", procedure.intermediate_hz)


def misfit(own: CircuitFrame, places: tuple[float, ...]) -> np.ndarray:
    """ln y of the start settings, less what is wanted."""
    z = np.array(places)
    return np.asarray(ladder(own.law(z), np.array(own.start)).lny - own.lny(own.wanted_hz(z)))


def test_the_start_of_a_pair_meets_its_two_targets_exactly() -> None:
    np.testing.assert_allclose(misfit(frame(FM).circuits["oscillator"], (87.5e6, 108e6)), 0.0, atol=1e-12)


@pytest.mark.parametrize("across", ["tuning", "coil"])
def test_the_start_with_a_padder_meets_its_three_targets(across: str) -> None:
    text = MW.replace(PADDED_MORE, f'trimmer-across = "{across}"')
    np.testing.assert_allclose(misfit(frame(text).circuits["oscillator"], F3), 0.0, atol=GRID)


@pytest.mark.parametrize("side", ["above", "below"])
def test_the_oscillator_shall_stand_one_intermediate_frequency_from_what_is_received(side: str) -> None:
    text = fm_head(side) + oscillator() + circuit("antenna") + coverage() + tracking()
    own = frame(text).circuits["oscillator"]
    offset = 10.7e6 if side == "above" else -10.7e6
    assert own.wanted_hz(np.array([90e6])) == 90e6 + offset
    np.testing.assert_allclose(misfit(own, (87.5e6, 108e6)), 0.0, atol=1e-12)


def test_with_the_trimmer_across_the_gang_the_start_is_the_three_point_closed_form() -> None:
    # Circuit A in scaled terms: a = Ct / Cm, s = Cm / Cp, exp(l) = (f_mid / F_mid)^2 (l2 / m2) (1 + Ct / Cp), where Cm
    # is the signal circuit's capacitance in mid-band. The closed form itself is checked in tests/outside.
    law = padded_law(F3, IF_HZ)
    inner = MIDDLE**2 / law.l2
    series = 1.0 / (MIDDLE**2 * (1.0 / law.n2 - 1.0 / law.l2))
    coil = np.log(((MIDDLE + IF_HZ) / MIDDLE) ** 2 * (law.l2 / law.m2) * (1.0 + inner * series))
    start = frame(MW).circuits["oscillator"].start
    np.testing.assert_allclose(start, (coil, inner, 0.0, series), atol=GRID)


def test_with_the_trimmer_across_the_coil_the_start_is_the_other_closed_form() -> None:
    # Circuit B: s = n2 / F_mid^2, b = F_mid^2 / (l2 - n2), exp(l) = (f_mid / F_mid)^2 (l2 / m2) / (1 + Ct / Cp).
    law = padded_law(F3, IF_HZ)
    series, outer = law.n2 / MIDDLE**2, MIDDLE**2 / (law.l2 - law.n2)
    coil = np.log(((MIDDLE + IF_HZ) / MIDDLE) ** 2 * (law.l2 / law.m2) / (1.0 + outer * series))
    text = MW.replace(PADDED_MORE, 'trimmer-across = "coil"')
    start = frame(text).circuits["oscillator"].start
    np.testing.assert_allclose(start, (coil, 0.0, outer, series), atol=2e-4)  # flatter there, so the grid is felt more


def test_the_signal_circuits_of_a_gang_follow_their_own_dial_at_the_start() -> None:
    own = frame(MW).circuits["antenna"]
    np.testing.assert_allclose(misfit(own, (525e3, *F3, 1620e3)), 0.0, atol=1e-12)


def test_a_table_that_says_the_same_as_the_law_gives_the_same_tuning_element() -> None:
    rows = ", ".join(
        f'["{hz / 1e3:g} kHz", "{3e-10 * (525e3 / hz) ** 2 * 1e12:.6f} pF"]' for hz in np.linspace(525e3, 1620e3, 12)
    )
    table = MW.replace('by = "gang"\n', f'by = "gang"\ncurve = [{rows}]\n')
    z = np.linspace(530e3, 1610e3, 11)
    with_table, without = frame(table).circuits["antenna"], frame(MW).circuits["antenna"]
    np.testing.assert_allclose(with_table.law(z), without.law(z), rtol=1e-5)


@pytest.mark.parametrize("band", ['["150 kHz", "280 kHz"]', '["6 MHz", "18 MHz"]', '["100 kHz", "400 kHz"]'])
def test_every_band_has_a_start_that_is_finite_and_near(band: str) -> None:
    low, high = (float(part.strip(' []"').split()[0]) for part in band.split(","))
    unit = band.strip('[] "').split()[-1].strip('"')
    places = tuple(f'{{ dial = "{low + share * (high - low):g} {unit}" }}' for share in (0.1, 0.5, 0.9))
    text = gang_head(band) + oscillator(THREE, PADDED_MORE) + circuit("antenna") + coverage(places, "1 kHz")
    own = frame(text).circuits["oscillator"]
    z = np.array([p.received_hz for p in read(text).steps[0].points])  # type: ignore[union-attr]
    assert np.isfinite(own.start).all()
    np.testing.assert_allclose(misfit(own, tuple(z)), 0.0, atol=1e-4)


def test_settings_that_do_not_exist_have_no_spread() -> None:
    fm, mw = frame(FM), frame(MW)
    assert [bool(x) for x in fm.circuits["antenna"].spread] == [True, True, False, False]
    assert [bool(x) for x in mw.circuits["oscillator"].spread] == [True, True, True, True]


def test_each_adjuster_turns_the_setting_that_its_work_names() -> None:
    handles = frame(MW).handles
    turned = {name: handle.setting for name, handle in handles.items()}
    assert turned["oscillator-coil"] == turned["antenna-coil"] == COIL
    assert turned["oscillator-trimmer"] == turned["antenna-trimmer"] == INNER
    assert turned["oscillator-padder"] == SERIES
    across = frame(MW.replace(PADDED_MORE, 'trimmer-across = "coil"')).handles
    assert across["oscillator-trimmer"].setting == OUTER


def test_a_padder_that_a_clockwise_turn_makes_more_has_less_elastance() -> None:
    more = MW.replace('id = "oscillator-padder"\n', 'id = "oscillator-padder"\nrotation = "more"\n')
    assert frame(more).handles["oscillator-padder"].sense == -1
    assert frame(MW).handles["oscillator-padder"].sense == 0


def test_lny_and_hz_are_inverse_and_the_slope_is_that_of_the_law() -> None:
    own = frame(MW).circuits["antenna"]
    hz = np.array([550e3, 1000e3, 1600e3])
    np.testing.assert_allclose(own.hz(own.lny(hz)), hz, rtol=1e-12)
    # u = (F / z)^2, so du/dz = -2 u / z; derived.
    np.testing.assert_allclose(own.slope(hz), -2.0 * own.law(hz) / hz, rtol=1e-6)


def test_circuits_of_other_bands_and_other_roles_are_left_out() -> None:
    two = MW.replace("[tuning]", '[[band]]\nid = "long"\nrange = ["150 kHz", "280 kHz"]\n[tuning]')
    two = two.replace('id = "antenna"\nrole', 'id = "antenna"\nbands = ["own"]\nrole').replace(
        'id = "oscillator"\nrole', 'id = "oscillator"\nbands = ["own"]\nrole'
    )
    strip = circuit("strip", COIL_ONLY, "if")
    text = two.replace("[[step]]", strip + "[[step]]", 1).replace(
        'kind = "coverage"', 'kind = "coverage"\nband = "own"'
    )
    text = text.replace('kind = "tracking"', 'kind = "tracking"\nband = "own"')
    procedure = read(text)
    assert set(frame_of(procedure, "own", IF_HZ).circuits) == {"oscillator", "antenna"}
    assert frame_of(procedure, "long", IF_HZ).circuits == {}


def test_a_fixed_padder_and_two_coverage_points_leave_the_middle_of_the_band_where_it_tracks() -> None:
    # Two points settle no padder: the prior then has to take it from three places over the band.
    two = MW.replace(", ".join(MW_PLACES), ", ".join((MW_PLACES[0], MW_PLACES[-1])))
    assert two != MW
    own = frame(two).circuits["oscillator"]
    z = np.array([600e3, 1000e3, 1400e3])
    nominal = own.hz(ladder(own.law(z), np.array(own.start)).lny)
    np.testing.assert_allclose(nominal, z + IF_HZ, rtol=0.01)
