"""layoutdesk compare over many parcels, for real: stopped, killed, taken up again, and what it says."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from layoutdesk.commandline import main
from layoutdesk.commandline.progress import Progress
from layoutdesk.session.parcels_parts import WORK
from tests.commandline.laying import ROOT, posix, run
from tests.parcels_made import fields, layer

N = 96
ASKED = ["--parcels", "--id", "code", "--sweep", "2", "--processes", "2"]


@pytest.fixture(scope="module")
def parcels(tmp_path_factory) -> Path:
    return layer(tmp_path_factory.mktemp("parcels") / "parcels.gpkg", N)


@pytest.fixture(scope="module")
def undisturbed(parcels, tmp_path_factory) -> dict:
    """Files of a run from beginning to end."""
    out = tmp_path_factory.mktemp("undisturbed")
    done = run("compare", parcels, "--out", out, *ASKED)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(f"{N} parcels at 90 bearings: {N * 90:,} rows.\n")
    return {p.name: p.read_bytes() for p in out.iterdir()}


def rows(out) -> list[dict]:
    with open(out / "parcels.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def begun(parcels, out, *more) -> subprocess.Popen:
    """A run in a process group of its own that has some parts done and more to do."""
    process = subprocess.Popen(
        [sys.executable, "-m", "layoutdesk.commandline", "compare", str(parcels), "--out", str(out), *ASKED, *more],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    until = time.monotonic() + 60
    while len(list((out / WORK).glob("part-??????"))) < 20:
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < until
        time.sleep(0.002)
    return process


def left_of_group(group: int) -> list[int]:
    """Processes of a group that are still at work."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                state = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(state[2]) == group and state[0] != "Z":
                found.append(int(entry.name))
    return found


@posix
def test_a_run_that_is_killed_goes_on_with_every_row_once(parcels, undisturbed, tmp_path):
    """Killed twice with no warning, at different places; the end is that of an undisturbed run."""
    out = tmp_path / "out"
    for parts in (1, 2):
        process = begun(parcels, out)
        while len(list((out / WORK).glob("part-??????"))) < 20 * parts:
            assert process.poll() is None
            time.sleep(0.002)
        process.kill()
        process.communicate()
        assert process.returncode == -signal.SIGKILL
        assert not list(out.glob("*.csv"))
    done = run("compare", parcels, "--out", out, *ASKED)
    assert (done.returncode, done.stderr) == (0, "")
    assert "kept from the run before" in done.stdout
    assert {p.name: p.read_bytes() for p in out.iterdir()} == undisturbed
    count = Counter((r["parcel"], r["bearing_deg"]) for r in rows(out))
    assert count == Counter({(f"Q{k:05d}", str(b)): 1 for k in range(N) for b in range(0, 180, 2)})


@posix
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are read from /proc")
def test_processes_of_a_killed_run_do_not_work_on(parcels, tmp_path):
    process = begun(parcels, tmp_path / "out")
    process.kill()
    process.communicate()
    until = time.monotonic() + 10
    while left_of_group(process.pid):
        assert time.monotonic() < until
        time.sleep(0.02)


@posix
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_a_run_that_is_stopped_says_how_to_go_on(parcels, undisturbed, tmp_path, how):
    """Ctrl+C reaches every process of the group; none but the first speaks."""
    out = tmp_path / "out"
    process = begun(parcels, out)
    os.killpg(process.pid, how)
    said, error = process.communicate(timeout=60)
    assert (process.returncode, said) == (130, "")
    assert error.startswith("layoutdesk: stopped with ")
    assert error.endswith(" parcels done, which are kept: give the same command again to go on.\n")
    assert error.count("\n") == 1
    done = run("compare", parcels, "--out", out, *ASKED)
    assert done.returncode == 0
    assert {p.name: p.read_bytes() for p in out.iterdir()} == undisturbed


