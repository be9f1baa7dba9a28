"""Every action by its id, with its shortcut, in the menus."""

from __future__ import annotations

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu

_ALWAYS = ("open", "quit", "find", "help", "first-layout", "cautions", "about", "reset-window")
_ALWAYS_BEGIN = ("theme-", "unit-", "cursor-", "size-", "autosave-", "panel-")


def needs_site(name: str) -> bool:
    """Whether an action does something only while a site is open."""
    return name not in _ALWAYS and not name.startswith(_ALWAYS_BEGIN)


def make_actions(window) -> dict[str, QAction]:
    """The window's actions, put into its menu bar and tied to its buttons."""
    actions: dict[str, QAction] = {}

    def add(menu, name: str, text: str, slot, shortcut=None) -> QAction:
        action = QAction(text, window)
        action.setObjectName(name)
        if shortcut is not None:
            action.setShortcut(QKeySequence(shortcut))
            keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
            action.setToolTip(f"{text.replace('&', '').rstrip('…')} ({keys})")
        action.triggered.connect(lambda _=False: slot())
        menu.addAction(action)
        actions[name] = action
        return action

    _add_file(window, add, actions)
    _add_edit(window, add)
    _add_ground(window, add)
    _add_rows(window, add)
    stages = window.menu.addMenu("&Stages")
    _add_compare(window, add, stages.addMenu("&Compare"))
    _add_materials(window, add, stages.addMenu("&Materials"))
    _add_water(window, add, stages.addMenu("&Water"))
    _add_planting(window, add, stages.addMenu("&Planting"))
    _add_hand_off(window, add, stages.addMenu("&Hand-off"))
    _add_view(window, add)
    _add_help(window, add)
    for button, name in (
        (window.undo_button, "undo"),
        (window.redo_button, "redo"),
        (window.stakeout_button, "handoff-files"),
    ):
        button.clicked.connect(actions[name].trigger)
        button.setToolTip(actions[name].shortcut().toString())
    return actions


def _add_file(window, add, actions) -> None:
    keys = QKeySequence.StandardKey
    file = window.menu.addMenu("&File")
    add(file, "open", "&Open…", window.filing.open, keys.Open)
    file.addSeparator()
    add(file, "save", "&Save", window.filing.save, keys.Save)
    add(file, "save-as", "Save &as…", window.filing.save_as, "Ctrl+Shift+S")
    _choices(
        window,
        add,
        file.addMenu("Save by &itself"),
        "autosave-",
        (
            ("0", "Never"),
            ("1", "Every minute"),
            ("5", "Every 5 minutes"),
            ("15", "Every 15 minutes"),
        ),
        str(window.filing.autosave.minutes()),
        lambda minutes: window.filing.choose_autosave(int(minutes)),
    )
    file.addSeparator()
    add(file, "stake-out", "Write the sta&ke-out set…", window.filing.stake_out, "Ctrl+E")
    add(file, "print", "&Print the plan…", window.print_plan, keys.Print)
    file.addSeparator()
    add(file, "close-site", "&Close the site", window.close_site, "Ctrl+W")
    add(file, "quit", "&Quit", window.close, "Ctrl+Q")
    window.recent_menu = QMenu("Open &recent", window)
    file.insertMenu(actions["save"], window.recent_menu)
    window.recent_menu.aboutToShow.connect(window.filing.list_recent)


def _add_edit(window, add) -> None:
    edit, selecting, site = window.menu.addMenu("&Edit"), window.selecting, window.site
    add(edit, "find", "&Find an action…", window.find_action, "Ctrl+K")
    add(edit, "undo", "Undo", window.undo, "Ctrl+Z")
    add(edit, "redo", "Redo", window.redo, "Ctrl+Shift+Z")
    edit.addSeparator()
    add(edit, "select-all", "Select &all rows", selecting.every, "Ctrl+A")
    add(edit, "select-none", "Select &nothing", selecting.clear, "Ctrl+Shift+A")
    add(edit, "select-rows", "Select rows by n&umber…", selecting.ask, "Ctrl+Shift+R")
    add(edit, "select-box", "Select in a &box", lambda: selecting.sketch("box"))
    add(edit, "select-lasso", "Select with a &lasso", lambda: selecting.sketch("area"))
    add(edit, "go-to-code", "&Go to a code…", selecting.ask_place, "Ctrl+G")
    add(edit, "copy-table", "&Copy rows as a table", selecting.copy_table, "Ctrl+Shift+C")
    add(edit, "copy-tally", "Copy the &tally", window.copy_tally)
    edit.addSeparator()
    add(edit, "height", "&Height of the site…", site.ask_height)
    add(edit, "survey-crs", "Survey g&rid…", site.ask_survey_crs)


