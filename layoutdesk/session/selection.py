"""Rows that are selected: by place, box, lasso, number, code; their figures, and as a table."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import shapely

from ..core.layout.numbering import place_of_code, segment_code
from ..core.model import InputProblem, RowPlan
from .specification import shown_bearing
from .units import unit_label, unit_length_m

RowName = tuple[str, int, int]
"""Block, row number and letter: what a segment is called, whatever the layout's revision."""

Selection = frozenset[RowName]
NOTHING: Selection = frozenset()


def names_of(plan: RowPlan, segments) -> Selection:
    """What segments of a plan are called."""
    s = plan.segments
    which = np.asarray(segments, dtype=np.intp)
    pairs = zip(s.number[which].tolist(), s.letter[which].tolist(), strict=True)
    return frozenset((plan.block.name, n, letter) for n, letter in pairs)


def segments_of(selection: Selection, plan: RowPlan) -> np.ndarray:
    """Selected segments of a plan, as indices; what is no longer there is passed over."""
    s = plan.segments
    mine = np.array([(n, k) for block, n, k in selection if block == plan.block.name], np.int64)
    if not len(mine):
        return np.empty(0, np.intp)
    keys = s.number.astype(np.int64) << 20 | s.letter
    return np.flatnonzero(np.isin(keys, mine[:, 0] << 20 | mine[:, 1]))


def places_of(selection: Selection, plans) -> list[tuple[int, int]]:
    """Selected segments as (plan, segment)."""
    return [(p, int(i)) for p, plan in enumerate(plans) for i in segments_of(selection, plan)]


def chosen_segments(selection: Selection, plans) -> np.ndarray | None:
    """Which segments of all plans, one plan after another, are selected, shape (s,); None for none.

    Examples
    --------
    >>> chosen_segments(NOTHING, ()) is None
    True
    """
    chosen = [np.zeros(plan.n_segments, bool) for plan in plans]
    for mask, plan in zip(chosen, plans, strict=True):
        mask[segments_of(selection, plan)] = True
    every = np.concatenate(chosen) if chosen else np.empty(0, bool)
    return every if every.any() else None


def every_row(plans) -> Selection:
    return frozenset().union(*(names_of(p, np.arange(p.n_segments)) for p in plans))


def rows_touched(plans, corners_m) -> Selection:
    """Rows that an area drawn on the plan touches; two corners are a box, found by spatial index."""
    corners = np.asarray(corners_m, dtype=float)
    if len(corners) == 2:
        (x0, y0), (x1, y1) = corners
        area = shapely.box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
    else:
        area = shapely.make_valid(shapely.Polygon(corners))
    return frozenset().union(*(names_of(p, p.tree.query(area, "intersects")) for p in plans))


_RANGE = re.compile(r"(\d+)\s*(?:-|–|to|\.\.)?\s*(\d+)?$")


def rows_named(plans, text: str) -> Selection:
    """Rows told by numbers and codes: "12", "12-20, 25", "B2: 3-9", "B1-R012A", "all".

    Raises
    ------
    InputProblem
        Where a word is neither, or no such row is there.
    """
    found: set[RowName] = set()
    block = None
    for word in (w.strip() for w in re.split(r"[,;]", text) if w.strip()):
        if word.lower() == "all":
            found |= every_row(plans)
            continue
        place = place_of_code(word)
        if place is not None:
            some = _rows(plans, place.block, place.number, place.number, place.letter)
        else:
            named = re.match(r"(?:(.+?)\s*:)?\s*(?:rows?\s*)?(\S.*)$", word, re.IGNORECASE)
            block = named[1] or block
            numbers = _RANGE.match(named[2])
            if not numbers:
                raise InputProblem(
                    f"{word!r} names no row: write numbers like 12-20, 25, or a code like B1-R012A."
                )
            low, high = int(numbers[1]), int(numbers[2] or numbers[1])
            some = _rows(plans, block, min(low, high), max(low, high), None)
        if not some:
            raise InputProblem(f"There is no row {word}: see the row strip for those there are.")
        found |= some
    if not found:
        raise InputProblem(
            "No row is named: write numbers like 12-20, 25, or a code like B1-R012A."
        )
    return frozenset(found)


