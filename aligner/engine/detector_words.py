"""How a detector is connected and turned, by its kind. Common practice, no source, but for the order.

Order: the strip first; then the secondary to zero at the centre; equal and opposite readings at the two edges; where
they are unequal the primary, then the secondary to zero again (J. B. Hoag, Basic Radio, section 34).
"""

from aligner.engine.clipping import clip_on
from aligner.procedure.model import Adjuster, DetectorStep

_ACROSS = {
    "discriminator": "Direct-voltage meter of 10 megohms or more from the detector's audio output to its zero (ground)",
    "ratio": (
        "Direct-voltage meter of 10 megohms or more from the audio output to the middle of two equal resistors (100 "
        "kilohms each) across the stabilising electrolytic"
    ),
    "quadrature": (
        "Direct-voltage meter of 10 megohms or more from the audio output to a steady voltage that equals the output's "
        "with no signal (the reference pin, or a potentiometer)"
    ),
}
STABILISED = "Direct-voltage meter of 10 megohms or more across the stabilising electrolytic"


def meter_text(step: DetectorStep) -> str:
    """The meter where the S-curve is read."""
    return clip_on(f"{_ACROSS[step.form]}. AFC off, mute off, mono.")


def stabilised_text() -> str:
    """The meter where a ratio detector's primary is peaked."""
    return clip_on(f"{STABILISED}. AFC off, mute off, mono.")


def moved_meter_text(step: DetectorStep) -> str:
    """From the electrolytic to where the S-curve is read."""
    return clip_on(f"Move the meter: {_ACROSS[step.form][0].lower()}{_ACROSS[step.form][1:]}.")


def zero_text(adjuster: Adjuster, generator: str) -> str:
    """Turning through the right one of several zeros."""
    where = f" ({adjuster.where})" if adjuster.where else ""
    turns = " Count the turns from where it stands now." if adjuster.counted else ""
    return (
        f"Generator at {generator}. Turn {adjuster.id}{where} to zero volts: the zero between a positive and a "
        f"negative swing, where the voltage changes fastest, not one of those far outside.{turns}"
    )


def primary_text(adjuster: Adjuster, generator: str) -> str:
    """A ratio detector's primary by its stabilised voltage."""
    where = f" ({adjuster.where})" if adjuster.where else ""
    turns = " Count the turns from where it stands now." if adjuster.counted else ""
    return (
        f"Generator at {generator}. Peak {adjuster.id}{where} for the highest voltage across the electrolytic.{turns}"
    )
