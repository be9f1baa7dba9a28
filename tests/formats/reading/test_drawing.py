"""DXF: arcs, block references, units, loose ends."""

import itertools
import math

import pytest

from layoutdesk.core.model.findings import InputProblem
from layoutdesk.formats.reading import read_exclusions, read_outlines
from tests.formats.reading.files import EAST, NORTH, UTM, codes, drawing, finding, text

BULGED = [(0, 0, 0.5), (60, 0, 0), (60, 40, 0), (0, 40, 0)]
BULGED_M2 = 3029.008900  # rectangle and circle segment, from the definition of a bulge
GRID_FT = "ESRI:102733"  # South Carolina, US survey feet


def bulged(document, space):
    space.add_lwpolyline(at(BULGED), format="xyb", close=True, dxfattribs={"layer": "OUTLINE"})


def at(points):
    return [(EAST + x, NORTH + y, *rest) for x, y, *rest in points]


def nested(document, space):
    inner, outer = document.blocks.new("INNER"), document.blocks.new("OUTER")
    inner.add_lwpolyline(BULGED, format="xyb", close=True)
    outer.add_blockref("INNER", (7, 3), dxfattribs={"xscale": -0.5, "yscale": 0.5})
    scale = {"xscale": 2, "yscale": 2, "rotation": 30, "layer": "PARCEL"}
    space.add_blockref("OUTER", (EAST, NORTH), dxfattribs=scale)


def mirrored(document, space):
    space.add_lwpolyline(
        [(-x, y, -b) for x, y, b in at(BULGED)],
        format="xyb",
        close=True,
        dxfattribs={"extrusion": (0, 0, -1)},
    )


@pytest.mark.parametrize(
    "draw",
    [
        bulged,
        nested,
        mirrored,
        lambda d, s: s.add_polyline2d(at(BULGED), format="xyb", close=True),
        lambda d, s: s.add_lwpolyline([*at(BULGED), at(BULGED)[0]], format="xyb", close=True),
    ],
)
def test_a_bulge_keeps_the_exact_area_however_it_is_drawn(tmp_path, draw):
    found = read_outlines(drawing(tmp_path / "a.dxf", draw), crs=UTM)
    (shape,) = found.shapes
    assert shape.geometry.area == pytest.approx(BULGED_M2, abs=1e-5)
    assert codes(found) == ["arc-flattened", "crs-given"]


def test_arcs_stay_within_half_a_millimetre_and_corners_are_exact(tmp_path):
    found = read_outlines(drawing(tmp_path / "a.dxf", bulged), crs=UTM)
    ring = list(found.shapes[0].geometry.exterior.coords)
    radius = 60 * (1 + 0.25) / (4 * 0.5)
    centre = (EAST + 30, NORTH + (radius - 15))  # the rise is bulge times half the chord
    arc = [p for p in ring if p[1] < NORTH - 1e-9]
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in itertools.pairwise(arc)]
    assert len(arc) > 50
    assert max(abs(math.dist(p, centre) - radius) for p in arc + middles) < 0.0005
    assert {(EAST, NORTH), (EAST + 60, NORTH)} <= set(ring)
    assert found.shapes[0].name == "OUTLINE"


def test_an_unevenly_scaled_block_reference_keeps_its_area(tmp_path):
    def draw(document, space):
        document.blocks.new("A").add_lwpolyline(BULGED, format="xyb", close=True)
        space.add_blockref("A", (EAST, NORTH), dxfattribs={"xscale": 2, "yscale": 1})

    found = read_outlines(drawing(tmp_path / "a.dxf", draw), crs=UTM)
    assert found.shapes[0].geometry.area == pytest.approx(2 * BULGED_M2, abs=1e-3)


def loose(gap):
    def draw(document, space):
        x, y = EAST, NORTH
        space.add_line((x, y), (x + 60, y))
        space.add_arc((x + 60 + gap, y + 20), 20, -90, 90)
        space.add_line((x, y + 40 + gap), (x + 60, y + 40))
        space.add_line((x, y + 40), (x, y + gap))

    return draw


