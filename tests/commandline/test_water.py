"""layoutdesk water: every staked vine, all files, what is asked for, one sentence for bad input."""

from __future__ import annotations

import csv
import json

import pytest

from layoutdesk.commandline import main
from layoutdesk.session.asked_water import WATER_OPTIONS
from layoutdesk.session.water_files import FILES
from tests.commandline.laying import ROOT, SAMPLES, lay


def watered(capsys, source, *options) -> dict:
    """What --json prints of a drip system that must succeed."""
    capsys.readouterr()
    assert main(["water", str(source), "--json", *map(str, options)]) == 0
    return json.loads(capsys.readouterr().out)


def refusal(capsys, *arguments) -> str:
    """The one sentence with which a command is refused."""
    capsys.readouterr()
    assert main(["water", *map(str, arguments)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    (sentence,) = said.err.splitlines()
    assert sentence.startswith("layoutdesk: ")
    return sentence


@pytest.mark.parametrize("name", SAMPLES)
def test_every_vine_that_is_staked_has_its_line_under_the_same_code(name, set_of, tmp_path):
    folder, laid = set_of(name)
    assert main(["water", str(folder / "project.gpkg"), "--out", str(tmp_path)]) == 0
    with (folder / "stakes.csv").open(newline="", encoding="utf-8") as file:
        staked = [r["description"] for r in csv.DictReader(file) if "-V" in r["description"]]
    with (tmp_path / "emitters.csv").open(newline="", encoding="utf-8") as file:
        found = [r["code"] for r in csv.DictReader(file)]
    assert found == staked
    assert len(found) == laid["vines"]


def test_a_project_that_says_nothing_of_water_gets_the_usual_and_is_told_so(
    project, tmp_path, capsys
):
    out = tmp_path / "made" / "here"
    assert main(["water", str(project), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert sorted(p.name for p in out.iterdir()) == sorted(FILES)
    assert "Emission uniformity is " in said
    for assumed in (
        "are the usual ones",
        "What the source gives is assumed",
        "Evapotranspiration is assumed",
    ):
        assert assumed in said
    assert "licensed irrigation designer" in said
    assert f"Written to {out}" in said


def test_what_is_printed_as_json_is_the_file(project, tmp_path, capsys):
    told = watered(capsys, project, "--out", tmp_path)
    assert told == json.loads((tmp_path / "water.json").read_text(encoding="utf-8"))
    assert {"uniformity", "source", "sets", "run_times", "parts", "findings"} <= set(told)
    assert watered(capsys, project) == told


def test_an_outline_is_watered_too(outline, capsys):
    assert watered(capsys, outline, "--height", "100")["vines"]["count"] > 0


def test_options_change_the_design(project, capsys):
    usual = watered(capsys, project)
    asked = ("--head", "2 bar", "--exponent", "0.5", "--sets", "2", "--source-curve", "0:60,30:50")
    found = watered(capsys, project, *asked, "--tube", "20mm", "--soil", "sand")
    assert len(found["sets"]) == 2
    assert found["sets"][0]["head_m"] == pytest.approx(20.394, abs=1e-3)
    assert found["source"]["curve_m3_h_m"] == [[0.0, 60.0], [30.0, 50.0]]
    assert not found["source"]["is_assumed"]
    drip = found["blocks"][0]["drip"]
    assert (drip["tube_mm"], drip["exponent"]) == (17.6, 0.5)
    assert usual["blocks"][0]["is_usual"]
    assert not found["blocks"][0]["is_usual"]
    # a head of 20.394 m instead of 10 m, by the square root: 1.43 times the flow
    assert found["vines"]["mean_l_h"] == pytest.approx(2 * (20.394 / 10) ** 0.5, rel=0.02)
    assert found["run_times"]["wetting_h"] < usual["run_times"]["wetting_h"]  # sand holds less


def test_what_is_asked_of_one_block_leaves_the_others(set_of, capsys):
    folder, _ = set_of("slope_two_blocks")
    found = watered(capsys, folder / "project.gpkg", "--block", "B2", "--exponent", "0.5")
    assert [b["drip"]["exponent"] for b in found["blocks"]] == [0.05, 0.5]
    assert any("one emitter exponent" in n for n in found["notes"])
    assert "B9" in refusal(capsys, folder / "project.gpkg", "--block", "B9", "--exponent", "0.5")


def test_heights_that_are_asked_for_are_used(tmp_path, capsys):
    sample = SAMPLES["slope_two_blocks"]
    lay(sample.outline, tmp_path / "flat")
    flat = watered(capsys, tmp_path / "flat" / "project.gpkg")
    heights = sample.outline.parent / "heights.tif"
    steep = watered(capsys, tmp_path / "flat" / "project.gpkg", "--terrain", heights)
    assert not flat["laterals"]["heights_known"]
    assert steep["laterals"]["heights_known"]
    assert "heights.tif" in steep["terrain"]
    assert steep["laterals"]["length_m"] > flat["laterals"]["length_m"]


def test_help_tells_every_option(capsys):
    with pytest.raises(SystemExit):
        main(["water", "--help"])
    said = capsys.readouterr().out
    assert all(f"--{option} " in said for option in WATER_OPTIONS)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--tube", "wide"), "--tube"),
        (("--head", "9999"), "--head"),
        (("--soil", "cheese"), "--soil"),
        (("--fed", "above"), "--fed"),
        (("--source-curve", "20:40:1"), "--source-curve"),
        (("--climate", "nowhere.csv"), "nowhere.csv"),
        (("--out", " "), "--out is empty"),
        (("--terrain", "nowhere.tif"), "nowhere.tif"),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_sentence(options, words, project, tmp_path, capsys):
    out = () if "--out" in options else ("--out", tmp_path / "x")
    assert words in refusal(capsys, project, *options, *out)
    assert not (tmp_path / "x").exists()


def test_a_file_in_place_of_the_folder_is_refused(project, tmp_path, capsys):
    file = tmp_path / "file"
    file.write_text("x", encoding="utf-8")
    assert "is a file" in refusal(capsys, project, "--out", file)
    assert file.read_text(encoding="utf-8") == "x"


@pytest.mark.parametrize("command", ["materials", "water"])
def test_clearances_asked_for_hold_in_every_command(command, tmp_path, capsys):
    site = ROOT / "sample_sites" / "field_with_pond"
    given = [str(site / "outline.zip"), "--exclude", str(site / "keep_clear.gpkg"), "--json"]
    vines = []
    for more in ((), ("--keep-from", "pond=25")):
        assert main([command, *given, *more]) == 0
        found = json.loads(capsys.readouterr().out)
        text = json.dumps(found)
        vines.append(text)
    assert vines[0] != vines[1]
    assert main([command, *given, "--keep-from", "dragon=3"]) == 2
    assert "dragon" in capsys.readouterr().err
