"""What the plan says: travel, what cannot be told and by which key, the counter, contradictions, shapes of set."""

import json
from dataclasses import asdict, replace
from io import StringIO
from pathlib import Path

import pytest

from aligner.errors import Exit
from aligner.procedure.library import shipped
from aligner.procedure.reader import parse_procedure, read_procedure
from aligner.sheet.plan import plan_of
from aligner.sheet.plan_command import check_plan
from aligner.sheet.plan_curve import curve_lines
from aligner.sheet.plan_model import PartPlan
from aligner.sheet.plan_text import plan_lines
from tests.sheet.plan_sets import COIL, PADDER, TRIMMER, gang_set, head, part, planned, steps
from tests.small_sets import FM, MW, circuit, coverage, fm_head, oscillator, tracking

CURVE = (
    'range = ["2 V", "8 V"]\ncurve = [["1 V", "20.1 pF"], ["2 V", "16.3 pF"], ["4 V", "12.6 pF"], ["8 V", "8.9 pF"]]'
)
CURVED = FM.replace('range = ["2 V", "8 V"]', CURVE)
POINTS = (600e3, 1000e3, 1400e3)
MW_BAND = 525e3, 1620e3


def _with_travel(text: str, adjuster: str, low: str, high: str) -> str:
    assert f'id = "{adjuster}"' in text
    return text.replace(f'id = "{adjuster}"', f'id = "{adjuster}"\ntravel = ["{low}", "{high}"]')


def _text(text: str) -> str:
    return "\n".join(plan_lines(plan_of(parse_procedure(text, "set.toml"))))


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [("100 nH", "125 nH", "inside"), ("70 nH", "95 nH", "outside"), ("113 nH", "150 nH", "outside")],
)
def test_a_coil_is_inside_or_outside_its_travel(low: str, high: str, verdict: str) -> None:
    # The oscillator's coil is 112.02 nH: the curve's 16.3 and 8.9 pF with 98.2 and 118.7 MHz.
    band = planned(_with_travel(CURVED, "oscillator-coil", low, high))
    assert part(band, "oscillator", "inductance").needed == pytest.approx(112.02e-9, rel=1e-3)
    assert part(band, "oscillator", "inductance").verdict == verdict
    assert any("oscillator-coil does not reach" in words for words in band.warnings) == (verdict == "outside")


@pytest.mark.parametrize(
    ("low", "high", "verdict", "strays_pf"),
    [
        ("2 pF", "10 pF", "inside", (0.0, 5.149)),
        ("1 pF", "3 pF", "strays", (4.149, 6.149)),
        ("8 pF", "20 pF", "outside", None),
    ],
)
def test_a_trimmer_has_unknown_strays_beside_it_and_the_plan_says_how_much_there_may_be(
    low: str, high: str, verdict: str, strays_pf: tuple[float, float] | None
) -> None:
    # The oscillator's trimmer and strays are 7.149 pF together.
    trimmer = part(planned(_with_travel(CURVED, "oscillator-trimmer", low, high)), "oscillator", "trimmer")
    assert trimmer.verdict == verdict
    if strays_pf is None:
        assert trimmer.strays_f is None
    else:
        assert trimmer.strays_f == pytest.approx([value * 1e-12 for value in strays_pf], abs=2e-15)


def test_without_a_curve_no_farad_or_henry_is_shown_and_the_key_that_would_tell_is_named() -> None:
    band = planned(FM)
    assert all(p.needed is None and p.share is not None and p.verdict == "unknown" for p in band.parts)
    assert band.untold[0] == "values in pF and uH: [tuning] curve"
    text = _text(FM)
    assert "pF;" not in text
    assert "nH" not in text
    assert part(band, "antenna", "inductance").key == "[tuning] curve; travel of antenna-coil"


def test_a_gang_is_asked_for_its_range_or_curve_and_a_circuit_for_its_q() -> None:
    untold = planned(MW).untold
    assert untold[0] == "values in pF and uH: [tuning] range or curve"
    assert any(words.endswith("q of antenna") for words in untold)


