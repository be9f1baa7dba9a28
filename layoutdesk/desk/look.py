"""The look: named colours for both themes, typefaces, the style of ordinary widgets."""

from __future__ import annotations

from dataclasses import dataclass, fields

from PySide6.QtGui import QColor, QFont, QFontDatabase, QPalette
from PySide6.QtWidgets import QApplication

from ..session.places import resource


@dataclass(frozen=True)
class Theme:
    """Colours by role; meanings are never told by colour alone."""

    name: str
    ground: str
    panel: str
    block: str
    ink: str
    soft_ink: str
    hairline: str
    row: str
    accent: str
    on_accent: str
    accent_deep: str
    water: str
    water_fill: str
    caution: str
    hatch: str
    better: str
    worse: str

    def __getitem__(self, role: str) -> QColor:
        return QColor(getattr(self, role))


PAPER = Theme(
    "paper",
    ground="#EFE9DC",
    panel="#FAF6EC",
    block="#FBF8F0",
    ink="#22302B",
    soft_ink="#58625C",
    hairline="#DAD2C0",
    row="#4B6F62",
    accent="#A33B2B",
    on_accent="#FFF9F0",
    accent_deep="#7A2418",
    water="#2A6A8E",
    water_fill="#D3E3EA",
    caution="#8A5C08",
    hatch="#CDBF9F",
    better="#2F6B52",
    worse="#8A5C08",
)
LAMP = Theme(
    "lamp",
    ground="#12191A",
    panel="#1A2324",
    block="#1F2A2A",
    ink="#E9E3D4",
    soft_ink="#98A39C",
    hairline="#2E3A39",
    row="#86B5A2",
    accent="#E8795F",
    on_accent="#171211",
    accent_deep="#F7B29F",
    water="#6BB2D6",
    water_fill="#1D3A47",
    caution="#E0B04A",
    hatch="#4A4B3C",
    better="#8FCDB0",
    worse="#E0B04A",
)
THEMES = {t.name: t for t in (PAPER, LAMP)}

SERIF, SANS = "Source Serif 4", "Inter"
_FACES = (
    "Inter-Regular.ttf",
    "Inter-SemiBold.ttf",
    "SourceSerif4-Regular.ttf",
    "SourceSerif4-SemiBold.ttf",
)


def load_typefaces() -> None:
    """Make the bundled faces known, so that every machine shows the same."""
    for name in _FACES:
        QFontDatabase.addApplicationFont(str(resource("fonts", name)))


def typeface(family: str, pixels: float, *, strong: bool = False) -> QFont:
    """A face at a size in logical pixels, with figures of one width."""
    font = QFont(family)
    font.setPixelSize(round(pixels))
    font.setWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Normal)
    if hasattr(QFont, "Tag"):  # Qt 6.7 and newer
        font.setFeature(QFont.Tag("tnum"), 1)
    return font


def luminance(colour: QColor) -> float:
    """Relative luminance. Source: W3C, WCAG 2.1, definition of relative luminance (2018)."""

    def linear(c: float) -> float:
        return c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4

    return (
        0.2126 * linear(colour.redF())
        + 0.7152 * linear(colour.greenF())
        + 0.0722 * linear(colour.blueF())
    )


def contrast(a: QColor, b: QColor) -> float:
    """Contrast ratio of two colours, 1 to 21. Source: W3C, WCAG 2.1 (2018)."""
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


_SIGNS = (
    "down",
    "tick",
    "up",
    "back",
    "forward",
    "new-folder",
    "folder",
    "file",
    "drive",
    "list",
    "details",
)
"""One-colour signs, drawn once for each theme."""


def _icon(name: str, theme: Theme) -> str:
    """A sign as a style sheet names it."""
    path = resource("icons", f"{name}-{theme.name}.svg").as_posix()
    return f'url("{path}");'


