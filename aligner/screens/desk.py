"""What the guide knows between two paints: the job's view, the stream of readings, the entry line, an open question.

Nothing here paints, waits or reads a clock. The screen hands in samples, and `keys.press` the keys; both give back what
is to be carried out, so a whole alignment can be tested without a terminal.
"""

import math
from dataclasses import dataclass, field, replace

import msgspec

from aligner.engine.answers import Answer, Leaving, Reading, Undo
from aligner.engine.asks import Ask, Peak, Single, Touch, Turning
from aligner.engine.capture import Captured, NotYet, Sample
from aligner.engine.history import History, answers_given
from aligner.engine.survey import Survey
from aligner.errors import QuantityError
from aligner.procedure.model import Procedure
from aligner.quantity import UnitName
from aligner.screens.calm import rest_width
from aligner.screens.ended import end_table
from aligner.screens.entry import Line, understood
from aligner.screens.expected import expected
from aligner.screens.feel import Feel, Felt
from aligner.screens.log import entry_words
from aligner.screens.peaks import Search, search
from aligner.screens.plainly import for_keys
from aligner.screens.questions import Question, about_correction, about_doubt, about_turned
from aligner.screens.stream import Stream, readable, thinned
from aligner.screens.view import View, scale_of, view

TOLD_S = 5.0
"""So long it is told on the new ask that the one before was taken by itself [s]."""


@dataclass(frozen=True, slots=True)
class Send:
    """An answer to be kept."""

    answer: Answer


@dataclass(frozen=True, slots=True)
class Turn:
    """The virtual set's adjuster to be turned [turn]."""

    adjuster: str
    turns: float


@dataclass(frozen=True, slots=True)
class Do:
    """What only a screen can do: "ring", "rehearse" (the virtual set answers), or the command of that name."""

    what: str


Effect = Send | Turn | Do


