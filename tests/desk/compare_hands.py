"""Hands on the compare stage: candidates typed, figures read, all of it counted."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from layoutdesk.core.model import Candidate
from tests.desk.hands import LEFT, PLAIN, pump_until, rest

Key = Qt.Key


def counted(window) -> None:
    """Wait until figures and curves are those of the document."""
    pump_until(lambda: window.comparing.counting.is_done, "the comparison is counted")
    rest(window)


def add(window, text: str) -> None:
    """Type a candidate and press Enter."""
    field = window.compare_stage.field
    field.setFocus()
    QTest.keyClicks(field, text)
    QTest.keyClick(field, Key.Key_Return)


def candidates(window) -> list[Candidate]:
    study = window.document.project.study
    return list(study.candidates) if study else []


def titles(window) -> list[str]:
    return [c.title.text() for c in window.compare_stage.plans.cards]


def line_of(window, name: str):
    return window.compare_stage.table.model.named(name)


def index_of(window, name: str, column: int = 0):
    model = window.compare_stage.table.model
    row = next(i for i, r in enumerate(model.rows) if getattr(r, "name", "") == name)
    return model.index(row, column)


def figures(window, name: str) -> list[str]:
    return [c.text.replace("\u202f", "") for c in line_of(window, name).cells]


def click_curve(window, bearing_deg: float) -> None:
    curves = window.compare_stage.curves
    at = QPoint(round(curves.x_of(bearing_deg)), curves.height() // 2)
    QTest.mouseMove(curves, at)
    QTest.mouseClick(curves, LEFT, PLAIN, at)


def press(window, index: int, button: str) -> None:
    """Click a button below a candidate's plan."""
    QTest.mouseClick(getattr(window.compare_stage.plans.cards[index], button), LEFT)
