"""The step `tracking`: a signal circuit follows the oscillator; the module of the way of seeing does the work."""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from aligner.engine import by_level, by_looking, by_reading, by_turns, trends
from aligner.engine.asks import Point, Read
from aligner.engine.bench import SURE, Bench, Outcome, Target, goal_of, standing_of
from aligner.engine.instruments import received_spot
from aligner.engine.step_reports import report_of
from aligner.engine.tolerances import quality_of, tolerance_in
from aligner.estimate.belief import Belief
from aligner.estimate.best import Goal
from aligner.estimate.events import Spot
from aligner.procedure.model import TrackingStep

_GRID = 9
_WAYS = {"volts": "stage-voltage"}
_BEYOND = 1.4
"""How much more, in tolerances, is left to the band beyond the points where nothing is known of it."""
_LEANING = tuple(1.04**n for n in range(1, 61))
"""By how much more than the band the points must be right, step by step, until they have to spare what is asked."""


def work(bench: Bench, step: TrackingStep, *, passed: bool) -> Outcome:
    """Report and next ask by the way of seeing that is in force."""
    belief = bench.belief(step.band)
    targets = targets_of(bench, step)
    band = band_targets(bench, step)
    own, whole = goal_of(belief, targets), goal_of(belief, band)
    way = way_of(bench, step)
    if way == "resonance":
        goals = (whole, *_leaning(whole, own), own)
        return by_reading.work(bench, step, belief, targets, goals, passed=passed, band=band)
    between = None if passed else _between(bench, step, belief, targets)
    if between is not None:
        standing = standing_of(belief.circuits[step.circuit], belief, targets)
        return Outcome(report_of(step, standing, "to-do", "the oscillator is read between its points"), between)
    looks = way == "stage-voltage" or bench.instruments.in_db
    # Looks tell of the ends: nothing need be left to them.
    goals = (whole, *_leaning(whole, own), own) if looks else (_beyond(step, whole), own)
    if looks and way != "level" and not (way == "wand" and trends.in_words(bench, step)):
        return by_looking.work(bench, step, belief, targets, goals, way=way, passed=passed)
    outcome = by_level.work(bench, step, belief, targets, goals, passed=passed)
    return _with_a_wand(bench, step, targets, outcome) if way == "wand" and not passed else outcome


def _with_a_wand(bench: Bench, step: TrackingStep, targets: tuple[Target, ...], outcome: Outcome) -> Outcome:
    """The outcome by level with the wand's word: before the first touch, or where turns tell more, after the last."""
    pair = len(bench.procedure.circuit(step.circuit).adjusters) == by_turns.ADJUSTERS
    turned = pair and not bench.instruments.in_db
    if turned and outcome.ask is None and outcome.report.state == "held":
        look = trends.last_look(bench, step, targets)
        report = replace(outcome.report, state="to-do", why="by wand")
        return outcome if look is None else Outcome(report, look)
    first = None if turned or outcome.ask is None else by_looking.first_look(bench, step, targets)
    return outcome if first is None else replace(outcome, ask=first)


def _between(bench: Bench, step: TrackingStep, belief: Belief, targets: tuple[Target, ...]) -> Read | None:
    """The counter at a point that the oscillator was never seen near: a bend of its plates there would stay unseen.

    Only on a scale: by voltage nobody knows which one belongs to a place that is not in the coverage.
    """
    oscillator = belief.circuits.get(belief.frame.oscillator)
    if oscillator is None or bench.procedure.tuning.by != "gang":
        return None
    z = np.array([t.spot.hz for t in targets])
    open_hz = 0.5 * oscillator.hz(z) * np.sqrt(np.maximum(np.diag(oscillator.unseen(z)), 0.0))
    for target, sd in zip(targets, open_hz, strict=True):
        point = Point(dial=target.spot.hz)
        out = (step.id, "frequency", point) in bench.ledger.unreadable
        if SURE * sd > by_reading.KNOWN * target.tolerance_hz and not out:
            place = replace(target, spot=Spot(target.spot.hz, "dial"), point=point)
            return Read(
                id=0,
                step=step.id,
                text=by_reading.read_target_words(place, "frequency", oscillator.frame.id),
                why=f"{step.circuit} is only as sure here as the oscillator, which was not read near this place yet.",
                quantity="frequency",
                circuit=oscillator.frame.id,
                point=point,
            )
    return None


def way_of(bench: Bench, step: TrackingStep) -> str:
    """The way of seeing: what the person switched to, else the first named by the procedure that gives readings."""
    if step.id in bench.ledger.ways:
        return bench.ledger.ways[step.id]
    out = {_WAYS.get(quantity, quantity) for at, quantity, _ in bench.ledger.unreadable if at == step.id}
    return next((way for way in step.by if way not in out), step.by[0])


def targets_of(bench: Bench, step: TrackingStep) -> tuple[Target, ...]:
    """The step's own points."""
    return _targets(step, step.points_hz, quality_of(bench, step))


def band_targets(bench: Bench, step: TrackingStep) -> tuple[Target, ...]:
    """Places all over the band, where the greatest error is to be least."""
    band = bench.procedure.band_of(step.band)
    places_hz = tuple(np.linspace(band.low_hz, band.high_hz, _GRID).tolist())
    return _targets(step, places_hz, quality_of(bench, step))


@lru_cache(maxsize=64)
def _beyond(step: TrackingStep, whole: Goal) -> Goal:
    """The goal with `_BEYOND` times the tolerance at the ends outside the step's points: they need room inside them."""
    inside = (min(step.points_hz) <= whole.wanted_hz) & (whole.wanted_hz <= max(step.points_hz))
    return Goal(whole.z_hz, whole.wanted_hz, np.where(inside, 1.0, _BEYOND) * whole.tolerance_hz, near=whole)


@lru_cache(maxsize=64)
def _leaning(whole: Goal, own: Goal) -> tuple[Goal, ...]:
    """The band and the step's own points, these by so much less of their tolerance, step by step.

    With the points held to b the greatest error t of the band is least where both count by t / b: nothing else of the
    band has to stand back, neither its ends nor the places between the points, which may be off by more than these.
    """
    z_hz, wanted_hz = (np.concatenate(pair) for pair in ((whole.z_hz, own.z_hz), (whole.wanted_hz, own.wanted_hz)))
    shares = (np.concatenate((whole.tolerance_hz, own.tolerance_hz / share)) for share in _LEANING)
    return tuple(Goal(z_hz, wanted_hz, tolerance_hz, near=whole) for tolerance_hz in shares)


@lru_cache(maxsize=64)
def _targets(step: TrackingStep, places_hz: tuple[float, ...], quality: float) -> tuple[Target, ...]:
    return tuple(Target(*received_spot(hz), hz, tolerance_in(step, hz, quality)) for hz in places_hz)
