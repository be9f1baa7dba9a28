"""Everything by name, and the files of late."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from .hands import filed, rest

Key = Qt.Key


def listed(window) -> list[str]:
    items = window.finder.list
    return [items.item(i).text().split("    ")[0] for i in range(items.count())]


def test_an_action_is_found_by_a_few_letters_and_run_with_enter(desk):
    desk.canvas.setFocus()
    desk.actions_by_id["find"].trigger()
    assert "Show all" in listed(desk)
    desk.canvas.zoom(3.0)
    QTest.keyClicks(desk.finder.field, "sho al")
    assert listed(desk) == ["Show all"]
    before = desk.canvas.view
    QTest.keyClick(desk.finder.field, Key.Key_Return)
    assert not desk.finder.isVisible()
    assert desk.canvas.view != before
    assert desk.canvas.hasFocus()


def test_what_cannot_be_done_now_is_not_offered(window):
    window.actions_by_id["find"].trigger()
    assert "Save" not in listed(window)
    assert "Open" in listed(window)
    QTest.keyClick(window.finder.field, Key.Key_Escape)
    assert not window.finder.isVisible()


def test_up_and_down_walk_the_list_round(desk):
    desk.actions_by_id["find"].trigger()
    n = desk.finder.list.count()
    QTest.keyClick(desk.finder.field, Key.Key_Up)
    assert desk.finder.list.currentRow() == n - 1
    QTest.keyClick(desk.finder.field, Key.Key_Down)
    assert desk.finder.list.currentRow() == 0
    desk.finder.leave()


def test_no_two_actions_share_a_shortcut(window):
    keys = [
        a.shortcut().toString() for a in window.actions_by_id.values() if not a.shortcut().isEmpty()
    ]
    assert len(keys) == len(set(keys))


def test_files_of_late_are_offered_the_latest_first(window, outline_file, tmp_path):
    window.filing.open_file(outline_file)
    filed(window)
    rest(window)
    window.filing.save_to(tmp_path / "kept.gpkg")
    filed(window)
    window.filing.list_recent()
    names = [a.text().split("    ")[0] for a in window.recent_menu.actions()]
    assert names == ["kept.gpkg", outline_file.name]
    (tmp_path / "kept.gpkg").unlink()
    window.filing.list_recent()
    assert len(window.recent_menu.actions()) == 1
    window.recent_menu.actions()[0].trigger()
    filed(window)
    rest(window)
    assert window.document.project.site.source == outline_file.name
