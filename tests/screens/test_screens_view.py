"""What the guide shows, as text and numbers."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aligner.engine.answers import Cannot, Done, Note, Reading, SetAside, SwitchWay, Undo, WandSeen
from aligner.engine.asks import Aim, Amount
from aligner.engine.capture import Sample
from aligner.engine.gauge import gauge
from aligner.engine.history import History
from aligner.engine.survey import StepReport
from aligner.quantity import show
from aligner.screens.bar import PLAIN, bar, goal_bar
from aligner.screens.blocks import blocks, width
from aligner.screens.desk import Desk
from aligner.screens.expected import expected
from aligner.screens.glance import Glance, Paper, breadth, glance
from aligner.screens.log import fitted, log_lines
from aligner.screens.lower import lower_left
from aligner.screens.pages import sitting_pages, where_it_stands
from aligner.screens.paint import cut, entry_row, foot_row, head_row, room_for, without_the_lesser
from aligner.screens.sources import EVERYTHING
from aligner.screens.view import known_error, step_line, view
from aligner.screens.words import LESS, MARKS, MORE, STATES, amount_words, scale_for, turned_words
from tests.screens.scripted import (
    CAUTION,
    CONFIRM,
    CORE,
    COUNTER,
    PEAK,
    READ,
    TOUCH,
    ScriptedEngine,
    desk_with,
    procedure,
    told,
)


def live(desk: Desk, *values: float) -> Glance:
    desk.sample(tuple(Sample(10.0 + at, value) for at, value in enumerate(values)))
    return glance(desk, Paper(80))


def test_a_step_shows_its_state_by_mark_and_word() -> None:
    report = StepReport("antenna", "tracking", "Antenna follows", "disturbed", "", 75e3, 150e3, 1e3, "Hz")
    line = step_line(report, running=False)
    assert (line.mark, line.state, line.detail) == ("[!]", "disturbed", "at worst 75 kHz too high; 150 kHz allowed")
    low = StepReport("coverage", "coverage", "Oscillator", "to-do", "", -11.08e6, 50e3, None, "Hz")
    assert step_line(low, running=False).detail == "at worst 11.080 MHz too low; 50 kHz allowed"
    vague = StepReport("coverage", "coverage", "Oscillator", "to-do", "", 8.61e6, 200e3, 1.73e6, "Hz")
    assert known_error(vague, spread=True) == "at worst 8.61 MHz too high (95 %: ± 1.73 MHz); 200 kHz allowed"
    image = StepReport("image", "image", "Image", "held", "", 42.0, 40.0, None, "dB")
    assert step_line(image, running=False).detail == "42 dB; at least 40 dB wanted"
    assert len(set(MARKS.values())) == len(MARKS) == len(set(STATES.values()))


def test_the_log_says_what_became_of_each_entry() -> None:
    desk = desk_with(READ)
    told(
        desk, Reading(383_600.0), Undo(), Note("warm"), Reading(3.8e6), SetAside("no core"),
        asks=(READ, READ, TOUCH), doubts_from=1e6,
    )  # fmt: skip
    assert [str(line).strip() for line in log_lines(desk.history)] == [
        "1 oscillator at 2 V: 383.6 kHz  (taken back)",
        "2 undo",
        "3 note: warm",
        "4 oscillator at 2 V: 3.8 MHz  (questioned)",
        "5 step coverage set aside: no core",
    ]


def test_every_answer_has_words_in_the_log() -> None:
    desk = desk_with(PEAK)
    told(
        desk, Done(), Cannot("end-of-travel"), WandSeen("up", "down"), SwitchWay("level", "antenna"), Undo(moved=False),
        asks=(CONFIRM, PEAK, PEAK, PEAK, PEAK),
    )  # fmt: skip
    words = [line.text for line in log_lines(desk.history)]
    assert words[0] == "done: The counter is coupled loosely."
    assert words[1] == "antenna-coil at 91.1 MHz: end of travel"
    assert words[2].endswith("ferrite up, brass down")
    assert words[3:] == ["seen by level in antenna", "undo: nothing was turned"]


def test_the_end_says_what_is_not_held() -> None:
    engine = ScriptedEngine(())
    survey = engine.survey(procedure(), History())
    assert view(procedure(), History(), survey, None).ended.startswith("Aligned")


def test_a_reading_far_above_shows_itself_the_aim_the_arrow_and_the_hand() -> None:
    shown = live(desk_with(TOUCH, serves=COUNTER), 401_730.0)
    assert shown.state == "seek"
    assert [column.label for column in shown.columns] == ["NOW kHz", "", "AIM kHz"]
    assert shown.hand == "▼ Reading must fall: squeeze the turns together"
    assert max(len(row) for column in shown.columns for row in column.rows) <= 80
    assert len(shown.bar) in {79, 80}


@pytest.mark.parametrize("ascii_only", [False, True])
def test_the_arrow_stands_between_reading_and_aim_at_a_hundred_megahertz_too(ascii_only: bool) -> None:
    aim = Aim("resonance", 106.019e6, 20e3)
    desk = desk_with(msgspec.structs.replace(TOUCH, step="antenna", aim=aim), serves=frozenset({"resonance"}))
    desk.sample((Sample(10.0, 100.975e6),))
    shown = glance(desk, Paper(80, ascii_only))
    assert [column.label for column in shown.columns] == ["NOW MHz", "", "AIM MHz"]
    assert len(shown.columns[0].rows[0]) == 44  # as large as below a hundred
    assert breadth(shown.columns, shown.gap) <= 80


def test_inside_the_aim_the_words_say_stop() -> None:
    shown = live(desk_with(TOUCH, serves=COUNTER), 401_730.0, 385_625.0, 385_625.0)
    assert shown.state == "inside"
    assert shown.hand == "= STOP: inside the aim"
    assert shown.amount.startswith("Hold still")


def test_without_a_source_the_aim_is_what_is_large() -> None:
    shown = glance(desk_with(TOUCH), Paper(80))
    assert shown.state == "aim"
    assert shown.columns[0].label == "TURN UNTIL IT READS kHz"
    assert shown.hand == "▼ Reading must fall: squeeze the turns together"


def test_a_peak_keeps_the_best_seen_to_come_back_to() -> None:
    shown = live(desk_with(PEAK, serves=EVERYTHING), -20.0, -12.0, -14.0)
    assert shown.state == "peaking"
    assert [column.label for column in shown.columns] == ["NOW dB", "HIGHEST SO FAR dB"]
    assert shown.columns[1].rows == blocks("-12.0", "low")
    assert shown.hand == "Fallen 2.0 dB: turn back to the highest"
    assert live(desk_with(PEAK, serves=EVERYTHING), -20.0, -12.0, -14.0, -12.1).hand == (
        "= STOP at the highest: Enter takes it"
    )


def test_the_amount_left_shrinks_while_the_core_is_turned() -> None:
    desk = desk_with(CORE, serves=EVERYTHING, turnable=True)
    assert live(desk, -1.0).amount == "about 3/4 turn clockwise, give or take 1/8 turn, not turned yet"
    assert desk.stream is not None
    desk.stream.turned = 0.5
    assert live(desk, -3.0).amount == "turned 1/2 turn clockwise; still 1/4 turn clockwise"
    assert turned_words(-0.25) == "turned 1/4 turn anticlockwise"
    desk.stream.turned = 0.74
    assert live(desk, -5.9).amount == "turned 3/4 turn clockwise"


def test_turns_too_few_to_be_counted_are_said_as_a_person_would() -> None:
    assert turned_words(0.01) == "turned less than 1/16 turn clockwise"
    assert turned_words(0.0) == "not turned yet"
    assert amount_words(Amount(-0.03, "turn", 0.06)) == "less than 1/8 turn anticlockwise"
    desk = desk_with(CORE)
    told(desk, Reading(-6.0, 0.004), Reading(-6.0, 0.0), Reading(-6.0, 0.25), asks=(CORE,) * 4)
    assert desk.seen is not None
    assert [str(line).split(": ")[1] for line in desk.seen.log] == [
        "-6 dB, less than 1/8 turn clockwise", "-6 dB, not turned", "-6 dB, 1/4 turn clockwise",
    ]  # fmt: skip


@pytest.mark.parametrize(("turns", "words"), [(-3.62, "3 5/8 turns anticlockwise"), (2.5, "2 1/2 turns clockwise")])
def test_the_log_writes_turns_as_an_ask_does(turns: float, words: str) -> None:
    desk = desk_with(CORE)
    told(desk, Reading(-6.0, turns), asks=(CORE,) * 2)
    assert desk.seen is not None
    assert str(desk.seen.log[0]).endswith(f"-6 dB, {words}")


def test_plain_terminals_get_plain_characters_only() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    desk.sample((Sample(10.0, 401_730.0),))
    shown = glance(desk, Paper(80, ascii_only=True))
    drawn = "".join(row for column in shown.columns for row in column.rows) + shown.bar + shown.hand
    assert drawn.replace("±", "").isascii()


@pytest.mark.parametrize("columns", [20, 40, 80, 120, 200])
def test_no_row_runs_over_the_window(columns: int) -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    room = room_for(desk, columns, 24)
    rows = [*room.ask.split("\n"), *room.why.split("\n"), head_row(desk, columns, "keyboard", 24)]
    rows += [entry_row(desk, columns), foot_row(desk, columns), *str(lower_left(desk, 8, columns)).split("\n")[1:]]
    assert max(len(row) for row in rows) <= columns


def test_a_small_window_says_so() -> None:
    assert head_row(desk_with(READ), 60, "keyboard", 20).startswith("Window 60x20: 80x24 shows all")


def test_the_figures_have_the_same_height_and_their_stated_width() -> None:
    assert len(blocks("0123456789+-./?")) == 5
    assert len(blocks("0123456789", "low")) == 3
    for size in ("tall", "low"):
        assert {len(row) for row in blocks("385.62", size)} == {width("385.62", size)}
    assert blocks("8", "tall", ascii_only=True)[0] == "######"


def test_each_figure_looks_different() -> None:
    for size in ("tall", "low"):
        assert len({blocks(mark, size) for mark in "0123456789-+/?."}) == 15


@given(st.floats(-1e9, 1e9), st.integers(21, 200))
def test_the_bar_is_as_long_as_asked_and_full_only_inside(value: float, columns: int) -> None:
    shown = gauge(TOUCH, value, 400_000.0)
    assert not hasattr(shown, "nothing")
    drawn = bar(shown, columns, PLAIN)  # type: ignore[arg-type]
    assert len(drawn) == 2 * ((columns - 1) // 2) + 1
    inside = abs(value - TOUCH.aim.value) <= TOUCH.aim.within
    assert ("." not in drawn) == inside


def test_the_bar_of_a_peak_fills_towards_what_is_next() -> None:
    assert goal_bar(0.5, 21, PLAIN) == "#" * 10 + "." * 10 + "|"
    assert goal_bar(0.0, 5, PLAIN) == "....|"
    assert goal_bar(1.0, 5, PLAIN) == "####|"


def test_the_unit_on_the_screen_stays_while_the_reading_moves() -> None:
    scale = scale_for("Hz", 385_620.0, 10.0)
    assert (scale.figures(385_620.0), scale.figures(4_000_000.0), scale.unit) == ("385.62", "4000.00", "kHz")
    assert scale_for("dB", -12.0, 0.1).figures(-0.01) == "0.0"


@pytest.mark.parametrize("hz", [368_885.0, 368_895.0, 98_412_345.0, 420_395.0])
def test_the_figures_drawn_large_are_rounded_as_the_log_rounds(hz: float) -> None:
    scale = scale_for("Hz", hz, 10.0)
    assert f"{scale.figures(hz)} {scale.unit}" == show(hz, "Hz", 10.0)


def test_what_a_reading_will_be_comes_from_the_procedure() -> None:
    known = expected(procedure(), READ)
    assert known is not None
    # 87.5 MHz + 10.7 MHz through a prescaler of 256 (common practice, no source): 383.594 kHz on the counter.
    assert known == pytest.approx(383_594.0, abs=1.0)
    assert expected(procedure(), PEAK) is None


def test_every_kind_of_adjuster_has_words_for_more_and_less() -> None:
    assert set(MORE) == set(LESS)
    assert all(MORE[kind] != LESS[kind] for kind in MORE)


def test_a_later_sitting_shows_each_caution_and_where_the_job_stands() -> None:
    desk = desk_with(TOUCH)
    told(desk, Reading(383_600.0), asks=(READ, TOUCH))
    assert desk.survey is not None
    cautions, stands = sitting_pages(desk.procedure, desk.history, desk.survey)
    assert cautions.startswith("CAUTION")
    assert [row.split()[0] for row in stands.split("\n") if row] == ["DONE", "NEXT", "CONNECT"]
    assert "oscillator at 2 V: 383.6 kHz" in stands
    assert "the counter" in stands


def test_where_a_job_stands_tells_the_answers_from_the_entries_of_the_log() -> None:
    desk = desk_with(READ)
    told(desk, Reading(383_600.0), Note("rain"), Undo(), Reading(383_700.0), asks=(READ, TOUCH))
    assert desk.survey is not None
    stands = where_it_stands(desk.history, desk.survey)
    assert stands.startswith(
        "DONE     1 answer taken (of 4 entries in the log); the last: oscillator at 2 V: 383.7 kHz"
    )


def test_a_caution_is_named_as_one() -> None:
    assert room_for(desk_with(CAUTION), 80, 24).ask.startswith("CAUTION. ")


def test_a_log_line_that_is_too_long_keeps_its_number_whole() -> None:
    line = " 25 antenna-trimmer at 106 MHz: 106.041 MHz"
    assert fitted(line, 38) == " 25 antenna-trimmer at...: 106.041 MHz"
    assert fitted(line, 80) == line
    assert fitted(" 26 note: " + "x" * 60, 38).endswith("...")


def test_long_text_is_cut_with_an_ellipsis() -> None:
    assert cut("one two three four five six", 10, 2) == "one two\nthree ..."
    assert cut("short", 10, 2) == "short"


def test_a_long_reason_loses_its_last_sentence_and_brackets_first() -> None:
    why = "It stands 1.2 kHz too high; stop 2 kHz below. The trimmer does the rest. (IF reckoned with: 454.9 kHz.)"
    assert without_the_lesser(why, 80, 2).split("\n")[1] == "reckoned with: 454.9 kHz.)"
    assert without_the_lesser(why, 80, 1) == "It stands 1.2 kHz too high; stop 2 kHz below. The trimmer does the rest."
    assert without_the_lesser(why, 60, 1) == "It stands 1.2 kHz too high; stop 2 kHz below."
    assert without_the_lesser(why, 30, 1).endswith(" ...")


def test_past_the_aim_the_words_say_so_in_place_of_what_contradicts_the_ask() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    assert live(desk, 390_000.0).hand == "▼ Reading must fall: squeeze the turns together"
    desk.sample((Sample(20.0, 380_000.0),))
    assert glance(desk, Paper(80)).hand == "▲ Past the aim: back, spread the turns"


def test_at_the_edge_of_the_aim_the_words_do_not_alternate_with_stop() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    said = []
    for at, value in enumerate([390_000.0, *[385_639.0, 385_646.0] * 6]):
        desk.sample((Sample(10.0 + 0.25 * at, value),))
        said.append(glance(desk, Paper(80)).hand)
    assert "░" in glance(desk, Paper(80)).bar
    assert set(said[4:]) == {"▼ At the edge of the aim: a hair further, squeeze the turns together"}
    desk.sample(tuple(Sample(20.0 + 0.25 * at, 385_620.0) for at in range(4)))
    assert glance(desk, Paper(80)).hand == "= STOP: inside the aim"


def test_a_hair_outside_of_the_aim_neither_words_nor_bar_say_stop() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    shown = live(desk, 390_000.0, 385_642.0, 385_642.0, 385_640.0)
    assert shown.hand == "▼ At the edge of the aim: a hair further, squeeze the turns together"
    assert shown.state == "seek"
    assert "░" in shown.bar


def test_a_hand_that_turns_through_the_aim_is_not_at_its_edge() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    desk.sample(tuple(Sample(10.0 + 0.25 * at, value) for at, value in enumerate([390_000.0, 385_620.0, 380_000.0])))
    assert "Past the aim" in glance(desk, Paper(80)).hand
