"""The plan before a job, as frozen values: SI units, levels in dB; None where nothing can be told."""

from dataclasses import dataclass
from typing import Literal

Part = Literal["inductance", "trimmer", "padder"]
Verdict = Literal["inside", "outside", "strays", "unknown"]
"""`strays`: inside only with so much fixed capacitance beside the trimmer; `unknown`: a value is missing."""


@dataclass(frozen=True, slots=True)
class CounterLine:
    """What the counter should show [Hz] at one place of the coverage."""

    place: str
    received_hz: float
    oscillator_hz: float
    shown_hz: float


@dataclass(frozen=True, slots=True)
class CounterPlan:
    """Readings to expect; step_hz [Hz] is one count in terms of the oscillator, shown_step_hz [Hz] of the display."""

    lines: tuple[CounterLine, ...]
    step_hz: float
    shown_step_hz: float
    tolerance_hz: float | None
    coarse: bool
    gate_s: float
    longer_gate_s: float | None  # with which one count would be a fifth of the tolerance


@dataclass(frozen=True, slots=True)
class PartPlan:
    """One value of a circuit: what it must be, and whether the adjuster reaches it.

    adjuster: empty for a fixed part. needed [H or F]. Where that is not known, share [1]: a coil against the coil of
    the circuit `share_of`, a padder against its whole capacitance in mid-band, and a trimmer's surplus over its trimmer
    against the same.
    strays_f [F]: least and greatest fixed capacitance beside a trimmer with which the target is inside its travel.
    key: what in the procedure would tell, where the verdict is unknown.
    given [F]: a fixed padder as the procedure has it; the plan reckons with the one that is needed.
    """

    circuit: str
    adjuster: str
    part: Part
    needed: float | None
    share: float | None
    share_of: str
    travel: tuple[float, float] | None
    verdict: Verdict
    strays_f: tuple[float, float] | None = None
    key: str = ""
    given: float | None = None

    @property
    def off(self) -> float | None:
        """By what share [1] the given part is greater than the needed one; None where that cannot be told."""
        return None if self.given is None or not self.needed else self.given / self.needed - 1.0


@dataclass(frozen=True, slots=True)
class PointError:
    """Tracking error [Hz] where a frequency [Hz] is received, and the level [dB] that it costs."""

    received_hz: float
    error_hz: float
    loss_db: float


@dataclass(frozen=True, slots=True)
class Placement:
    """Tracking points [Hz], the greatest error in the band, and the greatest loss in the band [dB]."""

    points_hz: tuple[float, ...]
    greatest: PointError
    loss_db: float


@dataclass(frozen=True, slots=True)
class TrackingPlan:
    """How one signal circuit can follow: `at_points` where its step looks, `own` and `best` over the whole band."""

    circuit: str
    step: str
    tolerance_hz: float | None
    tolerance_db: float | None
    q: float
    q_given: bool
    at_points: tuple[PointError, ...]
    own: Placement
    best: Placement | None
    measure: Literal["relative", "hz"]
    equal_sections: bool  # the curve is for equal gang sections, which on this band cannot be
    curve: tuple[PointError, ...]

    def beyond(self, error_hz: float, loss_db: float) -> bool:
        """Whether an error [Hz], or its loss [dB], is more than the tolerance; equal sections are only supposed."""
        if self.equal_sections:
            return False
        if self.tolerance_hz is not None:
            return abs(error_hz) > self.tolerance_hz
        return self.tolerance_db is not None and loss_db > self.tolerance_db


@dataclass(frozen=True, slots=True)
class ImageLine:
    """The image [Hz] of a frequency received [Hz], and the rejection [dB] expected of the signal circuits."""

    received_hz: float
    image_hz: float
    rejection_db: float


@dataclass(frozen=True, slots=True)
class BandPlan:
    """All that can be told of one band. `absolute`: whether values are in H and F; `values_from` says from what."""

    id: str
    band_hz: tuple[float, float]
    oscillator_hz: tuple[float, float]
    signal_ratio: float
    oscillator_ratio: float
    absolute: bool
    values_from: str
    tuning_needed: tuple[float, float] | None  # [V] at the band's ends, by voltage with a curve
    counter: CounterPlan | None
    parts: tuple[PartPlan, ...]
    tracking: tuple[TrackingPlan, ...]
    images: tuple[ImageLine, ...]
    warnings: tuple[str, ...]
    untold: tuple[str, ...]
    half_way: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan of a procedure, from nominal values alone."""

    title: str
    name: str
    intermediate_hz: float
    oscillator: Literal["above", "below"]
    bands: tuple[BandPlan, ...]
