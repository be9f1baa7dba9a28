"""Where the numbering of a block begins: its four corners by compass words, and changing corners."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..core.geometry.axes import RowAxes
from ..core.model import Alley, Block, InputProblem, Project, RowRules

COMPASS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)
"""Words for the eight winds, clockwise from north."""

_SHORT = dict(zip(("n", "ne", "e", "se", "s", "sw", "w", "nw"), COMPASS, strict=True))
_SAME_M = 1e-6
"""Positions nearer than this are the same. [m]"""


def compass_word(bearing_deg: float) -> str:
    """The wind nearest to a bearing.

    Examples
    --------
    >>> compass_word(18), compass_word(340), compass_word(225)
    ('north', 'north', 'south-west')
    """
    return COMPASS[int((bearing_deg + 22.5) // 45) % 8]


@dataclass(frozen=True)
class Corner:
    """A corner of a block as its rows see it.

    Attributes
    ----------
    side : "left" or "right"
        Looking along the bearing.
    end : "start" or "far"
        The end where rows begin now, or the other one.
    word : str
        One of COMPASS: the corner's direction from the middle, on a block as wide as long.
    meaning : str
        What beginning there does to rows and numbers, in a few words.
    """

    side: str
    end: str
    word: str
    meaning: str


def corners(bearing_deg: float) -> tuple[Corner, ...]:
    """The four corners, start left, start right, far left, far right; their words all differ.

    Examples
    --------
    >>> [c.word for c in corners(0)], [c.word for c in corners(45)]
    (['south-west', 'south-east', 'north-west', 'north-east'], ['west', 'south', 'north', 'east'])
    """
    found = []
    for end, about_deg, off_deg in (("start", 0.0, 135), ("far", 180.0, 45)):
        for side, to_right in (("left", -1), ("right", 1)):
            corner_deg = bearing_deg + to_right * off_deg
            rows, numbers = bearing_deg + about_deg, bearing_deg - to_right * 90
            meaning = f"rows run {compass_word(rows)}, numbers grow to the {compass_word(numbers)}"
            found.append(Corner(side, end, compass_word(corner_deg), meaning))
    return tuple(found)


def start_corner(rules: RowRules) -> Corner:
    """The corner where row numbers and rows begin.

    Examples
    --------
    >>> start_corner(RowRules(bearing_deg=10, number_from="right")).word
    'south-east'
    """
    return next(
        c for c in corners(rules.bearing_deg) if (c.side, c.end) == (rules.number_from, "start")
    )


def typed_corner(text: str) -> str:
    """The compass word of a corner as typed: "south-west corner", "south west" or "SW".

    Raises
    ------
    InputProblem
        Where it is none.
    """
    wanted = text.strip().lower().removesuffix("corner").strip().replace(" ", "-")
    wanted = _SHORT.get(wanted, wanted)
    if wanted not in COMPASS:
        raise InputProblem(f"Starting corner: {text.strip()!r} is none of {', '.join(COMPASS)}.")
    return wanted


def nearest_corner(bearing_deg: float, word: str) -> Corner:
    """The corner of that word, or the one that lies nearest to it."""

    def away(corner: Corner) -> int:
        apart = abs(COMPASS.index(corner.word) - COMPASS.index(word))
        return min(apart, 8 - apart)

    return min(corners(bearing_deg), key=away)


def with_start_corner(project: Project, block_name: str, word: str) -> Project:
    """The project with the numbering of one block begun in another corner; no row line moves.

    A corner at the other end turns the bearing about; the numbering side then has the other name
    and is the same ground, the first row is measured from the other extreme, and alleys at an
    interval that would move become alleys in place. Vines are counted and measured from the new
    start end, as the rules say.

    Raises
    ------
    InputProblem
        Where the rules of the turned block cannot say where its rows lie.
    """
    block = project.block(block_name)
    corner = nearest_corner(block.rules.bearing_deg, word)
    if corner.end == "far":
        block = _turned_about(block, project.exclusions)
    side = {"left": "right", "right": "left"}[corner.side] if corner.end == "far" else corner.side
    return project.with_block(replace(block, rules=replace(block.rules, number_from=side)))


def _turned_about(block: Block, exclusions) -> Block:
    """The block with rows run the other way on the same lines."""
    from ..core.geometry.scanline import RIM_M
    from ..core.layout.rows import lay_rows

    if block.guide is not None:
        raise InputProblem(
            f"Rows of {block.name} follow a drawn line: draw it from the other end to begin there."
        )
    rules = block.rules
    plan = lay_rows(block, rules, exclusions, check=False)
    left, right = plan.extent_across_m
    room = right - left - plan.first_row_m
    count = int(np.floor((room + RIM_M) / rules.row_spacing_m)) + 1
    first_row_m = rules.first_row_m
    if first_row_m != "best":
        first_row_m = max(room - (count - 1) * rules.row_spacing_m, 0.0)
        if count < 1 or plan.first_row_m - rules.row_spacing_m >= -RIM_M:
            raise InputProblem(
                f"Rows of {block.name} cannot begin at the other end while the leftmost row stands "
                "a row spacing or more into the plantable ground: bring it nearer first."
            )
    turned = replace(
        rules,
        bearing_deg=(rules.bearing_deg + 180) % 360,
        first_row_m=first_row_m,
        number_from="right" if rules.number_from == "left" else "left",
    )
    overrides = tuple(replace(o, line=count - 1 - o.line) for o in block.overrides)
    return replace(block, rules=_alleys_in_place(block, turned), overrides=overrides)


def _alleys_in_place(block: Block, turned: RowRules) -> RowRules:
    """The turned rules with alleys at an interval set down where they lay, if they would move."""
    from ..core.layout.clearances import alley_strips

    before = alley_strips(block, replace(block.rules, alleys=()))
    after = alley_strips(block, replace(turned, alleys=()))
    if before is None:
        return turned
    there = np.sort(-after.along_m) if after is not None else np.empty(0)
    along_m = np.sort(before.along_m)
    if len(there) == len(along_m) and np.allclose(there, along_m, rtol=0, atol=_SAME_M):
        return turned
    axes = RowAxes(block.rules.bearing_deg)
    middle = axes.to_axes(np.array([[block.outline.centroid.x, block.outline.centroid.y]]))[0, 1]
    places = np.column_stack([along_m, np.full(len(along_m), middle)])
    placed = tuple(Alley(x, y, turned.alley_width_m) for x, y in axes.to_plane(places).tolist())
    return replace(turned, alleys=(*turned.alleys, *placed), alley_every_m=0.0)
