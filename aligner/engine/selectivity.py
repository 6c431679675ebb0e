"""What a swept strip does to a signal and to its neighbours, in words."""

from typing import TYPE_CHECKING

from aligner.procedure.model import IfSweepStep, Procedure
from aligner.quantity import show

if TYPE_CHECKING:
    from aligner.circuits.response import Response
    from aligner.circuits.response_fit import ResponseFit

_FM_FROM_HZ = 5e6
"""IFs above this are taken for FM sound, with neighbours every 100 kHz and a deviation of 75 kHz (ITU-R BS.450)."""
_NEIGHBOURS_HZ = (100e3, 200e3, 300e3, 400e3)
_DEVIATION_HZ = 75e3
_AM_NEIGHBOURS_HZ = (5e3, 9e3, 18e3)
"""Half a sideband width, and one and two channels of the 9 kHz raster."""


def selectivity_words(procedure: Procedure, step: IfSweepStep, fit: "ResponseFit") -> str:
    """Centre, widths, shape and what it costs; for FM the trade between neighbours kept out and sound kept clean."""
    unit = max(fit.centre_hz.sd, 1.0)
    width_unit = max(fit.width_3_hz.sd, 1.0)
    head = (
        f"centre {show(fit.centre_hz.value, 'Hz', unit)}, "
        f"{show(fit.width_3_hz.value, 'Hz', width_unit)} wide at -3 dB and "
        f"{show(fit.width_20_hz.value, 'Hz', max(fit.width_20_hz.sd, 1.0))} at -20 dB, {_shape(fit)}"
    )
    lopsided = abs(fit.symmetry.value) > max(0.03, 2.0 * fit.symmetry.sd)
    tail = f", {'upper' if fit.symmetry.value > 0 else 'lower'} flank the flatter" if lopsided else ""
    unknown = procedure.meter is None or procedure.meter.law == "unknown"
    trust = "; the meter's law is not known, so the centre can be trusted, the widths hardly" if unknown else ""
    return f"{head}{tail}; {_trade(fit.response, fit.centre_hz.value)}{_stated(step, fit)}{trust}"


def _shape(fit: "ResponseFit") -> str:
    if fit.kind == "pair" and fit.coupling is not None:
        far = "under" if fit.coupling.value < 0.93 else "over" if fit.coupling.value > 1.07 else "about at"
        kind = f"a coupled pair {far} critical (k Q {fit.coupling.value:.2f})"
    else:
        kind = {
            "single": "one tuned circuit",
            "strip": "like a filter",
            "strip of two": "like two filters",
            "poles": "like several circuits of no one kind",
        }.get(fit.kind, f"a {fit.kind}")
    whose = "as a whole " if fit.kind == "poles" else ""
    return f"{kind}, Q {whose}{fit.quality.value:.0f}, ripple {fit.ripple_db.value:.1f} dB"


def _trade(response: "Response", centre_hz: float) -> str:
    from aligner.circuits.neighbours import neighbours_db  # noqa: PLC0415 - scipy only where a sweep was taken
    from aligner.circuits.response import delay_variation_s, ripple_over_db  # noqa: PLC0415 - the same

    fm = centre_hz > _FM_FROM_HZ
    away = _NEIGHBOURS_HZ if fm else _AM_NEIGHBOURS_HZ
    levels = neighbours_db(response, centre_hz, away)
    rows = ", ".join(f"{level:.0f} dB at \u00b1{hz / 1e3:.0f} kHz" for hz, level in zip(away, levels, strict=True))
    if not fm:
        return rows
    ripple = ripple_over_db(response, centre_hz, _DEVIATION_HZ)
    delay = delay_variation_s(response, centre_hz, _DEVIATION_HZ)
    sound = f"{ripple:.1f} dB and {delay * 1e6:.2f} \u00b5s of group delay, which is what distorts the sound"
    return f"{rows}; over \u00b175 kHz {sound}"


def _stated(step: IfSweepStep, fit: "ResponseFit") -> str:
    """What filters of the stated widths give in cascade, against what was found."""
    if not step.filters_hz:
        return ""
    from aligner.circuits.features import features  # noqa: PLC0415 - only where a sweep was taken
    from aligner.circuits.response import Cascade, ceramic_filter  # noqa: PLC0415 - the same

    centre = fit.centre_hz.value
    cascade = Cascade(tuple(ceramic_filter(centre, width) for width in step.filters_hz))
    width = features(cascade, centre, min(step.filters_hz)).width_3_hz
    names = " and ".join(show(width, "Hz") for width in step.filters_hz)
    return f"; filters of {names} in cascade give {show(width, 'Hz', 1e3)} and {_trade(cascade, centre)}"
