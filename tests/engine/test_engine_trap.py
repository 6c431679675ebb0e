"""A trap is set for the least level at its frequency."""

from aligner.engine.answers import Answer, Cannot, Reading, Undo
from aligner.engine.asks import Ask, Confirm, Peak, Read
from tests.engine.strip_bench import StripBench, procedure_of

TRAP = """\
[[step]]
id = "trap"
kind = "trap"
"""


def levels(before_db: float, least_db: float) -> "Trapped":
    return Trapped(before_db, least_db)


class Trapped:
    """The level before, and at the minimum."""

    def __init__(self, before_db: float, least_db: float) -> None:
        self.before_db = before_db
        self.least_db = least_db

    def __call__(self, ask: Ask) -> Answer | None:
        if isinstance(ask, Peak):
            return Reading(self.least_db, turns=-1.0)
        return Reading(self.before_db) if isinstance(ask, Read) else None


def test_a_strong_signal_at_its_frequency_then_the_minimum() -> None:
    bench = StripBench(procedure_of(TRAP), own=levels(-30.0, -58.0))
    assert bench.run().aligned
    assert [type(ask) for ask in bench.asks] == [Confirm, Read, Peak]
    peak = bench.asks[-1]
    assert isinstance(peak, Peak)
    assert peak.generator is not None
    assert (peak.adjuster, peak.find, peak.generator.hz, peak.generator.into) == ("trap-core", "min", 10.7e6, "aerial")
    assert bench.step("trap").why == "level -30.0 dB before and -58.0 dB at the minimum, 28.0 dB less"


def test_a_frequency_of_its_own_is_taken_for_a_whistle_filter() -> None:
    bench = StripBench(procedure_of(TRAP + 'frequency = "19 kHz"\n'), own=levels(-30.0, -58.0))
    bench.run()
    assert "Generator to 19 kHz" in bench.asks[0].text


def test_less_than_was_asked_for_is_at_limit() -> None:
    bench = StripBench(procedure_of(TRAP + 'rejection = "20 dB"\n'), own=levels(-30.0, -35.0))
    bench.run()
    assert bench.step("trap").state == "at-limit"
    assert "5.0 dB less, 20 dB wanted" in bench.step("trap").why


def test_no_minimum_within_its_travel_is_a_fault() -> None:
    def stuck(ask: Ask) -> Answer | None:
        return Cannot("end-of-travel") if isinstance(ask, Peak) else None

    bench = StripBench(procedure_of(TRAP), own=stuck)
    bench.run()
    assert bench.step("trap").state == "at-limit"
    assert "trap-core has no minimum within its travel: a fault" in bench.step("trap").why


def test_nothing_to_hear_is_nothing_to_trap() -> None:
    bench = StripBench(procedure_of(TRAP))
    bench.run(until=lambda ask: isinstance(ask, Read))
    bench.say(Cannot("no-reading"))
    assert bench.step("trap").state == "at-limit"


def test_a_minimum_taken_back_is_asked_for_again() -> None:
    bench = StripBench(procedure_of(TRAP), own=levels(-30.0, -58.0))
    bench.run()
    bench.say(Undo())
    assert isinstance(bench.known.ask, Peak)
    assert bench.run().aligned
