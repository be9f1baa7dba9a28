"""Pictures of the window in its states, to be looked at: `python -m tests.pictures.gallery OUTDIR`.

Both themes at 1280×800 and 1920×1080. Nothing here is compared with a stored picture.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

SIZES = ((1280, 800), (1920, 1080))
THEME_NAMES = ("paper", "lamp")
SITES = ("field_with_pond", "slope_two_blocks", "bench_in_feet")
CORNERS_WITHOUT_CRS = (
    "easting,northing\n500000,5400000\n500200,5400020\n500190,5400180\n500005,5400150\n"
)


@contextmanager
def desk(width: int, height: int, theme: str, folder: Path) -> Iterator:
    """A window of that size, with settings of its own in `folder`."""
    from PySide6.QtCore import QSettings

    from layoutdesk.desk.start import make_application
    from layoutdesk.desk.window import DeskWindow
    from tests.desk.hands import bury, pump_until, rest

    application = make_application()
    settings = QSettings(str(folder / "settings.ini"), QSettings.Format.IniFormat)
    settings.clear()
    settings.setValue("theme", theme)
    window = DeskWindow(settings)
    window.resize(width, height)
    window.show()
    window.activateWindow()
    pump_until(window.isActiveWindow, "the window is active")
    rest(window)
    try:
        yield window
    finally:
        if window.document is not None:  # closing is not to ask
            window.document.mark_saved(window.document.path, window.document.project)
        bury(window)
        application.processEvents()


def _keep(window, path: Path) -> Path:
    from PySide6.QtCore import QCoreApplication

    for _ in range(3):
        QCoreApplication.processEvents()
    window.grab().save(str(path))
    return path


def _pictures(window, folder: Path, scratch: Path, end: str) -> Iterator[Path]:
    """Every state of one window, in the order a newcomer meets them."""
    from PySide6.QtCore import Qt

    from tests.desk.hands import (
        filed,
        follow,
        let_go,
        open_sample_named,
        press_grip,
        rest,
        turn_to,
        type_into,
    )

    def keep(what: str) -> Path:
        return _keep(window, folder / f"{what}-{end}.png")

    yield keep("welcome")
    unplaced = scratch / "corners.csv"
    unplaced.write_text(CORNERS_WITHOUT_CRS, encoding="utf-8")
    window.filing.open_file(unplaced)
    filed(window)
    yield keep("question")
    window.filing.leave_question()
    canvas = window.canvas
    for site in SITES:
        open_sample_named(window, site)
        yield keep(f"rows-{site}")
        post = canvas.drawing.answer.plans[0].segment_ends_m[40, 0]
        x, y = canvas.view.to_pixels(post).tolist()
        canvas.look_at(canvas.view.zoomed(6.0, x, y))
        canvas.point_at((0, 40))
        rest(window)
        yield keep(f"rows-{site}-near")
        canvas.go_to(*post.tolist())
        canvas.zoom(5.0)
        rest(window)
        yield keep(f"rows-{site}-close")
        canvas.point_at(None)
        canvas.fit()
    type_into(window, "row_spacing_m", "wide", Qt.Key.Key_Tab)
    rest(window)
    yield keep("notice")
    canvas.setFocus()
    press_grip(window)
    turn_to(window, canvas.handle[2] + 25)
    follow(window)
    yield keep("drag")
    let_go(window)
    rest(window)


def write_gallery(folder: Path) -> list[Path]:
    """Every picture, as PNG files in a folder; gives back their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    with tempfile.TemporaryDirectory() as scratch:
        for width, height in SIZES:
            for theme in THEME_NAMES:
                end = f"{theme}-{width}x{height}"
                with desk(width, height, theme, Path(scratch)) as window:
                    written += _pictures(window, folder, Path(scratch), end)
    return written


if __name__ == "__main__":
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    if len(sys.argv) != 2:
        sys.exit("usage: python -m tests.pictures.gallery OUTDIR")
    for picture in write_gallery(Path(sys.argv[1])):
        print(picture)