def _add_ground(window, add) -> None:
    menu, ground, tool = window.menu.addMenu("&Ground"), window.ground, window.ground.tool
    add(menu, "stage-ground", "&Ground stage", lambda: window.show_stage("ground"), "Ctrl+1")
    menu.addSeparator()
    add(menu, "draw-block", "Draw a &block", ground.draw_block)
    add(menu, "import-outlines", "&Import outlines…", ground.import_outlines)
    add(menu, "draw-hole", "Cut out a &hole", ground.draw_hole)
    add(menu, "split", "&Split the block", ground.split_block)
    add(menu, "join", "&Join blocks…", ground.join_blocks)
    menu.addSeparator()
    for name, form, words in (
        ("area", "polygon", "an area"),
        ("line", "line", "a line"),
        ("point", "point", "a place"),
    ):
        add(
            menu,
            f"draw-exclusion-{name}",
            f"Keep out of {words}",
            lambda f=form: ground.draw_exclusion(f),
        )
    add(menu, "exclusions", "Add e&xclusions from a file…", window.site.add_exclusions)
    add(menu, "kind-default", "Keep this clearance for its &kind", ground.keep_as_default)
    menu.addSeparator()
    add(menu, "next-corner", "&Next corner", lambda: window.step_corner(1), "Ctrl+.")
    add(menu, "previous-corner", "&Previous corner", lambda: window.step_corner(-1), "Ctrl+,")
    add(menu, "add-corner", "&Add a corner midway", tool.add_corner_midway)
    add(menu, "remove-corner", "Take the corner &out", tool.remove_corner)
    add(menu, "copy-shape", "&Copy the shape", ground.copy_shape)
    add(menu, "move-shape", "&Move the shape", ground.move_shape)
    add(menu, "grow-shape", "Gro&w or shrink the shape…", ground.grow_shape)
    add(menu, "delete-shape", "&Delete the shape", ground.delete_shape)
    menu.addSeparator()
    add(menu, "backdrop", "Picture under the plan…", window.backdrop.choose)
    add(menu, "backdrop-toggle", "Hide or show the picture", window.backdrop.toggle, "Ctrl+B")
    add(menu, "backdrop-strength", "Strength of the picture…", window.backdrop.ask_strength)
    add(menu, "backdrop-remove", "Take the picture away", window.backdrop.remove)
    menu.addSeparator()
    terrain = window.terrain
    add(menu, "terrain", "Heights of the g&round…", terrain.choose, "Ctrl+Shift+H")
    add(menu, "terrain-contours", "C&ontours…", terrain.ask_interval)
    add(menu, "terrain-relief", "Hide or show the relief", terrain.toggle_relief)
    add(menu, "terrain-remove", "Take the heights away", terrain.remove)
    menu.addSeparator()
    snap = add(menu, "snapping", "Snap to corners and edges", lambda: None)
    snap.setCheckable(True)
    snap.setChecked(True)
    snap.toggled.connect(lambda on: setattr(window.snapper, "on", on))
    add(menu, "grid-step", "Snap to the survey grid…", window.preferences.ask_grid_step)


