"""Sets by level whose curve is bent between two good ends: held only where the bend is known well enough."""

import pytest

from aligner.rehearsal.runner import Plan, rehearse_one
from aligner.shipped import folder


@pytest.mark.parametrize("index", [9, 22])
def test_a_coil_that_was_right_by_chance_is_not_held_on_two_peaks(index: int) -> None:
    # Seed 991: on the first peak of each coil the trimmer was nearly right too, so that two peaks seemed to be enough;
    # the middle of the band then lay just outside the tolerance.
    plan = Plan(folder("procedures") / "fm-varactor.toml", folder("demo_data") / "population.toml", 1, 991, "level")
    end = rehearse_one(plan, index)
    assert end.right
    assert end.aligned
