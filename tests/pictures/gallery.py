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

    from tests.desk.hands import pump_until

    canvas = getattr(window, "canvas", None)
    for _ in range(3):
        QCoreApplication.processEvents()
    if canvas is not None:  # neither stretched nor rough
        pump_until(
            lambda: not (canvas._catch_up.isActive() or canvas._rest.isActive()), "it is painted"
        )
    window.grab().save(str(path))
    return path


def _pictures(window, folder: Path, scratch: Path, end: str) -> Iterator[Path]:
    """Every state of one window, in the order a newcomer meets them."""
    from tests.desk.hands import filed, open_sample_named

    def keep(what: str, of=window) -> Path:
        return _keep(of, folder / f"{what}-{end}.png")

    yield keep("welcome")
    unplaced = scratch / "corners.csv"
    unplaced.write_text(CORNERS_WITHOUT_CRS, encoding="utf-8")
    window.filing.open_file(unplaced)
    filed(window)
    yield keep("question")
    window.filing.leave_question()
    for site in SITES:
        open_sample_named(window, site)
        yield keep(f"rows-{site}")
        yield from _looking_nearer(window, keep, site)
    open_sample_named(window, SITES[0])
    yield from _on_the_ground(window, keep)
    yield from _picked_and_special(window, keep)
    yield from _comparing(window, keep)
    yield from _ordering(window, keep)
    yield from _watering(window, keep)
    yield from _planting(window, keep)
    yield from _handing_off(window, keep, scratch)
    yield from _asked_and_told(window, keep)
    yield from _turning(window, keep)
    yield from _curved(window, keep)


def _ordering(window, keep) -> Iterator[Path]:
    """The materials stage: a take-off, a line picked, a value refused."""
    from tests.desk.hands import pump_until, rest

    window.show_stage("materials")
    work = window.materials
    pump_until(lambda: work.counting.is_done, "the take-off is counted")
    rest(window)
    yield keep("materials")
    work.own.pick(work.side.table.lines[0].key)
    yield keep("materials-line")
    work.own.put_down()
    work.type("line_post_driven_m", "2.2")
    yield keep("materials-refused")
    window.show_stage("rows")
    rest(window)


def _watering(window, keep) -> Iterator[Path]:
    """The water stage: all of it, and near to the vines."""
    from tests.desk.hands import pump_until, rest

    window.show_stage("water")
    pump_until(lambda: window.watering.answer is not None, "the drip system is designed")
    rest(window)
    yield keep("water")
    place = window.answer.plans[0].segment_ends_m[40, 1]
    window.canvas.go_to(*place.tolist())
    rest(window)
    yield keep("water-near")
    window.canvas.fit()
    window.show_stage("rows")
    rest(window)


def _planting(window, keep) -> Iterator[Path]:
    """The planting stage: empty, then every page of a site that is planted, and a card that asks."""
    from layoutdesk.desk.planting_pages import PAGES
    from tests.desk.hands import pump_until, rest

    def planned() -> None:
        rest(window)
        pump_until(lambda: window.planting.planning.is_done, "the planting is worked out")
        rest(window)

    before = window.document.project
    window.show_stage("planting")
    planned()
    yield keep("planting-empty")
    project = _planted(before, window.answer.plans)
    window.document.edit("planting", lambda _: project)
    planned()
    for page in PAGES:
        window.planting.turn_to(page.name)
        planned()
        yield keep(f"planting-{page.name}")
    place = window.answer.plans[0].vines.xy_m[420].tolist()
    window.canvas.go_to(*place)
    window.planting.turn_to("record")
    planned()
    window.planting.hold_at(*place)
    yield keep("planting-vine")
    window.actions_by_id["planting-dead"].trigger()
    yield keep("planting-card")
    window.site.leave()
    window.canvas.fit()
    window.document.edit("planting", lambda _: before)
    window.show_stage("rows")
    rest(window)


def _planted(project, plans):
    """The project with two lots in its rows, some of them planted, a few lost and one inspected."""
    import datetime
    from dataclasses import replace

    from layoutdesk.core.model import Lot, Plant, Planting, Water
    from layoutdesk.core.model.water import Demand
    from layoutdesk.session.assigning import typed_parts, with_assignment
    from layoutdesk.session.recording_texts import with_recorded_texts

    day = datetime.date(2026, 4, 6)
    lots = (
        Lot("26-A", Plant("Furmint", "F 12", "5BB"), delivered=9000, tags_recorded=True),
        Lot("26-B", Plant("Kadarka"), grown="bare root", delivered=1200, tags_recorded=True),
    )
    block = project.blocks[0].name
    project = replace(
        project, planting=Planting(lots=lots), water=Water(demand=Demand(planting=day))
    )
    for where, lot, use in (
        (block, lots[0], "crop"),
        (f"{block} every 9th vine", lots[1], "buffer"),
    ):
        project = with_assignment(project, typed_parts(where, project), lot.plant, lot.name, use)
    said = {"by": "Ilka", "note": "", "lot": "", "although": ""}
    for event, parts, more in (
        ("planted", f"{block} rows 1-40", {}),
        ("dead", f"{block} row 12 vines 3-9", {"cause": "drought"}),
        ("checked", f"{block} row 20 every 9th vine", {"faults": "firm"}),
    ):
        texts = {**said, "parts": parts, "day": day.isoformat(), **more}
        project = with_recorded_texts(project, plans, event, texts, f"{day}T18:00:00+02:00")
    return project


