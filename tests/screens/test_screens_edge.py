"""At the edge of an aim: either it says STOP and is taken, or it asks to go on and is not."""

import random

import pytest

from aligner.engine.capture import HOLD_S, Sample
from aligner.screens.glance import Paper, glance
from tests.screens.scripted import COUNTER, TOUCH, desk_with

AIM, WITHIN = TOUCH.aim.value, TOUCH.aim.within
EVERY_S = 0.125


def told(values: list[float]) -> tuple[list[str], list[str], int | None]:
    """What the words and the row below them said after each value, and after which of them it was taken."""
    desk = desk_with(TOUCH, serves=COUNTER)
    hands: list[str] = []
    amounts: list[str] = []
    for at, value in enumerate([AIM + 5_000.0, *values]):
        if desk.sample((Sample(10.0 + EVERY_S * at, value),)):
            return hands, amounts, at
        shown = glance(desk, Paper(80))
        hands.append(shown.hand)
        amounts.append(shown.amount)
    return hands, amounts, None


def test_what_went_in_and_out_and_then_stays_inside_says_stop_for_a_while_before_it_is_taken() -> None:
    out, edge = AIM + 1.3 * WITHIN, AIM + 0.9 * WITHIN
    hands, amounts, taken = told([edge, out, edge, out, *[edge] * 60])
    assert any("a hair further" in hand for hand in hands)
    assert taken is not None
    looks = int(HOLD_S / EVERY_S)
    assert set(hands[-looks:]) == {"= STOP: inside the aim"}
    assert all(amount.startswith("Hold still") for amount in amounts[1 - looks :])


@pytest.mark.parametrize("place", [0.5, 0.8, 0.95, 1.0, 1.05, 1.15, 1.3])
def test_it_is_never_taken_while_it_asks_to_go_on_nor_asks_while_the_hold_fills(place: float) -> None:
    for seed in range(20):
        chance = random.Random(seed)
        hands, amounts, taken = told([AIM + WITHIN * chance.gauss(place, 0.08) for _ in range(100)])
        assert not any("further" in hand and "Hold" in amount for hand, amount in zip(hands, amounts, strict=True))
        if taken is not None:
            assert set(hands[-int(HOLD_S / EVERY_S) :]) == {"= STOP: inside the aim"}


def test_what_stands_out_by_a_hair_asks_to_go_on_and_is_not_taken() -> None:
    hands, amounts, taken = told([AIM + 0.9 * WITHIN, *[AIM + 1.1 * WITHIN] * 60])
    assert taken is None
    assert set(hands[5:]) == {"▼ At the edge of the aim: a hair further, squeeze the turns together"}
    assert not any("Hold" in amount for amount in amounts[5:])


def test_the_large_arrow_says_what_the_words_below_it_say_at_the_edge() -> None:
    desk = desk_with(TOUCH, serves=COUNTER)
    for at, value in enumerate([AIM + 5_000.0, *[AIM + 1.1 * WITHIN] * 3, AIM + WITHIN]):
        desk.sample((Sample(10.0 + EVERY_S * at, value),))
    shown = glance(desk, Paper(80))
    assert shown.hand.startswith("▼ At the edge")
    assert shown.columns[1].rows[-1] == "  ██  "
