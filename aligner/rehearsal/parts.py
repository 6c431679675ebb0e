"""The parts that a virtual set is made of, as frozen values; a set file in `demo_data/` writes them as TOML.

Positions of adjusters are in turns inwards from the outer stop; what does not rotate has a position all the same.
"""

from typing import Literal

import msgspec


class _Part(msgspec.Struct, frozen=True, forbid_unknown_fields=True, rename="kebab"):
    """A table of a set file; an unknown key is a fault."""


class Screw(_Part, frozen=True):
    """What a hand can move. travel and start [turn]; stops False: it goes round and round.

    clockwise is +1 where a clockwise turn goes inwards; play [turn] is lost when the sense changes.
    """

    id: str
    travel: float
    start: float
    stops: bool = True
    clockwise: Literal[1, -1] = 1
    play: float = 0.0
    counted: bool = False


class Coil(_Part, frozen=True):
    """An inductance [H] and what comes with it.

    law: `core` L = inductance (1 + reach exp(-((u - centre) / width)^2)), reach negative for brass;
    `spread` L = inductance / (1 + reach p (1 + p) / 2), p the part of the travel; `slide` L falls by
    `reach` as the coil leaves the rod; `fixed`. The self-capacitance [F] rises by `self_moves` of L's relative rise.
    """

    screw: str
    law: Literal["core", "spread", "slide", "fixed"]
    inductance: float
    reach: float
    centre: float
    width: float
    travel: float
    self_capacitance: float
    self_moves: float
    quality: float
    ferrite_pull: float
    brass_pull: float
    brass_loss: float


class Trimmer(_Part, frozen=True):
    """A capacitor [F] between two limits.

    law: `compression` C = low + (high - low) p / (1 + curvature (1 - p)); `piston` nearly straight;
    `rotary` C = middle - half span cos(2 pi u), two settings a turn; `fixed` C = low.
    """

    screw: str
    law: Literal["compression", "piston", "rotary", "fixed"]
    low: float
    high: float
    travel: float
    curvature: float


class Diode(_Part, frozen=True):
    """A tuning diode: C = junction / (1 + V / potential)^exponent + fixed [F], in series with `coupling` [F] (0: none).

    swing [V] is the amplitude of the signal across it, which raises the mean capacitance.
    """

    junction: float
    potential: float
    exponent: float
    fixed: float
    coupling: float
    swing: float


class Section(_Part, frozen=True):
    """A section of a gang: the gang's law times scale and three smooth bends, and an offset [F].

    A section whose plates are cut has its own law, rows of (shaft, F).
    """

    scale: float
    offset: float
    bends: tuple[float, float, float]
    rows: tuple[tuple[float, float], ...] = ()


class GangLaw(_Part, frozen=True):
    """The capacitance [F] over the shaft, 0 closed to 1 open.

    blend 0: straight-line capacitance, 1: straight-line frequency with `stray` [F]; or rows (shaft, F) where given.
    """

    low: float
    high: float
    stray: float
    blend: float
    rows: tuple[tuple[float, float], ...] = ()


class TunedCircuit(_Part, frozen=True):
    """One circuit: coil, tuning element, trimmers, strays [F] on the tuning's and on the coil's side of the padder."""

    id: str
    role: Literal["oscillator", "signal"]
    bands: tuple[str, ...]
    coil: Coil
    trimmers: tuple[Trimmer, ...]
    trimmer_across: Literal["tuning", "coil"]
    stray: float
    coil_stray: float
    padder: Trimmer | None = None
    diode: Diode | None = None
    section: Section | None = None


class Preset(_Part, frozen=True):
    """A preset that sets one end's tuning voltage: 1 +- reach over its travel, 1 in the middle."""

    screw: str
    sets: Literal["low-end", "high-end"]
    reach: float
    travel: float


class Winding(_Part, frozen=True):
    """One tuned winding of a can: a coil with `farad` [F] across it, and a trimmer where that is what is turned."""

    coil: Coil
    farad: float
    trimmer: Trimmer | None = None


class Can(_Part, frozen=True):
    """A can of the IF strip: one winding, or two with the coefficient of coupling `coupling` [1]."""

    id: str
    windings: tuple[Winding, ...]
    coupling: float = 0.0


class Filter(_Part, frozen=True):
    """A ceramic filter: two coupled modes at `centre` [Hz] with `quality` [1] each; coupling is k times quality [1]."""

    centre: float
    quality: float
    coupling: float


class Detector(_Part, frozen=True):
    """An FM detector. height [V], with the sign of its slope; coupling [1]; share [1]: half the secondary per primary.

    A quadrature detector has no primary.
    """

    id: str
    form: Literal["discriminator", "ratio", "quadrature"]
    secondary: Winding
    height: float
    primary: Winding | None = None
    coupling: float = 0.0
    share: float = 1.0


class Trap(_Part, frozen=True):
    """A trap in series with the signal; depth [1] is what is left through at its minimum."""

    id: str
    winding: Winding
    depth: float


class Strip(_Part, frozen=True):
    """Everything behind the mixer, and the traps. nominal [Hz] is what the strip is said to be for.

    loaded [1]: what is left of the Q of a winding that is swamped; headroom [dB]: how far the limiter is driven;
    through [dB]: how far below the mixer's input the aerial stands for a signal on the IF.
    """

    nominal: float
    cans: tuple[Can, ...]
    filters: tuple[Filter, ...]
    traps: tuple[Trap, ...]
    loaded: float
    headroom: float
    through: float
    detector: Detector | None = None


class Parts(_Part, frozen=True):
    """A whole set. tuning: least and greatest position that the tuning can be set to ([V] or shaft).

    ends: where the ends of frequency are. dial: rows (Hz, position) of the printed scale. intermediate [Hz] is true.
    settle: oscillator's relative error when work begins; pulling: coupling of each signal circuit into the oscillator.
    """

    circuits: tuple[TunedCircuit, ...]
    screws: tuple[Screw, ...]
    tuning: tuple[float, float]
    ends: tuple[float, float]
    dial: tuple[tuple[float, float], ...]
    intermediate: float
    side: Literal[1, -1]
    gang: GangLaw | None = None
    presets: tuple[Preset, ...] = ()
    settle: float = 0.0
    settle_s: float = 900.0
    pulling: float = 0.0
    gain_db: float = 0.0
    strip: Strip | None = None
    more_dials: dict[str, tuple[tuple[float, float], ...]] = {}  # of the other bands, by their ids

    def scale(self, band: str) -> tuple[tuple[float, float], ...]:
        """The printed scale of a band."""
        return self.more_dials.get(band, self.dial)

    def circuit(self, circuit_id: str) -> TunedCircuit:
        """The circuit of that id."""
        return next(circuit for circuit in self.circuits if circuit.id == circuit_id)

    def screw(self, screw_id: str) -> Screw:
        """The screw of that id."""
        return next(screw for screw in self.screws if screw.id == screw_id)
