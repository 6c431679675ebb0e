"""A circuit whose settings are known, worked by hand: what it shows at a place, and the events that this makes."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import brentq

from aligner.estimate.belief import Belief, belief_of
from aligner.estimate.events import Event, Moved, Sighted, Spot
from aligner.estimate.frame import Frame, frame_of
from aligner.estimate.ladder import COIL, ladder
from tests.small_sets import read


def frame(text: str) -> Frame:
    """The frame of the first band of a procedure."""
    procedure = read(text)
    return frame_of(procedure, "", procedure.intermediate_hz)


@dataclass
class Worked:
    """Where the settings of one circuit truly stand, and what has happened. sd_hz [Hz]: of each reading."""

    frame: Frame
    circuit: str
    settings: np.ndarray
    sd_hz: float = 10.0
    kind: str = "dial"
    events: list[Event] = field(default_factory=list)

    def hz(self, z_hz: float) -> float:
        """What it shows at a place [Hz]."""
        own = self.frame.circuits[self.circuit]
        return float(own.hz(ladder(own.law(np.array([z_hz])), self.settings).lny)[0])

    def look(self, *places: float, error_hz: float = 0.0) -> None:
        """Read it at places [Hz]."""
        for z in places:
            spot = Spot(z, "received" if self.kind == "received" else "dial")
            self.events.append(Sighted(self._next(), self.circuit, spot, self.hz(z) + error_hz, self.sd_hz))

    def turn(self, adjuster: str, shift: float, turns: float | None = None) -> None:
        """Move the setting of an adjuster; a coil takes its usual share of self-capacitance along."""
        self.events.append(Moved(self._next(), adjuster, turns))
        self.settings = self.settings + shift * self.push(adjuster)

    def turn_to(self, adjuster: str, place_hz: float, aim_hz: float) -> None:
        """Turn an adjuster until the reading at a place [Hz] stands at the aim [Hz]."""
        start, push = self.settings, self.push(adjuster)

        def beyond(shift: float) -> float:
            self.settings = start + shift * push
            return self.hz(place_hz) - aim_hz

        shift = float(brentq(beyond, -0.4, 0.4))
        self.settings = start
        self.turn(adjuster, shift)

    def push(self, adjuster: str) -> np.ndarray:
        """What a unit of movement does to the settings."""
        own, setting = self.frame.circuits[self.circuit], self.frame.handles[adjuster].setting
        push = np.zeros(4)
        push[setting] = 1.0
        if setting == COIL:
            push[own.carrier] += own.carried[0]
        return push

    def belief(self, more: Sequence[Event] = ()) -> Belief:
        """What is believed of it."""
        return belief_of(self.frame, (*self.events, *more))

    def error_hz(self, places: Sequence[float]) -> np.ndarray:
        """Belief less truth [Hz] at places [Hz]."""
        truth = np.array([self.hz(z) for z in places])
        return np.asarray(self.belief().circuits[self.circuit].hz(np.array(places)) - truth)

    def _next(self) -> int:
        return self.events[-1].seq + 1 if self.events else 1


def off(frame_: Frame, circuit: str, *shifts: float) -> np.ndarray:
    """Settings that stand off the start by these shifts."""
    return np.asarray(np.array(frame_.circuits[circuit].start) + np.array(shifts))