def _rows(plans, block: str | None, low: int, high: int, letter: int | None) -> Selection:
    found = NOTHING
    for plan in plans:
        if block is not None and plan.block.name.upper() != block.upper():
            continue
        s = plan.segments
        mine = (s.number >= low) & (s.number <= high)
        found |= names_of(
            plan, np.flatnonzero(mine if letter is None else mine & (s.letter == letter))
        )
    return found


def place_named(plans, code: str):
    """Where a code leads: (plan index, segment, (x, y)) for a row, post, anchor or vine.

    Raises
    ------
    InputProblem
        Where it is no code, or nothing bears it.
    """
    place = place_of_code(code)
    if place is None and code.strip().isdigit():
        for p, plan in enumerate(plans):
            rows = np.flatnonzero(plan.segments.number == int(code))
            if len(rows):
                return p, int(rows[0]), _middle(plan, int(rows[0]))
        raise InputProblem(
            f"There is no row {code.strip()}: see the row strip for those there are."
        )
    if place is None:
        raise InputProblem(
            f"{code.strip()!r} is no code: write a row number, or a code like B1-R012A-V034."
        )
    for p, plan in enumerate(plans):
        if plan.block.name.upper() != place.block:
            continue
        s = plan.segments
        rows = np.flatnonzero((s.number == place.number) & (s.letter == (place.letter or 0)))
        if not len(rows):
            break
        segment = int(rows[0])
        if place.kind is None:
            return p, segment, _middle(plan, segment)
        kinds = {m.kind: m for m in plan.part(segment, segment + 1).marks()}
        marks = kinds[place.kind]
        at = np.flatnonzero(marks.index == place.index)
        if len(at):
            x, y = marks.xy_m[at[0]].tolist()
            return p, segment, (x, y)
    raise InputProblem(f"Nothing on the plan is called {code.strip()}: check the code.")


def _middle(plan: RowPlan, segment: int) -> tuple[float, float]:
    s = plan.segments
    along = np.array([s.start_m[segment] + s.end_m[segment]]) / 2
    x, y = plan.places(np.array([segment]), along)[0].tolist()
    return x, y


@dataclass(frozen=True)
class SelectionFigures:
    """Totals of what is selected."""

    rows: int
    segments: int
    length_m: float
    vines: int
    line_posts: int
    end_posts: int


def figures_of(selection: Selection, plans) -> SelectionFigures:
    """Counts and lengths of the selected rows."""
    rows = segments = vines = posts = 0
    length = 0.0
    for plan in plans:
        which = segments_of(selection, plan)
        rows += len(np.unique(plan.segments.line[which]))
        segments += len(which)
        length += float(plan.segments.length_m[which].sum())
        vines += int(plan.vines_of_segment[which].sum())
        posts += int(plan.line_posts.count[which].sum())
    return SelectionFigures(rows, segments, length, vines, posts, 2 * segments)


def bounds_of(selection: Selection, plans):
    """Bounds of the selected rows (x0, y0, x1, y1), None where nothing is selected. [m]"""
    shapes = [plan.shapes[segments_of(selection, plan)] for plan in plans]
    every = np.concatenate(shapes) if shapes else np.empty(0, object)
    return tuple(shapely.total_bounds(every).tolist()) if len(every) else None


def table_text(selection: Selection, plans, unit: str = "m") -> str:
    """Rows as text with tabs between columns, for a spreadsheet; all where nothing is selected."""
    size, label = unit_length_m(unit), unit_label(unit)
    lines = [f"row\tlength [{label}]\tvines\tline posts\tbearing [° true]\tfirst vine [{label}]"]
    for plan in plans:
        which = segments_of(selection, plan) if selection else np.arange(plan.n_segments)
        s, vines, posts = plan.segments, plan.vines_of_segment, plan.line_posts.count
        step = np.diff(plan.segment_ends_m, axis=1)[:, 0]
        bearing = np.degrees(np.arctan2(step[:, 0], step[:, 1])) % 360
        for i in which.tolist():
            code = segment_code(plan.block.name, int(s.number[i]), int(s.letter[i]))
            lines.append(
                f"{code}\t{s.length_m[i] / size:.2f}\t{vines[i]}\t{posts[i]}\t"
                f"{shown_bearing(bearing[i]).rstrip('°')}\t{s.first_vine_m[i] / size:.2f}"
            )
    return "\n".join(lines) + "\n"
