"""Pictures of the screens, drawn by the real application on the virtual set: `python -m tests.pictures.make`.

Run in the folder of the README, with the packages for tests installed. It aligns the demonstration's set by keys, as
the journey in `tests/screens/` does, and writes SVG files into `demo_data/pictures/`. Each run draws the meters' noise
anew, so the last digits differ from run to run; make them again when the screens have changed.
"""

import asyncio
import re
import sys
import tempfile
from pathlib import Path

from aligner.engine.asks import Touch
from aligner.screens.app import AlignerApp
from aligner.screens.desk import Desk
from tests.screens.driving import AppPilot, shown_guide, until, words_on
from tests.screens.test_screens_journey import MOST_PRESSES, answer, off

PICTURES = Path(__file__).parents[2] / "demo_data" / "pictures"
SIZE = (80, 24)
_FONTS_FROM_ELSEWHERE = re.compile(r"@font-face\s*\{[^}]*\}\s*")


async def pictures() -> dict[str, str]:
    """Align the virtual set once; what was seen on the way, by name, as SVG that asks nobody for a font."""
    seen: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as jobs:
        app = AlignerApp(Path(jobs), demo=True)
        async with app.run_test(size=SIZE) as pilot:

            async def keep(name: str) -> None:
                await pilot.pause(0.4)
                seen[name] = _FONTS_FROM_ELSEWHERE.sub("", app.export_screenshot(title="aligner"))

            _, desk = await shown_guide(pilot)
            await keep("caution")
            await _work(pilot, desk, to_touch=True)
            await _half_way(pilot, desk)
            await keep("guide")
            await pilot.press("c")
            await until(pilot, lambda: "Greatest error now" in words_on(app))  # it is computed aside
            await keep("curves")
            await pilot.press("c")
            await _work(pilot, desk, to_touch=False)
            await keep("aligned")
    return seen


async def _work(pilot: AppPilot, desk: Desk, *, to_touch: bool) -> None:
    """Answer to the first touch, or to the end of the job."""
    while (ask := desk.ask) is not None and not (to_touch and isinstance(ask, Touch)):
        await answer(pilot, desk, ask)


async def _half_way(pilot: AppPilot, desk: Desk) -> None:
    """Turn until the bar shows that something has happened, and not yet all."""
    await until(pilot, lambda: desk.stream is not None and desk.stream.live is not None)
    key, presses, begun = "right", 0, abs(off(desk))
    while abs(off(desk)) > begun / 4 and presses < MOST_PRESSES:
        was = abs(off(desk))
        await pilot.press(key)
        presses += 1
        if abs(off(desk)) > was:
            key = "left" if key == "right" else "right"


def main() -> int:
    """Make all of them and say where they are."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    for name, drawn in asyncio.run(pictures()).items():
        path = PICTURES / f"{name}.svg"
        path.write_text(drawn, encoding="utf-8")
        sys.stdout.write(f"{path.relative_to(PICTURES.parents[1])}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
