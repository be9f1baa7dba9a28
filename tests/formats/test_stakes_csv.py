"""The table of stake-out points."""

import csv
import dataclasses

import numpy as np
import pytest
import shapely

from layoutdesk import Block, Exclusion, InputProblem, Project, RowRules, Site, SiteFrame, lay_rows
from layoutdesk.core.layout.numbering import mark_code
from layoutdesk.formats.stakes_csv import write_stakes_csv
from layoutdesk.formats.stakeset import StakeSet, SurveyGrid

LOW = Block("Unten-Süd", shapely.box(0, 0, 30, 90), RowRules(bearing_deg=12.0))
POND = Exclusion(shapely.Point(115, 75).buffer(12), 3.0, "pond")
HIGH = Block("B2", shapely.box(80, 0, 150, 150), RowRules(bearing_deg=0, first_number=990))
METRES = SurveyGrid("EPSG:32754", "WGS 84 / UTM zone 54S", "metre", 1.0, 0.9996, 0.99958, -1.2)


def stakes_of(*blocks, exclusions=(), survey=METRES, east_north=(512_345.6, 6_123_456.7), **other):
    """A stake-out set with plain transforms: a shift and a unit, and degrees about a point."""
    degrees = other.pop("degrees", (138.5, -34.5))
    site = Site(SiteFrame(degrees[1], degrees[0]), "EPSG:4326", survey.crs)
    return StakeSet(
        Project("Sample", site, blocks, tuple(exclusions)),
        tuple(lay_rows(block, None, exclusions) for block in blocks),
        survey,
        lambda xy: xy / survey.unit_m + np.array(east_north),
        lambda xy: xy / [91_000.0, 111_000.0] + np.array(degrees),
        "none needed",
        "r7",
        **other,
    )


def expected_marks(stakes):
    """What must be in a file, thing by thing: block, row, segment letter number, kind, index, x, y."""
    for plan in stakes.plans:
        s = plan.segments
        for marks in plan.marks():
            for i, index, xy in zip(marks.segment, marks.index, marks.xy_m, strict=True):
                place = plan.block.name, int(s.number[i]), int(s.letter[i])
                yield *place, marks.kind, int(index), xy


def read(path):
    raw = path.read_bytes()
    assert b"\r" not in raw
    assert raw.endswith(b"\n")
    return list(csv.DictReader(raw.decode("utf-8").splitlines()))


def assert_holds(path, stakes):
    rows = read(path)
    wanted = list(expected_marks(stakes))
    assert [r["description"] for r in rows] == [
        mark_code(block, row, letter, kind, index) for block, row, letter, kind, index, _ in wanted
    ]
    assert [r["point"] for r in rows] == [str(i + 1) for i in range(len(wanted))]
    assert {r["elevation"] for r in rows} <= {""}
    placed = stakes.to_survey(np.array([w[-1] for w in wanted]).reshape(-1, 2))
    for axis, name in enumerate(("easting", "northing")):
        assert all(r[name] == r[name].strip() and len(r[name].split(".")[1]) == 4 for r in rows)
        found = np.array([float(r[name]) for r in rows])
        np.testing.assert_allclose(found, placed[:, axis], rtol=0, atol=0.500001e-4)
    return rows


def test_every_post_anchor_and_vine_is_a_point_with_its_code_in_walking_order(tmp_path):
    stakes = stakes_of(LOW, HIGH, exclusions=[POND])
    path = tmp_path / "stakes.csv"
    count = write_stakes_csv(path, stakes)
    first_line = path.read_bytes().split(b"\n", 1)[0]
    assert first_line == b"point,northing,easting,elevation,description"
    rows = assert_holds(path, stakes)
    assert count == len(rows) == sum(len(m) for p in stakes.plans for m in p.marks())
    codes = {r["description"] for r in rows}
    # The pond cuts rows in two, numbers pass 999, and the first block's name is not ASCII.
    assert {"B2-R1000B-E1", "B2-R1000A-A2", "B2-R999A-V001", "Unten-Süd-R003A-L03"} <= codes


