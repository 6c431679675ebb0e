"""Invented gang sets made around published figures, and their plans."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from aligner.circuits.superhet import capacitance_ratio
from aligner.procedure.model import Band, CoveragePoint, CoverageStep, Place, TrackingStep
from aligner.procedure.reader import parse_procedure
from aligner.sheet.plan import plan_of
from aligner.sheet.plan_model import BandPlan, PartPlan, TrackingPlan
from tests.small_sets import Row, circuit

COIL: Row = ("coil", "inductance", "ferrite-core")
TRIMMER: Row = ("trimmer", "parallel", "rotary-trimmer")
PADDER: Row = ("padder", "series", "compression-trimmer")


def khz(hz: float) -> str:
    """A frequency as a procedure writes it."""
    return f'"{hz / 1e3:.6f} kHz"'


def head(band_hz: tuple[float, float], if_hz: float, law: str, side: str = "above") -> str:
    """A gang set without its circuits."""
    return f"""format = 1
title = "An invented set"
[set]
intermediate = {khz(if_hz)}
oscillator = "{side}"
[[band]]
id = "own"
range = [{khz(band_hz[0])}, {khz(band_hz[1])}]
[tuning]
by = "gang"
{law}
[counter]
shows = "oscillator"
"""


def gang_range(most_f: float, ends_hz: tuple[float, float]) -> str:
    """A gang whose sections alone, all strays in them, cover a range of frequencies."""
    least_f = most_f / capacitance_ratio(*ends_hz)
    return f'range = ["{least_f * 1e12:.9f} pF", "{most_f * 1e12:.9f} pF"]'


def steps(coverage_hz: Sequence[float], tracking_hz: Sequence[float], tolerance: str = "5 kHz") -> str:
    """Both steps by their points."""
    dials = ", ".join(f"{{ dial = {khz(hz)} }}" for hz in coverage_hz)
    points = ", ".join(khz(hz) for hz in tracking_hz)
    return (
        f'[[step]]\nid = "coverage"\nkind = "coverage"\npoints = [{dials}]\ntolerance = "2 kHz"\n'
        f'[[step]]\nid = "antenna"\nkind = "tracking"\ncircuit = "antenna"\n'
        f'points = [{points}]\ntolerance = "{tolerance}"\n'
    )


def gang_set(
    band_hz: tuple[float, float],
    if_hz: float,
    law: str,
    oscillator: Sequence[Row],
    points_hz: Sequence[float],
    *,
    across: str = "tuning",
    tolerance: str = "5 kHz",
    q: float | None = None,
) -> str:
    """A set whose signal circuit has coil and trimmer."""
    more = f'trimmer-across = "{across}"'
    return (
        head(band_hz, if_hz, law)
        + circuit("oscillator", oscillator, "oscillator", more)
        + circuit("antenna", (COIL, TRIMMER), more=f"q = {q}" if q else "")
        + steps(points_hz, points_hz, tolerance)
    )


def planned(text: str) -> BandPlan:
    """The plan of the only band."""
    return plan_of(parse_procedure(text, "set.toml")).bands[0]


def planned_at_ends(band_hz: tuple[float, float], if_hz: float, gang_f: float, oscillator: Sequence[Row]) -> BandPlan:
    """The plan of a set that is right at both ends of its band, which may hold the IF, as the reader refuses."""
    readable = 500e3, 1600e3
    text = gang_set(readable, if_hz, gang_range(gang_f, band_hz), oscillator, readable)
    procedure = parse_procedure(text, "set.toml")
    ends = tuple(CoveragePoint(Place(dial=hz), hz) for hz in band_hz)
    return plan_of(
        replace(
            procedure,
            bands=(Band("own", *band_hz),),
            steps=tuple(
                replace(step, points=ends) if isinstance(step, CoverageStep) else replace(step, points_hz=band_hz)
                for step in procedure.steps
                if isinstance(step, CoverageStep | TrackingStep)
            ),
        )
    ).bands[0]


def part(band: BandPlan, circuit_id: str, what: str) -> PartPlan:
    """One value of one circuit."""
    return next(p for p in band.parts if (p.circuit, p.part) == (circuit_id, what))


def error_at(plan: TrackingPlan, *, received_hz: float | None = None, signal_hz: float | None = None) -> float:
    """The error [Hz] where so much is received, or where the signal circuit stands so: between rows of the curve."""
    rows = [(p.received_hz if signal_hz is None else p.received_hz + p.error_hz, p.error_hz) for p in plan.curve]
    at = signal_hz if received_hz is None else received_hz
    assert at is not None
    for (left, first), (right, second) in pairwise(rows):
        if left <= at <= right:
            return first + (second - first) * (at - left) / (right - left)
    raise AssertionError(f"{at} is outside of the curve")
