"""Head and foot of a sheet's pages, and its headings: the same on all sheets."""

from __future__ import annotations

from dataclasses import dataclass

from .orders_pdf_flow import Flow, broken, leading_mm
from .pdf_pen import MARGIN_MM, Pen

FOOT_MM = 6.0
"""Kept free for the foot. [mm]"""
_NAME_PT = 14.0


@dataclass(frozen=True)
class PageHead:
    """What stands on every page of a document.

    Attributes
    ----------
    name : str
        Of the site; set on as many lines as it needs.
    said_of : str
        Revision and day, at the right.
    foot_words : str
        What the sheet is worth, at the foot.
    """

    name: str
    said_of: str
    foot_words: str

    def high_mm(self, pen: Pen) -> float:
        """Where the rule under the head stands, from the top. [mm]"""
        return MARGIN_MM + len(self._name_lines(pen)) * leading_mm(_NAME_PT) + 6.0

    def flow(self, pen: Pen, gap_mm: float = 4.0) -> Flow:
        """Room for text between head and foot, page after page."""
        return Flow(pen, self.high_mm(pen) + gap_mm, pen.height_mm - MARGIN_MM - FOOT_MM)

    def draw(self, pen: Pen, title: str, page_words: str) -> None:
        """Site, part and marks on top; the page, and what it is worth, at the foot."""
        right, leading = pen.width_mm - MARGIN_MM, leading_mm(_NAME_PT)
        lines = self._name_lines(pen)
        top = MARGIN_MM + 0.7 * leading
        pen.text_lines(MARGIN_MM, top, lines, "serif strong", _NAME_PT, leading)
        y = MARGIN_MM + len(lines) * leading
        most = right - MARGIN_MM - pen.width_of_mm(self.said_of, "sans", 8) - 6
        pen.text_within(MARGIN_MM, y + 3.5, title, "sans strong", 9.5, most)
        pen.text(right, y + 3.5, self.said_of, "sans", 8, "right", "soft")
        pen.line(MARGIN_MM, y + 6.0, right, y + 6.0, "hairline", 0.2)
        foot = pen.height_mm - MARGIN_MM
        pen.text(MARGIN_MM, foot, self.foot_words, "sans", 7.5, colour="soft")
        pen.text(right, foot, page_words, "sans", 7.5, "right", "soft")

    def _name_lines(self, pen: Pen) -> list[str]:
        return broken(pen, self.name, "serif strong", _NAME_PT, pen.width_mm - 2 * MARGIN_MM)


def set_heading(flow: Flow, text: str, gap_mm: float = 4.0, keep_mm: float = 12.0) -> None:
    """A heading over what follows, kept with at least so much of it."""
    flow.gap(gap_mm)
    flow.text(text, "serif strong", 10.5, keep_mm=keep_mm)
    flow.gap(0.8)
