"""The plan before a job: what is to be expected of a set from nominal values, nothing measured yet."""

from dataclasses import replace

from aligner.circuits.counter import displayed_resolution_hz, oscillator_resolution_hz
from aligner.circuits.exact_pair import coil_overshoot
from aligner.circuits.superhet import capacitance_ratio
from aligner.circuits.tables import varactor_law
from aligner.engine.instruments import instruments_of
from aligner.errors import CircuitError
from aligner.procedure.model import Band, Circuit, CoveragePoint, CoverageStep, Procedure
from aligner.quantity import show
from aligner.sheet.ground import Ground, ground_of, padded
from aligner.sheet.plan_model import BandPlan, CounterLine, CounterPlan, PartPlan, Plan, TrackingPlan
from aligner.sheet.plan_parts import parts_planned, values_key
from aligner.sheet.plan_tracking import images_planned, signal_set_to, size_of, tracking_planned

_FIFTH = 5.0  # one count should be this much finer than the tolerance, for rounding then takes a tenth of it

_ALIKE = 0.05  # of a padder's value: what they are sold to


def plan_of(procedure: Procedure) -> Plan:
    """The plan of a procedure; CircuitError where the values given contradict one another."""
    bands = tuple(_band_plan(procedure, band) for band in procedure.bands)
    return Plan(procedure.title, procedure.name, procedure.intermediate_hz, procedure.oscillator, bands)


def _band_plan(procedure: Procedure, band: Band) -> BandPlan:
    """Without the tuning's values where they contradict the points, for the rest of the plan holds all the same."""
    try:
        ground = ground_of(procedure, band)
        return _told(ground, tuple(_followed(ground, circuit) for circuit in _followers(ground)), ())
    except CircuitError as error:
        left_out = f"The tuning's curve or range contradicts the points and is left out here: {error}."
    tuning = replace(procedure.tuning, curve=(), span=None)
    ground = ground_of(replace(procedure, tuning=tuning, digest=""), band)
    followed, warnings = [], [left_out]
    for circuit in _followers(ground):
        try:
            followed.append(_followed(ground, circuit))
        except CircuitError as error:
            warnings.append(f"{circuit.id} cannot be planned: {error}.")
    return _told(ground, tuple(followed), tuple(warnings))


_Followed = tuple[tuple[PartPlan, ...], TrackingPlan]


def _followers(ground: Ground) -> tuple[Circuit, ...]:
    """The signal circuits whose curve can be told: those of an oscillator of known law."""
    return ground.signals if ground.oscillator and (ground.absolute or not ground.cut) else ()


def _followed(ground: Ground, circuit: Circuit) -> _Followed:
    set_to = signal_set_to(ground, circuit)
    return parts_planned(ground, circuit, set_to), tracking_planned(ground, circuit, set_to)


def _told(ground: Ground, followed: tuple[_Followed, ...], contradiction: tuple[str, ...]) -> BandPlan:
    procedure, band = ground.procedure, ground.band
    own = parts_planned(ground, ground.oscillator, ground.set_to) if ground.oscillator and _followers(ground) else ()
    parts = (*own, *(part for row, _ in followed for part in row))
    tracking = tuple(plan for _, plan in followed)
    counter = _counter_plan(procedure, ground.coverage) if ground.oscillator else None
    ends = ground.stands_hz(band.low_hz), ground.stands_hz(band.high_hz)
    needed, reach = _tuning_needed(ground)
    warnings = (
        *contradiction,
        *_counter_warnings(counter),
        *reach,
        *_coverage_warnings(ground),
        *_part_warnings(parts),
        *_image_warning(ground),
        *ground.warnings,
    )
    return BandPlan(
        id=band.id,
        band_hz=(band.low_hz, band.high_hz),
        oscillator_hz=ends,
        signal_ratio=capacitance_ratio(band.low_hz, band.high_hz),
        oscillator_ratio=capacitance_ratio(*ends),
        absolute=ground.absolute,
        values_from=ground.values_from,
        tuning_needed=needed,
        counter=counter,
        parts=parts,
        tracking=tracking,
        images=images_planned(ground) if ground.signals else (),
        warnings=(*warnings, *(words for plan in tracking for words in _tracking_warnings(plan))),
        untold=_untold(ground),
        half_way=_half_way(ground),
    )


