"""The guide: what is asked, what is read, which way to turn; keys go in, answers go out."""

from typing import ClassVar

from textual import events, work
from textual.app import ComposeResult
from textual.screen import Screen

from aligner.crash import running_job
from aligner.engine.answers import Answer, Sitting, Undo
from aligner.engine.asks import Turning
from aligner.engine.history import History
from aligner.engine.survey import Survey
from aligner.job import Broken, Event, Job, JobWorker, Kept, NotKept, NotOpened, Opened, Refused
from aligner.procedure.model import Procedure
from aligner.screens.commands import GUIDE, Command
from aligner.screens.desk import Desk, Effect, Send, Turn
from aligner.screens.face import Face
from aligner.screens.folio import folio_of
from aligner.screens.keys import paste, press, run
from aligner.screens.opening import Opening
from aligner.screens.pace import settle
from aligner.screens.pages import sitting_pages
from aligner.screens.questions import Question
from aligner.screens.reading_pages import Pages
from aligner.screens.returning import later_sitting, look_again
from aligner.screens.seat import Seat
from aligner.screens.sources import Choice, Plugged
from aligner.screens.sweep_file import from_file
from aligner.screens.told import Told

LOOKS_A_SECOND = 8
"""How often the source is looked at: fast enough for a hand, slow enough for a line over ssh."""


