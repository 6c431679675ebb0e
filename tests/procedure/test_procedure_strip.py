"""The steps that feed the IF strip, and a strip alone, which has no band and no tuning."""

from collections.abc import Callable

import pytest

from aligner.procedure.library import find
from aligner.procedure.model import (
    DetectorStep,
    IfPeakStep,
    IfSweepStep,
    ImageStep,
    Place,
    SealStep,
    TrapStep,
    WarmUpStep,
)
from aligner.procedure.reader import parse_procedure, read_procedure

STRIP = """\
format = 1
title = "A strip"
[set]
intermediate = "10.7 MHz"
[[circuit]]
id = "first"
role = "if"
[[circuit.adjuster]]
id = "first-core"
does = "inductance"
kind = "ferrite-core"
[[circuit]]
id = "second"
role = "if"
[[circuit.adjuster]]
id = "second-primary"
does = "inductance"
kind = "ferrite-core"
[[circuit.adjuster]]
id = "second-secondary"
does = "inductance"
kind = "ferrite-core"
[[circuit]]
id = "ratio"
role = "detector"
[[circuit.adjuster]]
id = "ratio-primary"
does = "inductance"
kind = "ferrite-core"
[[circuit.adjuster]]
id = "ratio-secondary"
does = "inductance"
kind = "ferrite-core"
[[step]]
id = "cans"
kind = "if-peak"
cans = ["first", "second"]
swamped = ["second"]
[[step]]
id = "sweep"
kind = "if-sweep"
span = ["10.3 MHz", "11.1 MHz"]
tolerance = "8 kHz"
[[step]]
id = "detector"
kind = "detector"
form = "ratio"
tolerance = "10 kHz"
"""


def test_a_strip_alone_needs_no_band_no_tuning_and_no_side_of_the_oscillator() -> None:
    procedure = parse_procedure(STRIP, "strip.toml")
    assert (procedure.bands, procedure.tuning.by, procedure.intermediate_hz) == ((), "none", 10.7e6)
    peak, sweep, detector = procedure.steps
    assert isinstance(peak, IfPeakStep)
    assert (peak.cans, peak.swamped) == (("first", "second"), ("second",))
    assert "kilohms" in peak.swamp
    assert isinstance(sweep, IfSweepStep)
    assert (sweep.span_hz, sweep.cans, sweep.count, sweep.off_hz) == ((10.3e6, 11.1e6), ("first", "second"), 15, None)
    assert isinstance(detector, DetectorStep)
    assert (detector.circuit, detector.zero, detector.symmetry) == ("ratio", "ratio-secondary", "ratio-primary")


def test_what_is_not_said_of_a_span_is_a_twentieth_of_the_intermediate_frequency_each_side() -> None:
    procedure = parse_procedure(STRIP.replace('span = ["10.3 MHz", "11.1 MHz"]\n', ""), "strip.toml")
    sweep = procedure.step("sweep")
    assert isinstance(sweep, IfSweepStep)
    assert sweep.span_hz == pytest.approx((10.165e6, 11.235e6))


STRIP_FAULTS = [
    (
        'cans = ["first", "second"]',
        'cans = ["frst", "second"]',
        "step[1].cans[1]",
        '"frst", but there is no circuit of that id',
        'did you mean "first"?',
    ),
    (
        'cans = ["first", "second"]',
        'cans = ["ratio", "second"]',
        "step[1].cans[1]",
        '"ratio", whose role is "detector"',
        'name a circuit with role = "if"',
    ),
    ('cans = ["first", "second"]', 'cans = ["second", "second"]', "step[1].cans[2]", '"second"', "name each can once"),
    (
        'swamped = ["second"]',
        'swamped = ["first"]',
        "step[1].swamped",
        'a can with one adjuster, "first": there is no other winding to load',
        "describe both windings' adjusters, or leave the can out of this list",
    ),
    (
        'swamped = ["second"]',
        'swamp = "1 kilohm"',
        "step[1].swamp",
        "something to swamp with, and no can for it",
        'leave it out, or name the cans under "swamped"',
    ),
    (
        '"11.1 MHz"]',
        '"10.6 MHz"]',
        "step[2].span",
        "a span from 1.03e+07 Hz to 1.06e+07 Hz",
        "write a span with the intermediate frequency inside",
    ),
    (
        'tolerance = "8 kHz"',
        'tolerance = "400 kHz"',
        "step[2].tolerance",
        '"400 kHz"',
        "write a smaller one: this is half the span or more",
    ),
    (
        'tolerance = "8 kHz"',
        'tolerance = "8 kHz"\ncount = 3',
        "step[2].count",
        "3",
        "write a whole number of at least 5, without quotation marks",
    ),
    (
        'tolerance = "8 kHz"',
        'tolerance = "8 kHz"\nfilters = ["2 MHz"]',
        "step[2].filters[1]",
        '"2 MHz"',
        "write the width of the filter, less than the span",
    ),
    (
        'tolerance = "8 kHz"',
        'tolerance = "8 kHz"\npoint = { end = "low", dial = "1 MHz" }',
        "step[2].point",
        "a table",
        'name one place: dial, volts, mark or end, such as { end = "low" }',
    ),
    ('form = "ratio"', 'form = "ration"', "step[3].form", '"ration"', 'did you mean "ratio"?'),
    (
        'form = "ratio"',
        'form = "ratio"\nzero = "first-core"',
        "step[3].zero",
        '"first-core", but there is no adjuster of this circuit of that id',
        "known here: ratio-primary, ratio-secondary",
    ),
    (
        'form = "ratio"',
        'form = "quadrature"\nsymmetry = "ratio-primary"',
        "step[3].symmetry",
        '"ratio-primary"',
        "leave it out: a quadrature detector has one coil, which sets the zero",
    ),
    (
        'form = "ratio"',
        'form = "ratio"\nasymmetry = 1.5',
        "step[3].asymmetry",
        "1.5",
        "write a share below 1, such as 0.15: the difference of both peaks over their mean",
    ),
    (
        '[[step]]\nid = "sweep"\nkind = "if-sweep"\nspan = ["10.3 MHz", "11.1 MHz"]\ntolerance = "8 kHz"',
        '[[step]]\nid = "image"\nkind = "image"\npoints = ["90 MHz"]',
        "step[2]",
        'a step of the kind "image" for an IF strip alone',
        'leave the step "image" out, or describe the front end: [[band]], [tuning] and its circuits',
    ),
]


