"""Peaking the cans of an IF strip, from the last to the first."""

from aligner.engine.answers import Answer, Cannot, Reading, Undo
from aligner.engine.asks import Ask, Confirm, Peak, Read, Sweep
from aligner.engine.survey import Survey
from tests.engine.strip_bench import StripBench, procedure_of

PEAK = """\
[[step]]
id = "peak"
kind = "if-peak"
cans = ["if-1", "if-2"]
clamp = "minus 3 V through 10 kilohms on the AGC line"
"""
SWAMPED = PEAK + 'swamped = ["if-2"]\nswamp = "4.7 kilohms in series with 10 nF"\n'
SWEEP = """\
[[step]]
id = "sweep"
kind = "if-sweep"
span = ["10.3 MHz", "11.1 MHz"]
tolerance = "10 kHz"
"""
CAUTION = (
    "Switch off, unplug, discharge through a resistor, prove dead with a meter, {}, then power. Local codes and "
    "licensed practice come first."
)


def rising(turns: float = 0.5, **odd: Answer) -> "Rising":
    return Rising(turns, odd)


class Rising:
    """Each peak raises the level by 2 dB, but for the answers that are given by adjuster."""

    def __init__(self, turns: float, odd: dict[str, Answer]) -> None:
        self.level = -40.0
        self.turns = turns
        self.odd = {name.replace("_", "-"): answer for name, answer in odd.items()}

    def __call__(self, ask: Ask) -> Answer | None:
        if isinstance(ask, Peak):
            if ask.adjuster in self.odd:
                return self.odd.pop(ask.adjuster)
            self.level += 2.0
            return Reading(self.level, turns=self.turns)
        return Reading(self.level) if isinstance(ask, Read) and ask.quantity == "level" else None


def peaked(bench: StripBench) -> list[str]:
    return [ask.adjuster for ask in bench.asks if isinstance(ask, Peak)]


def run(text: str, own: Rising) -> tuple[StripBench, Survey]:
    bench = StripBench(procedure_of(text), own=own)
    return bench, bench.run()


def test_the_cans_are_peaked_from_the_last_to_the_first_and_the_level_is_read_before_and_after() -> None:
    bench, known = run(PEAK, rising())
    assert known.aligned
    assert peaked(bench) == ["if-2-secondary", "if-2-primary", "if-1-core"]
    kinds = [type(ask) for ask in bench.asks]
    assert kinds == [Confirm, Confirm, Read, Peak, Peak, Peak, Read]
    assert bench.step("peak").why == "3 peaked at 10.7 MHz, level -40.0 dB before and -34.0 dB after"


def test_a_weak_signal_and_the_agc_come_first_with_the_whole_caution() -> None:
    bench, _ = run(PEAK, rising())
    weak, clamp = (ask.text for ask in bench.asks[:2])
    assert "so weak that neither AGC nor limiter acts" in weak
    assert clamp == "Hold the AGC: minus 3 V through 10 kilohms on the AGC line. " + CAUTION.format("connect")


def test_every_peak_is_on_the_nominal_frequency_into_the_mixer_and_tells_of_two_peaks() -> None:
    bench, _ = run(PEAK, rising())
    for ask in bench.asks:
        if isinstance(ask, Peak):
            assert ask.generator is not None
            assert (ask.generator.hz, ask.generator.into, ask.quantity, ask.find) == (10.7e6, "mixer", "level", "max")
            assert "A core has two peaks" in ask.text


def test_of_a_swamped_can_the_other_winding_is_loaded_and_nothing_is_left_on() -> None:
    bench, known = run(SWAMPED, rising())
    assert known.aligned
    said = [
        ask.text if isinstance(ask, Confirm) else ask.adjuster for ask in bench.asks if isinstance(ask, Confirm | Peak)
    ]
    load = "4.7 kilohms in series with 10 nF"
    assert said[2:] == [
        f"Clip {load} across the winding of if-2-primary. " + CAUTION.format("connect"),
        "if-2-secondary",
        f"Take the {load} off the winding of if-2-primary and clip it across the winding of if-2-secondary. "
        + CAUTION.format("connect"),
        "if-2-primary",
        f"Take the {load} off the winding of if-2-secondary. " + CAUTION.format("disconnect"),
        "if-1-core",
    ]


