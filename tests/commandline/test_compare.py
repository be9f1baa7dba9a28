"""layoutdesk compare: the same counts as a layout, a table, files, and one sentence for bad input."""

from __future__ import annotations

import csv
import json
import math
import re
from dataclasses import replace

import pdfplumber
import pytest

from layoutdesk.commandline import main
from layoutdesk.core.model import Candidate, Study
from layoutdesk.formats.project_file import open_project, save_project
from tests.commandline.laying import SAMPLES, lay

FILES = ["compare.csv", "compare.json", "compare.pdf", "compare.xlsx"]
COUNTS = ("vines", "rows", "segments", "end_posts", "line_posts")


def compare(source, out, *options) -> dict:
    """compare.json of a comparison that must succeed."""
    assert main(["compare", str(source), "--out", str(out), *map(str, options)]) == 0
    return json.loads((out / "compare.json").read_text(encoding="utf-8"))


def pond_field() -> tuple:
    """A sample's outline and its exclusions as options."""
    sample = SAMPLES["field_with_pond"]
    options = []
    for path, clearance_m in sample.exclusions:
        options += [
            "--exclude",
            path,
            *([] if clearance_m is None else ["--clearance", clearance_m]),
        ]
    return sample.outline, options


def test_counts_are_those_of_lay_at_every_bearing(tmp_path):
    outline, exclusions = pond_field()
    rules = ("--headland", "9", "--row-spacing", "8ft", "--first-row", "best", "--height", "90")
    found = compare(outline, tmp_path / "c", "--bearings", "0,37.5,90,148", *exclusions, *rules)
    assert [c["bearing_deg"] for c in found["candidates"]] == [0, 37.5, 90, 148]
    for candidate in found["candidates"]:
        bearing = candidate["bearing_deg"]
        laid = lay(outline, tmp_path / str(bearing), "--bearing", bearing, *exclusions, *rules)
        assert {n: candidate[n] for n in COUNTS} == {n: laid[n] for n in COUNTS}
        assert candidate["row_length_m"] == pytest.approx(laid["row_length_m"], abs=1e-6)
        assert candidate["first_row_m"] == pytest.approx(laid["first_row_m"], abs=1e-9)
        assert candidate["headland_m"] == 9
        assert candidate["row_spacing_m"] == pytest.approx(2.4384)


