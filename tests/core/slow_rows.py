"""Rows the slow way: one line at a time, to compare the layout with.

Written from the page that defines the plantable area, rows and what stands along a segment, not from
the program. shapely clips one line at a time; discs are met by the quadratic formula, clear strips
as rectangles; everything else is loops over Python floats. It shares no code with the program
beyond the values that hold the rules.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field

import shapely

RIM = 1e-3
ROUNDING = 1e-6
FLAT_RUN = 0.1
NO_LENGTH = 1e-9
NO_PIECE = 1e-3


@dataclass
class SlowSegment:
    """One piece of row: along the rows from `start` to `end` at `across`, all in metres."""

    line: int
    number: int
    across: float
    start: float
    end: float
    letter: int = 0
    vines: list[float] = field(default_factory=list)
    line_posts: list[float] = field(default_factory=list)


@dataclass
class SlowPlan:
    """Rows of one block with the extent of the plantable area across the rows."""

    extent: tuple[float, float] | None
    segments: list[SlowSegment]
    dropped: list[SlowSegment]
    turn: Turn

    def vine_xy(self) -> list[tuple[float, float]]:
        return [self.turn.back(u, s.across) for s in self.segments for u in s.vines]

    def line_post_xy(self) -> list[tuple[float, float]]:
        return [self.turn.back(u, s.across) for s in self.segments for u in s.line_posts]

    def end_post_xy(self) -> list[tuple[float, float]]:
        return [self.turn.back(u, s.across) for s in self.segments for u in (s.start, s.end)]


class Turn:
    """From the plane to (along, across) and back, by one angle."""

    def __init__(self, bearing_deg: float):
        angle = math.radians(bearing_deg)
        self.s, self.c = math.sin(angle), math.cos(angle)

    def there(self, x: float, y: float) -> tuple[float, float]:
        return x * self.s + y * self.c, x * self.c - y * self.s

    def back(self, u: float, v: float) -> tuple[float, float]:
        return u * self.s + v * self.c, u * self.c - v * self.s

    def shape(self, geometry):
        return shapely.transform(
            geometry, lambda xy: [self.there(float(x), float(y)) for x, y in xy]
        )


def _rings_with_edges(polygon):
    for ring in [polygon.exterior, *polygon.interiors]:
        coords = [(float(x), float(y)) for x, y in ring.coords]
        yield list(itertools.pairwise(coords))


def _angle_to_rows(a, b, bearing_deg: float) -> float:
    edge = math.degrees(math.atan2(b[0] - a[0], b[1] - a[1]))
    apart = abs(edge - bearing_deg) % 180
    return min(apart, 180 - apart)


class Barrier:
    """Points nearer than `width` to a straight edge (or a point), in (along, across)."""

    def __init__(self, a, b, width: float):
        self.a, self.b, self.width = a, b, width
        self.low = min(a[1], b[1]) - width
        self.high = max(a[1], b[1]) + width
        self.strip = None
        du, dv = b[0] - a[0], b[1] - a[1]
        length = math.hypot(du, dv)
        if length > 0:
            nu, nv = -dv / length * width, du / length * width
            self.strip = shapely.Polygon(
                [
                    (a[0] + nu, a[1] + nv),
                    (b[0] + nu, b[1] + nv),
                    (b[0] - nu, b[1] - nv),
                    (a[0] - nu, a[1] - nv),
                ]
            )

    def met_by(self, v: float, line):
        """Intervals of the line at `v` inside, none outside."""
        if not self.low < v < self.high:
            return []
        met = []
        for u_c, v_c in (self.a, self.b):
            under = self.width**2 - (v - v_c) ** 2
            if under > 0:
                met.append((u_c - math.sqrt(under), u_c + math.sqrt(under)))
        if self.strip is not None:
            met += _intervals(shapely.intersection(self.strip, line))
        return met


def _intervals(geometry) -> list[tuple[float, float]]:
    out = []
    for part in shapely.get_parts([geometry]):
        if part.geom_type == "LineString" and not part.is_empty:
            us = [u for u, _ in part.coords]
            out.append((min(us), max(us)))
        elif part.geom_type == "MultiLineString":
            out += _intervals(part)
    return out


def joined(intervals, gap: float = NO_LENGTH) -> list[tuple[float, float]]:
    """Intervals in order, those that touch or overlap made one."""
    out: list[list[float]] = []
    for start, end in sorted(intervals):
        if out and start - out[-1][1] <= gap:
            out[-1][1] = max(out[-1][1], end)
        else:
            out.append([start, end])
    return [(a, b) for a, b in out if b - a > NO_LENGTH]


def without(intervals, barred) -> list[tuple[float, float]]:
    """What is left of intervals after those barred are taken out."""
    left = list(intervals)
    for low, high in barred:
        after = []
        for start, end in left:
            if high <= start or low >= end:
                after.append((start, end))
                continue
            if low > start:
                after.append((start, low))
            if high < end:
                after.append((high, end))
        left = after
    return left


class Ground:
    """A block's plantable area, less alleys, asked one line at a time."""

    def __init__(self, block, rules, exclusions):
        self.turn = Turn(rules.bearing_deg)
        self.outline = self.turn.shape(block.outline)
        self.barriers = self._along_the_outline(block, rules)
        self.areas = []
        for exclusion in exclusions:
            self._keep_off(exclusion.shape, exclusion.clearance_m)
        self.alleys = self._alleys(rules)
        self.changes = self._changes()
        u0, _, u1, _ = self.outline.bounds
        self.u0, self.u1 = u0 - 10, u1 + 10

    def _along_the_outline(self, block, rules):
        own = {(e.ring, e.edge): e.width_m for e in block.edge_widths}
        barriers = []
        for r, ring in enumerate(_rings_with_edges(block.outline)):
            for i, (a, b) in enumerate(ring):
                if a == b:
                    continue
                is_end = _angle_to_rows(a, b, rules.bearing_deg) >= rules.side_angle_deg - 1e-9
                width = own.get((r, i), rules.headland_m if is_end else rules.side_margin_m)
                if width > 0:
                    barriers.append(Barrier(self.turn.there(*a), self.turn.there(*b), width))
        return barriers

    def _keep_off(self, shape, clearance: float):
        if hasattr(shape, "geoms"):
            for part in shape.geoms:
                self._keep_off(part, clearance)
            return
        turned = self.turn.shape(shape)
        if shape.geom_type == "Polygon":
            self.areas.append(turned)
            chains = [list(turned.exterior.coords), *(list(r.coords) for r in turned.interiors)]
        else:
            chains = [list(turned.coords)]
        if clearance > 0:
            for chain in chains:
                pairs = itertools.pairwise(chain) if len(chain) > 1 else [(chain[0],) * 2]
                self.barriers += [Barrier(a, b, clearance) for a, b in pairs]

    def _alleys(self, rules):
        """(along at across 0, along per across, half the width along the rows)."""
        alleys = []
        for alley in rules.alleys:
            turn = 90.0 if alley.bearing_deg is None else alley.bearing_deg - rules.bearing_deg
            sine, cosine = math.sin(math.radians(turn)), math.cos(math.radians(turn))
            u, v = self.turn.there(alley.x_m, alley.y_m)
            alleys.append((u - v * cosine / sine, cosine / sine, alley.width_m / 2 / abs(sine)))
        if rules.alley_every_m and rules.alley_width_m:
            start, _, end, _ = self.outline.bounds
            k = 1
            while start + k * rules.alley_every_m < end:
                alleys.append((start + k * rules.alley_every_m, 0.0, rules.alley_width_m / 2))
                k += 1
        return alleys

    def _changes(self) -> list[float]:
        """Places across where a corner, or the side of a round rim, lies."""
        places = [
            v for shape in (self.outline, *self.areas) for _, v in shapely.get_coordinates(shape)
        ]
        for b in self.barriers:
            places += [v + side for v in (b.a[1], b.b[1]) for side in (-b.width, b.width)]
        return places

    def clipped(self, v: float, *, alleys: bool = True) -> list[tuple[float, float]]:
        """Pieces of the line at `v` inside, by clipping alone."""
        line = shapely.LineString([(self.u0, v), (self.u1, v)])
        inside = joined(_intervals(shapely.intersection(self.outline, line)))
        if not inside:
            return []
        barred = []
        for barrier in self.barriers:
            barred += barrier.met_by(v, line)
        for area in self.areas:
            met = _intervals(shapely.intersection(area, line))
            # Along the area's own edge is not within it.
            barred += [m for m in met if shapely.contains_xy(area, (m[0] + m[1]) / 2, v)]
        for u, slope, half in self.alleys if alleys else ():
            barred.append((u + v * slope - half, u + v * slope + half))
        return joined(without(inside, joined(barred, 0.0)))

    def is_clear(self, v: float, pieces, within: float = RIM) -> bool:
        """Whether pieces of the line at `v` are nowhere deeper than `within` in what is kept clear."""
        us = [u0 + k * 0.02 for u0, u1 in pieces for k in range(int((u1 - u0) / 0.02) + 1)]
        points = shapely.points([(u, v) for u in us])
        deepest = max(
            (
                b.width - shapely.distance(shapely.LineString([b.a, b.b]), points).min()
                for b in self.barriers
            ),
            default=0.0,
        )
        for area in self.areas:
            inside = shapely.contains(area, points)
            if inside.any():
                deepest = max(deepest, shapely.distance(area.boundary, points[inside]).max())
        return deepest <= within and shapely.distance(self.outline, points).max() <= within

    def settled(self, v: float) -> list[tuple[float, float]]:
        """Pieces of the line at `v`, a line within a millimetre of the rim being on it.

        The ground a millimetre to either side closes a gap that is none there, and lengthens a
        piece, or makes one, where it goes on for more than FLAT_RUN. What rounding alone hides is
        settled before, with a micrometre, so that ends are where they belong. Only asked of lines
        that pass a corner or the side of a round rim that near. A gap of two millimetres along
        the line is none anywhere.
        """
        pieces = joined(self.clipped(v), 2 * RIM)
        if not any(abs(v - place) <= RIM for place in self.changes):
            return pieces
        for reach in (ROUNDING, RIM):
            beside = self.clipped(v - reach) + self.clipped(v + reach)
            settled = []
            for low, high in joined(pieces + beside):
                own = [p for p in pieces if low <= p[0] and p[1] <= high]
                if own:
                    start, end = own[0][0], own[-1][1]
                    start = low if start - low > FLAT_RUN else start
                    end = high if high - end > FLAT_RUN else end
                    settled.append((start, end))
                elif high - low > FLAT_RUN:
                    settled.append((low, high))
            pieces = settled
        return joined(pieces, 2 * RIM)

    def area(self, quad_segs: int = 32):
        """The plantable area by shapely's buffers, in (along, across); alleys stay in."""
        barred = [
            shapely.LineString([b.a, b.b]).buffer(b.width, quad_segs=quad_segs)
            if b.a != b.b
            else shapely.Point(b.a).buffer(b.width, quad_segs=quad_segs)
            for b in self.barriers
        ]
        return shapely.difference(self.outline, shapely.union_all(barred + self.areas))

    def extent(self) -> tuple[float, float] | None:
        """Extremes across of the plantable area, by halving around those of the buffered one."""
        area = self.area()
        if area.is_empty or area.area == 0:
            return None
        _, left, _, right = area.bounds
        return self._first(left, 1), self._first(right, -1)

    def _first(self, about: float, way: int) -> float:
        out, within = about - way * 0.02, about + way * 0.002
        while not self.clipped(within, alleys=False):
            within += way * 0.002
            if abs(within - about) > 5:
                raise AssertionError(f"no ground near across {about}")
        while self.clipped(out, alleys=False):
            out -= way * 0.02
        while abs(out - within) > 1e-11 * max(1.0, abs(within)):
            middle = (out + within) / 2
            if middle in (out, within):
                break
            if self.clipped(middle, alleys=False):
                within = middle
            else:
                out = middle
        return within


