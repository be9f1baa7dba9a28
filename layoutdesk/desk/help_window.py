"""The help: pages at the left, narrowed by what is looked for; the page at the right."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import (
    QBrush,
    QFont,
    QKeySequence,
    QShortcut,
    QTextBlockFormat,
    QTextCharFormat,
    QTextCursor,
    QTextDocument,
    QTextFrameFormat,
    QTextLength,
    QTextTable,
)
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QTextBrowser,
    QTextEdit,
    QVBoxLayout,
)

from ..session.help_pages import page, page_of_link, pages, pages_with, title
from .finder import plain_text
from .look import SANS, SERIF, Theme, typeface

_TEXT_PX = 15
_HEADING_PX = {1: 27, 2: 19, 3: 16}
_LINE_SHARE, _TABLE_LINE_SHARE = 142.0, 122.0
"""Of the height of a line as the face has it. [%]"""
_PAGE = Qt.ItemDataRole.UserRole


def keys_of(actions) -> list[tuple[str, str]]:
    """What each action is called and its shortcut, those without one left out."""
    return [
        # undo and redo name what they would undo; here they stand for themselves
        (a.objectName().capitalize() if a.objectName() in ("undo", "redo") else plain_text(a), keys)
        for a in actions
        if (keys := a.shortcut().toString())
    ]


class PageBrowser(QTextBrowser):
    """Shows one page; it loads nothing by itself, from disk or from anywhere else."""

    def loadResource(self, kind, url):
        return None


class HelpWindow(QDialog):
    """The pages of the help beside the desk; Alt+Left and Alt+Right go back and forward.

    Parameters
    ----------
    theme : Theme
    keys : list of (str, str)
        What the actions are called and their shortcuts, for the page of keys.
    """

    def __init__(self, theme: Theme, keys=(), parent=None):
        super().__init__(parent)
        self.theme, self.keys = theme, tuple(keys)
        self.shown = ""
        self._trail: list[tuple[str, int]] = []  # pages and how far each was scrolled
        self._at = -1
        self.setWindowFlag(Qt.WindowType.WindowMaximizeButtonHint, True)
        self.setModal(False)
        self._build()
        self._narrow("")
        room = self.screen().availableGeometry()
        self.resize(min(960, room.width() - 40), min(720, room.height() - 60))

    def _build(self) -> None:
        across = QHBoxLayout(self)
        across.setContentsMargins(18, 18, 18, 18)
        across.setSpacing(18)
        left = QVBoxLayout()
        left.setSpacing(10)
        self.field = QLineEdit()
        self.field.setPlaceholderText("Find in the help")
        self.field.setAccessibleName("Find in the help")
        self.field.setClearButtonEnabled(True)
        self.field.textChanged.connect(self._narrow)
        self.field.installEventFilter(self)
        self.list = QListWidget()
        self.list.setAccessibleName("Pages")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentItemChanged.connect(self._picked)
        self.nothing = QLabel("No page has these words.")
        self.nothing.setObjectName("soft")
        self.nothing.setWordWrap(True)
        buttons = QHBoxLayout()
        self.back_button, self.forward_button = QPushButton("Back"), QPushButton("Forward")
        for button, keys, step in (
            (self.back_button, "Alt+Left", self.back),
            (self.forward_button, "Alt+Right", self.forward),
        ):
            QShortcut(QKeySequence(keys), self, step)
            button.setToolTip(keys)
            button.setAutoDefault(False)  # Enter is for the page that was found
            button.clicked.connect(step)
            buttons.addWidget(button)
        left.addLayout(buttons)
        left.addWidget(self.field)
        left.addWidget(self.nothing)
        left.addWidget(self.list, 1)
        self.browser = PageBrowser()
        self.browser.setFrameShape(QFrame.Shape.NoFrame)
        self.browser.setOpenLinks(False)
        self.browser.anchorClicked.connect(lambda url: self.follow(url.toString()))
        self.browser.document().setDocumentMargin(26)
        for widget in (self.list, self.field):
            widget.setFixedWidth(238)
        across.addLayout(left)
        across.addWidget(self.browser, 1)

    def come_up(self) -> None:
        """Show the window before others, the keyboard on the page."""
        self.setWindowState(self.windowState() & ~Qt.WindowState.WindowMinimized)
        self.show()
        self.raise_()
        self.activateWindow()
        self.browser.setFocus()

    # going from page to page

    def show_page(self, name: str) -> None:
        """Show a page and remember it on the way back.

        Raises
        ------
        KeyError
            Where there is no such page.
        """
        if name == self.shown:
            return
        self._keep_place()
        page(name)  # an unknown name leaves everything as it was
        self._trail[self._at + 1 :] = [(name, 0)]
        self._at += 1
        self._show()

    def follow(self, link: str) -> None:
        """Go where a link of a page goes; a link to anything else goes nowhere."""
        name = page_of_link(link)
        if name is not None:
            self.show_page(name)

    def back(self) -> None:
        self._step(-1)

    def forward(self) -> None:
        self._step(1)

    def _step(self, by: int) -> None:
        if 0 <= self._at + by < len(self._trail):
            self._keep_place()
            self._at += by
            self._show()

    def _keep_place(self) -> None:
        if self._at >= 0:
            self._trail[self._at] = (self.shown, self.browser.verticalScrollBar().value())

    def _show(self) -> None:
        self.shown, scrolled = self._trail[self._at]
        self.setWindowTitle(f"{title(self.shown)} – Layout Desk help")
        self.browser.setAccessibleName(title(self.shown))
        self.browser.setMarkdown(page(self.shown, self.keys))
        dress(self.browser.document(), self.theme)
        self.browser.verticalScrollBar().setValue(scrolled)
        self.back_button.setEnabled(self._at > 0)
        self.forward_button.setEnabled(self._at < len(self._trail) - 1)
        self._mark_found()
        self._mark_page()

    def wear(self, theme: Theme) -> None:
        """Show the same place in another theme."""
        self.theme = theme
        if self._at >= 0:
            self._keep_place()
            self._show()

    # looking for words

    def _narrow(self, words: str) -> None:
        found = set(pages_with(words, self.keys))
        self.list.blockSignals(True)
        self.list.clear()
        for name, text in pages():
            if name in found:
                item = QListWidgetItem(text)
                item.setData(_PAGE, name)
                self.list.addItem(item)
        self.list.blockSignals(False)
        self.nothing.setVisible(not found)
        self._mark_page()
        self._mark_found()

    def _mark_page(self) -> None:
        """Mark the page shown in the list, where the list has it."""
        self.list.blockSignals(True)
        self.list.setCurrentRow(-1)
        for row in range(self.list.count()):
            if self.list.item(row).data(_PAGE) == self.shown:
                self.list.setCurrentRow(row)
        self.list.blockSignals(False)

    def _mark_found(self) -> None:
        """Mark the words looked for on the page."""
        marks = []
        for word in self.field.text().split():
            at = QTextCursor(self.browser.document())
            while not (at := self.browser.document().find(word, at)).isNull():
                mark = QTextEdit.ExtraSelection()
                mark.cursor = at
                mark.format.setBackground(self.theme["hatch"])
                mark.format.setForeground(self.theme["ink"])
                marks.append(mark)
        self.browser.setExtraSelections(marks)

    def _picked(self, item, before=None) -> None:
        if item is not None:
            self.show_page(item.data(_PAGE))

    def eventFilter(self, watched, event):
        if watched is self.field and event.type() == QEvent.Type.KeyPress and self.list.count():
            row, n = self.list.currentRow(), self.list.count()
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self.list.setCurrentRow(max(row, 0))
                self._go_to_found()
                return True
            if event.key() in (Qt.Key.Key_Down, Qt.Key.Key_Up):
                step = 1 if event.key() == Qt.Key.Key_Down else -1
                self.list.setCurrentRow((row + step) % n if row >= 0 else 0)
                return True
        return super().eventFilter(watched, event)

    def _go_to_found(self) -> None:
        """Put the keyboard on the page, at the first word that was found."""
        self.browser.setFocus()
        marks = self.browser.extraSelections()
        if marks:
            first = min((m.cursor for m in marks), key=lambda c: c.selectionStart())
            first.clearSelection()
            self.browser.setTextCursor(first)
            self.browser.ensureCursorVisible()


def dress(document: QTextDocument, theme: Theme) -> None:
    """Give a page that came from Markdown the program's faces and a theme's colours."""
    document.setDefaultFont(typeface(SANS, _TEXT_PX))
    cursor = QTextCursor(document)
    block = document.begin()
    while block.isValid():
        _dress_block(cursor, block, theme)
        _dress_words(cursor, block, theme)
        block = block.next()
    for frame in document.rootFrame().childFrames():
        if isinstance(frame, QTextTable):
            _dress_table(frame, theme)


def _dress_block(cursor: QTextCursor, block, theme: Theme) -> None:
    level = block.blockFormat().headingLevel()
    shape = QTextBlockFormat()
    in_table = QTextCursor(block).currentTable() is not None
    shape.setLineHeight(
        _TABLE_LINE_SHARE if in_table else _LINE_SHARE,
        QTextBlockFormat.LineHeightTypes.ProportionalHeight.value,
    )
    if level:
        shape.setTopMargin(0 if level == 1 else 20)
        shape.setBottomMargin(10 if level == 1 else 5)
    elif not in_table:
        shape.setTopMargin(0)
        shape.setBottomMargin(5 if block.textList() else 11)
    cursor.setPosition(block.position())
    cursor.mergeBlockFormat(shape)


def _dress_words(cursor: QTextCursor, block, theme: Theme) -> None:
    level = block.blockFormat().headingLevel()
    pieces, at = [], block.begin()
    while not at.atEnd():
        piece = at.fragment()
        pieces.append((piece.position(), piece.length(), piece.charFormat()))
        at += 1
    for start, length, was in pieces:
        form = QTextCharFormat(was)
        strong = was.fontWeight() > QFont.Weight.Normal or bool(level)
        form.clearProperty(QTextCharFormat.Property.FontSizeAdjustment)
        code = was.fontFixedPitch()
        face = SERIF if level else SANS
        font = typeface(face, _HEADING_PX.get(level, _TEXT_PX), strong=strong or code)
        font.setItalic(was.fontItalic())
        form.setFont(font)
        form.setForeground(theme["accent" if was.isAnchor() else "ink"])
        if was.isAnchor():
            form.setFontUnderline(True)
        cursor.setPosition(start)
        cursor.setPosition(start + length, QTextCursor.MoveMode.KeepAnchor)
        cursor.setCharFormat(form)


def _dress_table(table: QTextTable, theme: Theme) -> None:
    form = table.format()
    form.setBorder(0)
    form.setBorderCollapse(True)
    form.setCellPadding(5)
    form.setCellSpacing(0)
    form.setTopMargin(6)
    form.setBottomMargin(14)
    form.setWidth(QTextLength(QTextLength.Type.PercentageLength, 100))
    form.setColumnWidthConstraints(_column_widths(table))
    table.setFormat(form)
    for row in range(table.rows()):
        for column in range(table.columns()):
            cell = table.cellAt(row, column)
            shape = cell.format().toTableCellFormat()
            shape.setBottomBorder(1)
            shape.setBottomBorderStyle(QTextFrameFormat.BorderStyle.BorderStyle_Solid)
            shape.setBottomBorderBrush(QBrush(theme["hairline"]))
            cell.setFormat(shape)


def _column_widths(table: QTextTable) -> list[QTextLength]:
    """Shares of a table's width that follow the longest text of each column, none below a quarter."""
    longest = [
        max(
            len(table.cellAt(row, column).firstCursorPosition().block().text())
            for row in range(table.rows())
        )
        for column in range(table.columns())
    ]
    weights = [max(n, sum(longest) / 4, 1) for n in longest]
    kind = QTextLength.Type.PercentageLength
    return [QTextLength(kind, 100 * weight / sum(weights)) for weight in weights]
