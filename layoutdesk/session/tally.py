"""The tally: the figures a designer watches, with what each of them means."""

from __future__ import annotations

from dataclasses import dataclass

from ..core.model import RowPlan
from .units import area_unit, unit_label, unit_length_m

_THIN = "\u202f"


@dataclass(frozen=True, eq=False)
class Tally:
    """Totals of one block or of all of them.

    Attributes
    ----------
    vines, rows, segments, end_posts, left_out : int
        `left_out` are vine places that were left empty by hand.
    row_length_m, longest_m : float
        All segments together, and the longest of them. [m]
    planted_m2 : float or None
        Plantable area; None until the layout is settled.
    outline_m2 : float
    """

    vines: int
    rows: int
    row_length_m: float
    longest_m: float
    end_posts: int
    planted_m2: float | None
    outline_m2: float
    segments: int = 0
    left_out: int = 0


def tally_of(plans: tuple[RowPlan, ...], planted_m2: float | None = None) -> Tally:
    """Totals over plans: all of a site's, or one block's alone."""
    return Tally(
        vines=sum(p.n_vines for p in plans),
        rows=sum(p.n_rows for p in plans),
        row_length_m=sum(p.row_length_m for p in plans),
        longest_m=max((float(p.segments.length_m.max(initial=0.0)) for p in plans), default=0.0),
        end_posts=sum(2 * p.n_segments for p in plans),
        planted_m2=planted_m2,
        outline_m2=sum(p.block.outline.area for p in plans),
        segments=sum(p.n_segments for p in plans),
        left_out=sum(len(p.special.gap_segment) + _in_rows_left_out(p) for p in plans),
    )


def _in_rows_left_out(plan: RowPlan) -> int:
    return int(plan.left_out.n_vines.sum()) if plan.left_out is not None else 0


def grouped(number: float, decimals: int = 0) -> str:
    """A number with its thousands set apart by a thin space.

    Examples
    --------
    >>> grouped(23495).replace("\\u202f", " ")
    '23 495'
    """
    return f"{number:,.{decimals}f}".replace(",", _THIN)


def rows_in_words(rows: int, segments: int) -> str:
    """How many rows, and how many segments where that is another number.

    Examples
    --------
    >>> rows_in_words(149, 149), rows_in_words(149, 171), rows_in_words(1, 1)
    ('149 rows', '149 rows, 171 segments', '1 row')
    """
    text = f"{grouped(rows)} row{'s' * (rows != 1)}"
    return text if rows == segments else f"{text}, {grouped(segments)} segments"


@dataclass(frozen=True)
class Figure:
    """One line of the tally.

    Attributes
    ----------
    name, value : str
        As shown, the value with its unit.
    meaning : str
        A sentence that defines it.
    change : str
        Signed, from the last settled state; empty where there is none.
    grew : bool
    """

    name: str
    value: str
    meaning: str
    change: str = ""
    grew: bool = False


MEANINGS = {
    "Vines": "Vines that stand, all blocks together.",
    "Rows": "Row lines that hold at least one segment. A row that is cut counts once.",
    "Segments": "Pieces of row between two end posts: an exclusion or an alley cuts a row into more.",
    "Row length": "All segments together, end post to end post, on the ground.",
    "Longest": "The longest segment, end post to end post, on the ground.",
    "End posts": "Two at every segment.",
    "Left out": "Vine places left empty by hand.",
    "Plantable": "The outlines less clear strips and exclusions with their clearances, of all ground "
    "inside the outlines.",
}
"""What each figure of the tally is, for whoever points at it."""


def figures_of(tally: Tally, before: Tally | None = None, unit: str = "m") -> tuple[Figure, ...]:
    """The tally line by line, vines first; `before` is what changes are told from.

    Segments are told where they are not as many as the rows, and vines left out where there are any.
    """
    size, label = unit_length_m(unit), unit_label(unit)

    def counted(name: str, field: str, per: float = 1.0, mark: str = "") -> Figure:
        value = getattr(tally, field) / per
        change = round(value) - round(getattr(before, field) / per) if before else 0
        sign = "+" if change > 0 else "−"
        return Figure(
            name,
            f"{grouped(value)} {mark}".rstrip(),
            MEANINGS[name],
            f"{sign}{grouped(abs(change))}" if change else "",
            change > 0,
        )

    figures = [counted("Vines", "vines"), counted("Rows", "rows")]
    if tally.segments != tally.rows:
        figures.append(counted("Segments", "segments"))
    figures += [
        counted("Row length", "row_length_m", size, label),
        counted("Longest", "longest_m", size, label),
        counted("End posts", "end_posts"),
    ]
    if tally.left_out:
        figures.append(counted("Left out", "left_out"))
    per, name = area_unit(unit)
    share = "–"
    if tally.planted_m2 is not None:
        planted, outline = tally.planted_m2 / per, tally.outline_m2 / per
        share = f"{grouped(planted, 2)} of {grouped(outline, 2)} {name}"
    figures.append(Figure("Plantable", share, MEANINGS["Plantable"]))
    return tuple(figures)


def as_text(figures: tuple[Figure, ...]) -> str:
    """Figures as lines of name, tab, value, to be pasted elsewhere.

    Examples
    --------
    >>> as_text((Figure("Vines", "812", ""), Figure("Rows", "14", "")))
    'Vines\\t812\\nRows\\t14'
    """
    return "\n".join(f"{f.name}\t{f.value}" for f in figures)
