"""The sample on a slope compared: its figures found a second way, from the printed heights alone.

The ground is the formula of `sample_sites/README.md`, not the raster made by it; its gradient is
worked out by hand. Rows are vertical lines cut by shapely in a plane of pyproj's, as in
`test_samples`, with a step every metre; the sun is followed by pvlib, a position at a time.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
import pandas as pd
import pvlib
import pytest
import shapely
from pyproj import CRS, Proj, Transformer
from shapely.affinity import rotate

from layoutdesk.core.compare.catalogue import MEASURES
from layoutdesk.core.model import Candidate, Prices, RowRules, Study
from layoutdesk.session.comparing import Comparer, CompareRequest
from layoutdesk.session.samples import open_sample
from layoutdesk.session.terrain import terrain_of
from tests.session.test_samples import (
    CHORDS,
    SAMPLES,
    Plain,
    _edges,
    _in_the_plane,
    _origin_and_scale,
    _plantable,
    _shapes_in,
    _vines_on,
)

NAME = "slope_two_blocks"
GRID = CRS("EPSG:7855")
CORNER = (648_800.0, 6_184_500.0)
BEARINGS = (66.0, 21.0, 114.0, 156.0)
STUDY = Study(
    candidates=tuple(Candidate(b) for b in BEARINGS),
    short_row_m=120.0,
    grade_along_pct=9.0,
    grade_across_pct=6.5,
    prices=Prices(end_assembly=41.0, line_post=7.5, currency="AUD"),
    wind_from_deg=285.0,
)
MONTHS = (10, 11, 12, 1, 2, 3, 4)  # what a season south of the equator has

each_bearing = pytest.mark.parametrize("bearing", BEARINGS)


def height_m(x, y):
    """The printed formula."""
    gully = 5 * np.exp(-(((x - 77) / 22) ** 2))
    return 545 + 0.055 * x - 0.085 * y + 5 * np.sin(x / 130) * np.cos(y / 170) - gully


def gradient(x, y):
    """Its derivatives, east and north on the grid."""
    gully = 5 * np.exp(-(((x - 77) / 22) ** 2))
    east = 0.055 + 5 / 130 * np.cos(x / 130) * np.cos(y / 170) + gully * 2 * (x - 77) / 22**2
    north = -0.085 - 5 / 170 * np.sin(x / 130) * np.sin(y / 170)
    return east, north


@dataclass
class Ground:
    """From the plane to the grid of the formula."""

    lon: float
    lat: float
    scale: float

    @cached_property
    def _plane(self):
        a, rf = GRID.ellipsoid.semi_major_metre, GRID.ellipsoid.inverse_flattening
        return Proj(proj="tmerc", lon_0=self.lon, lat_0=self.lat, k=self.scale, a=a, rf=rf)

    @cached_property
    def _grid(self):
        return Transformer.from_crs(GRID.geodetic_crs, GRID, always_xy=True)

    def xy(self, east, north):
        lon, lat = self._plane(east, north, inverse=True)
        x, y = self._grid.transform(lon, lat)
        return x - CORNER[0], y - CORNER[1]

    def heights_m(self, east, north):
        return height_m(*self.xy(east, north))

    def rise(self, east, north, to_east, to_north):
        """Rise for a metre on the ground in a direction, by the chain rule."""
        (x, y), (xa, ya) = self.xy(east, north), self.xy(east + to_east, north + to_north)
        on_x, on_y = gradient(x, y)
        return on_x * (xa - x) + on_y * (ya - y)


@dataclass
class Row:
    """A segment: its line, place across, and ends along, in metres."""

    line: int
    across: float
    low: float
    high: float
    vines: int
    line_posts: int

    @property
    def length(self):
        return self.high - self.low


@dataclass
class Laid:
    """A block laid at a bearing the plain way."""

    bearing: float
    outline: shapely.Polygon
    rows: list[Row]
    lines_m: float
    headland_m: float
    nearest_m: float

    def places(self, row: Row, step=1.0):
        """Middles of steps along a row, east and north, and the steps' length. [m]"""
        n = math.ceil(row.length / step)
        along = row.low + (np.arange(n) + 0.5) * row.length / n
        return *self.turned(np.full(n, row.across), along), row.length / n

    def turned(self, across, along):
        a = math.radians(self.bearing)
        return (
            across * math.cos(a) + along * math.sin(a),
            along * math.cos(a) - across * math.sin(a),
        )


