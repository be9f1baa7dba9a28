"""A window with settings of its own, and guards: what a test leaves behind fails it by name."""

from __future__ import annotations

import datetime
import gc
import json
import threading
from pathlib import Path

import pytest
import shiboken6
from PySide6.QtCore import QEvent, QSettings, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from layoutdesk.core.model import RowRules
from layoutdesk.desk.start import make_application
from layoutdesk.desk.window import DeskWindow
from layoutdesk.session.opening import project_from_outline
from tests.desk.compare_hands import Key, add, counted
from tests.desk.hands import CTRL, bury, notices, rest

HERE = Path(__file__).parent
UTM = "EPSG:32754"


def pytest_collection_modifyitems(items):
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.qt_log_level_fail("WARNING"))
            # what the offscreen platform says of every menu that pops up
            item.add_marker(pytest.mark.qt_log_ignore("This plugin does not support"))


def running_timers() -> list[QTimer]:
    """Every QTimer known to Python that still runs."""
    timers = [t for t in gc.get_objects() if type(t) is QTimer]
    return [t for t in timers if shiboken6.isValid(t) and t.isActive()]


def leftovers(before: frozenset[int] = frozenset()) -> list[str]:
    """Names of threads, running timers and top-level widgets that are still there."""
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    left = [f"thread {t.name!r}" for t in threading.enumerate() if t.name.startswith("layoutdesk ")]
    for timer in running_timers():
        owner = type(timer.parent()).__name__ if timer.parent() else "nobody"
        left.append(f"timer of {timer.interval()} ms that belongs to {owner}")
    for widget in QApplication.topLevelWidgets():
        if id(widget) not in before:
            name = widget.objectName() or widget.windowTitle() or "no name"
            left.append(f"top-level {type(widget).__name__} ({name})")
    return left


@pytest.fixture(name="leftovers")
def _leftovers():
    return leftovers


@pytest.fixture(scope="session")
def application(qapp):
    return make_application()


@pytest.fixture(autouse=True)
def nothing_left(application):
    """Fails a test that leaves a thread, a timer or a window, and says which."""
    before = frozenset(map(id, QApplication.topLevelWidgets()))
    gc.freeze()  # what was there before is not this test's, and need not be looked through again
    yield
    left = leftovers(before)
    for timer in running_timers() if left else ():  # so that the next test is not blamed
        timer.stop()
    for widget in QApplication.topLevelWidgets():
        if id(widget) not in before:
            bury(widget)
    assert not left, f"left behind: {', '.join(left)}"


class Asked:
    """What the window asked that stops everything, and what it is answered.

    A question that no test gave an answer to is answered with "Go back" and is in `questions`.
    """

    def __init__(self):
        self.questions: list[str] = []
        self.answers: list[tuple[str, ...]] = []
        self.answer = ""
        self.path = ""
        self.paths: list[str] = []
        self.starts: list[Path] = []

    def decide(self, parent, title, sentence, answers, back):
        """Stands for `telling.decide`: answers with a key, "" for going back."""
        self.questions.append(f"{title} {sentence}".strip())
        self.answers.append((*(words for _, words in answers), back))
        return self.answer

    def chosen_path(self, window, title, start, kinds="", *, what="open"):
        """Stands for the file dialog: `paths` one after another, then `path`."""
        self.starts.append(Path(start))
        text = self.paths.pop(0) if self.paths else self.path
        return Path(text) if text else None


@pytest.fixture
def asked(monkeypatch):
    asked = Asked()
    monkeypatch.setattr("layoutdesk.desk.telling.decide", asked.decide)
    monkeypatch.setattr("layoutdesk.desk.choosing.chosen_path", asked.chosen_path)
    for name in ("getOpenFileName", "getSaveFileName"):
        monkeypatch.setattr(QFileDialog, name, lambda *a, **k: (asked.path, ""))
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *a, **k: asked.path)
    return asked


@pytest.fixture
def settings(tmp_path):
    """The program's settings in a file of the test's own."""
    settings = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    settings.setValue("theme", "paper")
    return settings


@pytest.fixture
def window(nothing_left, asked, settings, qtbot):
    """The window with no site, shown and active, 1280×800."""
    window = DeskWindow(settings)
    window.resize(1280, 800)
    window.show()
    window.activateWindow()
    qtbot.waitActive(window)
    yield window
    if not shiboken6.isValid(window):
        return
    notices(window)
    if window.document is not None:  # closing is not to ask
        window.document.mark_saved(window.document.path, window.document.project)
    bury(window)


def _outline(path: Path, *rings) -> Path:
    """A GeoPackage-free outline file: polygons on UTM as an old-style GeoJSON."""
    features = [
        {
            "type": "Feature",
            "properties": {},
            "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
        }
        for ring in rings
    ]
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32754"}}
    path.write_text(
        json.dumps({"type": "FeatureCollection", "crs": crs, "features": features}),
        encoding="utf-8",
    )
    return path


def _box(east: float, north: float, wide: float, high: float):
    e, n = 500_000 + east, 6_100_000 + north
    return [(e, n), (e + wide, n + 10), (e + wide - 5, n + high), (e + 8, n + high - 12)]


@pytest.fixture(scope="session")
def outline_file(tmp_path_factory) -> Path:
    """One block of 2 ha."""
    return _outline(tmp_path_factory.mktemp("outline") / "paddock.geojson", _box(0, 0, 120, 170))


@pytest.fixture(scope="session")
def two_outlines_file(tmp_path_factory) -> Path:
    """Two blocks side by side."""
    folder = tmp_path_factory.mktemp("outlines")
    return _outline(folder / "pair.geojson", _box(0, 0, 120, 170), _box(160, 0, 90, 150))


@pytest.fixture
def no_crs_file(tmp_path) -> Path:
    """Corners in metres of no stated grid."""
    path = tmp_path / "corners.csv"
    rows = "\n".join(f"{e},{n}" for e, n in _box(0, 0, 120, 170))
    path.write_text(f"easting,northing\n{rows}\n", encoding="utf-8")
    return path


RULES = RowRules(bearing_deg=10.0)


@pytest.fixture(scope="session")
def small_project(outline_file):
    """The block of 2 ha with plain rules, on a fixed day."""
    return project_from_outline(
        outline_file, height_m=100.0, rules=RULES, day=datetime.date(2026, 5, 1)
    )


@pytest.fixture(scope="session")
def two_block_project(two_outlines_file):
    return project_from_outline(
        two_outlines_file, height_m=100.0, rules=RULES, day=datetime.date(2026, 5, 1)
    )


@pytest.fixture
def desk(window, small_project):
    """The window with the block of 2 ha, at rest."""
    window.show_project(small_project)
    window.ask_settled()
    rest(window)
    return window


@pytest.fixture
def two_blocks(window, two_block_project):
    """The window with two blocks, at rest."""
    window.show_project(two_block_project)
    window.ask_settled()
    rest(window)
    return window


@pytest.fixture
def ground(desk):
    desk.actions_by_id["stage-ground"].trigger()
    return desk


@pytest.fixture
def pair(two_blocks):
    two_blocks.actions_by_id["stage-ground"].trigger()
    return two_blocks


@pytest.fixture
def compare(desk):
    """The stage with the plan as it stands alone, at a bearing of 10°."""
    QTest.keyClick(desk, Key.Key_3, CTRL)
    counted(desk)
    return desk


@pytest.fixture
def three(compare):
    """The stage with 10°, 52° and 96°."""
    for text in ("52", "96"):
        add(compare, text)
    counted(compare)
    return compare
