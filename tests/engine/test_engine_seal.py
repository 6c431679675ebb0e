"""Locking adjusters one after the other, and what moves by it."""

from dataclasses import dataclass, field

import pytest

from aligner.engine.answers import Answer, Cannot, Undo
from aligner.engine.asks import Ask, Confirm, Read, Touch
from tests.engine.strip_bench import COVERAGE, StripBench, procedure_of

READ_BACK = """\
[[step]]
id = "final"
kind = "read-back"
limits = [
  { volts = "2 V", received = "87.5 MHz", quantity = "frequency", within = "30 kHz" },
  { volts = "8 V", received = "108 MHz", quantity = "frequency", within = "30 kHz" },
]
"""
SEAL = """\
[[step]]
id = "seal"
kind = "seal"
locks = [
  { adjusters = ["oscillator-trimmer"] },
  { adjusters = ["oscillator-coil"], how = "two drops of wax between the turns" },
]
limits = [
  { volts = "2 V", received = "87.5 MHz", quantity = "frequency", within = "10 kHz" },
  { volts = "8 V", received = "108 MHz", quantity = "frequency", within = "10 kHz" },
]
"""


@dataclass
class Locking:
    """Each lock of the coil moves the oscillator by so much, as often as it is said."""

    bench: StripBench
    by_hz: list[float] = field(default_factory=list)

    def __call__(self, ask: Ask) -> Answer | None:
        if isinstance(ask, Confirm) and "oscillator-coil" in ask.text and self.by_hz:
            step = self.by_hz.pop(0)
            self.bench.oscillator_hz = {volts: hz + step for volts, hz in self.bench.oscillator_hz.items()}
        return None


def bench_of(*steps: str, by_hz: list[float] | None = None) -> StripBench:
    bench = StripBench(procedure_of(*steps))
    bench.own = Locking(bench, by_hz or [])
    return bench


def test_everything_is_read_before_the_first_lock_and_after_each() -> None:
    bench = bench_of(SEAL)
    assert bench.run().aligned
    assert [type(ask) for ask in bench.asks] == [Read, Read, Confirm, Read, Read, Confirm, Read, Read]
    locks = [ask.text for ask in bench.asks if isinstance(ask, Confirm)]
    assert locks[0].startswith("Lock oscillator-trimmer: a drop of wax")
    assert locks[1].startswith("Lock oscillator-coil: two drops of wax between the turns.")


def test_what_was_read_back_since_the_last_touch_need_not_be_read_again() -> None:
    bench = bench_of(COVERAGE, READ_BACK, SEAL)
    assert bench.run().aligned
    assert isinstance(next(ask for ask in bench.asks if ask.step == "seal"), Confirm)


def test_a_lock_that_moves_little_is_told_and_held() -> None:
    bench = bench_of(SEAL, by_hz=[4e3])
    assert bench.run().aligned
    report = bench.step("seal")
    assert report.error == pytest.approx(4e3)
    assert "oscillator-coil moved what is read at 87.5 MHz by 4.0 kHz" in report.why


def test_a_lock_that_moves_too_much_disturbs_what_rests_on_it_and_is_made_again() -> None:
    bench = bench_of(COVERAGE, READ_BACK, SEAL, by_hz=[60e3])
    known = bench.run()
    assert known.aligned
    asked = [(ask.step, type(ask)) for ask in bench.asks]
    after = asked[[n for n, ask in enumerate(bench.asks) if isinstance(ask, Confirm)][1] + 1 :]
    assert ("coverage", Touch) in after
    assert ("seal", Confirm) in after
    assert bench.oscillator_hz[2.0] == pytest.approx(98.2e6, abs=20e3)


def test_a_lock_that_moves_too_much_every_time_ends_at_limit() -> None:
    bench = bench_of(COVERAGE, SEAL, by_hz=[60e3] * 9)
    known = bench.run()
    assert not known.aligned
    report = bench.step("seal")
    assert report.state == "at-limit"
    assert "locking oscillator-coil moved what is read at" in report.why
    assert "10.0 kHz is allowed" in report.why


def test_a_set_that_cannot_be_read_is_locked_all_the_same_and_is_not_held() -> None:
    bench = bench_of(SEAL)

    def dumb(ask: Ask) -> Answer | None:
        return Cannot("no-reading") if isinstance(ask, Read) else None

    bench.own = dumb
    bench.run()
    report = bench.step("seal")
    assert (report.state, report.why) == (
        "at-limit",
        "2 locked, but nothing could be read after it: nobody knows what moved",
    )


def test_a_lock_taken_back_is_asked_for_again() -> None:
    bench = bench_of(SEAL)
    bench.run(until=lambda ask: isinstance(ask, Confirm))
    first = bench.known.ask
    assert first is not None
    bench.say(bench.answer(first))
    bench.say(Undo())
    again = bench.known.ask
    assert again is not None
    assert again.text == first.text
