"""layoutdesk hand-off, verify and as-staked: what is asked for is written, told apart when it moved, and read back."""

from __future__ import annotations

import csv
import json
import math
import zipfile

import pytest
import shapely

from layoutdesk.commandline import main
from layoutdesk.core.model import Block, Exclusion, Project, RowRules, Site, SiteFrame
from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.stakeout import lay_project

FRAME = SiteFrame(-34.5, 138.7, 300.0)
RULES = RowRules(bearing_deg=12.0, row_spacing_m=2.5, vine_spacing_m=1.5)
BLOCKS = (
    Block("B1", shapely.box(0, 0, 60, 90), RULES),
    Block("B2", shapely.box(80, 0, 130, 70), RULES),
)


@pytest.fixture
def project(tmp_path):
    path = tmp_path / "bench.gpkg"
    pole = Exclusion(shapely.Point(30, 40), 2.0, "Pole", "pole")
    made = Project("Bench", Site(FRAME, "EPSG:32754", "EPSG:32754"), BLOCKS, (pole,))
    save_project(path, made, lay_project(made))
    return path


def run(*arguments, status=0):
    assert main([str(a) for a in arguments]) == status


def rows_of(path, **more):
    with open(path, newline="") as file:
        return list(csv.DictReader(file, **more))


def test_points_columns_and_numbers_as_asked_for(project, tmp_path, capsys):
    out = tmp_path / "out"
    run(
        *("hand-off", project, "--out", out, "--formats", "csv", "--points", "row ends"),
        *("--parts", "B1 rows 3-6", "--order", "serpentine", "--first-number", "501"),
        *("--columns", "description, easting, northing, point", "--separator", "semicolon"),
        *("--decimal-mark", "comma", "--decimals", "2", "--feature", "row end=PF"),
        *(
            "--feature",
            "end post=EP",
            "--description",
            "{feature} {row}{segment}{index}",
            "--seal",
            "no",
        ),
    )
    found = rows_of(out / "points.csv", delimiter=";")
    assert list(found[0]) == ["description", "easting", "northing", "point"]
    assert [r["point"] for r in found] == [str(n) for n in range(501, 509)]
    assert [r["description"] for r in found][:4] == ["EP 3A1", "EP 3A2", "EP 4A2", "EP 4A1"]
    assert all(len(r["northing"].split(",")[1]) == 2 for r in found)
    assert "8 end posts" in capsys.readouterr().out


def test_tables_are_split_and_an_earlier_split_is_taken_away(project, tmp_path):
    out = tmp_path / "out"
    run("hand-off", project, "--out", out, "--formats", "csv", "--split", "200")
    many = sorted(p.name for p in out.glob("points*"))
    assert len(many) > 4
    assert many[0] == "points-1.csv"
    numbers = [
        r["point"]
        for n in range(1, len(many) + 1)
        for r in rows_of(out / f"points-{n}.csv")
        if r["northing"]
    ]
    assert numbers == [str(n) for n in range(1, len(numbers) + 1)]
    (out / "points-2.csv").write_text("mine now\n")
    run("hand-off", project, "--out", out, "--formats", "csv")
    left = sorted(p.name for p in out.glob("points*"))
    assert left == ["points-2.csv", "points.csv"], (
        "what was changed since is nobody's but its owner's"
    )


def test_every_format_matches_the_plan_until_the_plan_moves(project, tmp_path, capsys):
    out = tmp_path / "out"
    run("hand-off", project, "--out", out, "--formats", "all", "--points", "all", "--save")
    said = json.loads((out / "hand-off.json").read_text())
    assert len(said["files"]) == 14
    for file in said["files"]:
        capsys.readouterr()
        run("verify", out / file["name"], "--project", project)
        assert "It matches the plan." in capsys.readouterr().out, file["name"]
    run("lay", project, "--vine-spacing", "1.6", "--out", tmp_path / "moved")
    moved = tmp_path / "moved" / "project.gpkg"
    for name in ("points.txt", "plan.xml", "plan.gpkg", "taskdata.zip", "hand-off.pdf"):
        run("verify", out / name, "--project", moved, status=1)


