"""Polygons that are not what they should be, and what is said of them."""

import numpy as np
import pytest
import shapely

from layoutdesk.core.model.findings import InputProblem
from layoutdesk.formats.reading import read_exclusions, read_outlines
from tests.formats.reading.files import (
    EAST,
    LAT,
    LON,
    NORTH,
    UTM,
    codes,
    crs_member,
    finding,
    geojson,
    polygon,
    square,
    text,
)


def outlines(tmp_path, *polygons, reader=read_outlines):
    """Polygons given in metres from a corner of the zone, read from a GeoJSON in UTM."""
    shifted = [
        polygon(*[[(EAST + x, NORTH + y) for x, y in ring] for ring in rings]) for rings in polygons
    ]
    path = text(tmp_path / "a.geojson", geojson(*shifted, head=crs_member(UTM)))
    found = reader(path)
    rest = [f for f in found.findings if f.code != "old-crs-member"]
    for shape in found.shapes:
        assert shape.geometry.is_valid
        assert shape.geometry.exterior.is_ccw
        assert not any(hole.is_ccw for hole in shape.geometry.interiors)
    return found, sorted(f.code for f in rest)


def areas(found):
    return sorted(round(s.geometry.area, 6) for s in found.shapes)


def test_both_lobes_of_a_bow_tie_stay(tmp_path):
    found, said = outlines(tmp_path, [[(0, 0), (100, 100), (100, 0), (0, 100), (0, 0)]])
    assert areas(found) == [2500, 2500]
    assert said == ["outline-repaired"]
    message = finding(found, "outline-repaired").message
    assert f"({EAST + 50:.2f}, {NORTH + 50:.2f})" in message
    assert "2 parts of 0.25 ha and 0.25 ha" in message
    assert "0 m²" in message


def test_ground_enclosed_twice_is_inside_and_the_other_answer_is_told(tmp_path):
    ring = [
        (0, 0),
        (100, 0),
        (100, 50),
        (-20, 50),
        (-20, -20),
        (50, -20),
        (50, 30),
        (0, 30),
        (0, 0),
    ]
    found, said = outlines(tmp_path, [ring])
    assert areas(found) == [7400]
    assert said == ["outline-repaired"]
    assert "without it 0.59 ha" in finding(found, "outline-repaired").message


def test_a_loop_run_the_other_way_round_stays_a_hole(tmp_path):
    ring = [(0, 0), (100, 0), (100, 100), (0, 100), (0, 0), (20, 60), (60, 20), (0, 0)]
    found, said = outlines(tmp_path, [ring])
    assert areas(found) == [8400]
    assert said == ["outline-repaired"]


@pytest.mark.parametrize(
    ("hole", "area", "words"),
    [
        ((200, 10), 10000, "lies outside its outline"),
        ((90, 10), 9800, "reaches beyond its outline"),
        ((40, 40), 9600, None),
    ],
)
def test_holes_outside_across_and_inside(tmp_path, hole, area, words):
    found, said = outlines(tmp_path, [square(0, 0, 100, 100), square(*hole, 20, 20)[::-1]])
    assert areas(found) == [area]
    if words is None:
        assert said == []
    else:
        assert said == ["outline-repaired"]
        assert words in finding(found, "outline-repaired").message


def test_doubled_corners_are_taken_out_and_the_closing_one_is_none(tmp_path):
    ring = [(0, 0), (100, 0), (100, 0), (100, 0.000001), (100, 100), (0, 100), (0, 0)]
    found, said = outlines(tmp_path, [ring])
    assert said == ["vertices-removed"]
    assert "2 doubled corners" in finding(found, "vertices-removed").message
    assert len(found.shapes[0].geometry.exterior.coords) == 5
    assert outlines(tmp_path, [square(0, 0, 100, 100)])[1] == []


def test_an_unclosed_ring_is_closed_and_the_edge_is_told(tmp_path):
    found, said = outlines(tmp_path, [square(0, 0, 100, 100)[:-1]])
    assert areas(found) == [10000]
    assert said == ["ring-closed"]
    assert "100.00 m" in finding(found, "ring-closed").message


def test_rings_that_run_the_wrong_way_are_turned_about_their_first_corner(tmp_path):
    rings = [square(0, 0, 100, 100)[::-1], square(40, 40, 20, 20)]
    found, said = outlines(tmp_path, rings)
    assert said == ["winding-turned"]
    assert "2 rings" in finding(found, "winding-turned").message
    assert found.shapes[0].geometry.exterior.coords[0] == (EAST, NORTH)


