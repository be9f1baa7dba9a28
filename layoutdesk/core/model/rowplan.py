"""A layout as arrays: row segments, from which posts and vines are made when they are needed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from functools import cached_property, partial

import numpy as np
import shapely

from ..geometry.along_parallels import directions_at, places_at
from ..geometry.axes import RowAxes
from ..geometry.curves import Curve
from ..geometry.parallels import Lines
from ..geometry.stationing import index_along, points_along
from .findings import Finding
from .ground import Block
from .rules import RowRules


@dataclass(frozen=True, eq=False)
class Segments:
    """Pieces of row, in order of row number, then along the bearing.

    Attributes
    ----------
    line : int array, shape (s,)
        Row line of each segment, 0 the leftmost, whatever the numbering.
    number : int array, shape (s,)
        Row number.
    letter : int array, shape (s,)
        0 for A, 1 for B, … along the row.
    across_m, start_m, end_m : float array, shape (s,)
        Place in row axes: across, and along at both end posts. [m]
        In curved rows across is the offset from the guide line, along runs on the row itself.
    first_vine_m, vine_step_m : float array, shape (s,)
        From the start end post to the first vine, and from vine to vine. [m]
    n_vines : int array, shape (s,)
        Vine places by the rules; single vines left out or added are the plan's `special`.
    """

    line: np.ndarray
    number: np.ndarray
    letter: np.ndarray
    across_m: np.ndarray
    start_m: np.ndarray
    end_m: np.ndarray
    first_vine_m: np.ndarray
    vine_step_m: np.ndarray
    n_vines: np.ndarray

    def __len__(self) -> int:
        return len(self.line)

    def taken(self, which) -> Segments:
        """Some of the segments, by mask, slice or indices."""
        return Segments(*(getattr(self, f.name)[which] for f in fields(self)))

    @property
    def length_m(self) -> np.ndarray:
        """From end post to end post. [m]"""
        return self.end_m - self.start_m


def _no_index() -> np.ndarray:
    return np.empty(0, np.intp)


def _no_length() -> np.ndarray:
    return np.empty(0)


@dataclass(frozen=True, eq=False)
class Special:
    """Single vines and posts that are not where the rules put them, as side tables.

    Attributes
    ----------
    gap_segment, gap_index : int array, shape (g,)
        Vine places left empty, in order: segment, and index from 1.
    added_segment : int array, shape (a,); added_along_m : float array, shape (a,)
        Vines beside the step, in order of segment, with their place along the row. [m]
    post_segment, post_index : int array, shape (p,); post_along_m : float array, shape (p,)
        Line posts that stand elsewhere, and where along the row. [m]
    """

    gap_segment: np.ndarray = field(default_factory=_no_index)
    gap_index: np.ndarray = field(default_factory=_no_index)
    added_segment: np.ndarray = field(default_factory=_no_index)
    added_along_m: np.ndarray = field(default_factory=_no_length)
    post_segment: np.ndarray = field(default_factory=_no_index)
    post_index: np.ndarray = field(default_factory=_no_index)
    post_along_m: np.ndarray = field(default_factory=_no_length)

    def part(self, begin: int, end: int) -> Special:
        """Those of a run of segments, which count from `begin` then."""
        parts = {}
        for prefix in ("gap", "added", "post"):
            segment = getattr(self, f"{prefix}_segment")
            mine = (segment >= begin) & (segment < end)
            for f in fields(self):
                if f.name.startswith(prefix):
                    parts[f.name] = getattr(self, f.name)[mine]
            parts[f"{prefix}_segment"] = segment[mine] - begin
        return Special(**parts)


@dataclass(frozen=True, eq=False)
class Course:
    """The row lines of curved rows: the guide, and its parallels, one a row line."""

    guide: Curve
    lines: Lines


@dataclass(frozen=True, eq=False)
class Marks:
    """Things of one kind that stand in the block, segment after segment.

    Attributes
    ----------
    kind : str
        "vine", "line_post", "end_post" or "anchor".
    xy_m : float array, shape (n, 2)
        Site frame. [m]
    segment : int array, shape (n,)
        Which segment each is of.
    index : int array, shape (n,)
        1, 2, … from the start end; a vine left out leaves its number unused, one added takes the
        next after the last.
    """

    kind: str
    count: np.ndarray
    _place: Callable[[], np.ndarray]
    _index: Callable[[], np.ndarray] | None = None

    def __len__(self) -> int:
        return int(self.count.sum())

    @cached_property
    def xy_m(self) -> np.ndarray:
        return self._place()

    @property
    def segment(self) -> np.ndarray:
        return np.repeat(np.arange(len(self.count)), self.count)

    @property
    def index(self) -> np.ndarray:
        return index_along(self.count) if self._index is None else self._index()


@dataclass(frozen=True, eq=False)
class RowPlan:
    """The rows of one block, a pure function of the block, its rules and the exclusions.

    Attributes
    ----------
    block, rules
        What it was laid from.
    segments : Segments
    dropped : Segments
        Pieces shorter than the least row length, with no vines.
    extent_across_m : (float, float)
        Left and right extreme of the plantable area in row axes. [m]
    first_row_m : float
        Offset of row 1's line from the left extreme as used ("best" resolved). [m]
    findings : tuple of Finding
    left_out : Segments or None
        Pieces that an override leaves out.
    special : Special
        Single vines and posts that are not where the rules put them.
    course : Course or None
        The row lines, where the block's rows are curved.
    n_lines : int
        Row lines, those without a segment too.
    unfit : tuple of int
        Which of the block's overrides found no row, post or vine to be about.
    displaced : tuple of (int, int)
        Which of them stand in another row line by now, and in which.
    measured_ends_m : float array, shape (s, 2, 2), or None
        Where the ends of all segments stand, where some were measured: a segment runs between its own two,
        whatever its row line. [m]
    left_out_ends_m : float array, shape (k, 2, 2), or None
        Likewise of the pieces that are left out. [m]
    """

    block: Block
    rules: RowRules
    segments: Segments
    dropped: Segments
    extent_across_m: tuple[float, float]
    first_row_m: float
    findings: tuple[Finding, ...] = ()
    left_out: Segments | None = None
    special: Special = Special()
    course: Course | None = None
    n_lines: int = 0
    unfit: tuple[int, ...] = ()
    displaced: tuple[tuple[int, int], ...] = ()
    measured_ends_m: np.ndarray | None = None
    left_out_ends_m: np.ndarray | None = None

    @property
    def axes(self) -> RowAxes:
        return RowAxes(self.rules.bearing_deg)

    @property
    def n_rows(self) -> int:
        """Row numbers that have at least one segment."""
        return len(np.unique(self.segments.line))

    @property
    def n_segments(self) -> int:
        return len(self.segments)

    @property
    def n_vines(self) -> int:
        return int(self.vines_of_segment.sum())

    @cached_property
    def vines_of_segment(self) -> np.ndarray:
        """Vines that stand in each segment, shape (s,)."""
        n, places = self.n_segments, self.segments.n_vines
        if not len(self.special.gap_segment) and not len(self.special.added_segment):
            return places
        fewer = np.bincount(self.special.gap_segment, minlength=n)
        return places - fewer + np.bincount(self.special.added_segment, minlength=n)

    @property
    def row_length_m(self) -> float:
        """Sum over all segments, end post to end post. [m]"""
        return float(self.segments.length_m.sum())

    def number_of_line(self, line: int) -> int:
        """Row number of a row line, also of one that the plan has not."""
        place = line if self.rules.number_from == "left" else self.n_lines - 1 - line
        return place + self.rules.first_number

    def part(self, begin: int, end: int) -> RowPlan:
        """The plan with a run of its segments alone."""
        some = self.segments.taken(slice(begin, end))
        measured = None if self.measured_ends_m is None else self.measured_ends_m[begin:end]
        return replace(
            self,
            segments=some,
            special=self.special.part(begin, end),
            measured_ends_m=measured,
        )

    def places(self, segment: np.ndarray, along_m: np.ndarray) -> np.ndarray:
        """(n, 2) of site frame x, y of places along segments, told by index. [m]"""
        if self.measured_ends_m is not None:
            return self._between_measured(segment, along_m)
        return self.on_lines(self.segments.line[segment], along_m, self.segments.across_m[segment])

    def on_lines(self, line: np.ndarray, along_m: np.ndarray, across_m: np.ndarray) -> np.ndarray:
        """(n, 2) of site frame x, y of places along row lines. [m]"""
        if self.course is not None:
            return places_at(self.course.lines, line, along_m)
        return self.axes.to_plane(np.column_stack([along_m, across_m]))

    def _between_measured(self, segment: np.ndarray, along_m: np.ndarray) -> np.ndarray:
        """Places between measured ends: on the straight line, or on the bend moved by what its ends are off."""
        s = self.segments
        if self.course is None:
            beyond = (along_m - s.start_m[segment])[:, None]
            return self.measured_ends_m[segment, 0] + beyond * self._directions[segment]
        laid = places_at(self.course.lines, s.line[segment], along_m)
        share = ((along_m - s.start_m[segment]) / s.length_m[segment])[:, None]
        off = self._ends_off_m[segment]
        return laid + off[:, 0] + share * (off[:, 1] - off[:, 0])

    @cached_property
    def _directions(self) -> np.ndarray:
        """Unit step from the start to the far end of every segment, shape (s, 2)."""
        step = self.segment_ends_m[:, 1] - self.segment_ends_m[:, 0]
        return step / np.hypot(*step.T)[:, None]

    @cached_property
    def _ends_off_m(self) -> np.ndarray:
        """How far measured ends are from where the course has them, shape (s, 2, 2). [m]"""
        s, lines = self.segments, self.course.lines
        laid = [places_at(lines, s.line, along) for along in (s.start_m, s.end_m)]
        return self.measured_ends_m - np.stack(laid, axis=1)

    @cached_property
    def segment_ends_m(self) -> np.ndarray:
        """Start and far end post of every segment, shape (s, 2, 2). [m]"""
        if self.measured_ends_m is not None:
            return self.measured_ends_m
        s, every = self.segments, np.arange(self.n_segments)
        return np.stack([self.places(every, s.start_m), self.places(every, s.end_m)], axis=1)

    @cached_property
    def outward(self) -> np.ndarray:
        """Unit step out of both ends of every segment on its own line, shape (s, 2, 2)."""
        if self.course is None and self.measured_ends_m is not None:
            return np.stack([-self._directions, self._directions], axis=1)
        if self.course is None:
            unit = np.array(self.axes.unit_along)
            return np.broadcast_to(np.stack([-unit, unit]), (self.n_segments, 2, 2))
        s = self.segments
        start = directions_at(self.course.lines, s.line, s.start_m)
        far = directions_at(self.course.lines, s.line, s.end_m)
        return np.stack([-start, far], axis=1)

    @cached_property
    def paths(self) -> tuple[np.ndarray, np.ndarray]:
        """Rows as they run: all their places one after another (n, 2), and how many each has. [m]"""
        if self.course is None:
            return self.segment_ends_m.reshape(-1, 2), np.full(self.n_segments, 2)
        lines, s = self.course.lines, self.segments
        origin = lines.origin_m[s.line]
        low = np.searchsorted(lines.running_m, origin + s.start_m + 1e-9)
        high = np.searchsorted(lines.running_m, origin + s.end_m - 1e-9)
        parts = [np.empty((0, 2))]
        inner = lines.xy_m
        for i, (ends, a, b) in enumerate(
            zip(self.segment_ends_m, low.tolist(), high.tolist(), strict=True)
        ):
            if self.measured_ends_m is not None:
                along = lines.running_m[a:b] - origin[i]
                bend = self._between_measured(np.full(len(along), i), along)
            else:
                bend = inner[a:b]
            parts += [ends[:1], bend, ends[1:]]
        return np.concatenate(parts), np.maximum(high - low, 0) + 2

    @cached_property
    def shapes(self) -> np.ndarray:
        """Every segment as a shapely line, from end post to end post."""
        xy, count = self.paths
        return shapely.linestrings(xy, indices=np.repeat(np.arange(len(count)), count))

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Spatial index over `shapes`."""
        return shapely.STRtree(self.shapes)

    @cached_property
    def gaps_m(self) -> np.ndarray:
        """Where the vines that are left out would stand, (g, 2). [m]"""
        s, which, index = self.segments, self.special.gap_segment, self.special.gap_index
        along = s.start_m[which] + s.first_vine_m[which] + (index - 1) * s.vine_step_m[which]
        return self.places(which, along)

    # Marks hold arrays and no way back to the plan: what refers to itself is freed late.

    @cached_property
    def vines(self) -> Marks:
        s, special = self.segments, self.special
        regular = self._marks_along("vine", s.first_vine_m, s.vine_step_m, s.n_vines)
        if not len(special.gap_segment) and not len(special.added_segment):
            return regular
        added = self.places(special.added_segment, special.added_along_m)
        return _with_special_vines(regular, special, added)

    @cached_property
    def line_posts(self) -> Marks:
        """Midway between two vine places, every `line_post_every` vine spaces."""
        s, every, special = self.segments, self.rules.line_post_every, self.special
        count = np.maximum(s.n_vines - 1, 0) // every if every else np.zeros_like(s.n_vines)
        first = s.first_vine_m + (every - 0.5) * s.vine_step_m
        regular = self._marks_along("line_post", first, s.vine_step_m * every, count)
        if not len(special.post_segment):
            return regular
        at = np.cumsum(count)[special.post_segment] - count[special.post_segment]
        moved = self.places(special.post_segment, special.post_along_m)
        return Marks(
            "line_post", count, partial(_exchanged, regular, at + special.post_index - 1, moved)
        )

    @cached_property
    def end_posts(self) -> Marks:
        count = np.full(len(self.segments), 2)
        return Marks("end_post", count, partial(np.reshape, self.segment_ends_m, (-1, 2)))

    @cached_property
    def anchors(self) -> Marks:
        """Beyond both end posts, the start end's first."""
        s, beyond = self.segments, self.rules.anchor_m
        if not beyond:
            return Marks("anchor", np.zeros(len(s), np.intp), partial(np.empty, (0, 2)))
        count = np.full(len(s), 2)
        if self.course is not None or self.measured_ends_m is not None:
            places = (self.segment_ends_m + beyond * self.outward).reshape(-1, 2)
            return Marks("anchor", count, partial(np.asarray, places))
        along = np.column_stack([s.start_m - beyond, s.end_m + beyond]).ravel()
        places = np.column_stack([along, np.repeat(s.across_m, 2)])
        return Marks("anchor", count, partial(self.axes.to_plane, places))

    def marks(self) -> tuple[Marks, ...]:
        """Everything that stands in the block, vines last."""
        return self.end_posts, self.line_posts, self.anchors, self.vines

    def _marks_along(self, kind: str, first_m, step_m, count) -> Marks:
        if self.course is not None and self.measured_ends_m is not None:
            place = partial(_between, replace(self), first_m, step_m, count)
            return Marks(kind, count, place)
        if self.course is not None:
            s = self.segments
            place = partial(
                _along_curves, self.course.lines, s.line, s.start_m + first_m, step_m, count
            )
            return Marks(kind, count, place)
        measured = self.measured_ends_m is not None
        starts, unit = self.segment_ends_m[:, 0], self.axes.unit_along
        unit = self._directions if measured else unit
        return Marks(kind, count, partial(points_along, starts, unit, first_m, step_m, count))