def test_verify_tells_what_moved_and_that_a_file_was_changed(project, tmp_path, capsys):
    out = tmp_path / "out"
    run("hand-off", project, "--out", out, "--formats", "csv", "--save")
    path = out / "points.csv"
    lines = path.read_text().splitlines()
    number, northing, *rest = lines[7].split(",")
    lines[7] = ",".join([number, f"{float(northing) + 0.25:.4f}", *rest])
    del lines[9]
    path.write_text("\n".join(lines) + "\n")
    capsys.readouterr()
    run("verify", path, "--project", project, "--json", status=1)
    said = json.loads(capsys.readouterr().out)
    assert (said["whole"], said["moved"], said["missing"], said["strange"]) == (False, 1, 1, 0)
    (far,) = said["farthest"]
    assert far["code"] == rest[-1]
    assert math.hypot(far["east_m"], far["north_m"]) == pytest.approx(0.25, abs=1e-3)


def test_files_match_whatever_their_descriptions_say(project, tmp_path, capsys):
    out = tmp_path / "out"
    run(
        *(
            "hand-off",
            project,
            "--out",
            out,
            "--formats",
            "csv, dxf, landxml, gpkg",
            "--points",
            "all",
        ),
        *("--description", "{feature} {code}", "--feature", "vine=VN", "--save"),
    )
    for name in ("points.csv", "plan.dxf", "plan.xml", "plan.gpkg"):
        capsys.readouterr()
        run("verify", out / name, "--project", project)
        assert "It matches the plan." in capsys.readouterr().out, name


def test_ground_coordinates_and_their_offsets(project, tmp_path):
    for name, more in (
        ("grid", ()),
        ("ground", ("--coordinates", "ground", "--ground-east", "1000000")),
    ):
        run(
            "hand-off",
            project,
            "--out",
            tmp_path / name,
            "--formats",
            "csv",
            "--points",
            "row ends",
            *more,
        )
    places = {
        name: {
            r["description"]: (float(r["easting"]), float(r["northing"]))
            for r in rows_of(tmp_path / name / "points.csv")
            if r["northing"]
        }
        for name in ("grid", "ground")
    }
    plan = lay_project(open_project(project))[0]
    a, b = "B1-R003A-E1", "B1-R003A-E2"
    true = plan.segments.length_m[plan.segments.number == 3][0]
    length = {name: math.dist(found[a], found[b]) for name, found in places.items()}
    assert length["ground"] == pytest.approx(true, abs=2e-4)
    assert abs(length["grid"] - true) > 1e-3
    assert 900_000 < places["ground"][a][0] - places["grid"][a][0] < 1_100_000


def test_control_points_move_what_is_handed_off_and_a_bad_fit_is_refused(project, tmp_path, capsys):
    run("hand-off", project, "--out", tmp_path / "grid", "--formats", "csv", "--points", "row ends")
    ends = [r for r in rows_of(tmp_path / "grid" / "points.csv") if r["northing"]]
    corners = [ends[i] for i in (0, 1, -2, -1)]
    text = ["name,northing,easting,measured northing,measured easting"]
    for k, r in enumerate(corners):
        n, e = float(r["northing"]), float(r["easting"])
        text.append(f"K{k},{n},{e},{n + 0.4},{e - 0.7}")
    control = tmp_path / "control.csv"
    control.write_text("\n".join(text) + "\n")
    asked = ("--control", control, "--calibration", "shift", "--coordinates", "calibrated")
    run(
        "hand-off",
        project,
        "--out",
        tmp_path / "moved",
        "--formats",
        "csv",
        "--points",
        "row ends",
        *asked,
    )
    moved = [r for r in rows_of(tmp_path / "moved" / "points.csv") if r["northing"]]
    for before, after in zip(ends, moved, strict=True):
        assert float(after["northing"]) - float(before["northing"]) == pytest.approx(0.4, abs=2e-4)
        assert float(after["easting"]) - float(before["easting"]) == pytest.approx(-0.7, abs=2e-4)
    text[2] = text[2].replace("K1,", "K1,", 1)
    parts = text[2].split(",")
    text[2] = ",".join([*parts[:3], str(float(parts[3]) + 0.5), parts[4]])
    control.write_text("\n".join(text) + "\n")
    capsys.readouterr()
    run("hand-off", project, "--out", tmp_path / "bad", "--formats", "csv", *asked, status=2)
    assert "K1" in capsys.readouterr().err
    assert not (tmp_path / "bad").exists()


def test_grids_are_looked_up_by_words(project, capsys):
    run("hand-off grids", "mga zone 54", "--project", project)
    told = capsys.readouterr().out.splitlines()
    assert any("EPSG:7854" in line for line in told[:4])
    run("hand-off grids", "no such grid anywhere", status=2)


