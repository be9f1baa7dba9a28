"""Heights from surveyed points, contours and triangles, against planes and a cone."""

import ezdxf
import numpy as np
import pytest
from pyproj import Transformer

from layoutdesk import InputProblem
from layoutdesk.core.model import Terrain
from layoutdesk.formats import terrain_points
from layoutdesk.formats.crs import crs_named, frame_crs, make_frame
from layoutdesk.formats.reading import corners
from layoutdesk.formats.terrain import described_terrain, read_terrain

EAST, NORTH = 289_000.0, 6_180_000.0
GRID = "EPSG:32754"
FRAME = make_frame(crs_named(GRID), np.array([EAST]), np.array([NORTH]), 100.0)
SITE = (-200.0, -150.0, 200.0, 150.0)
RANDOM = np.random.default_rng(4)
PLACES = RANDOM.uniform((-200, -150), (200, 150), (500, 2))
SURVEYED = RANDOM.uniform((EAST - 400, NORTH - 400), (EAST + 400, NORTH + 400), (900, 2))
ON_PLANE_M = 1e-4  # a plane over the grid is none over the frame: 0.02 mm in triangles of 50 m


def plane(x, y):
    """A slope of 5 % east and 2 % south, 120 m high at the site's middle. [m]"""
    return 120.0 + 0.05 * (x - EAST) - 0.02 * (y - NORTH)


def on_grid(xy_m, crs=GRID):
    way = Transformer.from_crs(frame_crs(FRAME), crs, always_xy=True)
    return np.column_stack(way.transform(*xy_m.T))


TRUTH = plane(*on_grid(PLACES).T)


def read(path, site_crs=None, **said):
    return read_terrain(Terrain(str(path), **said), FRAME, SITE, site_crs)


def codes(found):
    return sorted(f.code for f in found.findings)


def assert_on_plane(found):
    assert np.abs(found.surface.heights_m(PLACES) - TRUTH).max() < ON_PLANE_M


def table(path, header, rows, mark=",", comma=False, decimals=6):
    lines = [header] if header else []
    for row in rows:
        cells = [c if isinstance(c, str) else f"{c:.{decimals}f}" for c in row]
        lines.append(mark.join(c.replace(".", ",") if comma else c for c in cells))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


POINTS = np.column_stack([SURVEYED, plane(*SURVEYED.T)])


# ------------------------------------------------------------------------------ tables


@pytest.mark.parametrize(
    ("header", "mark", "comma", "order"),
    [
        ("easting,northing,elevation", ",", False, (0, 1, 2)),
        ("X;Y;Z", ";", False, (0, 1, 2)),
        ("Northing;Easting;Höhe", ";", True, (1, 0, 2)),
        ("x\ty\tz", "\t", True, (0, 1, 2)),
        ("E N H", " ", False, (0, 1, 2)),
        ("northing,easting,elevation_m", ",", False, (1, 0, 2)),
        ("", " ", False, (0, 1, 2)),
    ],
)
def test_a_table_in_any_dialect_gives_the_plane_it_was_measured_on(
    tmp_path, header, mark, comma, order
):
    path = table(tmp_path / "points.csv", header, POINTS[:, order], mark, comma)
    found = read(path, crs=GRID, unit="m", datum="local")
    assert_on_plane(found)
    assert codes(found) == ([] if header else ["columns-assumed"])
    assert found.statement.startswith("Heights from points.csv, 900 points, 1,")


def test_latitude_longitude_and_height_are_wgs84(tmp_path):
    way = Transformer.from_crs(GRID, "EPSG:4326", always_xy=True)
    lon, lat = way.transform(*SURVEYED.T)
    rows = np.column_stack([lat, lon, POINTS[:, 2]])
    path = table(tmp_path / "p.csv", "lat,lon,h", rows, decimals=10)
    found = read(path, unit="m", datum="GRS 80")
    assert_on_plane(found)
    assert codes(found) == ["terrain-crs-assumed"]


def test_points_of_a_surveyor_without_names_may_have_northing_first(tmp_path):
    numbered = [(str(i + 1), n, e, z, "GL") for i, (e, n, z) in enumerate(POINTS)]
    found = read(table(tmp_path / "p.txt", "", numbered), crs=GRID, unit="m", datum="local")
    assert_on_plane(found)
    (told,) = found.findings
    assert told.code == "columns-assumed"
    assert "first coordinate was taken as northing" in told.message