def test_scaled_shares_are_the_ratios_of_the_absolute_values() -> None:
    scaled = planned(gang_set(MW_BAND, 455e3, "", (COIL, TRIMMER, PADDER), POINTS))
    told = planned(gang_set(MW_BAND, 455e3, 'range = ["12 pF", "365 pF"]', (COIL, TRIMMER, PADDER), POINTS))
    signal_h, own_h = (part(told, c, "inductance").needed or 0.0 for c in ("antenna", "oscillator"))
    signal_f, own_f = (part(told, c, "trimmer").needed or 0.0 for c in ("antenna", "oscillator"))
    ratio = (1620 / 525) ** 2
    middle_f = (365e-12 + (365e-12 - ratio * 12e-12) / (ratio - 1)) * 525 / 1620  # whole, at the geometric middle
    assert part(scaled, "oscillator", "inductance").share == pytest.approx(own_h / signal_h, rel=1e-4)
    assert part(scaled, "oscillator", "trimmer").share == pytest.approx((own_f - signal_f) / middle_f, rel=1e-3)
    assert part(scaled, "oscillator", "padder").share == pytest.approx(
        (part(told, "oscillator", "padder").needed or 0.0) / middle_f, rel=1e-4
    )


@pytest.mark.parametrize("law", ["", CURVE.split("\n")[1]])
def test_the_tracking_curve_needs_no_component_value(law: str) -> None:
    text = FM.replace('range = ["2 V", "8 V"]', f'range = ["2 V", "8 V"]\n{law}')
    own = planned(text).tracking[0]
    # Two adjusters and three points: the third error is the hardware's, the same at all three with its sign changing.
    errors = [point.error_hz for point in own.at_points]
    assert errors == pytest.approx([48.25e3, -48.25e3, 48.25e3], rel=2e-3)
    assert own.best is not None
    assert abs(own.best.greatest.error_hz) < abs(own.own.greatest.error_hz)


def test_the_best_points_are_those_where_the_curve_crosses_zero_when_they_are_taken() -> None:
    best = planned(FM).tracking[0].best
    assert best is not None
    points = tuple(f"{hz / 1e6:.6f} MHz" for hz in best.points_hz)
    again = planned(FM.replace('points = ["90 MHz", "98 MHz", "106 MHz"]', f'points = ["{points[0]}", "{points[1]}"]'))
    assert again.tracking[0].own.greatest.error_hz == pytest.approx(best.greatest.error_hz, rel=1e-3)


@pytest.mark.parametrize(("gate", "coarse"), [("2 ms", True), ("5.12 ms", False), ("100 ms", False)])
def test_a_count_coarser_than_the_tolerance_is_warned_of(gate: str, coarse: bool) -> None:
    text = fm_head(counter=f'shows = "divided"\nprescaler = 256\ngate = "{gate}"') + oscillator() + circuit("antenna")
    band = planned(text + coverage() + tracking())
    assert band.counter is not None
    assert band.counter.coarse is coarse
    assert any("too coarse" in words for words in band.warnings) is coarse
    if coarse:  # 256 / 0.0256 s = 10 kHz, a fifth of 50 kHz
        assert band.counter.longer_gate_s == pytest.approx(25.6e-3)


def test_the_band_may_take_more_voltage_than_the_tuning_gives() -> None:
    text = CURVED.replace("87.5 MHz" + '" }', '88.5 MHz" }').replace('received = "108 MHz"', 'received = "107 MHz"')
    text = text.replace('["1 V", "20.1 pF"]', '["0.5 V", "24 pF"]').replace(
        '"8.9 pF"]]', '"8.9 pF"], ["12 V", "7 pF"]]'
    )
    band = planned(text)
    assert band.tuning_needed is not None
    assert band.tuning_needed[0] < 2.0
    assert band.tuning_needed[1] > 8.0
    assert any("the tuning gives 2 V to 8 V" in words for words in band.warnings)


def test_the_ends_of_the_band_lie_at_the_voltages_of_the_points_where_these_are_the_ends() -> None:
    assert planned(CURVED).tuning_needed == pytest.approx((2.0, 8.0), rel=1e-6)


def test_a_curve_that_contradicts_the_points_is_left_out_and_said_to_be() -> None:
    # So small a change of capacitance cannot tune over the band: beyond the points nothing would be left of it.
    law = 'curve = [["525 kHz", "365 pF"], ["600 kHz", "364 pF"], ["1400 kHz", "363 pF"], ["1620 kHz", "362 pF"]]'
    band = planned(gang_set(MW_BAND, 455e3, law, (COIL, TRIMMER), (600e3, 1400e3)))
    assert any("contradicts the points" in words for words in band.warnings)
    assert not band.absolute
    assert {p.needed for p in band.parts} <= {None}
    assert band.counter is not None


