"""Adjusters that circuits of several bands share, and the order of the steps that leaves least to do again."""

from collections.abc import Iterator

from aligner.procedure.model import Adjuster, Circuit, CoverageStep, Procedure, TrackingStep


def substitutes(procedure: Procedure, circuit: Circuit, adjuster: Adjuster) -> tuple[str, ...]:
    """The circuit's own adjusters that do the same as a shared one."""
    rows = (procedure.adjuster(name) for name in circuit.adjusters)
    return tuple(
        row.id for row in rows if row.id != adjuster.id and row.does == adjuster.does and len(row.circuits) == 1
    )


def leans_on(procedure: Procedure, circuit: Circuit, adjuster: Adjuster) -> bool:
    """Whether a circuit has nothing of its own that does what a shared adjuster does."""
    return circuit.id in adjuster.circuits and not substitutes(procedure, circuit, adjuster)


def advice(procedure: Procedure) -> tuple[str, ...]:
    """What the order of the steps will make be done again, in words; empty where nothing will be."""
    return tuple(_advice(procedure))


def _advice(procedure: Procedure) -> Iterator[str]:
    for adjuster in procedure.adjusters:
        steps = _steps_on(procedure, adjuster)
        leaning = [s for s in steps if leans_on(procedure, procedure.circuit(s.circuit), adjuster)]
        bands = {s.band for s in leaning}
        if len({s.band for s in steps}) < 2:
            continue
        if len(bands) > 1:
            yield (
                f"{adjuster.id} alone serves {_listed([s.id for s in leaning])}: it can be right for one of them only, "
                f"and for the others within what its tolerance leaves; name another adjuster there if there is one"
            )
        first = min((steps.index(s) for s in leaning), default=0)
        early = [s.id for s in steps[:first] if s not in leaning]
        if early:
            yield (
                f"{_listed(early)} will be done again: {adjuster.id} is set later, in {steps[first].id}, "
                f"which has no other adjuster of the kind; put {steps[first].id} first"
            )


def _steps_on(procedure: Procedure, adjuster: Adjuster) -> list[CoverageStep | TrackingStep]:
    """The coverage and tracking steps whose circuit an adjuster turns, in procedure order."""
    if len(adjuster.circuits) < 2 or adjuster.does == "tuning-voltage":
        return []
    return [s for s in procedure.steps if isinstance(s, CoverageStep | TrackingStep) and s.circuit in adjuster.circuits]


def _listed(names: list[str]) -> str:
    return " and ".join(names)