def test_points_around_zero_keep_sign_and_have_no_padding(tmp_path):
    stakes = stakes_of(LOW, HIGH, east_north=(-40.0, -75.0))
    write_stakes_csv(tmp_path / "s.csv", stakes)
    rows = assert_holds(tmp_path / "s.csv", stakes)
    eastings = [r["easting"] for r in rows]
    assert any(e.startswith("-") for e in eastings)
    assert any(not e.startswith("-") for e in eastings)
    assert "-0.0000" not in eastings


def test_points_across_a_change_of_digits_have_no_leading_zero_or_space(tmp_path):
    stakes = stakes_of(LOW, HIGH, east_north=(99_985.0, 999_950.0))
    write_stakes_csv(tmp_path / "s.csv", stakes)
    rows = assert_holds(tmp_path / "s.csv", stakes)
    assert {len(r["easting"]) for r in rows} == {10, 11}
    assert {len(r["northing"]) for r in rows} == {11, 12}


def test_coordinates_are_in_the_survey_unit(tmp_path):
    feet = dataclasses.replace(METRES, unit="US survey foot", unit_m=1200 / 3937)
    stakes = stakes_of(LOW, survey=feet)
    write_stakes_csv(tmp_path / "s.csv", stakes)
    rows = assert_holds(tmp_path / "s.csv", stakes)
    ends = np.array([[float(r["easting"]), float(r["northing"])] for r in rows[:2]])
    length_m = stakes.plans[0].segments.length_m[0]
    assert np.hypot(*(ends[1] - ends[0])) == pytest.approx(length_m * 3937 / 1200, abs=2e-4)


def test_a_vine_beyond_the_9999th_of_its_row_keeps_all_its_digits(tmp_path):
    rules = RowRules(bearing_deg=0, vine_spacing_m=0.2, side_margin_m=1.0)
    stakes = stakes_of(Block("Long", shapely.box(0, 0, 4, 2100), rules))
    write_stakes_csv(tmp_path / "s.csv", stakes)
    rows = assert_holds(tmp_path / "s.csv", stakes)
    assert "Long-R001A-V10001" in {r["description"] for r in rows}


def test_a_block_without_rows_leaves_the_header(tmp_path):
    stakes = stakes_of(Block("Tiny", shapely.box(0, 0, 5, 5)))
    assert write_stakes_csv(tmp_path / "s.csv", stakes) == 0
    assert (tmp_path / "s.csv").read_bytes().count(b"\n") == 1


def test_coordinates_are_asked_for_some_at_a_time(tmp_path):
    rules = RowRules(bearing_deg=0, vine_spacing_m=0.3, row_spacing_m=1.0)
    stakes = stakes_of(Block("Big", shapely.box(0, 0, 150, 200), rules))
    sizes = []

    def to_survey(xy):
        sizes.append(len(xy))
        return xy

    shares = []
    stakes = dataclasses.replace(stakes, to_survey=to_survey)
    count = write_stakes_csv(tmp_path / "s.csv", stakes, progress=shares.append)
    assert sum(sizes) == count > 80_000
    assert max(sizes) <= 65_536
    assert "xy_m" not in vars(stakes.plans[0].vines)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert_holds(tmp_path / "s.csv", stakes)


def test_progress_may_cancel(tmp_path):
    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_stakes_csv(tmp_path / "s.csv", stakes_of(LOW), progress=stop)


def test_a_site_outside_the_survey_system_is_refused_in_a_sentence(tmp_path):
    stakes = dataclasses.replace(stakes_of(LOW), to_survey=lambda xy: xy * np.inf)
    with pytest.raises(InputProblem, match="outside the survey system WGS 84 / UTM zone 54S"):
        write_stakes_csv(tmp_path / "s.csv", stakes)
