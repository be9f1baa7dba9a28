"""Each option reaches its rule, and the rule the ground."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.commandline.laying import (
    lay,
    rules_of,
    table,
)

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


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
