"""A small site whose rows have gaps, alleys and vines left out and added, and random parts of it."""

from __future__ import annotations

import numpy as np
import shapely

from layoutdesk import lay_rows
from layoutdesk.core.layout.numbering import segment_letter
from layoutdesk.core.model import Alley, Block, Exclusion, Override, Part, RowRules

RULES = RowRules(
    bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.25, min_row_m=6.0, alleys=(Alley(20.0, 45.0, 6.0),)
)  # fmt: skip
POND = Exclusion(shapely.box(16, 20, 22, 34), 1.0, "pond", "pond")
NAMES = ("B1", "Old Mill")


def _laid():
    bare = Block("B1", shapely.box(0, 0, 40, 70), RULES)
    plan = lay_rows(bare, exclusions=(POND,))
    line, vines = plan.segments.line, plan.vines
    of_two = np.flatnonzero(vines.segment == 2)
    special = (
        Override("vine left out", int(line[2]), *vines.xy_m[of_two[3]].tolist()),
        Override("vine left out", int(line[2]), *vines.xy_m[of_two[-1]].tolist()),
        Override("vine added", int(line[2]), *(vines.xy_m[of_two[6]] + (0.0, 0.6)).tolist()),
    )
    first = lay_rows(Block("B1", bare.outline, RULES, overrides=special), exclusions=(POND,))
    other = lay_rows(
        Block("Old Mill", shapely.Polygon([(60, 0), (90, 0), (90, 50), (70, 60)]), RULES)
    )
    return first, other


PLANS = _laid()
N_VINES = sum(plan.n_vines for plan in PLANS)


def places() -> list[tuple[str, int, str, int]]:
    """Block, row, letter and index of every vine, one by one, as its code has them."""
    told = []
    for plan in PLANS:
        s, marks = plan.segments, plan.vines
        for segment, index in zip(marks.segment.tolist(), marks.index.tolist(), strict=True):
            letter = segment_letter(int(s.letter[segment]))
            told.append((plan.block.name, int(s.number[segment]), letter, index))
    return told


def is_in(place: tuple[str, int, str, int], part: Part) -> bool:
    """Whether a vine is in a part, by reading what the part says of it."""
    block, row, letter, index = place
    if block != part.block or (part.letter and part.letter != letter):
        return False
    first = part.first_row
    if first is None:
        first = min(r for b, r, _, _ in PLACES if b == block)
    elif not min(first, part.last_row) <= row <= max(first, part.last_row):
        return False
    if abs(row - first) % part.every_row:
        return False
    if index < part.first_vine or (part.last_vine is not None and index > part.last_vine):
        return False
    return (index - part.first_vine) % part.every_vine == 0


PLACES = places()


def random_part(rng: np.random.Generator) -> Part:
    """A part that may hit many vines, few or none."""
    block = str(rng.choice([*NAMES, "gone"], p=[0.6, 0.35, 0.05]))
    first = None if rng.random() < 0.2 else int(rng.integers(1, 17))
    last = None if first is None else int(first + rng.choice([0, 0, 1, 4, 12, -2]))
    begin = int(rng.choice([1, 1, 2, 7, 18]))
    end = None if rng.random() < 0.5 else begin + int(rng.choice([0, 3, 9, 40]))
    return Part(
        block, first, last and max(last, 1), str(rng.choice(["", "", "A", "B", "C"])), begin, end,
        int(rng.choice([1, 1, 2, 5])), int(rng.choice([1, 1, 3, 9])),
    )  # fmt: skip
