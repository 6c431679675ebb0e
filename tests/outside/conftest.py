"""ngspice as an independent reference, driven in batch mode."""

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import pytest

Array: TypeAlias = "npt.NDArray[np.float64]"
Simulate: TypeAlias = Callable[[str, str, str], Array]
"""simulate(netlist, analysis, vector) -> rows of (swept value, value or real part, imaginary part)."""


@pytest.fixture
def simulate(tmp_path: Path) -> Simulate:
    """Run an analysis on a netlist and read one vector back; skipped where ngspice is not installed."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.skip("ngspice is not installed (Debian package ngspice); this check compares with it")

    def run(netlist: str, analysis: str, vector: str) -> Array:
        data = tmp_path / "out.data"
        control = f".control\nset wr_singlescale\nset numdgt=12\n{analysis}\nwrdata {data} {vector}\n.endc\n.end\n"
        deck = tmp_path / "deck.cir"
        deck.write_text(f"* check\n{netlist}\n{control}", encoding="ascii")
        done = subprocess.run([program, "-b", str(deck)], capture_output=True, text=True, timeout=60, check=False)
        assert data.exists(), done.stdout + done.stderr
        return np.loadtxt(data, ndmin=2)

    return run


@pytest.fixture
def resonance_of(simulate: Simulate) -> Callable[[str, float, float], float]:
    """The frequency [Hz] at which |V(out)| of a netlist with 1 A into node out is greatest, by narrowing sweeps."""

    def peak(netlist: str, low_hz: float, high_hz: float) -> float:
        for _ in range(4):
            rows = simulate(netlist, f"ac lin 401 {low_hz!r} {high_hz!r}", "v(out)")
            best = int(np.argmax(np.hypot(rows[:, 1], rows[:, 2])))
            low_hz, high_hz = float(rows[max(best - 1, 0), 0]), float(rows[min(best + 1, 400), 0])
        return (low_hz + high_hz) / 2

    return peak
