"""Measured points come back from any file in the coordinates they were handed off in, or the file is refused in one sentence."""

from __future__ import annotations

import json
import zipfile
from xml.sax.saxutils import quoteattr

import ezdxf
import geopandas
import numpy as np
import pytest
import shapely

from layoutdesk.core.model import InputProblem, SiteFrame
from layoutdesk.formats.reading import measured_drawing
from layoutdesk.formats.reading.measured import read_measured
from tests.staked_project import FEET, FRAME, Staked, project

US_FOOT_M = 1200 / 3937
SEATTLE = SiteFrame(46.2, -119.8, 120.0, datum="EPSG:4152")


@pytest.fixture(scope="module")
def site():
    return Staked()


@pytest.fixture(scope="module")
def in_feet():
    """A site whose grid counts US survey feet."""
    return Staked(project(FEET, SEATTLE))


def read(path, site, **said):
    return read_measured(path, site.placing, frame=site.project.site.frame, **said)


def matches(found, site, en, which, within_m=1e-4):
    measured = found.measured
    assert len(measured) == len(which)
    off = measured.en_m - en[which] * site.placing.unit_m
    assert np.abs(off).max() < within_m
    return True


def codes(found):
    return [f.code for f in found.findings]


# ------------------------------------------------------------------------------ tables


@pytest.mark.parametrize(
    ("header", "order", "separator", "comma"),
    [
        ("point,northing,easting,description", "pned", ",", False),
        ("Pt No,E [m],N [m],Desc", "pend", ",", False),
        ("Punkt;Rechtswert;Hochwert;Code", "pend", ";", True),
        ("name\teste\tnorte\tdescripcion", "pend", "\t", True),
        ("Code,Staked N,Staked E", "dne", ",", False),
        (None, "pned", ",", False),
        (None, "pend", ",", False),
        (None, "endp", ";", True),
        (None, "pned", " ", False),
        (None, "ne", ",", False),
    ],
)
def test_a_table_in_any_habit_gives_the_same_points(
    tmp_path, site, header, order, separator, comma
):
    which, en = site.of_kind("end_post"), site.noisy()
    lines = [header] if header else []
    for name, north, east, code in site.rows(en, which):
        cells = {"p": name, "n": north, "e": east, "d": code.replace(" ", "_")}
        row = [cells[c].replace(".", ",") if comma and c in "ne" else cells[c] for c in order]
        lines.append(separator.join(row))
    path = tmp_path / "back.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    found = read(path, site)
    assert matches(found, site, en, which)
    assert ("columns-assumed" in codes(found)) == (header is None)
    if "p" in order:
        numbers = [str(site.points.number[i]) for i in which]
        assert list(found.measured.name) == (numbers if order != "endp" else [""] * len(which))
    if "d" in order and order != "endp":
        told = [site.code[i].replace(" ", "_") for i in which]
        assert list(found.measured.description) == told


def test_of_planned_and_staked_columns_the_staked_ones_are_measured(tmp_path, site):
    which, en = site.of_kind("end_post"), site.noisy()
    lines = [
        "Job: Two Banks",
        "Crew 3, 2026-11-28",
        "",
        "Name,Design N,Design E,Staked N,Staked E,Delta N,Delta E,Staked Elev",
    ]
    lines += [
        f"{name},{site.en[i, 1]:.3f},{site.en[i, 0]:.3f},{north},{east},0.01,-0.02,91.25"
        for i, (name, north, east, _) in zip(which, site.rows(en, which), strict=True)
    ]
    path = tmp_path / "report.csv"
    path.write_text("\n".join(lines))
    found = read(path, site)
    assert matches(found, site, en, which)
    assert (found.measured.height_m == 91.25).all()
    assert found.measured.line.tolist() == list(range(5, 5 + len(which)))