@cache
def ground() -> Ground:
    return Ground(*_origin_and_scale(SAMPLES[NAME]))


@cache
def laid(bearing: float) -> tuple[Laid, ...]:
    rules = RowRules(**{**SAMPLES[NAME].rules, "bearing_deg": bearing})
    origin = _origin_and_scale(SAMPLES[NAME])
    return tuple(
        _block(rotate(_in_the_plane(shape, crs, *origin), bearing, origin=(0, 0)), rules)
        for shape, _, crs in _shapes_in(SAMPLES[NAME].outline)
    )


def _block(outline, rules) -> Laid:
    ends = [
        shapely.LineString([a, b])
        for a, b in _edges(outline)
        if math.degrees(math.atan2(abs(b[0] - a[0]), abs(b[1] - a[1]))) >= rules.side_angle_deg
    ]
    headland = shapely.union_all([e.buffer(rules.headland_m, quad_segs=CHORDS) for e in ends])
    area = _plantable(outline, rules, [])
    left, _, right, _ = area.bounds
    west, south, east, north = outline.bounds
    first = left + rules.first_row_m
    site = Plain()
    block = Laid(rules.bearing_deg, outline, [], 0.0, 0.0, 0.0)
    spacing = rules.row_spacing_m
    for line in range(
        math.ceil((west - first) / spacing), math.floor((east - first) / spacing) + 1
    ):
        x = first + line * spacing
        upright = shapely.LineString([(x, south - 1), (x, north + 1)])
        inside = shapely.intersection(outline, upright)
        block.lines_m += inside.length
        block.headland_m += shapely.intersection(inside, headland).length
        for piece in shapely.get_parts(shapely.intersection(area, upright)):
            site.nearest_m = min(site.nearest_m, abs(piece.length - rules.min_row_m))
            if piece.length >= rules.min_row_m:
                _, low, _, high = piece.bounds
                vines = len(_vines_on(low, high, rules, 0.0, site))
                posts = len(range(rules.line_post_every, vines, rules.line_post_every))
                block.rows.append(Row(line, x, low, high, vines, posts))
    block.nearest_m = min(site.nearest_m, (right - first) % spacing)
    return block


@cache
def answer():
    project = open_sample(SAMPLES[NAME])
    surface = terrain_of(project, None).surface
    return Comparer().answer(CompareRequest(0, replace(project, study=STUDY), surface, sweep=False))


def told(bearing: float) -> dict[str, float]:
    return answer().results[BEARINGS.index(bearing)].values


def pairs(bearing: float):
    return [(block, row) for block in laid(bearing) for row in block.rows]


def least_not_exceeded(values, weights, share=0.95):
    order = np.argsort(values)
    part = np.cumsum(weights[order]) / weights.sum()
    return values[order][np.searchsorted(part, share - 1e-12)]


@each_bearing
def test_counts_and_lengths_are_those_of_single_lines(bearing):
    rows = [row for _, row in pairs(bearing)]
    lengths = [row.length for row in rows]
    found = told(bearing)
    assert min(b.nearest_m for b in laid(bearing)) > 5e-4
    for name, value in {
        "vines": sum(r.vines for r in rows),
        "rows": len({(id(b), r.line) for b, r in pairs(bearing)}),
        "segments": len(rows),
        "end_posts": 2 * len(rows),
        "line_posts": sum(r.line_posts for r in rows),
        "short_rows": sum(length < STUDY.short_row_m for length in lengths),
        "turns": len(rows) - len(laid(bearing)),
    }.items():
        assert found[name] == value, name
    assert found["row_length_m"] == pytest.approx(sum(lengths), abs=0.01)
    assert found["mean_row_m"] == pytest.approx(np.mean(lengths), abs=1e-4)
    assert found["shortest_row_m"] == pytest.approx(min(lengths), abs=1e-3)
    assert found["longest_row_m"] == pytest.approx(max(lengths), abs=1e-3)
    assert found["posts_cost"] == 41.0 * found["end_posts"] + 7.5 * found["line_posts"]


