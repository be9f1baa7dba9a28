"""What cannot be done: status 2, one sentence, nothing left behind."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from layoutdesk.commandline import main
from layoutdesk.formats.project_file import open_project, save_project
from tests.commandline.laying import (
    ROOT,
    lay,
)

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


GUIDES = {
    "line": [(288_800, 6_180_000), (288_840, 6_180_060), (288_850, 6_180_120)],
    "far": [(278_800, 6_180_000), (278_840, 6_180_060)],
    "place": [(288_800, 6_180_000)],
    "hairpin": [(288_800, 6_180_000), (288_840, 6_180_060), (288_801, 6_180_000)],
}

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
    "empty input": (["", "--out", "OUT"], "INPUT is empty: give an outline file or a project"),
    "blank out": (["FIELD", "--out", " "], "--out is empty"),
    "empty guide": (["FIELD", "--out", "OUT", "--guide", ""], "--guide is empty"),
    "empty exclusion": (["FIELD", "--out", "OUT", "--exclude", ""], "--exclude is empty"),
    "letter named csv": (["LETTER", "--out", "OUT"], "letter.csv is text but no list of corners"),
    "height beyond the sky": (["FIELD", "--height", "1e9", "--out", "OUT"], "--height 1e9 is no height on this earth"),
    "furlongs": (["FIELD", "--row-spacing", "8furlongs", "--out", "OUT"], "'furlongs' is no unit of length known here: use m, cm, mm, km, ft, in, yd or usft."),
    "no such block": (["FIELD", "--block", "B7", "--out", "OUT"], "--block 'B7' is not there: the blocks are B1."),
    "corner of no compass": (["FIELD", "--start-corner", "top", "--out", "OUT"], "--start-corner: Starting corner: 'top' is none of north"),
    "corner and side": (["FIELD", "--start-corner", "SW", "--number-from", "left", "--out", "OUT"], "leave out --number-from"),
    "prefix of signs": (["FIELD", "--prefix", "a b", "--out", "OUT"], "--prefix: 'a b' cannot be a block's name"),
    "prefix empty": (["FIELD", "--prefix", "", "--out", "OUT"], "--prefix: A block's name has 1 to"),
    "shared perhaps": (["FIELD", "--share-rules", "perhaps", "--out", "OUT"], "use yes or no"),
    "kept from nothing": (["FIELD", "--keep-from", "pond=6", "--out", "OUT"], "there is no exclusion; give one with --exclude"),
    "kept from another": (["FIELD", "--exclude", "POND", "--keep-from", "shed=6", "--out", "OUT"], "--keep-from 'shed' is not there: rows are kept from"),
    "kept from without length": (["FIELD", "--exclude", "POND", "--keep-from", "pond", "--out", "OUT"], "write it like pond=6"),
    "kept from afar": (["FIELD", "--exclude", "POND", "--keep-from", "the exclusion=2km", "--out", "OUT"], "2000 m is outside 0 to 1000 m"),
    "no alley in place": (["FIELD", "--alley", "1=4", "--out", "OUT"], "there is no alley 1 in place; none is set down"),
    "guide and straight": (["FIELD", "--guide", "LINE", "--straight", "--out", "OUT"], "contradict each other"),
    "guide and bearing": (["FIELD", "--guide", "LINE", "--bearing", "4", "--out", "OUT"], "leave out --bearing"),
    "guide is an area": (["FIELD", "--guide", "POND", "--out", "OUT"], "pond.geojson holds an area and no line"),
    "guide far away": (["FIELD", "--guide", "FAR", "--out", "OUT"], "km from B1: check its coordinate system"),
    "guide of one place": (["FIELD", "--guide", "PLACE", "--out", "OUT"], "--guide: A line needs two corners or more"),
    "guide with a hairpin": (["FIELD", "--guide", "HAIRPIN", "--out", "OUT"], "--guide: Rows cannot follow this line"),
    "guide and lattice": (["FIELD", "--guide", "LINE", "--leftover", "across", "--out", "OUT"], "cannot line up across curved rows"),
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
    (given / "letter.csv").write_text("Dear neighbour,\nthe map comes on day 3.\nRegards")
    for name, rows in GUIDES.items():
        text = "".join(f"{e},{n}\n" for e, n in rows)
        (given / f"{name}.csv").write_text(f"easting,northing\n{text}")
    return {
        **{name.upper(): given / f"{name}.csv" for name in ("letter", *GUIDES)},
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
    "arguments",
    [["frob", "x"], ["compared", "x"], ["field.gpkg", "lay"], ["--frob"], ["-x", "lay"]],
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