def test_columns_that_the_user_says_are_obeyed(tmp_path, site):
    which, en = site.of_kind("end_post"), site.noisy()
    path = tmp_path / "back.txt"
    path.write_text(
        "\n".join(f"x;{e};{n};{c};{p}" for p, n, e, c in site.rows(en, which)), encoding="utf-8"
    )
    found = read(path, site, columns="-, easting, northing, description, point")
    assert matches(found, site, en, which)
    assert codes(found) == []
    assert found.measured.description[0] == site.code[which[0]]
    # What the user says is not turned to fit: a swap is told later, as a mistake.
    found = read(path, site, columns="-, northing, easting")
    assert np.allclose(found.measured.en_m[:, ::-1], en[which] * site.placing.unit_m, atol=1e-3)
    for wrong, told in (
        ("point, easting", "northing"),
        ("point, easting, width", "width"),
        ("e, n, e", "second time"),
    ):
        with pytest.raises(InputProblem, match=told):
            read(path, site, columns=wrong)


def test_a_header_is_trusted_even_where_it_puts_points_far_away(tmp_path, site):
    which, en = site.of_kind("end_post"), site.noisy()
    path = site.csv(
        tmp_path / "swapped.csv", en, which, header="point,easting,northing,description"
    )
    found = read(path, site)
    assert np.allclose(found.measured.en_m[:, ::-1], en[which] * site.placing.unit_m, atol=1e-3)


def test_feet_read_as_metres_without_a_header_still_find_their_columns(tmp_path, site):
    which, en = site.of_kind("end_post"), site.en / 0.3048
    found = read(site.csv(tmp_path / "feet.csv", en, which, header=None), site)
    assert np.allclose(found.measured.en_m, en[which] * site.placing.unit_m, atol=1e-3)


def test_the_unit_is_the_headers_else_the_seals_else_the_hand_offs(tmp_path, in_feet):
    from layoutdesk.formats.seal import Seal

    assert in_feet.placing.unit == "US survey foot"
    which = in_feet.of_kind("end_post")
    metres = in_feet.en * US_FOOT_M
    plain = in_feet.csv(tmp_path / "a.csv", in_feet.en, which)
    assert matches(read(plain, in_feet), in_feet, in_feet.en, which)
    titled = in_feet.csv(
        tmp_path / "b.csv", metres, which, header="point,northing (m),easting (m),description"
    )
    found = read(titled, in_feet)
    assert matches(found, in_feet, in_feet.en, which, 2e-4)
    assert "unit-scaled" in codes(found)
    assert "US survey feet" in found.findings[0].message
    feet = in_feet.csv(tmp_path / "c.csv", metres / 0.3048, which)
    assert matches(read(feet, in_feet, unit="foot"), in_feet, in_feet.en, which, 2e-4)
    assert matches(read(feet, in_feet, unit="ft"), in_feet, in_feet.en, which, 2e-4)
    # Survey feet and feet differ by metres here, and are told apart.
    off = read(feet, in_feet, unit="ft").measured.en_m - read(feet, in_feet).measured.en_m
    assert 0.5 < np.abs(off).max() < 10
    seal = Seal("Bench", "r1", "p1", "2026-11-28", FEET, "grid", "metre", 1.0)
    sealed = in_feet.csv(tmp_path / "d.csv", metres, which)
    sealed.write_text(sealed.read_text() + f"#,,,{seal.text('0' * 64)}\n")
    found = read(sealed, in_feet)
    assert matches(found, in_feet, in_feet.en, which, 2e-4)
    with pytest.raises(InputProblem):
        read(plain, in_feet, unit="ell")


def test_lines_without_usable_coordinates_are_told_and_left_out(tmp_path, site):
    which, en = site.of_kind("end_post")[:6], site.noisy()
    lines = ["point,northing,easting,elevation,description", "# a remark, 1, 2"]
    rows = [f"{p},{n},{e},,{c}" for p, n, e, c in site.rows(en, which)]
    lines += rows[:2] + ["8,NaN,1.5,,x", "9,not staked,,,y", "10,,,,not measured"] + rows[2:]
    path = tmp_path / "gaps.csv"
    path.write_text("\n".join(lines) + '\n#,,,,"Layout-Desk-seal|x|sha256=0"\n')
    found = read(path, site)
    assert matches(found, site, en, which)
    told = [f for f in found.findings if f.code == "measured-dropped"]
    assert len(told) == 1
    assert "2 lines" in told[0].message
    assert "5, 6" in told[0].message
    assert found.measured.line.tolist() == [3, 4, 8, 9, 10, 11]
    assert "1 without coordinates" in found.said


