"""layoutdesk materials: the counts of `lay`, files, differences, own prices, one sentence for bad input."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import openpyxl
import pytest

from layoutdesk.commandline import main
from layoutdesk.core.model import Materials
from layoutdesk.core.model.trellis import Trellis
from layoutdesk.formats.project_file import open_project, save_project
from tests.commandline.laying import ROOT, SAMPLES, lay

FILES = ["orders.pdf", "takeoff.csv", "takeoff.xlsx"]


def taken(capsys, source, *options) -> dict:
    """What --json prints of a take-off that must succeed."""
    capsys.readouterr()
    assert main(["materials", str(source), "--json", "--no-water", *map(str, options)]) == 0
    return json.loads(capsys.readouterr().out)


def refusal(capsys, *arguments) -> str:
    """The one sentence with which a command is refused."""
    capsys.readouterr()
    assert main(["materials", *map(str, arguments)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    (sentence,) = said.err.splitlines()
    assert sentence.startswith("layoutdesk: ")
    return sentence


def with_trellis(project, tmp_path, trellis: Trellis):
    """The project again, with this trellis in all its blocks."""
    opened = open_project(project)
    known = Materials(tuple((b.name, trellis) for b in opened.blocks), currency="EUR")
    path = tmp_path / "trellis.gpkg"
    save_project(path, replace(opened, materials=known))
    return path


@pytest.mark.parametrize("name", SAMPLES)
def test_counts_are_those_that_lay_stakes_out(name, set_of, tmp_path, capsys):
    folder, laid = set_of(name)
    found = taken(capsys, folder / "project.gpkg")
    items = found["items"]
    assert items.get("line_posts", 0) == laid["line_posts"]
    assert items["end_posts"] == laid["end_posts"]
    assert items["training_stakes"] == found["vines"] == laid["vines"]
    assert [b["block"] for b in found["blocks"]] == [b["block"] for b in laid["blocks"]]
    assert found["lengths"]["row_length_in_plan_m"] == pytest.approx(laid["row_length_m"], rel=1e-9)


def test_a_project_without_a_trellis_gets_the_usual_one_and_all_files(project, tmp_path, capsys):
    out = tmp_path / "made" / "here"
    assert main(["materials", str(project), "--out", str(out), "--no-water"]) == 0
    said = capsys.readouterr().out
    assert sorted(p.name for p in out.iterdir()) == FILES
    assert "Counted by geometry, row by row" in said
    assert "theoretical density" in said
    assert "rolls of" in said
    assert f"Written to {out}" in said
    with (out / "takeoff.csv").open(newline="", encoding="utf-8") as file:
        levels = {r["level"] for r in csv.DictReader(file)}
    assert levels == {"order", "site", "per_hectare", "block", "row"}
    assert "Rules" in openpyxl.load_workbook(out / "takeoff.xlsx").sheetnames


def test_an_outline_is_taken_off_too(outline, capsys):
    found = taken(capsys, outline, "--height", "100")
    assert found["items"]["end_posts"] > 0
    assert found["orders"][0]["order"] > 0


def test_differences_are_from_the_other_project(project, tmp_path, capsys):
    shorter = tmp_path / "wider"
    lay(project, shorter, "--row-spacing", "3")
    before = taken(capsys, project)
    found = taken(capsys, shorter / "project.gpkg", "--against", project)
    more = {c["item"]: c["more"] for c in found["changes"]}
    for item in ("end_posts", "line_posts", "training_stakes"):
        assert more[item] == found["items"][item] - before["items"][item] < 0
    assert "project.gpkg" in found["changed_from"]
    assert main(["materials", str(project), "--no-water", "--against", str(project)]) == 0
    assert "nothing has changed" in capsys.readouterr().out


def test_pipes_and_fittings_are_ordered_with_the_rest_and_said_to_be_assumed(
    project, tmp_path, capsys
):
    capsys.readouterr()
    assert main(["materials", str(project), "--json", "--against", str(project)]) == 0
    found = json.loads(capsys.readouterr().out)
    ordered = {o["item"]: o for o in found["orders"] if o["supplier"] == "water"}
    assert ordered["valves"]["counted"] == sum(
        p["amount"] for p in found["water_parts"] if p["item"] == "valves"
    )
    assert ordered["emitters"]["counted"] == found["vines"]  # one a vine, as usual
    assert any("says nothing of its water" in note for note in found["notes"])
    assert any("irrigation designer" in caution for caution in found["cautions"])
    assert not [c for c in found["changes"] if c["more"]]  # the same project, pipes and all
    without = {o["item"] for o in taken(capsys, project)["orders"]}
    assert without < {o["item"] for o in found["orders"]}
    assert not without & {"valves", "pipe_m", "emitters"}


def test_prices_written_into_the_template_are_read_back_and_added_up(project, tmp_path, capsys):
    template = tmp_path / "items.csv"
    found = taken(capsys, project, "--template", template)
    assert found["totals"]["price"] is None
    with template.open(newline="", encoding="utf-8") as file:
        header, *rows = csv.reader(file)
    at = header.index("price")
    for k, row in enumerate(rows):
        row[at] = str(10 + k)
    with template.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([header, *rows])
    priced = taken(capsys, project, "--supplies", template)
    assert priced["totals"]["lines_without_price"] == 0
    assert [o["order"] for o in priced["orders"]] == [o["order"] for o in found["orders"]]
    assert priced["totals"]["price"] == pytest.approx(
        sum(o["order"] * o["sold"]["price"] for o in priced["orders"])
    )
    assert sorted(o["sold"]["price"] for o in priced["orders"]) == [
        10 + k for k in range(len(rows))
    ]


def test_the_trellis_of_the_project_is_counted_and_joins_stay_within_what_it_allows(
    project, tmp_path, capsys
):
    braced = with_trellis(project, tmp_path, Trellis(ends="braced inside", joins_allowed=0))
    found = taken(capsys, braced)
    assert "anchors" not in found["items"]
    assert found["items"]["braces"] == found["items"]["end_posts"]
    cuts = [o["cutting"] for o in found["orders"] if "cutting" in o]
    assert cuts
    assert all(c["most_joins_in_one"] == 0 and c["fewest_rolls"] <= c["rolls"] for c in cuts)
    assert any("anchors" in f["message"] for f in found["findings"])


@pytest.mark.parametrize("option", ["--out", "--against", "--supplies", "--template"])
def test_an_empty_option_is_refused(option, project, capsys):
    assert f"{option} is empty" in refusal(capsys, project, option, " ")


def test_what_cannot_be_read_is_refused_in_one_sentence(project, tmp_path, capsys):
    refusal(capsys, tmp_path / "nowhere.gpkg")
    refusal(capsys, project, "--against", tmp_path / "nowhere.gpkg")
    refusal(capsys, project, "--supplies", tmp_path / "nowhere.csv")
    refusal(capsys, project, "--terrain", tmp_path / "nowhere.tif")
    wrong = tmp_path / "items.csv"
    wrong.write_text("item,price\nmoon_posts,4\n", encoding="utf-8")
    assert "items.csv" in refusal(capsys, project, "--supplies", wrong)
    file = tmp_path / "file"
    file.write_text("x", encoding="utf-8")
    assert "is a file" in refusal(capsys, project, "--out", file)


def test_an_item_list_that_cannot_be_written_leaves_the_set_as_it_was(tmp_path, capsys):
    outline = ROOT / "sample_sites" / "field_with_pond" / "outline.zip"
    out = tmp_path / "set"
    assert main(["materials", str(outline), "--out", str(out)]) == 0
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    for name in ("no/such/items.csv", "takeoff.csv"):
        path = tmp_path / name if "/" in name else out / name
        asked = ["materials", str(outline), "--height", "90", "--out", str(out), "--template"]
        assert main([*asked, str(path)]) == 2
        assert {p.name: p.read_bytes() for p in out.iterdir()} == before
