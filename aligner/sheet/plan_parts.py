"""What every coil, trimmer and padder must be, and whether its adjuster's travel reaches that."""

from aligner.circuits.tank import TunedCircuit
from aligner.procedure.model import Circuit
from aligner.sheet.ground import Ground, parts_of
from aligner.sheet.plan_model import Part, PartPlan, Verdict

_TRAVEL = 1e-6  # of a value: what went through a solver is not outside for its last digits


def parts_planned(ground: Ground, circuit: Circuit, set_to: TunedCircuit) -> tuple[PartPlan, ...]:
    """The values of one circuit, coil first."""
    coil = _planned(ground, circuit, "inductance", set_to.inductance_h, _coil_share(ground, set_to))
    trimmer = _planned(ground, circuit, "trimmer", set_to.trimmer_f, set_to.trimmer_f / ground.unit_f)
    if set_to.padder_f is None:
        return coil, trimmer
    return coil, trimmer, _planned(ground, circuit, "padder", set_to.padder_f, set_to.padder_f / ground.unit_f)


def _coil_share(ground: Ground, set_to: TunedCircuit) -> float:
    """The coil against that of the reference circuit, whose whole capacitance in mid-band is the unit."""
    middle = (ground.band.low_hz * ground.band.high_hz) ** 0.5
    own = ground.stands_hz(middle) if ground.reference == "the oscillator" else middle
    return set_to.inductance_h / float(TunedCircuit(1.0, 0.0).inductance_for_h(own, ground.unit_f))


_DOES: dict[Part, str] = {"inductance": "inductance", "trimmer": "parallel", "padder": "series"}


def _planned(ground: Ground, circuit: Circuit, part: Part, value: float, share: float) -> PartPlan:
    names = parts_of(ground.procedure, circuit, _DOES[part])
    travel = _travel(ground, names)
    needed = value if ground.absolute else None
    verdict, strays = _verdict(part, needed, travel)
    return PartPlan(
        circuit=circuit.id,
        adjuster=" + ".join(names),
        part=part,
        needed=needed,
        share=None if ground.absolute else share,
        share_of="" if ground.absolute else ground.reference,
        travel=travel,
        verdict=verdict,
        strays_f=strays,
        key=_key(ground, names, travel) if names and verdict == "unknown" else "",
        given=circuit.padder_f if part == "padder" and not names else None,
    )


def _travel(ground: Ground, names: tuple[str, ...]) -> tuple[float, float] | None:
    """Of several adjusters that do the same the travels add up."""
    travels = [ground.procedure.adjuster(name).travel for name in names]
    known = [travel for travel in travels if travel is not None]
    if not known or len(known) < len(travels):
        return None
    return sum(travel[0] for travel in known), sum(travel[1] for travel in known)


def _verdict(
    part: Part, needed: float | None, travel: tuple[float, float] | None
) -> tuple[Verdict, tuple[float, float] | None]:
    """A trimmer has strays beside it that nobody knows: the verdict then says how much of them there may be."""
    if needed is None or travel is None:
        return "unknown", None
    low, high = travel[0] * (1 - _TRAVEL), travel[1] * (1 + _TRAVEL)
    if part != "trimmer":
        return ("inside" if low <= needed <= high else "outside"), None
    strays = max(needed - travel[1], 0.0), needed - travel[0]
    if needed < low:
        return "outside", None
    return ("inside" if needed <= high else "strays"), strays


def _key(ground: Ground, names: tuple[str, ...], travel: tuple[float, float] | None) -> str:
    missing = []
    if not ground.absolute:
        missing.append(values_key(ground))
    if travel is None:
        untold = [name for name in names if ground.procedure.adjuster(name).travel is None]
        missing.append(f"travel of {' and '.join(untold)}")
    return "; ".join(missing)


def values_key(ground: Ground) -> str:
    """The key under [tuning] that would give values in pF and uH."""
    return "[tuning] curve" if ground.procedure.tuning.by == "voltage" else "[tuning] range or curve"
