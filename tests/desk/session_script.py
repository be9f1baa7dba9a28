"""One phase of a full session at the real window, as a process of its own.

`python -m tests.desk.session_script PHASE FOLDER` starts the program as a person does and drives it by
events. It says what came of it in lines of `word = JSON`, the last of them `done`; the phases "begin"
and "go-on" then wait to be killed. Journal and settings are where XDG_STATE_HOME and XDG_CONFIG_HOME
say, so that they are not the user's.
"""

from __future__ import annotations

import json
import os
import sys
import traceback
from pathlib import Path

import numpy as np
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton

from layoutdesk.desk import choosing
from layoutdesk.desk.start import make_application, open_window
from layoutdesk.desk.window import DeskWindow
from layoutdesk.formats.project_file import revision_of
from layoutdesk.session.journal import usual_folder
from tests.desk.hands import (
    CTRL,
    LEFT,
    PLAIN,
    field,
    filed,
    let_go,
    move_hand,
    notices,
    pixel_of,
    pump_until,
    rest,
    type_into,
)

Key = Qt.Key
ZONE, EAST_M, NORTH_M = 32634, 561_300.0, 4_492_800.0
CORNERS_M = ((0, 0), (182, 14), (194, 158), (88, 173), (-9, 142))
"""An invented outline of 3 ha, from its first corner. [m]"""


def outline_file(folder: Path) -> Path:
    """The outline as a surveyor might send it: GeoJSON on a UTM grid."""
    ring = [(EAST_M + x, NORTH_M + y) for x, y in (*CORNERS_M, CORNERS_M[0])]
    path = folder / "lower terrace.geojson"
    crs = {"type": "name", "properties": {"name": f"urn:ogc:def:crs:EPSG::{ZONE}"}}
    shape = {"type": "Polygon", "coordinates": [ring]}
    one = {"type": "Feature", "properties": {}, "geometry": shape}
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": [one]}))
    return path


def say(word: str, value) -> None:
    print(f"{word} = {json.dumps(value)}", flush=True)


def say_state(window) -> None:
    """What the project is, for the next process to be compared with."""
    project, tally = window.document.project, window.answer.tally
    say("revision", revision_of(project))
    say("tally", [tally.vines, tally.rows, tally.end_posts])
    say("state", window.state.text())


def answer_dialogs(*paths: Path) -> None:
    """Stand for the system's file dialog, which no event of ours reaches: these paths in turn."""
    left = list(paths)
    choosing.chosen_path = lambda *a, **k: left.pop(0)


def press(window, key, modifiers=CTRL) -> None:
    QTest.keyClick(window.canvas, key, modifiers)


def click(window, x_m: float, y_m: float) -> None:
    QTest.mouseClick(window.canvas, LEFT, PLAIN, pixel_of(window, x_m, y_m))


def free_of_cards(window, at: QPoint) -> bool:
    """Whether the plan itself is under a pixel of the canvas."""
    return window.canvas.childAt(at) is None


# what the person does in the first process


def import_outline(window, folder: Path) -> None:
    answer_dialogs(outline_file(folder), folder / "lower terrace.gpkg")
    press(window, Key.Key_O)
    filed(window)
    rest(window)
    say("hectares", round(window.document.project.blocks[0].outline.area / 1e4, 1))


def drag_a_corner(window) -> None:
    press(window, Key.Key_1)
    corners = np.array(window.document.project.blocks[0].outline.exterior.coords)[:-1]
    click(window, *(corners[0] + corners[1]) / 2)
    held = window.ground.tool.held
    assert held is not None, "a click on an edge takes the block in hand"
    at = pixel_of(window, *corners[int(np.argmax(corners.sum(axis=1)))])
    QTest.mousePress(window.canvas, LEFT, PLAIN, at)
    for step in range(1, 7):
        move_hand(window, at - QPoint(3 * step, -2 * step))
        QApplication.processEvents()
    let_go(window, at - QPoint(18, -12))
    rest(window)
    say("corner moved", window.document.undo_label)


def draw_a_pole(window) -> None:
    box = window.ground_card.kind_box
    box.setFocus()
    QTest.keyClicks(box, "pole")
    window.actions_by_id["draw-exclusion-point"].trigger()
    middle = window.document.project.blocks[0].outline.representative_point()
    click(window, middle.x + 21.3, middle.y - 13.7)
    rest(window)
    notices(window)
    say("exclusions", [[e.kind, e.clearance_m] for e in window.document.project.exclusions])


def set_rules(window) -> None:
    press(window, Key.Key_2)
    for rule, text in (
        ("row_spacing_m", "2.6"),
        ("vine_spacing_m", "1.4 m"),
        ("headland_m", "27ft"),
        ("first_number", "101"),
    ):
        type_into(window, rule, text)
    choose(window, "start_corner", 2)
    rest(window)
    rules = window.document.project.blocks[0].rules
    say("rules", [rules.row_spacing_m, rules.vine_spacing_m, rules.headland_m])
    corner = window.paragraph.fields["start_corner"].text()
    say("numbering", [rules.first_number, corner])


