"""Single parts of the design: coils, trimmers, padders, presets and their screws, from role, kind and what is given."""

from typing import Literal

from aligner.procedure.model import Adjuster, Circuit, Procedure
from aligner.rehearsal.parts import Coil, Preset, Screw, Trimmer, TunedCircuit, Winding
from aligner.rehearsal.population import Fixed

CORE_WIDTH = 0.51  # of the thread's travel: out of the coil, a core then still gives 2 % of its reach
_AIR_TURNS = 4.0  # what does not rotate has a travel too; so many steps of the hand


def coil_for(procedure: Procedure, fixed: Fixed, circuit: Circuit, henry: float, own_f: float) -> Coil:
    """The coil of a circuit: its nominal inductance [H] stands where the adjuster gives half of its reach."""
    adjusters = [procedure.adjuster(name) for name in circuit.adjusters]
    adjuster = next((row for row in adjusters if row.does == "inductance"), None)
    law, reach = coil_law(fixed, adjuster)
    bare = henry / middle_of(law, reach)
    if adjuster is not None and adjuster.travel is not None:
        least, most = min(adjuster.travel), max(adjuster.travel)
        bare, reach = from_travel(law, reach, least, most)
    turns = coil_turns(fixed, adjuster, abs(bare * reach), law)
    fm = procedure.band_of(circuit.bands[0] if circuit.bands else "").high_hz > 30e6
    return Coil(
        screw=adjuster.id if adjuster else "",
        law=law,
        inductance=bare,
        reach=reach,
        centre=turns,
        width=CORE_WIDTH * turns,
        travel=turns,
        self_capacitance=own_f / (1 + fixed.coil.self_moves * (henry / bare - 1)),
        self_moves=fixed.coil.self_moves,
        quality=circuit.q or (fixed.coil.quality_fm if fm else fixed.coil.quality_am),
        ferrite_pull=fixed.coil.ferrite_pull,
        brass_pull=fixed.coil.brass_pull,
        brass_loss=fixed.coil.brass_loss,
    )


CoilLaw = Literal["core", "spread", "slide", "fixed"]


def coil_law(fixed: Fixed, adjuster: Adjuster | None) -> tuple[CoilLaw, float]:
    """How a coil is changed, and by how much at most."""
    if adjuster is None:
        return "fixed", 0.0
    if adjuster.kind == "air-coil":
        return "spread", fixed.coil.spread_reach
    if adjuster.kind == "rod-coil":
        return "slide", fixed.coil.slide_reach
    return "core", -fixed.coil.reach_brass if adjuster.kind == "brass-core" else fixed.coil.reach


def middle_of(law: CoilLaw, reach: float) -> float:
    """Inductance in the middle of what the adjuster does, against that with no effect of it."""
    return {"core": 1 + reach / 2, "spread": 1 / (1 + 0.375 * reach), "slide": 1 - reach / 2, "fixed": 1.0}[law]


def from_travel(law: CoilLaw, reach: float, least: float, most: float) -> tuple[float, float]:
    """Bare inductance [H] and reach of a coil between two limits [H]."""
    if law == "core":
        return (least, most / least - 1) if reach > 0 else (most, least / most - 1)
    return (most, most / least - 1) if law == "spread" else (most, 1 - least / most)


def coil_turns(fixed: Fixed, adjuster: Adjuster | None, span_h: float, law: CoilLaw) -> float:
    """Travel [turn]."""
    if law != "core":
        return _AIR_TURNS
    if adjuster is not None and adjuster.turn is not None:
        return 1.6 * span_h / abs(adjuster.turn)  # `turn` is the steepest effect; the bell's mean is less
    return fixed.coil.turns


def trimmer_for(fixed: Fixed, adjuster: Adjuster, middle_f: float) -> Trimmer:
    """A trimmer whose mean of limits [F] is the design's value."""
    low, high = adjuster.travel or (0.15 * middle_f, 1.85 * middle_f)
    law: Literal["compression", "piston", "rotary"] = "piston"
    turns = fixed.capacitor.piston_turns
    if adjuster.kind == "compression-trimmer":
        law, turns = "compression", fixed.capacitor.trimmer_turns
    elif adjuster.kind == "rotary-trimmer":
        law, turns = "rotary", 1.0
    elif adjuster.kind == "wire-trimmer":
        turns = _AIR_TURNS
    if adjuster.turn is not None and law != "rotary":
        turns = abs(high - low) / abs(adjuster.turn)
    return Trimmer(adjuster.id, law, min(low, high), max(low, high), turns, fixed.capacitor.curvature)


def padder_for(fixed: Fixed, adjuster: Adjuster, nominal_f: float) -> Trimmer:
    """A padder whose limits lie evenly, by ratio, around the design's value [F]."""
    made = trimmer_for(fixed, adjuster, nominal_f)
    low, high = adjuster.travel or (nominal_f / 1.4, nominal_f * 1.4)
    return Trimmer(adjuster.id, made.law, min(low, high), max(low, high), made.travel, made.curvature)


def fixed_padder(nominal_f: float) -> Trimmer:
    """A padder that nobody turns [F]."""
    return Trimmer("", "fixed", nominal_f, nominal_f, 1.0, 0.0)


def side_of(procedure: Procedure) -> Literal[1, -1]:
    """On which side of the signal the oscillator runs."""
    return 1 if procedure.oscillator == "above" else -1


def preset_for(fixed: Fixed, adjuster_id: str, sets: Literal["low-end", "high-end"]) -> Preset:
    """A preset of one end's tuning voltage."""
    return Preset(adjuster_id, sets, fixed.preset.reach, fixed.preset.turns)


def screws_for(
    procedure: Procedure, fixed: Fixed, circuits: tuple[TunedCircuit, ...], windings: tuple[Winding, ...] = ()
) -> tuple[Screw, ...]:
    """A screw for every adjuster of the circuits, of the tuning voltage and of the strip's windings."""
    travels: dict[str, float] = {}
    for circuit in circuits:
        travels.setdefault(circuit.coil.screw, circuit.coil.travel)
        for trimmer in (*circuit.trimmers, *((circuit.padder,) if circuit.padder else ())):
            travels.setdefault(trimmer.screw, trimmer.travel)
    travels.update((name, fixed.preset.turns) for name, _ in procedure.tuning.presets)
    for winding in windings:
        travels[winding.coil.screw] = winding.coil.travel
        if winding.trimmer is not None:
            travels[winding.trimmer.screw] = winding.trimmer.travel
    return tuple(_screw(procedure.adjuster(name), turns) for name, turns in travels.items() if name)


def _screw(adjuster: Adjuster, turns: float) -> Screw:
    inwards_is_less = adjuster.kind in ("brass-core", "air-coil", "rod-coil")
    clockwise_in = adjuster.rotation is None or (adjuster.rotation == "less") == inwards_is_less
    return Screw(
        id=adjuster.id,
        travel=turns,
        start=turns / 2,
        stops=adjuster.kind != "rotary-trimmer",
        clockwise=1 if clockwise_in else -1,
        counted=adjuster.counted,
    )
