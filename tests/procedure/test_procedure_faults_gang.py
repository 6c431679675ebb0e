"""Faults of sets tuned by a gang, of sets with several bands, and of the order of steps."""

from collections.abc import Callable

import pytest

FaultsOf = Callable[[str, str, str], list[str]]

SECOND_BAND = 'range = ["525 kHz", "1620 kHz"]\n[[band]]\nid = "lw"\nrange = ["150 kHz", "280 kHz"]'
TRACKING = """[[step]]
id = "antenna"
kind = "tracking"
circuit = "antenna"
points = ["600 kHz", "1400 kHz"]
"""


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            '{ dial = "600 kHz" }',
            '{ volts = "2 V", received = "600 kHz" }',
            (
                "31: step[1].points[1].volts: a tuning voltage of a set tuned by a gang; "
                "name a place of the gang: dial, mark or end"
            ),
        ),
        (
            '{ dial = "600 kHz" }',
            '{ dial = "600 kHz", received = "1100 kHz" }',
            (
                "31: step[1].points[2]: a point that contradicts another; "
                "check both: a higher place receives a higher frequency"
            ),
        ),
        (
            '["600 kHz", "1400 kHz"]',
            '["600 kHz", "1400 kHz"]\nby = ["stage-voltage"]',
            '39: step[2].by[1]: "stage-voltage"; leave it out: a gang has no tuning voltage to move',
        ),
        (
            'range = ["12 pF", "365 pF"]',
            'curve = [["600 kHz", "285 pF"], ["1400 kHz", "41 pF"]]',
            "11: tuning.law: both a law and a curve; give one of them only",
        ),
        (
            'range = ["12 pF", "365 pF"]',
            'range = ["12 pF", "365 pF"]\n[[tuning.adjuster]]\nid = "low"\nsets = "low-end"',
            (
                "13: tuning.adjuster[1]: a preset of the tuning voltage; "
                "leave it out: a gang has no presets of a tuning voltage"
            ),
        ),
        (
            'does = "parallel"\nkind = "rotary-trimmer"',
            'does = "tuning-voltage"\nkind = "preset"',
            (
                '26: circuit[2].adjuster[1].does: "tuning-voltage"; a gang has no tuning voltage: '
                'write "parallel", or by = "voltage" under [tuning]'
            ),
        ),
        (
            '[[circuit.adjuster]]\nid = "antenna-trimmer"\ndoes = "parallel"\nkind = "rotary-trimmer"\n',
            "",
            (
                '33: step[2].circuit: nothing to turn in the circuit "antenna"; '
                "describe its adjusters under [[circuit.adjuster]]"
            ),
        ),
        (
            '[[step]]\nid = "coverage"',
            TRACKING.replace('"antenna"\nkind', '"early"\nkind') + '[[step]]\nid = "coverage"',
            '28: step[1]: tracking before its oscillator is set by "coverage"; write the step "early" after "coverage"',
        ),
        (
            'point = "1000 kHz"',
            'point = "1000 kHz", dial = "1000 kHz"',
            (
                "42: step[3].limits[1].dial: a point and also dial; "
                "name one place: a point for short, or dial, volts, mark or end"
            ),
        ),
    ],
)
def test_a_fault_of_a_gang_set_is_named(gang_set: str, faults_of: FaultsOf, old: str, new: str, message: str) -> None:
    assert faults_of(gang_set, old, new) == [f"set.toml:{message}"]


def test_an_oscillator_below_needs_room_below_the_band(gang_set: str, faults_of: FaultsOf) -> None:
    below = gang_set.replace('"above"', '"below"')
    assert faults_of(below, '"525 kHz"', '"400 kHz"') == [
        (
            "set.toml:8: band[1].range: a band with the intermediate frequency in it; "
            "check both: no set receives its own intermediate frequency"
        )
    ]
    assert faults_of(below, '["525 kHz", "1620 kHz"]', '["150 kHz", "280 kHz"]')[0] == (
        "set.toml:8: band[1].range: a band below the oscillator's lowest place; "
        'check both, or write oscillator = "above"'
    )


def test_with_several_bands_each_step_names_its_own(gang_set: str, faults_of: FaultsOf) -> None:
    faults = faults_of(gang_set, 'range = ["525 kHz", "1620 kHz"]', SECOND_BAND)
    cure = 'there is no "band"; name the band: mw, lw'
    assert faults == [
        f"set.toml:31: step[1].band: {cure}",
        f"set.toml:37: step[2].band: {cure}",
        f"set.toml:42: step[3].band: {cure}",
    ]


def test_one_band_has_one_oscillator(gang_set: str, faults_of: FaultsOf) -> None:
    second = '[[circuit]]\nid = "second"\nrole = "oscillator"\n'
    faults = faults_of(gang_set, '[[circuit]]\nid = "antenna"', second + '[[circuit]]\nid = "antenna"')
    assert faults == [
        (
            'set.toml:13: circuit: several oscillators on the band "mw": oscillator, second; '
            "give each its own bands = [...], or leave one oscillator"
        )
    ]


def test_coverage_and_tracking_need_an_oscillator(gang_set: str, faults_of: FaultsOf) -> None:
    faults = faults_of(gang_set, 'role = "oscillator"', 'role = "trap"')
    cure = 'add a circuit with role = "oscillator" for its band'
    assert faults == [
        f"set.toml:28: step[1]: a coverage step without an oscillator; {cure}",
        f"set.toml:34: step[2]: a tracking step without an oscillator to follow; {cure}",
    ]


def test_a_shared_adjuster_names_circuits_that_are_there(gang_set: str, faults_of: FaultsOf) -> None:
    shared = '[[adjuster]]\nid = "both"\ndoes = "parallel"\nkind = "piston-trimmer"\ncircuits = ["antena", "antenna"]\n'
    assert faults_of(gang_set, '[[step]]\nid = "coverage"', shared + '[[step]]\nid = "coverage"') == [
        'set.toml:32: adjuster[1].circuits[1]: "antena", but there is no circuit of that id; did you mean "antenna"?'
    ]


def test_a_signal_leads_only_where_the_band_has_a_signal_circuit(gang_set: str, faults_of: FaultsOf) -> None:
    antenna = gang_set[gang_set.index('[[circuit]]\nid = "antenna"') : gang_set.index('[[step]]\nid = "coverage"')]
    tracking = gang_set[gang_set.index('[[step]]\nid = "antenna"') : gang_set.index('[[step]]\nid = "final"')]
    alone = gang_set.replace(antenna, "").replace(tracking, "")
    assert faults_of(alone, 'leader = "oscillator"', 'leader = "signal"') == [
        (
            "set.toml:26: step[1].leader: no signal circuit on this band; "
            "leave it out, or describe the signal circuit that leads"
        )
    ]