def _looking_nearer(window, keep, site: str) -> Iterator[Path]:
    from tests.desk.hands import rest

    canvas = window.canvas
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
    rest(window)


def _on_the_ground(window, keep) -> Iterator[Path]:
    """The ground stage: nothing, a block, an exclusion and a sketch in hand."""
    from layoutdesk.session.reshaping import ShapeId
    from tests.desk.hands import rest

    window.show_stage("ground")
    yield keep("ground")
    tool, block = window.ground.tool, window.document.project.blocks[0]
    tool.hold(ShapeId("block", block.name), (0, 2))
    yield keep("ground-corner")
    tool.hold(ShapeId("block", block.name), None, (0, 2))
    yield keep("ground-edge")
    if window.document.project.exclusions:
        tool.hold(ShapeId("exclusion", 0))
    yield keep("ground-exclusion")
    tool.hold(None)
    window.actions_by_id["draw-block"].trigger()
    x0, y0, x1, y1 = block.outline.bounds
    for place in ((x0, y1), (x0 + 0.2 * (x1 - x0), y1), (x0 + 0.25 * (x1 - x0), y0)):
        window.canvas.tool.add(place)
    window.canvas.tool.hover(x0, y0 + 0.1 * (y1 - y0))
    yield keep("ground-sketch")
    window._type_place("over there")
    yield keep("ground-sketch-refused")
    window.take_tool(None)
    window.show_stage("rows")
    rest(window)


def _picked_and_special(window, keep) -> Iterator[Path]:
    """The rows stage: an edge, a row, a vine, many rows; alleys and what is left out."""
    from layoutdesk.session.row_edits import with_alley
    from layoutdesk.session.selection import rows_named
    from layoutdesk.session.special_rows import pick
    from tests.desk.hands import rest

    window.step_edge(1)
    yield keep("rows-edge")
    window.edges.let_go()
    plan = window.answer.plans[0]
    middle = plan.segment_ends_m[60].mean(axis=0)
    window.rows.hold(pick(plan, *middle.tolist(), 0.5, marks=False))
    yield keep("rows-picked")
    window.rows.let_go()
    window.selecting.take(rows_named(window.answer.plans, "20-50"))
    yield keep("rows-selected")
    window.rows.leave_out()
    name, (x, y) = plan.block.name, plan.segment_ends_m[90].mean(axis=0).tolist()
    window.document.edit("alley", lambda p: with_alley(p, name, x, y))
    rest(window)
    yield keep("rows-special")
    vine = window.answer.plans[0].vines.xy_m[400]
    window.canvas.go_to(*vine.tolist())
    window.canvas.zoom(3.0)
    window.rows.hold_at(*vine.tolist())
    rest(window)
    yield keep("rows-vine")
    window.rows.let_go()
    while window.document.undo_label:
        window.undo()
    window.canvas.fit()
    rest(window)