def test_corners_without_a_number_are_dropped_and_counted(tmp_path):
    content = geojson(polygon(square())).replace(str(list(square()[2])), f"[{square()[2][0]}, NaN]")
    found = read_outlines(text(tmp_path / "a.geojson", content))
    assert codes(found) == ["corner-dropped"]
    assert "number 3" in finding(found, "corner-dropped").message
    assert len(found.shapes[0].geometry.exterior.coords) == 4


def test_slivers_go_but_a_small_exclusion_stays(tmp_path):
    big, sliver = square(0, 0, 100, 100), square(300, 0, 0.01, 100)
    found, said = outlines(tmp_path, [big], [sliver])
    assert areas(found) == [10000]
    assert said == ["outline-part-dropped"]
    assert "1 m²" in finding(found, "outline-part-dropped").message
    kept, said = outlines(tmp_path, [big], [square(300, 0, 0.2, 0.2)], reader=read_exclusions)
    assert areas(kept) == [0.04, 10000]
    assert said == []


def test_a_polygon_without_ground_is_refused_with_its_reason(tmp_path):
    with pytest.raises(InputProblem, match=r"feature 1: it encloses no ground"):
        outlines(tmp_path, [[(0, 0), (100, 100), (200, 200), (0, 0)]])


def test_parts_that_share_a_side_or_ground_are_joined_and_others_stay(tmp_path):
    found, said = outlines(
        tmp_path,
        [square(0, 0, 100, 100)],
        [square(100, 0, 100, 100)],
        [square(400, 0, 100, 100)],
        [square(450, 0, 100, 100)],
        [square(800, 0, 100, 100)],
        [square(900, 100, 100, 100)],  # touches the last in a point only
    )
    assert areas(found) == [10000, 10000, 15000, 20000]
    assert said == ["parts-merged", "parts-merged"]
    messages = " ".join(f.message for f in found.findings)
    assert "25.00% of their ground" in messages


def test_a_part_inside_another_is_called_out(tmp_path):
    found, _ = outlines(tmp_path, [square(0, 0, 100, 100)], [square(40, 40, 10, 10)])
    said = finding(found, "parts-merged")
    assert said.severity == "caution"
    assert "exclusion" in said.message


def test_exclusions_are_never_joined(tmp_path):
    found, said = outlines(
        tmp_path, [square(0, 0, 10, 10)], [square(5, 0, 10, 10)], reader=read_exclusions
    )
    assert areas(found) == [100, 100]
    assert said == []


def test_many_alike_findings_are_counted(tmp_path):
    found, said = outlines(tmp_path, *[[square(200 * i, 0, 100, 100)[::-1]] for i in range(50)])
    assert len(said) == 21
    assert "30 more" in found.findings[-1].message


@pytest.mark.parametrize("split", [True, False])
def test_an_outline_across_the_antimeridian_is_one_piece_of_the_right_area(tmp_path, split):
    if split:  # as RFC 7946 asks
        rings = [square(179.999, -17, 0.001, 0.002), square(-180, -17, 0.001, 0.002)]
        path = text(tmp_path / "a.geojson", geojson(*[polygon(r) for r in rings]))
    else:
        ring = [(179.999, -17), (-179.999, -17), (-179.999, -16.998), (179.999, -16.998)]
        path = text(tmp_path / "a.geojson", geojson(polygon([*ring, ring[0]])))
    found = read_outlines(path)
    (shape,) = found.shapes
    assert shape.geometry.bounds == pytest.approx((179.999, -17, 180.001, -16.998))
    assert "antimeridian-joined" in codes(found)
    assert "size-unlikely" not in codes(found)


def test_every_awkward_ring_comes_out_valid_or_refused(tmp_path):
    rng = np.random.default_rng(4)
    for n in (3, 4, 5, 8, 13, 40):
        ring = rng.integers(0, 6, (n, 2)) * 20.0  # on a coarse grid: doubled, collinear, crossing
        try:
            found, _ = outlines(tmp_path, [[tuple(c) for c in [*ring, ring[0]]]])
        except InputProblem:
            continue
        hull = shapely.MultiPoint(ring).convex_hull.area
        assert 0 < sum(areas(found)) <= hull + 1e-6


def test_a_plain_polygon_keeps_its_corners_bit_for_bit(tmp_path):
    ring = [(LON, LAT), (LON + 0.0031, LAT + 1e-7), (LON + 0.0029, LAT + 0.0033), (LON, LAT)]
    found = read_outlines(text(tmp_path / "a.geojson", geojson(polygon(ring))))
    assert list(found.shapes[0].geometry.exterior.coords) == ring
    assert found.findings == ()
