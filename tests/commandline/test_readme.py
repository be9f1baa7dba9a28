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


def test_every_option_is_in_the_table_and_none_that_is_not_there(page):
    table = [line for line in page.splitlines() if line.startswith("| `--")]
    named = set(re.findall(r"(?<![\w-])--[a-z-]+", "\n".join(table)))
    assert named == options_of("lay") - {"-h", "--help"}


def test_the_examples_of_the_table_can_be_read(page, tmp_path):
    """A value in the table that the parser or a reader refuses would mislead."""
    parser = _command_parser()
    for line in page.splitlines():
        if line.startswith("| `--"):
            first = line.split("|")[1]
            for example in re.findall(r"`(--[^`]+)`", first):
                words = shlex.split(example)
                out = [] if "--out" in words else ["--out", "y"]
                parser.parse_args(["lay", "x", *out, *words])