def _comparing(window, keep) -> Iterator[Path]:
    """The compare stage: the plan alone, candidates, a line walked to, the curves read, refused."""
    from PySide6.QtCore import QPointF, Qt
    from PySide6.QtTest import QTest

    from tests.desk.hands import pump_until, rest

    def counted() -> None:
        pump_until(lambda: window.comparing.counting.is_done, "the comparison is counted")
        pump_until(window.compare_stage.plans.may_paint, "the plans are painted finely")
        rest(window)

    stage, edits = window.compare_stage, window.comparing.edits
    window.show_stage("compare")
    counted()
    yield keep("compare-alone")
    for text in ("52", "96", "140, 2.2 x 1.2"):
        edits.add_typed(text)
    counted()
    yield keep("compare")
    edits.add_typed("96, wide")
    stage.table.view.setFocus()
    QTest.keyClick(stage.table.view, Qt.Key.Key_Down)
    yield keep("compare-refused")
    stage.refuse("")
    stage.curves.setFocus()
    QTest.keyClick(stage.curves, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    for _ in range(9):
        QTest.keyClick(stage.curves, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    yield keep("compare-curves")
    for text in ("20", "75", "118"):
        edits.add_typed(text)
    window.actions_by_id["undo"].trigger()
    stage.plans.zoom(6.0, QPointF(0.6 * stage.plans.view.width, 0.5 * stage.plans.view.height))
    counted()
    yield keep("compare-near")
    stage.plans.fit()
    counted()
    edits.ask_sweep()
    yield keep("compare-sweep")
    window.site.leave()
    while window.document.undo_label:
        window.undo()
    window.show_stage("rows")
    rest(window)


def _handing_off(window, keep, scratch: Path) -> Iterator[Path]:
    """The hand-off stage: every page, ground coordinates, a folder named, measured points good and turned."""
    from tests.desk.handoff_hands import field_file, worked_out

    work = window.handing_off
    window.show_stage("handoff")
    for page in ("points", "grid", "files", "staked"):
        work.turn_to(page)
        worked_out(window)
        yield keep(f"handoff-{page}")
    work.turn_to("files")
    window.handoff_card.folder.setText(str(scratch / "stake-out"))
    yield keep("handoff-folder")
    window.handoff_card.folder.clear()
    work.turn_to("grid")
    work.edits.type("coordinates", "ground")
    _with_control(window)
    worked_out(window)
    yield keep("handoff-ground")
    work.edits.type("coordinates", "calibrated")
    worked_out(window)
    yield keep("handoff-calibrated")
    while window.document.undo_label:
        window.undo()
    worked_out(window)
    for name, moved in (("measured", lambda en: en), ("turned", _turned)):
        path = field_file(window, scratch / f"{name}.csv", moved, noise_m=0.02)
        work.turn_to("staked")
        work.staked.read_file(path)
        worked_out(window)
        yield keep(f"handoff-{name}")
    work.side.tables["worst"].hold(0)
    work.side.tables["worst"].wanted.emit(0)
    worked_out(window)
    yield keep("handoff-worst")
    work.staked.staking.read(None)
    work.turn_to("points")
    window.canvas.fit()
    window.show_stage("rows")


def _turned(en):
    """Points turned by a third of a degree about their middle."""
    import numpy as np

    a = np.radians(0.33)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return (en - en.mean(axis=0)) @ turn + en.mean(axis=0)


def _with_control(window) -> None:
    """Three control points round the first block, measured a hand's breadth off, one of them amiss."""
    from layoutdesk.core.model import ControlPoint
    from layoutdesk.session.control_points import with_control

    x0, y0, x1, y1 = window.document.project.blocks[0].outline.bounds
    places = window.survey.to_survey([[x0, y0], [x1, y0], [x1, y1]]).round(3).tolist()
    points = [
        ControlPoint(f"K{i}", e, n, None, round(e + 0.11, 3), round(n - 0.07 + 0.1 * (i == 3), 3))
        for i, (e, n) in enumerate(places, 1)
    ]
    window.document.edit("control points", lambda p: with_control(p, points))


def _asked_and_told(window, keep) -> Iterator[Path]:
    """A value that is refused, a notice, a card that asks, actions by name, and the help."""
    from PySide6.QtCore import QCoreApplication, Qt

    from tests.desk.hands import notices, rest, type_into

    type_into(window, "row_spacing_m", "wide", Qt.Key.Key_Tab)
    rest(window)
    yield keep("refused")
    window.canvas.setFocus()
    window.show_rules()
    window.show_cautions()
    yield keep("notice")
    notices(window)
    window.actions_by_id["survey-crs"].trigger()
    yield keep("ask")
    window.site.leave()
    window.actions_by_id["find"].trigger()
    QCoreApplication.processEvents()
    yield keep("find")
    window.finder.close()
    window.show_help("rows")
    yield keep("help", window.help_window)
    window.show_help("keys")
    yield keep("help-keys", window.help_window)
    window.help_window.close()
    window.activateWindow()
    rest(window)


def _turning(window, keep) -> Iterator[Path]:
    from tests.desk.hands import follow, let_go, press_grip, rest, turn_to

    window.canvas.setFocus()
    press_grip(window)
    turn_to(window, window.canvas.handle[2] + 25)
    follow(window)
    yield keep("drag")
    let_go(window)
    rest(window)
    window.undo()
    rest(window)


def _curved(window, keep) -> Iterator[Path]:
    """Rows along a bent guide line across the first block."""
    import numpy as np

    from layoutdesk.session.row_edits import with_guide
    from tests.desk.hands import rest

    block = window.document.project.blocks[0]
    a = np.radians(block.rules.bearing_deg)
    along, across = np.array([np.sin(a), np.cos(a)]), np.array([np.cos(a), -np.sin(a)])
    x0, y0, x1, y1 = block.outline.bounds
    half = 0.5 * np.hypot(x1 - x0, y1 - y0)
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    bend = [middle - half * along, middle + 0.2 * half * across, middle + half * along]
    window.document.edit(
        "guide line", lambda p: with_guide(p, block.name, [tuple(q.tolist()) for q in bend])
    )
    rest(window)
    yield keep("rows-curved")


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
