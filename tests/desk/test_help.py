"""The help window: reading, looking for words, going back, and that it tells of this window."""

from __future__ import annotations

import re

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QKeySequence, QTextDocument, QTextTable
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu, QPushButton

from layoutdesk.desk.finder import plain_text
from layoutdesk.desk.look import LAMP, PAPER, SANS, SERIF, contrast
from layoutdesk.session.help_pages import ORDER, page, title
from tests.desk.handoff_hands import to_handoff
from tests.desk.hands import field, open_sample_named, pump_until, rest

ALT = Qt.KeyboardModifier.AltModifier


@pytest.fixture
def help_window(window):
    window.show_help()
    pump_until(window.help_window.isActiveWindow, "the help window is active", 5)
    return window.help_window


def listed(help_window) -> list[str]:
    return [help_window.list.item(i).text() for i in range(help_window.list.count())]


def colours(help_window, anchors: bool) -> set[str]:
    """Colours of the page's letters: those of links, or all others."""
    found, block = set(), help_window.browser.document().begin()
    while block.isValid():
        at = block.begin()
        while not at.atEnd():
            form = at.fragment().charFormat()
            if form.isAnchor() == anchors:
                found.add(form.foreground().color().name().upper())
            at += 1
        block = block.next()
    return found


def test_f1_opens_the_first_layout_without_stopping_the_desk(window):
    window.actions_by_id["help"].trigger()
    assert window.actions_by_id["help"].shortcut() == QKeySequence("F1")
    assert window.help_window.isVisible()
    assert not window.help_window.isModal()
    assert window.help_window.shown == "first-layout"
    assert "Open the site." in window.help_window.browser.toPlainText()


def test_the_walk_through_has_an_action_of_its_own(window):
    window.show_help("cautions")
    window.actions_by_id["first-layout"].trigger()
    assert window.help_window.shown == "first-layout"


def test_f1_again_brings_up_the_same_window_where_it_was_left(window):
    window.show_help("words")
    first = window.help_window
    first.close()
    window.actions_by_id["help"].trigger()
    assert window.help_window is first
    assert first.isVisible()
    assert first.shown == "words"


@pytest.mark.parametrize("name", ORDER)
def test_every_page_shows_its_title_and_marks_itself_in_the_list(help_window, name):
    help_window.show_page(name)
    assert help_window.browser.toPlainText().startswith(title(name))
    assert help_window.list.currentItem().text() == title(name)
    assert title(name) in help_window.windowTitle()
    assert help_window.browser.accessibleName() == title(name)


def test_a_link_leads_on_and_the_keys_lead_back_and_forward(help_window):
    help_window.browser.anchorClicked.emit(QUrl("rules.md"))
    assert help_window.shown == "rules"
    QTest.keyClick(help_window.browser, Qt.Key.Key_Left, ALT)
    assert help_window.shown == "first-layout"
    assert not help_window.back_button.isEnabled()
    QTest.keyClick(help_window.browser, Qt.Key.Key_Right, ALT)
    assert help_window.shown == "rules"
    assert not help_window.forward_button.isEnabled()


def test_a_new_page_after_going_back_forgets_the_way_forward(help_window):
    help_window.show_page("rules")
    help_window.back()
    help_window.show_page("words")
    help_window.forward()
    assert help_window.shown == "words"


def test_going_back_returns_to_the_place_on_the_page(help_window):
    bar = help_window.browser.verticalScrollBar()
    help_window.show_page("rules")
    bar.setValue(300)
    help_window.show_page("words")
    assert bar.value() == 0
    help_window.back()
    assert bar.value() == 300


def test_links_are_reached_and_followed_by_keyboard(help_window):
    QTest.keyClick(help_window.browser, Qt.Key.Key_Tab)
    QTest.keyClick(help_window.browser, Qt.Key.Key_Return)
    assert help_window.shown == "rules"


def test_a_link_to_elsewhere_goes_nowhere_and_nothing_is_loaded(help_window):
    help_window.follow("https://example.org/rules.md")
    assert help_window.shown == "first-layout"
    picture = QTextDocument.ResourceType.ImageResource.value
    assert help_window.browser.loadResource(picture, QUrl("file:///etc/hostname")) is None


