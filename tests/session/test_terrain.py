"""The ground of a project: read once, written into the stake-out set, asked for by options."""

import argparse
import csv
import os
import subprocess
import sys
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
import rasterio
import shapely
from rasterio.transform import from_origin

from layoutdesk import Block, InputProblem, Project, RowRules, Site
from layoutdesk.commandline import main
from layoutdesk.core.model import Terrain
from layoutdesk.formats.crs import crs_named, frame_to_survey, make_frame
from layoutdesk.session import terrain as held
from layoutdesk.session.asked_terrain import add_terrain_options, with_asked_terrain
from layoutdesk.session.stakeout import stake_set, write_stake_set
from layoutdesk.session.terrain import terrain_of, terrain_or_finding, with_terrain

EAST, NORTH = 289_000.0, 6_180_000.0
GRID = "EPSG:32754"
FRAME = make_frame(crs_named(GRID), np.array([EAST]), np.array([NORTH]), 100.0)
FIELD = Block("B1", shapely.box(-40, -60, 40, 60), RowRules(bearing_deg=17.0))
FEET_FRAME = make_frame(crs_named("EPSG:4269"), np.array([-78.2]), np.array([36.9]), 60.0)
"""In southern Virginia, whose state grid EPSG:2284 counts in US survey feet."""
USFT_M = 1200 / 3937


def plane(x, y):
    """A slope of 5 % east and 2 % south, 120 m high at the site's middle. [m]"""
    return 120.0 + 0.05 * (x - EAST) - 0.02 * (y - NORTH)


@pytest.fixture(autouse=True)
def _nothing_is_held_yet():
    held._read.clear()


@pytest.fixture
def points(tmp_path):
    """A table of points on the plane, each side 100 m beyond the field or farther."""
    x, y = (q.ravel() for q in np.meshgrid(np.arange(-200, 201, 40.0), np.arange(-200, 201, 40.0)))
    rows = np.column_stack([x + EAST, y + NORTH, plane(x + EAST, y + NORTH)])
    path = tmp_path / "points.csv"
    np.savetxt(path, rows, "%.6f", ",", header="easting,northing,elevation", comments="")
    return path


def project_with(path, block=FIELD, site=None, **said):
    site = site or Site(FRAME, GRID, GRID)
    return Project("Hill", site, (block,), terrain=Terrain(str(path), **said))


