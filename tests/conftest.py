"""What every test stands on: the window's tests only where Qt loads."""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

try:
    import PySide6.QtWidgets  # noqa: F401
except ImportError as problem:
    _WHY_NOT = str(problem)
    collect_ignore_glob = ["desk/*", "pictures/*"]
else:
    _WHY_NOT = ""
    pytest_plugins = ("pytestqt.plugin",)


def pytest_terminal_summary(terminalreporter):
    if _WHY_NOT:
        terminalreporter.write_line(f"The window's tests were left out: Qt does not load ({_WHY_NOT}).")
