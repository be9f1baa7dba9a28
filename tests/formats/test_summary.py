"""summary.json and about.txt: the figures, the systems, the findings."""

from __future__ import annotations

import csv
import json
import math
import re
from dataclasses import replace
from functools import cache

import pytest
import shapely
from pyproj import CRS

from layoutdesk.core.model import Block, Finding, Project, RowRules, Site, SiteFrame
from layoutdesk.formats.crs import frame_crs
from layoutdesk.formats.stakes_csv import write_stakes_csv
from layoutdesk.formats.summary import summary_of, write_about, write_summary
from layoutdesk.session.about import block_lines
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.stakeout import CAUTIONS, stake_set

SAMPLES = {s.name: s for s in samples()}
COUNTS = ("rows", "segments", "vines", "end_posts", "line_posts", "anchors", "dropped_segments")
MEASURES = ("row_length_m", "outline_m2", "plantable_m2")
CONTRACT = {*COUNTS, *MEASURES, "bearing_deg", "first_row_m", "frame", "survey", "findings"}


@cache
def stakes_of(name):
    return stake_set(open_sample(SAMPLES[name]))


@cache
def summary(name):
    return summary_of(stakes_of(name))


@pytest.mark.parametrize("name", SAMPLES)
def test_all_promised_keys_are_there(name):
    said = summary(name)
    assert set(said) >= CONTRACT
    assert {"definition", "height_m"} <= set(said["frame"])
    assert {"crs", "unit", "combined_factor", "convergence_deg"} <= set(said["survey"])
    for finding in said["findings"]:
        assert {"code", "severity", "message", "place"} <= set(finding)


def test_totals_are_the_sums_of_the_blocks():
    said = summary("slope_two_blocks")
    assert [b["block"] for b in said["blocks"]] == ["B1", "B2"]
    for key in COUNTS:
        assert said[key] == sum(b[key] for b in said["blocks"])
        assert isinstance(said[key], int)
    for key in MEASURES:
        assert said[key] == pytest.approx(sum(b[key] for b in said["blocks"]), rel=1e-15)


@pytest.mark.parametrize("name", SAMPLES)
def test_the_frames_definition_is_the_frame(name):
    said = summary(name)["frame"]
    frame = stakes_of(name).project.site.frame
    assert CRS.from_wkt(said["definition"]).equals(frame_crs(frame))
    assert said["height_m"] == SAMPLES[name].height_m
    assert said["scale"] == 1 + frame.height_m / frame.mean_radius_m


@pytest.mark.parametrize(
    ("name", "unit", "unit_m"),
    [("bench_in_feet", "US survey foot", 1200 / 3937), ("field_with_pond", "metre", 1.0)],
)
def test_the_survey_grids_unit_is_named(name, unit, unit_m):
    said = summary(name)["survey"]
    assert (said["unit"], said["coordinates"]) == (unit, "grid")
    assert said["unit_m"] == pytest.approx(unit_m, rel=1e-12)


@pytest.mark.parametrize("name", SAMPLES)
def test_the_combined_factor_is_point_scale_over_the_height_factor(name):
    said = summary(name)
    product = said["survey"]["point_scale"] / said["frame"]["scale"]
    assert said["survey"]["combined_factor"] == pytest.approx(product, rel=1e-14)


def test_findings_come_the_worst_first_with_their_places():
    stakes = stakes_of("curved_terrace")
    tight = replace(stakes.project.blocks[0].rules, headland_m=1.0, anchor_m=3.0)
    project = stakes.project.with_block(replace(stakes.project.blocks[0], rules=tight))
    findings = summary_of(stake_set(project))["findings"]
    assert "anchor-outside" in [f["code"] for f in findings]
    order = ["wrong", "caution", "note"]
    severities = [order.index(f["severity"]) for f in findings]
    assert severities == sorted(severities)
    placed = [f for f in findings if f["code"] == "anchor-outside" and f["place"]]
    assert all(len(f["place"]) == 2 and all(map(math.isfinite, f["place"])) for f in placed)
    assert placed


def test_the_written_summary_reads_back_as_it_was(tmp_path):
    said = summary("field_with_pond") | {"project": "Ölberg “№2”"}
    write_summary(tmp_path / "summary.json", said)
    text = (tmp_path / "summary.json").read_text(encoding="utf-8")
    assert json.loads(text) == said
    assert "Ölberg “№2”" in text
    assert text.endswith("}\n")


def test_a_figure_that_is_no_number_is_never_written(tmp_path):
    with pytest.raises(ValueError):
        write_summary(tmp_path / "summary.json", {"vines": float("nan")})


def test_a_project_without_rows_has_a_summary(tmp_path):
    site = Site(SiteFrame(-34.5, 138.7, datum="EPSG:7844"), "EPSG:7844", "EPSG:7854")
    empty = summary_of(
        stake_set(Project("None", site, (Block("B1", shapely.box(0, 0, 1, 1), RowRules()),)))
    )
    assert [empty[k] for k in COUNTS] == [0] * 7
    assert "no-rows" in [f["code"] for f in empty["findings"]]
    write_summary(tmp_path / "summary.json", empty)


