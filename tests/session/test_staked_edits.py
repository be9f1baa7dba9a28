"""Measured points accepted and adopted: on record, undone by going back, refused where they look like a mistake."""

from __future__ import annotations

import csv
import datetime
import json
from dataclasses import replace

import ezdxf
import numpy as np
import pyogrio
import pyproj
import pytest

from layoutdesk.core.layout.numbering import mark_code, segment_code
from layoutdesk.core.materials.takeoff import take_off
from layoutdesk.core.model import InputProblem, Lot, Plant, Planting, Trellis, Water
from layoutdesk.core.model.water import Drip
from layoutdesk.core.water.lines import lateral_lines
from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.about import block_lines
from layoutdesk.session.recording import with_planted
from layoutdesk.session.staked import StakedRequest, as_staked
from layoutdesk.session.staked_edits import with_accepted, with_adopted, without_adopted
from layoutdesk.session.stakeout import lay_project, stake_set, write_stake_set
from tests.staked_project import UTM, Staked

DAY = datetime.date(2027, 3, 2)


def measured(staked: Staked, folder, en, which):
    """An answer to a table of some points at some places."""
    path = folder / "measured.csv"
    lines = ["point,northing,easting,elevation,description"]
    for k, i in enumerate(which.tolist(), 1):
        lines.append(f"{k},{en[i, 1]:.4f},{en[i, 0]:.4f},,{staked.code[i]}")
    path.write_text("\n".join(lines) + "\n")
    return as_staked(StakedRequest(0, staked.project, staked.plans, path))


@pytest.fixture(scope="module")
def staked():
    return Staked()


def test_adopted_rows_run_between_the_measured_ends(staked, tmp_path):
    en, ends = staked.noisy(0.02), staked.of_kind("end_post")
    answer = measured(staked, tmp_path, en, ends)
    project = with_adopted(staked.project, answer, "crew lead", DAY, "second crew")
    plans = lay_project(project)
    there = staked.placing.back(en[ends])
    now = np.concatenate([p.segment_ends_m.reshape(-1, 2) for p in plans])
    assert np.hypot(*(now - there).T).max() < 2e-4  # written with four decimals
    check = project.hand_off.checks[-1]
    assert (check.verdict, check.by, check.day, check.note) == (
        "adopted",
        "crew lead",
        DAY,
        "second crew",
    )
    assert check.n_points == len(ends)
    assert check.file == "measured.csv"
    assert 0.01 < check.rms_m < 0.05
    assert check.plan == answer.hand.plan


def test_ends_that_were_not_measured_stay_and_measuring_again_replaces(staked, tmp_path):
    ends = staked.of_kind("end_post")
    first = with_adopted(
        staked.project, measured(staked, tmp_path, staked.noisy(0.02), ends), "", DAY
    )
    again = Staked(first)
    some = again.of_kind("end_post")[:10]
    answer = measured(again, tmp_path, again.noisy(0.02, seed=9), some)
    second = with_adopted(first, answer, "", DAY)
    count = [sum(len(b.overrides) for b in p.blocks) for p in (first, second)]
    assert count == [len(ends), len(ends)]
    before, after = lay_project(first)[0], lay_project(second)[0]
    moved = np.hypot(*(after.segment_ends_m - before.segment_ends_m).reshape(-1, 2).T)
    assert (moved[:10] > 1e-4).all()
    assert (moved[10:] < 1e-9).all()


def test_taking_back_lays_by_the_rules_again(staked, tmp_path):
    answer = measured(staked, tmp_path, staked.noisy(0.02), staked.of_kind("end_post"))
    adopted = with_adopted(staked.project, answer, "", DAY)
    one = without_adopted(adopted, "B1")
    assert not one.block("B1").overrides
    assert one.block("North bank").overrides
    back = without_adopted(adopted)
    assert back.blocks == staked.project.blocks
    assert len(back.hand_off.checks) == 1
    assert without_adopted(back) is back
    with pytest.raises(InputProblem, match="no block 'B9'"):
        without_adopted(adopted, "B9")


