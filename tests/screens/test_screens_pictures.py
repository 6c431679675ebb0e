"""The guide as a picture, in the smallest window that shows all and in a large one."""

from pathlib import Path

import pytest
from textual.pilot import Pilot

from aligner.screens.app import AlignerApp
from tests.screens.driving import shown_guide, until
from tests.screens.scripted import TOUCH, ShownSource, guide


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_guide_looks_as_it_did(snap_compare: object, tmp_path: Path, size: tuple[int, int]) -> None:
    source = ShownSource()
    app = AlignerApp(tmp_path)

    async def turn(pilot: Pilot[None]) -> None:
        app.push_screen(guide(tmp_path, (TOUCH,), source))
        _, desk = await shown_guide(pilot)
        source.show(401_730.0, 390_120.0)
        await until(pilot, lambda: desk.stream is not None and desk.stream.live == 390_120.0)
        await pilot.pause()

    assert callable(snap_compare)
    assert snap_compare(app, terminal_size=size, run_before=turn)
