"""Sets with several bands: what belongs to a band, what bands share, and the switch in mid-job."""

import numpy as np

from aligner.engine.answers import Reading
from aligner.engine.asks import Aim, Point, Read, Touch
from aligner.engine.bench import Bench
from aligner.engine.history import Entry, History
from aligner.engine.ledger import ledger_of, spot_of
from aligner.engine.run import survey
from aligner.engine.shared import room_of, spared
from aligner.estimate.events import Spot
from aligner.estimate.frame import frame_of
from aligner.procedure.reader import parse_procedure
from aligner.procedure.sharing import advice

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


def _long_first() -> str:
    """The same with long wave, which has a trimmer of its own, before medium wave."""
    head, medium, rest = TWO_BANDS.partition('[[step]]\nid = "coverage-mw"')
    medium_step, long_mark, tail = rest.partition('[[step]]\nid = "coverage-lw"')
    long_step, final_mark, final = tail.partition('[[step]]\nid = "final-mw"')
    return head + long_mark + long_step + medium + medium_step + final_mark + final


LONG_FIRST = parse_procedure(_long_first(), "long-first.toml")


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
    assert spared(bench, bench.belief("lw")) == {"gang-trimmer"}
    assert spared(bench, bench.belief("mw")) == frozenset()


def test_an_adjuster_of_one_band_does_not_disturb_the_other() -> None:
    own = touched("coverage-lw", "core-lw", "oscillator-lw")
    shared = touched("coverage-lw", "gang-trimmer", "oscillator-lw")
    mine = [Bench(PROCEDURE, ledger_of(PROCEDURE, history)).events("mw") for history in (own, shared)]
    assert [len(events) for events in mine] == [0, 1]


def job_on(virtual_hz: dict[str, dict[str, float]], steps: tuple[str, ...]) -> History:
    """Readings of coverage steps at both ends, oscillator frequencies [Hz] by step and point."""
    history = History()
    for step in steps:
        for point, hz in virtual_hz[step].items():
            at = Point(end="low") if point == "low" else Point(mark="right dot")
            read = Read(
                id=len(history.entries) + 1,
                step=step,
                text="",
                quantity="frequency",
                circuit=f"oscillator-{step[-2:]}",
                point=at,
            )
            entry = Entry(seq=len(history.entries) + 1, at_s=1.0, version="0", ask=read, answer=Reading(hz))
            history = history.with_entry(entry)
    return history


RIGHT_MW = {"low": 525e3 + 455e3, "high": 1500e3 + 455e3}


def test_a_band_with_a_trimmer_of_its_own_turns_the_shared_one_no_further_than_the_other_bands_tolerance() -> None:
    history = job_on({"coverage-mw": RIGHT_MW}, ("coverage-mw",))
    bench = Bench(PROCEDURE, ledger_of(PROCEDURE, history))
    (down, up), held = room_of(bench, bench.frame("lw"), "gang-trimmer")
    assert held == ("coverage-mw",)
    assert -0.05 < down < 0.0 < up < 0.05
    # Within that room the medium wave stays within its tolerance, by its own belief.
    belief = bench.belief("mw")
    circuit = belief.circuits["oscillator-mw"]
    unit = (1620 / 525 - 525 / 1620) / (280 / 150 - 150 / 280)  # of long wave's mid-band capacitance in medium wave's
    z = np.array([525e3, 1500e3])
    for shift in (down, up):
        moved = circuit.hz(z, shift * unit * circuit.push(belief.frame.handles["gang-trimmer"].setting))
        assert np.max(np.abs(moved - z - 455e3)) <= 5e3


def test_a_shared_adjuster_is_free_where_the_other_band_was_not_begun_or_has_another() -> None:
    fresh = Bench(PROCEDURE, ledger_of(PROCEDURE, History()))
    assert room_of(fresh, fresh.frame("lw"), "gang-trimmer") == ((-np.inf, np.inf), ())
    begun = job_on({"coverage-lw": {"low": 605e3, "high": 725e3}}, ("coverage-lw",))
    bench = Bench(PROCEDURE, ledger_of(PROCEDURE, begun))
    assert room_of(bench, bench.frame("mw"), "gang-trimmer") == ((-np.inf, np.inf), ())


def test_what_a_later_band_cannot_do_without_is_left_to_it() -> None:
    bench = Bench(LONG_FIRST, ledger_of(LONG_FIRST, History()))
    assert spared(bench, bench.belief("lw")) == {"gang-trimmer"}
    assert spared(bench, bench.belief("mw")) == frozenset()


def test_an_order_that_makes_work_be_done_again_is_told_with_the_better_one() -> None:
    assert advice(PROCEDURE) == ()
    (told,) = advice(LONG_FIRST)
    assert told == (
        "coverage-lw will be done again: gang-trimmer is set later, in coverage-mw, which has no other adjuster of the "
        "kind; put coverage-mw first"
    )


def test_a_shared_adjuster_that_two_bands_lean_on_is_told() -> None:
    own = TWO_BANDS.index('[[circuit.adjuster]]\nid = "trimmer-lw"')
    without = TWO_BANDS[:own] + TWO_BANDS[TWO_BANDS.index("[[adjuster]]") :]
    (told,) = advice(parse_procedure(without, "without.toml"))
    assert told.startswith(
        "gang-trimmer alone serves coverage-mw and coverage-lw: it can be right for one of them only"
    )
