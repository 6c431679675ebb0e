"""Sets with several bands: what belongs to a band, what bands share, and the switch in mid-job."""

from aligner.engine.answers import Reading
from aligner.engine.asks import Aim, Point, Touch
from aligner.engine.bench import Bench
from aligner.engine.history import Entry, History
from aligner.engine.ledger import ledger_of, spot_of
from aligner.engine.run import survey
from aligner.engine.touches import settled_elsewhere
from aligner.estimate.events import Spot
from aligner.estimate.frame import frame_of
from aligner.procedure.reader import parse_procedure

TWO_BANDS = """\
format = 1
title = "Two bands on one gang"
[set]
intermediate = "455 kHz"
oscillator = "above"
[[band]]
id = "mw"
range = ["525 kHz", "1620 kHz"]
[[band]]
id = "lw"
range = ["150 kHz", "280 kHz"]
[tuning]
by = "gang"
[counter]
shows = "oscillator"
[[circuit]]
id = "oscillator-mw"
role = "oscillator"
bands = ["mw"]
[[circuit.adjuster]]
id = "core-mw"
does = "inductance"
kind = "ferrite-core"
[[circuit]]
id = "oscillator-lw"
role = "oscillator"
bands = ["lw"]
[[circuit.adjuster]]
id = "core-lw"
does = "inductance"
kind = "ferrite-core"
[[circuit.adjuster]]
id = "trimmer-lw"
does = "parallel"
kind = "rotary-trimmer"
[[adjuster]]
id = "gang-trimmer"
circuits = ["oscillator-mw", "oscillator-lw"]
does = "parallel"
kind = "rotary-trimmer"
[[step]]
id = "coverage-mw"
kind = "coverage"
band = "mw"
points = [{ end = "low" }, { mark = "right dot", received = "1500 kHz" }]
tolerance = "5 kHz"
[[step]]
id = "coverage-lw"
kind = "coverage"
band = "lw"
points = [{ end = "low" }, { mark = "right dot", received = "270 kHz" }]
tolerance = "3 kHz"
[[step]]
id = "final-mw"
kind = "read-back"
band = "mw"
limits = [{ point = "600 kHz", quantity = "frequency", within = "9 kHz" }]
"""
PROCEDURE = parse_procedure(TWO_BANDS, "two-bands.toml")


def touched(step: str, adjuster: str, circuit: str) -> History:
    turned = Touch(
        id=1,
        step=step,
        text="",
        adjuster=adjuster,
        circuit=circuit,
        point=Point(end="low"),
        aim=Aim("frequency", 980e3, 1e3),
    )
    return History().with_entry(Entry(seq=1, at_s=1.0, version="0", ask=turned, answer=Reading(980e3)))


def test_every_ask_says_how_the_band_switch_stands() -> None:
    ask = survey(PROCEDURE, History()).ask
    assert ask is not None
    assert ask.text.startswith("Band switch to \u201cmw\u201d. ")


def test_a_set_with_one_band_has_no_band_switch() -> None:
    text = TWO_BANDS.replace('[[band]]\nid = "lw"\nrange = ["150 kHz", "280 kHz"]\n', "")
    one = text[: text.index('[[circuit]]\nid = "oscillator-lw"')] + text[text.index('[[step]]\nid = "coverage-mw"') :]
    one = one[: one.index('[[step]]\nid = "coverage-lw"')]
    ask = survey(parse_procedure(one, "one-band.toml"), History()).ask
    assert ask is not None
    assert "Band switch" not in ask.text


def test_the_same_end_and_mark_mean_another_frequency_on_another_band() -> None:
    assert spot_of(PROCEDURE, "coverage-mw", Point(end="low")) == Spot(525e3, "dial")
    assert spot_of(PROCEDURE, "coverage-lw", Point(end="low")) == Spot(150e3, "dial")
    assert spot_of(PROCEDURE, "coverage-mw", Point(mark="right dot")) == Spot(1500e3, "dial")
    assert spot_of(PROCEDURE, "coverage-lw", Point(mark="right dot")) == Spot(270e3, "dial")


def test_the_frame_of_a_band_holds_only_what_turns_something_there() -> None:
    frame = frame_of(PROCEDURE, "lw", 455e3)
    assert set(frame.handles) == {"core-lw", "trimmer-lw", "gang-trimmer"}
    assert frame.handles["gang-trimmer"].adjuster.circuits == ("oscillator-lw",)


def test_a_shared_adjuster_that_another_band_has_set_is_spared() -> None:
    history = touched("coverage-mw", "gang-trimmer", "oscillator-mw")
    bench = Bench(PROCEDURE, ledger_of(PROCEDURE, history))
    assert settled_elsewhere(bench, bench.belief("lw")) == {"gang-trimmer"}
    assert settled_elsewhere(bench, bench.belief("mw")) == frozenset()


def test_an_adjuster_of_one_band_does_not_disturb_the_other() -> None:
    own = touched("coverage-lw", "core-lw", "oscillator-lw")
    shared = touched("coverage-lw", "gang-trimmer", "oscillator-lw")
    mine = [Bench(PROCEDURE, ledger_of(PROCEDURE, history)).events("mw") for history in (own, shared)]
    assert [len(events) for events in mine] == [0, 1]