def test_what_looks_like_a_mistake_is_not_adopted_unless_somebody_says_why(staked, tmp_path):
    foot = 0.3048 / (1200 / 3937)
    answer = measured(
        staked, tmp_path, staked.noisy(0.01) * foot, staked.of_kind("end_post", "vine")
    )
    near = replace(
        answer,
        residuals=replace(
            answer.residuals, distance_m=np.full(len(answer.residuals.distance_m), 0.1)
        ),
    )
    with pytest.raises(InputProblem, match="look like a mistake"):
        with_adopted(staked.project, near, "", DAY)
    project = with_adopted(staked.project, near, "", DAY, although="the grid was redefined")
    assert project.hand_off.checks[-1].note == "the grid was redefined"


def test_points_compared_with_an_earlier_plan_are_not_adopted(staked, tmp_path):
    answer = measured(staked, tmp_path, staked.noisy(0.01), staked.of_kind("end_post"))
    block = staked.project.block("B1")
    later = replace(block, rules=replace(block.rules, row_spacing_m=2.6))
    with pytest.raises(InputProblem, match="B1 has changed since"):
        with_adopted(staked.project.with_block(later), answer, "", DAY)


def test_accepting_changes_no_row(staked, tmp_path):
    answer = measured(staked, tmp_path, staked.noisy(0.01), staked.of_kind("end_post"))
    project = with_accepted(staked.project, answer, "surveyor", DAY)
    assert project.blocks == staked.project.blocks
    assert project.hand_off.checks[-1].verdict == "accepted"


def test_adopted_ends_and_checks_come_back_from_the_file(staked, tmp_path):
    answer = measured(staked, tmp_path, staked.noisy(0.02), staked.of_kind("end_post"))
    project = with_adopted(staked.project, answer, "crew", DAY)
    path = tmp_path / "p.gpkg"
    save_project(path, project, lay_project(project))
    assert open_project(path) == project


@pytest.fixture(scope="module")
def adopted(staked, tmp_path_factory):
    """A project on measured ends, its plans, and where every vine and end post stands, by code."""
    folder = tmp_path_factory.mktemp("adopted")
    en, ends = staked.noisy(0.2), staked.of_kind("end_post")
    answer = measured(staked, folder, en, ends)
    project = with_adopted(staked.project, answer, "", DAY)
    plans = lay_project(project)
    measured_m = dict(
        zip((staked.code[i] for i in ends.tolist()), staked.placing.back(en[ends]), strict=True)
    )
    expected = dict(measured_m)
    for plan in plans:  # straight between the measured ends, whatever the plan says of places
        s = plan.segments
        for i in range(plan.n_segments):
            name = plan.block.name, int(s.number[i]), int(s.letter[i])
            row = segment_code(*name)
            start, far = measured_m[f"{row}-E1"], measured_m[f"{row}-E2"]
            unit = (far - start) / np.hypot(*(far - start))
            for k in range(int(s.n_vines[i])):
                along = s.first_vine_m[i] + k * s.vine_step_m[i]
                expected[mark_code(*name, "vine", k + 1)] = start + along * unit
    return project, plans, expected


WRITTEN_M = 2e-4
"""Measured coordinates have four decimals, and so have those of the files."""


def held_to(expected, code, xy_m):
    """All vines and end posts are there and stand where they should."""
    found = {c: xy for c, xy in zip(code, xy_m, strict=True) if c in expected}
    assert set(found) == set(expected)
    off = [np.hypot(*(np.asarray(found[c]) - expected[c])) for c in expected]
    assert max(off) < WRITTEN_M