def test_loose_lines_and_arcs_with_small_gaps_become_an_outline(tmp_path):
    found = read_outlines(drawing(tmp_path / "a.dxf", loose(0.0003)), crs=UTM)
    (shape,) = found.shapes
    assert shape.geometry.area == pytest.approx(60 * 40 + math.pi * 200, abs=0.03)  # 0.3 mm × sides
    said = finding(found, "gap-closed")
    assert said.severity == "caution"
    assert "4 loose lines" in said.message
    assert "0.3 mm" in said.message


def test_larger_gaps_are_not_closed_and_the_gap_is_shown(tmp_path):
    path = drawing(tmp_path / "a.dxf", loose(0.02))
    with pytest.raises(InputProblem, match=r"no closed outline: of 4 open lines"):
        read_outlines(path, crs=UTM)
    assert {s.geometry.geom_type for s in read_exclusions(path, crs=UTM).shapes} == {"LineString"}


def test_lines_that_share_a_side_become_one_joined_outline(tmp_path):
    corners = [(0, 0), (50, 0), (100, 0), (100, 50), (50, 50), (0, 50), (0, 0)]
    sides = [*itertools.pairwise(corners), ((50, 0), (50, 50.0003))]

    def draw(document, space):
        for side in sides:
            space.add_line(*at(side))

    found = read_outlines(drawing(tmp_path / "a.dxf", draw), crs=UTM)
    assert [s.geometry.area for s in found.shapes] == pytest.approx([5000], abs=0.05)
    assert {"gap-closed", "parts-merged"} <= set(codes(found))


def test_circles_points_splines_and_ellipses(tmp_path):
    def draw(document, space):
        space.add_circle((EAST, NORTH), 50, dxfattribs={"layer": "POND"})
        space.add_ellipse((EAST + 200, NORTH), (50, 0), 0.5)
        fit = [(400, 0), (500, 0), (500, 100), (400, 100), (400, 0)]
        space.add_spline(fit_points=[(*p, 0) for p in at(fit)])
        space.add_point((EAST + 700, NORTH), dxfattribs={"layer": "WELL"})

    path = drawing(tmp_path / "a.dxf", draw)
    outlines = read_outlines(path, crs=UTM)
    areas = [s.geometry.area for s in outlines.shapes]
    assert areas[:2] == pytest.approx([math.pi * 2500, math.pi * 1250], abs=1e-3)
    assert len(areas) == 3
    assert "1 point left out" in finding(outlines, "shapes-skipped").message
    exclusions = read_exclusions(path, crs=UTM)
    assert {s.name for s in exclusions.shapes} == {"POND", "", "WELL"}
    assert "Point" in {s.geometry.geom_type for s in exclusions.shapes}


@pytest.mark.parametrize("version", ["R2010", "R12"])
def test_a_drawing_without_a_unit_shows_what_each_would_mean(tmp_path, version):
    def draw(document, space):
        space.add_polyline2d(at(BULGED), format="xyb", close=True)

    path = drawing(tmp_path / "a.dxf", draw, units=0, version=version)
    with pytest.raises(InputProblem) as caught:
        read_outlines(path, crs=UTM)
    for words in ("0.30 ha read in metres", "281 m² in feet", "0.00303 m² in millimetres"):
        assert words in str(caught.value)
    assert "--unit m" in str(caught.value)
    assert read_outlines(path, crs=UTM, unit="m").shapes[0].geometry.area == pytest.approx(
        BULGED_M2, abs=1e-5
    )


def test_a_drawing_without_a_system_asks_and_shows_its_size(tmp_path):
    with pytest.raises(InputProblem, match=r"unit \(m\) it would be 0\.30 ha.*--crs EPSG:nnnn"):
        read_outlines(drawing(tmp_path / "a.dxf", bulged))


def scaled_box(unit):
    def draw(document, space):
        corners = [(0, 0), (600, 0), (600, 400), (0, 400)]
        space.add_lwpolyline([(x / unit, y / unit) for x, y in at(corners)], close=True)

    return draw


