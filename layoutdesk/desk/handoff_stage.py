"""The cards of the hand-off stage: which points, in which coordinates, as which files, and what came back."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ..core.model.handoff import FORMATS
from ..session.handoff import Preview
from .distance_bars import DistanceBars
from .handoff_pages import PAGES
from .look import SANS, Theme, typeface
from .paged_cards import Page, PagedCard, PagedSide

_NAMES_A_LINE = 2
_REPORTS = ("points", "grid")
"""Pages from which the whole hand-off can be written too."""


class HandOffCard(PagedCard):
    """Which page, its words and what can be done there. Nothing is written before it is asked for.

    Signals
    -------
    formats_chosen : tuple of str
        Of FORMATS, as they are ticked.
    """

    folder_wanted = Signal()
    folder_typed = Signal()
    hand_off_wanted = Signal()
    write_wanted = Signal()
    formats_chosen = Signal(tuple)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(PAGES, "Hand-off", "Pages of the hand-off", parent, at_once=False)

    def begin_page(self, page: str, column: QVBoxLayout) -> None:
        if page != "files":
            return
        line = QHBoxLayout()
        self.folder = QLineEdit()
        self.folder.setAccessibleName("Folder for the files")
        self.folder.setPlaceholderText("Folder for the files")
        self.folder.textChanged.connect(lambda _: self.folder_typed.emit())
        browse = QPushButton("Choose…")
        browse.clicked.connect(self.folder_wanted)
        line.addWidget(self.folder, 1)
        line.addWidget(browse)
        column.addLayout(line)
        self.there = QLabel()
        self.there.setObjectName("notice")
        self.there.setTextFormat(Qt.TextFormat.PlainText)
        self.there.setWordWrap(True)
        self.there.hide()
        column.addWidget(self.there)
        last = QHBoxLayout()
        self.hand_off, self.write = QPushButton("Write the hand-off"), QPushButton("Write the set")
        self.hand_off.setObjectName("primary")
        self.hand_off.setToolTip("The files ticked below, the sheet, and a list of all of them")
        self.write.setToolTip("Write the stake-out set: always the same files, told below")
        self.write.setAccessibleName("Write the stake-out set")
        self.hand_off.clicked.connect(self.hand_off_wanted)
        self.write.clicked.connect(self.write_wanted)
        for button in (self.hand_off, self.write):
            button.setEnabled(False)  # as long as no folder is named
            last.addWidget(button)
        last.addStretch(1)
        column.addLayout(last)

    def end_page(self, page: str, column: QVBoxLayout) -> None:
        if page != "files":
            return
        column.insertWidget(column.count() - 2, _soft("Written as"))
        self.formats: dict[str, QCheckBox] = {}
        self._names = QGridLayout()
        self._names.setHorizontalSpacing(6)
        self._names.setVerticalSpacing(1)
        column.insertLayout(column.count() - 2, self._names)
        column.addWidget(_soft("The stake-out set, whatever is chosen above"))
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setFont(typeface(SANS, 13))
        self.text.setAccessibleName("What the stake-out set will hold")
        column.addWidget(self.text)

    def _build_formats(self) -> None:
        from ..session.hand_off_lines import FILE_NAMES

        lines = -(-len(FORMATS) // _NAMES_A_LINE)
        for i, (key, words) in enumerate(FORMATS.items()):
            box = self.formats[key] = QCheckBox(FILE_NAMES[key])
            box.setToolTip(words[:1].upper() + words[1:])
            box.setAccessibleDescription(words)
            box.clicked.connect(lambda _: self.formats_chosen.emit(self.ticked()))
            self._names.addWidget(box, i % lines, i // lines)

    def ticked(self) -> tuple[str, ...]:
        """Formats that are ticked, of FORMATS."""
        return tuple(key for key, box in self.formats.items() if box.isChecked())

    def tick(self, formats: tuple[str, ...]) -> None:
        """Tick the formats that are written."""
        if not self.formats:
            self._build_formats()
        for key, box in self.formats.items():
            box.setChecked(key in formats)

    @property
    def has_files(self) -> bool:
        """Whether the page of files was turned to so far."""
        return "files" in self.notes

    def chosen_folder(self) -> Path | None:
        text = self.folder.text().strip()
        return Path(text).expanduser() if text else None

    def show_preview(self, preview: Preview, more_there: str, theme: Theme) -> None:
        """Show what the stake-out set would hold now, and what is in the folder already."""
        lines = [
            f"<p><b>{f.name}</b><br>{f.holds}<br><span style='color:{theme.soft_ink}'>{f.system}"
            "</span></p>"
            for f in preview.files
        ]
        self.text.setText("".join(lines) + f"<p>{preview.factor}.</p>")
        said = [preview.there, more_there]
        if preview.wrong:
            said.append(f"{preview.wrong} findings should be mended before anyone stakes this.")
        self.there.setText(" ".join(s for s in said if s))
        self.there.setVisible(any(said))
        has_folder = self.chosen_folder() is not None
        self.write.setEnabled(has_folder)
        self.hand_off.setEnabled(has_folder)


class HandOffSide(PagedSide):
    """What comes of it, page by page; measured points as bars of their distance too."""

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(PAGES, theme, "the hand-off", "Write the hand-off…", parent, at_once=False)
        self.sheet.clicked.connect(self._wanted)
        self.act = {}
        self._page_shown = ""

    def begin_page(self, page: str, column: QVBoxLayout, theme: Theme) -> None:
        if page == "staked":
            self.bars = DistanceBars(theme)
            column.addWidget(self.bars)

    def show_page(self, page: Page) -> None:
        super().show_page(page)
        self._page_shown = page.name
        is_report = page.name == "staked"
        self.sheet.setText("Write the report…" if is_report else "Write the hand-off…")
        self.sheet.setVisible(is_report or page.name in _REPORTS)
        self.files.setVisible(is_report)

    def _wanted(self) -> None:
        self.act["staked" if self._page_shown == "staked" else "files"]()


def _soft(words: str) -> QLabel:
    label = QLabel(words)
    label.setObjectName("soft")
    return label
