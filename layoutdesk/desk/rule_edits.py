"""Changes of the rules, from the paragraph and from the bearing ring, as edits of the document."""

from __future__ import annotations

from ..core.model import InputProblem, RowRules
from ..session.rule_scope import (
    edit_name,
    scoped_paragraph,
    with_rules,
    with_stepped_value,
    with_turned_rows,
    with_typed_value,
)
from ..session.specification import Paragraph

ALL_BLOCKS = "All blocks"


class RuleEdits:
    """Edits the rules of the block chosen in the window, or of all."""

    def __init__(self, window):
        self.window = window

    # which blocks

    def block_names(self) -> list[str]:
        """Blocks in scope; all where none, or one that is no more, is chosen."""
        names = [b.name for b in self.window.document.project.blocks]
        chosen = self.window.block_choice.currentText().removeprefix("Block ")
        return [chosen] if chosen in names else names

    def current(self) -> RowRules:
        return self.window.document.project.block(self.block_names()[0]).rules

    def choose_block(self, name: str) -> None:
        index = self.window.block_choice.findText(f"Block {name}")
        if self.window.block_choice.count() > 1 and index >= 0:
            self.window.block_choice.setCurrentIndex(index)
            self.window.show_rules()

    def follow_blocks(self) -> None:
        """Have the choice list the blocks there are; a renamed one stays chosen."""
        choice = self.window.block_choice
        names = [b.name for b in self.window.document.project.blocks]
        wanted = [*([ALL_BLOCKS] if len(names) > 1 else []), *(f"Block {n}" for n in names)]
        before = [choice.itemText(i) for i in range(choice.count())]
        if before == wanted:
            return
        text, index = choice.currentText(), choice.currentIndex()
        choice.clear()
        choice.addItems(wanted)
        if text in wanted:
            choice.setCurrentIndex(wanted.index(text))
        elif len(before) == len(wanted):
            choice.setCurrentIndex(index)

    def paragraph(self) -> Paragraph:
        """The specification of the blocks in scope, in the unit on show."""
        project = self.window.document.project
        return scoped_paragraph(project, tuple(self.block_names()), self.window.unit)

    # edits

    def edit(self, rule: str, change, merge: str | None = None) -> None:
        """Change the rules of the blocks in scope by a function of one block's rules."""
        self._edit(rule, lambda project, names: with_rules(project, names, change), merge)

    def _edit(self, rule: str, change, merge: str | None = None) -> None:
        document, names = self.window.document, tuple(self.block_names())
        label = f"Change {edit_name(document.project, names, rule)}"
        document.edit(label, lambda project: change(project, names), merge)
        self.window.notify("")

    def begin(self, rule: str) -> None:
        if self.window.document is not None:
            self.window.document.settle()

    def type(self, rule: str, text: str) -> None:
        """Take a value as typed or chosen; what cannot be is said at the value."""
        unit, true_from = self.window.unit, self.true_from
        self._try(
            rule,
            lambda project, names: with_typed_value(project, names, rule, text, unit, true_from),
        )

    def true_from(self, convention: str, degrees: float) -> float:
        if convention == "magnetic" and self.window.survey.norths.declination_deg is None:
            raise InputProblem(
                "Bearing: no magnetic model holds for this date; type a true or grid one."
            )
        return self.window.survey.norths.true_from(convention, degrees)

    def move(self, rule: str, steps: float) -> None:
        """Step a value, in each block from what it has there; steps in a row are one edit."""
        unit = self.window.unit
        self._try(
            rule,
            lambda project, names: with_stepped_value(project, names, rule, steps, unit),
            _scrub(rule),
        )

    def _try(self, rule: str, change, merge: str | None = None) -> None:
        try:
            self._edit(rule, change, merge)
        except InputProblem as problem:
            self.window.paragraph.refuse(rule, str(problem))
            self.window.arrange()

    def put_back(self, rule: str) -> None:
        """Take back what was stepped or scrubbed since the value was last settled."""
        self.window.notify("")
        self.window.document.withdraw(_scrub(rule))

    def turn(self, bearing_deg: float) -> None:
        self._edit(
            "bearing_deg",
            lambda project, names: with_turned_rows(project, names, bearing_deg),
            "turn the rows",
        )

    def settle(self) -> None:
        if self.window.document is not None:
            self.window.document.settle()
            self.window.ask_settled()
            self.window.arrange()


def _scrub(rule: str) -> str:
    return f"scrub {rule}"
