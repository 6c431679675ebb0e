"""What only the rehearsal knows of a strip: its true middle, how its cans stand, where the detector's zero is."""

import math

import numpy as np

from aligner.procedure.model import DetectorStep, IfPeakStep, IfSweepStep
from aligner.rehearsal.set import VirtualSet
from aligner.rehearsal.strip import StripElectrical, screw_of
from aligner.rehearsal.truth import Judged

StripStep = IfPeakStep | IfSweepStep | DetectorStep
_PEAKED_DB = 0.5  # a can is peaked where turning it would not give so much more; nobody hears less
_ABOUT_IN_TUNE = 0.8
_GRID = 513


class StripTruth:
    """The truth about the strip of one virtual set as it stands now."""

    def __init__(self, virtual: VirtualSet) -> None:
        self._set = virtual
        strip = virtual.parts.strip
        assert strip is not None  # noqa: S101 - the steps that are judged belong to a strip
        self._strip = StripElectrical(strip)
        self.centre_hz = self._strip.centre_hz(virtual.positions())

    def judge(self, step: StripStep, said_hz: float | None) -> Judged:
        """How a step truly stands; said_hz [Hz] is the error that its report gives."""
        if isinstance(step, IfPeakStep):
            return self._peaked(step)
        return self._swept(step, said_hz) if isinstance(step, IfSweepStep) else self._detected(step)

    def _swept(self, step: IfSweepStep, said_hz: float | None) -> Judged:
        """How far the centre that was found is from the true one; none can be found where it lies too far off."""
        off = self.centre_hz - self._set.procedure.intermediate_hz
        missed = math.inf if said_hz is None else abs(said_hz - off)
        cannot = step.off_hz is not None and abs(off) > step.off_hz
        return Judged(step.id, step.tolerance_hz, missed, math.inf if cannot else 0.0, shown=off)

    def _peaked(self, step: IfPeakStep) -> Judged:
        """The most level [dB] that turning any one can, alone and with its other winding loaded, would still give."""
        screws = [screw_of(row) for can in self._strip.strip.cans if can.id in step.cans for row in can.windings]
        missing = [self._missing_db(step, screw) for screw in screws if screw]
        error = max((row[0] for row in missing), default=0.0)
        return Judged(step.id, _PEAKED_DB, error, math.inf if any(row[1] for row in missing) else 0.0)

    def _missing_db(self, step: IfPeakStep, screw: str) -> tuple[float, bool]:
        """What a screw would still give on the true IF, and whether its best is at an end of its travel."""
        can = next(row for row in self._strip.strip.cans if any(screw_of(own) == screw for own in row.windings))
        other = next((screw_of(row) for row in can.windings if screw_of(row) != screw), "")
        loaded = StripElectrical(self._strip.strip, other if can.id in step.swamped else "")
        hz = self._generator_hz(step)
        low, high = self._set.hand.reach(screw)
        grid = np.linspace(low, high, _GRID)
        levels = np.asarray(loaded.level_db(hz, self._set.bench.with_screw(screw, grid)))
        now = float(loaded.level_db(hz, self._set.positions()))
        best = int(np.argmax(levels))
        return float(levels[best]) - now, best in (0, _GRID - 1)

    def _generator_hz(self, step: IfPeakStep) -> float:
        """Cans belong on the true IF, or on the nominal one where that is near enough for the step."""
        nominal = self._set.procedure.intermediate_hz
        if step.tolerance_hz is None or abs(self.centre_hz - nominal) <= step.tolerance_hz:
            return nominal
        return self.centre_hz

    def _detected(self, step: DetectorStep) -> Judged:
        """How far the true zero is from the middle of the strip; out of reach where the secondary cannot get there."""
        grid = self.centre_hz + np.linspace(-0.02, 0.02, 2 * _GRID) * self.centre_hz
        volts = np.asarray(self._strip.detector_volts(grid, self._set.positions())[0])
        (changes,) = np.nonzero(volts[:-1] * volts[1:] <= 0)
        shares = [float(volts[at] / (volts[at] - volts[at + 1])) for at in changes]
        zeros = [float(grid[at] + share * (grid[1] - grid[0])) for at, share in zip(changes, shares, strict=True)]
        error = min((abs(zero - self.centre_hz) for zero in zeros), default=math.inf)
        best = 0.0 if self._reaches(step.zero) and self._alike(step) else math.inf
        return Judged(step.id, step.tolerance_hz, error, best)

    def _reaches(self, screw: str) -> bool:
        low, high = self._set.hand.reach(screw)
        places = self._set.bench.with_screw(screw, np.linspace(low, high, _GRID))
        volts = np.asarray(self._strip.detector_volts(self.centre_hz, places)[0])
        return bool(volts.min() < 0 < volts.max())

    def _alike(self, step: DetectorStep) -> bool:
        """Whether both peaks can be as alike as is asked for, with the primary about in tune.

        Far out of tune it is nearly nothing to both of them: they are alike again, and small.
        """
        if not step.symmetry:
            return True
        low, high = self._set.hand.reach(step.symmetry)
        rows = [self._peaks({step.symmetry: float(at)}) for at in np.linspace(low, high, 129)]
        most = max(above + below for above, below in rows)
        about = [(above, below) for above, below in rows if above + below > _ABOUT_IN_TUNE * most]
        return any(2 * abs(above - below) / (above + below) <= step.asymmetry for above, below in about)

    def _peaks(self, moved: dict[str, float]) -> tuple[float, float]:
        places = {**self._set.positions(), **moved}
        grid = self.centre_hz * np.linspace(0.96, 1.04, _GRID)
        volts = np.asarray(self._strip.detector_volts(grid, places)[0])
        return float(volts.max()), -float(volts.min())
