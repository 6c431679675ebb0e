"""The plan as plain text of at most 80 columns, to be pinned above the bench."""

import textwrap
from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from aligner.quantity import show
from aligner.sheet.plan_curve import curve_lines
from aligner.sheet.plan_model import BandPlan, CounterPlan, PartPlan, Placement, Plan, TrackingPlan
from aligner.text import clean

_WIDTH = 80
_LEAST = {"H": 1e-9, "F": 1e-12}  # the unit that even nothing is told in
_FINEST = {"H": 1e-12, "F": 1e-14}  # no part is set finer


def plan_lines(plan: Plan) -> list[str]:
    """The whole plan, line by line."""
    lines = _wrapped(clean(plan.title, 160), "")
    where = f"IF {_hz(plan.intermediate_hz)}, oscillator {plan.oscillator} the signal"
    lines += [f"Plan before the job, from nominal values; nothing is measured yet. {where}."]
    lines = [part for line in lines for part in _wrapped(line, "")]
    for band in plan.bands:
        lines += ["", *_band_lines(band)]
    if not plan.bands:
        lines += ["", "No band is described: there is no coverage and no tracking to plan."]
    return lines


def _band_lines(band: BandPlan) -> Iterator[str]:
    yield _heading(f"BAND {band.id}: {_hz(band.band_hz[0])} to {_hz(band.band_hz[1])}")
    yield f"Oscillator {_hz(band.oscillator_hz[0])} to {_hz(band.oscillator_hz[1])}."
    yield (
        f"Whole capacitance must change {band.signal_ratio:.3f} : 1 in the signal circuits, "
        f"{band.oscillator_ratio:.3f} : 1"
    )
    yield "in the oscillator, strays included."
    for warning in band.warnings:
        yield from _wrapped(f"! {warning}", "  ")
    if band.tuning_needed:
        low, high = (show(volts, "V", 0.01) for volts in band.tuning_needed)
        yield f"Tuning voltage {low} at the low end of the band, {high} at the high end."
    if band.counter:
        yield from ("", _heading("Counter"), *_counter_lines(band.counter))
    if band.parts:
        yield from ("", _heading("Parts"), *_parts_lines(band))
    for names, tracking in _alike(band.tracking):
        yield from ("", _heading(f"Tracking of {names}"), *_tracking_lines(tracking))
    if band.images:
        yield from ("", _heading("Image"), *_image_lines(band))
    if band.half_way:
        yield from ("", _heading("Why each adjuster once"), *_wrapped(band.half_way, ""))
    if band.untold:
        yield from ("", _heading("Cannot be told; these keys of the procedure would tell"))
        for line in band.untold:
            yield from _wrapped(f"- {line}", "  ")


def _alike(plans: tuple[TrackingPlan, ...]) -> list[tuple[str, TrackingPlan]]:
    """Circuits with one and the same plan are shown once."""
    names: dict[TrackingPlan, list[str]] = {}
    for plan in plans:
        names.setdefault(replace(plan, circuit="", step=""), []).append(plan.circuit)
    return [(", ".join(circuits), plan) for plan, circuits in names.items()]


def _heading(text: str) -> str:
    return f"{text} {'-' * max(_WIDTH - len(text) - 1, 0)}"[: max(_WIDTH, len(text))]


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, subsequent_indent=indent, break_on_hyphens=False) or [""]


def _hz(value: float, resolution: float | None = None) -> str:
    return show(value, "Hz", resolution)


def _counter_lines(counter: CounterPlan) -> Iterator[str]:
    yield f"{'tuned to':22}{'received':>16}{'oscillator':>18}{'counter shows':>20}"
    for line in counter.lines:
        shown = show(line.shown_hz, "Hz", counter.shown_step_hz)
        row = (clean(line.place, 21), _hz(line.received_hz), _hz(line.oscillator_hz), shown)
        yield f"{row[0]:22}{row[1]:>16}{row[2]:>18}{row[3]:>20}"
    count = f"One count is {show(counter.step_hz, 'Hz')} of the oscillator (gate {show(counter.gate_s, 's')})"
    if counter.tolerance_hz is not None:
        judged = "too coarse for" if counter.coarse else f"1/{counter.tolerance_hz / counter.step_hz:.0f} of"
        count += f", {judged} the tolerance, {show(counter.tolerance_hz, 'Hz')}"
    yield from _wrapped(f"{count}.", "")


def _parts_lines(band: BandPlan) -> Iterator[str]:
    if band.absolute:
        yield from _wrapped(f"From {band.values_from}. Trimmers include all strays beside them.", "")
        yield "A curve that is x % too high makes coils x % too low, capacitances x % too high."
    else:
        yield "In scaled terms, for neither curve nor range of the tuning is given."
    for part in band.parts:
        if band.absolute or not _is_unit(part):
            yield from _wrapped(f"{_name(part)}: {_value(part)}; {_travel(part)}", "    ")


def _is_unit(part: PartPlan) -> bool:
    """The reference circuit measured by itself."""
    return part.share is not None and part.part != "padder" and abs(part.share - (part.part == "inductance")) < 1e-9


