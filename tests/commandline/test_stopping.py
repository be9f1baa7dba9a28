"""Runs that are stopped, killed or find no room."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import geopandas
import pytest
import shapely

from tests.commandline.laying import FILES, ROOT, lay, posix, rules_of, run

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


@pytest.fixture(scope="module")
def big_field(tmp_path_factory) -> Path:
    """150 ha with some 400,000 vines: its set takes seconds to write."""
    path = tmp_path_factory.mktemp("big") / "big.gpkg"
    box = shapely.box(288_000, 6_180_000, 289_200, 6_181_250)
    geopandas.GeoDataFrame(geometry=[box], crs="EPSG:32754").to_file(path)
    return path


def stopped_amid(source, out, how, beyond: str):
    """A run that got a signal once the file `beyond` was being written."""
    process = subprocess.Popen(
        [sys.executable, "-m", "layoutdesk.commandline", "lay", str(source), "--out", str(out)],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    until = time.monotonic() + 60
    while process.poll() is None and not list(out.glob(f".layoutdesk-*/{beyond}")):
        assert time.monotonic() < until
        time.sleep(0.002)
    process.send_signal(how)
    said, error = process.communicate(timeout=60)
    return process.returncode, said, error


@posix
@pytest.mark.parametrize("beyond", ["stakes.csv", "stakes.dxf", "project.gpkg"])
def test_a_kill_leaves_the_old_set_whole_and_the_next_run_clears_up(
    outline, big_field, tmp_path, beyond
):
    lay(outline, tmp_path)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    status, _, _ = stopped_amid(big_field, tmp_path, signal.SIGKILL, beyond)
    assert status == -signal.SIGKILL
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.is_file()} == before
    assert list(tmp_path.glob(".layoutdesk-*"))
    lay(outline, tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == FILES
    assert (tmp_path / "stakes.csv").read_bytes() == before["stakes.csv"]


@posix
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("old", [True, False])
def test_a_run_that_is_stopped_says_so_and_leaves_nothing(outline, big_field, tmp_path, how, old):
    out = tmp_path / "out"
    if old:
        lay(outline, out)
    before = {p.name: p.read_bytes() for p in out.glob("*")}
    status, said, error = stopped_amid(big_field, out, how, "stakes.geojson")
    assert (status, said) == (130, "")
    assert error == "layoutdesk: stopped; what was there before is unchanged.\n"
    assert out.exists() == old
    assert {p.name: p.read_bytes() for p in out.glob("*")} == before
    assert not list(out.glob(".*"))


@posix
def test_a_disk_without_room_is_one_sentence(outline, tmp_path):
    """A limit on file size is met as a full disk is."""
    import resource

    done = run(
        "lay", outline, "--out", tmp_path / "out",
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000)),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        f"layoutdesk: {tmp_path / 'out'} cannot be written (file too large): choose another place.\n"
    )
    assert not (tmp_path / "out").exists()


@posix
@pytest.mark.parametrize("file", ["stakes.dxf"])
def test_a_disk_that_fills_with_the_last_bytes_is_said(outline, tmp_path, file):
    """A full disk is first met by a write that is shorter than asked."""
    import resource

    lay(outline, tmp_path / "whole")
    # The times in a drawing's head have more or fewer digits from run to run.
    limit = (tmp_path / "whole" / file).stat().st_size - 200
    assert limit > max((tmp_path / "whole" / f).stat().st_size for f in FILES if f != file)
    done = run(
        "lay", outline, "--out", tmp_path / "out",
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit)),
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert "cannot be written (file too large)" in done.stderr
    assert not (tmp_path / "out").exists()


def test_two_runs_into_one_folder_leave_one_whole_set(outline, tmp_path):
    """Each lays another bearing; whichever ends last, all files are of the same run."""
    runs = [
        subprocess.Popen(
            [sys.executable, "-m", "layoutdesk.commandline", "lay", str(outline), "--out", str(tmp_path), "--bearing", bearing],
            cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for bearing in ("3", "40")
    ]  # fmt: skip
    assert [(*run.communicate(timeout=60)[1:], run.returncode) for run in runs] == [("", 0)] * 2
    assert sorted(p.name for p in tmp_path.iterdir()) == FILES
    left = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    bearing = rules_of(tmp_path).bearing_deg
    lay(outline, tmp_path / "again", "--bearing", bearing)
    for name in ("stakes.csv", "stakes.geojson", "summary.json"):
        assert (tmp_path / "again" / name).read_bytes() == left[name], name
