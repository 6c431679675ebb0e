"""Faults of circuits and adjusters."""

from collections.abc import Callable

import pytest

FAULTS = [
    (
        'role = "signal"',
        'role = "aerial"',
        29,
        "circuit[2].role",
        '"aerial"',
        "known here: oscillator, signal, if, detector, trap",
    ),
    (
        'role = "signal"',
        'role = "signal"\nq = "60"',
        30,
        "circuit[2].q",
        '"60"',
        "write a plain number greater than zero, without quotation marks",
    ),
    (
        'role = "signal"',
        'role = "signal"\nbands = ["am"]',
        30,
        "circuit[2].bands[1]",
        '"am", but there is no band of that id',
        "known here: fm",
    ),
    (
        'id = "antenna-coil"',
        'id = "oscillator-coil"',
        31,
        "circuit[2].adjuster[1].id",
        '"oscillator-coil"',
        "give each adjuster an id of its own",
    ),
    (
        'id = "antenna-coil"',
        'id = "antenna coil"',
        31,
        "circuit[2].adjuster[1].id",
        '"antenna coil"',
        'write an id of letters, digits and "-", at most 64 of them, such as "antenna-coil"',
    ),
    (
        'kind = "ferrite-core"',
        'kind = "ferite-core"',
        33,
        "circuit[2].adjuster[1].kind",
        '"ferite-core"',
        'did you mean "ferrite-core"?',
    ),
    (
        'kind = "ferrite-core"\n',
        "",
        30,
        "circuit[2].adjuster[1].kind",
        'there is no "kind"',
        (
            "write one of air-coil, ferrite-core, brass-core, rod-coil, compression-trimmer, "
            "rotary-trimmer, piston-trimmer, wire-trimmer, preset"
        ),
    ),
    (
        'kind = "ferrite-core"',
        'kind = "preset"',
        33,
        "circuit[2].adjuster[1].kind",
        '"preset"',
        "inductance is changed by one of air-coil, ferrite-core, brass-core, rod-coil",
    ),
    (
        'kind = "ferrite-core"',
        'kind = "ferrite-core"\ntravel = ["12 pF", "95 nH"]',
        34,
        "circuit[2].adjuster[1].travel[1]",
        '"12 pF", a capacitance',
        'write an inductance such as "75 nH"',
    ),
    (
        'kind = "air-coil"',
        'kind = "air-coil"\ncounted = true',
        27,
        "circuit[1].adjuster[1].counted",
        'true for the kind "air-coil"',
        "leave it out: it does not rotate, so it has no turns to count",
    ),
    (
        'kind = "air-coil"',
        'kind = "air-coil"\nturn = "2 nH"',
        27,
        "circuit[1].adjuster[1].turn",
        '"2 nH" for the kind "air-coil"',
        "leave it out: it does not rotate",
    ),
    (
        'kind = "air-coil"',
        'kind = "air-coil"\ncounted = "no"',
        27,
        "circuit[1].adjuster[1].counted",
        '"no"',
        "write true or false, without quotation marks",
    ),
    (
        'does = "inductance"\nkind = "ferrite-core"',
        'does = "series"\nkind = "compression-trimmer"',
        32,
        "circuit[2].adjuster[1].does",
        '"series"',
        'only a set tuned by a gang has one: write "parallel", or by = "gang" under [tuning]',
    ),
]


@pytest.mark.parametrize(("old", "new", "line", "key", "found", "cure"), FAULTS)
def test_a_fault_of_a_circuit_is_named_with_line_key_and_cure(
    voltage_set: str,
    faults_of: Callable[[str, str, str], list[str]],
    old: str,
    new: str,
    line: int,
    key: str,
    found: str,
    cure: str,
) -> None:
    assert faults_of(voltage_set, old, new) == [f"set.toml:{line}: {key}: {found}; {cure}"]
