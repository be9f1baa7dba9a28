"""Which points are handed off: chosen, ordered and numbered, some at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..layout.numbering import INDEX_DIGITS, MARK_LETTER, segment_code, segment_letter
from ..model import Exclusion, RowPlan
from ..model.handoff import POINT_KINDS, PointChoice

CHUNK = 65_536
"""Points that are made at a time."""

CORNER_LETTER, CORNER_DIGITS = "C", 3
"""Of corners of outlines and exclusions in their codes."""


@dataclass(frozen=True, eq=False)
class Points:
    """Some points, in the order they are handed off.

    Attributes
    ----------
    number : int array, shape (n,)
        Point numbers.
    kind : int8 array, shape (n,)
        Of POINT_KINDS; a row end is told as an end post, which it is.
    owner : int32 array, shape (n,)
        Of the set's `owners`.
    index : int32 array, shape (n,)
        As in the code; 1, 2, … of a corner; 0 of a control point.
    xy_m : float array, shape (n, 2)
        Site frame. [m]
    """

    number: np.ndarray
    kind: np.ndarray
    owner: np.ndarray
    index: np.ndarray
    xy_m: np.ndarray

    def __len__(self) -> int:
        return len(self.number)


@dataclass(frozen=True, eq=False)
class Owners:
    """What points belong to: first all segments over all plans, then outlines, exclusions, control points.

    Attributes
    ----------
    code : tuple of str
        Of the segment (`B1-R012A`), the block, the exclusion, the control point.
    block : tuple of str
        Empty for exclusions and control points.
    row : int array, shape (w,)
        Row number; 0 for what is no segment.
    letter : tuple of str
        Of the segment; empty for what is none.
    n_segments : int
    """

    code: tuple[str, ...]
    block: tuple[str, ...]
    row: np.ndarray
    letter: tuple[str, ...]
    n_segments: int


@dataclass(frozen=True, eq=False)
class PointSet:
    """Chosen points of a site; coordinates are made for some at a time.

    Attributes
    ----------
    plans, exclusions, control, choice
        What they are of, as `point_set` was given.
    owners : Owners
    counts : dict of str to int
        Points of each kind (an end post that was chosen as a row end counts as "end_post").
    passed : tuple of int
        Numbers passed over because control points have them as names.
    """

    plans: tuple[RowPlan, ...]
    exclusions: tuple[Exclusion, ...]
    control: tuple[tuple[str, float, float], ...]
    choice: PointChoice
    owners: Owners
    counts: dict[str, int]
    passed: tuple[int, ...]
    _blocks: tuple[_BlockPoints, ...]
    _single: _Single

    def __len__(self) -> int:
        return sum(self.counts.values())

    def chunks(self, most: int = CHUNK) -> Iterator[Points]:
        """All points, about `most` at a time; the same ones whenever it is asked."""
        rank = 0
        for block in self._blocks:
            order = block.by_kind if self.choice.order == "by kind" else block.by_row
            for kind, owner, index, xy in order(self.choice, most):
                yield Points(self._numbered(rank, len(kind)), kind, owner, index, xy)
                rank += len(kind)
        single = self._single
        if len(single.kind):
            number = np.where(single.own_number >= 0, single.own_number, 0)
            free = single.own_number < 0
            number[free] = self._numbered(rank, int(free.sum()))
            yield Points(number, single.kind, single.owner, single.index, single.xy_m)

    def all(self) -> Points:
        """All points at once: for what is matched and drawn, not for writing."""
        parts = list(self.chunks())
        if not parts:
            none = np.empty(0, np.int32)
            return Points(none.astype(np.int64), none.astype(np.int8), none, none, np.empty((0, 2)))
        fields = ("number", "kind", "owner", "index", "xy_m")
        return Points(*(np.concatenate([getattr(p, f) for p in parts]) for f in fields))

    def code(self, owner: int, kind: int, index: int) -> str:
        """Code of one point, such as B1-R012A-V034, B1-C003 (third corner of an outline), Pond-C012."""
        return self.owners.code[owner] + code_tail(POINT_KINDS[kind], index)

    def _numbered(self, rank: int, n: int) -> np.ndarray:
        """Numbers of the next `n` points, those that control points have passed over."""
        number = self.choice.first_number + rank + np.arange(n, dtype=np.int64)
        if self._single.taken.size:
            before = self._single.taken - np.arange(len(self._single.taken))
            number += np.searchsorted(before, number, side="right")
        return number


def code_tail(kind: str, index: int) -> str:
    """What follows the owner's code in the code of a point.

    Examples
    --------
    >>> code_tail("vine", 34), code_tail("end_post", 1), code_tail("exclusion", 12), code_tail("control", 0)
    ('-V034', '-E1', '-C012', '')
    """
    if kind == "control":
        return ""
    letter = MARK_LETTER.get(kind, CORNER_LETTER)
    return f"-{letter}{index:0{INDEX_DIGITS.get(kind, CORNER_DIGITS)}d}"


@dataclass(frozen=True, eq=False)
class _Single:
    """Points that stand in no row: corners and control points."""

    kind: np.ndarray
    owner: np.ndarray
    index: np.ndarray
    xy_m: np.ndarray
    own_number: np.ndarray
    taken: np.ndarray


@dataclass(frozen=True, eq=False)
class _BlockPoints:
    """What stands in the rows of one block, and which of it is wanted."""

    plan: RowPlan
    first_owner: int
    segments: np.ndarray | None
    vines: np.ndarray | None

    def counts(self, choice: PointChoice) -> dict[str, int]:
        found = {}
        for kind, place in _places_of(choice):
            marks = self.plan.marks()[place]
            if kind == "vine" and (self.vines is not None or choice.vine_every > 1):
                kept = self._kept(kind, marks.segment, marks.index, choice, 0)
                found[kind] = int(kept.sum())
            elif kind == "end_post":
                found[kind] = int(self._end_posts(choice).sum())
            else:
                count = marks.count if self.segments is None else marks.count[self.segments]
                found[kind] = int(count.sum())
        return found

    def by_kind(self, choice: PointChoice, most: int):
        """One kind after the other, each in the order of segments."""
        for kind, place in _places_of(choice):
            for begin, end in _runs(self.plan.marks()[place].count, self.segments, most):
                part = self._part(kind, place, begin, end, choice)
                if len(part[1]):
                    yield part

    def by_row(self, choice: PointChoice, most: int):
        """All kinds together along the rows, every other row back where that is wanted."""
        places = _places_of(choice)
        if not places:
            return
        marks = self.plan.marks()
        count = sum(marks[place].count for _, place in places)
        back = self._walked_back() if choice.order == "serpentine" else None
        for begin, end in _runs(count, self.segments, most, self.plan.segments.number):
            parts = [self._part(kind, place, begin, end, choice) for kind, place in places]
            kind, owner, index, xy = (np.concatenate([p[i] for p in parts]) for i in range(4))
            if not len(kind):
                continue
            segment = owner - self.first_owner
            along = self._along_m(segment, xy)
            row = self.plan.segments.number[segment]
            if back is None:
                order = np.lexsort((along, segment))
            else:
                sign = np.where(back[segment], -1, 1)
                order = np.lexsort((sign * along, sign * segment, row))
            yield kind[order], owner[order], index[order], xy[order]

    def _part(self, kind: str, place: int, begin: int, end: int, choice: PointChoice):
        marks = self.plan.part(begin, end).marks()[place]
        segment, index, xy = marks.segment, marks.index, marks.xy_m
        first_vine = 0
        if kind == "vine" and self.vines is not None:
            first_vine = int(self.plan.vines_of_segment[:begin].sum())
        kept = self._kept(kind, segment + begin, index, choice, first_vine)
        if kept is not None:
            segment, index, xy = segment[kept], index[kept], xy[kept]
        owner = (segment + (begin + self.first_owner)).astype(np.int32)
        number = POINT_KINDS.index(kind)
        return np.full(len(owner), number, np.int8), owner, index.astype(np.int32), xy

    def _kept(self, kind, segment, index, choice, first_vine):
        """Which marks are wanted, bool; None for all."""
        if kind == "end_post":
            wanted = self._end_posts(choice)
            return None if wanted.all() else wanted[segment, index - 1]
        kept = None if self.segments is None else self.segments[segment]
        if kind == "vine" and self.vines is not None:
            own = self.vines[first_vine : first_vine + len(segment)]
            kept = own if kept is None else kept & own
        if kind == "vine" and choice.vine_every > 1:
            some = (index - 1) % choice.vine_every == 0
            some |= self._last_regular(segment, index)
            kept = some if kept is None else kept & some
        return kept

    def _last_regular(self, segment, index) -> np.ndarray:
        """The last vine of each segment by the step, whatever was added beside it."""
        n, special = self.plan.segments.n_vines.copy(), self.plan.special
        for which, gap in zip(special.gap_segment[::-1], special.gap_index[::-1], strict=True):
            if gap == n[which]:  # gaps come in order, so that a run at the end is walked back
                n[which] -= 1
        return index == n[segment]

    def _end_posts(self, choice: PointChoice) -> np.ndarray:
        """Which end posts are wanted, bool, shape (s, 2)."""
        n = self.plan.n_segments
        if "end_post" in choice.kinds:
            wanted = np.ones((n, 2), bool)
        else:
            line = self.plan.segments.line
            fresh = np.ones(n, bool)
            fresh[1:] = line[1:] != line[:-1]
            last = np.ones(n, bool)
            last[:-1] = fresh[1:]
            wanted = np.column_stack([fresh, last])
        return wanted if self.segments is None else wanted & self.segments[:, None]

    def _walked_back(self) -> np.ndarray:
        """Which segments are of every other row that is wanted, shape (s,)."""
        number = self.plan.segments.number
        wanted = number if self.segments is None else number[self.segments]
        return np.searchsorted(np.unique(wanted), number) % 2 == 1

    def _along_m(self, segment: np.ndarray, xy: np.ndarray) -> np.ndarray:
        ends = self.plan.segment_ends_m
        if self.plan.course is None:
            step = ends[:, 1] - ends[:, 0]
            step = step / np.hypot(*step.T)[:, None]
            return np.einsum("ij,ij->i", xy - ends[segment, 0], step[segment])
        along = shapely.line_locate_point(self.plan.shapes[segment], shapely.points(xy))
        length = self.plan.segments.length_m[segment]
        # An anchor is nearest to the end it stands beyond.
        out = np.einsum("ij,ij->i", xy - ends[segment, 0], self.plan.outward[segment, 0])
        far = np.einsum("ij,ij->i", xy - ends[segment, 1], self.plan.outward[segment, 1])
        at_start, at_end = along <= 0, along >= length - 1e-6
        return (
            along
            - np.where(at_start, np.maximum(out, 0), 0)
            + np.where(at_end, np.maximum(far, 0), 0)
        )


_ROW_KINDS = ("end_post", "line_post", "anchor", "vine")
"""In the order of `RowPlan.marks`."""


def _places_of(choice: PointChoice) -> list[tuple[str, int]]:
    wanted = set(choice.kinds) | ({"end_post"} if "row_end" in choice.kinds else set())
    return [(kind, place) for place, kind in enumerate(_ROW_KINDS) if kind in wanted]


def _runs(count: np.ndarray, segments: np.ndarray | None, most: int, row=None):
    """Spans of segments with about `most` marks, where any is wanted; a row is not parted."""
    before = np.concatenate([[0], np.cumsum(count)])
    begin, n = 0, len(count)
    while begin < n:
        end = int(np.searchsorted(before, before[begin] + most, side="right")) - 1
        end = max(end, begin + 1)
        if row is not None and end < n:
            starts = np.flatnonzero(row[begin:end] != row[end])
            end = (
                begin + int(starts[-1]) + 1
                if len(starts)
                else int(begin + np.argmax(np.r_[row[begin:] != row[begin], True]))
            )
        if segments is None or segments[begin:end].any():
            yield begin, end
        begin = end


def point_set(
    plans: Sequence[RowPlan],
    exclusions: Sequence[Exclusion],
    choice: PointChoice,
    *,
    control: Sequence[tuple[str, float, float]] = (),
    segments: np.ndarray | None = None,
    vines: np.ndarray | None = None,
) -> PointSet:
    """The points that are chosen.

    Parameters
    ----------
    plans : sequence of RowPlan
    exclusions : sequence of Exclusion
    choice : PointChoice
        Its `parts` and `day` are resolved by the caller, into the two masks.
    control : sequence of (str, float, float)
        Name and place of control points in the site frame. [m]
    segments : bool array, shape (s,), optional
        Segments over all plans whose posts and anchors are wanted; all where it is left out.
    vines : bool array, shape (v,), optional
        Vines over all plans, in the order of `plan.vines`, that are wanted; all where it is left out.
    """
    plans, exclusions, control = tuple(plans), tuple(exclusions), tuple(control)
    owners = _owners(plans, exclusions, control)
    blocks, segment, vine = [], 0, 0
    for plan in plans:
        n, v = plan.n_segments, plan.n_vines
        blocks.append(
            _BlockPoints(
                plan,
                segment,
                None if segments is None else np.asarray(segments[segment : segment + n], bool),
                None if vines is None else np.asarray(vines[vine : vine + v], bool),
            )
        )
        segment, vine = segment + n, vine + v
    single = _single(plans, exclusions, control, choice, owners.n_segments)
    counts = dict.fromkeys(POINT_KINDS[1:], 0)
    for block in blocks:
        for kind, n in block.counts(choice).items():
            counts[kind] += n
    for number, n in zip(*np.unique(single.kind, return_counts=True), strict=True):
        counts[POINT_KINDS[number]] += int(n)
    counts = {kind: n for kind, n in counts.items() if n}
    running = sum(counts.values()) - int((single.own_number >= 0).sum())
    passed, last = [], choice.first_number + running - 1
    for taken in single.taken.tolist():
        if choice.first_number <= taken <= last:
            passed.append(taken)
            last += 1
    return PointSet(
        plans, exclusions, control, choice, owners, counts, tuple(passed), tuple(blocks), single
    )


def _owners(plans, exclusions, control) -> Owners:
    code, block, row, letter = [], [], [], []
    for plan in plans:
        s, name = plan.segments, plan.block.name
        for number, i in zip(s.number.tolist(), s.letter.tolist(), strict=True):
            code.append(segment_code(name, number, i))
            row.append(number)
            letter.append(segment_letter(i))
        block += [name] * plan.n_segments
    n_segments = len(code)
    code += [plan.block.name for plan in plans]
    block += [plan.block.name for plan in plans]
    code += exclusion_names(exclusions)
    code += [name for name, _, _ in control]
    more = len(code) - n_segments
    block += [""] * (len(code) - len(block))
    row, letter = row + [0] * more, letter + [""] * more
    return Owners(tuple(code), tuple(block), np.array(row, np.int64), tuple(letter), n_segments)


def exclusion_names(exclusions: Sequence[Exclusion]) -> list[str]:
    """A name of its own for each exclusion: its name or kind, with 2, 3, … behind where that is taken.

    Examples
    --------
    >>> one = Exclusion(shapely.Point(0, 0), 5.0, "Well")
    >>> exclusion_names([one, one])
    ['Well', 'Well 2']
    """
    names, taken = [], set()
    for i, exclusion in enumerate(exclusions, 1):
        name = begun = exclusion.name.strip() or exclusion.kind.strip() or f"X{i}"
        n = 1
        while name.casefold() in taken:
            n += 1
            name = f"{begun} {n}"
        taken.add(name.casefold())
        names.append(name)
    return names


def corners_of(shape) -> np.ndarray:
    """Corners of any shape, ring after ring, a ring's end not repeated, (n, 2). [m]"""
    found = [np.empty((0, 2))]
    for part in shapely.get_parts(shape).tolist():
        if part.geom_type == "GeometryCollection" or part.geom_type.startswith("Multi"):
            found.append(corners_of(part))
        elif part.geom_type == "Polygon":
            rings = shapely.get_rings(part)
            found += [shapely.get_coordinates(ring)[:-1] for ring in rings]
        else:
            found.append(shapely.get_coordinates(part))
    return np.concatenate(found)


