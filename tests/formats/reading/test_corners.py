"""Corner lists: columns, separators, encodings, angles."""

import numpy as np
import pytest

from layoutdesk.core.model.findings import InputProblem
from layoutdesk.formats.reading import read_exclusions, read_outlines
from layoutdesk.formats.reading.angles import degrees_of
from layoutdesk.formats.reading.corners import LARGE_BYTES
from tests.formats.reading.files import EAST, NORTH, UTM, codes, finding, text

CORNERS = [(300000.5, 6200000.25), (300300.5, 6200000.25), (300300.5, 6200300.25)]


def rows(separator=",", comma=False, order="xy", extra=None):
    lines = []
    for i, (x, y) in enumerate(CORNERS):
        cells = [str(v) for v in ((x, y) if order == "xy" else (y, x))]
        if comma:
            cells = [c.replace(".", ",") for c in cells]
        lines.append(separator.join(extra(i, cells) if extra else cells))
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    "content",
    [
        "easting,northing\n" + rows(),
        "Northing (m),Easting (m)\n" + rows(order="yx"),
        "POINT_X;POINT_Y\n" + rows(";", comma=True),
        "sep=;\nX;Y\n" + rows(";", comma=True),
        "E\tN\n" + rows("\t", comma=True),
        "x y\n" + rows(" ", comma=True),
        "\ufeffX-coord,Y coord\r\n" + rows().replace("\n", "\r\n\r\n"),
        "# from the rover\nPt,N,E,Z\n" + rows(order="yx", extra=lambda i, c: [str(i), *c, ""]),
        "point,northing,easting,elevation,description\n"
        + rows(order="yx", extra=lambda i, c: [f"B{i}", *c, "0.0000", "corner"]),
        "x,y\n" + rows(extra=lambda i, c: [f'"{v}"' for v in c]),
        "x, y\n" + rows(", ") + rows(", ").split("\n")[0],  # first corner repeated
    ],
)
def test_columns_are_recognised_in_any_order_and_dress(tmp_path, content):
    found = read_outlines(text(tmp_path / "a.csv", content), crs=UTM)
    (shape,) = found.shapes
    assert list(shape.geometry.exterior.coords) == [*CORNERS, CORNERS[0]]
    assert codes(found) == ["crs-given"]


@pytest.mark.parametrize("extra", [None, lambda i, c: [str(i + 1), *c, "55.1"]])
def test_without_a_header_the_guess_is_said(tmp_path, extra):
    found = read_outlines(text(tmp_path / "a.csv", rows(extra=extra)), crs=UTM)
    assert found.shapes[0].geometry.bounds[0] == CORNERS[0][0]
    assert finding(found, "columns-assumed").severity == "caution"


def test_windows_text_is_read_and_said(tmp_path):
    content = "Hochwert;Rechtswert;Höhe\n" + rows(";", True, "yx", lambda i, c: [*c, "12,5"])
    found = read_outlines(text(tmp_path / "a.csv", content, "cp1252"), crs=UTM)
    assert found.shapes[0].geometry.bounds[0] == CORNERS[0][0]
    assert codes(found) == ["crs-given", "height-dropped", "text-decoded"]


def test_projected_corners_without_a_system_are_asked_for(tmp_path):
    with pytest.raises(InputProblem, match=r"4\.50 ha, as feet 0\.42 ha.*--crs EPSG:nnnn"):
        read_outlines(text(tmp_path / "a.csv", "x,y\n" + rows()))


SOUTH, EAST_DEG = -(34 + 30 / 60 + 15.5 / 3600), 18 + 22 / 60 + 10.25 / 3600


@pytest.mark.parametrize(
    ("written", "value", "axis"),
    [
        ("34°30'15.5\"S", SOUTH, "lat"),
        ("34 30 15.5 S", SOUTH, "lat"),
        ("S34-30-15.5", SOUTH, "lat"),
        ("s 34:30:15.5", SOUTH, "lat"),
        ("34:30:15.5S", SOUTH, "lat"),
        ("34:30:15.5s", SOUTH, "lat"),
        ("34d30m15.5s S", SOUTH, "lat"),
        ("34º30′15,5″S", SOUTH, "lat"),
        ("-34 30 15.5", SOUTH, ""),
        ("18° 22' 10.25\" E", EAST_DEG, "lon"),
        ("W 70° 30.5'", -(70 + 30.5 / 60), "lon"),
        ("18.25", 18.25, ""),
    ],
)
def test_angles_in_many_dialects(written, value, axis):
    read, side = degrees_of(written)
    assert read == pytest.approx(value, abs=1e-12)
    assert side == axis


@pytest.mark.parametrize(
    "written", ["34°61'S", "34°30'60\"S", "-34 S", "N 34 S", "34.5°30'", "P 4", ""]
)
def test_angles_that_may_mean_two_things_are_not_read(written):
    assert degrees_of(written) is None


