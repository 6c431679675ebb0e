"""Why an adjuster is touched, in words with numbers: how it stands, whether that would do, what the aim is for."""

from dataclasses import dataclass

from aligner.engine.bench import SAFE, SURE, Standing, Target
from aligner.quantity import show

GRAIN = 20.0
"""Into so many parts a tolerance is told."""


@dataclass(frozen=True, slots=True)
class Intent:
    """A touch to be made at the point of that number: where the circuit stands there, and where it is to go [Hz].

    rest: the adjusters that are touched after it. left: the greatest error after all of them, in tolerances.
    """

    circuit: str
    at: int
    now_hz: float
    aim_hz: float
    rest: tuple[str, ...]
    left: float


def touch_reason(intent: Intent, targets: tuple[Target, ...], standing: Standing) -> str:
    """Up to three sentences, what matters most first: in a small window the last are left out."""
    target = targets[intent.at]
    off, stop = _off(intent, targets, standing), _stop(intent, target)
    if intent.rest:
        return f"{off}. {stop}, because {' and '.join(intent.rest)} will take it the rest of the way."
    shared = f" {stop}, to share what is left among the points." if stop else ""
    doubt = _shown(SURE * float(standing.sd_hz[intent.at]), target)
    left = _shown(intent.left * target.tolerance_hz, target)
    within = f"within {doubt}" if left.startswith("0 ") else f"about {left} (± {doubt})"
    return f"{off}.{shared} After this touch the greatest error of {intent.circuit} should be {within}."


def _off(intent: Intent, targets: tuple[Target, ...], standing: Standing) -> str:
    """How it stands where it is touched, and why that, or how it stands elsewhere, is not good enough."""
    target = targets[intent.at]
    miss = intent.now_hz - target.wanted_hz
    off = f"It stands about {_shown(abs(miss), target)} too {'high' if miss > 0 else 'low'} here"
    if standing.worst <= 1.0:
        return off + _though_within(intent, targets, standing)
    worst = standing.worst_index
    if worst == intent.at or abs(miss) > target.tolerance_hz:
        return off
    error = float(standing.errors_hz[worst])
    way = "high" if error > 0 else "low"
    return f"{off}, and about {_shown(abs(error), targets[worst])} too {way} at {show(targets[worst].spot.hz, 'Hz')}"


def _though_within(intent: Intent, targets: tuple[Target, ...], standing: Standing) -> str:
    """Why it is touched though everything is within tolerance by expectation."""
    most = standing.most_at(SAFE)
    place = int(most.argmax())
    doubted = targets[place]
    allowed, reckoned = show(doubted.tolerance_hz, "Hz"), _shown(float(most[place]) * doubted.tolerance_hz, doubted)
    if most[place] <= 1.0:
        return f", within the {allowed} allowed, but it can be balanced better"
    if place == intent.at:
        return f", within the {allowed} allowed, but not surely (up to {reckoned}): a touch makes it surer"
    where = show(doubted.spot.hz, "Hz")
    return f". At {where} up to {reckoned} must be reckoned with, and {allowed} is allowed: a touch makes it surer"


def _stop(intent: Intent, target: Target) -> str:
    """Where to stop beside the final value; empty where that is the aim."""
    beyond = _shown(abs(intent.aim_hz - target.wanted_hz), target)
    if beyond.startswith("0 ") and not intent.rest:
        return ""
    side = "above" if intent.aim_hz > target.wanted_hz else "below"
    return f"Stop {beyond} {side} the final {_shown(target.wanted_hz, target)}"


def _shown(hz: float, target: Target) -> str:
    return show(hz, "Hz", target.tolerance_hz / GRAIN)
