"""The population that virtual sets are drawn from: the form of `demo_data/population.toml`."""

from pathlib import Path
from typing import TypeVar

import msgspec

from aligner.errors import UsageError


class _Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """A table of the file; an unknown key is a fault."""


class CoilSpread(_Table, frozen=True):
    """Relative standard deviations of coils."""

    inductance: float
    reach: float
    self_capacitance: float
    self_moves: float
    width: float
    quality: float


class CapacitorSpread(_Table, frozen=True):
    """Relative standard deviations of trimmers, padders and strays."""

    limits: float
    padder: float
    stray: float
    coupling: float
    curvature: float


class DiodeSpread(_Table, frozen=True):
    """Relative standard deviations of tuning diodes; swing_v [V]."""

    lot: float
    mismatch: float
    exponent: float
    potential: float
    swing_v: float


class GangSpread(_Table, frozen=True):
    """Relative standard deviations of gang sections; offset_f [F], print in parts of the travel."""

    lot: float
    mismatch: float
    offset_f: float
    bend: float
    print: float


class TuningSpread(_Table, frozen=True):
    """How closely a person sets the tuning: received and intermediate relative, volts_v [V], shaft of its travel."""

    received: float
    volts_v: float
    shaft: float
    intermediate: float


class OscillatorSpread(_Table, frozen=True):
    """How the oscillator moves by itself, relative; pulling [1]."""

    settle: float
    wander: float
    pulling: float


class CounterSpread(_Table, frozen=True):
    """Relative noise of a counter and of a reading of resonance."""

    noise: float
    resonance: float


class MeterSpread(_Table, frozen=True):
    """Noise of the level meter and of stopping against it [dB]."""

    noise_db: float
    stop_db: float


class HandSpread(_Table, frozen=True):
    """What a hand does: stop and stop_uncounted relative, peaks [Hz] at 98 MHz and Q 60, turn and backlash [turn]."""

    stop: float
    stop_uncounted: float
    peak_plain_hz: float
    peak_fine_hz: float
    turn: float
    backlash: float


class StripSpread(_Table, frozen=True):
    """Relative, of filters, windings and detectors; cold: of an oscillator just switched on; lock: of the travel."""

    filter_lot: float
    filter_mismatch: float
    filter_width: float
    winding: float
    coupling: float
    null: float
    volts: float
    cold: float
    lock: float


class Spread(_Table, frozen=True):
    """Everything that is multiplied when all spreads are."""

    coil: CoilSpread
    capacitor: CapacitorSpread
    diode: DiodeSpread
    gang: GangSpread
    tuning: TuningSpread
    oscillator: OscillatorSpread
    counter: CounterSpread
    meter: MeterSpread
    hand: HandSpread
    strip: StripSpread


class FixedCoil(_Table, frozen=True):
    """What coils of the population have in common."""

    reach: float
    reach_brass: float
    spread_reach: float
    slide_reach: float
    turns: float
    past_centre: float
    reversed: float
    self_moves: float
    quality_fm: float
    quality_am: float
    ferrite_pull: float
    brass_pull: float
    brass_loss: float
    wand_spread: float


class FixedCapacitor(_Table, frozen=True):
    """What trimmers have in common."""

    trimmer_turns: float
    piston_turns: float
    curvature: float


class FixedPreset(_Table, frozen=True):
    """What presets of the tuning voltage have in common."""

    turns: float
    reach: float


class FixedStart(_Table, frozen=True):
    """Where adjusters stand at first: anywhere in this share of the travel, around its middle."""

    share: float


class FixedOscillator(_Table, frozen=True):
    """settle_s [s], swing_v [V]."""

    settle_s: float
    swing_v: float


class FixedMeter(_Table, frozen=True):
    """Where and how levels are read."""

    agc_slope: float
    behind_intermediate: bool
    intermediate_width: float
    floor_db: float


class FixedTime(_Table, frozen=True):
    """How long things take [s]."""

    read_s: float
    touch_s: float
    peak_s: float


class FixedHand(_Table, frozen=True):
    """turn_resolution [turn]; tries [1]."""

    turn_resolution: float
    tries: int


class FixedStrip(_Table, frozen=True):
    """What strips have in common: reach, start_share, swamped, over, under [1], Q [1], headroom_db, through_db."""

    reach: float
    start_share: float
    quality_fm: float
    quality_am: float
    quality_detector: float
    over: float
    under: float
    swamped: float
    depth: float
    headroom_db: float
    through_db: float


class FixedBlunder(_Table, frozen=True):
    """share of typed readings."""

    share: float


class Fixed(_Table, frozen=True):
    """Everything that stays when spreads are multiplied."""

    coil: FixedCoil
    capacitor: FixedCapacitor
    preset: FixedPreset
    start: FixedStart
    oscillator: FixedOscillator
    meter: FixedMeter
    time: FixedTime
    hand: FixedHand
    blunder: FixedBlunder
    strip: FixedStrip


class Population(_Table, frozen=True):
    """One population file."""

    format: int
    spread: Spread
    fixed: Fixed


_T = TypeVar("_T", bound=msgspec.Struct)


def read_population(path: Path, factor: float = 1.0) -> Population:
    """The population of that file, with all spreads multiplied by `factor`."""
    try:
        read = msgspec.toml.decode(path.read_bytes(), type=Population)
    except (OSError, msgspec.MsgspecError) as fault:
        raise UsageError(f"{path.name}: {fault}; give a population file as demo_data/population.toml is one") from fault
    return msgspec.structs.replace(read, spread=_scaled(read.spread, factor))


def _scaled(table: _T, factor: float) -> _T:
    changed = {
        name: _scaled(value, factor) if isinstance(value, msgspec.Struct) else value * factor
        for name, value in msgspec.structs.asdict(table).items()
    }
    return msgspec.structs.replace(table, **changed)
