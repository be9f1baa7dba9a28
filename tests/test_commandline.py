"""The command line: its contract on files and exit status, called in process and for real."""

from __future__ import annotations

import csv
import json
import math
import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import geopandas
import numpy as np
import pyogrio
import pytest
import shapely
from pyproj import Transformer

import layoutdesk
from layoutdesk.commandline import main
from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.samples import open_sample, samples

ROOT = Path(layoutdesk.__file__).parents[1]
SAMPLES = {s.name: s for s in samples()}
FILES = ["about.txt", "project.gpkg", "stakes.csv", "stakes.dxf", "stakes.geojson", "summary.json"]
KINDS = {"vine": "V", "line_post": "L", "end_post": "E", "anchor": "A"}

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


@pytest.fixture(autouse=True)
def _the_signal_handler_is_put_back():
    before = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, before)


@pytest.fixture(scope="session")
def outline(tmp_path_factory) -> Path:
    """A field of 100 by 120 m on WGS 84 / UTM zone 54S, its sides along the grid."""
    path = tmp_path_factory.mktemp("outline") / "field.gpkg"
    box = shapely.box(288_800, 6_180_000, 288_900, 6_180_120)
    geopandas.GeoDataFrame(geometry=[box], crs="EPSG:32754").to_file(path)
    return path


