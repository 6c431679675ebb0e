"""The image: how much weaker it is than the signal, and what it says when it is not."""

import pytest

from aligner.engine.answers import Answer, Cannot, Reading
from aligner.engine.asks import Ask, Read, Sweep
from tests.engine.strip_bench import COVERAGE, StripBench, procedure_of

IMAGE = """\
[[step]]
id = "image"
kind = "image"
points = ["90 MHz", "106 MHz"]
"""
SWEEP = """\
[[step]]
id = "sweep"
kind = "if-sweep"
span = ["10.3 MHz", "11.1 MHz"]
tolerance = "10 kHz"
"""


class Levels:
    """The wanted signal at -20 dB, and its image so much below."""

    def __init__(self, down_db: float) -> None:
        self.down_db = down_db

    def __call__(self, ask: Ask) -> Answer | None:
        if not (isinstance(ask, Read) and ask.quantity == "level" and ask.generator is not None):
            return None
        return Reading(-20.0 if ask.generator.hz == ask.point.received else -20.0 - self.down_db)


def stands(bench: StripBench) -> list[tuple[float | None, float]]:
    return [
        (ask.point.received, ask.generator.hz)
        for ask in bench.asks
        if isinstance(ask, Read) and ask.step == "image" and ask.generator is not None
    ]


def test_the_image_is_read_two_intermediate_frequencies_away_with_the_set_left_as_it_is() -> None:
    """90 and 106 MHz with 10.7 MHz and the oscillator above: 111.4 and 127.4 MHz by hand."""
    bench = StripBench(procedure_of(IMAGE), own=Levels(30.0))
    assert bench.run().aligned
    assert stands(bench) == [(90e6, 90e6), (90e6, 111.4e6), (106e6, 106e6), (106e6, 127.4e6)]
    assert "its output the same" in bench.asks[1].text


def test_the_image_goes_with_the_intermediate_frequency_that_was_found() -> None:
    bench = StripBench(procedure_of(SWEEP, IMAGE), own=Levels(30.0))
    assert bench.run().aligned
    assert stands(bench)[1][1] == pytest.approx(90e6 + 2 * 10.73e6, abs=6e3)


def test_what_the_q_of_the_circuits_promises_is_told_beside_what_was_found() -> None:
    """One circuit of Q 60 at 106 MHz, image 127.4 MHz: rho = .36984, 20 lg sqrt(1 + (60 rho)^2) = 26.93 dB by hand."""
    bench = StripBench(procedure_of(IMAGE), own=Levels(25.0))
    bench.run()
    report = bench.step("image")
    assert "25.0 dB down" in report.why
    assert report.error == pytest.approx(25.0)
    assert "promise 27 dB" in bench.asks[3].why


def test_less_than_was_asked_for_is_at_limit() -> None:
    bench = StripBench(procedure_of(IMAGE + 'rejection = "25 dB"\n'), own=Levels(21.0))
    bench.run()
    report = bench.step("image")
    assert (report.state, report.tolerance) == ("at-limit", 25.0)
    assert "25 dB wanted" in report.why


def test_an_image_as_strong_as_the_signal_means_the_wrong_side() -> None:
    bench = StripBench(procedure_of(IMAGE), own=Levels(-15.0))
    bench.run()
    report = bench.step("image")
    assert report.state == "at-limit"
    assert "the wrong one was taken, and it stands below the signal; take the higher of the two" in report.why


def test_no_image_at_all_is_as_good_as_can_be() -> None:
    def silent(ask: Ask) -> Answer | None:
        answer = Levels(60.0)(ask)
        return Cannot("no-reading") if isinstance(answer, Reading) and answer.value < -50.0 else answer

    bench = StripBench(procedure_of(IMAGE), own=silent)
    assert bench.run().aligned
    assert bench.step("image").why == "no image is there to be heard"


def test_a_wanted_signal_that_cannot_be_read_is_at_limit() -> None:
    def silent(ask: Ask) -> Answer | None:
        return Cannot("no-reading") if isinstance(ask, Read) else None

    bench = StripBench(procedure_of(IMAGE), own=silent)
    bench.run()
    assert bench.step("image").state == "at-limit"


def test_a_very_weak_image_is_not_questioned() -> None:
    bench = StripBench(procedure_of(IMAGE), own=Levels(70.0))
    assert bench.run().aligned
    assert not any(entry.doubt for entry in bench.history.entries)


def test_an_image_read_before_the_oscillator_was_moved_is_read_again() -> None:
    bench = StripBench(procedure_of(COVERAGE, IMAGE, SWEEP), own=Levels(30.0))
    bench.run(until=lambda ask: isinstance(ask, Sweep))
    assert bench.step("image").state == "held"
    bench.say(bench.answer(bench.known.ask or bench.asks[-1]))
    assert bench.run().aligned
    assert len(stands(bench)) == 8
