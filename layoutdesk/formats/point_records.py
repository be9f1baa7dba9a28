"""Points of a hand-off as columns of text for `digits.Records`: what every writer of points is made of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields

import numpy as np

from ..core.model import InputProblem
from ..core.model.handoff import POINT_KINDS
from ..core.staking.points import Points, PointSet, code_tail
from .digits import Chosen, Whole
from .handoffset import HandOffSet
from .stake_chunks import clean

KIND_NAMES = tuple(
    {"outline": "outline_corner", "exclusion": "exclusion_corner"}.get(kind, kind)
    for kind in POINT_KINDS
)
"""What points of each of POINT_KINDS are called in files, where outlines and exclusions are lines."""

OF_OWNER, OF_KIND, OF_MARK = (
    ("owner", "block", "row", "segment"),
    ("kind", "feature"),
    ("tail", "index"),
)
"""Columns by what picks their text. The code of a point is its `owner` and its `tail`."""


def placed(hand: HandOffSet, xy_m: np.ndarray) -> np.ndarray:
    """(n, 2) of easting, northing as they are written.

    Raises
    ------
    InputProblem
        Where a point has no place in the survey system.
    """
    east_north = hand.placing.placed(xy_m)
    if not np.isfinite(east_north).all():
        raise InputProblem(
            f"The site lies outside the survey system {hand.placing.grid.name}: choose another one."
        )
    return east_north


def lengths_of_whole(values: np.ndarray) -> np.ndarray:
    """(n,) of how many digits whole numbers from 0 on have."""
    return np.searchsorted(10 ** np.arange(1, 18), values, side="right") + 1


class Texts(Chosen):
    """Texts picked by number, with their lengths in characters.

    What is no character becomes a question mark.
    """

    def __init__(self, texts: Sequence[str]):
        super().__init__([text.encode("utf-8", "replace") for text in texts])
        self._n_characters = np.array([len(t) for t in texts] or [0])

    def lengths(self, values) -> np.ndarray:
        """(n,) of the lengths of picked texts, in characters."""
        return self._n_characters[values]


class MarkTexts:
    """Texts picked by kind and index together, made as they are come across.

    Parameters
    ----------
    text : function of (kind, index) to str
    """

    def __init__(self, text: Callable[[str, int], str]):
        self._text = text
        self._texts: dict[int, list[str]] = {}
        self._start = np.zeros(len(POINT_KINDS), np.int64)
        self._all = Texts([])

    def picks(self, some: Points) -> np.ndarray:
        """Numbers of the texts of points, to be used before more are asked for."""
        kind, first = some.kind, int(some.kind[0])
        kinds = [first] if (kind == first).all() else np.flatnonzero(np.bincount(kind)).tolist()
        most = int(some.index.max()) + 1
        short = [k for k in kinds if len(self._texts.get(k, ())) < most]
        if short:
            self._extend(short, 2 * most)
        if len(kinds) == 1:
            return some.index + self._start[first]
        return self._start[kind] + some.index

    def _extend(self, kinds: list[int], n: int) -> None:
        for k in kinds:
            known = self._texts.setdefault(k, [])
            known += [self._text(POINT_KINDS[k], i) for i in range(len(known), n)]
        at = 0
        for k, known in self._texts.items():
            self._start[k] = at
            at += len(known)
        self._all = Texts([text for known in self._texts.values() for text in known])

    def measured(self, values):
        return self._all.measured(values)

    def fill(self, cells: np.ndarray, measured):
        return self._all.fill(cells, measured)

    def lengths(self, values) -> np.ndarray:
        return self._all.lengths(values)


class NumberTexts(Whole):
    """Point numbers, with their lengths."""

    def lengths(self, values) -> np.ndarray:
        return lengths_of_whole(values)


class PointTexts:
    """Columns of texts of the points of a set, and the values that pick them.

    Parameters
    ----------
    points : PointSet
    escaped : function of str to str
        How a file writes a text of the user's.
    feature : function of str to str
        The user's own code for a kind.

    Examples
    --------
    >>> from layoutdesk.core.model import Block, PointChoice, RowRules
    >>> from layoutdesk.core.layout.rows import lay_rows
    >>> from layoutdesk.core.staking.points import point_set
    >>> from .digits import Records
    >>> import shapely
    >>> plan = lay_rows(Block("B1", shapely.box(0, 0, 20, 60), RowRules(bearing_deg=0)))
    >>> points = point_set([plan], (), PointChoice(kinds=("row_end",)))
    >>> texts = PointTexts(points)
    >>> records = Records(["number", b" ", "owner", "tail", b"; "], texts.columns())
    >>> first = next(points.chunks())
    >>> b"".join(records.encoded(texts.values(first)))[:32]
    b'1 B1-R001A-E1; 2 B1-R001A-E2; 3 '
    """

    def __init__(
        self,
        points: PointSet,
        escaped: Callable[[str], str] = clean,
        feature: Callable[[str], str] = str,
    ):
        owners = points.owners
        self._columns = {
            "number": NumberTexts(),
            "owner": Texts([escaped(code) for code in owners.code]),
            "block": Texts([escaped(block) for block in owners.block]),
            "row": Texts([str(row) if row else "" for row in owners.row.tolist()]),
            "segment": Texts(owners.letter),
            "kind": Texts(KIND_NAMES),
            "feature": Texts([escaped(feature(kind)) for kind in POINT_KINDS]),
            "tail": MarkTexts(code_tail),
            "index": MarkTexts(lambda kind, index: str(index) if index else ""),
        }

    def columns(self, names: Sequence[str] = ("number", "owner", "tail")) -> dict:
        """Columns by name, for `Records`."""
        return {name: self._columns[name] for name in names}

    def values(self, some: Points, names: Sequence[str] = ("number", "owner", "tail")) -> dict:
        """Values of some points for these columns."""
        picked: dict[str, np.ndarray] = {}
        for name in names:
            if name in OF_OWNER:
                picked[name] = some.owner
            elif name in OF_KIND:
                picked[name] = some.kind
            elif name in OF_MARK:
                picked[name] = self._columns[name].picks(some)
            else:
                picked[name] = some.number
        return picked

    def lengths(self, name: str, values) -> np.ndarray:
        """(n,) of the lengths of a column's texts, in characters."""
        return self._columns[name].lengths(values)


def taken(some: Points, which) -> Points:
    """Some of the points, by mask, slice or indices."""
    return Points(*(getattr(some, f.name)[which] for f in fields(some)))


def owners_used(points: PointSet) -> np.ndarray:
    """Which owners may have points in a set, bool, shape (w,)."""
    owners = points.owners
    used = np.zeros(len(owners.code), bool)
    n_plans, n_exclusions = len(points.plans), len(points.exclusions)
    ends = np.cumsum([owners.n_segments, n_plans, n_exclusions, len(points.control)]).tolist()
    kinds = (
        ("end_post", "line_post", "anchor", "vine"),
        ("outline",),
        ("exclusion",),
        ("control",),
    )
    for begin, end, some in zip([0, *ends], ends, kinds, strict=False):
        used[begin:end] = any(kind in points.counts for kind in some)
    return used