def wear(app: QApplication, theme: Theme) -> None:
    """Dress the whole program in a theme."""
    palette = QPalette()
    roles = QPalette.ColorRole
    for role, colour in {
        roles.Window: "panel",
        roles.WindowText: "ink",
        roles.Base: "panel",
        roles.AlternateBase: "block",
        roles.Text: "ink",
        roles.Button: "panel",
        roles.ButtonText: "ink",
        roles.ToolTipBase: "panel",
        roles.ToolTipText: "ink",
        roles.PlaceholderText: "soft_ink",
        roles.Highlight: "accent",
        roles.HighlightedText: "on_accent",
        roles.Link: "accent",
    }.items():
        palette.setColor(role, theme[colour])
    for role in (roles.WindowText, roles.Text, roles.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, theme["soft_ink"])
    app.setPalette(palette)
    app.setFont(typeface(SANS, 13))
    colours = {f.name: getattr(theme, f.name) for f in fields(theme)}
    style = _STYLE
    for name in _SIGNS:
        style = style.replace(f"@icon-{name};", _icon(name, theme))
    for name, value in colours.items():
        style = style.replace(f"@{name};", f"{value};")
    app.setStyleSheet(style)


_STYLE = """
QMainWindow, QDialog { background: @panel; }
QWidget#bar { background: @panel; border: none; border-bottom: 1px solid @hairline; }
QWidget#foot { background: @panel; border: none; border-top: 1px solid @hairline; }
QFrame#card { background: @panel; border: 1px solid @hairline; border-radius: 10px; }
QLabel { color: @ink; background: transparent; }
QLabel#norths { color: @soft_ink; border: none; border-top: 1px solid @hairline; padding-top: 8px; }
QLabel#soft { color: @soft_ink; }
QLabel#heading { color: @ink; font-weight: 600; }
QLabel#title { color: @ink; }
QLabel#notice { color: @caution; }
QLabel#mark { color: @caution; background: @panel; padding: 0 3px; }
QLabel#problem { color: @accent; }
QScrollArea, QScrollArea > QWidget > QWidget { background: transparent; border: none; }
QScrollBar:vertical { background: transparent; width: 8px; margin: 0; }
QScrollBar::handle:vertical { background: @hairline; border-radius: 4px; min-height: 24px; }
QScrollBar:horizontal { background: transparent; height: 8px; margin: 0; }
QScrollBar::handle:horizontal { background: @hairline; border-radius: 4px; min-width: 24px; }
QScrollBar::add-line, QScrollBar::sub-line { height: 0; width: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QPushButton { color: @ink; background: @panel; border: 1px solid @hairline; border-radius: 7px;
  padding: 6px 14px; }
QPushButton:hover { border-color: @soft_ink; }
QPushButton:focus { border-color: @accent; }
QPushButton:disabled { color: @soft_ink; border-color: @hairline; }
QPushButton#primary { color: @on_accent; background: @accent; border-color: @accent; font-weight: 600; }
QPushButton#primary:focus { border: 2px solid @ink; padding: 5px 13px; }
QPushButton#primary:disabled { color: @soft_ink; background: @ground; border-color: @hairline; }
QPushButton#stage { border: 1px solid transparent; padding: 6px 2px; color: @soft_ink; }
QPushButton#stage:hover { border-color: @hairline; }
QPushButton#stage:checked { color: @on_accent; background: @accent; font-weight: 600; }
QPushButton#stage:focus { border: 1px solid @ink; }
QPushButton#page { border: 1px solid transparent; border-radius: 5px; padding: 3px 7px; color: @soft_ink; }
QPushButton#page:hover { border-color: @hairline; }
QPushButton#page:checked { color: @accent; border-color: @accent; font-weight: 600; }
QPushButton#page:focus { border: 1px solid @ink; }
QPushButton#quiet { color: @accent; border: 1px solid transparent; padding: 1px 4px; text-align: left; }
QPushButton#quiet:disabled { color: @soft_ink; }
QPushButton#quiet:hover, QPushButton#quiet:focus { border: 1px solid @accent; }
QLineEdit { color: @ink; background: @block; border: 1px solid @hairline; border-radius: 6px; padding: 4px 8px;
  selection-background-color: @accent; selection-color: @on_accent;
  placeholder-text-color: @soft_ink; }
QLineEdit:focus { border-color: @accent; }
QLineEdit#value { color: @accent; background: transparent; border: none; border-radius: 0;
  border-bottom: 1px solid @accent; padding: 0; }
QLineEdit#value:focus { color: @on_accent; background: @accent; border-radius: 4px;
  selection-background-color: @accent_deep; selection-color: @on_accent; }
QCheckBox { color: @ink; spacing: 7px; padding: 1px 2px; }
QCheckBox::indicator { width: 13px; height: 13px; border: 1px solid @soft_ink; border-radius: 3px;
  background: @block; }
QCheckBox::indicator:checked { background: @accent; border-color: @accent; image: @icon-tick; }
QCheckBox::indicator:focus { border: 2px solid @accent; width: 11px; height: 11px; }
QCheckBox::indicator:checked:focus { border-color: @ink; }
QComboBox { color: @ink; background: @panel; border: 1px solid @hairline; border-radius: 6px; padding: 3px 8px; }
QComboBox:focus { border-color: @accent; }
QComboBox::drop-down { border: none; width: 20px; }
QComboBox::down-arrow { image: @icon-down; width: 10px; height: 10px; }
QComboBox QAbstractItemView { background: @panel; color: @ink; border: 1px solid @hairline;
  selection-background-color: @accent; selection-color: @on_accent; }
QListWidget, QListView, QTreeView { background: @block; color: @ink; border: 1px solid @hairline; border-radius: 6px; padding: 4px; }
QListWidget:focus, QListView:focus, QTreeView:focus { border-color: @accent; }
QListWidget::item { padding: 5px 6px; border-radius: 4px; }
QListView::item, QTreeView::item { padding: 4px 4px; }
QListView::item:selected, QTreeView::item:selected { background: @accent; color: @on_accent; }
QListWidget::item:selected { background: @accent; color: @on_accent; }
QHeaderView { background: @panel; border: none; }
QHeaderView::section { background: @panel; color: @soft_ink; border: none;
  border-bottom: 1px solid @hairline; padding: 4px 6px; }
QHeaderView::down-arrow { image: @icon-down; width: 10px; height: 10px; }
QHeaderView::up-arrow { image: @icon-up; width: 10px; height: 10px; }
QToolButton { background: transparent; color: @ink; border: 1px solid transparent; border-radius: 6px;
  padding: 4px; }
QToolButton:hover { border-color: @hairline; }
QToolButton:focus { border-color: @accent; }
QToolButton:checked { background: @hairline; }
QSplitter::handle { background: transparent; width: 8px; }
QDialogButtonBox { dialogbuttonbox-buttons-have-icons: 0; }

QFileDialog { filedialog-backward-icon: @icon-back; backward-icon: @icon-back;
  leftarrow-icon: @icon-back; forward-icon: @icon-forward; rightarrow-icon: @icon-forward;
  filedialog-parent-directory-icon: @icon-up; filedialog-new-directory-icon: @icon-new-folder;
  filedialog-listview-icon: @icon-list; filedialog-detailedview-icon: @icon-details;
  directory-icon: @icon-folder; directory-open-icon: @icon-folder; file-icon: @icon-file;
  harddisk-icon: @icon-drive; computer-icon: @icon-drive; home-icon: @icon-folder; }
QMenuBar { background: transparent; color: @soft_ink; spacing: 2px; }
QMenuBar::item { background: transparent; padding: 8px 6px 5px 6px; border-radius: 6px; }
QMenuBar::item:selected { background: @hairline; color: @ink; }
QMenu { background: @panel; color: @ink; border: 1px solid @hairline; padding: 5px; }
QMenu::item { padding: 6px 26px 6px 22px; border-radius: 5px; }
QMenu::item:selected { background: @accent; color: @on_accent; }
QMenu::item:disabled { color: @soft_ink; background: transparent; }
QMenu::separator { height: 1px; background: @hairline; margin: 5px 8px; }
QToolTip { background: @panel; color: @ink; border: 1px solid @hairline; padding: 4px 6px; }
QProgressBar { background: @hairline; border: none; border-radius: 3px; height: 6px; }
QProgressBar::chunk { background: @accent; border-radius: 3px; }
"""
