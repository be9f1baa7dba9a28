"""For every test: no screen unless one is asked for, and nothing of the window where Qt is not installed."""

from __future__ import annotations

import importlib.util
import os


def _has(module: str) -> bool:
    try:
        return importlib.util.find_spec(module) is not None
    except ModuleNotFoundError:  # its parent is missing
        return False


HAS_QT = _has("PySide6.QtWidgets") and _has("pytestqt")

if not (os.environ.get("DISPLAY") and os.environ.get("LAYOUTDESK_TEST_SCREEN") == "1"):
    os.environ["QT_QPA_PLATFORM"] = "offscreen"

pytest_plugins = ["pytestqt.plugin"] if HAS_QT else []

collect_ignore_glob = [] if HAS_QT else ["desk/*", "pictures/*", "speed/test_canvas.py"]


def pytest_report_header(config):
    if not HAS_QT:
        return "PySide6 or pytest-qt is not installed: tests of the window are left out"
    return None