@pytest.mark.parametrize(
    ("column", "unit"), [("Elevation (ft)", "ft"), ("z_usft", "usft"), ("Height [m]", "m")]
)
def test_a_unit_in_the_columns_name_is_the_heights_alone(tmp_path, column, unit):
    metres = {"ft": 0.3048, "usft": 1200 / 3937, "m": 1.0}[unit]
    path = table(tmp_path / "p.csv", f"easting,northing,{column}", POINTS / [1, 1, metres])
    assert described_terrain(path).unit == unit
    found = read(path, crs=GRID)
    assert_on_plane(found)
    assert codes(found) == ["terrain-datum-unknown"]


def test_a_unit_nobody_says_is_metres_with_a_caution(tmp_path):
    path = table(tmp_path / "p.csv", "easting,northing,elevation", POINTS)
    found = read(path, GRID)
    assert codes(found) == ["terrain-crs-assumed", "terrain-datum-unknown", "terrain-unit-assumed"]
    assert {f.code: f.severity for f in found.findings}["terrain-unit-assumed"] == "caution"
    assert_on_plane(found)
    assert "unit metre (assumed)" in found.statement


def test_a_large_table_is_read_as_a_small_one(tmp_path, monkeypatch):
    path = table(tmp_path / "p.csv", "point,easting,northing,elevation,note", [
        (str(i), *p, "a b") for i, p in enumerate(POINTS)
    ])  # fmt: skip
    small = read(path, crs=GRID)
    monkeypatch.setattr(corners, "LARGE_BYTES", 1000)
    large = read(path, crs=GRID)
    assert np.array_equal(large.surface.points, small.surface.points)
    gaps = POINTS.astype(object)
    gaps[5, 2] = ""  # what is not plain goes the slow way, with the same result
    table(path, "easting,northing,elevation", gaps)
    assert "terrain-points-dropped" in codes(read(path, crs=GRID))


def test_points_without_a_usable_height_are_left_out_and_counted(tmp_path):
    rows = POINTS.astype(object)
    rows[:3, 2] = "", "-9999", "0.000"
    found = read(table(tmp_path / "p.csv", "easting,northing,z", rows), crs=GRID)
    assert_on_plane(found)
    (told,) = (f for f in found.findings if f.code == "terrain-points-dropped")
    assert told.message.startswith("3 points of p.csv")


def test_only_points_near_the_site_make_triangles_where_there_are_many(tmp_path, monkeypatch):
    wide = RANDOM.uniform((EAST - 3000, NORTH - 3000), (EAST + 3000, NORTH + 3000), (9000, 2))
    path = table(tmp_path / "p.csv", "x,y,z", np.column_stack([wide, plane(*wide.T)]))
    monkeypatch.setattr(terrain_points, "_MANY", 1000)
    found = read(path, crs=GRID)
    assert len(found.surface.points) < 1000
    assert_on_plane(found)


def test_four_points_far_round_the_site_are_enough(tmp_path):
    far = np.array([[-3000, -3000], [3000, -3000], [3000, 3000], [-3000, 3000]]) + [EAST, NORTH]
    path = table(tmp_path / "p.csv", "x,y,z", np.column_stack([far, plane(*far.T)]))
    z = read(path, crs=GRID).surface.heights_m(PLACES)
    assert np.abs(z - TRUTH).max() < 0.02  # over 6 km the grid bends by so much


def test_tables_that_hold_no_heights_are_refused_with_what_to_do(tmp_path):
    for header, rows, why in (
        ("easting,northing", POINTS[:, :2], "no column of heights"),
        ("easting,northing,z", POINTS * [1, 1, 0], "All heights in p.csv are 0"),
        ("easting,northing,z", [(1.0, 2.0, "high")], "line 2: 'high' is no height"),
        ("easting,northing,z", [], "has a header and no points"),
        ("easting,northing,z", POINTS[:2], "makes no surface"),
        ("easting,northing,z", POINTS + [5e5, 0, 0], "has no heights near the site"),
    ):
        path = table(tmp_path / "p.csv", header, rows)
        with pytest.raises(InputProblem, match=why) as problem:
            read(path, crs=GRID)
        assert "\n" not in str(problem.value)
    with pytest.raises(InputProblem, match="names no coordinate system: give it"):
        read(table(tmp_path / "p.csv", "easting,northing,z", POINTS))
    with pytest.raises(InputProblem, match="taken as WGS 84, has no heights near the site"):
        read(tmp_path / "p.csv", "EPSG:4326")


# ------------------------------------------------------------------------------ LandXML


