import itertools
import threading

import pytest

from aligner.engine.capture import KEEP_S, Sample
from aligner.readings.lines import Want
from aligner.readings.rate import per_second, silence_limit_s, steady
from aligner.readings.source import KEEP_AT_LEAST, KEEP_AT_MOST, Board, Live
from aligner.readings.stream import Stream

LIVE = Live(1.0, "1", 0.0, 10.0, stable=False, connected=True)


def samples(count: int, spacing_s: float, start_s: float = 0.0) -> list[Sample]:
    return [Sample(start_s + spacing_s * index, float(index)) for index in range(count)]


def test_the_reader_is_woken_once_until_it_has_looked() -> None:
    wakes: list[int] = []
    board = Board(lambda: wakes.append(1))
    for _ in range(100):
        board.post(LIVE)
    assert len(wakes) == 1
    assert board.latest() == LIVE
    board.post(LIVE)
    assert len(wakes) == 2


def test_the_window_keeps_the_last_seconds_and_a_slow_counter_keeps_its_few_values() -> None:
    board = Board()
    board.post(LIVE, samples(300, 0.1))
    assert board.window()[0].at_s == pytest.approx(29.9 - KEEP_S)
    slow = Board()
    slow.post(LIVE, samples(20, 30.0))
    assert len(slow.window()) == KEEP_AT_LEAST


def test_in_a_flood_the_window_is_bounded_and_still_covers_its_seconds() -> None:
    board = Board()
    for second in range(12):
        board.post(LIVE, samples(5000, 1 / 5000, float(second)))
    window = board.window()
    assert len(window) <= KEEP_AT_MOST
    assert window[-1].at_s - window[0].at_s > 0.8 * KEEP_S
    assert window[-1].at_s == pytest.approx(12.0 - 1 / 5000)
    assert all(later.at_s > earlier.at_s for earlier, later in itertools.pairwise(window))


def test_many_threads_may_look_while_one_writes() -> None:
    board = Board()
    ending = threading.Event()

    def look() -> None:
        while not ending.is_set():
            board.latest()
            board.window()

    threads = [threading.Thread(target=look) for _ in range(3)]
    for thread in threads:
        thread.start()
    for place in range(2000):
        board.post(LIVE, samples(3, 0.001, place * 0.01))
    ending.set()
    for thread in threads:
        thread.join()
    assert board.window()[-1].at_s == pytest.approx(19.992)


def test_the_rate_is_that_of_the_intervals() -> None:
    assert per_second([]) == per_second([1.0]) == per_second([1.0, 1.0]) == 0.0
    assert per_second([0.0, 0.5, 1.0]) == pytest.approx(2.0)


def test_a_slow_counter_is_not_called_silent_before_three_of_its_own_intervals() -> None:
    assert silence_limit_s(10.0) == 3.0
    assert silence_limit_s(0.1) == pytest.approx(30.0)
    assert silence_limit_s(0.0) == 3.0


def test_steady_wants_enough_values_over_enough_time_within_two_steps() -> None:
    def run(values: list[float], spacing_s: float) -> bool:
        return steady([Sample(place * spacing_s, one) for place, one in enumerate(values)], 1.0)

    assert run([10.0, 11.0, 9.0, 10.0, 10.0, 11.0], 0.1)
    assert not run([10.0, 11.0, 9.0], 1.0)
    assert not run([10.0, 11.0, 10.0, 10.0], 0.1)
    assert not run([10.0, 11.0, 9.0, 10.0, 12.0, 11.0], 0.1)
    assert run([99.0, 10.0, 11.0, 9.0, 10.0, 10.0, 11.0], 0.1)


def feed(stream: Stream, *lines: bytes, start_s: float = 0.0, spacing_s: float = 0.1) -> Live:
    live = stream.opened(start_s).live
    for place, line in enumerate(lines):
        live = stream.lines([line], start_s + spacing_s * (place + 1)).live
    return live


def test_a_stream_shows_value_rate_stillness_and_resolution() -> None:
    live = feed(Stream(Want()), *[b"F=383594 Hz"] * 8)
    assert (live.value, live.raw, live.connected, live.message) == (383594.0, "F=383594 Hz", True, "")
    assert live.rate_hz == pytest.approx(10.0)
    assert live.stable
    assert live.resolution == 1.0
    assert live.at_s == pytest.approx(0.8)


def test_a_line_between_that_is_not_understood_keeps_the_value_and_says_why() -> None:
    live = feed(Stream(Want()), b"383594", b"Gate open")
    assert (live.value, live.raw, live.at_s) == (383594.0, "Gate open", 0.1)
    assert live.message == "no number on the line"


def test_an_instrument_that_says_it_has_no_reading_takes_the_value_away() -> None:
    live = feed(Stream(Want()), *[b"383594"] * 8, b"9.91E37")
    assert live.value is None
    assert not live.stable


def test_silence_takes_the_value_away_and_says_for_how_long() -> None:
    stream = Stream(Want())
    feed(stream, *[b"383594"] * 8)
    assert stream.quiet(3.0) is None
    news = stream.quiet(4.0)
    assert news is not None
    assert (news.live.value, news.live.rate_hz, news.live.stable, news.live.connected) == (None, 0.0, False, True)
    assert news.live.message == "no reading for 3 s: nothing is received"
    assert stream.quiet(4.1) is None


def test_lines_that_are_never_understood_are_named_as_the_cause_of_the_silence() -> None:
    stream = Stream(Want())
    feed(stream, *[b"\xf8\xfe\x80"] * 40)
    news = stream.quiet(4.1)
    assert news is not None
    assert news.live.message == "no reading for 4 s: 1 of 3 characters are no text: noise, or another baud rate"


def test_lines_of_one_chunk_get_times_that_rise() -> None:
    stream = Stream(Want())
    stream.opened(0.0)
    news = stream.lines([b"1", b"2", b"3"], 1.0)
    times = [sample.at_s for sample in news.samples]
    assert times[0] == 1.0
    assert times == sorted(set(times))
    assert [sample.value for sample in news.samples] == [1.0, 2.0, 3.0]