def test_a_sweep_measures_every_bearing_and_its_base_lies_as_the_rows_do_now(outline, tmp_path):
    found = compare(outline, tmp_path, "--sweep", "1", "--bearing", "227")
    assert [c["bearing_deg"] for c in found["candidates"]] == list(range(180))
    assert found["base"] == 47
    assert all(
        c["vines"] > 0 and c["mean_row_m"] > 0 and c["turns"] >= 0 for c in found["candidates"]
    )
    assert all("sun_hot_mj_m2" in c and "grade_along_max_pct" not in c for c in found["candidates"])
    with (tmp_path / "compare.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [int(r["vines"]) for r in rows] == [c["vines"] for c in found["candidates"]]
    assert sorted(p.name for p in tmp_path.iterdir()) == FILES


def test_a_line_asked_for_that_stays_empty_says_why(outline, tmp_path):
    asked = ("--bearings", "0,40", "--end-price", "12", "--canopy-width", "2.4")
    found = compare(outline, tmp_path, *asked)
    assert all("posts_cost" not in c and "sun_left_h" not in c for c in found["candidates"])
    notes = " ".join(found["notes"])
    assert "Costs are left out: the price of a line post is not given." in notes
    assert (
        "Sun is left out where rows stand no farther apart than the hedge is wide (2.4 m)." in notes
    )
    both = (*asked, "--line-post-price", "3", "--canopy-width", "0.5")
    assert " left out" not in " ".join(compare(outline, tmp_path, *both)["notes"])


def test_a_step_that_does_not_divide_the_half_circle_stays_below_it(outline, tmp_path):
    found = compare(outline, tmp_path, "--sweep", "50")
    assert [c["bearing_deg"] for c in found["candidates"]] == [0, 50, 100, 150]


def test_a_typed_candidate_has_spacings_of_its_own(outline, tmp_path):
    found = compare(
        outline, tmp_path / "c", "--bearings", "96", "--candidate", "96; 2.2 x 1.2", "--base", "#2"
    )
    plain, close = found["candidates"]
    assert (close["row_spacing_m"], close["vine_spacing_m"]) == (2.2, 1.2)
    laid = lay(
        outline, tmp_path / "l", "--bearing", 96, "--row-spacing", 2.2, "--vine-spacing", 1.2
    )
    assert close["vines"] == laid["vines"] > plain["vines"]
    assert found["base"] == 1
    assert plain["name"] != close["name"]
    options = ("--candidate", "96; 2.2 x 1.2", "--bearings", "4,96", "--base", "96")
    assert compare(outline, tmp_path / "b", *options)["base"] == 1  # changes nothing else


@pytest.fixture(scope="module")
def studied(tmp_path_factory, project):
    """A project that holds a study of its own."""
    path = tmp_path_factory.mktemp("studied") / "studied.gpkg"
    study = Study(
        candidates=(Candidate(), Candidate(40.0, name="across the hill")), base=1, short_row_m=77.0
    )
    save_project(path, replace(open_project(project), study=study))
    return path


def test_the_projects_own_study_is_taken_where_nothing_else_is_asked_for(studied, tmp_path):
    found = compare(studied, tmp_path / "own")
    assert [c["name"] for c in found["candidates"]] == ["003.0°, as it stands", "across the hill"]
    assert found["base"] == 1
    assert found["limits"]["short_row_m"] == 77.0
    asked = compare(studied, tmp_path / "asked", "--bearings", "10,20", "--base", "20")
    assert [c["bearing_deg"] for c in asked["candidates"]] == [10, 20]
    assert asked["base"] == 1
    assert asked["limits"]["short_row_m"] == 77.0  # the rest of the study stays


def test_a_block_named_is_compared_alone(tmp_path):
    outline = SAMPLES["slope_two_blocks"].outline
    found = compare(outline, tmp_path / "c", "--bearings", "30", "--block", "b2")
    laid = lay(outline, tmp_path / "l", "--bearing", "30")
    (second,) = (b for b in laid["blocks"] if b["block"] == "B2")
    assert found["site"]["blocks"] == ["B2"]
    assert found["candidates"][0]["vines"] == second["vines"] < laid["vines"]
    whole = compare(outline, tmp_path / "w", "--bearings", "30")
    assert whole["candidates"][0]["vines"] == laid["vines"]
    assert [b["vines"] for b in whole["candidates"][0]["blocks"]] == [
        b["vines"] for b in laid["blocks"]
    ]


def test_straight_rows_stand_beside_a_curve_as_it_is(outline, tmp_path, capsys):
    line = tmp_path / "line.csv"
    line.write_text("easting,northing\n288800,6180000\n288840,6180060\n288850,6180120\n")
    found = compare(outline, tmp_path / "c", "--guide", line, "--bearings", "20,110")
    curve, *straight = found["candidates"]
    assert curve["bearing_deg"] is None
    assert [c["bearing_deg"] for c in straight] == [20, 110]
    assert curve["vines"] == lay(outline, tmp_path / "l", "--guide", line)["vines"]
    assert "compared with the curve as it stands" in capsys.readouterr().out


def test_every_setting_is_counted_by_and_said(outline, tmp_path):
    options = {
        "--short-row": "200ft",
        "--limit-along": "12%",
        "--limit-across": "6.5",
        "--machine-length": "2.5",
        "--machine-width": "4ft",
        "--canopy-height": "0.7",
        "--canopy-foot": "0.2",
        "--canopy-width": "0.3",
        "--season": "Nov-3",
        "--wind-from": "315",
        "--end-price": "38.5",
        "--line-post-price": "9",
        "--currency": "AUD",
        "--chosen": "vines, end_posts",
    }
    words = [w for pair in options.items() for w in pair]
    found = compare(outline, tmp_path, "--bearings", "0,45", *words)
    assert found["limits"] == {
        "short_row_m": pytest.approx(60.96),
        "grade_along_pct": 12,
        "grade_across_pct": 6.5,
        "machine_length_m": 2.5,
        "machine_width_m": pytest.approx(1.2192),
    }
    sun = found["sun"]
    assert sun["months"] == [11, 12, 1, 2, 3]
    assert [sun[f"canopy_{n}_m"] for n in ("height", "foot", "width")] == [0.7, 0.2, 0.3]
    assert found["chosen"] == ["vines", "end_posts"]
    assert [c["wind_angle_deg"] for c in found["candidates"]] == [
        pytest.approx(45),
        pytest.approx(90),
    ]
    for c in found["candidates"]:
        assert c["posts_cost"] == pytest.approx(38.5 * c["end_posts"] + 9 * c["line_posts"])
        assert c["short_rows"] >= sum(b["segments"] for b in c["blocks"]) * (
            c["longest_row_m"] < 60.96
        )


@pytest.fixture(scope="module")
def hillside(tmp_path_factory):
    """Heights round the field on a plane that rises 10 % east and 4 % north, by the grid."""
    import numpy as np
    import rasterio

    path = tmp_path_factory.mktemp("hill") / "hill.tif"
    east, north = np.meshgrid(288_600 + 5.0 * np.arange(100), 6_180_300 - 5.0 * np.arange(100))
    heights = 50 + 0.10 * (east - 288_600) + 0.04 * (north - 6_179_800)
    to_map = rasterio.transform.from_origin(288_597.5, 6_180_302.5, 5, 5)
    how = {"driver": "GTiff", "width": 100, "height": 100, "count": 1, "dtype": "float64"}
    with rasterio.open(path, "w", crs="EPSG:32754", transform=to_map, **how) as file:
        file.write(heights, 1)
    return path


def test_grades_are_those_of_the_ground_along_and_across(outline, hillside, tmp_path):
    """A row down the fall line climbs all of the slope, and tilts none; 10 and 4 make 10.77 %."""
    fall = math.degrees(math.atan2(0.10, 0.04)) + 1.30  # by true north: grid north lies 1.30° east
    found = compare(
        outline,
        tmp_path,
        "--bearings",
        f"{fall:.4f},{fall + 90:.4f}",
        "--terrain",
        hillside,
        "--terrain-unit",
        "m",
        "--terrain-datum",
        "a plane",
    )
    down, level = found["candidates"]
    slope = math.hypot(10, 4)
    assert down["grade_along_max_pct"] == pytest.approx(slope, abs=0.02)
    assert down["grade_across_max_pct"] == pytest.approx(0, abs=0.1)
    assert level["grade_along_max_pct"] == pytest.approx(0, abs=0.1)
    assert level["grade_across_p95_pct"] == pytest.approx(slope, abs=0.02)
    assert level["steep_across_m"] == pytest.approx(level["row_length_m"], rel=1e-3)
    assert down["ground_length_m"] == pytest.approx(
        down["row_length_m"] * math.hypot(1, slope / 100), rel=1e-5
    )
    assert found["terrain"]["datum"] == "a plane"
    assert "a plane" in found["statement"]
    with pdfplumber.open(tmp_path / "compare.pdf") as pdf:
        assert "Contours every" in pdf.pages[0].extract_text()


def test_json_on_the_screen_is_the_file_word_for_word(outline, tmp_path, capsys):
    compare(outline, tmp_path, "--bearings", "0,90", "--json")
    assert capsys.readouterr().out == (tmp_path / "compare.json").read_text(encoding="utf-8")


def test_without_a_folder_a_table_is_printed_with_the_best_marked(
    outline, tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    assert main(["compare", str(outline), "--bearings", "0,45"]) == 0
    said = capsys.readouterr().out
    assert list(tmp_path.iterdir()) == []
    (vines,) = re.findall(r"^Vines +([\d,]+)(\*?) +([\d,]+)(\*?)$", said, re.MULTILINE)
    first, second = (int(vines[i].replace(",", "")) for i in (0, 2))
    assert (vines[1], vines[3]) == ("*" * (first >= second), "*" * (second >= first))
    assert "Pieces of row between two end posts" not in said
    assert main(["compare", str(outline), "--bearings", "0,45", "--explain"]) == 0
    assert "Segments: Pieces of row between two end posts." in capsys.readouterr().out


def test_a_long_table_has_one_line_a_bearing(outline, capsys):
    assert main(["compare", str(outline), "--sweep", "10"]) == 0
    said = capsys.readouterr().out
    assert len(re.findall(r"^\d{3}\.0° ", said, re.MULTILINE)) == 18


BAD = {
    # name: (options after the field, part of the sentence)
    "nothing": ([], "Nothing is said to compare"),
    "bearing for bearings": (
        ["--bearing", "20"],
        "--bearing gives the rules of the plan as it stands",
    ),
    "both": (["--bearings", "0", "--sweep", "1"], "--bearings and --sweep contradict each other"),
    "step nought": (["--sweep", "0"], "--sweep 0: a step must be more than 0"),
    "step backwards": (["--sweep=-5"], "--sweep -5: a step must be more than 0"),
    "step too wide": (["--sweep", "91"], "at most 90 degrees"),
    "step in words": (["--sweep", "fine"], "--sweep 'fine' is no number"),
    "step nan": (["--sweep", "nan"], "--sweep 'nan' is no number"),
    "step too fine": (["--sweep", "0.1"], "1,800 candidates, more than 1,000"),
    "step next to nothing": (["--sweep", "1e-320"], "millions of candidates, more than 1,000"),
    "bearing too far": (["--bearings", "0,1000"], "--bearings: '1000' is no bearing"),
    "bearing in words": (["--bearings", "north"], "--bearings: 'north' is no bearing"),
    "empty place": (["--bearings", "0,,90"], "has an empty place"),
    "no bearings": (["--bearings", ""], "has an empty place"),
    "twice": (["--bearings", "0,45,360"], "names 360 twice"),
    "too many": (
        ["--bearings", ",".join(f"{i / 10}" for i in range(1001))],
        "1,001 candidates are more",
    ),
    "unknown block": (
        ["--bearings", "0", "--block", "B9"],
        "--block 'B9' is not there: the blocks are B1",
    ),
    "unknown measure": (["--bearings", "0", "--chosen", "vine"], "--chosen 'vine' is no measure"),
    "no direction": (["--bearings", "0", "--chosen", "sun_left_h"], "neither more nor less"),
    "no chosen": (["--bearings", "0", "--chosen", ","], "--chosen is empty"),
    "base gone": (["--bearings", "0,90", "--base", "45"], "--base '45' is no candidate"),
    "base beyond": (["--bearings", "0,90", "--base", "#3"], "from #1 to #2"),
    "season": (["--bearings", "0", "--season", "summer"], "--season 'summer' cannot be read"),
    "month": (["--bearings", "0", "--season", "0-13"], "--season '0-13' cannot be read"),
    "short row": (["--bearings", "0", "--short-row", "short"], "--short-row: 'short' is no length"),
    "short row far": (
        ["--bearings", "0", "--short-row", "2km"],
        "--short-row: 2000.0 is outside 0 to 1000 m",
    ),
    "limit": (["--bearings", "0", "--limit-along", "steep"], "--limit-along 'steep' is no number"),
    "limit below": (
        ["--bearings", "0", "--limit-across=-1"],
        "--limit-across: -1.0 is outside 0 to 200 %",
    ),
    "machine": (
        ["--bearings", "0", "--machine-width", "0"],
        "--machine-width: 0.0 is outside 0.5 to 10 m",
    ),
    "canopy": (
        ["--bearings", "0", "--canopy-foot", "3"],
        "--canopy-foot: 3.0 is not below the height",
    ),
    "price": (["--bearings", "0", "--end-price", "dear"], "--end-price 'dear' is no number"),
    "price below": (["--bearings", "0", "--end-price=-2"], "--end-price: -2.0 is outside"),
    "wind": (["--bearings", "0", "--wind-from", "sea"], "--wind-from: 'sea' is no bearing"),
    "candidate": (["--candidate", "along the river"], "--candidate: "),
    "empty out": (["--bearings", "0", "--out", ""], "--out is empty"),
    "no terrain": (["--bearings", "0", "--terrain", "none.tif"], "none.tif"),
    "of parcels": (["--bearings", "0", "--layer", "fields"], "--layer is for many parcels"),
    "rule": (
        ["--bearings", "0", "--row-spacing", "-2"],
        "--row-spacing: -2.0 is outside 0.5 to 20 m",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_compared_is_refused_in_one_sentence(name, outline, tmp_path, capsys):
    options, part = BAD[name]
    out = [] if "--out" in options else ["--out", str(tmp_path / "out")]
    assert main(["compare", str(outline), *options, *out]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("layoutdesk: ")
    assert said.err.count("\n") == 1
    assert part in said.err
    assert list(tmp_path.iterdir()) == []


def test_many_outlines_go_another_way(outline, tmp_path, monkeypatch):
    """A folder, or --parcels, hands all options on."""
    from layoutdesk.commandline import parcels

    asked = []
    monkeypatch.setattr(parcels, "compare_parcels", lambda options: asked.append(options) or 0)
    assert main(["compare", str(tmp_path), "--sweep", "1"]) == 0
    assert main(["compare", str(outline), "--sweep", "5", "--parcels"]) == 0
    assert [o.sweep for o in asked] == ["1", "5"]