def landxml(path, points="", faces="", units='<Metric linearUnit="meter"/>', cg="", more=""):
    path.write_text(
        f"""<?xml version="1.0"?>
<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">
<Units>{units}</Units>{more}<CgPoints>{cg}</CgPoints>
<Surfaces><Surface name="ground"><Definition surfType="TIN"><Pnts>{points}</Pnts>
<Faces>{faces}</Faces></Definition></Surface></Surfaces></LandXML>"""
    )
    return path


NET = [(EAST + 250 * i, NORTH + 200 * j) for j in (-1, 0, 1) for i in (-1, 0, 1)]
"""Nine corners of four rectangles round the site, numbered from 1 row by row."""
FACES = [(a, a + 1, a + 4) for a in (1, 2, 4, 5)] + [(a, a + 4, a + 3) for a in (1, 2, 4, 5)]


def landxml_points(unit_m=1.0, tag="P"):
    return "".join(
        f'<{tag} id="{k}" name="{k}">{y / unit_m:.6f} {x / unit_m:.6f} {plane(x, y) / unit_m:.6f}</{tag}>'
        for k, (x, y) in enumerate(NET, 1)
    )


def landxml_faces(invisible=()):
    marks = [' i="1"' if k in invisible else "" for k in range(len(FACES))]
    return "".join(
        f"<F{mark}>{a} {b} {c}</F>" for mark, (a, b, c) in zip(marks, FACES, strict=True)
    )


def test_a_landxml_surface_keeps_its_triangles_and_its_holes(tmp_path):
    crs = '<CoordinateSystem epsgCode="32754" verticalDatum="AHD"/>'
    path = landxml(tmp_path / "s.xml", landxml_points(), landxml_faces((3, 7)), more=crs)
    found = read(path)
    assert codes(found) == []
    assert found.statement == (
        "Heights from s.xml, 8 points, 6 triangles; unit metre (as the file says); above AHD"
    )
    z = found.surface.heights_m(PLACES)
    x, y = on_grid(PLACES).T
    hole = (x > EAST + 1) & (y > NORTH + 1)  # the two invisible faces are north-east
    assert np.isnan(z[hole]).all()
    rest = (x < EAST - 1) | (y < NORTH - 1)
    assert np.abs(z[rest] - TRUTH[rest]).max() < 1e-3  # triangles of 250 m on the grid's bend


@pytest.mark.parametrize(("word", "unit_m"), [("foot", 0.3048), ("USSurveyFoot", 1200 / 3937)])
def test_landxml_feet_are_feet_in_plan_and_height(tmp_path, word, unit_m):
    units = f'<Imperial linearUnit="{word}"/>'
    found = read(
        landxml(tmp_path / "s.xml", landxml_points(unit_m), landxml_faces(), units), crs=GRID
    )
    assert np.abs(found.surface.heights_m(PLACES) - TRUTH).max() < 1e-3
    assert "terrain-unit-assumed" not in codes(found)


def test_landxml_points_without_a_surface_are_triangulated(tmp_path):
    found = read(landxml(tmp_path / "s.xml", cg=landxml_points(tag="CgPoint")), crs=GRID)
    assert np.abs(found.surface.heights_m(PLACES) - TRUTH).max() < 1e-3
    assert found.statement.startswith("Heights from s.xml, 9 points, ")


def test_a_triangle_larger_than_the_site_still_covers_it(tmp_path):
    points = "".join(
        f'<P id="{k}">{y} {x} {plane(x, y)}</P>'
        for k, (x, y) in enumerate(
            [(EAST - 4000, NORTH - 3000), (EAST + 4000, NORTH - 3000), (EAST, NORTH + 5000)]
        )
    )
    found = read(landxml(tmp_path / "s.xml", points, "<F>0 1 2</F>"), crs=GRID)
    assert np.isfinite(found.surface.heights_m(PLACES)).all()


def test_xml_that_holds_no_heights_is_refused(tmp_path):
    (tmp_path / "cut.xml").write_text("<LandXML><Units>")
    (tmp_path / "other.xml").write_text("<kml/>")
    landxml(tmp_path / "none.xml")
    landxml(tmp_path / "wrong.xml", landxml_points(), "<F>1 2 77</F>")
    for name, why in (
        ("cut.xml", "no whole XML file"),
        ("other.xml", "is no LandXML file"),
        ("none.xml", "has no points with heights"),
        ("wrong.xml", "corner '77' that is no point"),
    ):
        with pytest.raises(InputProblem, match=why):
            read(tmp_path / name, crs=GRID)


