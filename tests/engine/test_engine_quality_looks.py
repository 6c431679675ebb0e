"""Levels before and after a touch tell the Q of a circuit read by its resonance, and so what a loss allows in hertz."""

import numpy as np
import pytest

from aligner.circuits.resonance import detuning_of_fall
from aligner.engine.answers import Cannot
from aligner.engine.asks import Ask, Read, Touch
from aligner.engine.bench import bench_of
from aligner.engine.quality_looks import ENOUGH
from aligner.estimate.belief import CircuitBelief
from tests.engine import ideal_set
from tests.engine.ideal_set import Conversation
from tests.small_sets import MW_PLACES, MW_POINTS, PADDED_MORE, THREE, circuit, coverage, gang_head, oscillator, read
from tests.small_sets import tracking as tracking_step

METER = '[meter]\nlaw = "log"\nresolution = "0.1 dB"\n'
FAULTS = {"oscillator": (0.04, -0.03, 0.0, 0.02), "antenna": (-0.08, 0.1, 0.0, 0.0)}


def _text(tolerance: str = "4 dB", by: str = '["resonance", "level"]', meter: str = METER) -> str:
    return (
        gang_head()
        + meter
        + oscillator(THREE, PADDED_MORE)
        + circuit("antenna")
        + coverage(MW_PLACES, "2 kHz")
        + tracking_step(MW_POINTS, tolerance, by)
    )


def _is_level(ask: Ask) -> bool:
    return isinstance(ask, Read) and ask.quantity == "level"


def _levels(talk: Conversation) -> list[Ask]:
    return [e.ask for e in talk.history.entries if e.ask is not None and _is_level(e.ask)]


def _antenna(talk: Conversation) -> CircuitBelief:
    return bench_of(talk.procedure, talk.history).belief("").circuits["antenna"]


@pytest.mark.parametrize("q", [45.0, 80.0])
def test_the_levels_at_the_place_of_a_touch_tell_q_and_the_tolerance_goes_by_it(
    q: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ideal_set, "Q", q)
    # Not farther off: the ideal set's core carries no capacitance along, which is a little unusual.
    talk = Conversation(read(_text()), {**FAULTS, "antenna": (-0.05, 0.06, 0.0, 0.0)})
    before = talk.work_until(_is_level)
    talk.honest()
    touch = talk.ask
    assert isinstance(before, Read)
    assert isinstance(touch, Touch)
    assert touch.point == before.point
    talk.honest()
    after = talk.ask
    assert isinstance(after, Read)
    assert (after.quantity, after.point) == ("level", before.point)
    talk.honest()
    found, sd = _antenna(talk).quality
    assert found == pytest.approx(q, rel=0.1)
    assert sd < 0.1
    talk.work_to_the_end()
    report = talk.report("antenna")
    allowed_hz = [float(detuning_of_fall(4.0)) * hz / (2.0 * q) for hz in (600e3, 1000e3, 1400e3)]
    assert min(abs(report.tolerance / hz - 1.0) for hz in allowed_hz if report.tolerance) < 0.1
    assert len(_levels(talk)) == 2


def test_a_q_that_the_procedure_tells_is_the_kinds_and_no_less_worth_a_look_in_a_set() -> None:
    told = read(_text().replace('id = "antenna"\nrole = "signal"', 'id = "antenna"\nrole = "signal"\nq = 60', 1))
    assert told.circuit("antenna").q == 60.0
    known, usual = (_antenna(Conversation(procedure, FAULTS)).quality[1] for procedure in (told, read(_text())))
    assert ENOUGH < known < usual


def test_where_no_level_can_be_read_a_usual_q_is_taken_and_none_is_asked_for_there_again() -> None:
    talk = Conversation(read(_text()), FAULTS)
    place = talk.work_until(_is_level)
    talk.say(Cannot("no-reading"))
    assert isinstance(talk.ask, Touch)
    talk.honest()
    assert not (_is_level(talk.ask) and talk.ask.point == getattr(place, "point", None))
    assert _antenna(talk).quality == (_antenna(talk).frame.q, _antenna(talk).frame.q_sd)


@pytest.mark.parametrize(
    "text",
    [
        _text("8 kHz"),
        _text(by='["resonance"]'),
        _text(meter='[meter]\nlaw = "unknown"\n'),
    ],
    ids=["tolerance in hertz", "a bench that reads no levels", "a meter of unknown law"],
)
def test_no_level_is_asked_for_where_it_tells_nothing_that_counts(text: str) -> None:
    talk = Conversation(read(text), FAULTS)
    talk.work_to_the_end()
    assert not _levels(talk)


def test_a_circuit_that_hardly_has_to_move_is_asked_for_no_level() -> None:
    talk = Conversation(read(_text()), {"oscillator": FAULTS["oscillator"], "antenna": (-0.006, 0.004, 0.0, 0.0)})
    talk.work_to_the_end()
    assert not _levels(talk)
    assert np.isfinite(talk.report("antenna").error or 0.0)
