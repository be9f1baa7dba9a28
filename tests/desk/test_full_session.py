"""A whole session at the real window, killed twice: nothing that was done is lost."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MOST_S = 40.0
"""So long a phase may take before it is given up. [s]"""

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="journal and settings are set apart by XDG folders"
)


@pytest.fixture
def screen():
    """Environment of a screen: a free X display where there is Xvfb and Qt can use it."""
    xvfb = shutil.which("Xvfb")
    if xvfb is None or not _xcb_loads():
        yield {"QT_QPA_PLATFORM": "offscreen"}
        return
    out, into = os.pipe()
    server = subprocess.Popen(
        [xvfb, "-displayfd", str(into), "-screen", "0", "1440x900x24", "-nolisten", "tcp"],
        pass_fds=(into,),
        stderr=subprocess.DEVNULL,
    )
    os.close(into)
    try:
        with os.fdopen(out) as told:
            display = told.readline().strip()
        assert display, "Xvfb says its display"
        yield {"QT_QPA_PLATFORM": "xcb", "DISPLAY": f":{display}"}
    finally:
        server.kill()
        server.wait()


def _xcb_loads() -> bool:
    """Whether every library that Qt's plugin for X wants is there."""
    from PySide6.QtCore import QLibraryInfo

    folder = QLibraryInfo.path(QLibraryInfo.LibraryPath.PluginsPath)
    plugin = Path(folder) / "platforms" / "libqxcb.so"
    code = f"import ctypes, PySide6.QtGui; ctypes.CDLL({str(plugin)!r})"
    return not subprocess.run([sys.executable, "-c", code], capture_output=True).returncode


class Process:
    """A process with the program in it, in folders of the test's own."""

    def __init__(self, phase: str, folder: Path, screen: dict[str, str]):
        own = {
            "XDG_STATE_HOME": str(folder / "state"),
            "XDG_CONFIG_HOME": str(folder / "config"),
            "XDG_RUNTIME_DIR": str(folder / "runtime"),
            "PYTHONUNBUFFERED": "1",
        }
        (folder / "runtime").mkdir(mode=0o700, exist_ok=True)
        self.phase, self.said = phase, {}
        self.log = folder / f"{phase}.log"
        with self.log.open("a") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "tests.desk.session_script", phase, str(folder)],
                cwd=ROOT,
                env={**os.environ, **own, **screen},
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
            )
        self._listen()

    def _listen(self) -> None:
        """Take down what it says until it is done."""
        late = threading.Timer(MOST_S, self._process.kill)
        late.start()
        try:
            for line in self._process.stdout:
                word, _, value = line.partition(" = ")
                if line.strip() == "done":
                    return
                if value:
                    self.said[word] = json.loads(value)
        finally:
            late.cancel()
        self.kill()
        raise AssertionError(f"{self.phase} failed after {self.said}:\n{self.log.read_text()}")

    def kill(self) -> None:
        """End it as a power cut would."""
        self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        self._process.stdout.close()

    def ended(self) -> int:
        """Its exit code, after it ended by itself."""
        code = self._process.wait(20)
        self._process.stdout.close()
        return code


@pytest.fixture
def phase(tmp_path, screen):
    """Starts a process for a phase and waits until it has done it."""
    begun: list[Process] = []

    def start(name: str) -> Process:
        begun.append(Process(name, tmp_path, screen))
        return begun[-1]

    yield start
    for process in begun:
        if process._process.poll() is None:
            process.kill()


def points(path: Path) -> Counter:
    """How many points of each letter (V, E, L, A) the codes of a stakes.csv tell."""
    with path.open(encoding="utf-8", newline="") as file:
        return Counter(row["description"].split("-")[2][0] for row in csv.DictReader(file))


def test_a_session_killed_twice_is_taken_up_and_handed_off(phase, screen, tmp_path):
    first = phase("begin")
    assert first.said["platform"] == screen["QT_QPA_PLATFORM"]
    assert first.said["hectares"] == pytest.approx(3.0, abs=0.1)
    assert first.said["corner moved"] == "corner"
    assert first.said["exclusions"] == [["pole", 2.0]]
    assert first.said["rules"] == pytest.approx([2.6, 1.4, 27 * 0.3048])
    assert first.said["numbering"][0] == 101
    assert first.said["picked"] == "vine"
    assert first.said["vines fewer"] == 1
    assert first.said["revision"] != first.said["saved"]
    assert first.said["state"].startswith("not saved")
    first.kill()
    left = tmp_path / "state" / "layoutdesk" / "unsaved"
    assert len(list(left.glob("*.gpkg"))) == 1

    second = phase("go-on")
    assert second.said["offered"] == "Go on with lower terrace"
    assert second.said["revision"] == first.said["revision"]
    assert second.said["tally"] == first.said["tally"]
    assert second.said["state"].startswith("not saved")
    second.kill()

    third = phase("hand-off")
    assert third.said["revision"] == first.said["revision"]
    assert third.said["state"] == "saved"
    assert third.ended() == 0
    assert not list(left.glob("*")), "a session that ended well leaves nothing behind"

    vines, _, end_posts = third.said["tally"]
    written = points(tmp_path / "set" / "stakes.csv")
    assert (written["V"], written["E"]) == (vines, end_posts)
    summary = json.loads((tmp_path / "set" / "summary.json").read_text())
    assert (summary["vines"], summary["end_posts"]) == (vines, end_posts)
    assert summary["revision"] == first.said["revision"]
    assert f"{sum(written.values()):,} points".replace(",", "\u202f") in third.said["preview"]

    again = tmp_path / "again"
    subprocess.run(
        [
            sys.executable,
            "-m",
            "layoutdesk.commandline",
            "lay",
            str(tmp_path / "lower terrace.gpkg"),
        ]
        + ["--out", str(again)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    by_window = (tmp_path / "set" / "stakes.csv").read_bytes()
    assert (again / "stakes.csv").read_bytes() == by_window