def _add_rows(window, add) -> None:
    menu, rows = window.menu.addMenu("&Rows"), window.rows
    add(menu, "stage-rows", "&Rows stage", lambda: window.show_stage("rows"), "Ctrl+2")
    add(menu, "rules", "Go to the r&ules", window.focus_rules, "Ctrl+R")
    menu.addSeparator()
    add(menu, "next-edge", "&Next edge of the outline", lambda: window.step_edge(1), "Ctrl+]")
    add(menu, "previous-edge", "Pre&vious edge", lambda: window.step_edge(-1), "Ctrl+[")
    add(menu, "rows-along", "Rows &along the edge", window.edges.rows_along, "Ctrl+L")
    add(menu, "bearing-through", "Rows from one &place to another", rows.bearing_through)
    add(menu, "first-row-through", "A row &through a place", rows.first_row_through)
    add(menu, "guide-line", "Rows along a drawn &line", rows.draw_guide)
    add(menu, "straight-rows", "&Straight rows again", rows.drop_guide)
    add(menu, "alley", "Put an alle&y", rows.put_alley)
    add(menu, "shared-rules", "&One set of rules for all blocks, or one each", rows.share_rules)
    menu.addSeparator()
    add(menu, "leave-out", "Leave out what is pic&ked", rows.leave_out)
    add(menu, "put-back", "Plant it a&gain", rows.put_back)
    add(menu, "add-vine", "Add a v&ine", rows.add_vine)
    add(menu, "as-rules", "Row as the rul&es say", rows.as_the_rules_say)
    add(menu, "drop-unfit", "Take &back what no longer fits", rows.drop_unfit)


def _add_compare(window, add, menu) -> None:
    def edits():
        return window.comparing.edits

    add(menu, "stage-compare", "&Compare stage", lambda: window.show_stage("compare"), "Ctrl+3")
    menu.addSeparator()
    add(menu, "compare-add", "&Add a candidate", lambda: edits().focus_field(), "Ctrl+Shift+N")
    add(menu, "compare-sweep", "Add the &best of all bearings…", lambda: edits().ask_sweep())
    add(menu, "compare-places", "Add one from two &places", lambda: edits().add_through_places())
    add(menu, "compare-edge", "Add one along the &edge", lambda: edits().add_along_edge())
    menu.addSeparator()
    add(menu, "compare-pdf", "&Write a sheet (PDF)…", lambda: window.comparing.write("pdf"))
    add(menu, "compare-xlsx", "Write a wor&kbook (XLSX)…", lambda: window.comparing.write("xlsx"))
    add(menu, "compare-csv", "Write a &table (CSV)…", lambda: window.comparing.write("csv"))
    add(menu, "compare-copy", "Cop&y the comparison", lambda: window.comparing.copy())


def _add_materials(window, add, menu) -> None:
    show = window.show_stage
    add(menu, "stage-materials", "&Materials stage", lambda: show("materials"), "Ctrl+4")
    menu.addSeparator()
    add(menu, "materials-pdf", "&Order lists (PDF)…", lambda: window.materials.write("pdf"))
    add(menu, "materials-xlsx", "&Workbook (XLSX)…", lambda: window.materials.write("xlsx"))
    add(menu, "materials-csv", "&Table (CSV)…", lambda: window.materials.write("csv"))
    add(menu, "materials-copy", "&Copy the take-off", lambda: window.materials.copy())
    menu.addSeparator()
    add(menu, "materials-settle", "&Keep as settled", lambda: window.materials.settle())
    add(menu, "materials-read", "&Read items and prices…", lambda: window.materials.read_supplies())
    add(
        menu,
        "materials-template",
        "Write the &item list…",
        lambda: window.materials.write_template(),
    )


def _add_water(window, add, menu) -> None:
    add(menu, "stage-water", "&Water stage", lambda: window.show_stage("water"), "Ctrl+5")
    menu.addSeparator()
    add(menu, "water-source", "Place the &source", lambda: window.watering.place_source())
    add(menu, "water-submain", "Draw the s&ubmain", lambda: window.watering.draw_submain())
    add(menu, "water-edge", "Submain along the &edge", lambda: window.watering.submain_along_edge())
    add(menu, "water-climate", "&Read the climate…", lambda: window.watering.read_climate())
    menu.addSeparator()
    add(menu, "water-pdf", "&Irrigation sheet (PDF)…", lambda: window.watering.write("pdf"))
    add(menu, "water-set", "&Whole set…", lambda: window.watering.write("set"))
    add(menu, "water-inp", "&Network for EPANET…", lambda: window.watering.write("inp"))
    add(menu, "water-csv", "&Table of vines (CSV)…", lambda: window.watering.write("csv"))