@pytest.mark.parametrize(("old", "new", "key", "found", "cure"), STRIP_FAULTS)
def test_a_fault_of_a_strip_is_named_with_key_and_cure(
    faults_of: Callable[[str, str, str], list[str]], old: str, new: str, key: str, found: str, cure: str
) -> None:
    faults = faults_of(STRIP, old, new)
    assert len(faults) == 1
    assert faults[0].endswith(f" {key}: {found}; {cure}")


def test_a_front_end_still_needs_its_band_and_tuning(
    faults_of: Callable[[str, str, str], list[str]],
) -> None:
    faults = faults_of(STRIP, 'id = "first"\nrole = "if"', 'id = "first"\nrole = "signal"')
    assert any('band: there is no "band"' in fault for fault in faults)
    assert any('tuning: there is no "tuning"' in fault for fault in faults)


OTHERS = """\
[[step]]
id = "warm"
kind = "warm-up"
point = { volts = "2 V", received = "87.5 MHz" }
drift = "10 kHz"
[[step]]
id = "image"
kind = "image"
points = ["90 MHz", "106 MHz"]
rejection = "20 dB"
[[step]]
id = "seal"
kind = "seal"
locks = [{ adjusters = ["antenna-coil"], how = "wax" }, { adjusters = ["oscillator-coil"] }]
limits = [{ volts = "2 V", received = "87.5 MHz", quantity = "frequency", within = "30 kHz" }]
[[circuit]]
id = "if-trap"
role = "trap"
[[circuit.adjuster]]
id = "trap-core"
does = "inductance"
kind = "ferrite-core"
[[step]]
id = "trap"
kind = "trap"
point = { volts = "8 V" }
"""


def test_warm_up_image_seal_and_trap_are_read(voltage_set: str) -> None:
    procedure = parse_procedure(voltage_set + OTHERS, "set.toml")
    warm, image, seal, trap = procedure.steps[-4:]
    assert isinstance(warm, WarmUpStep)
    assert (warm.place, warm.received_hz) == (Place(volts=2.0), 87.5e6)
    assert (warm.drift_hz, warm.per_s, warm.every_s) == (10e3, 600.0, 120.0)
    assert isinstance(image, ImageStep)
    assert (image.points_hz, image.least_db) == ((90e6, 106e6), 20.0)
    assert isinstance(seal, SealStep)
    assert [(lock.adjusters, lock.how) for lock in seal.locks] == [
        (("antenna-coil",), "wax"),
        (("oscillator-coil",), ""),
    ]
    assert isinstance(trap, TrapStep)
    assert (trap.circuit, trap.hz, trap.place) == ("if-trap", 10.7e6, Place(volts=8.0))


OTHER_FAULTS = [
    (
        'point = { volts = "2 V", received = "87.5 MHz" }\ndrift',
        "drift",
        ".point",
        'there is no "point"',
        'name the place, such as { dial = "1000 kHz" } or { volts = "2 V", received = "87.5 MHz" }',
    ),
    (
        'drift = "10 kHz"',
        'drift = "10 kHz"\nevery = "900 s"',
        ".every",
        '"900 s"',
        'read more often than that: write less than "in"',
    ),
    (
        'points = ["90 MHz", "106 MHz"]\nrejection',
        'points = ["120 MHz"]\nrejection',
        ".points[1]",
        '"120 MHz"',
        'write a place in the band "fm", 87.5 MHz to 108 MHz',
    ),
    (
        '{ adjusters = ["oscillator-coil"] }',
        '{ adjusters = ["antenna-coil"] }',
        ".locks[2].adjusters[1]",
        '"antenna-coil"',
        "lock each adjuster once",
    ),
    (
        'point = { volts = "8 V" }',
        'point = { volts = "9 V" }',
        ".point.volts",
        '"9 V"',
        "write 2 V to 8 V, or widen the range under [tuning]",
    ),
]


@pytest.mark.parametrize(("old", "new", "key", "found", "cure"), OTHER_FAULTS)
def test_a_fault_of_the_other_steps_is_named_with_key_and_cure(
    voltage_set: str,
    faults_of: Callable[[str, str, str], list[str]],
    old: str,
    new: str,
    key: str,
    found: str,
    cure: str,
) -> None:
    faults = faults_of(voltage_set + OTHERS, old, new)
    assert len(faults) == 1
    assert faults[0].endswith(f"{key}: {found}; {cure}")


def test_the_whole_fm_job_has_the_steps_of_a_whole_job_in_their_order() -> None:
    kinds = [step.kind for step in read_procedure(find("fm-varactor-full")).steps]
    assert kinds == [
        "prepare",
        "warm-up",
        "if-peak",
        "if-sweep",
        "detector",
        "coverage",
        "tracking",
        "tracking",
        "image",
        "read-back",
        "seal",
        "prepare",
    ]
