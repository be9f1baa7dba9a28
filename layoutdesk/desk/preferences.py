"""How everything is shown: theme, units, size, and the grid that places snap to."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication

from ..core.model import InputProblem
from .asking import Field
from .look import LAMP, PAPER, THEMES, Theme, wear


class Preferences:
    """What a person chooses once; all but the unit is remembered."""

    def __init__(self, window):
        self.window = window

    # theme

    def wanted_theme(self) -> Theme:
        """The theme that was chosen, or the system's."""
        name = self.window.settings.value("theme", "system")
        if name in THEMES:
            return THEMES[name]
        hints = QGuiApplication.styleHints()
        dark = hasattr(hints, "colorScheme") and hints.colorScheme() == Qt.ColorScheme.Dark
        return LAMP if dark else PAPER

    def follow_system(self) -> None:
        self.wear(self.wanted_theme())

    def choose_theme(self, name: str) -> None:
        """Wear "paper", "lamp" or what the system asks for."""
        self.window.settings.setValue("theme", name)
        self.wear(self.wanted_theme())

    def wear(self, theme: Theme) -> None:
        """Show the program in a theme."""
        w = self.window
        w.theme = theme
        wear(QApplication.instance(), theme)
        w.canvas.wear(theme)
        w.strip.theme = theme
        w.strip.update()
        w.works.wear(theme)
        if w.help_window is not None:
            w.help_window.wear(theme)
        w.show_answer()

    # units and size

    def choose_unit(self, unit: str) -> None:
        """Show lengths in "m", "ft" or "usft"."""
        w = self.window
        w.unit = w.canvas.unit = w.strip.unit = unit
        w.canvas.update()
        w.strip.update()
        w.show_rules()
        w.edges.refresh()
        w.show_answer()
        w.works.follow()

    def choose_size(self, percent: str) -> None:
        """Remember how large everything is; the next start shows it so."""
        w = self.window
        room, ratio = w.screen().availableGeometry(), w.devicePixelRatioF()
        most = min(room.width() / w.minimumWidth(), room.height() / w.minimumHeight())
        most_percent = int(100 * most * ratio)
        if int(percent) > max(most_percent, 100):
            w.filing.complain(
                f"At {percent} % the window would not fit this screen: choose {most_percent} % or less."
            )
            return
        w.settings.setValue("size", percent)
        w.filing.say(f"Everything is shown at {percent} % from the next start on.")

    # snapping

    def ask_grid_step(self) -> None:
        """Ask for the step of the survey grid that places snap to."""
        w = self.window

        def take(texts):
            try:
                step = float(texts["step"].replace(",", ".") or 0)
            except ValueError:
                raise InputProblem("Write a number such as 1 or 0.5, or 0 for none.") from None
            if not 0 <= step <= 10_000:
                raise InputProblem("The step must lie between 0 and 10000.")
            w.settings.setValue("grid_step", step)

        w.site.ask(
            "Snap to the survey grid",
            f"Places fall on whole steps of the grid, in {w.survey.grid.unit} units; 0 for none.",
            (Field("step", "Step", str(w.settings.value("grid_step", 0))),),
            "Snap so",
            take,
        )