def test_every_file_of_a_stake_out_holds_the_vines_between_measured_ends(adopted, staked, tmp_path):
    project, plans, expected = adopted
    write_stake_set(tmp_path / "set", stake_set(project, plans))
    with open(tmp_path / "set" / "stakes.csv", newline="", encoding="utf-8") as file:
        table = list(csv.DictReader(file))
    en = np.array([(float(r["easting"]), float(r["northing"])) for r in table])
    held_to(expected, [r["description"] for r in table], staked.placing.back(en))
    inserts = ezdxf.readfile(tmp_path / "set" / "stakes.dxf").modelspace().query("INSERT")
    at = np.array([tuple(i.dxf.insert)[:2] for i in inserts])
    codes = [i.attribs[0].dxf.text for i in inserts]
    held_to(expected, codes, staked.placing.back(at))
    read = json.loads((tmp_path / "set" / "stakes.geojson").read_text(encoding="utf-8"))
    points = [f for f in read["features"] if f["geometry"]["type"] == "Point"]
    lon_lat = np.array([f["geometry"]["coordinates"] for f in points])
    back = pyproj.Transformer.from_crs("EPSG:4326", UTM, always_xy=True)
    grid = np.column_stack(back.transform(*lon_lat.T))
    held_to(expected, [f["properties"]["code"] for f in points], staked.placing.back(grid))
    saved = tmp_path / "set" / "project.gpkg"
    vines = pyogrio.read_dataframe(saved, layer="vines")
    xy = np.concatenate([p.vines.xy_m for p in plans])
    assert np.abs(vines.geometry.get_coordinates().to_numpy() - xy).max() < 1e-6
    rows = pyogrio.read_dataframe(saved, layer="rows")
    ends = np.concatenate([p.segment_ends_m for p in plans])
    drawn = rows.geometry.get_coordinates().to_numpy().reshape(-1, 2, 2)
    assert np.abs(drawn - ends).max() < 1e-6


def test_a_hand_off_of_adopted_rows_is_what_was_measured(adopted, tmp_path):
    project, _, expected = adopted
    again = Staked(project)
    held_to(expected, again.code, again.placing.back(again.en))
    lines = again.hand.lines
    rows = np.flatnonzero(lines.kind == 0).tolist()
    assert len(rows) == sum(p.n_segments for p in again.plans)
    for i in rows:
        for end, at in ((1, 0), (2, -1)):
            place = lines.xy_m[lines.first[i] : lines.first[i + 1]][at]
            away = np.hypot(*(place - expected[f"{lines.code[i]}-E{end}"]))
            assert away < WRITTEN_M


def test_water_and_take_off_and_planting_follow_the_measured_ends(adopted):
    project, plans, expected = adopted
    ends = np.concatenate([p.segment_ends_m for p in plans])
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    found = take_off(plans, {p.block.name: Trellis(drip_line_end_m=0.0) for p in plans})
    assert found.of("drip_line_m") == pytest.approx(length.sum(), abs=1e-6)
    assert found.of("end_posts") == 2 * len(ends)
    drips = tuple((p.block.name, Drip(bridge_m=0.0)) for p in plans)
    lines = lateral_lines(plans, Water(drips=drips))
    assert np.abs(lines.tail_xy_m - ends).max() < 1e-9
    assert lines.length_m == pytest.approx(length, abs=1e-9)
    vines = [(c, xy) for c, xy in expected.items() if "-V" in c]
    lot = Lot(
        "27-A", Plant("Furmint", "F 5", "5BB"), ordered=9999, delivered=9999, tags_recorded=True
    )
    put = with_planted(
        replace(project, planting=Planting(lots=(lot,))),
        plans,
        np.arange(len(vines)),
        DAY,
        lot="27-A",
        by="crew",
        when="2027-03-02T18:00:00+01:00",
    )
    held = put.register.stand.xy_mm / 1000
    assert np.abs(held - np.concatenate([p.vines.xy_m for p in plans])).max() < 6e-4
    assert np.abs(held - np.array([xy for _, xy in vines])).max() < 6e-4 + WRITTEN_M


def test_what_was_adopted_is_told_in_words_and_goes_when_it_is_taken_back(adopted, staked):
    project, plans, expected = adopted
    n = sum(len(b.overrides) for b in project.blocks)
    told = [line for line in block_lines(stake_set(project, plans)) if "measured" in line]
    assert sum(int(line.rstrip(".").split()[-1]) for line in told) == n
    assert n == sum("-E" in code for code in expected)
    before = block_lines(stake_set(staked.project, staked.plans))
    assert not [line for line in before if "measured" in line]
