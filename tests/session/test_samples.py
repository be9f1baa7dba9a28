"""The sample sites: their printed figures, found twice, and what they must not complain of.

`site_the_plain_way` counts rows and vines without the program: the files are read by geopandas,
brought into a plane by pyproj, and each row is one vertical line cut by shapely's buffers. It
needs sites where nothing lies on the border of being counted; `Plain.nearest_m` says how far off
the nearest case is, and a test holds it.
"""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import dataclass, fields
from functools import cache

import geopandas
import numpy as np
import pytest
import shapely
from pyproj import CRS, Geod, Proj, Transformer
from shapely.affinity import rotate

from layoutdesk.core.model import RowRules
from layoutdesk.formats.reading import read_outlines
from layoutdesk.formats.summary import summary_of
from layoutdesk.session.places import sample_sites
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.stakeout import lay_project, project_findings, stake_set

NAMES = sorted(sample_sites())
SAMPLES = {s.name: s for s in samples()}
CHORDS = 256
"""Chords a quarter turn: an arc of 10 m is missed by 0.05 mm."""

COUNTS = (
    "rows",
    "segments",
    "vines",
    "end_posts",
    "line_posts",
    "anchors",
    "dropped_segments",
)
MEASURES = {  # what is printed, and half a unit in its last place
    "row_length_m": 0.005,
    "outline_m2": 0.05,
    "plantable_m2": 0.05,
    "combined_factor": 5e-9,
    "convergence_deg": 5e-7,
}

each_site = pytest.mark.parametrize("name", NAMES)


@cache
def laid(name):
    """Project, plans and summary of a sample site."""
    project = open_sample(SAMPLES[name])
    plans = lay_project(project)
    return project, plans, summary_of(stake_set(project, plans))


@dataclass
class Plain:
    """Totals of a site counted the plain way, and the nearest miss of a count. [m], [m²]"""

    rows: int = 0
    segments: int = 0
    vines: int = 0
    end_posts: int = 0
    line_posts: int = 0
    anchors: int = 0
    dropped_segments: int = 0
    row_length_m: float = 0.0
    plantable_m2: float = 0.0
    nearest_m: float = math.inf


def _shapes_in(path):
    """Geometry, attributes and coordinate system of every feature in every layer."""
    layers = geopandas.list_layers(path)["name"] if path.suffix == ".gpkg" else [None]
    for layer in layers:
        frame = geopandas.read_file(path, **({"layer": layer} if layer else {}))
        for _, row in frame.iterrows():
            yield row.geometry, row, frame.crs


def _origin_and_scale(sample):
    """Longitude and latitude of the outlines' middle to 5 decimals, and 1 + h / R there."""
    shapes = [(g, crs) for g, _, crs in _shapes_in(sample.outline)]
    crs = shapes[0][1]
    x0, y0, x1, y1 = shapely.total_bounds([g for g, _ in shapes])
    to_degrees = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    lon, lat = (round(q, 5) for q in to_degrees.transform((x0 + x1) / 2, (y0 + y1) / 2))
    a, b = crs.ellipsoid.semi_major_metre, crs.ellipsoid.semi_minor_metre
    cosine, sine = math.cos(math.radians(lat)), math.sin(math.radians(lat))
    radius_m = a * a * b / ((a * cosine) ** 2 + (b * sine) ** 2)  # sqrt of meridian times prime
    return lon, lat, 1 + sample.height_m / radius_m


def _in_the_plane(shape, crs, lon, lat, scale):
    """A shape in metres on the ground about the origin, the datum as it is."""
    to_degrees = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    ellipsoid = crs.ellipsoid
    plane = Proj(
        proj="tmerc",
        lon_0=lon,
        lat_0=lat,
        k=scale,
        a=ellipsoid.semi_major_metre,
        rf=ellipsoid.inverse_flattening,
    )

    def move(xy):
        return np.column_stack(plane(*to_degrees.transform(xy[:, 0], xy[:, 1])))

    return shapely.transform(shape, move)


def _edges(polygon):
    for ring in (polygon.exterior, *polygon.interiors):
        corners = list(ring.coords)
        yield from itertools.pairwise(corners)


def _plantable(outline, rules, kept_clear):
    """The plantable area with rows running up the page."""
    area = outline
    for (xa, ya), (xb, yb) in _edges(outline):
        turn = math.degrees(math.atan2(abs(xb - xa), abs(yb - ya)))
        assert abs(turn - rules.side_angle_deg) > 0.5
        width = rules.headland_m if turn >= rules.side_angle_deg else rules.side_margin_m
        area = area.difference(
            shapely.LineString([(xa, ya), (xb, yb)]).buffer(width, quad_segs=CHORDS)
        )
    for shape, clearance in kept_clear:
        area = area.difference(shape.buffer(clearance, quad_segs=CHORDS))
    return area


