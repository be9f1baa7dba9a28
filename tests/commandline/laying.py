"""The command line called in process and for real, and what it wrote read back."""

from __future__ import annotations

import csv
import json
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest

import layoutdesk
from layoutdesk.commandline import main
from layoutdesk.formats.project_file import open_project
from layoutdesk.session.samples import samples

ROOT = Path(layoutdesk.__file__).parents[1]
SAMPLES = {s.name: s for s in samples()}
FILES = ["about.txt", "project.gpkg", "stakes.csv", "stakes.dxf", "stakes.geojson", "summary.json"]
KINDS = {"vine": "V", "line_post": "L", "end_post": "E", "anchor": "A"}


def lay(source, out, *options) -> dict:
    """The summary of a layout that must succeed."""
    assert main(["lay", str(source), "--out", str(out), *map(str, options)]) == 0
    return json.loads((out / "summary.json").read_text(encoding="utf-8"))


def rules_of(out):
    return open_project(out / "project.gpkg").blocks[0].rules


def table(out) -> list[dict]:
    with open(out / "stakes.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def features(out) -> list[dict]:
    return json.loads((out / "stakes.geojson").read_text(encoding="utf-8"))["features"]


def entities(out) -> bytes:
    """What is drawn; the head of a drawing holds the time it was made."""
    head, _, drawn = (out / "stakes.dxf").read_bytes().partition(b"\nENTITIES\n")
    assert head
    return drawn.partition(b"\nENDSEC\n")[0]


def run(*arguments, **how):
    """A real process."""
    return subprocess.run(
        [sys.executable, "-m", "layoutdesk.commandline", *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        **how,
    )


def distance_m(out, a, b) -> float:
    """Between two stakes on the survey grid."""
    at = {row["description"]: (float(row["easting"]), float(row["northing"])) for row in table(out)}
    return math.dist(at[a], at[b])


each_sample = pytest.mark.parametrize("name", SAMPLES)


posix = pytest.mark.skipif(os.name != "posix", reason="signals as on POSIX")