def rows_of(folder):
    with open(folder / "stakes.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def column(rows, name):
    return np.array([float(r[name]) for r in rows])


# ------------------------------------------------------------------------------ the stake-out set


def test_every_stake_has_the_elevation_of_the_plane_it_stands_on(tmp_path, points):
    stakes = stake_set(project_with(points, unit="m", datum="EGM96"))
    write_stake_set(tmp_path / "out", stakes)
    rows = rows_of(tmp_path / "out")
    assert len(rows) > 1000
    assert all(len(r["elevation"].split(".")[1]) == 4 for r in rows)
    wanted = plane(column(rows, "easting"), column(rows, "northing"))
    # Four decimals; triangles of 40 m on a plane of the grid, not of the frame: 0.01 mm.
    assert np.abs(column(rows, "elevation") - wanted).max() < 1e-4
    about = (tmp_path / "out" / "about.txt").read_text(encoding="utf-8")
    assert "Elevations are of the ground, in metres: in stakes.csv, and the z of points" in about
    assert "unit metre (as the user says); above EGM96" in about


def test_symbols_of_the_drawing_stand_at_the_same_elevation(tmp_path, points):
    write_stake_set(tmp_path / "out", stake_set(project_with(points)))
    drawing = ezdxf.readfile(tmp_path / "out" / "stakes.dxf")
    assert not drawing.audit().errors
    inserts = drawing.modelspace().query("INSERT")
    z = {i.get_attrib_text("CODE"): i.dxf.insert.z for i in inserts}
    rows = rows_of(tmp_path / "out")
    assert len(z) == len(rows)
    drawn = [z[r["description"]] for r in rows]
    assert drawn == pytest.approx(column(rows, "elevation").tolist(), abs=1e-9)


def test_elevations_are_in_the_survey_unit(tmp_path):
    site = Site(FEET_FRAME, "EPSG:4269", "EPSG:2284")
    x, y = np.array([[-300, -300], [300, -300], [300, 300], [-300, 300.0]]).T
    east, north = frame_to_survey(FEET_FRAME, "EPSG:2284")(np.column_stack([x, y])).T
    feet = (60 + 0.05 * x) / 0.3048  # heights in feet, the plan in US survey feet
    table = np.column_stack([east, north, feet])
    path = tmp_path / "p.csv"
    np.savetxt(path, table, "%.6f", ",", header="easting,northing,z_ft", comments="")
    project = project_with(path, site=site, crs="EPSG:2284")
    stakes = stake_set(project)
    write_stake_set(tmp_path / "out", stakes)
    marks = np.vstack([m.xy_m for m in stakes.plans[0].marks()])
    wanted = (60 + 0.05 * marks[:, 0]) / USFT_M
    got = column(rows_of(tmp_path / "out"), "elevation")
    assert np.sort(got) == pytest.approx(np.sort(wanted), abs=1e-3)
    about = (tmp_path / "out" / "about.txt").read_text(encoding="utf-8")
    assert "in US survey feet: in stakes.csv" in about


def test_what_is_not_known_stays_empty_and_the_drawing_flat(tmp_path):
    transform = from_origin(EAST - 200, NORTH + 200, 2, 2)
    heights = np.full((200, 200), 131.25, dtype="float32")
    heights[95:110, 90:120] = -9999  # a hole in the field
    with rasterio.open(
        tmp_path / "dem.tif", "w", driver="GTiff", width=200, height=200, count=1, dtype="float32",
        crs=GRID, transform=transform, nodata=-9999,
    ) as file:  # fmt: skip
        file.write(heights, 1)
    stakes = stake_set(project_with(tmp_path / "dem.tif", unit="m", datum="EGM96"))
    write_stake_set(tmp_path / "out", stakes)
    rows = rows_of(tmp_path / "out")
    assert {r["elevation"] for r in rows} == {"", "131.2500"}
    empty = sum(r["elevation"] == "" for r in rows)
    assert empty == stakes.n_without_height > 50
    in_hole = [
        abs(float(r["easting"]) - EAST - 10) < 29 and abs(float(r["northing"]) - NORTH + 5) < 14
        for r in rows
    ]
    assert all(r["elevation"] == "" for r, inside in zip(rows, in_hole, strict=True) if inside)
    drawing = ezdxf.readfile(tmp_path / "out" / "stakes.dxf")
    assert {i.dxf.insert.z for i in drawing.modelspace().query("INSERT")} == {0.0}
    about = (tmp_path / "out" / "about.txt").read_text(encoding="utf-8")
    assert f"empty for {empty:,} points whose height is not known; for their sake all of" in about
    assert "terrain-no-data" in {f.code for f in stakes.findings}


def test_without_heights_nothing_is_said_of_the_ground(tmp_path):
    stakes = stake_set(replace(project_with("none"), terrain=None))
    write_stake_set(tmp_path / "out", stakes)
    assert {r["elevation"] for r in rows_of(tmp_path / "out")} == {""}
    about = (tmp_path / "out" / "about.txt").read_text(encoding="utf-8")
    assert "Elevations are left empty: they are not known to this plan." in about


def test_heights_that_are_gone_are_a_finding_and_the_set_is_written(tmp_path):
    stakes = stake_set(project_with(tmp_path / "gone.tif"))
    assert stakes.heights is None
    (told,) = (f for f in stakes.findings if f.code == "terrain-unread")
    assert "gone.tif are not at" in told.message


# ------------------------------------------------------------------------------ held


def test_the_ground_is_read_once_while_nothing_of_it_changes(points):
    project = project_with(points)
    first = terrain_of(project)
    assert terrain_of(replace(project, name="Other")) is first
    drawn = replace(project, terrain=replace(project.terrain, contour_m=5.0, relief=False))
    assert terrain_of(drawn) is first
    nudged = replace(FIELD, outline=shapely.box(-40, -60, 41, 60))
    assert terrain_of(replace(project, blocks=(nudged,))) is first
    assert terrain_of(replace(project, terrain=None)) is None


def test_the_ground_is_read_anew_when_it_may_be_another(points):
    project = project_with(points)
    first = terrain_of(project)
    feet = terrain_of(replace(project, terrain=replace(project.terrain, unit="ft")))
    middle = np.zeros((1, 2))
    height_m = first.surface.heights_m(middle)[0]
    assert feet.surface.heights_m(middle) == pytest.approx(height_m * 0.3048, abs=1e-9)
    moved = replace(FIELD, outline=shapely.box(60, -60, 140, 60))
    assert terrain_of(replace(project, blocks=(moved,))) is not first
    points.write_text(points.read_text().replace(",1", ",2"), encoding="utf-8")
    os.utime(points, ns=(1, 1))
    assert terrain_of(project).surface.heights_m(middle) == pytest.approx(height_m + 100)


def test_heights_are_found_beside_a_project_that_was_moved(points, tmp_path):
    project = project_with("/elsewhere/points.csv")
    with pytest.raises(InputProblem, match="not at"):
        terrain_of(project)
    assert terrain_of(project, tmp_path / "project.gpkg") is not None


def test_an_edit_gives_heights_and_takes_them_away(points):
    bare = replace(project_with(points), terrain=None)
    given = with_terrain(Terrain(str(points), "ft", "NAVD88"))(bare)
    assert given.terrain == Terrain(str(points), "ft", "NAVD88")
    assert with_terrain(None)(given) == bare
    read, found = terrain_or_finding(given)
    assert found == ()
    assert read.datum_said == "NAVD88"


# ------------------------------------------------------------------------------ asked for


def asked(project, *words):
    parser = argparse.ArgumentParser()
    add_terrain_options(parser)
    return with_asked_terrain(project, parser.parse_args([str(w) for w in words]))


def test_options_give_a_project_heights_or_change_what_is_said_of_them(points):
    bare = replace(project_with(points), terrain=None)
    assert asked(bare) == bare
    options = ("--terrain-unit", "feet", "--terrain-datum", "EGM96", "--terrain-crs", GRID)
    given = asked(bare, "--terrain", points, *options)
    assert given.terrain == Terrain(str(points.absolute()), "ft", "EGM96", GRID)
    assert asked(given, "--terrain-unit", "usft").terrain == replace(given.terrain, unit="usft")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--terrain-unit", "m"), "are for --terrain FILE"),
        (("--terrain", "a.tif", "--terrain-unit", "cubits"), "'cubits' is none of m, ft, usft"),
        (("--terrain", " "), "--terrain is empty"),
        (("--terrain", "a.tif", "--terrain-datum", ""), "--terrain-datum is empty"),
    ],
)
def test_options_that_mean_nothing_are_refused(points, words, why):
    with pytest.raises(InputProblem, match=why):
        asked(replace(project_with(points), terrain=None), *words)


