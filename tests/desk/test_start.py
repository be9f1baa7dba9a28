"""Where the window cannot start, one sentence says why and what to do."""

from __future__ import annotations

import sys

import pytest
from PySide6.QtGui import QFontDatabase

from layoutdesk import commandline
from layoutdesk.core.model import InputProblem
from layoutdesk.desk import start
from layoutdesk.desk.look import SANS, SERIF, typeface

on_linux = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="asks for X on Linux alone"
)


@pytest.fixture
def no_screen(monkeypatch):
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)


@on_linux
def test_no_screen_is_one_sentence_with_another_way(no_screen):
    with pytest.raises(InputProblem, match="no screen") as raised:
        start.check_screen()
    assert "layoutdesk lay" in str(raised.value)


@on_linux
def test_missing_libraries_are_named_by_their_packages(no_screen, monkeypatch):
    monkeypatch.setenv("DISPLAY", ":99")
    monkeypatch.setattr(start, "_missing", lambda names: ["libxcb-cursor0", "libxcb-icccm4"])
    with pytest.raises(InputProblem, match="apt-get install libxcb-cursor0 libxcb-icccm4"):
        start.check_screen()


@on_linux
def test_a_missing_library_is_found_missing():
    assert start._missing(["libEGL.so.1"]) in ([], ["libegl1"])
    with pytest.raises(KeyError):
        start._missing(["libnothing-of-that-name.so.7"])  # looked for and not there


@on_linux
def test_the_command_line_says_it_and_ends_with_2(no_screen, capsys):
    assert commandline.main([]) == 2
    said = capsys.readouterr().err
    assert said.startswith("layoutdesk: There is no screen")
    assert said.count("\n") == 1


def test_an_offscreen_platform_needs_no_screen(no_screen, monkeypatch):
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    start.check_screen()


def test_both_bundled_faces_are_there_with_figures_of_one_width(application):
    from PySide6.QtGui import QFontInfo, QFontMetricsF

    for family in (SERIF, SANS):
        assert family in QFontDatabase.families()
        for strong in (False, True):
            font = typeface(family, 24, strong=strong)
            assert QFontInfo(font).family() == family
            metrics = QFontMetricsF(font)
            assert len({metrics.horizontalAdvance(d * 4) for d in "0123456789"}) == 1
