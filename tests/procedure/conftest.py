"""Two small sets without a fault, and what becomes of them when one thing is changed."""

from collections.abc import Callable

import pytest

from aligner.errors import ProcedureError
from aligner.procedure.reader import parse_procedure

VOLTAGE_SET = """\
format = 1
title = "A set tuned by voltage"
hazards = ["radiating-oscillator"]
[set]
intermediate = "10.7 MHz"
oscillator = "above"
[[band]]
id = "fm"
range = ["87.5 MHz", "108 MHz"]
[tuning]
by = "voltage"
range = ["2 V", "8 V"]
[counter]
shows = "divided"
prescaler = 64
[meter]
law = "log"
[generator]
into = "aerial"
[[circuit]]
id = "oscillator"
role = "oscillator"
[[circuit.adjuster]]
id = "oscillator-coil"
does = "inductance"
kind = "air-coil"
[[circuit]]
id = "antenna"
role = "signal"
[[circuit.adjuster]]
id = "antenna-coil"
does = "inductance"
kind = "ferrite-core"
[[step]]
id = "connect"
kind = "prepare"
confirm = ["AFC is off."]
[[step]]
id = "coverage"
kind = "coverage"
points = [{ volts = "2 V", received = "87.5 MHz" }, { volts = "8 V", received = "108 MHz" }]
tolerance = "50 kHz"
[[step]]
id = "antenna"
kind = "tracking"
circuit = "antenna"
by = ["resonance", "level"]
points = ["90 MHz", "106 MHz"]
tolerance = "150 kHz"
[[step]]
id = "final"
kind = "read-back"
limits = [{ volts = "2 V", received = "87.5 MHz", quantity = "frequency", within = "75 kHz" }]
"""

GANG_SET = """\
format = 1
title = "A set tuned by a gang"
[set]
intermediate = "455 kHz"
oscillator = "above"
[[band]]
id = "mw"
range = ["525 kHz", "1620 kHz"]
[tuning]
by = "gang"
law = "straight-capacitance"
range = ["12 pF", "365 pF"]
[[circuit]]
id = "oscillator"
role = "oscillator"
trimmer-across = "tuning"
[[circuit.adjuster]]
id = "oscillator-padder"
does = "series"
kind = "compression-trimmer"
[[circuit]]
id = "antenna"
role = "signal"
[[circuit.adjuster]]
id = "antenna-trimmer"
does = "parallel"
kind = "rotary-trimmer"
[[step]]
id = "coverage"
kind = "coverage"
points = [{ dial = "600 kHz" }, { dial = "1000 kHz" }, { mark = "right dot", received = "1400 kHz" }]
tolerance = "2 kHz"
leader = "oscillator"
[[step]]
id = "antenna"
kind = "tracking"
circuit = "antenna"
points = ["600 kHz", "1400 kHz"]
[[step]]
id = "final"
kind = "read-back"
limits = [{ point = "1000 kHz", quantity = "frequency", within = "3 kHz" }]
"""


@pytest.fixture
def voltage_set() -> str:
    """The text of a set tuned by voltage."""
    return VOLTAGE_SET


@pytest.fixture
def gang_set() -> str:
    """The text of a set tuned by a gang."""
    return GANG_SET


@pytest.fixture
def faults_of() -> Callable[[str, str, str], list[str]]:
    """The faults of a text in which one thing is changed."""
    return _faults_of


def _faults_of(text: str, old: str, new: str) -> list[str]:
    assert old in text
    with pytest.raises(ProcedureError) as caught:
        parse_procedure(text.replace(old, new, 1), "set.toml")
    return [str(fault) for fault in caught.value.faults]
