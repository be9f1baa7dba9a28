"""Changes of the rules, from the paragraph and from the bearing ring, as edits of the document."""

from __future__ import annotations

from dataclasses import replace

from ..core.model import InputProblem, Project, RowRules
from ..session.exclusions import (
    clearance_name,
    is_clearance,
    stepped_clearance_m,
    typed_clearance_m,
    with_clearance,
)
from ..session.specification import NAMES, stepped, with_typed

ALL_BLOCKS = "All blocks"


class RuleEdits:
    """Edits the rules of the block chosen in the window, or of all."""

    def __init__(self, window):
        self.window = window
        self._depth = 0

    def block_names(self) -> list[str]:
        text = self.window.block_choice.currentText()
        if text == ALL_BLOCKS or not text:
            return [b.name for b in self.window.document.project.blocks]
        return [text.removeprefix("Block ")]

    def current(self) -> RowRules:
        return self.window.document.project.block(self.block_names()[0]).rules

    def choose_block(self, name: str) -> None:
        index = self.window.block_choice.findText(f"Block {name}")
        if self.window.block_choice.count() > 1 and index >= 0:
            self.window.block_choice.setCurrentIndex(index)
            self.window.show_rules()

    def edit(self, rule: str, change, merge: str | None = None) -> None:
        names = self.block_names()

        def edited(project: Project) -> Project:
            for name in names:
                block = project.block(name)
                project = project.with_block(replace(block, rules=change(block.rules)))
            return project

        self.window.notify("")
        self.window.document.edit(f"Change {NAMES[rule]}", edited, merge)

    def edit_clearance(self, rule: str, clearance_m: float, merge: str | None = None) -> None:
        """Set the clearance of the exclusions a value stands for."""
        document = self.window.document
        self.window.notify("")
        document.edit(
            f"Change {clearance_name(document.project, rule)}",
            lambda project: with_clearance(project, rule, clearance_m),
            merge,
        )

    def begin(self, rule: str) -> None:
        self._depth = self.window.document.depth

    def type(self, rule: str, text: str) -> None:
        try:
            if is_clearance(rule):
                self.edit_clearance(rule, typed_clearance_m(text, self.window.unit))
                return
            value = getattr(
                with_typed(self.current(), rule, text, self.window.unit, self.true_from), rule
            )
        except InputProblem as problem:
            self.window.notify(str(problem))
            return
        self.edit(rule, lambda r: replace(r, **{rule: value}))

    def true_from(self, convention: str, degrees: float) -> float:
        if convention == "magnetic" and self.window.survey.norths.declination_deg is None:
            raise InputProblem(
                "Bearing: no magnetic model holds for this date; type a true or grid one."
            )
        return self.window.survey.norths.true_from(convention, degrees)

    def move(self, rule: str, steps: float) -> None:
        if is_clearance(rule):
            project, unit = self.window.document.project, self.window.unit
            metres = stepped_clearance_m(project, rule, steps, unit)
            self.edit_clearance(rule, metres, f"scrub {rule}")
            return
        value = getattr(stepped(self.current(), rule, steps, self.window.unit), rule)
        self.edit(rule, lambda r: replace(r, **{rule: value}), f"scrub {rule}")

    def put_back(self, rule: str) -> None:
        self.window.notify("")
        self.window.document.withdraw(self._depth)

    def turn(self, bearing_deg: float) -> None:
        self.edit("bearing_deg", lambda r: replace(r, bearing_deg=bearing_deg), "turn the rows")

    def settle(self) -> None:
        if self.window.document is not None:
            self.window.document.settle()
            self.window.ask_settled()