def _single(plans, exclusions, control, choice: PointChoice, owner: int) -> _Single:
    kind, owners, index, places, own = [], [], [], [np.empty((0, 2))], []
    shapes = [("outline", plan.block.outline) for plan in plans]
    shapes += [("exclusion", exclusion.shape) for exclusion in exclusions]
    for what, shape in shapes:
        if what in choice.kinds:
            xy = corners_of(shape)
            places.append(xy)
            kind += [POINT_KINDS.index(what)] * len(xy)
            owners += [owner] * len(xy)
            index += range(1, len(xy) + 1)
            own += [-1] * len(xy)
        owner += 1
    taken = []
    for name, x, y in control:
        if name.isascii() and name.isdigit() and len(name) < 16:
            taken.append(int(name))
        if "control" in choice.kinds:
            places.append(np.array([[x, y]]))
            kind.append(POINT_KINDS.index("control"))
            owners.append(owner)
            index.append(0)
            own.append(taken[-1] if name.isascii() and name.isdigit() and len(name) < 16 else -1)
        owner += 1
    return _Single(
        np.array(kind, np.int8),
        np.array(owners, np.int32),
        np.array(index, np.int32),
        np.concatenate(places),
        np.array(own, np.int64),
        np.unique(np.array(taken, np.int64)),
    )
