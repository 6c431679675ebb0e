"""`warm-up`: the oscillator read over time until it stands still enough."""

from aligner.procedure.form import Table
from aligner.procedure.model import WarmUpStep
from aligner.procedure.places import WholeSet, check_tolerance, read_where
from aligner.procedure.step_head import StepHead, read_band

USUAL_PER_S = 600.0
USUAL_EVERY_S = 120.0
_POINT = 'name the place, such as { dial = "1000 kHz" } or { volts = "2 V", received = "87.5 MHz" }'


def read_warm_up(table: Table, head: StepHead, whole: WholeSet) -> WarmUpStep | None:
    """One place, how far the oscillator may drift in how long, and about how often to read."""
    band = read_band(table, whole)
    point_table = table.need("point", _POINT).table()
    where = read_where(point_table, whole, band) if not point_table.absent else None
    point_table.close()
    drift = table.need("drift", 'write how far it may still drift, such as "10 kHz"')
    drift_hz = drift.quantity("Hz")
    check_tolerance(drift, drift_hz, band)
    per_s = table.may("in").quantity("s") or USUAL_PER_S
    every = table.may("every")
    every_s = every.quantity("s") or USUAL_EVERY_S
    if every_s > per_s:
        every.fault('read more often than that: write less than "in"')
    if not whole.of_band("oscillator", band):
        table.fault(
            "", "a warm-up without an oscillator to read", 'add a circuit with role = "oscillator" for its band'
        )
    if where is None or where.received_hz is None or drift_hz is None:
        return None
    return WarmUpStep(
        head.id, where.place, where.received_hz, drift_hz, per_s, every_s, band.id if band else "", title=head.title
    )
