"""A piece of text that is painted anew only when it changes."""

from textual.content import Content
from textual.widgets import Static


class Row(Static):
    """Plain text or content, never markup. Binding the same again costs nothing, so all can be bound each time.

    Text of the same shape is painted where the old one stood, and so is any text in a row whose size is `fixed` by its
    style: to lay the whole screen out anew takes far longer.
    """

    def __init__(self, name: str, classes: str = "", text: str = "", *, fixed: bool = False) -> None:
        super().__init__(text, id=name, classes=classes or None, markup=False)
        self._bound: str | Content = text
        self._fixed = fixed

    def put(self, text: str | Content) -> None:
        """Show that text."""
        if text != self._bound:
            same = self._fixed or _shape(text) == _shape(self._bound)
            self._bound = text
            self.update(text, layout=not same)


def _shape(text: str | Content) -> tuple[int, ...]:
    """How long each of its lines is."""
    return tuple(len(line) for line in str(text).split("\n"))