def vines_in(start: float, end: float, line: int, rules, lattice: float) -> list[float]:
    """Where vines stand along a segment, in metres along the rows."""
    first, last = start + rules.first_vine_m, end - rules.last_vine_m
    spacing, span = rules.vine_spacing_m, last - first
    if span < -ROUNDING:
        return []
    spaces = 0
    while (spaces + 1) * spacing <= span + ROUNDING:
        spaces += 1
    if rules.leftover == "far end":
        return [first + k * spacing for k in range(spaces + 1)]
    if rules.leftover == "both ends":
        shift = max(span - spaces * spacing, 0.0) / 2
        return [first + shift + k * spacing for k in range(spaces + 1)]
    if rules.leftover == "stretch":
        most = rules.stretch_max_pct / 100
        fitting = [
            n
            for n in (spaces, spaces + 1)
            if n >= 1
            and spacing * (1 - most) - ROUNDING <= span / n <= spacing * (1 + most) + ROUNDING
        ]
        if fitting:
            n = min(fitting, key=lambda n: (abs(span / n - spacing), n))
            return [first + k * span / n for k in range(n + 1)]
        step = spacing * (1 + most) if spaces else spacing
        return [first + k * step for k in range(spaces + 1)]
    origin = lattice
    if rules.lattice == "staggered" and line % 2:
        origin += spacing / 2
    k = math.floor((first - origin) / spacing) - 1
    stand = []
    while origin + k * spacing <= last + ROUNDING:
        if origin + k * spacing >= first - ROUNDING:
            stand.append(origin + k * spacing)
        k += 1
    return stand


