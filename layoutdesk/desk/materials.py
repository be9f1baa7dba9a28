"""The materials stage at work: trellises edited, what they take kept true, and handed out."""

from __future__ import annotations

import datetime
from itertools import pairwise
from pathlib import Path

from PySide6.QtCore import QObject, QRect
from PySide6.QtWidgets import QApplication, QWidget

from ..core.model import Finding, InputProblem, Materials
from . import choosing
from .materials_stage import TakeOffCard, TrellisCard
from .own_items import OwnItems
from .take_off_counting import Counter, Counting
from .take_off_table import as_text

_KINDS = {
    "pdf": ("Order lists", "PDF (*.pdf)", "orders"),
    "xlsx": ("A workbook", "Excel workbook (*.xlsx)", "take-off"),
    "csv": ("A table", "CSV (*.csv)", "take-off"),
}
_COUNTING = "Counting…"
_NO_ROWS = (
    "No row stands on this site yet. Draw a block on the stage Ground, lay its rows on the stage "
    "Rows, and what they take is counted here."
)


class MaterialsWork(QObject):
    """Shows the trellises and the take-off of the document on the materials stage."""

    def __init__(self, window):
        super().__init__(window)
        self.window = window
        self.theme = window.theme
        self.card = TrellisCard(window.theme, window.canvas)
        self.side = TakeOffCard(window.theme, window.canvas)
        self.counting = Counting(window)
        self.counting.came.connect(self._come)
        self.own = OwnItems(window, self.side, self.counting)
        self._chain: list[QWidget] = []
        self._tie_paragraph()
        self._tie_side()

    def _tie_paragraph(self) -> None:
        p = self.card.paragraph
        p.began.connect(lambda _: self.settle_edit())
        p.typed.connect(self.type)
        p.chosen.connect(self.type)
        p.moved.connect(self.move)
        p.put_back.connect(self.put_back)
        p.settled.connect(lambda _: self.settle_edit())
        self.card.scope.chosen.connect(self.choose_block)

    def _tie_side(self) -> None:
        side, actions = self.side, self.window.actions_by_id
        side.table.copy_wanted.connect(self.copy)
        side.whole_wanted.connect(lambda: self.window.selecting.clear())
        self.window.strip.selected.connect(lambda _: self.show())
        side.orders.clicked.connect(actions["materials-pdf"].trigger)
        side.keep.clicked.connect(actions["materials-settle"].trigger)
        names = ("materials-xlsx", "materials-csv", "materials-copy")
        side.files_menu.addActions([actions[n] for n in names])
        names = ("materials-read", "materials-template")
        side.items_menu.addActions([actions[n] for n in names])

    # being on show

    @property
    def is_shown(self) -> bool:
        return self.window.stage == "materials" and self.window.document is not None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What mechanics and orders have to say of the newest take-off."""
        answer = self.counting.answer
        return () if answer is None else answer.findings

    def close(self) -> None:
        self.counting.close()

    def forget(self) -> None:
        """Put down everything of the project that is left."""
        self.counting.forget()
        self.own.put_down()

    def follow(self) -> None:
        """Show the document's trellises as they are, and count what is not counted yet."""
        if not self.is_shown:
            return
        if self.theme is not self.window.theme:
            self.theme = self.window.theme
            self.card.wear(self.theme)
            self.side.wear(self.theme)
        self.show_trellis()
        self.counting.follow()
        self.show()

    def arrange(self, left: QRect, right: QRect) -> None:
        """Stand left and right of the plan while the stage is on show."""
        shown = self.is_shown
        if shown:
            wanted = min(self.card.wanted_height(left.width()), left.height())
            self.card.setGeometry(left.x(), left.y(), left.width(), wanted)
            self.side.setGeometry(right)
        self.card.setVisible(shown)
        self.side.setVisible(shown)

    # the trellis

    def names(self) -> tuple[str, ...]:
        """Blocks in scope: those the rules are for, too."""
        return tuple(self.window.rules.block_names())

    def materials(self) -> Materials:
        return self.window.document.project.materials or Materials()

    def choose_block(self, index: int) -> None:
        """Take other blocks into scope."""
        self.window.block_choice.setCurrentIndex(index)
        self.window.show_rules()
        self.show_trellis()

    def show_trellis(self) -> None:
        """Show the trellis of the blocks in scope, in words and from the side."""
        from ..session.trellis_drawing import trellis_drawing
        from ..session.trellis_words import trellis_paragraph

        w, names, materials = self.window, self.names(), self.materials()
        self.card.scope.follow(w.block_choice, names[0])
        trellises = {materials.trellis_of(n) for n in names}
        rules = w.document.project.block(names[0]).rules
        alone = len(trellises) == 1
        drawing = trellis_drawing(
            materials.trellis_of(names[0]), rules, w.unit, "" if alone else names[0]
        )
        self.card.show_drawing(drawing)
        self.card.paragraph.show_paragraph(trellis_paragraph(materials, names, w.unit))
        self._order_tabs()

    def _order_tabs(self) -> None:
        """Have Tab go as the eye does: blocks, paragraph, take-off."""
        chain = [self.card.scope.choice, *self.card.paragraph.fields.values(), *self.side.chain()]
        if chain != self._chain:
            self._chain = chain
            for before, after in pairwise(chain):
                QWidget.setTabOrder(before, after)

    def settle_edit(self) -> None:
        """Let go of a value: the next change is a step of its own."""
        if self.window.document is not None:
            self.window.document.settle()
            self.window.ask_settled()
            self.window.arrange()

    def type(self, key: str, text: str) -> None:
        """Take a value of the paragraph as typed or chosen; what cannot be is said at the value."""
        from ..session.trellis_words import with_typed_trellis

        names, unit = self.names(), self.window.unit
        self._try(key, lambda p: with_typed_trellis(p, names, key, text, unit))

    def move(self, key: str, steps: float) -> None:
        """Step a value, in each block from what it has there; steps in a row are one edit."""
        from ..session.trellis_words import with_stepped_trellis

        names, unit = self.names(), self.window.unit
        self._try(key, lambda p: with_stepped_trellis(p, names, key, steps, unit), f"scrub {key}")

    def _try(self, key: str, change, merge: str | None = None) -> None:
        try:
            self.window.document.edit(f"Change {self._name(key)}", change, merge)
        except InputProblem as problem:
            self.card.paragraph.refuse(key, str(problem))
            self.window.arrange()

    def _name(self, key: str) -> str:
        """What an edit of a value is called, with its blocks where there are several."""
        name = self.card.paragraph.fields[key].value.name
        names, blocks = self.names(), self.window.document.project.blocks
        if len(blocks) == 1:
            return name
        return f"{name} of {'all blocks' if len(names) == len(blocks) else ' and '.join(names)}"

    def put_back(self, key: str) -> None:
        """Take back what was stepped or scrubbed since the value was last settled."""
        self.window.document.withdraw(f"scrub {key}")

    # the take-off

    def _come(self) -> None:
        if self.is_shown:
            self.show()
            self.window.show_findings()
            self.window.arrange()

    def show(self) -> None:
        """Show the newest take-off: of the selected rows where there are any, else of the site."""
        if not self.is_shown:
            return
        from ..session.selection import chosen_segments
        from ..session.take_off_lines import take_off_lines, totals_text
        from ..session.take_off_set import CAUTIONS

        side, counting, unit = self.side, self.counting, self.window.unit
        answer = counting.answer
        going_on = counting.is_going_on
        state = _COUNTING if going_on else counting.problem
        side.state.say(state, amiss=bool(counting.problem))
        if answer is None:
            side.table.show_lines(())
            side.show_totals(())
            side.say_empty("")
            return
        chosen = chosen_segments(self.window.selecting.selection, answer.plans)
        some = chosen is not None
        side.show_banner(self._of_what(answer) if some else "")
        stale = answer.project is not self.window.document.project
        lines = take_off_lines(answer, unit, chosen)
        side.table.show_lines(lines, stale=stale)
        side.say_empty("" if lines or some else _NO_ROWS)
        first, *others = totals_text(answer, unit) or ("",)
        first = f"The whole site: {first[:1].lower()}{first[1:]}" if some else first
        side.show_totals((first, *others, *counting.newest.notes, CAUTIONS[0], CAUTIONS[2]))
        self.own.show()

    def _of_what(self, answer) -> str:
        from ..session.selection import figures_of
        from ..session.tally import rows_in_words

        figures = figures_of(self.window.selecting.selection, answer.plans)
        words = rows_in_words(figures.rows, figures.segments)
        return f"What the selected rows take alone: {words}."

    def read_supplies(self) -> None:
        """Ask for a list of own items and prices, and take them into the project."""
        self.own.ask_for_list()

    def write_template(self) -> None:
        """Write the items of the take-off as a list, to be filled in and read back."""
        if self._is_counted():
            self.own.write_list()

    # handing out

    def settle(self) -> None:
        """Keep the take-off as it is now, to tell later ones from."""
        from ..session.material_edits import with_settled

        if not self._is_counted():
            return
        answer, day = self.counting.answer, datetime.date.today()
        self.window.document.edit("settled take-off", lambda p: with_settled(p, answer, day))
        self.window.filing.say("Kept as settled: later changes are told from it.")

    def copy(self) -> None:
        """Put the list on the clipboard, to be pasted into a sheet."""
        if not self._is_counted():
            return
        QApplication.clipboard().setText(as_text(self.side.table.lines))
        self.window.filing.say("The take-off is copied as a table.")

    def write(self, kind: str) -> None:
        """Ask where to, and write the take-off as it is now into a file."""
        w = self.window
        w.filing.take_typing()
        title, filters, what = _KINDS[kind]
        folder = choosing.usual_folder(str(w.settings.value("folder", "")))
        start = folder / f"{w.document.project.name}, {what}.{kind}"
        path = choosing.chosen_path(w, f"{title} of the take-off", start, filters, what="save")
        if path is None:
            return
        if path.suffix.lower() != f".{kind}":
            path = path.with_name(f"{path.name}.{kind}")
        w.settings.setValue("folder", str(path.parent))
        self.write_to(path)

    def write_to(self, path: Path) -> None:
        """Write into a file, off the GUI thread; the end of its name says what."""
        from ..session.take_off_files import write_take_off_file

        filing, unit = self.window.filing, self.window.unit
        held, wanted = self._held(), self.counting.wanted()
        if wanted is None:
            filing.say("The rows are still being laid: in a moment.")
            return

        def work(say):
            say(0.1, path.name)
            counted = held or Counter().answer(wanted)
            say(0.4, path.name)
            write_take_off_file(path, counted.answer, unit, terrain=counted.statement)

        filing.run(
            work,
            "Writing the take-off",
            lambda _: filing.say(f"The take-off is written to {path.name}."),
            filing.complain,
        )

    def _is_counted(self) -> bool:
        """Whether all of the project as it is is counted; says so where it is not, and begins."""
        if self.counting.is_done:
            return True
        self.window.show_stage("materials")
        self.window.filing.say("The take-off is still being counted: in a moment.")
        return False

    def _held(self):
        """What is counted, where it is all of the project as it is."""
        return self.counting.newest if self.counting.is_done else None