@pytest.mark.parametrize("cell", ["{n}", '"{n}"', " {n} ", "{n}m"])
def test_numbers_are_read_with_quotes_blanks_and_marks_of_thousands(tmp_path, site, cell):
    which, en = site.of_kind("end_post")[:4], site.noisy()
    lines = ["point,northing,easting"]
    for name, north, east, _ in site.rows(en, which):
        lines.append(f"{name},{cell.format(n=north)},{cell.format(n=east)}")
    path = tmp_path / "cells.csv"
    path.write_text("\n".join(lines))
    assert matches(read(path, site), site, en, which)
    lines = ["point;northing;easting"]
    lines += [f"{p};{float(n):,.4f};{float(e):,.4f}" for p, n, e, _ in site.rows(en, which)]
    path.write_text("\n".join(lines))
    assert matches(read(path, site), site, en, which)


def test_names_survive_old_encodings_and_utf_16(tmp_path, site):
    which, en = site.of_kind("end_post")[:3], site.noisy()
    text = "punkt;hochwert;rechtswert;bemerkung\n" + "\n".join(
        f"{p};{n};{e};Größe {c}" for p, n, e, c in site.rows(en, which)
    )
    for encoding, finding in (("cp1252", True), ("utf-16", False), ("utf-8-sig", False)):
        path = tmp_path / f"{encoding}.txt"
        path.write_bytes(text.encode(encoding))
        found = read(path, site)
        assert matches(found, site, en, which)
        assert found.measured.description[0] == f"Größe {site.code[which[0]]}"
        assert ("text-decoded" in codes(found)) == finding


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("empty.csv", "", "empty"),
        ("blank.csv", "\n\n,,\n", "blank lines"),
        ("header.csv", "point,northing,easting\n", "no points"),
        ("words.csv", "point,remark\n1,good\n2,bad\n", "columns|numbers"),
        ("none.csv", "point,northing,easting\n1,a,b\n2,c,d\n", "line 2"),
        ("picture.png", "\x89PNG", "no format"),
    ],
)
def test_a_file_without_points_is_refused_in_one_sentence(tmp_path, site, name, text, told):
    path = tmp_path / name
    path.write_text(text, encoding="latin-1")
    with pytest.raises(InputProblem, match=told) as problem:
        read(path, site)
    assert name in str(problem.value)
    assert "\n" not in str(problem.value)


# ------------------------------------------------------------------------------ other formats


def landxml(path, site, en, which, unit, heights=None, code=None):
    metric = unit == "meter"
    rows = [
        f"<CgPoint name={quoteattr(p)} desc={quoteattr(c)}>{n} {e}{'' if heights is None else f' {heights[k]}'}</CgPoint>"
        for k, (p, n, e, c) in enumerate(site.rows(en, which))
    ]
    kind = "Metric" if metric else "Imperial"
    system = f'<CoordinateSystem epsgCode="{code}"/>' if code else ""
    path.write_text(
        '<?xml version="1.0"?>\n<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">'
        f'<Units><{kind} linearUnit="{unit}" areaUnit="squareMeter"/></Units>{system}'
        f'<CgPoints>{"".join(rows)}<CgPoint pntRef="1"/></CgPoints></LandXML>',
        encoding="utf-8",
    )
    return path