def test_of_a_swamped_first_can_the_resistor_is_off_before_the_last_level_is_read() -> None:
    bench, known = run(SWAMPED.replace('["if-1", "if-2"]', '["if-2"]'), rising())
    assert known.aligned
    assert [type(ask) for ask in bench.asks[-3:]] == [Peak, Confirm, Read]
    assert bench.asks[-2].text.startswith("Take the 4.7 kilohms")


def test_a_peak_that_lowers_the_level_is_looked_for_again_once() -> None:
    bench, known = run(PEAK, rising(if_1_core=Reading(-45.0)))
    assert peaked(bench) == ["if-2-secondary", "if-2-primary", "if-1-core", "if-1-core"]
    again = [ask for ask in bench.asks if isinstance(ask, Peak)][-1]
    assert "it fell by 9.0 dB: the core stands on the wrong one of its two peaks" in again.why
    assert known.aligned


def test_many_turns_are_asked_about_once_and_then_believed() -> None:
    bench, known = run(PEAK, rising(turns=3.5))
    assert peaked(bench) == ["if-2-secondary"] * 2 + ["if-2-primary"] * 2 + ["if-1-core"] * 2
    assert "3.5 turns are far for a can" in bench.asks[4].why
    assert known.aligned


def test_a_can_that_will_not_peak_is_a_fault_and_not_a_misalignment() -> None:
    bench, known = run(PEAK, rising(if_2_primary=Cannot("end-of-travel")))
    assert not known.aligned
    report = bench.step("peak")
    assert report.state == "at-limit"
    assert report.why.startswith("if-2-primary will not peak: a fault in the can")
    assert "not a misalignment" in report.why
    assert peaked(bench)[-1] == "if-1-core"


def test_a_strip_that_reads_less_than_before_is_not_held() -> None:
    own = rising()
    bench = StripBench(procedure_of(PEAK), own=own)
    bench.run(until=lambda ask: isinstance(ask, Read) and ask.why.startswith("What the strip gives with"))
    bench.say(Reading(-44.0))
    assert bench.step("peak").state == "at-limit"
    assert "peaking can only raise it" in bench.step("peak").why


def test_no_level_at_all_is_a_fault() -> None:
    bench = StripBench(procedure_of(PEAK))
    bench.run(until=lambda ask: isinstance(ask, Read))
    bench.say(Cannot("no-reading"))
    assert bench.step("peak").state == "at-limit"
    assert "a fault, not a misalignment" in bench.step("peak").why


def test_a_peak_taken_back_is_asked_for_again_and_disturbs_the_sweep() -> None:
    bench = StripBench(procedure_of(PEAK, SWEEP), own=rising())
    bench.run(until=lambda ask: isinstance(ask, Sweep))
    bench.say(Undo())  # the last level
    bench.say(Undo())  # the last peak
    ask = bench.known.ask
    assert isinstance(ask, Peak)
    assert ask.adjuster == "if-1-core"
    assert bench.run().aligned


def test_cans_are_peaked_anew_where_the_filters_prove_to_lie_elsewhere_and_the_strip_is_swept_again() -> None:
    bench = StripBench(procedure_of(PEAK + 'tolerance = "15 kHz"\n', SWEEP), own=rising())
    known = bench.run()
    assert known.aligned
    stands = [ask.generator.hz for ask in bench.asks if isinstance(ask, Peak) and ask.generator is not None]
    assert stands[:3] == [10.7e6] * 3
    assert len(stands) == 6
    assert all(abs(hz - 10.73e6) < 3e3 for hz in stands[3:])
    assert sum(isinstance(ask, Sweep) for ask in bench.asks) == 2


def test_cans_that_were_peaked_near_enough_are_left_alone() -> None:
    bench = StripBench(procedure_of(PEAK + 'tolerance = "50 kHz"\n', SWEEP), own=rising())
    assert bench.run().aligned
    assert len(peaked(bench)) == 3
