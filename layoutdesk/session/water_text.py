"""A drip system as plain text, for a terminal: what is to be said, the sets, what was assumed."""

from __future__ import annotations

from ..formats.waterset import WaterFiles
from .compare_text import aligned

_PLAIN = str.maketrans({"\u202f": ",", "\u00a0": " ", "−": "-", "–": "-", "×": "x", "³": "3"})
"""Signs that not every terminal has."""


def water_text(found: WaterFiles) -> str:
    """Sentences, figures, the sets as a table, run times before planting, and what was assumed."""
    text = [*found.sentences, ""]
    text += aligned([[name, value] for name, value, _ in found.figures]) if found.figures else []
    rows = [
        [
            "Set",
            "rows",
            "vines",
            "flow",
            "asks",
            "source has",
            "EU",
            "DU",
            "wetting",
            "first",
            "week",
        ]
    ]
    rows += [
        [
            *(s.number, s.rows, s.vines, s.flow, s.head, s.available, s.eu, s.du),
            *(s.wetting, s.first, s.week),
        ]
        for s in found.set_rows
    ]
    if found.set_rows:
        text += ["", *aligned(rows), ""]
        text += [
            "asks: pressure asked of the source; source has: what it still has at that flow; EU, DU: emission "
            "and distribution uniformity; wetting: the day before planting; first: right after it; week: in "
            "the fullest week of the first years.",
            found.before,
        ]
    text += [f"Assumed: {said}" for said in found.assumed]
    text.append(f"Heights: {found.heights_said}")
    text += found.notes
    return "\n".join(text).translate(_PLAIN)