def line_posts_in(vines: list[float], every: int) -> list[float]:
    """Midway between two vines, every so many vine spaces."""
    if not every:
        return []
    return [(vines[k - 1] + vines[k]) / 2 for k in range(every, len(vines), every)]


def slow_plan(block, rules, exclusions=()) -> SlowPlan:
    """Rows of a block whose first row is a number."""
    ground = Ground(block, rules, exclusions)
    extent = ground.extent()
    segments, dropped = [], []
    if extent is not None:
        left, right = extent
        across, v = [], left + rules.first_row_m
        while v <= right + RIM:
            across.append(v)
            v = left + rules.first_row_m + len(across) * rules.row_spacing_m
        lattice = min(u for u, _ in ground.outline.exterior.coords) + rules.first_vine_m
        lines = list(range(len(across)))
        for place, line in enumerate(lines if rules.number_from == "left" else lines[::-1]):
            letter = 0
            for start, end in ground.settled(across[line]):
                piece = SlowSegment(line, rules.first_number + place, across[line], start, end)
                if end - start >= rules.min_row_m - ROUNDING and end - start > NO_PIECE:
                    piece.letter = letter
                    letter += 1
                    piece.vines = vines_in(start, end, line, rules, lattice)
                    piece.line_posts = line_posts_in(piece.vines, rules.line_post_every)
                    segments.append(piece)
                elif end - start > NO_PIECE:
                    dropped.append(piece)
    return SlowPlan(extent, segments, dropped, ground.turn)
