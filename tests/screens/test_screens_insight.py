"""The pages that are looked at: where the job stands, the set as a picture, what is known, the log."""

from pathlib import Path

from textual.containers import VerticalScroll

from aligner.engine.answers import Note
from aligner.engine.history import Entry, History
from aligner.engine.run import survey
from aligner.engine.survey import Survey
from aligner.procedure.library import find, shipped
from aligner.procedure.reader import read_procedure
from aligner.screens.app import AlignerApp
from aligner.screens.chart import Chart
from aligner.screens.folio import Folio
from aligner.screens.guide import Guide
from aligner.screens.insight import PAGES, Subject
from aligner.screens.picture import picture
from aligner.screens.view import known_error
from tests.screens.driving import kept, shown_guide, until, words_on
from tests.screens.scripted import PEAK, TOUCH, ShownSource, guide, procedure
from tests.screens.walked import walked


def test_the_adjuster_to_touch_is_marked_with_where_it_sits() -> None:
    lines = picture(procedure(), TOUCH, 80).splitlines()
    (marked,) = [line for line in lines if "NOW" in line]
    assert "oscillator-coil" in marked
    assert lines[-1] == "▶ oscillator-coil sits: the bare coil beside the mixer can"


def test_the_aerials_circuit_stands_first_and_the_mixer_after_all_signal_circuits() -> None:
    text = picture(procedure(), None, 80)
    order = [text.index(word) for word in ("aerial", "├─ antenna", "├─ interstage", "MIXER")]
    assert order == sorted(order)


def test_every_adjuster_of_every_shipped_procedure_is_in_its_picture_and_plain_pictures_are_plain() -> None:
    for path in shipped():
        shown = read_procedure(path)
        text = picture(shown, None, 100, plain=True)
        assert text.isascii()
        assert all(adjuster.id in text for adjuster in shown.adjusters)


def test_every_page_can_be_written_before_anything_was_said() -> None:
    shown = read_procedure(find("fm-varactor"))
    subject = Subject(shown, History(), survey(shown, History()))
    for _, page in PAGES:
        assert page(subject, 78)
        assert all(len(line) <= 78 for line in page(subject, 78).splitlines())


def test_the_worst_point_of_a_step_is_the_same_number_in_steps_place_end_and_knowledge() -> None:
    *_, (desk, _) = walked("fm-varactor")
    assert desk.survey is not None
    subject = Subject(desk.procedure, desk.history, desk.survey)
    coverage = next(report for report in desk.survey.steps if report.kind == "coverage")
    words = known_error(coverage)
    size, way = words.removeprefix("at worst ").split(";")[0].rsplit(" too ", 1)
    place, known = (dict(PAGES)[name](subject, 120) for name in ("where", "known"))
    assert f"at worst {size} too {way} (95 %: ± " in place
    assert "at worst: at the worst point of the step" in " ".join(place.split())
    worst = [line for line in known.splitlines() if "the worst point" in line]
    assert f"{size} too {way}, inside 50 kHz, the worst point" in worst[0]
    assert f"{'-' if way == 'low' else ''}{size} ±" in desk.end


async def test_pages_open_turn_and_close_by_keys_and_the_ask_is_still_there(tmp_path: Path) -> None:
    app = AlignerApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (TOUCH,)))
        _, desk = await shown_guide(pilot)
        await pilot.press("p")
        await until(pilot, lambda: isinstance(app.screen, Folio) and "So far " in words_on(app))
        await pilot.press("tab")
        await until(pilot, lambda: "MIXER" in words_on(app))
        await pilot.press("tab")
        await until(pilot, lambda: "WHY THIS IS NEXT" in words_on(app))
        await pilot.press("escape")
        assert isinstance(app.screen, Guide)
        assert desk.ask == TOUCH


async def test_the_page_of_the_log_opens_at_its_newest_lines(tmp_path: Path) -> None:
    app, history = AlignerApp(tmp_path), History()
    for at in range(1, 61):
        history = history.with_entry(Entry(at, float(at), "0", None, Note(f"the note of that number, {at}")))
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(Folio(Subject(procedure(), history, Survey(None, ())), "log"))
        await until(pilot, lambda: "number, 60" in words_on(app))
        page = app.screen.query_one(VerticalScroll)
        await until(pilot, lambda: page.max_scroll_y > 0 and page.scroll_y > 0)
        assert page.scroll_y == page.max_scroll_y
        await pilot.press("home")
        await until(pilot, lambda: page.scroll_y == 0)


async def test_one_key_shows_the_curves_and_the_same_key_the_guide_again(tmp_path: Path) -> None:
    app, source = AlignerApp(tmp_path), ShownSource()
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(guide(tmp_path, (TOUCH,), source))
        shown, desk = await shown_guide(pilot)
        source.show(390_120.0)
        await pilot.press("c")
        await until(pilot, lambda: "There is no curve yet" in words_on(app))
        assert "AIM 385.62 kHz" in words_on(app)  # what matters stays in sight
        assert not shown.query_one("#lower").display
        await pilot.press("c")
        await until(pilot, lambda: shown.query_one("#lower").display)
        await kept(pilot, desk, *"390.1", "enter")  # and readings were taken all the same


async def test_while_peaking_the_level_over_the_readings_is_drawn_as_it_comes(tmp_path: Path) -> None:
    app, source = AlignerApp(tmp_path), ShownSource()
    opened = guide(tmp_path, (PEAK,), source)
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(opened)
        _, desk = await shown_guide(pilot)
        desk.serves = frozenset({"level"})
        source.show(-3.0, -1.0, 0.0, -0.5)
        await pilot.press("c")
        await until(pilot, lambda: "Peak of antenna-coil" in words_on(app))
        await until(pilot, lambda: any("⠀" < sign <= "⣿" for sign in words_on(app)))
        assert app.screen.query_one(Chart).display


async def test_in_a_tall_window_the_curve_stands_below_the_figures_and_in_a_low_one_in_their_place(
    tmp_path: Path,
) -> None:
    for size, both in (((120, 40), True), ((80, 24), False)):
        app = AlignerApp(tmp_path)
        async with app.run_test(size=size) as pilot:
            app.push_screen(guide(tmp_path, (TOUCH,), ShownSource()))
            shown, _ = await shown_guide(pilot)
            await pilot.press("c")
            await until(pilot, lambda: shown.face.chart is not None and shown.face.chart.display)  # noqa: B023 - awaited here
            assert shown.query_one("#ask").display == both
            assert shown.query_one("#brief").display != both