def _counter_plan(procedure: Procedure, step: CoverageStep | None) -> CounterPlan | None:
    if step is None:
        return None
    instruments = instruments_of(procedure)
    lines = []
    for point in step.points:
        stands = _stands_hz(procedure, point.received_hz)
        lines.append(CounterLine(place_words(point), point.received_hz, stands, instruments.displayed_hz(stands)))
    step_hz = oscillator_resolution_hz(instruments.counting)
    coarse = step_hz > step.tolerance_hz
    longer = instruments.counting.prescaler * _FIFTH / step.tolerance_hz
    return CounterPlan(
        lines=tuple(lines),
        step_hz=step_hz,
        shown_step_hz=displayed_resolution_hz(instruments.counting),
        tolerance_hz=step.tolerance_hz,
        coarse=coarse,
        gate_s=instruments.counting.gate_s,
        longer_gate_s=longer if coarse else None,
    )


def _stands_hz(procedure: Procedure, received_hz: float) -> float:
    return received_hz + (1 if procedure.oscillator == "above" else -1) * procedure.intermediate_hz


def place_words(point: CoveragePoint) -> str:
    """Where the set is tuned, in few words."""
    place = point.place
    if place.volts is not None:
        return show(place.volts, "V")
    if place.mark is not None:
        return f"mark {place.mark}"
    if place.end is not None:
        return f"{place.end} end"
    return f"dial {show(place.dial or point.received_hz, 'Hz')}"


def _tuning_needed(ground: Ground) -> tuple[tuple[float, float] | None, tuple[str, ...]]:
    """The tuning voltage [V] that the band's ends take, and a warning where it is out of range."""
    tuning = ground.procedure.tuning
    if not ground.absolute or tuning.by == "gang":
        return None, ()
    low_f, high_f = (ground.spot(hz)[0] for hz in (ground.band.low_hz, ground.band.high_hz))
    law = varactor_law(tuning.curve)
    try:
        volts = law.position(low_f), law.position(high_f)
    except CircuitError as error:
        return None, (f"An end of the band lies beyond the diode's curve: {error}.",)
    slack = 0.005 * (volts[1] - volts[0])
    if tuning.span and not tuning.span[0] - slack <= volts[0] < volts[1] <= tuning.span[1] + slack:
        out = f"The band takes {show(volts[0], 'V', 0.01)} to {show(volts[1], 'V', 0.01)}"
        return volts, (f"{out}, and the tuning gives {show(tuning.span[0], 'V')} to {show(tuning.span[1], 'V')}.",)
    return volts, ()


def _counter_warnings(counter: CounterPlan | None) -> tuple[str, ...]:
    if counter is None or not counter.coarse or counter.tolerance_hz is None or counter.longer_gate_s is None:
        return ()
    count, tolerance, gate = (
        show(counter.step_hz, "Hz"),
        show(counter.tolerance_hz, "Hz"),
        show(counter.longer_gate_s, "s"),
    )
    words = (
        f"The counter is too coarse: one count is {count} of the oscillator, the tolerance {tolerance}. Count longer "
        f"(a gate of {gate} makes a count a fifth of the tolerance), divide by less, or allow more."
    )
    return (words,)


def _coverage_warnings(ground: Ground) -> tuple[str, ...]:
    """More points than values: what is left of them even with nominal parts."""
    step = ground.coverage
    if step is None or ground.cut or ground.coverage_error_hz <= step.tolerance_hz:
        return ()
    left = show(ground.coverage_error_hz, "Hz", step.tolerance_hz / 10)
    return (f"The oscillator cannot meet all its points: {left} off at the worst of them, at best.",)


