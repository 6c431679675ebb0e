"""The step `seal`: adjusters locked one after the other, everything read before, and again after each lock."""

from aligner.engine.answers import Cannot, Reading
from aligner.engine.asks import Confirm, Read
from aligner.engine.bench import Bench, Outcome
from aligner.engine.locks import Locked, locked, open_lock, shift_of
from aligner.engine.outcomes import busy, plain
from aligner.engine.read_back import last_move, limit_ask, limit_key
from aligner.engine.survey import StepReport
from aligner.procedure.model import Limit, SealStep
from aligner.quantity import show

USUAL_HOW = "a drop of wax or of lacquer that comes off again, at the rim of the thread; no glue on a core"


def work(bench: Bench, step: SealStep, *, passed: bool) -> Outcome:
    """Held when every lock is made and none moved anything by more than is allowed."""
    made = locked(step, bench.ledger.entries, bench.ledger.events)
    pending = open_lock(step, made, bench.ledger.events)
    unread = next((limit for limit in step.limits if not _fresh(bench, step, limit, made)), None)
    now = busy(passed=passed)
    why = f"{len(step.locks) if pending is None else pending} of {len(step.locks)} locked"
    if unread is not None:
        return plain(step, now, why, limit_ask(bench, step, unread))
    if pending is not None:
        return plain(step, now, why, _lock_ask(step, pending))
    return Outcome(_judged(bench, step, made))


def _fresh(bench: Bench, step: SealStep, limit: Limit, made: tuple[Locked, ...]) -> bool:
    """Whether a limit was read (or could not be) since anything was last turned or locked, in whichever step."""
    since = max(last_move(bench, step.band), 2 * made[-1].seq if made else -1)
    wanted = limit_key(bench, step.band, limit)
    return any(
        isinstance(e.ask, Read)
        and 2 * e.seq > since
        and (e.ask.quantity, e.ask.point, e.ask.circuit) == wanted
        and (isinstance(e.answer, Reading) or (isinstance(e.answer, Cannot) and e.ask.step == step.id))
        for e in bench.ledger.entries
    )


def _lock_ask(step: SealStep, place: int) -> Confirm:
    lock = step.locks[place]
    names = " and ".join(lock.adjusters)
    return Confirm(
        id=0,
        step=step.id,
        text=(
            f"Lock {names}: {lock.how or USUAL_HOW}. Keep the tool from turning it, let it set, and take hand and tool "
            "away before the next reading."
        ),
        why=f"Lock {place + 1} of {len(step.locks)}; what it moves is read right after it.",
    )


def _judged(bench: Bench, step: SealStep, made: tuple[Locked, ...]) -> StepReport:
    """The greatest move by the newest lock of each place, against what is allowed."""
    newest = {one.lock: one for one in made}
    rows = [
        (step.locks[place], limit, shift)
        for place, one in sorted(newest.items())
        for limit in step.limits
        if (shift := shift_of(bench.procedure, bench.ledger.entries, one, limit)) is not None
    ]
    if not rows:
        why = f"{len(step.locks)} locked, but nothing could be read after it: nobody knows what moved"
        return StepReport(step.id, step.kind, step.title, "at-limit", why)
    lock, limit, shift = max(rows, key=lambda row: abs(row[2]) / row[1].within)
    fine = abs(shift) <= limit.within
    names = " and ".join(lock.adjusters)
    moved = f"{names} moved {_place(limit)} by {_shown(shift, limit)}"
    head = f"{len(step.locks)} locked; the most that a lock did: {moved}" if fine else f"locking {moved}"
    why = head if fine else f"{head}, {_shown(limit.within, limit)} is allowed"
    unit = {"frequency": "Hz", "resonance": "Hz", "level": "dB", "volts": ""}[limit.quantity]
    return StepReport(
        id=step.id,
        kind=step.kind,
        title=step.title,
        state="held" if fine else "at-limit",
        why=why,
        error=round(shift, 4),
        tolerance=limit.within,
        unit="Hz" if unit == "Hz" else "dB" if unit == "dB" else "",
    )


def _place(limit: Limit) -> str:
    hz = limit.received_hz or limit.place.received or limit.place.dial
    return f"what is read at {show(hz, 'Hz')}" if hz else "the reading"


def _shown(value: float, limit: Limit) -> str:
    if limit.quantity == "level":
        return show(abs(value), "dB", limit.within / 20.0)
    return show(abs(value), "V" if limit.quantity == "volts" else "Hz", limit.within / 20.0)
