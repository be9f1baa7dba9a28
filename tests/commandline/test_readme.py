"""What the README says of the command line holds word for word."""

from __future__ import annotations

import argparse
import json
import re
import shlex

import pytest

from layoutdesk.commandline import _command_parser, main
from tests.commandline.laying import ROOT

PROGRAM = ".venv/bin/layoutdesk"


@pytest.fixture(scope="module")
def page() -> str:
    path = ROOT / "README.md"
    if not path.is_file():
        pytest.skip("installed without its README")
    return path.read_text(encoding="utf-8")


def examples(page) -> list[list[str]]:
    block = re.search(r"<!-- examples -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    return [shlex.split(line) for line in block.splitlines()]


def test_the_examples_run_as_they_stand(page, tmp_path, monkeypatch, capsys):
    (tmp_path / "sample_sites").symlink_to(ROOT / "sample_sites")
    monkeypatch.chdir(tmp_path)
    commands = examples(page)
    assert len(commands) >= 3
    for program, *arguments in commands:
        assert program == PROGRAM
        assert main(arguments) == 0, capsys.readouterr().err
        out = arguments[arguments.index("--out") + 1]
        assert json.loads((tmp_path / out / "summary.json").read_text())["vines"] > 1000


def test_the_command_of_the_start_runs_too(page, tmp_path, monkeypatch):
    (tmp_path / "sample_sites").symlink_to(ROOT / "sample_sites")
    monkeypatch.chdir(tmp_path)
    command = re.search(r"<!-- run -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    (lay,) = (c for c in map(str.strip, command.split("&&")) if c.startswith(f"{PROGRAM} lay"))
    assert main(shlex.split(lay)[1:]) == 0
    assert (tmp_path / "stake-out" / "project.gpkg").is_file()


def options_of(name: str) -> set[str]:
    parser = _command_parser()
    (commands,) = (a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    return {o for action in commands.choices[name]._actions for o in action.option_strings}


def tables(page) -> dict[str, list[str]]:
    """Lines of the table of options, by command."""
    laid, _, after = page.partition("### Comparing row orientations")
    compared, _, after = after.partition("### Materials")
    ordered, _, _ = after.partition("### Water")
    return {
        name: [line for line in part.splitlines() if line.startswith("| `--")]
        for name, part in (("lay", laid), ("compare", compared), ("materials", ordered))
    }


def test_every_option_is_in_a_table_and_none_that_is_not_there(page):
    named = {
        name: set(re.findall(r"(?<![\w-])--[a-z-]+", "\n".join(table)))
        for name, table in tables(page).items()
    }
    assert named["lay"] == options_of("lay") - {"-h", "--help"}
    assert named["compare"] - named["lay"] == options_of("compare") - options_of("lay")
    assert named["materials"] - named["lay"] == options_of("materials") - options_of("lay")


def test_options_named_for_water_are_there(page):
    part = page.partition("### Water")[2].partition("### Planting")[0]
    named = set(re.findall(r"(?<![\w-])--[a-z-]+", part))
    assert {"--tube", "--source-curve", "--climate"} <= named <= options_of("water")


def test_materials_and_water_run_as_they_stand(page, tmp_path, monkeypatch, capsys):
    (tmp_path / "sample_sites").symlink_to(ROOT / "sample_sites")
    monkeypatch.chdir(tmp_path)
    start = re.search(r"<!-- run -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    (lay,) = (c for c in map(str.strip, start.split("&&")) if c.startswith(f"{PROGRAM} lay"))
    assert main(shlex.split(lay)[1:]) == 0
    block = re.search(r"<!-- materials -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    for program, *arguments in map(shlex.split, block.splitlines()):
        assert program == PROGRAM
        assert main(arguments) == 0, capsys.readouterr().err
    assert {p.name for p in (tmp_path / "ordered").iterdir()} == {
        "takeoff.csv",
        "takeoff.xlsx",
        "orders.pdf",
    }
    assert {p.name for p in (tmp_path / "watered").iterdir()} == {
        "emitters.csv",
        "laterals.csv",
        "sets.csv",
        "network.inp",
        "irrigation.pdf",
        "water.json",
    }


def test_planting_runs_as_it_stands(page, tmp_path, monkeypatch, capsys):
    (tmp_path / "sample_sites").symlink_to(ROOT / "sample_sites")
    monkeypatch.chdir(tmp_path)
    start = re.search(r"<!-- run -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    (lay,) = (c for c in map(str.strip, start.split("&&")) if c.startswith(f"{PROGRAM} lay"))
    assert main(shlex.split(lay)[1:]) == 0
    block = re.search(r"<!-- planting -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    for program, *arguments in map(shlex.split, block.splitlines()):
        assert program == PROGRAM
        capsys.readouterr()
        assert main(arguments) == 0, capsys.readouterr().err
    assert "lot 25-A" in capsys.readouterr().out, "the last one tells a vine's history"
    assert {
        "plan-sheet.pdf", "row-table.csv", "lots.csv", "day-cards.pdf", "inspection.csv", "calendar.ics",
        "first-years.xlsx", "planting.json",
    } <= {p.name for p in (tmp_path / "planting").iterdir()}  # fmt: skip


def test_a_hand_off_and_the_way_back_run_as_they_stand(page, tmp_path, monkeypatch, capsys):
    (tmp_path / "sample_sites").symlink_to(ROOT / "sample_sites")
    monkeypatch.chdir(tmp_path)
    start = re.search(r"<!-- run -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    (lay,) = (c for c in map(str.strip, start.split("&&")) if c.startswith(f"{PROGRAM} lay"))
    assert main(shlex.split(lay)[1:]) == 0
    block = re.search(r"<!-- hand-off -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    told = []
    for program, *arguments in map(shlex.split, block.splitlines()):
        assert program == PROGRAM
        capsys.readouterr()
        assert main(arguments) == 0, capsys.readouterr().err
        told.append(capsys.readouterr().out)
    assert "It matches the plan." in told[1]
    assert "two rows swapped: B1-R041A and B1-R042A" in told[2]
    assert {
        "points.csv",
        "plan.dxf",
        "plan.xml",
        "plan.kmz",
        "taskdata.zip",
        "hand-off.pdf",
        "hand-off.json",
    } == {p.name for p in (tmp_path / "handed-off").iterdir()}


def test_a_comparison_runs_as_it_stands(page, tmp_path, monkeypatch, capsys):
    (tmp_path / "sample_sites").symlink_to(ROOT / "sample_sites")
    monkeypatch.chdir(tmp_path)
    block = re.search(r"<!-- comparisons -->\n```sh\n(.*?)```", page, re.DOTALL)[1]
    for program, *arguments in map(shlex.split, block.splitlines()):
        assert program == PROGRAM
        assert main(arguments) == 0, capsys.readouterr().err
        found = json.loads((tmp_path / "compared" / "compare.json").read_text())
        assert len(found["candidates"]) == 4
        assert all(c["grade_across_p95_pct"] > 0 for c in found["candidates"])


def test_the_examples_of_the_tables_can_be_read(page, tmp_path):
    """A value in a table that the parser or a reader refuses would mislead."""
    parser = _command_parser()
    for command, table in tables(page).items():
        for line in table:
            first = line.split("|")[1]
            for example in re.findall(r"`(--[^`]+)`", first):
                words = shlex.split(example)
                out = [] if "--out" in words else ["--out", "y"]
                parser.parse_args([command, "x", *out, *words])