@pytest.mark.parametrize(("code", "unit_m"), [(4, 0.001), (5, 0.01), (1, 0.0254), (2, 0.3048)])
def test_a_drawing_is_scaled_into_the_unit_of_its_system(tmp_path, code, unit_m):
    path = drawing(tmp_path / "a.dxf", scaled_box(unit_m), units=code)
    found = read_outlines(path, crs=UTM)
    assert found.shapes[0].geometry.bounds == pytest.approx(
        (EAST, NORTH, EAST + 600, NORTH + 400), abs=1e-6
    )
    assert codes(found) == ["crs-given", "unit-scaled"]


def test_the_two_feet_are_not_taken_for_each_other(tmp_path):
    corners = [(1_500_000, 600_000), (1_500_600, 600_000), (1_500_600, 600_400)]
    survey = drawing(tmp_path / "s.dxf", lambda d, s: s.add_lwpolyline(corners, close=True), 21)
    found = read_outlines(survey, crs=GRID_FT)
    assert found.shapes[0].geometry.bounds[0] == 1_500_000
    assert codes(found) == ["crs-given"]
    plain = drawing(tmp_path / "i.dxf", lambda d, s: s.add_lwpolyline(corners, close=True), 2)
    moved = read_outlines(plain, crs=GRID_FT)
    assert moved.shapes[0].geometry.bounds[0] == pytest.approx(1_500_000 * 0.999998, abs=1e-6)
    said = finding(moved, "unit-scaled")
    assert said.severity == "caution"
    assert "0.91 m" in said.message
    assert "--unit usft" in said.message
    mended = read_outlines(plain, crs=GRID_FT, unit="usft")
    assert mended.shapes[0].geometry.bounds[0] == 1_500_000


def test_what_hidden_layers_hold_is_left_out_and_said(tmp_path):
    def draw(document, space):
        bulged(document, space)
        document.layers.add("OLD").off()
        space.add_circle((EAST, NORTH), 500, dxfattribs={"layer": "OLD"})

    found = read_outlines(drawing(tmp_path / "a.dxf", draw), crs=UTM)
    assert found.shapes[0].geometry.area == pytest.approx(BULGED_M2, abs=1e-5)
    assert "OLD" in finding(found, "shapes-skipped").message


def test_a_bare_polyline_from_a_simple_exporter_is_read(tmp_path):
    corners = [(0, 0), (100, 0), (100, 100), (0, 100)]
    tags = "".join(f"10\n{x}\n20\n{y}\n" for x, y in at(corners))
    body = (
        f"0\nSECTION\n2\nENTITIES\n0\nLWPOLYLINE\n8\nOUT\n90\n4\n70\n1\n{tags}0\nENDSEC\n0\nEOF\n"
    )
    for name, content in (("a.dxf", body), ("b.dxf", body.replace("\n", "\r\n"))):
        found = read_outlines(text(tmp_path / name, content), crs=UTM, unit="m")
        assert [(s.name, s.geometry.area) for s in found.shapes] == [("OUT", 10000)]
        with pytest.raises(InputProblem, match="without a unit"):  # no header, so no unit either
            read_outlines(tmp_path / name, crs=UTM)


def test_drawings_that_cannot_be_used(tmp_path, capfd):
    whole = drawing(tmp_path / "whole.dxf", bulged).read_bytes()
    refused = {
        drawing(tmp_path / "none.dxf", lambda d, s: None): "draws no closed outline",
        text(tmp_path / "words.dxf", "hello"): "cannot be read as DXF",
        text(tmp_path / "noise.dxf", bytes(range(256)) * 20): "cannot be read as DXF",
        text(tmp_path / "cut.dxf", whole[: len(whole) // 2]): "cannot be read as DXF",
        text(tmp_path / "zero.dxf", ""): "empty",
    }
    capfd.readouterr()
    for path, expected in refused.items():
        with pytest.raises(InputProblem, match=expected):
            read_outlines(path, crs=UTM)
    with pytest.raises(InputProblem, match="no unit of length"):
        read_outlines(tmp_path / "whole.dxf", crs=UTM, unit="parsec")
    assert capfd.readouterr().err == ""
