"""Measured points accepted and adopted: on record, undone by going back, refused where they look like a mistake."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.staked import StakedRequest, as_staked
from layoutdesk.session.staked_edits import with_accepted, with_adopted, without_adopted
from layoutdesk.session.stakeout import lay_project
from tests.staked_project import Staked

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


def test_files_and_water_and_take_off_follow_the_measured_ends(staked, tmp_path):
    import csv

    import pyogrio

    from layoutdesk.session.stakeout import stake_set, write_stake_set

    en, ends = staked.noisy(0.2), staked.of_kind("end_post")
    adopted = with_adopted(staked.project, measured(staked, tmp_path, en, ends), "", DAY)
    plans = lay_project(adopted)
    write_stake_set(tmp_path / "set", stake_set(adopted, plans))
    with open(tmp_path / "set" / "stakes.csv", newline="") as file:
        rows = {
            r["description"]: (float(r["easting"]), float(r["northing"]))
            for r in csv.DictReader(file)
        }
    for i in ends.tolist():
        assert np.allclose(rows[staked.code[i]], en[i], atol=2e-4)
    layer = pyogrio.read_dataframe(tmp_path / "set" / "project.gpkg", layer="rows")
    length = [np.hypot(*(e[1] - e[0])) for p in plans for e in p.segment_ends_m]
    assert np.allclose(layer.length, length, atol=1e-6)
    vines = pyogrio.read_dataframe(tmp_path / "set" / "project.gpkg", layer="vines")
    xy = np.concatenate([p.vines.xy_m for p in plans])
    assert np.allclose(vines.geometry.get_coordinates().to_numpy(), xy, atol=1e-6)
    assert take_off is not None
    assert sum(p.row_length_m for p in plans) == pytest.approx(sum(length))
