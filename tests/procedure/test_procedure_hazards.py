"""The cautions say what is usual, and who has the last word."""

import pytest

from aligner.procedure.hazards import KNOWN_HAZARDS, cautions


@pytest.mark.parametrize("hazard", [*KNOWN_HAZARDS, "the cabinet has sharp edges."])
def test_every_caution_defers_to_local_codes_and_licensed_practice(hazard: str) -> None:
    assert "Local codes and licensed practice come first" in cautions(hazard)


@pytest.mark.parametrize(
    ("hazard", "said"),
    [
        ("mains", ["Unplug", "alone", "capacitors"]),
        ("high-tension", ["insulated tool", "one hand", "discharge through a resistor, prove dead", "then power"]),
        (
            "live-chassis",
            ["isolating transformer", "variable autotransformer is none", "residual-current", "rated for"],
        ),
        ("stored-charge", ["through a resistor", "prove them dead"]),
        ("hot-valves", ["hot enough to burn"]),
        ("asbestos", ["dust", "licensed"]),
        ("radium-dial", ["radioactive", "scrape"]),
        ("radiating-oscillator", ["Disconnect the aerial", "never radiate the generator"]),
    ],
)
def test_the_usual_cautions_are_there(hazard: str, said: list[str]) -> None:
    for words in said:
        assert words in cautions(hazard)


def test_a_hazard_in_the_authors_words_is_repeated() -> None:
    assert cautions("the cabinet has sharp edges.").startswith(
        "The procedure warns: the cabinet has sharp edges. Do not"
    )
