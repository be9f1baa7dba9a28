"""Picking an edge of the outline on the plan, and what is changed at it."""

from __future__ import annotations

from ..core.model import InputProblem
from ..session.edges import EdgeView, edge_view, with_edge_width, with_rows_along
from ..session.exclusions import typed_clearance_m


class EdgeEdits:
    """The edge in hand, shown on the plan and in its card."""

    def __init__(self, window):
        self.window = window
        self.view: EdgeView | None = None

    def step(self, by: int) -> None:
        """Take the next edge of the same ring in hand; the first one where none is."""
        document = self.window.document
        if document is None:
            return
        project = document.project
        if self.view is None:
            block = project.block(self.window.rules.block_names()[0])
            self.hold(edge_view(block, 0, 0))
            return
        block = project.block(self.view.block)
        rings = [block.outline.exterior, *block.outline.interiors]
        n = len(rings[self.view.ring].coords) - 1
        self.hold(edge_view(block, self.view.ring, (self.view.edge + by) % n))

    def let_go(self) -> None:
        self.hold(None)

    def refresh(self) -> None:
        """Follow the document: the edge may have changed, or be gone."""
        if self.view is not None:
            try:
                block = self.window.document.project.block(self.view.block)
            except KeyError:
                self.let_go()
                return
            self.hold(edge_view(block, self.view.ring, self.view.edge))

    def hold(self, view: EdgeView | None) -> None:
        window = self.window
        self.view = view
        window.canvas.mark_edge(view.ends_m if view else None)
        if view is None:
            had_focus = window.edge_card.isAncestorOf(window.focusWidget() or window)
            window.edge_card.hide()
            if had_focus:
                window.canvas.setFocus()
        else:
            window.edge_card.width_field.setModified(False)
            window.edge_card.show_edge(view, window.unit, window.survey.norths)
        if window.answer is not None:
            window.rows.show()
        window.arrange()

    def type_width(self, text: str) -> None:
        try:
            metres = typed_clearance_m(text, self.window.unit)
        except InputProblem as problem:
            self.window.notify(str(problem))
            return
        self._edit("width of an edge", lambda p, v: with_edge_width(p, v, metres))

    def give_back(self) -> None:
        self._edit("edge as the rules say", lambda p, v: with_edge_width(p, v, None))

    def rows_along(self) -> None:
        self._edit("rows along an edge", with_rows_along)

    def _edit(self, label: str, change) -> None:
        view = self.view
        if view is not None:
            self.window.notify("")
            self.window.document.edit(label, lambda project: change(project, view))
            self.window.rules.settle()
