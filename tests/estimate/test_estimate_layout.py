"""The columns of the unknowns: what more looks leave where it was."""

import numpy as np
import pytest

from aligner.estimate.belief import belief_of
from aligner.estimate.events import Drifted, Event, Fallen, Looked, Moved, Sighted, Spot, Wanded
from aligner.estimate.frame import frame_of
from aligner.estimate.layout import bend_kernel, columns_in, layout_of, whitener_of
from tests.estimate.worked import frame
from tests.small_sets import FM, MW, read

LOW, HIGH = Spot(91e6, "received"), Spot(99e6, "received")
TOLD: tuple[Event, ...] = (
    Sighted(1, "antenna", HIGH, 99e6, 15e3),
    Moved(2, "antenna-coil", 1.5),
    Fallen(3, "antenna", HIGH, 99e6, 3.0, 0.05, 1),
    Moved(4, "antenna-trimmer"),
    Wanded(5, "antenna", LOW, 91e6, -0.5, 0.2, 0.06, 60.0, 0.3),
    Drifted(6, "antenna", 1e-4),
    Sighted(7, "antenna", LOW, 91e6, 15e3),
)


def looks(hz: float, first: int) -> tuple[Event, ...]:
    return tuple(
        Looked(first + 2 * n, "antenna", Spot(hz, "received"), hz, -0.1 * n, 0.04, top=first) for n in range(2)
    )


@pytest.mark.parametrize("hz", [88e6, 91e6, 95e6, 107e6])
def test_more_looks_leave_every_column_with_its_meaning(hz: float) -> None:
    small, large = layout_of(("antenna",), TOLD), layout_of(("antenna",), (*TOLD, *looks(hz, 9)))
    at = columns_in(small, large)
    assert len(set(at.tolist())) == small.count < large.count
    assert list(at[:4]) == [0, 1, 2, 3]
    for name in ("spot_column", "carried", "turned", "steeper", "bent", "moves", "quality", "wand", "drifts"):
        here, there = getattr(small, name), getattr(large, name)
        assert here
        assert {key: at[column] for key, column in here.items()} == {key: there[key] for key in here}
    assert [at[small.wand["antenna"] + n] - large.wand["antenna"] for n in range(3)] == [0, 1, 2]
    seen = len(small.spots["antenna"])
    own = frame(FM).circuits["antenna"]
    np.testing.assert_allclose(
        whitener_of(own, large.spots["antenna"])[:seen, :seen], whitener_of(own, small.spots["antenna"]), rtol=1e-9
    )


@pytest.mark.parametrize("hz", [88e6, 95e6, 107e6])
def test_two_looks_with_nothing_turned_between_them_tell_nothing_of_the_circuit(hz: float) -> None:
    own = frame(FM)
    told = tuple(e for e in TOLD if not isinstance(e, Wanded | Drifted))
    blind = belief_of(own, told).circuits["antenna"]
    looked = belief_of(own, (*told, *(e for e in looks(hz, 9)))).circuits["antenna"]
    z = np.array([88e6, 91e6, 95e6, 99e6, 107e6])
    np.testing.assert_allclose(looked.stand.at(z).known, blind.stand.at(z).known, rtol=1e-3)
    assert np.all(np.abs(looked.hz(z) - blind.hz(z)) < 0.01 * blind.sd_hz(z))  # the top's own prior tells so little


@pytest.mark.parametrize(("law", "power"), [("straight-capacitance", -2.0), ("straight-frequency", 1.0)])
def test_bends_run_evenly_over_the_shaft_where_the_law_of_the_gang_is_stated(law: str, power: float) -> None:
    stated = MW.replace('by = "gang"', f'by = "gang"\nlaw = "{law}"\nrange = ["12 pF", "365 pF"]')
    procedure = read(stated)
    circuit = frame_of(procedure, "", procedure.intermediate_hz).circuits["antenna"]
    low, high = circuit.low_hz**power, circuit.high_hz**power
    even_hz = np.linspace(low, high, 5) ** (1.0 / power)  # evenly over the shaft, by definition of the two laws
    steps = bend_kernel(circuit, even_hz, even_hz)
    assert np.diag(steps, 1) == pytest.approx(steps[0, 1])
    assert np.diag(steps, 2) == pytest.approx(steps[0, 2])
    assert steps[0, 2] < steps[0, 1] < steps[0, 0]
