"""What is said whenever something is clipped into a set or taken off again; the whole caution, every time."""

_DEAD_FIRST = (
    "Switch off, unplug, discharge through a resistor, prove dead with a meter, {do}, then power. Local codes and "
    "licensed practice come first."
)


def clip_on(what: str) -> str:
    """To connect something: what, and the caution."""
    return f"{what} {_DEAD_FIRST.format(do='connect')}"


def take_off(what: str) -> str:
    """To disconnect something: what, and the caution."""
    return f"{what} {_DEAD_FIRST.format(do='disconnect')}"
