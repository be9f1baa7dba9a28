"""Every action by its id, with its shortcut, in the menus."""

from __future__ import annotations

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu

NEEDS_SITE = (
    "save",
    "save-as",
    "stake-out",
    "close-site",
    "exclusions",
    "height",
    "survey-crs",
    "rules",
    "next-edge",
    "previous-edge",
    "rows-along",
    "measure",
    "fit",
    "zoom-in",
    "zoom-out",
)
"""Actions that do something only while a site is open."""


def make_actions(window) -> dict[str, QAction]:
    """The window's actions, put into its menu bar and tied to its buttons."""
    actions: dict[str, QAction] = {}

    def add(menu, name: str, text: str, slot, shortcut=None) -> QAction:
        action = QAction(text, window)
        action.setObjectName(name)
        if shortcut is not None:
            action.setShortcut(QKeySequence(shortcut))
            action.setToolTip(f"{text} ({action.shortcut().toString()})")
        action.triggered.connect(lambda _=False: slot())
        menu.addAction(action)
        actions[name] = action
        return action

    keys = QKeySequence.StandardKey
    file = window.menu.addMenu("&File")
    add(file, "open", "&Open…", window.filing.open, keys.Open)
    file.addSeparator()
    add(file, "save", "&Save", window.filing.save, keys.Save)
    add(file, "save-as", "Save &as…", window.filing.save_as, "Ctrl+Shift+S")
    file.addSeparator()
    add(file, "stake-out", "Write the sta&ke-out set…", window.filing.stake_out, "Ctrl+E")
    file.addSeparator()
    add(file, "close-site", "&Close the site", window.close_site, "Ctrl+W")
    add(file, "quit", "&Quit", window.close, "Ctrl+Q")
    window.recent_menu = QMenu("Open &recent", window)
    file.insertMenu(actions["save"], window.recent_menu)
    window.recent_menu.aboutToShow.connect(window.filing.list_recent)
    edit = window.menu.addMenu("&Edit")
    add(edit, "find", "&Find an action…", window.find_action, "Ctrl+K")
    add(edit, "undo", "Undo", window.undo, "Ctrl+Z")
    add(edit, "redo", "Redo", window.redo, "Ctrl+Shift+Z")
    edit.addSeparator()
    add(edit, "next-edge", "&Next edge of the outline", lambda: window.edges.step(1), "Ctrl+]")
    add(edit, "previous-edge", "Pre&vious edge", lambda: window.edges.step(-1), "Ctrl+[")
    add(edit, "rows-along", "Rows &along the edge", window.edges.rows_along, "Ctrl+L")
    edit.addSeparator()
    add(edit, "exclusions", "Add e&xclusions from a file…", window.site.add_exclusions)
    add(edit, "height", "&Height of the site…", window.site.ask_height)
    add(edit, "survey-crs", "Survey &grid…", window.site.ask_survey_crs)
    edit.addSeparator()
    add(edit, "rules", "Go to the &rules", window.focus_rules, "Ctrl+R")
    view = window.menu.addMenu("&View")
    add(view, "fit", "Show &all", window.canvas.fit, "Home")
    add(view, "zoom-in", "Zoom &in", lambda: window.canvas.zoom(1.5), "Ctrl++")
    add(view, "zoom-out", "Zoom &out", lambda: window.canvas.zoom(1 / 1.5), "Ctrl+-")
    add(view, "measure", "&Measure", window.measure.begin, "Ctrl+M")
    view.addSeparator()
    themes = view.addMenu("&Theme")
    for name, text in (("system", "As the system"), ("paper", "Paper"), ("lamp", "Lamp")):
        add(themes, f"theme-{name}", text, lambda n=name: window.choose_theme(n))
    units = view.addMenu("&Lengths in")
    for name, text in (("m", "Metres"), ("ft", "Feet"), ("usft", "US survey feet")):
        add(units, f"unit-{name}", text, lambda n=name: window.choose_unit(n))
    for prefix, current in (
        ("theme-", window.settings.value("theme", "system")),
        ("unit-", window.unit),
    ):
        group = QActionGroup(window)
        for name, action in actions.items():
            if name.startswith(prefix):
                action.setCheckable(True)
                action.setChecked(name == f"{prefix}{current}")
                group.addAction(action)
    help_menu = window.menu.addMenu("&Help")
    add(help_menu, "help", "&Help…", window.show_help, "F1")
    add(
        help_menu,
        "first-layout",
        "A &first layout, step by step",
        lambda: window.show_help("first-layout"),
    )
    help_menu.addSeparator()
    add(help_menu, "cautions", "&Cautions", window.show_cautions)
    add(help_menu, "about", "&About Layout Desk", window.show_about)
    for button, name in (
        (window.undo_button, "undo"),
        (window.redo_button, "redo"),
        (window.stakeout_button, "stake-out"),
    ):
        button.clicked.connect(actions[name].trigger)
        button.setToolTip(f"{actions[name].shortcut().toString()}")
    return actions