def test_figures_are_those_of_a_comparison_of_the_parcel_alone(tmp_path):
    """Every measure that both know, the sun to what 0.1 degree of latitude makes of it."""
    made = fields(2, seed=5)
    made.to_file(tmp_path / "all.gpkg")
    rules = ["--bearings", "20,110", "--row-spacing", "2.2", "--first-row", "0.7"]
    asked = ["--parcels", "--id", "code", "--processes", "1"]
    assert (
        main(
            ["compare", str(tmp_path / "all.gpkg"), "--out", str(tmp_path / "out"), *asked, *rules]
        )
        == 0
    )
    found = iter(rows(tmp_path / "out"))
    for k in range(2):
        made.iloc[[k]].to_file(tmp_path / "one.gpkg")
        assert (
            main(["compare", str(tmp_path / "one.gpkg"), "--out", str(tmp_path / "one"), *rules])
            == 0
        )
        compared = json.loads((tmp_path / "one" / "compare.json").read_text(encoding="utf-8"))
        for candidate in compared["candidates"]:
            row = next(found)
            assert float(row["bearing_deg"]) == candidate["bearing_deg"]
            assert float(row["first_row_m"]) == pytest.approx(candidate["first_row_m"], abs=1e-4)
            for name in ("vines", "rows", "segments", "short_rows", "end_posts", "line_posts"):
                assert int(row[name]) == candidate[name], name
            measured = [
                n for n in row if n in candidate and n.endswith(("_m", "_pct", "_h", "_m2"))
            ]
            assert {"row_length_m", "sun_left_h", "sun_hot_mj_m2"} <= set(measured)
            for name in measured:
                assert float(row[name]) == pytest.approx(candidate[name], abs=0.06), name


def test_grades_and_the_sun_on_a_slope_are_those_of_the_parcel_alone(tmp_path):
    """Each block of a sloping sample as a parcel; the rows are the same, in a frame a little aside."""
    sample = ROOT / "sample_sites" / "slope_two_blocks"
    asked = ["--bearings", "36", "--terrain", str(sample / "heights.tif"), "--terrain-unit", "m"]
    asked += ["--wind-from", "300", "--end-price", "38", "--line-post-price", "9"]
    source = str(sample / "outlines.zip")
    assert main(["compare", source, "--parcels", "--out", str(tmp_path / "out"), *asked]) == 0
    for number, row in enumerate(rows(tmp_path / "out"), 1):
        one = tmp_path / str(number)
        assert main(["compare", source, "--block", f"B{number}", "--out", str(one), *asked]) == 0
        candidate = json.loads((one / "compare.json").read_text(encoding="utf-8"))["candidates"][0]
        for name in ("grade_along_max_pct", "grade_across_p95_pct", "drop_p95_m", "sun_share_pct"):
            assert float(row[name]) == pytest.approx(candidate[name], abs=0.06), name
        assert float(row["sun_hot_mj_m2"]) == pytest.approx(candidate["sun_hot_mj_m2"], abs=0.02)
        assert float(row["ground_length_m"]) > float(row["row_length_m"])
        assert float(row["wind_angle_deg"]) == 84.0
        assert float(row["posts_cost"]) == pytest.approx(
            38 * int(row["end_posts"]) + 9 * int(row["line_posts"])
        )


def test_a_parcel_without_heights_has_empty_places_for_grades(tmp_path):
    heights = ROOT / "sample_sites" / "slope_two_blocks" / "heights.tif"
    fields(1).to_file(tmp_path / "far.gpkg")
    asked = ["--parcels", "--bearings", "36", "--terrain", str(heights), "--terrain-unit", "m"]
    assert (
        main(["compare", str(tmp_path / "far.gpkg"), "--out", str(tmp_path / "out"), *asked]) == 0
    )
    row = rows(tmp_path / "out")[0]
    assert int(row["vines"]) > 0
    assert {row[n] for n in row if n.startswith(("grade_", "drop_", "steep_"))} == {""}
    facts = json.loads((tmp_path / "out" / "parcels.json").read_text(encoding="utf-8"))
    assert facts["findings"]["counts"] == {"terrain-unread": 1}