def _add_planting(window, add, menu) -> None:
    add(menu, "stage-planting", "&Planting stage", lambda: window.show_stage("planting"), "Ctrl+6")
    menu.addSeparator()
    for part in PLANTING_ACTIONS:
        if part is None:
            menu.addSeparator()
            continue
        name, words, method, *arguments = part
        add(
            menu,
            f"planting-{name}",
            words,
            lambda m=method, a=tuple(arguments): window.planting.act(m, *a),
        )


PLANTING_ACTIONS = (
    # name, words, what of the planting stage is called, with what
    ("lot", "&New lot…", "new_lot"),
    ("lots-read", "&Read lots…", "read_lots"),
    ("tag", "Record a &tag…", "record_tag"),
    ("tags-read", "Read tags…", "read_tags"),
    ("tags-done", "&All tags of the lot are recorded", "turn_tags_recorded"),
    ("lot-remove", "Remo&ve the lot", "remove_lot"),
    None,
    ("assign", "A&ssign a plant…", "assign"),
    ("fill", "&Fill rows from a vine…", "fill"),
    ("swap", "S&wap a lot…", "swap"),
    ("unassign", "Take the assignment &back", "take_back"),
    None,
    ("missed", "The &day was missed", "miss_day"),
    None,
    ("planted", "Record as &planted…", "record", "planted"),
    ("missing", "Record as &missing…", "record", "missing"),
    ("dead", "Record as d&ead…", "record", "dead"),
    ("replanted", "Record as planted a&gain…", "record", "replanted"),
    ("alive", "Record as seen al&ive…", "record", "alive"),
    ("checked", "Record an &inspection…", "record", "checked"),
    ("reworked", "Record as put right…", "record", "reworked"),
    ("mistake", "Record a mista&ke…", "record", "void"),
    ("forms-read", "Read &filled forms…", "read_forms"),
    ("forms-left", "Write the lines left over…", "write_leftover"),
    None,
    ("title", "Title bloc&k…", "ask_title"),
    ("plan-sheet", "Plan s&heet (PDF)…", "write", "plan-sheet.pdf"),
    ("day-cards", "Da&y cards (PDF)…", "write", "day-cards.pdf"),
    ("sheets", "Inspection sheets (PDF)…", "write", "inspection.pdf"),
    ("form", "Inspection form (CSV)…", "write", "inspection.csv"),
    ("calendar", "&Calendar (iCalendar)…", "write", "calendar.ics"),
    ("years-xlsx", "First years (XLSX)…", "write", "first-years.xlsx"),
    ("set", "Wh&ole set…", "write", "set"),
)


def _add_hand_off(window, add, menu) -> None:
    add(menu, "stage-handoff", "&Hand-off stage", lambda: window.show_stage("handoff"), "Ctrl+7")
    menu.addSeparator()
    for part in HAND_OFF_ACTIONS:
        if part is None:
            menu.addSeparator()
            continue
        name, words, page, method, *arguments = part
        add(
            menu,
            f"handoff-{name}",
            words,
            lambda p=page, m=method, a=tuple(arguments): window.handing_off.act(p, m, *a),
            "Ctrl+Shift+E" if name == "files" else None,
        )