def _between(plan: RowPlan, first_m, step_m, count) -> np.ndarray:
    steps = index_along(count) - 1
    segment = np.repeat(np.arange(len(count)), count)
    along = plan.segments.start_m[segment] + first_m[segment] + steps * step_m[segment]
    return plan.places(segment, along)


def _along_curves(lines: Lines, line, first_m, step_m, count) -> np.ndarray:
    steps = index_along(count) - 1
    segment = np.repeat(np.arange(len(count)), count)
    return places_at(lines, line[segment], first_m[segment] + steps * step_m[segment])


def _exchanged(regular: Marks, at, places_m) -> np.ndarray:
    xy = regular.xy_m.copy()
    xy[at] = places_m
    return xy


def _with_special_vines(regular: Marks, special: Special, added_m: np.ndarray) -> Marks:
    """Vines with those left out taken away and those added behind the last of their segment."""
    n, count = len(regular.count), regular.count
    fewer = np.bincount(special.gap_segment, minlength=n)
    more = np.bincount(special.added_segment, minlength=n)
    stop = np.cumsum(count)
    gaps = (stop - count)[special.gap_segment] + special.gap_index - 1
    ends = (stop - np.cumsum(fewer))[special.added_segment]  # once the gaps are closed

    def index() -> np.ndarray:
        ranks = index_along(more) + np.repeat(count, more)
        return np.insert(np.delete(regular.index, gaps), ends, ranks)

    def place() -> np.ndarray:
        return np.insert(np.delete(regular.xy_m, gaps, axis=0), ends, added_m, axis=0)

    return Marks(regular.kind, count - fewer + more, place, index)