def test_landxml_has_northing_first_and_its_own_unit(tmp_path, site, in_feet):
    which, en = site.of_kind("end_post"), site.noisy()
    heights = np.linspace(90, 95, len(which))
    found = read(landxml(tmp_path / "a.xml", site, en, which, "meter", heights, "32633"), site)
    assert matches(found, site, en, which)
    assert np.allclose(found.measured.height_m, heights)
    assert found.measured.name[0] == str(site.points.number[which[0]])
    assert found.measured.description[0] == site.code[which[0]]
    which, en = in_feet.of_kind("end_post"), in_feet.noisy()
    feet = landxml(tmp_path / "b.xml", in_feet, en * US_FOOT_M / 0.3048, which, "foot")
    assert matches(read(feet, in_feet), in_feet, en, which, 2e-4)
    for unit in ("USSurveyFoot",):
        found = read(landxml(tmp_path / "c.xml", in_feet, en, which, unit), in_feet)
        assert matches(found, in_feet, en, which, 2e-4)
        assert codes(found) == []
    (tmp_path / "cut.xml").write_text((tmp_path / "a.xml").read_text()[:900])
    with pytest.raises(InputProblem, match="whole XML"):
        read(tmp_path / "cut.xml", site)


def drawing(site, en, which, version="R2010", insunits=6):
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = insunits
    space = document.modelspace()
    block = document.blocks.new("STAKE")
    block.add_circle((0, 0), 0.1)
    return document, space


def test_a_drawing_gives_symbols_with_their_attributes(tmp_path, site, monkeypatch):
    which, en = site.of_kind("end_post", "vine")[::5], site.noisy()
    document, space = drawing(site, en, which)
    for k, (name, north, east, code) in enumerate(site.rows(en, which)):
        symbol = space.add_blockref(
            "STAKE", (float(east), float(north), 90 + k / 100), {"layer": "AS STAKED"}
        )
        symbol.add_attrib("NUMBER", name, (float(east) + 1, float(north)))
        symbol.add_attrib("DESC", code, (float(east) + 1, float(north)))
    space.add_blockref("STAKE", (0, 0))  # a symbol without words is not a measured point
    space.add_line((0, 0), (1, 1))
    document.saveas(tmp_path / "back.dxf")
    found = read(tmp_path / "back.dxf", site)
    assert matches(found, site, en, which)
    assert list(found.measured.description) == [site.code[i] for i in which]
    assert found.measured.name[0] == str(site.points.number[which[0]])
    assert np.allclose(found.measured.height_m, 90 + np.arange(len(which)) / 100)
    monkeypatch.setattr(measured_drawing, "_CHUNK_BYTES", 997)  # entities lie across chunks
    again = read(tmp_path / "back.dxf", site).measured
    assert again.description == found.measured.description
    assert (again.en_m == found.measured.en_m).all()
    binary = tmp_path / "binary.dxf"
    with binary.open("wb") as stream:
        document.write(stream, fmt="bin")
    assert matches(read(binary, site), site, en, which)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_a_drawing_gives_points_with_the_words_beside_them(tmp_path, site, version):
    which, en = site.of_kind("end_post"), site.noisy()
    document, space = drawing(site, en, which, version)
    document.header["$INSUNITS"] = 2  # R12 has none, so that its numbers are the hand-off's
    feet = 1.0 if version == "R12" else 0.3048
    for name, north, east, code in site.rows(en, which):
        east, north = float(east) / feet, float(north) / feet
        space.add_point((east, north))
        space.add_text(code, height=0.2, dxfattribs={"insert": (east + 0.2, north + 0.2)})
        space.add_text(name, height=0.2, dxfattribs={"insert": (east + 0.2, north - 0.2)})
        space.add_text("91.25", height=0.2, dxfattribs={"insert": (east - 0.2, north)})
    document.layout("Layout1").add_point((1, 1))
    document.saveas(tmp_path / "back.dxf")
    found = read(tmp_path / "back.dxf", site)
    assert matches(found, site, en, which, 2e-4)
    assert list(found.measured.description) == [site.code[i] for i in which]
    assert found.measured.name[0] == str(site.points.number[which[0]])