def test_words_narrow_the_pages_and_enter_goes_to_the_first_of_them(help_window):
    QTest.keyClicks(help_window.field, "tape datum")
    assert listed(help_window) == [title("stake-out"), title("hand-off")]
    assert help_window.shown == "first-layout"
    QTest.keyClick(help_window.field, Qt.Key.Key_Return)
    assert help_window.shown == "stake-out"
    marked = {m.cursor.selectedText().lower() for m in help_window.browser.extraSelections()}
    assert marked == {"tape", "datum"}
    assert help_window.isVisible()


def test_words_on_no_page_say_so(help_window):
    QTest.keyClicks(help_window.field, "marmalade")
    assert listed(help_window) == []
    assert help_window.nothing.isVisible()
    help_window.field.clear()
    assert len(listed(help_window)) == len(ORDER)
    assert not help_window.nothing.isVisible()


def test_arrow_keys_walk_the_pages_from_the_field(help_window):
    QTest.keyClick(help_window.field, Qt.Key.Key_Down)
    assert help_window.shown == ORDER[1]
    QTest.keyClick(help_window.field, Qt.Key.Key_Up)
    assert help_window.shown == ORDER[0]


def test_escape_closes_the_help_and_leaves_the_desk(window, help_window):
    QTest.keyClick(help_window.browser, Qt.Key.Key_Escape)
    assert not help_window.isVisible()
    assert window.isVisible()


def test_the_help_closes_with_the_desk(window, help_window):
    window.close()
    assert not help_window.isVisible()


@pytest.mark.parametrize("theme", [PAPER, LAMP])
def test_the_page_wears_the_theme_and_keeps_its_place(window, help_window, theme):
    other = LAMP if theme is PAPER else PAPER
    window.preferences.choose_theme(other.name)
    help_window.show_page("rules")
    help_window.browser.verticalScrollBar().setValue(200)
    window.preferences.choose_theme(theme.name)
    assert colours(help_window, anchors=False) == {theme.ink}
    assert colours(help_window, anchors=True) == {theme.accent}
    assert help_window.browser.verticalScrollBar().value() == 200
    ground = help_window.browser.palette().base().color()
    assert contrast(theme["ink"], ground) >= 4.5
    assert contrast(theme["accent"], ground) >= 4.5


def test_headings_and_text_are_in_the_programs_faces(help_window):
    help_window.show_page("findings")
    faces, block = set(), help_window.browser.document().begin()
    while block.isValid():
        at = block.begin()
        while not at.atEnd():
            heading = bool(block.blockFormat().headingLevel())
            faces.add((heading, at.fragment().charFormat().font().family()))
            at += 1
        block = block.next()
    assert faces == {(True, SERIF), (False, SANS)}


def test_a_column_of_short_words_leaves_room_to_one_of_sentences(help_window):
    help_window.show_page("rows")
    frames = help_window.browser.document().rootFrame().childFrames()
    table = next(f for f in frames if isinstance(f, QTextTable))
    short, long = (c.rawValue() for c in table.format().columnWidthConstraints())
    assert 20 <= short < 40 < long
    assert short + long == pytest.approx(100)


def test_what_can_be_reached_has_a_name(help_window):
    for widget in (help_window.field, help_window.list, help_window.browser):
        assert widget.accessibleName()


def test_the_help_window_takes_the_keyboard_to_the_page(help_window):
    pump_until(lambda: QApplication.focusWidget() is help_window.browser, "the page has it", 5)


# what the pages say of the desk


def all_pages(window) -> str:
    return "\n".join(page(name, window.help_window.keys) for name in ORDER)


def test_every_shortcut_told_is_a_shortcut_of_an_action(window, help_window):
    known = {a.shortcut().toString() for a in window.actions_by_id.values()} - {""}
    told = set(re.findall(r"`((?:Ctrl|Alt|Shift)\+[^`\s]+|F\d+|Home)`", all_pages(window)))
    own = {"Ctrl+C", "Alt+Left", "Alt+Right"}  # of the strip, the findings and this window
    assert told == known | own, "every one told exists, and the page of keys tells every one"
    bare = re.sub(r"`[^`]*`", "", all_pages(window))
    assert not re.findall(r"\b(?:Ctrl|Alt|Shift)\+\S|\bF\d+\b", bare), "a key without its marks"