@each_bearing
def test_shares_are_those_of_single_lines(bearing):
    blocks = laid(bearing)
    spacing = RowRules(**SAMPLES[NAME].rules).row_spacing_m
    planted = spacing * sum(r.length for b in blocks for r in b.rows)
    headland = sum(b.headland_m for b in blocks) / sum(b.lines_m for b in blocks)
    found = told(bearing)
    share = 100 * planted / sum(b.outline.area for b in blocks)
    assert found["planted_share_pct"] == pytest.approx(share, abs=1e-4)
    assert found["headland_share_pct"] == pytest.approx(100 * headland, abs=1e-4)


@each_bearing
def test_travel_goes_up_one_row_and_down_the_next(bearing):
    between = 0.0
    for block in laid(bearing):
        at, up = None, True
        for _, row in itertools.groupby(block.rows, key=lambda r: r.line):
            for piece in row if up else reversed(list(row)):
                begin, end = (piece.low, piece.high) if up else (piece.high, piece.low)
                if at is not None:
                    between += math.hypot(piece.across - at[0], begin - at[1])
                at = (piece.across, end)
            up = not up
    rows_m = sum(row.length for _, row in pairs(bearing))
    found = told(bearing)
    assert found["travel_m"] == pytest.approx(rows_m + between, abs=0.05)
    share = 100 * between / (rows_m + between)
    assert found["idle_share_pct"] == pytest.approx(share, abs=1e-4)


@each_bearing
def test_the_angle_to_the_wind_is_the_sharp_one(bearing):
    sharp = {66.0: 39.0, 21.0: 84.0, 114.0: 9.0, 156.0: 51.0}[bearing]  # from 285, that is 105
    assert told(bearing)["wind_angle_deg"] == pytest.approx(sharp, abs=1e-9)


def grades(bearing: float):
    """Along and to the right without a sign, %, and the metres each stands for."""
    a = math.radians(bearing)
    along, right, weight = [], [], []
    for block, row in pairs(bearing):
        east, north, step = block.places(row)
        rise = ground().rise
        along.append(100 * np.abs(rise(east, north, math.sin(a), math.cos(a))))
        right.append(100 * np.abs(rise(east, north, math.cos(a), -math.sin(a))))
        weight.append(np.full(len(east), step))
    return tuple(np.concatenate(each) for each in (along, right, weight))


@each_bearing
def test_grades_are_those_of_the_formulas_gradient(bearing):
    """Cells of 5 m in whole centimetres and a machine's length round the gully's sides off a little."""
    along, right, weight = grades(bearing)
    found = told(bearing)
    for way, grade, limit in (
        ("along", along, STUDY.grade_along_pct),
        ("across", right, STUDY.grade_across_pct),
    ):
        steepest, most = found[f"grade_{way}_max_pct"], found[f"grade_{way}_p95_pct"]
        assert steepest == pytest.approx(grade.max(), abs=0.6)
        assert most == pytest.approx(least_not_exceeded(grade, weight), abs=0.25)
        over, border = weight[grade > limit].sum(), weight[abs(grade - limit) < 0.2].sum()
        assert found[f"steep_{way}_m"] == pytest.approx(over, abs=0.5 * border + 60)
    assert found["height_unknown_m"] == 0.0


@each_bearing
def test_rows_on_the_slope_and_their_height_ranges_are_those_of_the_formula(bearing):
    a = math.radians(bearing)
    on_ground, ranges = 0.0, []
    for block, row in pairs(bearing):
        east, north, step = block.places(row, 0.5)
        rise = ground().rise(east, north, math.sin(a), math.cos(a))
        on_ground += (step * np.hypot(1, rise)).sum()
        along = np.linspace(row.low, row.high, 2000)
        z = ground().heights_m(*block.turned(np.full(2000, row.across), along))
        ranges.append(np.ptp(z))
    found = told(bearing)
    assert found["ground_length_m"] > found["row_length_m"]
    # what a slope adds to the length, to a fiftieth
    added = found["ground_length_m"] - found["row_length_m"]
    plan = sum(row.length for _, row in pairs(bearing))
    assert added == pytest.approx(on_ground - plan, rel=0.02)
    assert found["drop_max_m"] == pytest.approx(max(ranges), abs=0.03)
    p95 = least_not_exceeded(np.array(ranges), np.ones(len(ranges)))
    assert found["drop_p95_m"] == pytest.approx(p95, abs=0.03)


