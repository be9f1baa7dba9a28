"""The cards of the planting stage: pages of one job, each with its words at the left and its lists at the right."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from .look import Theme
from .paged_cards import PagedCard, PagedSide
from .planting_pages import PAGES


class PlantingCard(PagedCard):
    """Which page, its paragraphs and what can be done there."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(PAGES, "How it is planted", "Pages of planting", parent)


class PlantingSide(PagedSide):
    """What comes of it, page by page."""

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(PAGES, theme, "the planting", "Whole set…", parent)