HAND_OFF_ACTIONS = (
    # name, words, page it is done on, what of the hand-off stage is called, with what
    ("parts", "Hand off the &selected rows alone", "points", "take_parts"),
    ("whole-site", "Hand off the &whole site", "points", "take_whole_site"),
    None,
    ("grid", "Survey &grid of the hand-off…", "grid", "ask_grid"),
    ("control-add", "&Add a control point…", "grid", "add_control"),
    ("control-read", "Read &control points…", "grid", "read_control"),
    ("control-change", "Chan&ge the control point…", "grid", "change_control"),
    ("control-leave", "&Leave the control point out, or use it", "grid", "leave_control"),
    ("control-remove", "Take the control point awa&y", "grid", "remove_control"),
    None,
    ("files", "&Files of the hand-off", "files", "show"),
    ("write", "Write the &hand-off…", "files", "write"),
    ("stakes", "Write the stake-out se&t there", "files", "write_stakes"),
    ("verify", "&Verify a file…", "files", "verify"),
    ("print", "&Print the plan of the hand-off…", "files", "print_plan"),
    None,
    ("staked-read", "&Read measured points…", "staked", "read"),
    ("staked-how", "H&ow measured points are read…", "staked", "ask_how"),
    ("staked-accept", "Acc&ept what was staked…", "staked", "accept"),
    ("staked-adopt", "A&dopt the measured ends…", "staked", "adopt"),
    ("staked-back", "Lay rows &by the rules again", "staked", "take_back"),
    None,
    ("staked-report", "Report of what was stak&ed…", "staked", "write_report"),
    ("staked-pdf", "As staked (P&DF)…", "staked", "write_report", ".pdf"),
    ("staked-csv", "As staked (&CSV)…", "staked", "write_report", ".csv"),
    ("staked-geojson", "As staked (Geo&JSON)…", "staked", "write_report", ".geojson"),
    ("staked-json", "As staked (&JSON)…", "staked", "write_report", ".json"),
)


def _add_view(window, add) -> None:
    view = window.menu.addMenu("&View")
    add(view, "fit", "Show &all", lambda: window.lookout.fit(), "Home")
    add(view, "zoom-selection", "Show the &selection", window.selecting.zoom, "Ctrl+Home")
    add(view, "zoom-in", "Zoom &in", lambda: window.lookout.zoom(1.5), "Ctrl++")
    add(view, "zoom-out", "Zoom &out", lambda: window.lookout.zoom(1 / 1.5), "Ctrl+-")
    add(view, "measure", "&Measure", window.measure.begin, "Ctrl+M")
    view.addSeparator()
    _choices(
        window,
        add,
        view.addMenu("&Theme"),
        "theme-",
        (("system", "As the system"), ("paper", "Paper"), ("lamp", "Lamp")),
        str(window.settings.value("theme", "system")),
        window.preferences.choose_theme,
    )
    _choices(
        window,
        add,
        view.addMenu("&Lengths in"),
        "unit-",
        (("m", "Metres"), ("ft", "Feet"), ("usft", "US survey feet")),
        window.unit,
        window.preferences.choose_unit,
    )
    _choices(
        window,
        add,
        view.addMenu("&Coordinates in"),
        "cursor-",
        (("survey", "The survey grid"), ("wgs84", "WGS 84 degrees"), ("frame", "The site frame")),
        str(window.settings.value("cursor", "survey")),
        lambda system: window.settings.setValue("cursor", system),
    )
    _choices(
        window,
        add,
        view.addMenu("Si&ze of everything"),
        "size-",
        tuple((str(n), f"{n} %") for n in (100, 125, 150, 200, 250, 300)),
        str(window.settings.value("size", "100")),
        window.preferences.choose_size,
    )
    view.addSeparator()
    for name, text in (("strip", "Row strip"), ("tally", "Tally"), ("findings", "Findings")):
        panel = add(view, f"panel-{name}", f"{text} panel", lambda: None)
        panel.setCheckable(True)
        panel.setChecked(str(window.settings.value(f"panels/{name}", "true")) != "false")
        panel.toggled.connect(lambda on, n=name: window.panels.show(n, on))
    add(view, "reset-window", "Window as at the &first start", window.panels.reset)


def _choices(window, add, menu, prefix: str, choices, current: str, choose) -> None:
    """Actions of which one is on."""
    group = QActionGroup(window)
    for name, text in choices:
        action = add(menu, f"{prefix}{name}", text, lambda n=name: choose(n))
        action.setData(f"{menu.title().replace('&', '')}: {text}")  # its name away from its menu
        action.setCheckable(True)
        action.setChecked(name == current)
        group.addAction(action)


def _add_help(window, add) -> None:
    menu = window.menu.addMenu("&Help")
    add(menu, "help", "&Help…", window.show_help, "F1")
    add(
        menu,
        "first-layout",
        "A &first layout, step by step",
        lambda: window.show_help("first-layout"),
    )
    menu.addSeparator()
    add(menu, "cautions", "&Cautions", window.show_cautions)
    add(menu, "about", "&About Layout Desk", window.show_about)