def test_every_menu_entry_told_is_there(window, help_window):
    menus = {plain_text(a): a.menu() for a in window.menu.actions()}
    menus |= {f"Stages, {plain_text(a)}": a.menu() for a in menus["Stages"].actions() if a.menu()}
    told = re.findall(
        r"\*(Stages, \w+|File|Edit|Ground|Rows|View|Help), ([^*]+)\*",
        " ".join(all_pages(window).split()),
    )
    assert len(told) > 25
    assert any(menu.startswith("Stages") for menu, _ in told)
    for menu, entry in told:
        names = {plain_text(a) for a in menus[menu].actions()}
        assert entry.rstrip("…") in names, (menu, entry)
    assert isinstance(menus["Help"], QMenu)


def test_every_button_told_is_there(desk):
    to_handoff(desk, "files")  # made when it is first wanted
    desk.show_help()
    there = {b.text() for b in desk.findChildren(QPushButton)}
    told = {"Rows along this edge", "As the rules say", "Done", "Stake-out…", "Open again"}
    told |= {"Choose…", "Write the set", "Leave", "Ask again next time"}
    for name in told:
        assert f"*{name}*" in " ".join(all_pages(desk).split()), name
        assert name in there, name


def test_the_first_layout_can_be_walked_by_keyboard_as_told(window):
    """Steps 1 to 6 and the start of 8, with the keys the page names."""
    open_sample_named(window, "field_with_pond")
    told = " ".join(page("first-layout").split())
    begun = "26 248 vines in 150 rows"

    def vines() -> str:
        rest(window)
        return f"{window.answer.tally.vines:,} vines".replace(",", " ")

    def seen() -> str:
        return f"{vines()} in {window.answer.tally.rows} rows"

    assert seen() == begun
    assert begun in told
    assert window.stage == "rows"
    assert window.findings.heading.text().endswith("5")
    first = window.findings.lines[0]
    before = window.canvas.view
    first.setFocus()
    QTest.keyClick(first, Qt.Key.Key_Return)
    assert window.canvas.view != before, "Enter on the finding on top goes to its place"
    window.actions_by_id["fit"].trigger()

    window.actions_by_id["rules"].trigger()
    bearing = window.paragraph.fields["bearing_deg"]
    pump_until(bearing.hasFocus, "Ctrl+R goes to the bearing", 5)
    QTest.keyClicks(bearing, "140")
    QTest.keyClick(bearing, Qt.Key.Key_Return)
    assert seen() in told
    assert window.tally.difference.text() == "+199"
    window.actions_by_id["undo"].trigger()
    assert seen() == begun

    headland = field(window, "headland_m")
    for _ in range(2):
        QTest.keyClick(headland, Qt.Key.Key_Up)
    assert headland.text() == "9.0 m"
    assert f"9.0 m, and {vines()}" in told
    QTest.keyClick(headland, Qt.Key.Key_Escape)
    assert headland.text() == "8.0 m"

    for _ in range(5):
        window.actions_by_id["next-edge"].trigger()
    assert "edge 5" in window.edge_card.heading.text()
    assert "110.43 m" in window.edge_card.place.text()
    window.actions_by_id["rows-along"].trigger()
    assert seen() in told
    window.actions_by_id["undo"].trigger()
    assert seen() == begun

    window.strip.setFocus()
    QTest.keyClick(window.strip, Qt.Key.Key_Right)
    assert window.canvas.pointed == (0, 0), "the row lights up on the plan"
    QTest.keyClick(window.strip, Qt.Key.Key_Return)
    window.actions_by_id["stage-handoff"].trigger()
    assert window.handoff_card.isVisible()
    to_handoff(window, "files")
    assert "stakes.csv" in window.handoff_card.text.text()