def test_as_staked_is_told_written_accepted_adopted_and_taken_back(project, tmp_path, capsys):
    run(
        "hand-off",
        project,
        "--out",
        tmp_path / "out",
        "--formats",
        "csv",
        "--points",
        "end posts",
        "--seal",
        "no",
    )
    lines = (tmp_path / "out" / "points.csv").read_text().splitlines()
    shifted = [lines[0]]
    for i, line in enumerate(lines[1:]):
        number, northing, *rest = line.split(",")
        shifted.append(",".join([number, f"{float(northing) + 0.004 * (-1) ** i:.4f}", *rest]))
    measured = tmp_path / "measured.csv"
    measured.write_text("\n".join(shifted) + "\n")
    asked = ("as-staked", measured, "--project", project)
    run(*asked, "--out", tmp_path / "told", "--accept", "--by", "surveyor")
    assert {p.name for p in (tmp_path / "told").iterdir()} == {
        *("as-staked.csv", "as-staked.pdf", "as-staked.geojson", "as-staked.json")
    }
    before = open_project(project)
    assert before.hand_off.checks[-1].verdict == "accepted"
    assert not before.blocks[0].overrides
    run(*asked, "--adopt", "--by", "surveyor", "--note", "final")
    after = open_project(project)
    assert after.hand_off.checks[-1].note == "final"
    assert len(after.blocks[0].overrides) == 2 * lay_project(before)[0].n_segments
    run("as-staked undo", project)
    assert open_project(project).blocks == before.blocks
    run("as-staked undo", project, status=2)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("hand-off", "{p}", "--points", "gnomes"), "--points"),
        (("hand-off", "{p}", "--parts", "B9 rows 1-2"), "B9"),
        (("hand-off", "{p}", "--parts", "B1 rows 900-910"), "no row of this plan"),
        (("hand-off", "{p}", "--day", "3"), "no planting day"),
        (("hand-off", "{p}", "--header", "maybe"), "--header"),
        (("hand-off", "{p}", "--feature", "EP"), "--feature"),
        (("hand-off", "{p}", "--description", "{{wine}}"), "--description"),
        (("hand-off", "{p}", "--control", "gone.csv"), "--control"),
        (("hand-off", "{p}", "--points", "control points", "--out", "{t}/x"), "No point is chosen"),
        (("verify", "{p}.pdf", "--project", "{p}"), "does not exist"),
        (("verify", "{t}/notes.csv", "--project", "{p}"), "notes.csv"),
        (("as-staked", "{t}/notes.csv", "--project", "{p}"), "notes.csv"),
        (("as-staked", "{t}/gone.csv", "--project", "{p}"), "gone.csv"),
        (("as-staked", "{p}", "--project", "{t}/notes.csv"), "no project"),
        (("as-staked", "{t}/notes.csv", "--project", "{p}", "--match", "luck"), "--match"),
        (
            ("as-staked", "{t}/notes.csv", "--project", "{p}", "--accept", "--adopt"),
            "cannot go together",
        ),
    ],
)
def test_what_cannot_be_is_one_sentence_and_status_2(arguments, told, project, tmp_path, capsys):
    (tmp_path / "notes.csv").write_text("name,remark\none,nothing to stake\n")
    filled = [
        a.replace("{p}", str(project))
        .replace("{t}", str(tmp_path))
        .replace("{{", "{")
        .replace("}}", "}")
        for a in arguments
    ]
    run(*filled, status=2)
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1
    assert "Traceback" not in said


def test_a_hand_off_that_is_stopped_leaves_the_one_that_was_there(project, tmp_path):
    from layoutdesk.session.hand_off_files import write_hand_off
    from layoutdesk.session.hand_off_set import hand_off_set

    hand = hand_off_set(open_project(project))
    out = tmp_path / "out"
    write_hand_off(out, hand)
    before = {p.name: p.read_bytes() for p in out.iterdir()}

    class Stopped(Exception):
        pass

    def stop(share, what):
        if share > 0.6:
            raise Stopped

    with pytest.raises(Stopped):
        write_hand_off(out, hand, progress=stop)
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_zipped_files_are_whole(project, tmp_path):
    run("hand-off", project, "--out", tmp_path / "out", "--formats", "kmz, shp, lines, taskdata")
    for name in ("plan.kmz", "shapefiles.zip", "guidance-lines.zip", "taskdata.zip"):
        with zipfile.ZipFile(tmp_path / "out" / name) as archive:
            assert archive.testzip() is None
            assert "seal.txt" in archive.namelist()
