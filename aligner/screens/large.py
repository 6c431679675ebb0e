"""The large part of the guide: figures in blocks, arrow, bar, and what the hand does."""

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from aligner.screens.glance import TIGHT, Glance
from aligner.screens.row import Row

PLACES = 3


class Large(Vertical):
    """What a person two metres away reads. States are told by words and arrows; colours only support them."""

    DEFAULT_CSS = """
    Large { height: auto; margin-top: 1; }
    Large Horizontal { height: auto; }
    Large .figures { width: auto; height: auto; margin-right: 4; text-style: bold; }
    Large.tight .figures { margin-right: 2; }
    Large #bar { height: auto; width: 1fr; }
    Large #hand { height: auto; width: 1fr; text-style: bold; }
    Large #amount { height: auto; width: 1fr; color: $accent; text-style: bold; }
    Large.inside .figures, Large.inside #hand, Large.inside #bar { color: $success; }
    Large.here .figures, Large.here #hand, Large.here #bar { color: $success; }
    Large.seek #hand, Large.peaking #hand { color: $warning; }
    Large.seek #bar, Large.peaking #bar { color: $primary; }
    """

    def compose(self) -> ComposeResult:
        """Up to three columns of figures, then the bar and two lines of words."""
        with Horizontal():
            for place in range(PLACES):
                yield Row(f"figures{place}", "figures")
        for name in ("bar", "hand", "amount"):
            yield Row(name)

    def show(self, shown: Glance) -> None:
        """Bind the glance of that moment."""
        self.set_classes(f"{shown.state} tight" if shown.gap == TIGHT else shown.state)
        for place in range(PLACES):
            self._column(place, shown)
        for name, text in (("bar", shown.bar), ("hand", shown.hand), ("amount", shown.amount)):
            row = self.query_one(f"#{name}", Row)
            row.display = bool(text)
            row.put(text)

    def _column(self, place: int, shown: Glance) -> None:
        figures = self.query_one(f"#figures{place}", Row)
        figures.display = place < len(shown.columns)
        if figures.display:
            column = shown.columns[place]
            figures.put("\n".join((column.label, *column.rows)))