def test_of_a_drawing_with_plan_and_ground_the_layer_can_be_said(tmp_path, site):
    which, en = site.of_kind("end_post"), site.noisy()
    document, space = drawing(site, en, which)
    for i in which:
        space.add_point(site.en[i], {"layer": "PLAN"})
        space.add_point(en[i], {"layer": "Staked"})
    document.saveas(tmp_path / "both.dxf")
    both = read(tmp_path / "both.dxf", site)
    assert len(both.measured) == 2 * len(which)
    assert "layers-read" in codes(both)
    assert matches(read(tmp_path / "both.dxf", site, layer="STAKED"), site, en, which)
    with pytest.raises(InputProblem, match="PLAN"):
        read(tmp_path / "both.dxf", site, layer="Nowhere")


def frame_of(site, en, which, crs):
    rows = list(site.rows(en, which))
    return geopandas.GeoDataFrame(
        {"point": [int(r[0]) for r in rows], "code": [r[3] for r in rows]},
        geometry=shapely.points(en[which] if crs != 4326 else en),
        crs=crs,
    )


@pytest.mark.parametrize("ending", ["gpkg", "geojson", "shp", "zip", "kml", "gpx"])
def test_gis_files_come_onto_the_grid_from_the_system_they_say(tmp_path, site, ending):
    which, en = site.of_kind("end_post"), site.noisy()
    table = frame_of(site, en, which, "EPSG:32633")
    path = tmp_path / f"back.{ending}"
    within = 1e-3
    if ending == "gpkg":
        table.to_file(path, layer="staked")
    elif ending in ("shp", "zip"):
        table.to_file(tmp_path / "back.shp")
        if ending == "zip":
            with zipfile.ZipFile(path, "w") as archive:
                for part in tmp_path.glob("back.*"):
                    if part != path:
                        archive.write(part, part.name)
    elif ending == "geojson":
        table.to_crs(4326).to_file(path, COORDINATE_PRECISION=10)
    else:
        degrees = table.to_crs(4326).rename(columns={"code": "name"})
        points = "".join(
            f"<Placemark><name>{n}</name><Point><coordinates>{g.x!r},{g.y!r}</coordinates></Point></Placemark>"
            if ending == "kml"
            else f'<wpt lat="{g.y!r}" lon="{g.x!r}"><ele>300</ele><name>{n}</name></wpt>'
            for n, g in zip(degrees.name, degrees.geometry, strict=True)
        )
        text = (
            f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{points}</Document></kml>'
            if ending == "kml"
            else f'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="crew">{points}</gpx>'
        )
        path.write_text(text)
    found = read(path, site)
    assert matches(found, site, en, which, within)
    told = found.measured.name if ending in ("kml", "gpx") else found.measured.description
    assert list(told) == [site.code[i] for i in which]
    if ending in ("kml", "gpx", "geojson"):
        assert "WGS 84" in found.said
        assert np.isnan(found.measured.height_m).all()


def test_a_layer_in_another_grid_is_brought_over_and_told(tmp_path, site):
    which, en = site.of_kind("end_post"), site.noisy()
    table = frame_of(site, en, which, "EPSG:32633").to_crs("EPSG:32634")
    table.to_file(tmp_path / "zone34.gpkg")
    found = read(tmp_path / "zone34.gpkg", site)
    assert matches(found, site, en, which, 1e-3)
    assert "UTM zone 34N, brought onto WGS 84 / UTM zone 33N" in found.said


def test_degrees_in_a_table_come_onto_the_grid(tmp_path, site):
    which, en = site.of_kind("end_post"), site.noisy()
    degrees = frame_of(site, en, which, "EPSG:32633").to_crs(4326)
    for header in ("name,lat,lon", None):
        lines = [header] if header else []
        lines += [
            f"{c},{g.y:.10f},{g.x:.10f}"
            for c, g in zip(degrees.code, degrees.geometry, strict=True)
        ]
        path = tmp_path / f"degrees{bool(header)}.csv"
        path.write_text("\n".join(lines))
        found = read(path, site)
        assert matches(found, site, en, which, 1e-3)
        assert found.measured.name[0] == site.code[which[0]]


