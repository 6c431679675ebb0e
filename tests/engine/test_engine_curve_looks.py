"""Looks at the level where nothing is peaked, and the last touches that they lead to."""

import pytest

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Peak, Read
from aligner.engine.ledger import ledger_of
from aligner.estimate.events import Looked
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM, MW, read

FAULTS = {"oscillator": (0.06, -0.05, 0.0, 0.0), "antenna": (-0.05, 0.06, 0.0, 0.0)}
BY_LEVEL = FM.replace('["resonance", "level"]', '["level"]')


def _levels(talk: Conversation) -> list[tuple[float, int]]:
    """The generator's frequency of every level read, and how many peaks and touches came before it."""
    found, before = [], 0
    for entry in talk.history.entries:
        if isinstance(entry.ask, Peak):
            before += 1
        if isinstance(entry.ask, Read) and entry.ask.quantity == "level" and isinstance(entry.answer, Reading):
            assert entry.ask.generator is not None
            found.append((entry.ask.generator.hz, before))
    return found


def test_the_ends_of_the_band_are_looked_at_after_both_adjusters_were_peaked() -> None:
    talk = Conversation(read(BY_LEVEL), FAULTS)
    talk.work_to_the_end()
    looked = _levels(talk)
    assert {87.5e6, 108e6} <= {hz for hz, _ in looked}
    assert min(before for _, before in looked) >= 2
    assert talk.report("antenna").state == "held"


def test_looks_at_one_place_with_a_touch_between_join_below_one_unseen_peak() -> None:
    talk = Conversation(read(BY_LEVEL), FAULTS)
    talk.work_to_the_end()
    seen = [e for e in ledger_of(talk.procedure, talk.history).events if isinstance(e, Looked)]
    at_low = [e for e in seen if e.hz == 87.5e6]
    assert len(at_low) >= 2
    assert len({e.top for e in at_low}) == 1
    assert max(e.level_db for e in at_low) == 0.0


def test_between_the_peaks_a_look_goes_half_way_of_the_shaft_where_the_law_says_how_that_runs() -> None:
    stated = MW.replace('by = "gang"', 'by = "gang"\nlaw = "straight-capacitance"\nrange = ["12 pF", "365 pF"]')
    metered = stated.replace("[counter]", '[meter]\nlaw = "log"\n[counter]')
    talk = Conversation(read(metered.replace('["resonance", "level"]', '["level"]')), FAULTS)
    talk.work_to_the_end()
    middle_hz = (0.5 * (600e3**-2.0 + 1400e3**-2.0)) ** -0.5  # straight plates run as 1/f^2
    between = {hz for hz, _ in _levels(talk) if 600e3 < hz < 1400e3}
    assert between
    assert all(hz == pytest.approx(middle_hz, rel=0.01) for hz in between)


def test_without_decibels_nothing_is_looked_at() -> None:
    talk = Conversation(read(BY_LEVEL.replace('law = "log"', 'law = "unknown"')), FAULTS)
    talk.work_to_the_end()
    assert not _levels(talk)


def test_the_last_peak_lies_where_the_best_curve_crosses_nought_and_not_at_a_point_of_the_step() -> None:
    talk = Conversation(read(BY_LEVEL), FAULTS)
    talk.work_to_the_end()
    peaks = [e.ask for e in talk.history.entries if isinstance(e.ask, Peak)]
    points = {hz for step in talk.procedure.steps for hz in getattr(step, "points_hz", ())}
    assert peaks[-1].generator is not None
    assert peaks[-1].generator.hz not in points
    report = talk.report("antenna")
    assert report.error is not None
    assert report.tolerance is not None
    assert abs(report.error) < report.tolerance


def test_by_the_stages_own_voltage_the_ends_of_the_band_are_looked_at_before_and_after_a_touch() -> None:
    talk = Conversation(read(BY_LEVEL.replace('["level"]', '["stage-voltage"]')), FAULTS)
    talk.work_to_the_end()
    looked = _levels(talk)
    assert {87.5e6, 108e6} <= {hz for hz, _ in looked}
    seen = [e for e in ledger_of(talk.procedure, talk.history).events if isinstance(e, Looked)]
    assert len({e.seq for e in seen if e.hz == 108e6}) >= 2
    assert talk.report("antenna").state == "held"


def test_an_end_of_the_band_where_there_is_no_level_is_not_looked_at_again() -> None:
    talk = Conversation(read(BY_LEVEL.replace('["level"]', '["stage-voltage"]')), FAULTS)
    place = talk.work_until(lambda ask: isinstance(ask, Read) and ask.quantity == "level")
    talk.say(Cannot("no-reading"))
    talk.work_to_the_end()
    again = [e.ask for e in talk.history.entries if isinstance(e.ask, Read) and e.ask.quantity == "level"]
    assert [ask.generator for ask in again].count(place.generator if isinstance(place, Read) else None) == 1