def test_a_folder_needs_no_further_word(tmp_path, capsys):
    for k in range(2):
        fields(2).iloc[[k]].to_file(tmp_path / f"field-{k}.gpkg")
    out = tmp_path / "out"
    assert (
        main(
            [
                "compare",
                str(tmp_path),
                "--sweep",
                "90",
                "--out",
                str(out),
                "--processes",
                "1",
                "--json",
            ]
        )
        == 0
    )
    facts = json.loads(capsys.readouterr().out)
    assert facts["counts"]["parcels"] == 2
    assert [r["parcel"] for r in rows(out)] == ["field-0"] * 2 + ["field-1"] * 2


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--sweep", "45"], "--out is missing: give the folder"),
        (["--out", "OUT"], "Nothing is said to compare: give --sweep 1"),
        (["--out", "OUT", "--sweep", "45", "--bearing", "3"], "--bearing gives one bearing"),
        (["--out", "OUT", "--bearings", "3 grid"], "parcels have no one grid"),
        (["--out", "OUT", "--sweep", "45", "--block", "B1"], "--block is for one site"),
        (["--out", "OUT", "--sweep", "45", "--chosen", "vines"], "--chosen is for a comparison"),
        (["--out", "OUT", "--sweep", "45", "--candidate", "30"], "--candidate is for one site"),
        (["--out", "OUT", "--sweep", "45", "--processes", "none"], "--processes 'none' is no number"),
        (["--out", "OUT", "--sweep", "45", "--row-spacing", "90"], "--row-spacing: 90.0 is outside"),
        (["--out", "OUT", "--sweep", "45", "--id", "nr"], "--id 'nr' is no field of parcels.gpkg"),
        (["--out", "OUT", "--sweep", "45", "--survey-crs", "EPSG:2154"], "--survey-crs is for stake-out"),
        (["--out", "OUT", "--sweep", "45", "--keep-from", "pond=5"], "there is no exclusion"),
    ],
)  # fmt: skip
def test_wrong_usage_is_one_sentence_and_leaves_nothing(parcels, tmp_path, capsys, more, said):
    out = tmp_path / "out"
    more = [str(out) if m == "OUT" else m for m in more]
    assert main(["compare", str(parcels), "--parcels", *more]) == 2
    error = capsys.readouterr().err
    assert error.startswith("layoutdesk: ")
    assert said in error
    assert error.count("\n") == 1
    assert not out.exists()


def test_other_options_are_refused_by_name(parcels, tmp_path):
    out = tmp_path / "out"
    process = begun(parcels, out)
    process.kill()
    process.communicate()
    done = run("compare", parcels, "--out", out, *ASKED, "--row-spacing", "2.2")
    assert done.returncode == 2
    assert "rules.row_spacing_m 2.4, now 2.2" in done.stderr
    assert "--anew" in done.stderr


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_the_bar_is_for_terminals_and_others_are_told_only_if_they_ask():
    for stream, asked, told in (
        (io.StringIO(), False, 0),
        (io.StringIO(), True, 2),
        (Terminal(), False, 2),
    ):
        bar = Progress("parcels", asked, stream)
        for done in (0, 10, 20):
            bar.show(done, 20, ended=done == 20)
        text = stream.getvalue()
        assert text.count("parcels") == told
        assert text.endswith("\n") == bool(told)
        assert text.count("\r") == (2 if isinstance(stream, Terminal) else 0)


def test_a_sentence_finds_the_line_of_the_bar_empty():
    stream = Terminal()
    bar = Progress("parcels", False, stream)
    bar.show(5, 20)
    bar.clear()
    assert not stream.getvalue().rstrip("\r").rpartition("\r")[2].strip()
