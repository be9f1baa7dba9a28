"""Where the cards of the window stand, and which of them are shown."""

from __future__ import annotations

from PySide6.QtCore import QRect

from .works import SIDE_STAGES

_GAP = 18
_LEFT, _RIGHT, _STRIP, _STAGES = 384, 250, 96, 46
_SIDE, _SIDE_LEAST = 430, 300
"""Width of the card beside the plan on stages that tell much; a third of the window, within these."""
_LOW_PX = 760
_FINDINGS_SHARE = 0.26
"""Height of the plan under which the strip gives way to such a card, and of it what findings take."""
PANELS = ("strip", "tally", "findings")
"""What can be hidden."""


class Panels:
    """Puts the cards round the plan; what is hidden is remembered."""

    def __init__(self, window):
        self.window = window

    def arrange(self) -> None:
        """Put the cards in their places and tell the canvas what room they leave."""
        w = self.window
        width, height, has_site = w.canvas.width(), w.canvas.height(), w.document is not None
        alone = w.stage == "compare"  # its parts have all the room
        # beside a card that tells much the strip gives way in a low window
        cramped = w.stage in SIDE_STAGES and height < _LOW_PX
        strip = _STRIP if self.is_shown("strip") and not alone and not cramped else 0
        bottom = strip + (2 if strip else 1) * _GAP
        w.stage_bar.setGeometry(_GAP, _GAP, max(_LEFT, w.stage_bar.sizeHint().width()), _STAGES)
        w.stage_bar.setVisible(has_site)
        top = _GAP + _STAGES + 10
        room = height - bottom - top
        left = {
            "rows": (w.specification_card, w.specification_card.wanted_height(_LEFT)),
            "ground": (w.ground_card, room),
        }
        for name, (card, wanted) in left.items():
            card.setGeometry(_GAP, top, _LEFT, min(wanted, room))
            card.setVisible(has_site and name == w.stage)
        right = self._right_px(width)
        if w.stage in SIDE_STAGES:
            self._arrange_side(width, height - bottom, right)
        else:
            self._arrange_right(width, height - bottom)
        sides = (_GAP, top, _LEFT, room), (width - right - _GAP, _GAP, right, self._side_height)
        for work in w.works.beside().values():
            work.arrange(*(QRect(*side) for side in sides))
        w.strip.setGeometry(_GAP, height - _STRIP - _GAP, width - 2 * _GAP, _STRIP)
        w.strip.setVisible(has_site and bool(strip))
        self._place_sketch_bar(width, height - bottom, right)
        for card in (w.welcome, w.question, w.recovery):
            card.adjustSize()
            card.move((width - card.width()) // 2, max((height - card.height()) // 2, _GAP))
        asking = not (w.question.isHidden() and w.recovery.isHidden())
        w.welcome.setVisible(not has_site and not asking)
        if w.works.has_compared:
            w.comparing.arrange()
        w.canvas.margins = (_LEFT + 2 * _GAP, _GAP, right + 2 * _GAP, bottom)

    _side_height = 0

    def _right_px(self, width: int) -> int:
        """How wide what stands right of the plan is."""
        if self.window.stage not in SIDE_STAGES:
            return _RIGHT
        return min(max(width // 3, _SIDE_LEAST), _SIDE)

    def _arrange_side(self, width: int, low: int, right: int) -> None:
        """Findings below the card of the stage; what belongs to rows alone makes room."""
        w = self.window
        for card in (w.tally, w.edge_card, w.picked_card):
            card.hide()
        has_findings = w.document is not None and self.is_shown("findings")
        room = low - _GAP
        wanted = min(w.findings.wanted_height(), round(_FINDINGS_SHARE * room))
        shown = has_findings and wanted >= 40
        w.findings.setVisible(shown)
        w.findings.setGeometry(width - right - _GAP, low - wanted, right, max(wanted, 40))
        self._side_height = room - (wanted + 10 if shown else 0)

    def _arrange_right(self, width: int, low: int) -> None:
        """Tally, what is picked, and the findings below one another."""
        w, right, top = self.window, width - _RIGHT - _GAP, _GAP
        has_site = w.document is not None and w.stage != "compare"
        w.tally.setVisible(has_site and self.is_shown("tally"))
        if self.is_shown("tally"):
            tall = w.tally.sizeHint().height()
            w.tally.setGeometry(right, top, _RIGHT, tall)
            top += tall + 10
        for card in (w.edge_card, w.picked_card):
            if not card.isHidden():
                card.setFixedWidth(_RIGHT)
                card.layout().activate()
                tall = card.layout().totalHeightForWidth(_RIGHT)
                if top + tall > low:  # a low window: over the tally rather than cut off
                    top = max(low - tall, _GAP)
                card.setGeometry(right, top, _RIGHT, tall)
                card.raise_()
                top += tall + 10
        w.findings.setVisible(has_site and self.is_shown("findings") and low - top > 60)
        wanted = w.findings.wanted_height()
        w.findings.setGeometry(right, top, _RIGHT, max(min(wanted, low - top), 60))

    def _place_sketch_bar(self, width: int, low: int, right: int) -> None:
        bar = self.window.sketch_bar
        if bar.isHidden():
            return
        bar.adjustSize()
        left, room = _LEFT + 2 * _GAP, width - _LEFT - right - 4 * _GAP
        x = left + max((room - bar.width()) // 2, 0)
        bar.move(min(x, max(width - bar.width() - _GAP, _GAP)), low - bar.height() - 6)
        bar.raise_()

    def is_shown(self, panel: str) -> bool:
        """Whether a panel is to be seen while a site is open."""
        return str(self.window.settings.value(f"panels/{panel}", "true")) != "false"

    def show(self, panel: str, shown: bool) -> None:
        """Show or hide the strip, the tally or the findings."""
        self.window.settings.setValue(f"panels/{panel}", "true" if shown else "false")
        self.arrange()
        self.window.canvas.refit()

    def reset(self) -> None:
        """Everything where it was at the first start."""
        w = self.window
        for panel in PANELS:
            w.settings.remove(f"panels/{panel}")
            w.actions_by_id[f"panel-{panel}"].setChecked(True)
        w.settings.remove("geometry")
        w.showNormal()
        w.take_usual_size()
        self.arrange()
        w.canvas.fit()
