"""For every test: no screen unless one is asked for, and nothing of the window where Qt does not load."""

from __future__ import annotations

import os

try:
    import PySide6.QtWidgets  # noqa: F401
    import pytestqt  # noqa: F401
except ImportError as problem:  # not installed, or a system library is missing
    WITHOUT_QT = str(problem)
else:
    WITHOUT_QT = ""

if not (os.environ.get("DISPLAY") and os.environ.get("LAYOUTDESK_TEST_SCREEN") == "1"):
    os.environ["QT_QPA_PLATFORM"] = "offscreen"

pytest_plugins = [] if WITHOUT_QT else ["pytestqt.plugin"]

collect_ignore = (
    ["desk", "pictures", "speed/test_canvas.py", "speed/test_editing.py"] if WITHOUT_QT else []
)


def pytest_terminal_summary(terminalreporter):
    if WITHOUT_QT:
        terminalreporter.write_line(f"Tests of the window were left out: {WITHOUT_QT}.")
