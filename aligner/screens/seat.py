"""The source of an open job, as the guide uses it; without one (the keyboard) everything here does nothing."""

import time
from dataclasses import dataclass
from pathlib import Path

from aligner.engine.answers import Answer
from aligner.engine.asks import Ask
from aligner.engine.capture import Sample
from aligner.screens.feel import Felt
from aligner.screens.fingers import BOLDEST
from aligner.screens.sources import Plugged, felt_before, remember

LONGEST_SILENCE_S = 5.0
"""After this the newest reading is not one of now [s], unless the instrument is slower than that by itself."""

SLOWEST = 3.0
"""How many of its own periods an instrument may be silent."""


@dataclass(slots=True)
class Seat:
    """A source plugged into a job's file. `message`: what the person must know of it now."""

    plugged: Plugged
    path: Path
    message: str = ""
    felt: tuple[Felt, ...] = ()  # what the arrow keys taught, as it is kept with the job

    def __post_init__(self) -> None:
        """What an earlier sitting at the virtual set learned of its adjusters is there from the beginning."""
        if not self.felt and self.plugged.virtual is not None:
            self.felt = felt_before(self.path)

    def start(self) -> None:
        """Let readings flow."""
        if self.plugged.source is not None:
            self.plugged.source.start()

    def stop(self) -> None:
        """Let go of the instrument, and note how the virtual set was left."""
        if self.plugged.source is not None:
            self.plugged.source.stop()
        self.leave()

    def show(self, ask: Ask | None) -> float:
        """Point the instruments at that ask; the time since which readings belong to it [s]."""
        if self.plugged.virtual is not None:
            self.plugged.virtual.show(ask)
        return time.monotonic()

    def look(self) -> tuple[Sample, ...] | None:
        """What was read in the last seconds; None where what was read last is no reading of now."""
        source = self.plugged.source
        if source is None:
            return ()
        live = source.latest()
        self.message = live.message if live is not None else ""
        if live is None:
            return ()
        if live.value is None or not live.connected:
            return None
        silent_s = time.monotonic() - live.at_s
        if silent_s > max(LONGEST_SILENCE_S, SLOWEST / live.rate_hz if live.rate_hz else 0.0):
            self.message = self.message or "The instrument is silent: look at its cable, or type the reading."
            return None
        return source.window()

    def turn(self, adjuster: str, turns: float) -> float:
        """Turn the virtual set's adjuster; the net turns since the ask was shown."""
        virtual = self.plugged.virtual
        return virtual.turn(adjuster, turns) if virtual is not None else 0.0

    def boldest(self, adjuster: str) -> float:
        """The boldest press of an arrow key on that adjuster [turn]."""
        virtual = self.plugged.virtual
        return virtual.boldest(adjuster) if virtual is not None else BOLDEST

    def answer(self, ask: Ask) -> Answer | None:
        """What the virtual set's owner would answer."""
        virtual = self.plugged.virtual
        return virtual.answer(ask) if virtual is not None else None

    @property
    def waited_s(self) -> float:
        """How long the virtual set's owner took for the newest answer, by the set's own time [s]."""
        virtual = self.plugged.virtual
        return virtual.waited_s if virtual is not None else 0.0

    def leave(self) -> None:
        """The virtual set stands as the hands left it, also after the program was killed."""
        virtual = self.plugged.virtual
        if virtual is not None:
            remember(self.path, self.plugged.choice, virtual.positions(), self.felt)