def test_a_gang_whose_least_capacitance_is_too_large_is_said_to_be() -> None:
    # 60 to 365 pF is 6.1 : 1, the band takes 9.5 : 1: the trimmers would have to be negative, which none is.
    band = planned(gang_set(MW_BAND, 455e3, 'range = ["60 pF", "365 pF"]', (COIL, TRIMMER, PADDER), POINTS))
    assert any("antenna has too much capacitance" in words for words in band.warnings)
    assert any("The oscillator cannot meet all its points" in words for words in band.warnings)


def test_more_points_than_the_oscillator_has_values_for_are_said_to_be_missed() -> None:
    law = 'curve = [["525 kHz", "365 pF"], ["600 kHz", "275 pF"], ["1000 kHz", "91 pF"], ["1620 kHz", "25 pF"]]'
    text = gang_set((525e3, 1620e3), 455e3, law, (COIL, TRIMMER, PADDER), (600e3, 800e3, 1000e3, 1400e3))
    assert any("cannot meet all its points" in words for words in planned(text).warnings)


def test_where_even_nominal_parts_miss_the_tolerance_that_is_a_warning() -> None:
    tight = FM.replace('tolerance = "150 kHz"', 'tolerance = "40 kHz"')
    assert any("antenna cannot meet its tolerance" in words for words in planned(tight).warnings)
    assert not any("cannot meet its tolerance" in words for words in planned(FM).warnings)


@pytest.mark.parametrize(
    ("tolerance", "beyond"), [("4 dB", True), ("5 dB", False), ("12 kHz", True), ("15 kHz", False)]
)
def test_a_curve_that_leaves_the_tolerance_between_or_beyond_the_points_is_marked(tolerance: str, beyond: bool) -> None:
    text = _text(MW.replace('tolerance = "5 kHz"', f'tolerance = "{tolerance}"'))
    own = next(line for line in text.splitlines() if "These points" in line)
    assert own.startswith("! ") == beyond
    assert ("beyond the tolerance, away from the points" in " ".join(text.split())) == beyond


def test_a_set_without_padder_on_a_wide_band_has_no_curve_and_says_why() -> None:
    band = planned(gang_set(MW_BAND, 455e3, "", (COIL, TRIMMER), (600e3, 1400e3)))
    assert band.tracking == ()
    assert any("cut to a law of its own" in words for words in band.warnings)
    assert any("law of the oscillator's section" in words for words in band.untold)


def test_two_coverage_points_and_three_values_take_the_best_middle_point() -> None:
    band = planned(gang_set(MW_BAND, 455e3, "", (COIL, TRIMMER, PADDER), (600e3, 1400e3)))
    best = planned(gang_set(MW_BAND, 455e3, "", (COIL, TRIMMER, PADDER), POINTS, tolerance="0.3 dB")).tracking[0].best
    assert best is not None
    crossing = [
        left.received_hz
        for left, right in zip(band.tracking[0].curve, band.tracking[0].curve[1:], strict=False)
        if left.error_hz * right.error_hz < 0 and 800e3 < left.received_hz < 1200e3
    ]
    assert crossing
    assert crossing[0] == pytest.approx(best.points_hz[1], rel=0.03)


SHAPES = {
    "no steps": fm_head()
    + oscillator()
    + circuit("antenna")
    + '[[step]]\nid = "a"\nkind = "prepare"\nconfirm = ["Yes."]\n',
    "no signal circuit": fm_head() + oscillator() + coverage(),
    "a coil alone": fm_head() + oscillator((COIL,)) + circuit("antenna", (COIL,)) + coverage() + tracking(),
    "one point": head((9.4e6, 10e6), 455e3, "")
    + circuit("oscillator", (COIL, PADDER), "oscillator")
    + circuit("antenna")
    + steps((9.7e6,), (9.7e6,), "20 kHz"),
    "oscillator below": fm_head("below") + oscillator() + circuit("antenna") + coverage() + tracking(),
    "one point by voltage": CURVED.replace('{ volts = "2 V", received = "87.5 MHz" }, ', ""),
    "no range": FM.replace('range = ["2 V", "8 V"]', ""),
    "by loss": FM.replace('tolerance = "150 kHz"', 'tolerance = "0.3 dB"'),
    **{path.stem: path.read_text(encoding="utf-8") for path in shipped()},
}


@pytest.mark.parametrize("text", SHAPES.values(), ids=SHAPES)
def test_every_shape_of_set_has_a_plan_of_at_most_80_columns_and_as_valid_json(text: str) -> None:
    plan = plan_of(parse_procedure(text, "set.toml"))
    assert [line for line in plan_lines(plan) if len(line) > 80] == []
    again = json.loads(json.dumps(asdict(plan), allow_nan=False))
    assert [band["id"] for band in again["bands"]] == [band.id for band in plan.bands]