def choose(window, rule: str, index: int) -> None:
    """Choose by keyboard from a value's menu."""
    value = field(window, rule)
    wanted = value.value.choices[index]
    QTest.keyClick(value, Key.Key_Space)
    menu = QApplication.activePopupWidget()
    assert menu is not None, f"{rule} offers its choices"
    for _ in range(12):
        action = menu.activeAction()
        if action is not None and action.text().startswith(wanted):
            break
        QTest.keyClick(menu, Key.Key_Down)
    QTest.keyClick(menu, Key.Key_Return)


def leave_out_a_row_and_a_vine(window) -> None:
    press(window, Key.Key_Home, PLAIN)
    rest(window)
    plan = window.answer.plans[0]
    x, y = plan.segment_ends_m[plan.n_segments // 2].mean(axis=0)
    click(window, x, y)
    press(window, Key.Key_Delete, PLAIN)
    rest(window)
    say("rows after", window.answer.tally.rows)
    plan = window.answer.plans[0]
    x, y = plan.vines.xy_m[len(plan.vines) // 3]
    window.canvas.go_to(x, y)
    rest(window)
    assert free_of_cards(window, pixel_of(window, x, y))
    click(window, x, y)
    assert window.rows.picked is not None, "a click on a vine takes it in hand"
    say("picked", window.rows.picked.kind)
    before = window.answer.tally.vines
    press(window, Key.Key_Delete, PLAIN)
    rest(window)
    say("vines fewer", before - window.answer.tally.vines)


def begin(window, folder: Path) -> None:
    """From the outline to a saved project, and one edit more that only the journal has."""
    import_outline(window, folder)
    drag_a_corner(window)
    draw_a_pole(window)
    set_rules(window)
    leave_out_a_row_and_a_vine(window)
    press(window, Key.Key_S)
    filed(window)
    rest(window)
    say("saved", revision_of(window.document.project))
    type_into(window, "vine_spacing_m", "1.25")
    rest(window)
    say_state(window)
    kept(window)


def kept(window) -> None:
    """Wait until the journal has the project as it is."""
    from layoutdesk.formats.project_file import open_project

    def is_kept() -> bool:
        files = list(usual_folder().glob("*.gpkg"))
        return bool(files) and open_project(files[0]) == window.document.project

    assert window.journal.wait()
    pump_until(is_kept, "the journal has the work", 10)


# what the person does after the end that was no end


def take_up(window) -> None:
    card = window.recovery
    pump_until(lambda: not card.isHidden(), "left work is offered", 10)
    (go_on,) = [b for b in card.findChildren(QPushButton) if b.text() == "Go on"]
    say("offered", go_on.accessibleName())
    QTest.mouseClick(go_on, LEFT)
    filed(window)
    rest(window)
    say_state(window)


def go_on(window, folder: Path) -> None:
    """Take up what was left, and be ended again before the journal had time to write anything."""
    take_up(window)


def hand_off(window, folder: Path) -> None:
    """Take it up once more, save it, write the set on the hand-off stage, and quit."""
    take_up(window)
    press(window, Key.Key_S)
    filed(window)
    say("state", window.state.text())
    press(window, Key.Key_7)
    window.handing_off.turn_to("files")
    card = window.handoff_card
    pump_until(lambda: bool(card.text.text()), "the set is told", 10)
    card.folder.setFocus()
    QTest.keyClicks(card.folder, str(folder / "set"))
    say("preview", card.text.text())
    QTest.mouseClick(card.write, LEFT)
    filed(window)
    say("told", window.work.text())
    press(window, Key.Key_Q)
    pump_until(lambda: not window.isVisible(), "the window is closed", 10)


PHASES = {"begin": begin, "go-on": go_on, "hand-off": hand_off}


def play(phase: str, folder: Path) -> None:
    """Do a phase; a process that was not killed ends with 1 where it failed."""
    try:
        (window,) = [w for w in QApplication.topLevelWidgets() if isinstance(w, DeskWindow)]
        window.activateWindow()
        pump_until(window.isActiveWindow, "the window is active", 10)
        say("platform", QApplication.platformName())
        PHASES[phase](window, folder)
        said = notices(window)
        assert not said, said
        print("done", flush=True)
    except BaseException:
        traceback.print_exc()
        sys.stderr.flush()
        os._exit(1)


if __name__ == "__main__":
    make_application()
    QTimer.singleShot(0, lambda: play(sys.argv[1], Path(sys.argv[2])))
    sys.exit(open_window())