def _part_warnings(parts: tuple[PartPlan, ...]) -> tuple[str, ...]:
    warnings = []
    for part in parts:
        if part.verdict == "outside":
            warnings.append(f"{part.adjuster} does not reach its target: see the parts below.")
        if part.part == "trimmer" and part.needed is not None and part.needed < 0:
            warnings.append(f"{part.circuit} has too much capacitance without any trimmer: check curve and points.")
        if part.off is not None and abs(part.off) > _ALIKE:
            warnings.append(
                f"The fixed padder of {part.circuit} is not the one that this plan reckons with: see the parts below. "
                "With it coverage and tracking come out otherwise than shown here."
            )
    return tuple(warnings)


def _image_warning(ground: Ground) -> tuple[str, ...]:
    """A station of the band that is received at another place of the same band."""
    band, apart_hz = ground.band, 2 * ground.procedure.intermediate_hz
    if not ground.signals or band.high_hz - band.low_hz < apart_hz:
        return ()
    return (f"Stations of this band may be heard a second time, {show(apart_hz, 'Hz')} away, as images.",)


def _tracking_warnings(plan: TrackingPlan) -> tuple[str, ...]:
    """Where even nominal parts do not meet the step at its own points."""
    worst = max(plan.at_points, key=lambda point: size_of(point, plan.measure))
    if not plan.beyond(worst.error_hz, worst.loss_db):
        return ()
    if plan.tolerance_hz is not None:
        over = (
            f"{show(abs(worst.error_hz), 'Hz', plan.tolerance_hz / 10)} off, tolerance {show(plan.tolerance_hz, 'Hz')}"
        )
    else:
        over = f"{worst.loss_db:.2f} dB lost, tolerance {show(plan.tolerance_db or 0.0, 'dB')}"
    return (f"{plan.circuit} cannot meet its tolerance at {show(worst.received_hz, 'Hz')} with these parts: {over}.",)


def _untold(ground: Ground) -> tuple[str, ...]:
    """What cannot be told, each with the key that would tell."""
    lines = []
    here = (ground.oscillator, *ground.signals) if ground.oscillator else ground.signals
    if not ground.absolute:
        lines.append(f"values in pF and uH: {values_key(ground)}")
    silent = [
        adjuster.id
        for adjuster in ground.procedure.adjusters
        if adjuster.travel is None
        and adjuster.does != "tuning-voltage"
        and {c.id for c in here} & set(adjuster.circuits)
    ]
    if ground.cut:
        lines.append("the tracking curve: the law of the oscillator's section, for which there is no key")
    if silent:
        lines.append(f"whether the targets lie inside the travel: travel of {', '.join(silent)}")
    vague = [circuit.id for circuit in ground.signals if circuit.q is None]
    if vague:
        lines.append(f"losses and image rejection better than roughly: q of {', '.join(vague)}")
    return tuple(lines)


def _half_way(ground: Ground) -> str:
    """The exact relation in one sentence, with this oscillator's numbers."""
    hz = [point.received_hz for point in ground.coverage.points] if ground.coverage else [*_ends(ground.band)]
    if padded(ground.procedure, ground.oscillator):
        return (
            "Padder, coil and trimmer each act on every point; from one reading at each point all three are solved "
            "together, so each is turned once, to an aim that the next will carry to the target."
        )
    low, high = ground.stands_hz(min(hz)), ground.stands_hz(max(hz))
    if low == high:
        return ""
    return (
        "In y = 1/f^2 a coil multiplies all points by one k and a trimmer adds one d; two readings and two targets "
        "give both: coil at the low point to 1/sqrt(k y), not to the target, then trimmer at the high point to its "
        "target, and the low point has come right by itself. With the high point right at first, the coil goes "
        f"{coil_overshoot(low, high):.2f} times as far as its target alone would say; each round of alternating would "
        f"leave {(low / high) ** 2 * 100:.0f} % of the error."
    )


def _ends(band: Band) -> tuple[float, float]:
    return band.low_hz, band.high_hz
