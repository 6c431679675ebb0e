"""The step `if-peak`: every can of the IF strip peaked, from the last to the first.

The last can goes first because the ones before it then work into a strip that is already right. Of a can that is
coupled past critical each winding is peaked while the other is loaded: alone it has one peak, and that is its own
resonance; unloaded the pair shows two humps, and peaking either winding would tilt them.
"""

from dataclasses import dataclass

from aligner.engine.answers import Cannot, Done, Reading, Result
from aligner.engine.asks import Ask, Confirm, Peak, Point, Read
from aligner.engine.bench import Bench, Outcome
from aligner.engine.clipping import clip_on, take_off
from aligner.engine.history import Entry
from aligner.engine.if_peak_words import peak_text, suspicion
from aligner.engine.outcomes import busy, plain
from aligner.engine.strip import into_words, rest_point, rest_words, strip_generator
from aligner.engine.survey import StepReport
from aligner.estimate.events import Moved
from aligner.procedure.model import IfPeakStep
from aligner.quantity import show

FALL_DB = 1.0
"""A strip that reads so much less after peaking than before was peaked on something else."""
MOST_PEAKS = 2
"""Peaks of one adjuster in one state of the strip: a second look where the first was odd, and no third."""


@dataclass(frozen=True)
class _Scene:
    """What the choice of the next ask looks at."""

    bench: Bench
    step: IfPeakStep
    entries: tuple[Entry, ...]
    point: Point

    @property
    def hz(self) -> float:
        """Where the generator stands."""
        return self.bench.intermediate_hz if self.step.tolerance_hz else self.bench.procedure.intermediate_hz

    @property
    def turned(self) -> tuple[str, ...]:
        """Adjusters in the order in which they are peaked."""
        cans = [self.bench.procedure.circuit(can) for can in reversed(self.step.cans)]
        return tuple(name for can in cans for name in reversed(can.adjusters))

    @property
    def peaks(self) -> list[Entry]:
        """Peaks that were tried, oldest first."""
        return [e for e in self.entries if isinstance(e.ask, Peak) and isinstance(e.answer, Result)]

    @property
    def levels(self) -> list[Entry]:
        """Levels of the whole strip, oldest first."""
        return [e for e in self.entries if isinstance(e.ask, Read) and isinstance(e.answer, Reading)]

    def other_winding(self, name: str) -> str:
        """The adjuster of the winding that is loaded while this one is peaked; empty for a can that is not swamped."""
        can = next(c for c in self.step.cans if name in self.bench.procedure.circuit(c).adjusters)
        if can not in self.step.swamped:
            return ""
        return next(other for other in self.bench.procedure.circuit(can).adjusters if other != name)


def work(bench: Bench, step: IfPeakStep, *, passed: bool) -> Outcome:
    """Held when everything was peaked since it was last moved, nothing is clipped on, and the level did not fall."""
    scene = _Scene(bench, step, bench.ledger.of_step(step.id), rest_point(bench.procedure, step.place))
    if any(isinstance(e.ask, Read) and isinstance(e.answer, Cannot) for e in scene.entries):
        return plain(step, "at-limit", "no level comes through the strip: a fault, not a misalignment; find it first")
    ask = _prepared(scene) or _before(scene) or _next_peak(scene) or _unclipped(scene) or _after(scene)
    if ask is not None:
        left = sum(not _settled(scene, name) for name in scene.turned)
        return plain(step, busy(passed=passed), f"{len(scene.turned) - left} of {len(scene.turned)} peaked", ask)
    return Outcome(_judged(scene))


def _prepared(scene: _Scene) -> Confirm | None:
    """Generator and AGC, before anything is read."""
    first = next((n for n, e in enumerate(scene.entries) if isinstance(e.ask, Read)), len(scene.entries))
    done = sum(isinstance(e.ask, Confirm) and isinstance(e.answer, Done) for e in scene.entries[:first])
    generator = strip_generator(scene.bench.procedure, scene.step.generator, scene.hz)
    weak = (
        f"{rest_words(scene.bench.procedure, scene.point)}Generator to {show(scene.hz, 'Hz')}, "
        f"{into_words(generator)}, so weak that neither AGC nor limiter acts even when the strip is at its best; leave "
        "its output so to the end of this step."
    )
    things = [weak]
    if scene.step.clamp:
        things.append(clip_on(f"Hold the AGC: {scene.step.clamp.rstrip('.')}."))
    if done >= len(things) or first < len(scene.entries):
        return None
    why = "Peaks are only true where nothing evens the level out."
    return Confirm(id=0, step=scene.step.id, text=things[done], why=why)


def _before(scene: _Scene) -> Read | None:
    return None if scene.levels else _level(scene, "What the strip gives before anything is turned.")


def _after(scene: _Scene) -> Read | None:
    if scene.levels[-1].seq > max(e.seq for e in scene.peaks):
        return None
    return _level(scene, "What the strip gives with all cans peaked, against what it gave before.")


def _level(scene: _Scene, why: str) -> Read:
    generator = strip_generator(scene.bench.procedure, scene.step.generator, scene.hz)
    rest = rest_words(scene.bench.procedure, scene.point)
    return Read(
        id=0,
        step=scene.step.id,
        text=f"{rest}Generator to {show(scene.hz, 'Hz')}. Read the level; turn nothing.",
        why=why,
        quantity="level",
        circuit=scene.step.cans[-1],
        point=scene.point,
        generator=generator,
    )