@cache
def suns():
    """Direction to the sun, its strength, solar hour and hours it stands for, every ten minutes."""
    found, place = [], ground()
    pressure = pvlib.atmosphere.alt2pres(SAMPLES[NAME].height_m)
    for month in MONTHS:
        days = pd.Period(f"2023-{month:02d}").days_in_month
        for day in (4, 12, 20, 28):
            start = pd.Timestamp(2023, month, day, 0, 5, tz="UTC")
            times = pd.date_range(start, periods=144, freq="10min")
            sun = pvlib.solarposition.get_solarposition(times, place.lat, place.lon, altitude=550)
            dni = pvlib.clearsky.simplified_solis(sun["apparent_elevation"], 0.1, 1.0, pressure)[
                "dni"
            ]
            solar = (times.hour + times.minute / 60 + place.lon / 15) % 24
            hour = (solar + sun["equation_of_time"] / 60) % 24
            up, azimuth = np.radians(sun["apparent_elevation"]), np.radians(sun["azimuth"])
            for h, d, t, az in zip(up, dni, hour, azimuth, strict=True):
                if h > 0:
                    flat = math.cos(h)
                    toward = (flat * math.sin(az), flat * math.cos(az), math.sin(h))
                    found.append((toward, d, t, days / 4 / 6))
    return found


def _plane_of(block: Laid):
    """East and north rise of the plane nearest to a block's heights, from places 3 m apart."""
    west, south, east, north = block.outline.bounds
    x, y = (q.ravel() for q in np.meshgrid(np.arange(west, east, 3), np.arange(south, north, 3)))
    inside = shapely.contains_xy(block.outline, x, y)
    at = block.turned(x[inside], y[inside])
    z = ground().heights_m(*at)
    solved, *_ = np.linalg.lstsq(np.column_stack([*at, np.ones(len(z))]), z, rcond=None)
    return solved[:2]


def _sun_on(block: Laid, spacing: float) -> dict[str, float]:
    """One position of the sun after another, shading by the tops of the next row alone."""
    canopy, season = STUDY.canopy, STUDY.season
    a, plane = math.radians(block.bearing), _plane_of(block)
    tall, gap = canopy.height_m - canopy.foot_m, spacing - canopy.width_m
    n_days = sum(pd.Period(f"2023-{m:02d}").days_in_month for m in MONTHS)
    sums = dict.fromkeys(("left_h", "right_h", "left", "right", "morning", "afternoon"), 0.0)
    hot = {"left": 0.0, "right": 0.0}
    for (east, north, up), dni, hour, stands_for in suns():
        right = east * math.cos(a) - north * math.sin(a)
        climb = up - east * plane[0] - north * plane[1]
        if climb <= 0:
            continue
        face = "right" if right > 0 else "left"
        lit = min(1.0, gap * climb / (abs(right) * tall))
        hours = lit * stands_for / n_days
        energy = dni * abs(right) * hours * 3600 / 1e6
        sums[f"{face}_h"] += hours
        sums[face] += energy
        sums["morning" if hour < 12 else "afternoon"] += energy
        if season.hot_from_h <= hour < season.hot_to_h:
            hot[face] += energy
    names = {k: f"sun_{k}" if k.endswith("_h") else f"sun_{k}_mj_m2" for k in sums}
    return {names[k]: v for k, v in sums.items()} | {"sun_hot_mj_m2": max(hot.values())}


@each_bearing
def test_sun_on_the_faces_is_that_of_pvlib_a_position_at_a_time(bearing):
    """Each block on a plane of its own, means over the row length."""
    blocks = laid(bearing)
    spacing = RowRules(**SAMPLES[NAME].rules).row_spacing_m
    lengths = [sum(row.length for row in block.rows) for block in blocks]
    each = [_sun_on(block, spacing) for block in blocks]
    found = told(bearing)
    for name in each[0]:
        mean = np.average([e[name] for e in each], weights=lengths)
        assert found[name] == pytest.approx(mean, rel=0.01, abs=0.02), name


def test_every_measure_is_known_for_every_candidate():
    assert [set(MEASURES) - set(r.values) for r in answer().results] == [set()] * len(BEARINGS)