@dataclass(slots=True)
class Desk:
    """The state of the guide. `serves`: the quantities that the source reads; `turnable`: a virtual set's adjusters."""

    procedure: Procedure
    serves: frozenset[str] = frozenset()
    turnable: bool = False
    history: History = field(default_factory=History)
    survey: Survey | None = None
    seen: View | None = None
    end: str = ""  # the table at the end of a job
    stream: Stream | None = None
    since_s: float = -math.inf
    line: Line = field(default_factory=Line)
    writing: str = ""  # "note", "aside" or "correct" while that is written instead of a reading
    question: Question | None = None
    message: str = ""
    pending: int = 0  # answers that are not kept yet
    hands_free: bool = True
    put_away: str = ""  # the digest of the history whose questioned answer was put away
    pressed: tuple[str, float] = ("", -math.inf)  # the newest key, and when [s]
    given_before: int = -1  # answers that had been given when the job was opened; -1 before it is
    letters_s: float = -math.inf  # when a letter was pressed last where nothing is typed and it does nothing [s]
    quiet_s: float = -math.inf  # when an ask with another adjuster was shown in the place of a touch or peak [s]
    strayed_s: float = -math.inf  # when an arrow key was pressed last that was meant for the adjuster before [s]
    feels: dict[tuple[str, str], Feel] = field(default_factory=dict)  # of each adjuster, by what was read
    came: tuple[str, float] = ("", 0.0)  # the adjuster that was peaked last, and the turns to its peak
    taking: str = ""  # what has just been taken by itself, until it is kept
    by_itself: str = ""  # what was taken by itself for the ask before, while that is told
    told_s: float = math.inf  # the first value of the ask after that [s]

    @property
    def ask(self) -> Ask | None:
        """The open ask."""
        return self.survey.ask if self.survey else None

    @property
    def unit(self) -> UnitName | None:
        """The unit in which the open ask is read."""
        return self.seen.asked.unit if self.seen and self.seen.asked else None

    @property
    def counted(self) -> bool:
        """Whether the turns of the adjuster to be turned can be counted."""
        ask = self.ask
        if not isinstance(ask, Turning) or self.taken_up:
            return False
        return self.procedure.adjuster(ask.adjuster).counted

    @property
    def taken_up(self) -> bool:
        """Whether the open ask was open in an earlier sitting: what was turned and seen for it then is not known."""
        return self.unanswered and bool(self.history.entries)

    @property
    def unanswered(self) -> bool:
        """Whether nothing was answered since the job was opened, so that the open ask stood open already.

        Asks are not compared for that: after a break the same touch may be worded anew, or its doubt be wider.
        """
        return self.ask is not None and answers_given(self.history) == self.given_before

    @property
    def found(self) -> Search | None:
        """How far the search for a peak is; None where none is sought."""
        ask = self.ask
        if not isinstance(ask, Peak) or self.stream is None:
            return None
        return search(ask, self.stream, twin=self.twin)

    @property
    def to_middle(self) -> float | None:
        """The turns left to the middle of a peak, clockwise positive; None where they are not what leads there."""
        found = self.found
        return found.left if found is not None and not found.short else None

    @property
    def twin(self) -> bool:
        """Whether the adjuster of the open ask peaks twice a turn, and either peak will do."""
        ask = self.ask
        return isinstance(ask, Turning) and self.procedure.adjuster(ask.adjuster).kind == "rotary-trimmer"

    @property
    def turned(self) -> bool | None:
        """Whether the adjuster of the open ask has been turned since it was asked; None where only the person knows."""
        if not isinstance(self.ask, Turning):
            return False
        if self.stream is not None and self.stream.handled:
            return True
        return False if self.turnable and not self.unanswered else None

    @property
    def felt(self) -> tuple[Felt, ...]:
        """What was learned of the adjusters, to be kept with the job."""
        return tuple(Felt(*about, feel.raising, feel.per_turn) for about, feel in self.feels.items() if feel.raising)

    def recall(self, felt: tuple[Felt, ...]) -> None:
        """What an earlier sitting learned of the adjusters."""
        for row in felt:
            self.feels.setdefault((row.adjuster, row.quantity), Feel()).recall(row)

    @property
    def moved(self) -> bool:
        """Whether the reading tells that the adjuster of the open ask has been turned since it was asked for."""
        stream = self.stream
        return stream is not None and isinstance(self.ask, Touch) and (stream.handled or stream.has_moved)

    @property
    def just_taken(self) -> str:
        """What the newest answer took of an adjuster, for keys that were still meant for that."""
        newest = next(iter(reversed(self.history.live())), None) if self.turnable and self.ask is not None else None
        if newest is None or not isinstance(newest.ask, Turning) or not isinstance(newest.answer, Reading):
            return ""
        return f"Taken: {entry_words(newest)}. Nothing is to be turned for what is asked now."

    @property
    def warming(self) -> bool:
        """Whether the open ask belongs to a warm-up, in which time must pass between readings."""
        return self.ask is not None and self.procedure.step(self.ask.step).kind == "warm-up"

    @property
    def newest_s(self) -> float:
        """When the newest entry was made [s]."""
        return self.history.entries[-1].at_s if self.history.entries else 0.0

    @property
    def reads_live(self) -> bool:
        """Whether the source reads what the open ask wants to be read."""
        return readable(self.ask, self.serves)

    @property
    def reads_large(self) -> bool:
        """Whether there is a reading to be shown large: then steps and log may give way to it."""
        return isinstance(self.ask, Single)

    def tell(self, history: History, survey: Survey, at_s: float = -math.inf) -> None:
        """Take over what is on the disk now, told then [s]; a new ask starts with an empty line and an empty stream."""
        before = self.ask
        if isinstance(before, Peak) and self.stream is not None and self.stream.turned:
            self.came = before.adjuster, self.stream.turned
        self.given_before = answers_given(history) if self.survey is None else self.given_before
        self.history, self.survey = history, survey
        self.pending = max(0, self.pending - 1)
        self.seen = view(self.procedure, history, survey, survey.ask)
        if self.turnable and self.seen.asked is not None:
            asked = replace(self.seen.asked, text=for_keys(self.seen.asked.text))
            self.seen = replace(self.seen, asked=asked)
        self.end = "" if survey.ask is not None else end_table(self.procedure, history, survey)
        self.line, self.writing, self.question, self.message = Line(), "", None, ""
        self.by_itself, self.taking, self.told_s = self.taking, "", math.inf
        if survey.ask != before or self.stream is None:
            self._start_stream()
        if _other_adjuster(before, survey.ask):
            self.quiet_s = at_s

    def refuse(self, reason: str) -> None:
        """An answer that was not taken: what was typed stays, so that it can be mended."""
        self.pending, self.message, self.taking = max(0, self.pending - 1), reason, ""

    def sample(self, window: tuple[Sample, ...]) -> list[Effect]:
        """What the source has seen lately; what follows where it has stood still long enough."""
        fresh = tuple(row for row in window if row.at_s > self.since_s)
        if self.stream is None or not self.reads_live or not fresh:
            return []
        self.since_s = fresh[-1].at_s
        for row in thinned(fresh):
            self.stream.take(row)
        self._told_long_enough()
        taken = self.hold()
        if isinstance(taken, Captured):
            self.taking = self._taken_words(taken.value)
            return [*self.send(self.stream.reading(taken, counted=self.counted)), Do("ring")]
        return []

    def _told_long_enough(self) -> None:
        """What was taken by itself stands beside the new ask for a while, counted from its first value on."""
        if self.by_itself:
            self.told_s = min(self.told_s, self.since_s)
            self.by_itself = "" if self.since_s - self.told_s > TOLD_S else self.by_itself

    def _taken_words(self, value: float) -> str:
        ask, asked = self.ask, self.seen.asked if self.seen else None
        if not isinstance(ask, Touch) or asked is None:
            return ""
        scale = scale_of(asked, value)
        return f"Taken by itself: {ask.adjuster} at {scale.figures(value)} {scale.unit}."

    def lose(self) -> None:
        """The source shows nothing now: what it showed last must not be taken for a reading of now."""
        if self.stream is not None:
            self.stream.lose()

    @property
    def waiting(self) -> bool:
        """Whether an answer is being kept; until then nothing else is taken."""
        return self.pending > 0

    def send(self, answer: Answer, times: int = 1) -> list[Effect]:
        """Hand over an answer, or the same several times over."""
        self.pending, self.question = times, None
        again = Undo(answer.moved) if isinstance(answer, Undo) else answer  # it leaves no touch half turned twice
        return [Send(answer), *[Send(again)] * (times - 1)]

    def leave(self, answer: Leaving, times: int = 1) -> list[Effect]:
        """Hand over an answer that leaves the open ask unanswered; first asks what the hand has turned for that."""
        turned, ask = self.turned, self.ask
        if turned is None and isinstance(ask, Turning):
            self.question = about_turned(ask.adjuster, answer, times)
            return []
        return self.send(msgspec.structs.replace(answer, turned=True) if turned else answer, times)

    def hold(self) -> Captured | NotYet:
        """How far the hands-free rule is; off while something is typed, asked back, questioned or being kept."""
        busy = self.waiting or self.line.text or self.writing or self.question or self.doubt
        if self.stream is None or busy or not self.hands_free:
            return NotYet("off")
        return self.stream.hold()

    @property
    def doubt(self) -> Question | None:
        """What can be done with an answer that stands questioned; None once the question was put away."""
        if self.put_away == self.history.digest:
            return None
        why = self.survey.doubt if self.survey else ""
        return about_doubt(self.doubted, self.near(), self.unit, self.prescaler, why)

    @property
    def prescaler(self) -> int:
        """What the counter's display must be multiplied by for the oscillator."""
        counter = self.procedure.counter
        return counter.prescaler if counter.shows == "divided" else 1

    @property
    def law_known(self) -> bool:
        """Whether decibels of the meter can be trusted."""
        meter = self.procedure.meter
        return meter is None or meter.law != "unknown"

    @property
    def doubted(self) -> Answer | None:
        """The answer that stands questioned, also when the question was put away."""
        if self.survey is None or not self.survey.doubt:
            return None
        return next((entry.answer for entry in reversed(self.history.entries) if entry.doubt), None)

    def near(self) -> float | None:
        """About what the open ask will read."""
        if self.ask is None:
            return None
        live = self.stream.live if self.stream else None
        return live if live is not None and not isinstance(self.ask, Touch) else expected(self.procedure, self.ask)

    def bare(self) -> str:
        """The unit of a bare frequency: the one that stands on the screen."""
        near, asked = self.near(), self.seen.asked if self.seen else None
        return scale_of(asked, near).unit if asked and asked.unit == "Hz" and near is not None else ""

    def echo(self) -> tuple[bool, str]:
        """Whether what is typed is understood, and as what (or what would be)."""
        if self.writing == "correct" and self.line.text:
            back = about_correction(self.history, self.line.text.strip())
            return not isinstance(back, str), back if isinstance(back, str) else "Enter: see what that takes back"
        if self.ask is None or not self.line.text or self.writing:
            return True, ""
        try:
            return True, understood(self.line.text, self.ask, self.near(), bare=self.bare()).echo
        except QuantityError as error:
            return False, str(error)

    def _start_stream(self) -> None:
        asked = self.seen.asked if self.seen else None
        if self.ask is None or asked is None or self.survey is None:
            self.stream = None
            return
        rest = rest_width(self.procedure, self.survey, self.ask)
        resolution = asked.resolution or (asked.within or 0.0) / 4 or 0.1
        self.stream = Stream(self.ask, resolution, rest)
        if isinstance(self.ask, Touch) and self.ask.aim.quantity != "level":
            self.stream.adjuster = self.procedure.adjuster(self.ask.adjuster)
            self.stream.feel = self.feels.setdefault((self.ask.adjuster, self.ask.aim.quantity), Feel())
            self.stream.feel.begin()


def _other_adjuster(before: Ask | None, ask: Ask | None) -> bool:
    return isinstance(before, Turning) and isinstance(ask, Turning) and before.adjuster != ask.adjuster
