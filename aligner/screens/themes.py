"""Colours: a dark bench, a bright one, and one of black, white and yellow. No meaning hangs on a colour alone."""

from textual.theme import Theme

DARK = Theme(
    name="bench-dark",
    primary="#7fb2ff",
    secondary="#9aa7b8",
    accent="#ffb454",
    foreground="#e8ecf1",
    background="#11151a",
    surface="#11151a",
    panel="#232a33",
    success="#6ee787",
    warning="#ffb454",
    error="#ff7b72",
    dark=True,
)
LIGHT = Theme(
    name="bench-light",
    primary="#0b4fa8",
    secondary="#4a5563",
    accent="#8a4b00",
    foreground="#12161b",
    background="#faf9f5",
    surface="#faf9f5",
    panel="#dfe3e8",
    success="#0a6b24",
    warning="#8a4b00",
    error="#a81212",
    dark=False,
)
CONTRAST = Theme(
    name="bench-contrast",
    primary="#ffffff",
    secondary="#ffffff",
    accent="#ffff00",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#303030",
    success="#ffff00",
    warning="#ffffff",
    error="#ffff00",
    dark=True,
)
THEMES: tuple[Theme, ...] = (DARK, LIGHT, CONTRAST)


def after(name: str) -> str:
    """The theme after that one, round and round."""
    names = [theme.name for theme in THEMES]
    return names[(names.index(name) + 1) % len(names)] if name in names else names[0]
