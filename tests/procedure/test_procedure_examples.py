"""Everything that the form can say, in two whole examples: a set tuned by voltage and one tuned by a gang."""

from aligner.procedure.model import Adjuster, Circuit, Counter, CoveragePoint, CoverageStep, Meter, Place, TrackingStep
from aligner.procedure.reader import parse_procedure

BY_VOLTAGE = """
format = 1
title = "FM front end tuned by voltage"
about = "Three tuned circuits on one tuning voltage."
hazards = ["radiating-oscillator", "the cabinet has sharp edges"]

[set]
intermediate = "10.7 MHz"
oscillator = "above"

[[band]]
id = "fm"
range = ["87.5 MHz", "108 MHz"]

[tuning]
by = "voltage"
range = ["2 V", "8 V"]
curve = [["1 V", "20.1 pF"], ["2 V", "16.3 pF"], ["4 V", "12.6 pF"], ["8 V", "8.9 pF"]]
[[tuning.adjuster]]
id = "low-end-preset"
sets = "low-end"
where = "beside the regulator"

[counter]
shows = "divided"
prescaler = 64
gate = "100 ms"

[meter]
law = "log"
more-signal = "down"
resolution = "0.1 dB"

[generator]
into = "aerial"
through = "dummy aerial"
modulation = "none"

[[circuit]]
id = "oscillator"
role = "oscillator"
[[circuit.adjuster]]
id = "oscillator-coil"
does = "inductance"
kind = "air-coil"
counted = false
where = "beside the mixer can"
travel = ["70 nH", "95 nH"]
[[circuit.adjuster]]
id = "oscillator-preset"
does = "tuning-voltage"
kind = "preset"

[[circuit]]
id = "antenna"
role = "signal"
bands = ["fm"]
q = 60
[[circuit.adjuster]]
id = "antenna-coil"
does = "inductance"
kind = "brass-core"
rotation = "less"
turn = "1.5 nH"

[[step]]
id = "coverage"
kind = "coverage"
points = [{ volts = "2 V", received = "87.5 MHz" }, { volts = "8 V", received = "108 MHz" }]
tolerance = "50 kHz"

[[step]]
id = "antenna"
kind = "tracking"
title = "Antenna"
circuit = "antenna"
by = ["resonance", "level", "wand", "stage-voltage"]
points = ["90 MHz", "98 MHz", "106 MHz"]
tolerance = "0.3 dB"
"""

BY_GANG = """
format = 1
title = "Medium wave"

[set]
intermediate = "455 kHz"
oscillator = "above"

[[band]]
id = "mw"
range = ["525 kHz", "1620 kHz"]

[tuning]
by = "gang"
curve = [["600 kHz", "285 pF"], ["1000 kHz", "95 pF"], ["1400 kHz", "41 pF"]]

[counter]
shows = "received"
offset = "450 kHz"

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

[[adjuster]]
id = "both-trimmer"
circuits = ["oscillator", "antenna"]
does = "parallel"
kind = "wire-trimmer"

[[step]]
id = "connect"
kind = "prepare"
confirm = ["Pointer at its stop with the gang closed.", "Generator through the dummy aerial to the aerial socket."]

[[step]]
id = "coverage"
kind = "coverage"
points = [{ dial = "600 kHz" }, { dial = "1000 kHz" }, { mark = "right dot", received = "1400 kHz" }]
tolerance = "2 kHz"
leader = "signal"

[[step]]
id = "final"
kind = "read-back"
limits = [{ point = "1000 kHz", quantity = "frequency", within = "3 kHz" }]
"""


def test_the_example_tuned_by_voltage_says_what_it_means() -> None:
    procedure = parse_procedure(BY_VOLTAGE, "example.toml")
    assert procedure.hazards == ("radiating-oscillator", "the cabinet has sharp edges")
    assert procedure.tuning.curve == ((1.0, 20.1e-12), (2.0, 16.3e-12), (4.0, 12.6e-12), (8.0, 8.9e-12))
    assert procedure.tuning.presets == (("low-end-preset", "low-end"),)
    assert procedure.counter == Counter("divided", 64, 0.1, None)
    assert procedure.meter == Meter("log", "down", 0.1)
    assert procedure.circuits == (
        Circuit("oscillator", "oscillator", ("oscillator-coil", "oscillator-preset")),
        Circuit("antenna", "signal", ("antenna-coil",), "coil", ("fm",), 60.0),
    )
    assert procedure.steps[1] == TrackingStep(
        "antenna",
        "antenna",
        ("resonance", "level", "wand", "stage-voltage"),
        (90e6, 98e6, 106e6),
        tolerance_db=0.3,
        band="fm",
        title="Antenna",
    )


def test_the_adjusters_of_the_example_tuned_by_voltage_say_what_they_mean() -> None:
    assert parse_procedure(BY_VOLTAGE, "example.toml").adjusters == (
        Adjuster(
            "oscillator-coil",
            "inductance",
            "air-coil",
            counted=False,
            circuits=("oscillator",),
            where="beside the mixer can",
            travel=(70e-9, 95e-9),
        ),
        Adjuster("oscillator-preset", "tuning-voltage", "preset", counted=True, circuits=("oscillator",)),
        Adjuster(
            "antenna-coil",
            "inductance",
            "brass-core",
            counted=True,
            circuits=("antenna",),
            rotation="less",
            turn=1.5e-9,
        ),
        Adjuster(
            "low-end-preset",
            "tuning-voltage",
            "preset",
            counted=True,
            circuits=("oscillator", "antenna"),
            where="beside the regulator",
        ),
    )


def test_the_example_tuned_by_a_gang_says_what_it_means() -> None:
    procedure = parse_procedure(BY_GANG, "example.toml")
    assert procedure.tuning.curve == ((600e3, 285e-12), (1e6, 95e-12), (1.4e6, 41e-12))
    assert procedure.counter == Counter("received", 1, 1.0, 450e3)
    assert procedure.circuit("oscillator").trimmer_across == "tuning"
    assert procedure.circuit("antenna").adjusters == ("both-trimmer",)
    assert procedure.adjuster("both-trimmer").counted is False
    assert procedure.steps[1] == CoverageStep(
        "coverage",
        (
            CoveragePoint(Place(dial=600e3), 600e3),
            CoveragePoint(Place(dial=1e6), 1e6),
            CoveragePoint(Place(mark="right dot"), 1.4e6),
        ),
        2e3,
        "oscillator",
        leader="signal",
        band="mw",
    )