# ------------------------------------------------------------------------------ drawings


def drawing(path, draw, insunits=6):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = insunits
    draw(document.modelspace())
    document.saveas(path)
    return path


def draw_points(space, unit_m=1.0):
    for x, y, z in POINTS / unit_m:
        space.add_point((x, y, z))


def draw_faces(space):
    corners_ = [(x, y, plane(x, y)) for x, y in NET]
    for a in (0, 1, 3, 4):
        space.add_3dface([corners_[a], corners_[a + 1], corners_[a + 4], corners_[a + 3]])


@pytest.mark.parametrize(("insunits", "unit_m"), [(6, 1.0), (2, 0.3048), (4, 0.001)])
def test_points_of_a_drawing_in_its_own_unit(tmp_path, insunits, unit_m):
    path = drawing(tmp_path / "d.dxf", lambda s: draw_points(s, unit_m), insunits)
    found = read(path, crs=GRID)
    assert_on_plane(found)
    assert "terrain-unit-assumed" not in codes(found)


def test_faces_of_a_drawing_are_the_ground_whatever_is_drawn_beside_them(tmp_path):
    def draw(space):
        draw_faces(space)
        space.add_lwpolyline([(EAST - 9, NORTH), (EAST + 9, NORTH), (EAST, NORTH + 9)])

    found = read(drawing(tmp_path / "d.dxf", draw), crs=GRID)
    assert np.abs(found.surface.heights_m(PLACES) - TRUTH).max() < 1e-3
    assert len(found.surface.triangles) == 8
    assert "terrain-reduced" in codes(found)


def test_lines_at_no_height_beside_surveyed_points_are_no_ground(tmp_path):
    def draw(space):
        draw_points(space)
        space.add_lwpolyline([(EAST - 90, NORTH), (EAST + 90, NORTH), (EAST, NORTH + 90)])

    found = read(drawing(tmp_path / "d.dxf", draw), crs=GRID)
    assert_on_plane(found)
    assert "terrain-points-dropped" in codes(found)


@pytest.mark.parametrize("kind", ["3d polyline", "2d polyline", "lwpolyline", "line"])
def test_contours_of_a_plane_give_the_plane_back_however_they_are_drawn(tmp_path, kind):
    """Lines of height across the site, with corners 1 km apart: the points between are added."""
    along, up = np.array([0.02, 0.05]), np.array([0.05, -0.02])
    along, rise = along / np.hypot(*along), float(np.hypot(*up))

    def draw(space):
        for height in np.arange(90.0, 151.0, 2.0):
            middle = (EAST, NORTH) + up / rise**2 * (height - 120)
            a, b = (tuple(middle + along * s) for s in (-500, 500))
            if kind == "3d polyline":
                space.add_polyline3d([(*a, height), (*b, height)])
            elif kind == "2d polyline":
                line = space.add_polyline2d([a, b])
                line.dxf.elevation = (0, 0, height)
            elif kind == "lwpolyline":
                space.add_lwpolyline([a, b], dxfattribs={"elevation": height})
            else:
                space.add_line((*a, height), (*b, height))

    found = read(drawing(tmp_path / "d.dxf", draw), crs=GRID)
    assert found.surface.heights_m(PLACES) == pytest.approx(TRUTH, abs=2e-3)
    assert len(found.surface.points) > 31 * 100  # one each 10 m at most
    assert "terrain-flat-triangles" not in codes(found)


def test_level_triangles_on_a_hilltop_are_told(tmp_path):
    def draw(space):
        for height in (100.0, 110.0, 120.0, 130.0):
            turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
            ring = np.column_stack([np.cos(turn), np.sin(turn)]) * (140 - height) * 10
            space.add_lwpolyline(ring + [EAST, NORTH], close=True, dxfattribs={"elevation": height})

    found = read(drawing(tmp_path / "d.dxf", draw), crs=GRID)
    assert "terrain-flat-triangles" in codes(found)
    at_top = found.surface.heights_m(np.zeros((1, 2)))
    assert at_top == pytest.approx(130.0)  # the cone's own top is at 140 m


def test_a_flat_drawing_is_refused(tmp_path):
    def draw(space):
        space.add_lwpolyline([(EAST, NORTH), (EAST + 50, NORTH), (EAST, NORTH + 50)])

    with pytest.raises(InputProblem, match=r"All heights in d\.dxf are 0"):
        read(drawing(tmp_path / "d.dxf", draw), crs=GRID)
