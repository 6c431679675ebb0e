"""The set on its bench at one moment: tuned somewhere, fed by a generator, read by instruments, drifting with time."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import msgspec
import numpy as np

from aligner.procedure.model import CoverageStep, Procedure
from aligner.rehearsal.electrical import Electrical, Positions, crossing
from aligner.rehearsal.hand import Hand
from aligner.rehearsal.instruments import Instruments
from aligner.rehearsal.laws import Numbers, scale_rows
from aligner.rehearsal.parts import Preset, TunedCircuit
from aligner.rehearsal.strip import StripElectrical

_USEFUL_DB = 40.0  # further down than this nobody can peak anything


@dataclass
class Bench:
    """State outside of the adjusters: time [s], wander, tuning, generator."""

    procedure: Procedure
    electrical: Electrical
    hand: Hand
    instruments: Instruments
    at_s: float = 0.0
    wander: float = 0.0
    tuning: float = 0.0
    generator_hz: float | None = None
    lost: bool = False  # the set cannot be tuned to the point that was asked for
    strip: StripElectrical | None = None
    _tuned: tuple[object, ...] = field(default=())
    _pointer: float | None = None  # the place of the scale that was tuned to, whose voltage the presets make

    def __post_init__(self) -> None:
        self.tuning = sum(self.electrical.parts.ends) / 2

    def begin(self, band: str) -> None:
        """Work on that band."""
        if band and band != self.electrical.band:
            self.electrical = replace(self.electrical, band=band)

    def settle_strip(self) -> None:
        """The middle of the strip, as its cans stand now, is the IF that the set is truly tuned by."""
        if self.strip is not None:
            centre = self.strip.centre_hz(self.positions())
            parts = msgspec.structs.replace(self.electrical.parts, intermediate=centre)
            self.electrical = replace(self.electrical, parts=parts)

    def wait(self, seconds: float) -> None:
        """Time goes by, and the oscillator wanders."""
        self.at_s += seconds
        self.wander += self.instruments.normal(self.instruments.population.spread.oscillator.wander) * math.sqrt(
            seconds / 60
        )

    @property
    def drift(self) -> float:
        """Relative error of the oscillator against its settled frequency, now."""
        parts = self.electrical.parts
        return parts.settle * math.exp(-self.at_s / parts.settle_s) + self.wander

    def positions(self) -> Positions:
        """Where the screws stand."""
        return self.hand.at

    def with_screw(self, name: str, places: Numbers) -> Positions:
        """The same with one screw at other places."""
        return {**self.hand.at, name: places}

    # Tuning

    def tune(self, point: Mapping[str, object]) -> None:
        """Tune to a point; left alone where the set stands there already."""
        key = self._key(point)
        if key == self._tuned:
            return
        at = self._where(point)
        self._tuned = key if at is not None else ()
        self.lost = at is None
        if at is not None:
            low, high = self.electrical.parts.tuning
            self.tuning = min(max(at, low), high)

    def _key(self, point: Mapping[str, object]) -> tuple[object, ...]:
        """What a tuning rests on: the point, and for a received frequency the oscillator's screws."""
        places = [
            *sorted((name, at) for name, at in point.items() if at is not None),
            ("band", self.procedure.band_of(self.electrical.band).id),
        ]
        if point.get("received") is not None:
            screws = (self.hand.at[name] for name in self._oscillator_screws())
            return (*places, self.electrical.parts.intermediate, *screws)
        return (*places, *(self.hand.at[row.screw] for row in self.electrical.parts.presets))

    def _oscillator_screws(self) -> tuple[str, ...]:
        circuit = self.electrical.oscillator
        padder = (circuit.padder.screw,) if circuit.padder else ()
        names = (circuit.coil.screw, *(row.screw for row in circuit.trimmers), *padder)
        return tuple(name for name in names if name)

    def _where(self, point: Mapping[str, object]) -> float | None:
        spread = self.instruments.population.spread.tuning
        normal = self.instruments.normal
        self._pointer = None
        for name, value in point.items():
            if value is None:
                continue
            if name == "received":
                return self._received(float(str(value)) * (1 + normal(spread.received)))
            if name == "volts":
                return float(str(value)) + normal(spread.volts_v)
            if name == "end":
                self._pointer = self.electrical.parts.ends[0 if value == "low" else 1]
                return float(self.by_preset(self._pointer))
            hz = float(str(value)) if name == "dial" else self._marked(str(value))
            self._pointer = self.dialled(hz)
            return float(self.by_preset(self._pointer)) + normal(self._dial_sd())
        return self.tuning

    def _dial_sd(self) -> float:
        spread = self.instruments.population.spread.tuning
        return spread.shaft if self.electrical.parts.gang else spread.volts_v

    def _received(self, hz: float) -> float | None:
        settled = hz + self.electrical.parts.side * self.electrical.parts.intermediate
        wanted = settled / (1 + self.drift) - self.electrical.parts.side * self.electrical.parts.intermediate
        return self.electrical.tuned_to(wanted, self.positions(), self.tuning)

    def dialled(self, hz: float) -> float:
        """The position of the tuning where the printed scale says so."""
        return float(scale_rows(self.electrical.parts.scale(self.electrical.band))(hz))

    def _marked(self, mark: str) -> float:
        """The frequency that a mark on the scale stands for."""
        here = self.procedure.band_of(self.electrical.band)
        for step in self.procedure.steps:
            if isinstance(step, CoverageStep) and self.procedure.band_of(step.band) == here:
                for point in step.points:
                    if point.place.mark == mark:
                        return point.received_hz
        return here.low_hz

    def by_preset(self, tuning: float, positions: Positions | None = None) -> Numbers:
        """A position as the presets of both ends' voltages make it, as they stand or at other places."""
        parts = self.electrical.parts
        if not parts.presets:
            return tuning
        low, high = parts.ends
        share = (tuning - low) / (high - low)
        made: dict[str, Numbers] = {"low-end": low, "high-end": high}
        for preset in parts.presets:
            made[preset.sets] = made[preset.sets] * self.preset(preset, positions)
        return made["low-end"] + share * (made["high-end"] - made["low-end"])

    def preset(self, preset: Preset, positions: Positions | None = None) -> Numbers:
        """By what factor a preset changes its end's voltage, as it stands or at other places."""
        at = (self.hand.at if positions is None else positions)[preset.screw]
        return 1 + preset.reach * (2 * at / preset.travel - 1)

    def with_presets(self, positions: Positions) -> Numbers:
        """Where the tuning comes to with presets at other places, the pointer left alone."""
        if self._pointer is None:
            return self.tuning
        return self.tuning + self.by_preset(self._pointer, positions) - self.by_preset(self._pointer)

    def settle_presets(self, before: Positions) -> None:
        """The tuning follows presets that stood elsewhere before."""
        if self._pointer is not None:
            self.tuning += float(self.by_preset(self._pointer)) - float(self.by_preset(self._pointer, before))

    # Readings

    def oscillator_hz(self, positions: Positions | None = None) -> Numbers:
        """The oscillator [Hz] as it runs now."""
        where = self.positions() if positions is None else positions
        return self.electrical.oscillator_hz(self.with_presets(where), where) * (1 + self.drift)

    def level_db(self, positions: Positions | None = None, generator_hz: float | None = None) -> Numbers:
        """Level [dB] against everything peaked, behind the IF or ahead of it."""
        where = self.positions() if positions is None else positions
        hz = generator_hz or self.generator_hz or self.received_hz()
        level = self.electrical.signal_db(self.tuning, where, hz)
        if self.instruments.population.fixed.meter.behind_intermediate:
            level = level + self.intermediate_db(hz, self.oscillator_hz(where))
        return level

    def received_hz(self) -> float:
        """What the set receives now [Hz]."""
        parts = self.electrical.parts
        return float(self.oscillator_hz()) - parts.side * parts.intermediate

    def intermediate_db(self, generator_hz: float, oscillator_hz: Numbers) -> Numbers:
        """Loss [dB] of the IF: the strip's, or flat within its width and steep outside (a maximally flat pair)."""
        parts = self.electrical.parts
        mixed = np.abs(oscillator_hz - generator_hz)  # on whichever side: that is why there is an image
        if self.strip is not None and self.strip.selects:
            return self.strip.level_db(np.maximum(mixed, 1.0), self.positions())
        off = mixed - parts.intermediate
        width = self.instruments.population.fixed.meter.intermediate_width * parts.intermediate
        return -10 * np.log10(1 + (2 * off / width) ** 4)

    def reading(self, quantity: str, circuit: str) -> float | None:
        """A reading; None where there is nothing to read."""
        if self.lost:
            return None
        if quantity == "frequency":
            return self.instruments.frequency(float(self.oscillator_hz()))
        if quantity == "resonance":
            return self.instruments.resonance(float(self.resonance(self.circuit(circuit))))
        if quantity == "level":
            return self.level_reading(float(self.level_db()))
        return self._volts(circuit)

    def level_reading(self, level_db: float) -> float | None:
        """What the level meter shows; None in the noise."""
        if level_db < -self.instruments.population.fixed.meter.floor_db:
            return None
        return self.instruments.level(self.electrical.parts.gain_db + level_db)

    def _volts(self, circuit: str) -> float | None:
        """The stage's own tuning voltage that peaks it on the generator; of the whole set where no circuit is named."""
        named = self.circuit(circuit) if circuit else None
        if named is None or named.role == "oscillator" or self.generator_hz is None:
            return self.instruments.volts(self.tuning)
        aim = self.generator_hz + self.peak_error_hz(named, self.generator_hz, fine=False)
        low, high = self.electrical.parts.tuning
        where = self.positions()
        at = crossing(lambda x: self.electrical.resonance(named, x, where), low, high, aim, self.tuning)
        return None if at is None else self.instruments.volts(at)

    def circuit(self, circuit_id: str) -> TunedCircuit:
        """The circuit of that id; the oscillator where none is named."""
        return self.electrical.parts.circuit(circuit_id) if circuit_id else self.electrical.oscillator

    def resonance(self, circuit: TunedCircuit, positions: Positions | None = None) -> Numbers:
        """A circuit's own resonance [Hz] now."""
        where = self.positions() if positions is None else positions
        if circuit.role == "oscillator":
            return self.oscillator_hz(where)
        return self.electrical.resonance(circuit, self.tuning, where)

    def peak_error_hz(self, circuit: TunedCircuit, at_hz: float, *, fine: bool) -> float:
        """How far off [Hz] a person leaves a peak: with the bandwidth, stated at 98 MHz and Q 60."""
        spread = self.instruments.population.spread.hand
        sd = spread.peak_fine_hz if fine else spread.peak_plain_hz
        return self.instruments.normal(sd) * (at_hz / 98e6) * (60 / circuit.coil.quality)

    def useful(self, level_db: float) -> bool:
        """Whether there is enough signal to peak something on."""
        return level_db > -_USEFUL_DB

    def wand(self, circuit_id: str) -> tuple[float, float, float] | None:
        """Level readings [dB]: no wand, its ferrite end, its brass end."""
        circuit = self.circuit(circuit_id)
        hz = self.generator_hz or self.received_hz()
        resonance = float(self.resonance(circuit))
        coil = circuit.coil
        base = float(self.level_db()) - float(self.electrical.response_db(circuit, resonance, hz))
        levels = []
        for pull, loss in ((0.0, 0.0), (coil.ferrite_pull, 0.0), (-coil.brass_pull, coil.brass_loss)):
            pulled = resonance / math.sqrt(1 + pull)
            quality = coil.quality * (1 - loss)
            off = quality * (hz / pulled - pulled / hz)
            levels.append(self.level_reading(base - 10 * math.log10(1 + off * off) + 20 * math.log10(1 - loss)))
        none, ferrite, brass = levels
        return None if none is None or ferrite is None or brass is None else (none, ferrite, brass)

    def swept(self, hz: float, circuit_id: str) -> float:
        """Level [dB] at one frequency of a sweep through one signal circuit or all of them, ahead of the IF."""
        rows = (self.circuit(circuit_id),) if circuit_id else self.electrical.signals
        level = sum(float(self.electrical.response_db(row, self.resonance(row), hz)) for row in rows)
        return self.instruments.level(self.electrical.parts.gain_db + level)