def test_the_page_beside_the_files_says_system_unit_factor_shift_and_cautions(tmp_path):
    stakes = stakes_of("bench_in_feet")
    write_about(tmp_path / "about.txt", stakes, CAUTIONS)
    text = (tmp_path / "about.txt").read_text(encoding="utf-8")
    for part in (stakes.statement, stakes.wgs84_shift, stakes.revision, *CAUTIONS):
        assert part in text
    assert "unit US survey foot = 0.30480060960" in text
    # 0.99988406: 115.94 ppm less
    assert "100 m on the ground are 1.16 cm shorter on the grid" in text
    assert "Grid bearing = true bearing -1.380123 degrees" in text


def test_findings_of_the_site_and_of_the_rows_are_both_told():
    stakes = stakes_of("field_with_pond")
    told = {f.message for f in stakes.findings}
    site = replace(stakes.project.site, findings=(Finding("text-decoded", "Said by a reader."),))
    more = stake_set(replace(stakes.project, site=site))
    assert "Said by a reader." in {f.message for f in more.findings}
    assert {f.message for p in more.plans for f in p.findings} <= told


# what a crew checks a block against

CHECK = re.compile(
    r"Check (?P<a>\S+) to (?P<b>\S+): (?P<ground>[\d.]+) m.* on the ground; "
    r"(?P<grid>[\d.]+) (?P<unit>m|ft|US ft) on the grid at (?P<bearing>[\d.]+)° grid\."
)


@pytest.mark.parametrize("name", SAMPLES)
def test_checks_on_the_page_agree_with_the_plan_and_with_the_written_stakes(name, tmp_path):
    stakes = stakes_of(name)
    write_about(tmp_path / "about.txt", stakes, CAUTIONS, block_lines(stakes))
    write_stakes_csv(tmp_path / "stakes.csv", stakes)
    text = (tmp_path / "about.txt").read_text(encoding="utf-8")
    with (tmp_path / "stakes.csv").open(encoding="utf-8") as file:
        staked = {
            row["description"]: (float(row["easting"]), float(row["northing"]))
            for row in csv.DictReader(file)
        }
    checks = list(CHECK.finditer(text))
    assert len(checks) == 3 * len(stakes.plans)
    for check in checks:
        a, b = staked[check["a"]], staked[check["b"]]
        east, north = b[0] - a[0], b[1] - a[1]
        unit = {"m": "metre", "ft": "foot", "US ft": "US survey foot"}[check["unit"]]
        assert unit == stakes.survey.unit
        on_grid = math.hypot(east, north)
        assert float(check["grid"]) == pytest.approx(on_grid, abs=0.006)
        ground_m = on_grid * stakes.survey.unit_m / stakes.survey.combined_factor
        assert float(check["ground"]) == pytest.approx(ground_m, rel=2e-6, abs=1e-3)
        turn = float(check["bearing"]) - math.degrees(math.atan2(east, north))
        assert abs((turn + 180) % 360 - 180) < 5e-4


@pytest.mark.parametrize("name", SAMPLES)
def test_the_first_and_last_row_stand_on_the_page_with_their_lengths(name):
    stakes = stakes_of(name)
    text = "\n".join(block_lines(stakes))
    for plan in stakes.plans:
        part = text.split(f"Block {plan.block.name}\n")[1].split("\nBlock ")[0]
        for word, number in (
            ("First", plan.segments.number.min()),
            ("Last", plan.segments.number.max()),
        ):
            line = re.search(rf"{word} row is (\d+): (.*)\.", part)
            assert int(line[1]) == number
            lengths = plan.segments.length_m[plan.segments.number == number]
            told = [float(m) for m in re.findall(r"-R\d+[A-Z]+ ([\d.]+) m", line[2])]
            assert told == pytest.approx(lengths.tolist(), abs=6e-4)
        true, grid = re.search(r"Rows run at ([\d.]+)° true, ([\d.]+)° grid", part).groups()
        assert float(true) == pytest.approx(plan.rules.bearing_deg, abs=1e-4)
        away = float(true) - float(grid) - stakes.survey.convergence_deg
        assert abs((away + 180) % 360 - 180) < 2e-4


def test_a_set_in_feet_tells_the_rules_in_metres_and_in_its_own_feet(tmp_path):
    stakes = stakes_of("bench_in_feet")
    write_about(tmp_path / "about.txt", stakes, CAUTIONS, block_lines(stakes))
    text = (tmp_path / "about.txt").read_text(encoding="utf-8")
    rules = stakes.plans[0].rules
    for metres in (rules.row_spacing_m, rules.vine_spacing_m, rules.headland_m):
        assert f"{metres:.3f} m" in text
        assert re.search(rf"\b{metres * 3937 / 1200:.1f}0? US ft", text)
    assert f"Height used: {stakes.project.site.frame.height_m:.1f} m" in text
    assert "US ft" not in "\n".join(block_lines(stakes_of("field_with_pond")))


def test_a_block_without_rows_says_so_on_the_page():
    site = Site(SiteFrame(-34.5, 138.7, datum="EPSG:7844"), "EPSG:7844", "EPSG:7854")
    project = Project("None", site, (Block("B1", shapely.box(0, 0, 1, 1), RowRules()),))
    assert block_lines(stake_set(project))[-1] == "  No row fits."
