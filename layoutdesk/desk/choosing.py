"""Choosing files and folders: the system's own dialog, or Qt's in the program's look."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QFileInfo, QSize, QStandardPaths, QUrl
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFileDialog,
    QFileIconProvider,
    QHeaderView,
    QListView,
    QTreeView,
    QWidget,
)

from ..session.places import resource

_TYPE_COLUMN = 2
"""Says no more than a file's ending does."""


class PlainIcons(QFileIconProvider):
    """One-colour signs for folders, files and drives."""

    def __init__(self, theme_name: str):
        super().__init__()
        self._icons = {
            what: QIcon(str(resource("icons", f"{what}-{theme_name}.svg")))
            for what in ("folder", "file", "drive")
        }

    def icon(self, what):
        kinds = QFileIconProvider.IconType
        if isinstance(what, QFileInfo):
            drive = what.isRoot()
            return self._icons["drive" if drive else "folder" if what.isDir() else "file"]
        if what in (kinds.Computer, kinds.Drive, kinds.Network):
            return self._icons["drive"]
        return self._icons["file" if what == kinds.File else "folder"]


def usual_folder(remembered: str) -> Path:
    """Where a dialog starts: the folder last used if it is still there, else the documents."""
    if remembered and Path(remembered).is_dir():
        return Path(remembered)
    places = QStandardPaths.StandardLocation
    documents = Path(QStandardPaths.writableLocation(places.DocumentsLocation))
    return documents if documents.is_dir() else Path.home()


def chosen_path(
    window: QWidget, title: str, start: Path, kinds: str = "", *, what: str = "open"
) -> Path | None:
    """The file or folder a person chooses; None where they leave the dialog.

    Parameters
    ----------
    window : QWidget
    title : str
    start : Path
        The folder to begin in; for "save" with the name that is proposed.
    kinds : str
        Qt's list of name filters.
    what : "open", "save" or "folder"
    """
    dialog = _dialog(window, title, start, kinds, what)
    icons = PlainIcons(window.theme.name)  # Qt does not keep it alive
    if _is_qts_own(dialog):
        dialog.setIconProvider(icons)
        _trim(dialog, start if what != "save" else start.parent)
    agreed = dialog.exec()
    paths = dialog.selectedFiles()
    dialog.setIconProvider(None)
    dialog.deleteLater()
    return Path(paths[0]) if agreed and paths else None


def _dialog(window, title, start, kinds, what) -> QFileDialog:
    dialog = QFileDialog(window, title)
    modes = QFileDialog.FileMode
    if what == "save":
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setFileMode(modes.AnyFile)
        dialog.setDirectory(str(start.parent))
        dialog.selectFile(start.name)
    else:
        dialog.setFileMode(modes.Directory if what == "folder" else modes.ExistingFile)
        dialog.setOption(QFileDialog.Option.ShowDirsOnly, what == "folder")
        dialog.setDirectory(str(start))
    if kinds:
        dialog.setNameFilter(kinds)
    return dialog


def _is_qts_own(dialog: QFileDialog) -> bool:
    """Whether Qt draws the dialog itself: only then it has widgets inside."""
    return dialog.findChild(QTreeView) is not None


def _trim(dialog: QFileDialog, folder: Path) -> None:
    """A short list of places, names wide enough to read, and no bevels."""
    places = QStandardPaths.StandardLocation
    named = [
        QStandardPaths.writableLocation(p)
        for p in (places.HomeLocation, places.DesktopLocation, places.DocumentsLocation)
    ]
    wanted = dict.fromkeys(p for p in (*named, str(folder)) if Path(p).is_dir())
    dialog.setSidebarUrls([QUrl.fromLocalFile(p) for p in wanted])
    dialog.setViewMode(QFileDialog.ViewMode.Detail)
    dialog.resize(820, 520)
    for view in dialog.findChildren(QAbstractItemView):
        view.setAlternatingRowColors(False)
    places_list = dialog.findChild(QListView, "sidebar")
    if places_list is not None:
        places_list.setIconSize(QSize(16, 16))
        places_list.setMinimumWidth(150)
    header = dialog.findChild(QTreeView).header()
    modes = QHeaderView.ResizeMode
    for column in range(header.count()):
        header.setSectionResizeMode(column, modes.ResizeToContents if column else modes.Stretch)
    header.hideSection(_TYPE_COLUMN)
    header.setHighlightSections(False)