@pytest.fixture(scope="session")
def pond(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("pond") / "pond.geojson"
    shape = shapely.Point(288_850, 6_180_060).buffer(6)
    geopandas.GeoDataFrame(geometry=[shape], crs="EPSG:32754").to_crs(4326).to_file(path)
    return path


@pytest.fixture(scope="session")
def project(tmp_path_factory, outline) -> Path:
    out = tmp_path_factory.mktemp("project")
    assert main(["lay", str(outline), "--out", str(out), "--bearing", "3", "--height", "100"]) == 0
    return out / "project.gpkg"


def lay(source, out, *options) -> dict:
    """The summary of a layout that must succeed."""
    assert main(["lay", str(source), "--out", str(out), *map(str, options)]) == 0
    return json.loads((out / "summary.json").read_text(encoding="utf-8"))


def rules_of(out):
    return open_project(out / "project.gpkg").blocks[0].rules


def table(out) -> list[dict]:
    with open(out / "stakes.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def features(out) -> list[dict]:
    return json.loads((out / "stakes.geojson").read_text(encoding="utf-8"))["features"]


def entities(out) -> bytes:
    """What is drawn; the head of a drawing holds the time it was made."""
    head, _, drawn = (out / "stakes.dxf").read_bytes().partition(b"\nENTITIES\n")
    assert head
    return drawn.partition(b"\nENDSEC\n")[0]


def run(*arguments, **how):
    """A real process."""
    return subprocess.run(
        [sys.executable, "-m", "layoutdesk.commandline", *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        **how,
    )


# --------------------------------------------------------------------------------- what is written


@pytest.fixture(scope="module")
def set_of(tmp_path_factory):
    """Folder and summary of a sample laid from its outline, once."""
    known = {}

    def laid(name):
        if name not in known:
            sample, out = SAMPLES[name], tmp_path_factory.mktemp(name)
            options = ["--height", sample.height_m]
            for rule, value in sample.rules.items():
                option = re.sub(r"_(m|deg|pct)$", "", rule).replace("_", "-")
                options += [f"--{option}", value]
            for path, clearance_m in sample.exclusions:
                options += ["--exclude", path]
                options += [] if clearance_m is None else ["--clearance", clearance_m]
            known[name] = out, lay(sample.outline, out, *options)
        return known[name]

    return laid


each_sample = pytest.mark.parametrize("name", SAMPLES)


@each_sample
def test_samples_laid_by_options_have_their_printed_figures(set_of, name):
    out, summary = set_of(name)
    assert sorted(p.name for p in out.iterdir()) == FILES
    expected = SAMPLES[name].expected
    for key in (
        "rows",
        "segments",
        "vines",
        "end_posts",
        "line_posts",
        "anchors",
        "dropped_segments",
    ):
        assert summary[key] == expected[key]
    assert summary["row_length_m"] == pytest.approx(expected["row_length_m"], abs=0.006)
    assert summary["survey"]["crs"] == expected["survey_crs"]


@each_sample
def test_counts_agree_in_all_files(set_of, name):
    out, summary = set_of(name)
    wanted = {kind: summary[f"{kind}s"] for kind in KINDS}
    described = [row["description"] for row in table(out)]
    assert {k: sum(f"-{letter}" in d for d in described) for k, letter in KINDS.items()} == wanted
    kinds = [f["properties"]["kind"] for f in features(out)]
    assert {k: kinds.count(k) for k in KINDS} == wanted
    assert kinds.count("row") == summary["segments"]
    assert kinds.count("outline") == len(summary["blocks"])
    assert set(kinds) == {*KINDS, "row", "outline"}
    path = out / "project.gpkg"
    layers = {k: pyogrio.read_info(path, layer=f"{k}s")["features"] for k in KINDS}
    assert layers == wanted
    drawn = entities(out)
    assert drawn.count(b"\nINSERT\n") == sum(wanted.values())
    assert {k: drawn.count(b"\n2\n%b\n" % k.upper().encode()) for k in KINDS} == wanted


@each_sample
def test_the_table_keeps_its_header_and_forms(set_of, name):
    out, _ = set_of(name)
    lines = (out / "stakes.csv").read_bytes().split(b"\n")
    assert lines[0] == b"point,northing,easting,elevation,description"
    assert lines[-1] == b""
    line = re.compile(
        rb"\d+,-?\d+\.\d{4},-?\d+\.\d{4},,B\d+-R\d{3,}[A-Z]+-(V\d{3,}|L\d{2,}|E[12]|A[12])"
    )
    assert all(line.fullmatch(each) for each in lines[1:-1])
    points = [int(each.split(b",", 1)[0]) for each in lines[1:-1]]
    assert points == list(range(1, len(points) + 1))


@each_sample
def test_codes_are_unique_and_the_same_everywhere(set_of, name):
    out, _ = set_of(name)
    described = [row["description"] for row in table(out)]
    assert len(set(described)) == len(described)
    marked = [f["properties"] for f in features(out) if f["properties"]["kind"] in KINDS]
    assert {p["code"] for p in marked} == set(described)
    for p in marked[:: len(marked) // 500]:
        letter = KINDS[p["kind"]]
        digits = {"V": 3, "L": 2}.get(letter, 1)
        code = f"{p['block']}-R{p['row']:03d}{p['segment']}-{letter}{p['index']:0{digits}d}"
        assert p["code"] == code
    layers = (geopandas.read_file(out / "project.gpkg", layer=f"{k}s") for k in KINDS)
    assert {code for layer in layers for code in layer["code"]} == set(described)


@each_sample
def test_each_feature_has_the_promised_properties_and_nine_decimals(set_of, name):
    out, _ = set_of(name)
    for feature in features(out)[::97]:
        assert {"kind", "block", "row", "segment", "index", "code"} <= set(feature["properties"])
    text = (out / "stakes.geojson").read_text(encoding="utf-8")
    points = re.findall(r'"Point","coordinates":\[(-?[\d.]+),(-?[\d.]+)\]', text)
    assert max(len(v.partition(".")[2]) for pair in points for v in pair) == 9


@each_sample
def test_the_json_summary_has_the_promised_keys(set_of, name):
    _, summary = set_of(name)
    assert {
        "rows", "segments", "vines", "end_posts", "line_posts", "anchors", "row_length_m", "outline_m2",
        "plantable_m2", "bearing_deg", "first_row_m", "dropped_segments", "frame", "survey", "findings",
    } <= set(summary)  # fmt: skip
    assert {"crs", "unit", "combined_factor", "convergence_deg"} <= set(summary["survey"])
    assert {"definition", "height_m"} <= set(summary["frame"])


def test_json_prints_the_summary_and_nothing_else(outline, tmp_path, capsys):
    summary = lay(outline, tmp_path, "--json")
    captured = capsys.readouterr()
    assert json.loads(captured.out) == summary
    assert captured.err == ""


def test_people_are_told_counts_survey_findings_and_files(outline, tmp_path, capsys):
    summary = lay(outline, tmp_path / "out")
    said = capsys.readouterr().out
    assert f"{summary['vines']:,} vines in {summary['rows']:,} rows" in said
    assert "WGS 84 / UTM zone 54S (EPSG:32754); unit metre" in said
    for finding in summary["findings"]:
        assert finding["message"] in said
    for name in FILES:
        assert name in said


# -------------------------------------------------------------------------------------- the options


@pytest.mark.parametrize(
    ("option", "text", "rule", "value"),
    [
        ("bearing", "18", "bearing_deg", 18.0),
        ("bearing", "-10", "bearing_deg", 350.0),
        ("bearing", "N18°30'E", "bearing_deg", 18.5),
        ("row-spacing", "2.5", "row_spacing_m", 2.5),
        ("row-spacing", "8ft", "row_spacing_m", 2.4384),
        ("row-spacing", "8usft", "row_spacing_m", 9600 / 3937),
        ("vine-spacing", "5ft", "vine_spacing_m", 1.524),
        ("headland", "26ft6in", "headland_m", 26.5 * 0.3048),
        ("side-margin", "3,5", "side_margin_m", 3.5),
        ("first-row", "50cm", "first_row_m", 0.5),
        ("first-row", "Best", "first_row_m", "best"),
        ("first-vine", "0.8m", "first_vine_m", 0.8),
        ("last-vine", "8'", "last_vine_m", 8 * 0.3048),
        ("min-row", "20", "min_row_m", 20.0),
        ("line-post-every", "6", "line_post_every", 6),
        ("anchor", "0", "anchor_m", 0.0),
        ("alley-every", "40", "alley_every_m", 40.0),
        ("alley-width", "4", "alley_width_m", 4.0),
        ("first-number", "101", "first_number", 101),
        ("stretch-max", "3", "stretch_max_pct", 3.0),
        ("side-angle", "45", "side_angle_deg", 45.0),
        ("leftover", "both ends", "leftover", "both ends"),
        ("leftover", "Both-Ends", "leftover", "both ends"),
        ("leftover", "far_end", "leftover", "far end"),
        ("lattice", "staggered", "lattice", "staggered"),
        ("number-from", "right", "number_from", "right"),
    ],
)
def test_every_option_takes_its_units_and_reaches_its_rule(
    outline, tmp_path, option, text, rule, value
):
    lay(outline, tmp_path, f"--{option}", text)
    found = getattr(rules_of(tmp_path), rule)
    assert found == value or found == pytest.approx(value, rel=1e-15)


def test_rules_not_given_are_the_ones_of_the_contract(outline, tmp_path):
    lay(outline, tmp_path)
    rules = rules_of(tmp_path)
    assert (rules.row_spacing_m, rules.vine_spacing_m, rules.headland_m, rules.side_margin_m) == (
        2.4,
        1.5,
        8,
        3,
    )
    assert (rules.first_row_m, rules.first_vine_m, rules.last_vine_m, rules.min_row_m) == (
        0,
        1,
        0.5,
        15,
    )
    assert (rules.line_post_every, rules.anchor_m, rules.leftover) == (4, 1.2, "far end")


def test_only_a_bearing_that_was_not_given_is_said_to_be_chosen(outline, tmp_path):
    chosen = lay(outline, tmp_path / "a")
    given = lay(outline, tmp_path / "b", "--bearing", "18")
    assert "bearing-chosen" in [f["code"] for f in chosen["findings"]]
    assert "bearing-chosen" not in [f["code"] for f in given["findings"]]


def test_a_grid_bearing_runs_rows_along_the_grid(outline, tmp_path):
    summary = lay(outline, tmp_path, "--bearing", "0 grid")
    assert summary["bearing_deg"] == pytest.approx(
        summary["survey"]["convergence_deg"] % 360, abs=1e-9
    )
    at = {row["description"]: row for row in table(tmp_path)}
    ends = [at["B1-R001A-E1"], at["B1-R001A-E2"]]
    assert abs(float(ends[0]["easting"]) - float(ends[1]["easting"])) < 0.0006
    assert float(ends[1]["northing"]) > float(ends[0]["northing"])


def test_a_magnetic_bearing_is_turned_by_the_declination(outline, tmp_path):
    """About 8 degrees east at 138.7° E, 34.5° S, by the World Magnetic Model."""
    summary = lay(outline, tmp_path, "--bearing", "10 magnetic")
    assert 17.5 < summary["bearing_deg"] < 18.5


def test_the_best_first_row_has_at_least_as_many_vines_as_any_other(outline, tmp_path):
    best = lay(outline, tmp_path / "best", "--first-row", "best", "--bearing", "7")
    assert isinstance(best["first_row_m"], float)
    for k, offset in enumerate((0, 0.6, 1.2, 1.8)):
        other = lay(outline, tmp_path / str(k), "--first-row", offset, "--bearing", "7")
        assert other["vines"] <= best["vines"]


def test_leftover_at_both_ends_centres_the_vines(outline, tmp_path):
    lay(outline, tmp_path, "--leftover", "both ends", "--first-vine", "1", "--last-vine", "0.5")
    at = {
        row["description"]: np.array([float(row["easting"]), float(row["northing"])])
        for row in table(tmp_path)
    }
    last = max(d for d in at if d.startswith("B1-R005A-V"))
    start = math.dist(at["B1-R005A-E1"], at["B1-R005A-V001"]) - 1
    far = math.dist(at["B1-R005A-E2"], at[last]) - 0.5
    assert start == pytest.approx(far, abs=1e-3)


def distance_m(out, a, b) -> float:
    """Between two stakes on the survey grid."""
    at = {row["description"]: (float(row["easting"]), float(row["northing"])) for row in table(out)}
    return math.dist(at[a], at[b])


@pytest.mark.parametrize("height", ["0", "1000", "3000ft"])
def test_the_height_changes_grid_distances_by_h_over_r(outline, tmp_path, height):
    summary = lay(outline, tmp_path, "--height", height, "--bearing", "0", "--vine-spacing", "1")
    height_m = {"3000ft": 914.4}.get(height) or float(height)
    assert summary["frame"]["height_m"] == pytest.approx(height_m, rel=1e-15)
    ground = 80.0
    grid = distance_m(tmp_path, "B1-R010A-V001", "B1-R010A-V081")
    factor = summary["survey"]["combined_factor"]
    assert grid == pytest.approx(ground * factor, abs=1.5e-4)
    flat = summary["survey"]["point_scale"]
    radius_m = 6_371_900  # mean radius of curvature at 34.5° S on WGS 84, to 1 km
    assert (factor / flat - 1) * 1e6 == pytest.approx(
        -height_m / (radius_m + height_m) * 1e6, abs=0.05
    )


def test_a_survey_grid_in_feet_writes_feet(outline, tmp_path):
    sample = SAMPLES["bench_in_feet"]
    summary = lay(sample.outline, tmp_path, "--survey-crs", "EPSG:6598")  # the same grid in metres
    assert summary["survey"]["unit"] == "metre"
    metres = {r["description"]: r for r in table(tmp_path)}
    out = tmp_path / "feet"
    assert lay(sample.outline, out)["survey"]["unit"] == "US survey foot"
    feet = {r["description"]: r for r in table(out)}
    assert list(feet) == list(metres)
    for code in list(feet)[::5000]:
        for axis in ("northing", "easting"):
            ratio = float(metres[code][axis]) / float(feet[code][axis])
            assert ratio == pytest.approx(1200 / 3937, rel=1e-9)


def test_another_survey_grid_on_the_same_datum_is_the_same_place(outline, tmp_path):
    here = lay(outline, tmp_path / "a", "--bearing", "0")
    other = lay(outline, tmp_path / "b", "--bearing", "0", "--survey-crs", "EPSG:32753")
    assert other["survey"]["crs"] == "EPSG:32753"
    assert other["vines"] == here["vines"]
    assert "survey-crs-chosen" not in [f["code"] for f in other["findings"]]

    def lonlat(out, crs):
        rows = table(out)[::200]
        to = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
        xy = np.array([[float(r["easting"]), float(r["northing"])] for r in rows])
        return np.column_stack(to.transform(*xy.T))

    apart = lonlat(tmp_path / "a", "EPSG:32754") - lonlat(tmp_path / "b", "EPSG:32753")
    assert np.abs(apart).max() * 111_320 < 2e-4  # four decimals of a metre, twice


def test_a_survey_grid_on_another_datum_is_a_finding_and_shifts_nothing(tmp_path):
    sample = SAMPLES["slope_two_blocks"]  # GDA2020; GDA94 lies 1.8 m away
    own = lay(sample.outline, tmp_path / "a", "--bearing", "66")
    summary = lay(sample.outline, tmp_path / "b", "--bearing", "66", "--survey-crs", "EPSG:28355")
    found = {f["code"]: f["severity"] for f in summary["findings"]}
    assert found["datum-not-shifted"] == "caution"
    assert "datum-not-shifted" not in {f["code"] for f in own["findings"]}
    for a, b in zip(table(tmp_path / "a")[::3000], table(tmp_path / "b")[::3000], strict=True):
        assert float(a["easting"]) == pytest.approx(float(b["easting"]), abs=2e-4)
        assert float(a["northing"]) == pytest.approx(float(b["northing"]), abs=2e-4)


def test_clearances_belong_to_the_exclusion_before_them(outline, pond, tmp_path):
    bare = lay(outline, tmp_path / "none", "--bearing", "0")
    vines = {"none": bare["vines"]}
    for name, options in {
        "own": ["--exclude", pond],
        "five": ["--exclude", pond, "--clearance", "5"],
        "feet": ["--exclude", pond, "--clearance", "16ft5in"],
        "both": ["--exclude", pond, "--clearance", "5", "--exclude", pond],
        "other": ["--exclude", pond, "--exclude", pond, "--clearance", "5"],
    }.items():
        summary = lay(outline, tmp_path / name, "--bearing", "0", *options)
        vines[name] = summary["vines"]
        clearances = [
            e.clearance_m for e in open_project(tmp_path / name / "project.gpkg").exclusions
        ]
        wanted = {
            "own": [0.0],
            "five": [5.0],
            "feet": [16 * 0.3048 + 5 * 0.0254],
            "both": [5.0, 0.0],
            "other": [0.0, 5.0],
        }
        assert clearances == pytest.approx(wanted[name])
    assert vines["five"] < vines["own"] < vines["none"]
    assert vines["both"] == vines["other"] == vines["five"]


def test_no_vine_stands_in_a_clearance(outline, pond, tmp_path):
    lay(outline, tmp_path, "--exclude", pond, "--clearance", "5")
    exclusion = open_project(tmp_path / "project.gpkg").exclusions[0].shape
    vines = geopandas.read_file(tmp_path / "project.gpkg", layer="vines")
    assert vines.geometry.distance(exclusion).min() >= 5 - 1e-3


# --------------------------------------------------------------------------------- from a project


@each_sample
def test_a_saved_project_gives_the_same_stakes_as_its_outline(set_of, name, tmp_path):
    out, summary = set_of(name)
    again = lay(out / "project.gpkg", tmp_path)
    for file in ("stakes.csv", "stakes.geojson"):
        assert (tmp_path / file).read_bytes() == (out / file).read_bytes(), file
    assert entities(tmp_path) == entities(out)
    assert again == summary
    assert open_project(tmp_path / "project.gpkg") == open_project(out / "project.gpkg")


def test_a_sample_saved_by_the_window_gives_the_same_stakes(set_of, tmp_path):
    out, summary = set_of("field_with_pond")
    save_project(tmp_path / "x.gpkg", open_sample(SAMPLES["field_with_pond"]))
    again = lay(tmp_path / "x.gpkg", tmp_path / "out")
    assert again["vines"] == summary["vines"]
    assert (tmp_path / "out" / "stakes.csv").read_bytes() == (out / "stakes.csv").read_bytes()


def test_a_project_may_be_laid_into_its_own_folder(outline, tmp_path):
    first = lay(outline, tmp_path, "--bearing", "3")
    again = lay(tmp_path / "project.gpkg", tmp_path, "--row-spacing", "3")
    assert again["rows"] < first["rows"]
    assert again["bearing_deg"] == 3.0
    assert rules_of(tmp_path).row_spacing_m == 3.0
    assert sorted(p.name for p in tmp_path.iterdir()) == FILES


def test_options_change_a_project_as_they_would_its_outline(outline, project, tmp_path):
    changes = ["--height", "450", "--survey-crs", "EPSG:32753", "--row-spacing", "9ft"]
    a = lay(outline, tmp_path / "a", "--bearing", "3", *changes)
    b = lay(project, tmp_path / "b", *changes)
    assert a["vines"] == b["vines"]
    assert a["frame"] == b["frame"]
    assert (tmp_path / "a" / "stakes.csv").read_bytes() == (
        tmp_path / "b" / "stakes.csv"
    ).read_bytes()


# ----------------------------------------------------------------------------- what cannot be done

BAD = {
    # name: (options, part of the sentence); FIELD, PROJECT, POND and FOLDER stand for paths
    "missing file": (["none.gpkg", "--out", "OUT"], "none.gpkg does not exist"),
    "a folder": (["FOLDER", "--out", "OUT"], "is a folder without a Shapefile"),
    "empty file": (["EMPTY", "--out", "OUT"], "empty.geojson"),
    "garbage": (["GARBAGE", "--out", "OUT"], "garbage.gpkg"),
    "unknown kind": (["WORD", "--out", "OUT"], "letter.docx"),
    "no input": (["--out", "OUT"], "required: INPUT"),
    "missing out": (["FIELD"], "required: --out"),
    "empty out": (["FIELD", "--out", ""], "--out is empty"),
    "out is a file": (["FIELD", "--out", "FIELD"], "is a file, not a folder"),
    "out under a file": (["FIELD", "--out", "FIELD/out"], "cannot be written (not a directory)"),
    "out nobody can write": (["FIELD", "--out", "/proc/self/out"], "/proc/self/out cannot be written"),
    "out too long": (["FIELD", "--out", "x" * 300], "cannot be written (file name too long)"),
    "input too long": (["y" * 300, "--out", "OUT"], "yyy"),
    "bad crs": (["FIELD", "--crs", "EPSG:999999", "--out", "OUT"], "--crs 'EPSG:999999' names no known"),
    "nonsense crs": (["FIELD", "--crs", "here\nthere", "--out", "OUT"], "names no known"),
    "bad survey crs": (["FIELD", "--survey-crs", "UTM", "--out", "OUT"], "'UTM' is not known"),
    "survey in degrees": (["FIELD", "--survey-crs", "EPSG:4326", "--out", "OUT"], "is no survey grid"),
    "survey axes south": (["FIELD", "--survey-crs", "EPSG:2048", "--out", "OUT"], "do not run east and north"),
    "project with crs": (["PROJECT", "--crs", "EPSG:32754", "--out", "OUT"], "leave out --crs"),
    "project with unit": (["PROJECT", "--unit", "ft", "--out", "OUT"], "leave out --unit"),
    "no length": (["FIELD", "--row-spacing", "wide", "--out", "OUT"], "--row-spacing: 'wide' is no length"),
    "no unit": (["FIELD", "--row-spacing", "2.4 kg", "--out", "OUT"], "--row-spacing: 'kg' is no unit of length"),
    "two feet marks": (["FIELD", "--row-spacing", "8''''", "--out", "OUT"], "--row-spacing:"),
    "empty length": (["FIELD", "--headland", "", "--out", "OUT"], "--headland: A length is missing"),
    "negative": (["FIELD", "--row-spacing", "-2.4", "--out", "OUT"], "--row-spacing: -2.4 is outside 0.5 to 20 m"),
    "negative with unit": (["FIELD", "--row-spacing", "-8ft", "--out", "OUT"], "--row-spacing"),
    "zero": (["FIELD", "--vine-spacing", "0", "--out", "OUT"], "--vine-spacing: 0.0 is outside 0.2 to 20 m"),
    "huge": (["FIELD", "--row-spacing", "2400", "--out", "OUT"], "--row-spacing: 2400.0 is outside 0.5 to 20 m"),
    "beyond numbers": (["FIELD", "--row-spacing", "9" * 400, "--out", "OUT"], "--row-spacing: inf is outside"),
    "nan": (["FIELD", "--side-margin", "nan", "--out", "OUT"], "--side-margin: 'nan' is no length"),
    "inf": (["FIELD", "--min-row", "inf", "--out", "OUT"], "--min-row: 'inf' is no length"),
    "nan percent": (["FIELD", "--stretch-max", "nan", "--out", "OUT"], "--stretch-max: nan is outside 0 to 50 %"),
    "bearing abc": (["FIELD", "--bearing", "abc", "--out", "OUT"], "'abc' is no bearing"),
    "bearing empty": (["FIELD", "--bearing", "", "--out", "OUT"], "is no bearing"),
    "bearing too far": (["FIELD", "--bearing", "1000", "--out", "OUT"], "'1000' is no bearing"),
    "half a vine": (["FIELD", "--line-post-every", "4.5", "--out", "OUT"], "--line-post-every '4.5' is no number"),
    "words for a number": (["FIELD", "--first-number", "ten", "--out", "OUT"], "--first-number 'ten' is no number"),
    "negative number": (["FIELD", "--first-number", "-1", "--out", "OUT"], "--first-number: -1 is outside"),
    "unknown leftover": (["FIELD", "--leftover", "middle", "--out", "OUT"], "use one of far end, both ends"),
    "first row worst": (["FIELD", "--first-row", "worst", "--out", "OUT"], "--first-row: 'worst' is no length"),
    "unknown option": (["FIELD", "--colour", "red", "--out", "OUT"], "--colour"),
    "option without value": (["FIELD", "--out", "OUT", "--bearing"], "--bearing: expected one argument"),
    "two inputs": (["FIELD", "FIELD", "--out", "OUT"], "nrecognized arguments"),
    "height in the sky": (["FIELD", "--height", "99999", "--out", "OUT"], "is no height on this earth"),
    "height high": (["FIELD", "--height", "high", "--out", "OUT"], "--height: 'high' is no length"),
    "clearance first": (["FIELD", "--clearance", "5", "--exclude", "POND", "--out", "OUT"], "belongs after the --exclude"),
    "clearance alone": (["FIELD", "--clearance", "5", "--out", "OUT"], "belongs after the --exclude"),
    "negative clearance": (["FIELD", "--exclude", "POND", "--clearance", "-1", "--out", "OUT"], "is outside 0 to 1000 m"),
    "clearance in words": (["FIELD", "--exclude", "POND", "--clearance", "far", "--out", "OUT"], "--clearance: 'far' is no length"),
    "no exclusion file": (["FIELD", "--exclude", "none.geojson", "--out", "OUT"], "none.geojson does not exist"),
    "exclusion garbage": (["FIELD", "--exclude", "GARBAGE", "--out", "OUT"], "garbage.gpkg"),
    "exclusion is a project": (["FIELD", "--exclude", "PROJECT", "--out", "OUT"], "project.gpkg"),
    "project without blocks": (["BARE", "--out", "OUT"], "has no block to stake out"),
    "damaged project": (["DAMAGED", "--out", "OUT"], "damaged.gpkg cannot be read"),
}  # fmt: skip
if not Path("/proc/self").is_dir():  # where not even root may write
    del BAD["out nobody can write"]


@pytest.fixture
def places(tmp_path, outline, pond, project):
    """What the words in capitals stand for."""
    given = tmp_path / "given"
    (given / "folder").mkdir(parents=True)
    (given / "empty.geojson").write_text("")
    (given / "garbage.gpkg").write_bytes(b"\x00garbage" * 99)
    (given / "letter.docx").write_bytes(b"PK\x03\x04 a letter")
    damaged = project.read_bytes()
    (given / "damaged.gpkg").write_bytes(damaged[: len(damaged) // 2])
    save_project(given / "bare.gpkg", replace(open_project(project), blocks=()))
    return {
        "BARE": given / "bare.gpkg",
        "FIELD/out": outline / "out",
        "FIELD": outline,
        "PROJECT": project,
        "POND": pond,
        "FOLDER": given / "folder",
        "EMPTY": given / "empty.geojson",
        "GARBAGE": given / "garbage.gpkg",
        "WORD": given / "letter.docx",
        "DAMAGED": given / "damaged.gpkg",
        "CORNERS": ROOT / "sample_sites" / "slope_two_blocks" / "corners.csv",
        "OUT": tmp_path / "out" / "deep",
    }


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_status_2_one_sentence_and_nothing_left(
    name, places, capsys, monkeypatch, tmp_path
):
    monkeypatch.chdir(tmp_path)
    options, part = BAD[name]
    before = sorted(tmp_path.rglob("*"))
    assert main(["lay", *(str(places.get(o, o)) for o in options)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.startswith("layoutdesk: ")
    assert captured.err.count("\n") == 1
    assert captured.err.rstrip().endswith(".")
    assert part in captured.err
    assert "Traceback" not in captured.err
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize(
    "name", ["bad crs", "huge", "no exclusion file", "survey in degrees", "damaged project"]
)
def test_a_failure_leaves_the_set_that_was_there(name, places, capsys, outline):
    lay(outline, places["OUT"])
    (places["OUT"] / "mine.txt").write_text("mine")
    before = {p.name: p.read_bytes() for p in places["OUT"].iterdir()}
    assert main(["lay", *(str(places.get(o, o)) for o in BAD[name][0])]) == 2
    assert {p.name: p.read_bytes() for p in places["OUT"].iterdir()} == before


@pytest.mark.parametrize(
    "arguments", [["frob", "x"], ["compare", "x"], ["field.gpkg", "lay"], ["--frob"], ["-x", "lay"]]
)
def test_unknown_commands_are_status_2_with_one_line(arguments, capsys):
    assert main(arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert re.fullmatch(r"layoutdesk: .*--help\)\.\n", captured.err)


@pytest.mark.parametrize(
    "step", ["stakes.csv", "stakes.geojson", "stakes.dxf", "project.gpkg", "summary.json"]
)
def test_trouble_at_any_file_leaves_the_set_that_was_there(
    outline, tmp_path, monkeypatch, capsys, step
):
    from layoutdesk.formats import project_file, stakes_csv, stakes_dxf, stakes_geojson, summary

    owners = {
        "stakes.csv": (stakes_csv, "write_stakes_csv"),
        "stakes.geojson": (stakes_geojson, "write_stakes_geojson"),
        "stakes.dxf": (stakes_dxf, "write_stakes_dxf"),
        "project.gpkg": (project_file, "write_project"),
        "summary.json": (summary, "write_summary"),
    }

    def full(path, *args):
        path.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    lay(outline, tmp_path / "out")
    before = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    monkeypatch.setattr(*owners[step], full)
    for out in ("out", "new"):
        assert main(["lay", str(outline), "--out", str(tmp_path / out), "--bearing", "40"]) == 2
        error = capsys.readouterr().err
        assert (
            error
            == f"layoutdesk: {tmp_path / out} cannot be written (no space left on device): choose another place.\n"
        )
    assert {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()} == before
    assert not (tmp_path / "new").exists()


# ---------------------------------------------------------------------------------- real processes


@pytest.mark.parametrize("arguments", [["--help"], ["lay", "--help"], ["--version"]])
def test_help_and_version_are_quick_words_without_the_window(arguments):
    """Neither Qt nor any library of maps is loaded to say how the program is called."""
    heavy = ("PySide6", "geopandas", "pyproj", "pyogrio", "ezdxf", "pint")
    code = (
        "import sys\nfrom layoutdesk.commandline import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit as end:\n    status = end.code\n"
        f"print('LOADED', status, [m for m in {heavy} if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.stderr == ""
    assert done.stdout.rstrip().endswith("LOADED 0 []")
    assert ("usage: layoutdesk" in done.stdout) or (layoutdesk.__version__ in done.stdout)


def test_laying_loads_no_window(outline, tmp_path):
    code = (
        "import sys\nfrom layoutdesk.commandline import main\nstatus = main(sys.argv[1:])\n"
        "print('LOADED', status, [m for m in sys.modules if m.startswith('PySide6')])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "lay", str(outline), "--out", str(tmp_path)],
        cwd=ROOT, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.stdout.rstrip().endswith("LOADED 0 []")
    assert done.stderr == ""


def test_a_bad_option_in_a_real_process_is_status_2_and_one_line(outline, tmp_path):
    done = run("lay", outline, "--out", tmp_path / "out", "--row-spacing", "wide")
    assert (done.returncode, done.stdout) == (2, "")
    assert re.fullmatch(r"layoutdesk: --row-spacing: 'wide' is no length.*\.\n", done.stderr)
    assert not (tmp_path / "out").exists()


def test_a_console_without_degree_signs_still_works(outline, tmp_path):
    done = run("lay", outline, "--out", tmp_path, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stderr) == (0, "")
    done = run(
        "lay", outline, "--out", tmp_path, "--json", env={**os.environ, "PYTHONIOENCODING": "ascii"}
    )
    assert json.loads(done.stdout) == json.loads(
        (tmp_path / "summary.json").read_text(encoding="utf-8")
    )


def test_a_reader_that_goes_away_is_no_trouble(outline, tmp_path):
    process = subprocess.Popen(
        [sys.executable, "-m", "layoutdesk.commandline", "lay", str(outline), "--out", str(tmp_path), "--json"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    process.stdout.close()
    error = process.stderr.read()
    assert (process.wait(60), error) == (0, b"")


@pytest.fixture(scope="module")
def big_field(tmp_path_factory) -> Path:
    """150 ha with some 400,000 vines: its set takes seconds to write."""
    path = tmp_path_factory.mktemp("big") / "big.gpkg"
    box = shapely.box(288_000, 6_180_000, 289_200, 6_181_250)
    geopandas.GeoDataFrame(geometry=[box], crs="EPSG:32754").to_file(path)
    return path


def stopped_amid(source, out, how, beyond: str):
    """A run that got a signal once the file `beyond` was being written."""
    process = subprocess.Popen(
        [sys.executable, "-m", "layoutdesk.commandline", "lay", str(source), "--out", str(out)],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    until = time.monotonic() + 60
    while process.poll() is None and not list(out.glob(f".layoutdesk-*/{beyond}")):
        assert time.monotonic() < until
        time.sleep(0.002)
    process.send_signal(how)
    said, error = process.communicate(timeout=60)
    return process.returncode, said, error


posix = pytest.mark.skipif(os.name != "posix", reason="signals as on POSIX")


@posix
@pytest.mark.parametrize("beyond", ["stakes.csv", "stakes.dxf", "project.gpkg"])
def test_a_kill_leaves_the_old_set_whole_and_the_next_run_clears_up(
    outline, big_field, tmp_path, beyond
):
    lay(outline, tmp_path)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    status, _, _ = stopped_amid(big_field, tmp_path, signal.SIGKILL, beyond)
    assert status == -signal.SIGKILL
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.is_file()} == before
    assert list(tmp_path.glob(".layoutdesk-*"))
    lay(outline, tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == FILES
    assert (tmp_path / "stakes.csv").read_bytes() == before["stakes.csv"]


@posix
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("old", [True, False])
def test_a_run_that_is_stopped_says_so_and_leaves_nothing(outline, big_field, tmp_path, how, old):
    out = tmp_path / "out"
    if old:
        lay(outline, out)
    before = {p.name: p.read_bytes() for p in out.glob("*")}
    status, said, error = stopped_amid(big_field, out, how, "stakes.geojson")
    assert (status, said) == (130, "")
    assert error == "layoutdesk: stopped; what was there before is unchanged.\n"
    assert out.exists() == old
    assert {p.name: p.read_bytes() for p in out.glob("*")} == before
    assert not list(out.glob(".*"))


@posix
def test_a_disk_without_room_is_one_sentence(outline, tmp_path):
    """A limit on file size is met as a full disk is."""
    import resource

    done = run(
        "lay", outline, "--out", tmp_path / "out",
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000)),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        f"layoutdesk: {tmp_path / 'out'} cannot be written (file too large): choose another place.\n"
    )
    assert not (tmp_path / "out").exists()


@posix
@pytest.mark.parametrize("file", ["stakes.dxf"])
def test_a_disk_that_fills_with_the_last_bytes_is_said(outline, tmp_path, file):
    """A full disk is first met by a write that is shorter than asked."""
    import resource

    lay(outline, tmp_path / "whole")
    limit = (tmp_path / "whole" / file).stat().st_size - 10
    assert limit > max((tmp_path / "whole" / f).stat().st_size for f in FILES if f != file)
    done = run(
        "lay", outline, "--out", tmp_path / "out",
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit)),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert "cannot be written (file too large)" in done.stderr
    assert not (tmp_path / "out").exists()


def test_exclusions_that_name_no_system_are_in_the_outlines(outline, tmp_path, capsys):
    """Corners read off the same survey as the outline need no word about it."""
    lay(outline, tmp_path / "bare")
    bare = json.loads((tmp_path / "bare" / "summary.json").read_text())
    stakes = (tmp_path / "bare" / "stakes.csv").read_text().splitlines()[1:]
    northing, easting = map(float, stakes[len(stakes) // 2].split(",")[1:3])
    post = tmp_path / "post.csv"
    post.write_text(f"easting,northing\n{easting},{northing}\n")
    lay(outline, tmp_path / "out", "--exclude", post, "--clearance", "20")
    summary = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert summary["vines"] < bare["vines"] - 50
    said = [f["message"] for f in summary["findings"] if f["code"] == "crs-given"]
    assert said == ["The file names no coordinate system; the outline's, EPSG:32754, was taken."]