@pytest.mark.parametrize("coordinates", ["ground", "calibrated"])
def test_degrees_come_onto_ground_and_calibrated_coordinates_too(tmp_path, coordinates):
    from layoutdesk.core.model import ControlPoint, GroundScale

    if coordinates == "ground":
        known = Staked(project(coordinates="ground", ground=GroundScale(offset_e=-500000.0)))
    else:
        grid = Staked().en
        at = [grid[i] for i in (0, len(grid) // 2, -1)]
        control = tuple(
            ControlPoint(f"C{k}", *map(float, p), None, *map(float, p + (12.5, -7.25)))
            for k, p in enumerate(at)
        )
        known = Staked(project(coordinates="calibrated", control=control))
    assert known.placing.coordinates == coordinates
    which = known.of_kind("end_post")
    degrees = known.hand.to_wgs84(known.points.xy_m[which])
    features = [
        {
            "type": "Feature",
            "properties": {"code": known.code[i]},
            "geometry": {"type": "Point", "coordinates": d},
        }
        for i, d in zip(which.tolist(), degrees.tolist(), strict=True)
    ]
    path = tmp_path / "back.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    assert matches(read(path, known), known, known.en, which, 1e-3)


@pytest.mark.parametrize(
    ("datum", "grid", "at"),
    [
        ("EPSG:4283", "EPSG:28354", (-34.5, 138.7)),
        ("EPSG:4258", "EPSG:25832", (49.9, 8.2)),
        ("EPSG:4277", "EPSG:27700", (51.2, 0.4)),
        ("EPSG:4269", "EPSG:26910", (45.3, -122.9)),
    ],
)
def test_what_was_written_on_wgs_84_reads_back_on_any_datum(tmp_path, datum, grid, at):
    from pyproj import CRS

    ellipsoid = CRS.from_user_input(datum).ellipsoid
    frame = SiteFrame(*at, 60.0, ellipsoid.semi_major_metre, ellipsoid.inverse_flattening, datum)
    known = Staked(project(grid, frame))
    which = known.of_kind("end_post")
    degrees = known.hand.to_wgs84(known.points.xy_m[which])
    lines = ["name,latitude,longitude"]
    lines += [
        f"{known.code[i]},{d[1]:.11f},{d[0]:.11f}" for i, d in zip(which, degrees, strict=True)
    ]
    path = tmp_path / "back.csv"
    path.write_text("\n".join(lines))
    assert matches(read(path, known), known, known.en, which, 2e-3)


def test_a_project_is_no_measured_file(tmp_path, site):
    from layoutdesk.formats.project_file import write_project

    write_project(tmp_path / "plan.gpkg", site.project, site.plans)
    with pytest.raises(InputProblem, match="measured points"):
        read(tmp_path / "plan.gpkg", site)


def test_a_file_of_lines_alone_says_so(tmp_path, site):
    table = geopandas.GeoDataFrame(
        geometry=[shapely.LineString([(0, 0), (1, 1)])], crs=FRAME.datum or 4326
    )
    table.to_file(tmp_path / "rows.gpkg")
    with pytest.raises(InputProblem, match="no points"):
        read(tmp_path / "rows.gpkg", site)


@pytest.mark.parametrize("known", ["site", "in_feet"])
@pytest.mark.parametrize("name", ["stakes.csv", "stakes.dxf", "stakes.geojson"])
def test_what_the_stake_out_set_wrote_reads_back_point_by_point(
    tmp_path_factory, request, known, name
):
    from layoutdesk.core.staking.matching import matched
    from layoutdesk.session.stakeout import stake_set, write_stake_set

    site = request.getfixturevalue(known)
    folder = tmp_path_factory.getbasetemp() / f"set-{known}"
    if not folder.exists():
        write_stake_set(folder, stake_set(site.project, site.plans))
    found = read(folder / name, site)
    planned = site.en * site.placing.unit_m
    pairs = matched(site.hand.points, planned, found.measured)
    assert pairs.way == "code"
    assert not len(pairs.strange)
    standing = site.of_kind("end_post", "line_post", "anchor", "vine")
    assert pairs.planned.tolist() == standing.tolist()
    off = found.measured.en_m[pairs.measured] - planned[pairs.planned]
    assert np.abs(off).max() < (2e-4 if name == "stakes.geojson" else 6e-5)
