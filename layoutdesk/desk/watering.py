"""The water stage at work."""

from __future__ import annotations

from PySide6.QtCore import QObject, QRect

from ..core.model import Finding


class WaterWork(QObject):
    """Shows its stage."""

    findings: tuple[Finding, ...] = ()

    def __init__(self, window):
        super().__init__(window)
        self.window = window

    def follow(self) -> None:
        pass

    def forget(self) -> None:
        pass

    def close(self) -> None:
        pass

    def arrange(self, left: QRect, right: QRect) -> None:
        pass

    def write(self, kind: str) -> None:
        raise NotImplementedError

    def place_source(self) -> None:
        raise NotImplementedError

    def draw_submain(self) -> None:
        raise NotImplementedError

    def submain_along_edge(self) -> None:
        raise NotImplementedError

    def read_climate(self) -> None:
        raise NotImplementedError
