"""A set by level whose curve is bent between two good ends: held only where the bend is known well enough."""

from aligner.rehearsal.runner import Plan, rehearse_one
from aligner.shipped import folder


def test_a_coil_that_was_right_by_chance_is_not_held_on_two_peaks() -> None:
    # Seed 991, set 9: on the first peak of its coil the trimmer was nearly right too, so that two peaks seemed to be
    # enough; the middle of the band then lay just outside the tolerance.
    plan = Plan(folder("procedures") / "fm-varactor.toml", folder("demo_data") / "population.toml", 1, 991, "level")
    end = rehearse_one(plan, 9)
    assert end.right
    assert end.aligned