class Guide(Screen[str]):
    """One job in front of the person. It ends with a message for the list of jobs, empty where all is well."""

    AUTO_FOCUS: ClassVar[str] = ""
    TABLE: ClassVar[tuple[Command, ...]] = GUIDE

    def __init__(self, opening: Opening, *, ascii_only: bool = False) -> None:
        super().__init__()
        self._opening = opening
        self.face = Face(plain=ascii_only)
        self.seat: Seat | None = None
        self.desk: Desk | None = None
        self._looked_at = False
        self.worker = JobWorker(self._open, self._report)

    def compose(self) -> ComposeResult:
        """All that is seen."""
        yield self.face

    def on_mount(self) -> None:
        """Open the job on its own thread, and look at the source regularly."""
        self.worker.start()
        self.set_interval(1 / LOOKS_A_SECOND, self._look)

    def on_unmount(self) -> None:
        """However the program ends, the job is closed, and how a virtual set stands is noted."""
        self._let_go()

    def on_told(self, message: Told) -> None:
        """What the job's thread says, in the order of the posts."""
        match message.event:
            case Opened() as opened:
                self._opened(opened)
            case Kept(history=history, survey=survey) if self.desk is not None:
                self._kept(self.desk, history, survey, message.time)
            case Refused(error=error) | NotKept(error=error) if self.desk is not None:
                self.desk.refuse(str(error))
            case NotOpened(error=error):
                self.dismiss(str(error))
            case Broken(error=error):
                raise error
        self.paint()

    def on_key(self, event: events.Key) -> None:
        """Every key goes to the table of commands or into the entry line."""
        event.stop()
        event.prevent_default()
        if self.desk is None:
            if event.key == "q":
                self._close()
            return
        self._carry_out(press(self.desk, event.key, event.character, event.time))

    def on_paste(self, event: events.Paste) -> None:
        """Pasted text goes into the entry line and waits for Enter."""
        event.stop()
        if self.desk is not None:
            paste(self.desk, event.text)
            self.paint()

    def on_resize(self) -> None:
        """Leave out what has no room, and say so."""
        self.call_after_refresh(self.paint)

    def command(self, name: str) -> None:
        """A command from the palette."""
        if self.desk is not None:
            self._carry_out(run(self.desk, name))

    def paint(self) -> None:
        """Bind everything to the widgets."""
        if self.desk is not None and self.desk.seen is not None and self.is_mounted and self.seat is not None:
            self.face.bind(self.desk, self.seat.plugged.choice.words, self.seat.message)

    def _open(self) -> Job:
        job = self._opening.job()
        try:
            self.seat = Seat(self._opening.source(job), job.path)
        except BaseException:
            job.close()
            raise
        return job

    def _report(self, event: Event) -> None:
        self.post_message(Told(event))

    def _kept(self, desk: Desk, history: History, survey: Survey, at_s: float) -> None:
        desk.tell(history, survey, at_s)
        self._point_source()
        if self.seat is not None:
            self.seat.felt = desk.felt
            self.seat.leave()
        if self._looked_at and survey.ask is not None:  # an undo leads from a job that had ended back to the set
            self._looked_at = False
            self._back_to_the_set(desk.procedure, history, survey)

    @work
    async def _back_to_the_set(self, procedure: Procedure, history: History, survey: Survey) -> None:
        await self._cautioned(procedure, history, survey)

    async def _cautioned(self, procedure: Procedure, history: History, survey: Survey) -> bool:
        """Whether the cautions were confirmed; else the job is closed."""
        confirmed = await self.app.push_screen_wait(Pages(sitting_pages(procedure, history, survey), to_confirm=True))
        if not confirmed:
            self._close()
        return bool(confirmed)

    @work
    async def _opened(self, opened: Opened) -> None:
        """Show the open ask; at a later sitting only after the cautions have been confirmed once more."""
        running_job(opened.path)
        later = not self._opening.fresh and later_sitting(opened)
        self._looked_at = not self._opening.fresh and not later and opened.survey.ask is None
        if later and not await self._cautioned(opened.procedure, opened.history, opened.survey):
            return
        self._begin(opened)
        if later:
            self.worker.post(Sitting())
            if self.seat is not None and self.seat.plugged.virtual is None:
                await look_again(self.app, opened.history, opened.survey.ask, self.worker.post)

    def _begin(self, opened: Opened) -> None:
        plugged = self.seat.plugged if self.seat is not None else Plugged(Choice())
        self.desk = Desk(opened.procedure, plugged.serves, plugged.virtual is not None)
        self.desk.recall(self.seat.felt if self.seat is not None else ())
        self.desk.tell(opened.history, opened.survey)
        if self.seat is not None:
            self.seat.start()
        self._point_source()
        self.paint()
        settle()

    def _carry_out(self, effects: list[Effect]) -> None:
        for effect in effects:
            if isinstance(effect, Send):
                self._post(effect.answer)
            elif isinstance(effect, Turn):
                self._turn(effect)
            else:
                self._do(effect.what)
        self.paint()

    def _post(self, answer: Answer) -> None:
        ask = self.desk.ask if self.desk is not None else None
        # Several undos come one after the other, and each of them opens another ask.
        self.worker.post(answer, ask_id=None if ask is None or isinstance(answer, Undo) else ask.id)

    def _turn(self, turn: Turn) -> None:
        if self.seat is not None and self.desk is not None and self.desk.stream is not None:
            self.desk.stream.stands(self.seat.turn(turn.adjuster, turn.turns), turn.turns)
            self.desk.stream.at_stop = self.seat.plugged.virtual is not None and self.seat.plugged.virtual.at_stop
            self._look()

    def _do(self, what: str) -> None:
        match what:
            case "plain" | "zoom" | "curves" | "next":
                self.face.carry_out(what)
            case "ring":
                self.app.bell()
            case "where" | "known" if self.desk is not None:
                self.app.push_screen(folio_of(self.desk, what, plain=self.face.plain))
            case "leave":
                self._close()
            case "rehearse":
                self._rehearse()
            case "file":
                self._take_file()
            case _:
                self.app.call_later(self.app.run_action, what)

    def _rehearse(self) -> None:
        ask = self.desk.ask if self.desk is not None else None
        answer = self.seat.answer(ask) if self.seat is not None and ask is not None else None
        if answer is not None and ask is not None and self.desk is not None and self.desk.send(answer):
            at_s = self.desk.newest_s + self.seat.waited_s if self.seat and self.desk.warming else None
            self.worker.post(answer, at_s, ask_id=ask.id)
            self.paint()

    @work
    async def _take_file(self) -> None:
        ask = self.desk.ask if self.desk is not None else None
        found = await from_file(self.app, ask)
        if self.desk is not None and self.desk.ask is ask:
            self.desk.question, self.desk.message = (found, "") if isinstance(found, Question) else (None, found)
            self.paint()

    def _point_source(self) -> None:
        if self.desk is not None and self.seat is not None:
            self.desk.since_s = self.seat.show(self.desk.ask)
            if self.desk.stream is not None and isinstance(self.desk.ask, Turning):
                self.desk.stream.fingers.allow(self.seat.boldest(self.desk.ask.adjuster))

    def _look(self) -> None:
        if self.desk is not None and self.seat is not None and self.app.screen is self:
            window = self.seat.look()
            if window is None:
                self.desk.lose()
            self._carry_out(self.desk.sample(window or ()))

    @work(thread=True)
    def _close(self) -> None:
        self._let_go()
        self.app.call_from_thread(self.dismiss, "")

    def _let_go(self) -> None:
        if self.seat is not None:
            self.seat.felt = self.desk.felt if self.desk is not None else self.seat.felt
            self.seat.stop()
        self.worker.stop(5.0)
        running_job(None)
