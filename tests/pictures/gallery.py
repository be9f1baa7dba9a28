"""Pictures of the window in its states, to be looked at: `python -m tests.pictures.gallery OUTDIR`.

Both themes at 1280×800 and 1920×1080. Nothing here is compared with a stored picture.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

SIZES = ((1280, 800), (1920, 1080))
THEME_NAMES = ("paper", "lamp")
SITES = ("field_with_pond", "slope_two_blocks", "bench_in_feet")


def pump_until(true: Callable[[], bool], what: str, timeout_s: float = 30.0) -> None:
    """Run the event loop until something is so; raises TimeoutError that names it otherwise."""
    from PySide6.QtCore import QCoreApplication, QEventLoop

    end = time.monotonic() + timeout_s
    while not true():
        if time.monotonic() > end:
            raise TimeoutError(f"waited {timeout_s:g} s in vain until {what}")
        QCoreApplication.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 20)
        time.sleep(0.002)


def at_rest(window) -> bool:
    """Whether the window shows the settled layout of its document, painted finely."""
    answer, document = window.answer, window.document
    return (
        window.filing.task is None
        and (
            document is None
            or (answer is not None and answer.settled and answer.project == document.project)
        )
        and not window._settle_timer.isActive()
        and not window.canvas._rest.isActive()
    )


@contextmanager
def desk(width: int, height: int, theme: str, folder: Path) -> Iterator:
    """A window of that size, with settings of its own in `folder`."""
    from PySide6.QtCore import QEvent, QSettings
    from PySide6.QtWidgets import QApplication

    from layoutdesk.desk.start import make_application
    from layoutdesk.desk.window import DeskWindow

    make_application()
    settings = QSettings(str(folder / "settings.ini"), QSettings.Format.IniFormat)
    settings.clear()
    settings.setValue("theme", theme)
    window = DeskWindow(settings)
    window.resize(width, height)
    window.show()
    pump_until(lambda: window.isVisible() and at_rest(window), "the window is there")
    try:
        yield window
    finally:
        if window.document is not None:  # closing is not to ask
            window.document.mark_saved(folder / "unused.gpkg", window.document.project)
        window.close()
        window.deleteLater()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()


def open_sample_named(window, name: str) -> None:
    """Open a sample site and wait until all of it is shown."""
    from layoutdesk.session.samples import samples

    sample = next(s for s in samples() if s.name == name)
    window.filing.open_sample(sample)
    pump_until(lambda: window.document is not None, f"{name} is open")
    pump_until(lambda: at_rest(window), f"{name} is laid out")


def file_without_crs(folder: Path) -> Path:
    """Corners in metres in a file that does not say which grid they are on."""
    path = folder / "corners.csv"
    path.write_text(
        "easting,northing\n500000,5400000\n500200,5400020\n500190,5400180\n500005,5400150\n",
        encoding="utf-8",
    )
    return path


def press_on_grip(window):
    """Press the left button on the bearing grip; gives back where it was pressed."""
    from PySide6.QtCore import Qt
    from PySide6.QtTest import QTest

    at = window.canvas._grip().toPoint()
    QTest.mousePress(window.canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at)
    return at


def turn_under_hand(window, degrees: float) -> None:
    """Move a held grip round the ring to a bearing, without letting go."""
    import math

    import numpy as np
    from PySide6.QtCore import QPoint
    from PySide6.QtTest import QTest

    from layoutdesk.desk.canvas import HANDLE_PX

    x, y, _ = window.canvas.handle
    px, py = window.canvas.view.to_pixels(np.array([x, y])).tolist()
    a = math.radians(degrees)
    QTest.mouseMove(
        window.canvas,
        QPoint(round(px + HANDLE_PX * math.sin(a)), round(py - HANDLE_PX * math.cos(a))),
    )


def write_gallery(folder: Path) -> list[Path]:
    """Every picture, as PNG files in a folder; gives back their paths."""
    from PySide6.QtCore import QCoreApplication, QPointF, Qt
    from PySide6.QtTest import QTest

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    with tempfile.TemporaryDirectory() as scratch:
        for width, height in SIZES:
            for theme in THEME_NAMES:

                def keep(window, what, end=f"{theme}-{width}x{height}"):
                    for _ in range(3):
                        QCoreApplication.processEvents()
                    path = folder / f"{what}-{end}.png"
                    window.grab().save(str(path))
                    written.append(path)

                with desk(width, height, theme, Path(scratch)) as window:
                    keep(window, "welcome")
                    window.filing.open_file(file_without_crs(Path(scratch)))
                    pump_until(lambda w=window: w.question.isVisible(), "the question is asked")
                    keep(window, "question")
                    window.filing.leave_question()
                    for site in SITES:
                        open_sample_named(window, site)
                        keep(window, f"rows-{site}")
                        for level, times in (("near", 6.0), ("close", 5.0)):
                            canvas = window.canvas
                            post = canvas.drawing.answer.plans[0].segment_ends_m[40, 0]
                            at = canvas.view.to_pixels(post)
                            if level == "near":
                                canvas.look_at(canvas.view.zoomed(times, *at.tolist()))
                            else:
                                canvas.go_to(*post.tolist())
                                canvas.zoom(times)
                            canvas.point_at((0, 40))
                            pump_until(lambda w=window: at_rest(w), "the plan is painted")
                            keep(window, f"rows-{site}-{level}")
                        canvas.fit()
                    field = window.paragraph.fields["row_spacing_m"]
                    field.setFocus()
                    QTest.keyClicks(field, "wide")
                    QTest.keyClick(field, Qt.Key.Key_Tab)
                    keep(window, "notice")
                    window.canvas.setFocus()
                    press_on_grip(window)
                    turn_under_hand(window, window.canvas.handle[2] + 25)
                    pump_until(
                        lambda w=window: w.answer.project == w.document.project, "rows turned"
                    )
                    keep(window, "drag")
                    end = window.canvas._grip() or QPointF()
                    QTest.mouseRelease(
                        window.canvas,
                        Qt.MouseButton.LeftButton,
                        Qt.KeyboardModifier.NoModifier,
                        end.toPoint(),
                    )
                    pump_until(lambda w=window: at_rest(w), "the hand rests")
    return written


if __name__ == "__main__":
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    if len(sys.argv) != 2:
        sys.exit("usage: python -m tests.pictures.gallery OUTDIR")
    for picture in write_gallery(Path(sys.argv[1])):
        print(picture)
