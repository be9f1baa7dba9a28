"""Starting the window, or saying in one sentence why it cannot start."""

from __future__ import annotations

import ctypes
import os
import signal
import sys

from ..core.model import InputProblem

_DEBIAN = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgthread-2.0.so.0": "libglib2.0-0",
    "libX11.so.6": "libx11-6",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libX11-xcb.so.1": "libx11-xcb1",
}
"""System libraries Qt needs on Linux and the Debian packages that hold them."""

_FOR_X = tuple(name for name in _DEBIAN if "xcb" in name or "X11" in name or "x11" in name)


def _missing(names) -> list[str]:
    absent = []
    for name in names:
        try:
            ctypes.CDLL(name)
        except OSError:
            absent.append(_DEBIAN[name])
    return list(dict.fromkeys(absent))


def check_screen() -> None:
    """See that Qt can open a window here; it would end the process where it cannot.

    Raises
    ------
    InputProblem
        One sentence: there is no screen, or which packages to install.
    """
    if not sys.platform.startswith("linux"):
        return
    platform = os.environ.get("QT_QPA_PLATFORM", "")
    names = [name for name in _DEBIAN if name not in _FOR_X]
    if platform not in ("offscreen", "minimal", "vnc"):
        wayland = bool(os.environ.get("WAYLAND_DISPLAY")) and platform in ("", "wayland")
        if not (os.environ.get("DISPLAY") or wayland):
            raise InputProblem(
                "There is no screen to open the window on (neither DISPLAY nor WAYLAND_DISPLAY is "
                "set): start it from a desktop, or use layoutdesk lay, which needs none."
            )
        names += [] if wayland else _FOR_X
    packages = _missing(names)
    if packages:
        install = f"apt-get install {' '.join(packages)}"
        raise InputProblem(
            "The window cannot start because system libraries are missing: on Debian or Ubuntu, "
            f"{install}."
        )


def import_qt() -> None:
    """Import Qt, or say that it does not load.

    Raises
    ------
    InputProblem
    """
    try:
        import PySide6.QtWidgets  # noqa: F401
    except ImportError as problem:
        raise InputProblem(
            f"The window cannot start because Qt does not load ({problem}): reinstall the package "
            "PySide6-Essentials, or use layoutdesk lay, which needs no window."
        ) from None


def _heed_size() -> None:
    """Show everything as large as the user chose, unless the environment says so already."""
    from PySide6.QtCore import QSettings

    percent = str(QSettings("Layout Desk", "Layout Desk").value("size", "100"))
    if percent.isdigit() and percent != "100":
        os.environ.setdefault("QT_SCALE_FACTOR", f"{int(percent) / 100:g}")


def make_application():
    """The Qt application with the program's name and typefaces."""
    from PySide6.QtWidgets import QApplication

    from .look import SANS, load_typefaces, typeface

    if QApplication.instance() is None:
        _heed_size()
    app = QApplication.instance() or QApplication([sys.argv[0]])
    app.setApplicationName("Layout Desk")
    app.setStyle("Fusion")
    load_typefaces()
    for kind in (None, "QMenuBar", "QMenu"):  # some platforms give these a face of their own
        app.setFont(typeface(SANS, 13), kind)
    return app


def _tell_the_unexpected(window) -> None:
    """Say in the window, too, when something of ours fails: nothing is to fail without a word."""
    printed = sys.excepthook

    def told(kind, problem, trace) -> None:
        printed(kind, problem, trace)
        if issubclass(kind, Exception):
            window.filing.complain(
                f"Something in the program failed ({kind.__name__}: {problem}). Your work is kept: "
                "save it under another name, and start the program again."
            )

    sys.excepthook = told


def open_window(path: str | None = None) -> int:
    """Run the window until it is closed; `path` is an outline or project to open."""
    check_screen()
    import_qt()
    # Python's own handlers cannot run inside Qt's loop; work that is not saved is in the journal.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.SIG_DFL)
    app = make_application()
    from ..session.journal import Journal, usual_folder
    from .window import DeskWindow

    window = DeskWindow(journal=Journal(usual_folder()))
    window.show()
    _tell_the_unexpected(window)
    if path is not None:
        window.filing.open_file(path)
    window.filing.offer_left_work(path)
    return app.exec()
