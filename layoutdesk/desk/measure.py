"""Measuring on the plan: places set one after another, their figures beside the last."""

from __future__ import annotations

from .sketch import SketchTool


class MeasureTool(SketchTool):
    """A sketch that becomes nothing: distances, bearings and the area between the places."""

    def __init__(self, window):
        super().__init__(window, "Measure from place to place", "line", None)

    @property
    def on(self) -> bool:
        return self.window.canvas.tool is self

    def begin(self) -> None:
        """Start anew; a second call ends it."""
        if self.on or self.window.document is None:
            self.end_measuring()
            return
        self.places, self.snapped = [], None
        self.window.take_tool(self)

    def end_measuring(self) -> None:
        self.places, self.snapped = [], None
        if self.on:
            self.window.take_tool(None)