def test_circuits_with_the_same_plan_are_shown_once() -> None:
    text = FM.replace('[[step]]\nid = "coverage"', circuit("interstage") + '[[step]]\nid = "coverage"')
    text += tracking(of="interstage")
    assert _text(text).count("Tracking of") == 1
    assert "Tracking of antenna, interstage" in _text(text)


def test_the_half_way_relation_has_the_numbers_of_this_oscillator() -> None:
    # 1 / (1 - (98.2 / 118.7)^2) = 3.17, and (98.2 / 118.7)^2 = 68 %.
    words = planned(FM).half_way
    assert "3.17 times as far" in words
    assert "68 % of the error" in words
    assert "three are solved together" in planned(MW).half_way


def test_the_curve_is_drawn_where_it_is_and_marks_the_points() -> None:
    lines = curve_lines([(float(hz), float(hz - 150)) for hz in range(100, 201)], (125.0,))
    assert lines[0].startswith("      +50.0 Hz |")
    assert lines[0].rstrip().endswith("*")
    assert lines[8].index("*") == lines[8].index("|") + 1
    assert lines[4].count("o") == 1
    assert lines[-1].split() == ["100.0", "Hz", "200.0", "Hz"]
    assert max(map(len, lines)) <= 80


def test_a_flat_curve_is_a_line_on_the_axis() -> None:
    lines = curve_lines([(100.0, 0.0), (200.0, 0.0)], ())
    assert "*" in lines[4]


def test_a_faulty_file_shows_its_faults_and_no_plan(tmp_path: Path) -> None:
    path = tmp_path / "set.toml"
    path.write_text(FM.replace('kind = "air-coil"', 'kind = "air-cool"'), encoding="utf-8")
    out = StringIO()
    assert check_plan(str(path), out) is Exit.USAGE
    assert "did you mean" in out.getvalue()
    assert "Plan before" not in out.getvalue()


def test_as_json_the_plan_is_one_line_with_the_same_values(tmp_path: Path) -> None:
    path = tmp_path / "set.toml"
    path.write_text(CURVED, encoding="utf-8")
    out = StringIO()
    assert check_plan(str(path), out, as_json=True) is Exit.DONE
    assert out.getvalue().count("\n") == 1
    band = plan_of(read_procedure(path)).bands[0]
    assert json.loads(out.getvalue())["bands"][0]["parts"][0]["needed"] == band.parts[0].needed


def test_no_capacitance_is_told_in_picofarads_and_never_finer_than_anybody_sets_it() -> None:
    nothing = PartPlan("oscillator", "trimmer", "trimmer", 0.0, None, "", (3e-12, 30e-12), "outside")
    band = replace(planned(CURVED), parts=(nothing,))
    plan = replace(plan_of(parse_procedure(CURVED, "set.toml")), bands=(band,))
    assert "trimmer: 0.00 pF; OUTSIDE its travel 3 pF to 30 pF, by 3.00 pF" in "\n".join(plan_lines(plan))


def _with_fixed_padder(padder: str) -> str:
    rows, more = (COIL, TRIMMER), 'trimmer-across = "coil"' + (f'\npadder = "{padder}"' if padder else "")
    law = 'law = "straight-capacitance"\nrange = ["12 pF", "365 pF"]'
    own = circuit("oscillator", rows, "oscillator", more) + circuit("antenna", (COIL, TRIMMER))
    return head(MW_BAND, 455e3, law) + own + steps(POINTS, POINTS)


@pytest.mark.parametrize(
    ("padder", "off", "warned"),
    [("423.6 pF", "", False), ("470 pF", ", 11 % more", True), ("390 pF", ", 8 % less", True)],
)
def test_a_fixed_padder_that_is_not_the_one_reckoned_with_is_told_and_warned_of(
    padder: str, off: str, *, warned: bool
) -> None:
    text = _with_fixed_padder(padder)
    assert f"oscillator, padder: 423.6 pF; a fixed part, {padder} in the procedure{off}\n" in _text(text)
    assert any("fixed padder of oscillator" in words for words in planned(text).warnings) == warned


def test_of_a_fixed_padder_on_a_tuning_without_values_no_difference_is_told() -> None:
    text = _with_fixed_padder("470 pF").replace('law = "straight-capacitance"\nrange = ["12 pF", "365 pF"]', "")
    padder = part(planned(text), "oscillator", "padder")
    assert padder.off is None
    assert not any("padder of oscillator" in words for words in planned(text).warnings)