def _alleys(outline, rules):
    x0, y0, x1, y1 = outline.bounds
    half = rules.alley_width_m / 2
    middle, boxes = y0 + rules.alley_every_m, []
    while rules.alley_every_m and middle < y1:
        boxes.append(shapely.box(x0 - 1, middle - half, x1 + 1, middle + half))
        middle += rules.alley_every_m
    return shapely.union_all(boxes)


def _vines_on(low, high, rules, lattice_from, site):
    """Where vines stand between two end posts."""
    first, last = low + rules.first_vine_m, high - rules.last_vine_m
    place, spacing = first, rules.vine_spacing_m
    if rules.leftover == "across":
        place = lattice_from
        while place < first:
            place += spacing
        site.nearest_m = min(site.nearest_m, place - first, spacing - (place - first))
    stand = []
    while place <= last:
        stand.append(place)
        place += spacing
    site.nearest_m = min(site.nearest_m, place - last, spacing - (place - last))
    return stand


@cache
def site_the_plain_way(name) -> Plain:
    """All blocks of a sample site, one row line at a time."""
    sample = SAMPLES[name]
    rules = RowRules(**sample.rules)
    assert rules.leftover in ("far end", "both ends", "across")
    assert rules.lattice == "square"
    assert not rules.alleys
    at = _origin_and_scale(sample)

    def upright(shape, crs):
        return rotate(_in_the_plane(shape, crs, *at), rules.bearing_deg, origin=(0, 0))

    kept_clear = [
        (upright(shape, crs), float(row["clearance_m"]))
        for file, _ in sample.exclusions
        for shape, row, crs in _shapes_in(file)
    ]
    site = Plain()
    for shape, _, crs in _shapes_in(sample.outline):
        outline = upright(shape, crs)
        area = _plantable(outline, rules, kept_clear)
        site.plantable_m2 += area.area
        planted = area.difference(_alleys(outline, rules))
        left, _, right, _ = area.bounds
        _, south, _, north = outline.bounds
        n_lines = int((right - left - rules.first_row_m) // rules.row_spacing_m) + 1
        over = right - left - rules.first_row_m - (n_lines - 1) * rules.row_spacing_m
        site.nearest_m = min(site.nearest_m, over, rules.row_spacing_m - over)
        for line in range(n_lines):
            x = left + rules.first_row_m + line * rules.row_spacing_m
            cut = planted.intersection(shapely.LineString([(x, south - 1), (x, north + 1)]))
            kept = 0
            for piece in shapely.get_parts(cut):
                if piece.length < 1e-3:
                    continue
                site.nearest_m = min(site.nearest_m, abs(piece.length - rules.min_row_m))
                if piece.length < rules.min_row_m:
                    site.dropped_segments += 1
                    continue
                kept += 1
                _, low, _, high = piece.bounds
                lattice_from = south + rules.first_vine_m
                vines = _vines_on(low, high, rules, lattice_from, site)
                spaces = range(rules.line_post_every, len(vines), rules.line_post_every)
                site.segments += 1
                site.vines += len(vines)
                site.line_posts += len(spaces)
                site.end_posts += 2
                site.anchors += 2
                site.row_length_m += piece.length
            site.rows += kept > 0
    return site


def test_there_are_at_least_four_sites_and_each_is_listed_in_the_readme():
    assert len(NAMES) >= 4
    folder = next(iter(sample_sites().values())).parent
    page = (folder / "README.md").read_text(encoding="utf-8")
    assert [n for n in NAMES if f"`{n}`" not in page] == []
    assert {p.name for p in folder.iterdir() if p.is_dir()} == set(NAMES)


@each_site
def test_printed_counts_are_what_the_program_lays(name):
    _, _, summary = laid(name)
    expected = SAMPLES[name].expected
    assert {k: summary[k] for k in COUNTS} == {k: expected[k] for k in COUNTS}


@each_site
def test_printed_measures_are_what_the_program_finds(name):
    _, _, summary = laid(name)
    expected = SAMPLES[name].expected
    found = {**summary, **summary["survey"]}
    off = {k: abs(found[k] - expected[k]) for k in MEASURES}
    # a rounding step more: the figure itself may lie at the border of its last place
    assert {k: v for k, v in off.items() if v > MEASURES[k] * 1.02} == {}
    assert summary["survey"]["crs"] == expected["survey_crs"]


@each_site
def test_printed_counts_are_found_the_plain_way_too(name):
    site = site_the_plain_way(name)
    expected = SAMPLES[name].expected
    assert {k: getattr(site, k) for k in COUNTS} == {k: expected[k] for k in COUNTS}


@each_site
def test_printed_lengths_and_areas_are_found_the_plain_way_too(name):
    site = site_the_plain_way(name)
    expected = SAMPLES[name].expected
    assert site.row_length_m == pytest.approx(expected["row_length_m"], abs=0.01)
    # the program measures the area with chords, too, and coarser ones
    assert site.plantable_m2 == pytest.approx(expected["plantable_m2"], abs=0.15)


@each_site
def test_no_count_hangs_on_a_millimetre(name):
    assert site_the_plain_way(name).nearest_m > 5e-4


@each_site
def test_outlines_measure_what_they_do_on_the_ellipsoid_raised_to_the_site(name):
    sample = SAMPLES[name]
    _, _, scale = _origin_and_scale(sample)
    total = 0.0
    for shape, _, crs in _shapes_in(sample.outline):
        to_degrees = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
        around = shapely.transform(
            shape, lambda xy, to=to_degrees: np.column_stack(to.transform(xy[:, 0], xy[:, 1]))
        )
        area, _ = crs.get_geod().geometry_area_perimeter(shapely.geometry.polygon.orient(around))
        total += area * scale**2
    assert total == pytest.approx(sample.expected["outline_m2"], abs=0.1)


@each_site
def test_combined_factor_and_convergence_are_those_of_a_short_line_on_the_grid(name):
    sample = SAMPLES[name]
    lon, lat, scale = _origin_and_scale(sample)
    grid = CRS.from_user_input(sample.expected["survey_crs"])
    geod: Geod = grid.get_geod()
    lons, lats, _ = geod.fwd([lon, lon], [lat, lat], [180, 0], [100, 100])
    to_grid = Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    e, n = (
        np.array(q) * grid.axis_info[0].unit_conversion_factor
        for q in to_grid.transform(lons, lats)
    )
    east, north = e[1] - e[0], n[1] - n[0]
    factor = math.hypot(east, north) / 200 / scale
    # True north seen from grid north; the convergence is grid north seen from true north.
    convergence_deg = -math.degrees(math.atan2(east, north))
    assert factor == pytest.approx(sample.expected["combined_factor"], abs=1e-8)
    assert convergence_deg == pytest.approx(sample.expected["convergence_deg"], abs=1e-6)


@each_site
def test_nothing_is_wrong_with_a_sample_site(name):
    project, plans, _ = laid(name)
    findings = project_findings(project, plans)
    assert [f.message for f in findings if f.severity == "wrong"] == []
    assert all(plan.n_vines > 0 for plan in plans)


def test_the_only_caution_is_the_pole_line():
    found = [
        (name, f["code"])
        for name in NAMES
        for f in laid(name)[2]["findings"]
        if f["severity"] != "note"
    ]
    assert found == [("field_with_pond", "overhead-line")]


@each_site
def test_site_json_is_plain_complete_and_short(name):
    sample = SAMPLES[name]
    text = (sample.folder / "site.json").read_bytes()
    said = json.loads(text.decode("ascii"))
    assert set(said["rules"]) <= {f.name for f in fields(RowRules)}
    assert set(said["expected"]) == {*COUNTS, *MEASURES, "survey_crs"}
    assert 0 < len(sample.about) < 70
    assert sample.title
    assert all(path.is_file() for path in (sample.outline, *(p for p, _ in sample.exclusions)))
    assert all(p.stat().st_size < 200_000 for p in sample.folder.iterdir())


@each_site
def test_names_in_the_files_are_plain(name):
    project, _, _ = laid(name)
    read = read_outlines(SAMPLES[name].outline)
    names = [s.name for s in read.shapes] + [e.name for e in project.exclusions]
    kinds = [e.kind for e in project.exclusions]
    assert all(n.isascii() and n for n in names + kinds)
    assert name.isascii()
    assert name == name.lower()


def test_the_pond_field_has_every_kind_of_exclusion_with_its_own_clearance():
    project, _, _ = laid("field_with_pond")
    found = {(e.shape.geom_type, e.kind, e.clearance_m) for e in project.exclusions}
    assert found == {
        ("Polygon", "pond", 10.0),
        ("LineString", "overhead line", 7.5),
        ("LineString", "track", 3.0),
        ("Point", "pole", 2.5),
    }


def test_the_bench_is_in_us_survey_feet_and_its_spacing_in_whole_feet():
    project, _, summary = laid("bench_in_feet")
    rules = project.blocks[0].rules
    assert summary["survey"]["unit"] == "US survey foot"
    assert (rules.row_spacing_m, rules.vine_spacing_m) == (8 * 0.3048, 5 * 0.3048)
    assert len(project.blocks[0].outline.interiors) == 1


def test_a_corner_list_gives_the_outlines_of_the_shapefile():
    sample = SAMPLES["slope_two_blocks"]
    as_list = read_outlines(sample.folder / "corners.csv", crs="EPSG:7855")
    as_shapes = read_outlines(sample.outline)
    assert [s.name for s in as_list.shapes] == [s.name for s in as_shapes.shapes]
    assert [len(s.geometry.exterior.coords) for s in as_list.shapes] == [14, 20]
    for a, b in zip(as_list.shapes, as_shapes.shapes, strict=True):
        assert a.geometry.normalize().equals_exact(b.geometry.normalize(), 1e-9)