@pytest.mark.parametrize(
    "content",
    [
        "lat,lon\n-33.9,18.8\n-33.9,18.803\n-33.897,18.803\n",
        "Longitude;Latitude\n18,8;-33,9\n18,803;-33,9\n18,803;-33,897\n",
        "lat;lon\n33 54 00 S;18 48 00 E\n33 54 00 S;18 48 10,8 E\n33 53 49,2 S;18 48 10,8 E\n",
        "S33-54-00,E18-48-00\nS33-54-00,E18-48-10.8\nS33-53-49.2,E18-48-10.8\n",
        "18°48'00\"E,33°54'00\"S\n18°48'10.8\"E,33°54'00\"S\n18°48'10.8\"E,33°53'49.2\"S\n",
    ],
)
def test_latitudes_and_longitudes_are_taken_as_wgs84_and_said(tmp_path, content):
    path = text(tmp_path / "a.csv", content)
    found = read_outlines(path)
    assert found.shapes[0].geometry.bounds == pytest.approx((18.8, -33.9, 18.803, -33.897))
    assert found.crs.to_epsg() == 4326
    assert codes(found) == ["crs-assumed"]
    assert codes(read_outlines(path, crs="EPSG:4148")) == ["crs-given"]


def test_decimal_degrees_without_names_are_not_guessed(tmp_path):
    path = text(tmp_path / "a.csv", "18.8,-33.9\n18.803,-33.9\n18.803,-33.897\n")
    with pytest.raises(InputProblem, match="look like degrees"):
        read_outlines(path)


def test_a_block_column_makes_several_outlines(tmp_path):
    lines = "block,x,y\n" + "".join(
        f"{b},{EAST + e + x},{NORTH + y}\n"
        for x, y in ((0, 0), (300, 0), (300, 300))
        for b, e in (("A", 0), ("B", 900))  # the blocks' rows are interleaved
    )
    found = read_outlines(text(tmp_path / "a.csv", lines), crs=UTM)
    assert [(s.name, s.geometry.area) for s in found.shapes] == [("A", 45000.0), ("B", 45000.0)]


def test_blank_lines_part_rings_only_when_each_closes(tmp_path):
    ring = [(0, 0), (300, 0), (300, 300), (0, 0)]
    parts = ["\n".join(f"{EAST + e + x},{NORTH + y}" for x, y in ring) for e in (0, 900)]
    closed = text(tmp_path / "c.csv", "x,y\n" + "\n\n".join(parts) + "\n")
    assert len(read_outlines(closed, crs=UTM).shapes) == 2


def test_exclusions_are_points_with_their_own_clearance(tmp_path):
    content = (
        "name,kind,easting,northing,clearance\nW1,well,300000,6200000,15\nP,pole,300100,6200000,\n"
    )
    found = read_exclusions(text(tmp_path / "a.csv", content), crs=UTM)
    assert [(s.name, s.kind, s.clearance_m) for s in found.shapes] == [
        ("W1", "well", 15.0),
        ("P", "pole", None),
    ]
    assert found.shapes[0].geometry.coords[0] == (300000, 6200000)


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ("x,y\n300000,6200000\n300300,abc\n300300,6200300\n", "'abc' in line 3"),
        ("x,y\n300000,6200000\n300300\n300300,6200300\n", "lacks a coordinate in line 3"),
        ("x,y\n300000,6200000\n300300,6200300\n", "only 2 usable corners"),
        ("easting,height\n1,2\n", "no pair of coordinate columns"),
        ("some words\nand more\n", "no two columns of coordinates"),
        ("x,y\n", "without any feature"),
        ("\n \n", "only blank lines"),
        ("lat,lon\n18 E,33 S\n18 E,34 S\n19 E,33 S\n", "look swapped"),
        (b"\x00\x01\x02" * 40, "no text file"),
    ],
)
def test_lists_that_cannot_be_used_say_the_line(tmp_path, content, expected):
    with pytest.raises(InputProblem, match=expected):
        read_outlines(text(tmp_path / "a.csv", content), crs=UTM)


def test_a_long_list_reads_the_same_as_a_short_one(tmp_path):
    angle = np.linspace(0, 2 * np.pi, 100_000, endpoint=False)
    xy = np.column_stack([EAST + 300 * np.cos(angle), NORTH + 300 * np.sin(angle)])
    path = tmp_path / "a.csv"
    np.savetxt(path, xy, "%.4f", ",", header="easting,northing", comments="")
    assert path.stat().st_size > LARGE_BYTES
    found = read_outlines(path, crs=UTM)
    ring = np.asarray(found.shapes[0].geometry.exterior.coords)[:-1]
    assert np.array_equal(ring, np.round(xy, 4))
    assert codes(found) == ["crs-given"]
