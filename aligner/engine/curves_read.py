"""Curves of what was read as it came: drift over time, the response of the IF strip, the detector's S-curve."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from aligner.engine.answers import Reading
from aligner.engine.asks import Read
from aligner.engine.bench import SURE, Bench
from aligner.engine.curve import Curve, Line
from aligner.engine.s_curve_fit import s_curve_of
from aligner.engine.strip import level_sd_db, response_of, swept
from aligner.procedure.model import DetectorStep, IfSweepStep, WarmUpStep
from aligner.quantity import show

if TYPE_CHECKING:
    from aligner.circuits.response_fit import Points, ResponseFit
    from aligner.circuits.s_curve import SCurveFit
    from aligner.circuits.uncertain import Uncertain

_GRID = 121
Named = tuple[str, Curve]


def drifts(bench: Bench) -> Iterator[Named]:
    """How the oscillator came to rest, as the distance from its newest reading."""
    for step in bench.procedure.steps:
        if not isinstance(step, WarmUpStep):
            continue
        seen: Points = tuple(
            (e.at_s, bench.instruments.oscillator_hz(e.answer.value))
            for e in bench.ledger.of_step(step.id)
            if isinstance(e.ask, Read) and isinstance(e.answer, Reading)
        )
        if seen:
            yield step.id, _drift(bench, step, seen)


def _drift(bench: Bench, step: WarmUpStep, seen: "Points") -> Curve:
    from aligner.circuits.settle import fit_settle  # noqa: PLC0415 - scipy only where readings were taken
    from aligner.circuits.uncertain import CannotTell  # noqa: PLC0415 - the same

    begun, newest = seen[0][0], seen[-1][1]
    rows = tuple((at - begun, hz - newest) for at, hz in seen)
    fit = fit_settle(seen, bench.instruments.stopped_sd_hz(newest))
    lines = (Line("read", rows),)
    words: tuple[str, ...] = (f"{len(rows)} readings.",)
    if isinstance(fit, CannotTell):
        words = (*words, f"Cannot tell yet: {fit.why}.")
    else:
        times = np.linspace(seen[0][0], seen[-1][0] + step.per_s, _GRID)
        lines = (Line("fit", tuple((float(t) - begun, float(fit.value(t)) - newest) for t in times)),)
        words = (*words, f"Comes to rest {show(abs(fit.final.value - newest), 'Hz', 10.0)} from the newest reading.")
    title = f"{step.title or step.id}: drift of the oscillator against its newest reading"
    return Curve(step.id, title, "s", "Hz", lines, read=rows, words=words)


def responses(bench: Bench) -> Iterator[Named]:
    """The newest sweep of each step that sweeps the strip, with the response behind it."""
    from aligner.circuits.uncertain import CannotTell  # noqa: PLC0415 - scipy only where a sweep was taken

    for step in bench.procedure.steps:
        if not isinstance(step, IfSweepStep):
            continue
        states = [row for row in swept(bench.procedure, bench.ledger, step.id, step.cans) if row.points]
        if not states:
            continue
        points = tuple(sorted(states[-1].points))
        fit = response_of(states[-1].points, level_sd_db(bench.procedure))
        title = f"{step.title or step.id}: level through the strip"
        if isinstance(fit, CannotTell):
            words: tuple[str, ...] = (f"Cannot tell yet: {fit.why}.",)
            yield step.id, Curve(step.id, title, "Hz", "dB", (), read=points, words=words)
        else:
            yield step.id, _response(bench, step, points, fit, title)


def _response(bench: Bench, step: IfSweepStep, points: "Points", fit: "ResponseFit", title: str) -> Curve:
    hz = np.linspace(points[0][0], points[-1][0], _GRID)
    level = fit.reference_db + 20.0 * np.log10(np.maximum(np.abs(fit.response.transfer(hz)), 1e-9))
    centre, narrow, wide = fit.centre_hz, fit.width_3_hz, fit.width_20_hz
    grain = max(centre.sd, 1.0)
    middle, nominal = _sure(centre, grain), show(bench.procedure.intermediate_hz, "Hz")
    widths = [show(width.value, "Hz", max(width.sd, 1.0)) for width in (narrow, wide)]
    ripple = show(fit.ripple_db.value, "dB", 0.1)
    words = (
        f"Centre {middle}; nominal {nominal}.",
        f"Width {widths[0]} at -3 dB, {widths[1]} at -20 dB; {fit.kind}, ripple {ripple}.",
    )
    half = narrow.value / 2.0
    marks = ((centre.value, "centre"), (centre.value - half, "-3 dB"), (centre.value + half, "-3 dB"))
    line = Line("fit", tuple(zip(hz.tolist(), level.tolist(), strict=True)))
    return Curve(step.id, title, "Hz", "dB", (line,), read=points, marks=marks, words=words)


def _sure(value: "Uncertain", grain: float) -> str:
    return f"{show(value.value, 'Hz', grain)} (95 %: give or take {show(SURE * value.sd, 'Hz', grain)})"


def s_curves(bench: Bench) -> Iterator[Named]:
    """The newest S-curve of each detector."""
    from aligner.circuits.uncertain import CannotTell  # noqa: PLC0415 - scipy only where a curve was read

    for step in bench.procedure.steps:
        if not isinstance(step, DetectorStep):
            continue
        states = [row for row in swept(bench.procedure, bench.ledger, step.id, (step.circuit,)) if row.points]
        if not states:
            continue
        points = tuple(sorted(states[-1].points))
        fit = s_curve_of(states[-1].points, step.form)
        title = f"{step.title or step.id}: detector voltage over frequency"
        if isinstance(fit, CannotTell):
            words: tuple[str, ...] = (f"Cannot tell yet: {fit.why}.",)
            yield step.id, Curve(step.id, title, "Hz", "V", (), read=points, words=words)
        else:
            yield step.id, _s_curve(bench, step, points, fit, title)


def _s_curve(bench: Bench, step: DetectorStep, points: "Points", fit: "SCurveFit", title: str) -> Curve:
    hz = np.linspace(points[0][0], points[-1][0], _GRID)
    volts = np.asarray(fit.curve.volts(hz), dtype=float)
    grain = max(fit.zero_hz.sd, 1.0)
    low, high = (show(volts_at, "V", 0.01) for volts_at in fit.peaks_v)
    words = (
        f"Zero at {_sure(fit.zero_hz, grain)}; the IF is {show(bench.intermediate_hz, 'Hz', grain)}.",
        f"Peaks {low} and {high}; straight over {show(fit.linear_span_hz.value, 'Hz', 1e3)}.",
    )
    marks = ((fit.zero_hz.value, "zero"), (fit.low_peak_hz.value, "peak"), (fit.high_peak_hz.value, "peak"))
    line = Line("fit", tuple(zip(hz.tolist(), volts.tolist(), strict=True)))
    return Curve(step.id, title, "Hz", "V", (line,), read=points, marks=marks, words=words)