def test_lay_writes_elevations_and_refuses_heights_it_cannot_read(tmp_path, points, capsys):
    corners = [(-40, -60), (40, -60), (40, 60), (-40, 60)]
    lines = "\n".join(f"{EAST + x},{NORTH + y}" for x, y in corners)
    (tmp_path / "field.csv").write_text(f"easting,northing\n{lines}\n", encoding="utf-8")
    lay = ["lay", str(tmp_path / "field.csv"), "--crs", GRID, "--out", str(tmp_path / "out")]
    assert main([*lay, "--terrain", str(points), "--terrain-datum", "AHD"]) == 0
    rows = rows_of(tmp_path / "out")
    wanted = plane(column(rows, "easting"), column(rows, "northing"))
    assert np.abs(column(rows, "elevation") - wanted).max() < 1e-4
    capsys.readouterr()
    assert main([*lay, "--terrain", str(tmp_path / "none.tif")]) == 2
    said = capsys.readouterr().err
    assert "none.tif" in said
    assert said.count("\n") == 1


_AT_ONCE = """
import sys, threading
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.terrain import terrain_of

project = open_sample(next(s for s in samples() if s.terrain is not None))
start, found = threading.Barrier(4), []

def read():
    start.wait()
    try:
        found.append(terrain_of(project))
    except Exception as problem:
        found.append(problem)

threads = [threading.Thread(target=read) for _ in range(4)]
[t.start() for t in threads]
[t.join() for t in threads]
sys.exit(0 if len({id(f) for f in found}) == 1 and hasattr(found[0], "surface") else repr(found))
"""


def test_rows_plan_and_comparison_may_ask_for_the_heights_at_once():
    done = subprocess.run([sys.executable, "-c", _AT_ONCE], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
