"""The table of sets: rows that are watered together, with what they take and how evenly they get it."""

from __future__ import annotations

from dataclasses import dataclass, fields

from PySide6.QtWidgets import QWidget

from .lines_table import Column, LinesTable
from .look import Theme

COLUMNS = (
    Column("number", "Set", "Rows watered together, behind one valve"),
    Column("rows", "Rows", "Rows of the set"),
    Column("vines", "Vines", "Vines of the set", 2, True),
    Column("flow", "Flow", "Flow of the whole set", 0, True),
    Column("head", "Asks", "Pressure that the set asks of the source", 1, True),
    Column("available", "There is", "Pressure that the source still has at that flow", 3, True),
    Column(
        "eu",
        "EU",
        "Emission uniformity: least over mean flow, less what manufacture takes",
        0,
        True,
    ),
    Column(
        "du",
        "DU",
        "Distribution uniformity: the lowest quarter's mean, of the mean of all",
        6,
        True,
    ),
    Column("wetting", "Wetting", "Run on the day before planting", 5, True),
    Column("first", "First", "First watering, right after planting", 7, True),
    Column("week", "Week", "Run time in the fullest week", 4, True),
)


@dataclass(frozen=True)
class _SetLine:
    number: str
    rows: str
    vines: str
    flow: str
    head: str
    available: str
    eu: str
    du: str
    wetting: str
    first: str
    week: str
    is_short: bool

    @property
    def told(self) -> str:
        amiss = ": more than the source has" if self.is_short else ""
        parts = [
            f"rows {self.rows}",
            f"{self.vines} vines",
            self.flow,
            f"asks {self.head} of the source, which has {self.available}{amiss}",
            f"EU {self.eu}, DU {self.du}",
            f"wetting run {self.wetting}",
            f"first watering {self.first}",
            f"fullest week {self.week}",
        ]
        return f"Set {self.number}: {'; '.join(parts)}."


class SetsTable(LinesTable):
    """A line a set; more than eight are scrolled to."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(COLUMNS, "Sets", parent)

    def show_sets(self, lines: tuple, short: frozenset[int], theme: Theme) -> None:
        """Show lines; the set in hand stays so by its number. `short` are indices of unserved sets."""
        names = [f.name for f in fields(_SetLine) if f.name != "is_short"]
        told = (
            _SetLine(*(str(getattr(line, name)) for name in names), i in short)
            for i, line in enumerate(lines)
        )
        self.show_lines(tuple(told), theme, short)
