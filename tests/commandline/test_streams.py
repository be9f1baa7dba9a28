"""Real processes: help, streams and status."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys

import pytest

import layoutdesk
from tests.commandline.laying import (
    ROOT,
    run,
)

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


@pytest.mark.parametrize("arguments", [["--help"], ["lay", "--help"], ["--version"]])
def test_help_and_version_are_quick_words_without_the_window(arguments):
    """Neither Qt nor any library of maps is loaded to say how the program is called."""
    heavy = ("PySide6", "geopandas", "pyproj", "pyogrio", "ezdxf", "pint")
    code = (
        "import sys\nfrom layoutdesk.commandline import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit as end:\n    status = end.code\n"
        f"print('LOADED', status, [m for m in {heavy} if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.stderr == ""
    assert done.stdout.rstrip().endswith("LOADED 0 []")
    assert ("usage: layoutdesk" in done.stdout) or (layoutdesk.__version__ in done.stdout)


def test_laying_loads_no_window(outline, tmp_path):
    code = (
        "import sys\nfrom layoutdesk.commandline import main\nstatus = main(sys.argv[1:])\n"
        "print('LOADED', status, [m for m in sys.modules if m.startswith('PySide6')])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "lay", str(outline), "--out", str(tmp_path)],
        cwd=ROOT, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.stdout.rstrip().endswith("LOADED 0 []")
    assert done.stderr == ""


def test_a_bad_option_in_a_real_process_is_status_2_and_one_line(outline, tmp_path):
    done = run("lay", outline, "--out", tmp_path / "out", "--row-spacing", "wide")
    assert (done.returncode, done.stdout) == (2, "")
    assert re.fullmatch(r"layoutdesk: --row-spacing: 'wide' is no length.*\.\n", done.stderr)
    assert not (tmp_path / "out").exists()


def test_a_console_without_degree_signs_still_works(outline, tmp_path):
    done = run("lay", outline, "--out", tmp_path, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stderr) == (0, "")
    done = run(
        "lay", outline, "--out", tmp_path, "--json", env={**os.environ, "PYTHONIOENCODING": "ascii"}
    )
    assert json.loads(done.stdout) == json.loads(
        (tmp_path / "summary.json").read_text(encoding="utf-8")
    )


def test_a_reader_that_goes_away_is_no_trouble(outline, tmp_path):
    process = subprocess.Popen(
        [sys.executable, "-m", "layoutdesk.commandline", "lay", str(outline), "--out", str(tmp_path), "--json"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    process.stdout.close()
    error = process.stderr.read()
    assert (process.wait(60), error) == (0, b"")