def _name(part: PartPlan) -> str:
    what = {"inductance": "coil", "trimmer": "strays", "padder": "padder"}[part.part]
    return part.adjuster or f"{part.circuit}, {what}"


def _amount(part: PartPlan, value: float) -> str:
    unit: Literal["H", "F"] = "H" if part.part == "inductance" else "F"
    return show(value, unit, max(abs(value) * 1e-3, _FINEST[unit]), beside=_LEAST[unit])


def _value(part: PartPlan) -> str:
    if part.needed is not None:
        return _amount(part, part.needed)
    if part.share is None:
        return "not known"
    if part.part == "inductance":
        return f"{part.share:.3f} times the inductance of {part.share_of}"
    if part.part == "padder":
        return f"{part.share:.3f} times the whole capacitance of {part.share_of} in mid-band"
    more = "more" if part.share >= 0 else "less"
    whole = f"{abs(part.share) * 100:.1f} % of its whole capacitance in mid-band"
    return f"{more} than the trimmer and strays of {part.share_of}, by {whole}"


def _travel(part: PartPlan) -> str:
    if not part.adjuster:
        return _fixed(part)
    if part.travel is None or part.needed is None:
        return "travel: cannot be told"
    low, high = (show(end, "H" if part.part == "inductance" else "F") for end in part.travel)
    ends = f"{low} to {high}"
    if part.verdict == "outside":
        beyond = max(part.travel[0] - part.needed, part.needed - part.travel[1])
        return f"OUTSIDE its travel {ends}, by {_amount(part, beyond)}"
    if part.strays_f:
        at_least, at_most = (show(value, "F", 1e-13) for value in part.strays_f)
        if part.verdict == "strays":
            return f"travel {ends}: only with {at_least} to {at_most} of fixed capacitance beside it"
        return f"inside {ends} with strays up to {at_most}"
    down, up = (abs(end / part.needed - 1) * 100 for end in part.travel)
    room = f"{down:.0f} % down, {up:.0f} % up"
    return f"inside {ends}, room {room}"


def _fixed(part: PartPlan) -> str:
    if part.given is None:
        return "a fixed part"
    told = f"a fixed part, {show(part.given, 'F')} in the procedure"
    if part.off is None or round(part.off, 2) == 0.0:
        return told
    return f"{told}, {abs(part.off) * 100:.0f} % {'more' if part.off > 0 else 'less'}"


def _tracking_lines(plan: TrackingPlan) -> Iterator[str]:
    q = f"Q {plan.q:g}" + ("" if plan.q_given else " assumed")
    tolerance = ""
    if plan.tolerance_hz is not None:
        tolerance = f"; tolerance {show(plan.tolerance_hz, 'Hz')}"
    elif plan.tolerance_db is not None:
        tolerance = f"; tolerance {show(plan.tolerance_db, 'dB')}"
    if plan.equal_sections:
        yield "If the gang's sections were equal, which on this band they cannot be:"
    yield f"Error of the circuit against what is received ({q}{tolerance})"
    yield from curve_lines([(p.received_hz, p.error_hz) for p in plan.curve], plan.own.points_hz)
    yield from _placement_lines("These points", plan.own, plan)
    for point in plan.at_points:
        if abs(point.error_hz) > 1e-6 * point.received_hz:
            off = show(point.error_hz, "Hz", _near(point.error_hz))
            yield f"  left at {_hz(point.received_hz)}: {off}, {point.loss_db:.2f} dB"
    if plan.best:
        yield from _placement_lines("Best points", plan.best, plan)
        yield "A maker's tracking points always win; these are for sets that have none."
    else:
        yield "No placement of the points makes this hardware follow over the band."


def _placement_lines(what: str, placement: Placement, plan: TrackingPlan) -> list[str]:
    digits = (plan.curve[-1].received_hz - plan.curve[0].received_hz) / 200
    points = ", ".join(show(hz, "Hz", digits / 10 if what == "Best points" else None) for hz in placement.points_hz)
    greatest = placement.greatest
    error = show(greatest.error_hz, "Hz", _near(greatest.error_hz))
    at = show(greatest.received_hz, "Hz", digits)
    if plan.measure == "hz":
        words = f"at most {error} off (at {at}), at most {placement.loss_db:.2f} dB lost in the band"
    else:
        words = f"at most {placement.loss_db:.2f} dB lost in the band (at {at}, {error} off)"
    if plan.beyond(greatest.error_hz, placement.loss_db):
        return _wrapped(f"! {what} {points}: {words}. That is beyond the tolerance, away from the points.", "  ")
    return _wrapped(f"{what} {points}: {words}.", "  ")


def _near(error_hz: float) -> float:
    return max(abs(error_hz) / 100, 1.0)


def _image_lines(band: BandPlan) -> Iterator[str]:
    for line in band.images:
        received, image = _hz(line.received_hz, line.received_hz * 1e-3), _hz(line.image_hz, line.image_hz * 1e-3)
        yield f"{received:>12} receives {image:>12} too, {line.rejection_db:.0f} dB down by the signal circuits"
    if not all(plan.q_given for plan in band.tracking):
        yield "With the Q assumed above; a mixer or an aerial that passes more makes it less."