def _next_peak(scene: _Scene) -> Ask | None:
    """The first adjuster that is not settled; before it whatever must be clipped over to the other winding."""
    for name in scene.turned:
        if not _settled(scene, name):
            clip = _clip(scene, scene.other_winding(name))
            return clip or _peak(scene, name)
    return None


def _settled(scene: _Scene, name: str) -> bool:
    """Whether an adjuster stands where it was peaked, on the IF as it is known, and nothing speaks against the peak."""
    own = _own(scene, name)
    if not own:
        return False
    moved = max((e.seq for e in scene.bench.ledger.events if isinstance(e, Moved) and e.adjuster == name), default=-1)
    if moved > 2 * own[-1].seq:
        return False
    off = abs(_hz(own[-1]) - scene.hz)
    if scene.step.tolerance_hz and off > scene.step.tolerance_hz and len({_hz(e) for e in own}) < MOST_PEAKS:
        return False
    here = [e for e in own if _hz(e) == _hz(own[-1])]
    return len(here) >= MOST_PEAKS or not _odd(scene, own[-1])


def _own(scene: _Scene, name: str) -> list[Entry]:
    return [e for e in scene.peaks if isinstance(e.ask, Peak) and e.ask.adjuster == name]


def _hz(entry: Entry) -> float:
    return entry.ask.generator.hz if isinstance(entry.ask, Peak) and entry.ask.generator is not None else 0.0


def _odd(scene: _Scene, entry: Entry) -> str:
    """Why a peak is looked at a second time; empty where nothing speaks against it."""
    ask, answer = entry.ask, entry.answer
    if not isinstance(ask, Peak) or not isinstance(answer, Reading):
        return ""
    before = None if scene.other_winding(ask.adjuster) else _level_before(scene, entry)
    return suspicion(scene.bench.procedure.adjuster(ask.adjuster), answer, before)


def _level_before(scene: _Scene, entry: Entry) -> float | None:
    """The level [dB] before a peak, by the newest reading of the same strip with nothing clipped across a winding."""
    known = None
    for earlier in scene.entries:
        if earlier.seq >= entry.seq:
            break
        if isinstance(earlier.ask, Peak) and isinstance(earlier.answer, Reading):
            known = None if scene.other_winding(earlier.ask.adjuster) else earlier.answer.value
        elif isinstance(earlier.ask, Read) and isinstance(earlier.answer, Reading):
            known = earlier.answer.value
    return known


def _clip(scene: _Scene, wanted: str) -> Confirm | None:
    """The resistor moved to the winding that is to be loaded, or (wanted empty) taken off."""
    last = max((*scene.peaks[-1:], scene.levels[-1]), key=lambda entry: entry.seq)
    # The whole strip is read with nothing clipped on, so after a level nothing is there.
    on = scene.other_winding(last.ask.adjuster) if isinstance(last.ask, Peak) else ""
    since = last.seq
    done = any(isinstance(e.ask, Confirm) and isinstance(e.answer, Done) and e.seq > since for e in scene.entries)
    if on == wanted or done:
        return None
    swamp = scene.step.swamp
    if not wanted:
        text, why = take_off(f"Take the {swamp} off the winding of {on}."), "Nothing may stay across a winding."
    else:
        again = f"Take the {swamp} off the winding of {on} and clip it" if on else f"Clip {swamp}"
        text = clip_on(f"{again} across the winding of {wanted}.")
        why = "With the other winding loaded this one has a single peak, its own; unloaded the pair has two humps."
    return Confirm(id=0, step=scene.step.id, text=text, why=why)


def _unclipped(scene: _Scene) -> Confirm | None:
    return _clip(scene, "")


def _peak(scene: _Scene, name: str) -> Peak:
    own = _own(scene, name)
    odd = _odd(scene, own[-1]) if own else ""
    adjuster = scene.bench.procedure.adjuster(name)
    first = "The cans are peaked from the last to the first, so that each works into a strip that is right."
    return Peak(
        id=0,
        step=scene.step.id,
        text=peak_text(adjuster, show(scene.hz, "Hz")),
        why=odd or first,
        adjuster=name,
        circuit=adjuster.circuits[0],
        point=scene.point,
        generator=strip_generator(scene.bench.procedure, scene.step.generator, scene.hz),
        fine=True,
    )


def _judged(scene: _Scene) -> StepReport:
    step = scene.step
    before, after = (e.answer.value for e in (scene.levels[0], scene.levels[-1]) if isinstance(e.answer, Reading))
    words = (
        f"{len(scene.turned)} peaked at {show(scene.hz, 'Hz')}, level {before:.1f} dB before and {after:.1f} dB after"
    )
    dead = [name for name in scene.turned if isinstance(_own(scene, name)[-1].answer, Cannot)]
    if dead:
        names = " and ".join(dead)
        fault = "a fault in the can (open or shorted turns, capacitor, core), not a misalignment"
        return StepReport(step.id, step.kind, step.title, "at-limit", f"{names} will not peak: {fault}; {words}")
    if after < before - FALL_DB:
        wrong = "a core stands on the wrong one of its peaks, or something oscillates"
        why = f"{words}: peaking can only raise it, so {wrong}"
        return StepReport(step.id, step.kind, step.title, "at-limit", why)
    return StepReport(step.id, step.kind, step.title, "held", words)
