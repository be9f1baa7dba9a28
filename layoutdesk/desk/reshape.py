"""Outlines and exclusions by their corners: the tool in hand on the ground stage."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPen

from ..core.model import InputProblem
from ..session.reshaping import (
    ShapeId,
    checked,
    corners_of,
    shape_of,
    shapes_at,
    with_corner_added,
    with_corner_moved,
    with_corner_removed,
)
from .gestures import EditGesture
from .painting import polygon_from
from .tools import Tool

_REACH_PX = 9.0
_NUDGES_M = {Qt.KeyboardModifier.ShiftModifier: 1.0, Qt.KeyboardModifier.ControlModifier: 0.01}
_NUDGE_M = 0.1
_MANY_CORNERS = 600
"""A shape with more corners is drawn thin and its corners as small dots."""
_STEPS = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
}


class ReshapeTool(Tool):
    """Click a shape to take it in hand; drag its corners, double-click an edge for another corner.

    With a corner picked, arrow keys nudge it by 0.1 m (Shift 1 m, Ctrl 1 cm), Delete takes it out.
    """

    def __init__(self, window, changed):
        self.window, self._changed = window, changed
        self.held: ShapeId | None = None
        self.corner: tuple[int, int] | None = None
        self.edge: tuple[int, int] | None = None
        self._corners_for: tuple | None = None
        self._corners = None

    # what is in hand

    def hold(self, which: ShapeId | None, corner=None, edge=None) -> None:
        """Take a shape in hand, with a corner or an edge (ring, index) of it."""
        self.held, self.corner, self.edge = which, corner, edge
        self.window.canvas.update()
        self._changed()

    def follow(self) -> None:
        """Let go of what is no longer there."""
        if self.held is None:
            return
        try:
            n = self._all_corners()
        except (KeyError, IndexError):
            self.hold(None)
            return
        for picked, (ring, index) in (
            (self.corner, (n.ring, n.index)),
            (self.edge, self._edges()[2:]),
        ):
            if picked is not None and not ((ring == picked[0]) & (index == picked[1])).any():
                self.hold(self.held)
                return

    def _all_corners(self):
        project = self.window.document.project
        shape = shape_of(project, self.held)
        if self._corners_for is None or self._corners_for[0] is not shape:
            self._corners_for = (shape,)
            self._corners = corners_of(project, self.held)
        return self._corners

    def place_of_corner(self) -> tuple[float, float] | None:
        """Where the picked corner is. [m]"""
        if self.held is None or self.corner is None:
            return None
        c = self._all_corners()
        at = np.flatnonzero((c.ring == self.corner[0]) & (c.index == self.corner[1]))
        return tuple(c.xy_m[at[0]].tolist()) if len(at) else None

    def _corner_at(self, x: float, y: float) -> tuple[int, int] | None:
        if self.held is None:
            return None
        c = self._all_corners()
        away = np.hypot(c.xy_m[:, 0] - x, c.xy_m[:, 1] - y)
        i = int(np.argmin(away))
        if away[i] > _REACH_PX / self.window.canvas.view.scale:
            return None
        return int(c.ring[i]), int(c.index[i])

    def _edges(self):
        """Both ends of every edge of the shape in hand, and its ring and first corner."""
        c = self._all_corners()
        closed = "Polygon" in shape_of(self.window.document.project, self.held).geom_type
        last = np.r_[c.ring[1:] != c.ring[:-1], True]
        first_of = np.searchsorted(c.ring, c.ring)
        after = np.where(last, first_of, np.arange(len(c)) + 1)
        keep = np.ones(len(c), bool) if closed else ~last
        keep &= after != np.arange(len(c))
        return c.xy_m[keep], c.xy_m[after[keep]], c.ring[keep], c.index[keep]

    def _edge_at(self, x: float, y: float):
        """The edge near a place: (ring, index) and the nearest place on it; None where there is none."""
        if self.held is None:
            return None
        a, b, ring, index = self._edges()
        if not len(a):
            return None
        step = b - a
        long = np.maximum((step * step).sum(axis=1), 1e-12)
        share = np.clip(((np.array([x, y]) - a) * step).sum(axis=1) / long, 0.0, 1.0)
        foot = a + share[:, None] * step
        away = np.hypot(foot[:, 0] - x, foot[:, 1] - y)
        i = int(np.argmin(away))
        if away[i] > _REACH_PX / self.window.canvas.view.scale:
            return None
        return (int(ring[i]), int(index[i])), tuple(foot[i].tolist())

    # edits

    def put_corner(self, x: float, y: float) -> None:
        """Put the picked corner elsewhere; refused where the outline would not hold."""
        which, (ring, index) = self.held, self.corner
        self._edit(
            "corner", lambda p: checked(with_corner_moved(p, which, ring, index, x, y), which)
        )

    def add_corner(self, ring: int, index: int, x: float, y: float) -> None:
        which = self.held
        self._edit("new corner", lambda p: with_corner_added(p, which, ring, index, x, y))
        self.hold(which, (ring, index + 1))

    def add_corner_midway(self) -> None:
        """Another corner in the middle of the picked edge, or behind the picked corner."""
        at = self.edge or self.corner
        if self.held is None or at is None:
            return
        a, b, ring, index = self._edges()
        i = np.flatnonzero((ring == at[0]) & (index == at[1]))
        if len(i):
            self.add_corner(*at, *((a[i[0]] + b[i[0]]) / 2).tolist())

    def remove_corner(self) -> None:
        if self.held is None or self.corner is None:
            return
        which, (ring, index) = self.held, self.corner
        before = self.window.document.project
        self._edit(
            "corner taken out", lambda p: checked(with_corner_removed(p, which, ring, index), which)
        )
        if self.window.document.project is not before:
            self.hold(which)

    def step(self, by: int) -> None:
        """Pick the next corner of the shape in hand, or the first shape there is."""
        project = self.window.document.project
        if self.held is None:
            self.hold(ShapeId("block", project.blocks[0].name), (0, 0))
            return
        c = self._all_corners()
        names = list(zip(c.ring.tolist(), c.index.tolist(), strict=True))
        at = names.index(self.corner) + by if self.corner in names else 0
        self.hold(self.held, names[at % len(names)])
        self.window.canvas.reveal(*self.place_of_corner())

    def _edit(self, label: str, change, merge: str | None = None) -> None:
        try:
            self.window.document.edit(label, change, merge)
        except InputProblem as problem:
            self.window.filing.complain(problem)

    # what the hand does

    def press(self, at, modifiers):
        x, y = self.window.canvas.view.to_site(at.x(), at.y())
        corner = self._corner_at(x, y)
        if corner is None:
            return None
        which, (ring, index) = self.held, corner
        self.hold(which, corner)
        key = which.key
        snapper = self.window.snapper
        targets = snapper.targets(((which.kind, key), ring, index))
        beside = self.neighbours(ring, index)

        def change(px, py):
            s = snapper.at(px, py, anchor=beside or None, targets=targets)
            return lambda p: with_corner_moved(p, which, ring, index, s.x_m, s.y_m)

        return EditGesture(self.window, at, "corner", change, lambda p: checked(p, which))

    def neighbours(self, ring: int, index: int):
        """The corners before and after one: directions are told from them."""
        a, b, rings, indices = self._edges()
        after = b[(rings == ring) & (indices == index)]
        here = self.place_of_corner()
        before = a[(rings == ring) & (b == here).all(axis=1)]
        return [tuple(p.tolist()) for p in (*before, *after)]

    def click(self, x, y, modifiers):
        corner = self._corner_at(x, y)
        if corner is not None:
            self.hold(self.held, corner)
            return
        edge = self._edge_at(x, y)
        if edge is not None:
            self.hold(self.held, None, edge[0])
            return
        found = shapes_at(
            self.window.document.project, x, y, _REACH_PX / self.window.canvas.view.scale
        )
        self.hold(found[0] if found else None)

    def double_click(self, x, y):
        if self._corner_at(x, y) is not None:
            return
        edge = self._edge_at(x, y)
        if edge is not None:
            self.add_corner(*edge[0], *edge[1])

    def hover(self, x, y):
        near = self._corner_at(x, y) is not None
        if near:
            self.window.canvas.setCursor(Qt.CursorShape.SizeAllCursor)

    def key(self, event):
        key = event.key()
        if key == Qt.Key.Key_Escape and self.held is not None:
            self.hold(None if self.corner is None and self.edge is None else self.held)
        elif key == Qt.Key.Key_Delete and self.corner is not None:
            self.remove_corner()
        elif key == Qt.Key.Key_Insert:
            self.add_corner_midway()
        elif key in _STEPS and self.corner is not None:
            size = next((m for k, m in _NUDGES_M.items() if event.modifiers() & k), _NUDGE_M)
            which, (ring, index) = self.held, self.corner
            x, y = self.place_of_corner()
            x, y = x + size * _STEPS[key][0], y + size * _STEPS[key][1]
            self._edit(
                "corner",
                lambda p: checked(with_corner_moved(p, which, ring, index, x, y), which),
                f"nudge corner {index} of ring {ring} of {which.key}",
            )
        else:
            return False
        return True

    def paint(self, painter, view, theme):
        if self.held is None:
            return
        try:
            c = self._all_corners()
        except (KeyError, IndexError):
            return
        px = view.to_pixels(c.xy_m)
        a, b, ring, index = self._edges()
        if len(a):
            many = len(a) > _MANY_CORNERS
            place = self.place_of_corner()
            drawn = np.ones(len(a), bool)
            if many and place is not None:  # the plan shows the rest; only these two move
                drawn = (a == place).all(axis=1) | (b == place).all(axis=1)
            lines = view.to_pixels(np.stack([a[drawn], b[drawn]], axis=1)).reshape(-1, 2)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, not many)
            painter.setPen(QPen(theme["accent"], 0.0 if many else 2.0))
            painter.drawLines(polygon_from(lines))
        if self.edge is not None:
            mine = (ring == self.edge[0]) & (index == self.edge[1])
            if mine.any():
                ends = view.to_pixels(np.stack([a[mine][0], b[mine][0]]))
                painter.setPen(QPen(theme["accent"], 5.0))
                painter.drawLines(polygon_from(ends))
        seen = (np.abs(px - (view.width / 2, view.height / 2)) < (view.width, view.height)).all(
            axis=1
        )
        points = polygon_from(px[seen])
        square = Qt.PenCapStyle.SquareCap
        layers = ((8.0, theme["accent"]), (4.5, theme["block"]))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        for width, colour in layers if seen.sum() <= _MANY_CORNERS else ((3.0, theme["accent"]),):
            pen = QPen(colour, width)
            pen.setCapStyle(square)
            painter.setPen(pen)
            painter.drawPoints(points)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        place = self.place_of_corner()
        if place is not None:
            at = QPointF(*view.to_pixels(np.array(place)).tolist())
            painter.setPen(QPen(theme["block"], 1.5))
            painter.setBrush(theme["accent"])
            painter.drawEllipse(at, 7.0, 7.0)
