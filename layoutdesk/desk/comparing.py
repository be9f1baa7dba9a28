"""The compare stage at work: covers the plan, keeps its figures true, and hands them out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QApplication

from ..core.model.study import Study
from . import choosing
from .bearing_curves import MOST_CURVES
from .candidate_edits import CandidateEdits
from .counting import Counter, Counting, same_ground

_KINDS = {
    "pdf": ("A sheet with the plans", "PDF (*.pdf)"),
    "xlsx": ("A workbook", "Excel workbook (*.xlsx)"),
    "csv": ("A table", "CSV (*.csv)"),
}
_TOLD = "● best in its line; differences are from {}."
_NO_SCORE = "Nothing is added up into a score."
_USUAL_CURVES = 4
_COUNTING = "Counting…"


class Comparing(QObject):
    """Shows the study of the document on the compare stage."""

    def __init__(self, window, stage):
        super().__init__(window)
        self.window, self.stage = window, stage
        self.counting = Counting(window)
        self.counting.came.connect(self.show)
        self.counting.progressed.connect(self._say_progress)
        self.edits = CandidateEdits(window, stage, self.counting)
        stage.table.pointed.connect(self._tell)
        stage.table.walked.connect(self._tell)
        stage.table.copy_wanted.connect(self.copy)
        stage.curves.chosen.connect(self.choose_curve)

    def tie(self, actions) -> None:
        """Put the actions into the menus and buttons of the stage."""
        ways = ("compare-sweep", "compare-places", "compare-edge")
        self.stage.ways_menu.addActions([actions[n] for n in ways])
        self.stage.export_menu.addActions([actions[f"compare-{k}"] for k in (*_KINDS, "copy")])
        self.stage.invitation.best.clicked.connect(actions["compare-sweep"].trigger)
        self.stage.invitation.places.clicked.connect(actions["compare-places"].trigger)

    def close(self) -> None:
        self.counting.close()

    # being on show

    @property
    def is_shown(self) -> bool:
        """Whether the stage covers the plan: not while the hand sets places on it."""
        w = self.window
        return w.stage == "compare" and w.document is not None and w.canvas.tool is None

    def arrange(self) -> None:
        """Cover the plan while the stage is on show; the keyboard goes where the eye does."""
        canvas, stage, shown = self.window.canvas, self.stage, self.is_shown
        if shown:
            stage.put(self.window.stage_bar)
        if shown == (not stage.isHidden()):
            return
        had = canvas.hasFocus() or stage.isAncestorOf(self.window.focusWidget() or canvas)
        canvas.setFocusProxy(stage.plans if shown else None)
        policies = Qt.FocusPolicy
        canvas.setFocusPolicy(policies.NoFocus if shown else policies.StrongFocus)
        stage.setVisible(shown)
        canvas.point_at(None)
        if had:
            canvas.setFocus()

    def forget(self) -> None:
        """Put down everything of the project that is left."""
        self.counting.forget()
        self.stage.clear()

    def follow(self) -> None:
        """Show the document's study as it is now, and count what is not counted yet."""
        if self.window.stage == "compare" and self.window.document is not None:
            self.counting.follow()
            self.show()
        self.edits.fall_quiet()

    # showing

    def _columns(self, study: Study):
        from ..session.compare_lines import columns_of

        project = self.window.document.project
        return columns_of(project, study, self.counting.answer, self.window.unit)

    def show(self) -> None:
        """Show the study with the figures there are; those of another ground look so."""
        w, stage, counting = self.window, self.stage, self.counting
        if w.stage != "compare" or w.document is None:
            return
        from ..session.compare_lines import table_of
        from ..session.study_words import study_paragraph

        project, study, answer = w.document.project, self.edits.study(), counting.answer
        columns = self._columns(study)
        drawn = counting.newest.drawings if counting.newest else ()
        drawings = [None if c.result is None else drawn[c.result] for c in columns]
        stage.plans.unit = w.unit
        stage.plans.show_columns(columns, study.base, drawings)
        stage.show_count(len(columns))
        stale = answer is not None and not same_ground(answer.project, project)
        unread = counting.newest.said if counting.newest is not None else ""
        groups = table_of(study, columns, answer, w.unit, unread)
        stage.table.show_table(groups, columns, study.base, stale)
        names = tuple(b.name for b in project.blocks)
        latitude = project.site.frame.latitude_deg
        stage.paragraph.show_paragraph(study_paragraph(study, latitude, w.unit, names))
        stage.order_tabs()
        self._show_curves(study, columns)
        if counting.problem or not counting.is_going_on:
            stage.state.say(counting.problem or unread, amiss=True)
        elif not stage.state.text().startswith(_COUNTING):
            stage.state.say(_COUNTING)
        self._tell()

    def _say_progress(self, share: float) -> None:
        if self.counting.is_going_on and self.window.document is not None:
            self.stage.state.setText(f"{_COUNTING} {share:.0%}".replace("%", "\u202f%"))

    def _show_curves(self, study: Study, columns) -> None:
        from ..session.compare_lines import curves_of, swept_values
        from ..session.measure_words import measure_heading

        curves, swept, unit = self.stage.curves, self.counting.swept_answer, self.window.unit
        curves.mark(columns, study.base)
        known = swept_values(swept)
        if not known:
            going_on = self.counting.is_going_on
            says = "All bearings are being counted…" if going_on else "There are no curves here."
            curves.show_curves(np.empty(0), (), (), says=says)
            return
        curves.show_curves(
            swept.sweep.bearings_deg,
            curves_of(swept, self._drawn(study, known), study, unit),
            tuple((n, measure_heading(n, unit, study)) for n in known),
            stale=not same_ground(swept.project, self.window.document.project),
        )

    def _drawn(self, study: Study, known) -> list[str]:
        """Which curves are drawn: those that were chosen once, else of the measures that decide."""
        kept = self.window.settings.value("compare/curves", None)
        if kept is not None:
            names = [kept] if isinstance(kept, str) else list(kept)
            return [n for n in names if n in known][:MOST_CURVES]
        return [n for n in known if n in study.chosen][:_USUAL_CURVES]

    def choose_curve(self, name: str, drawn: bool) -> None:
        """Draw one more curve, or one less; remembered for all projects."""
        from ..session.compare_lines import swept_values

        names = self._drawn(self.edits.study(), swept_values(self.counting.swept_answer))
        names = [n for n in names if n != name] + ([name] if drawn else [])
        self.window.settings.setValue("compare/curves", names)
        self.show()

    def _tell(self, name: str = "") -> None:
        """What the line under the pointer or the keyboard means, else how to read the table."""
        table = self.stage.table
        line = table.model.named(name or table.line_at_keyboard())
        if line is not None:
            self.stage.told.setText(f"{line.heading}: {line.meaning}")
        elif table.model.columns:
            told = _TOLD.format(table.model.columns[table.model.base].called)
            said = (told, self._differs(), _NO_SCORE)  # what has no room at the end can be spared
            self.stage.told.setText("  ".join(s for s in said if s))

    def _differs(self) -> str:
        """What sets the candidates apart, in words; empty until it is known."""
        answer = self.counting.answer
        if answer is None:
            return ""
        from ..session.comparing import table_of_values
        from ..session.measure_words import what_differs

        values = table_of_values(answer.results)
        return what_differs(values, self.window.unit, answer.study)

    # handing out

    def copy(self) -> None:
        """Put the table on the clipboard, to be pasted into a sheet."""
        from ..session.compare_lines import as_text, table_of

        answer = self.counting.swept_answer
        if answer is None or answer.project is not self.window.document.project:
            self.window.filing.say("Not all is counted yet: look at the stage Compare first.")
            return
        study = self.edits.study()
        columns = self._columns(study)
        groups = table_of(study, columns, answer, self.window.unit)
        QApplication.clipboard().setText(as_text(groups, columns))
        self.window.filing.say("The comparison is copied as a table.")

    def write(self, kind: str) -> None:
        """Ask where to, and write the comparison as it is now into a file."""
        w = self.window
        w.filing.take_typing()
        title, filters = _KINDS[kind]
        folder = choosing.usual_folder(str(w.settings.value("folder", "")))
        start = folder / f"{w.document.project.name}, compared.{kind}"
        path = choosing.chosen_path(w, f"{title} of the comparison", start, filters, what="save")
        if path is None:
            return
        if path.suffix.lower() != f".{kind}":
            path = path.with_name(f"{path.name}.{kind}")
        w.settings.setValue("folder", str(path.parent))
        self.write_to(path)

    def write_to(self, path: Path) -> None:
        """Write into a file, off the GUI thread; the end of its name says what."""
        from ..session.compare_files import write_compare_file

        filing, unit, wanted = self.window.filing, self.window.unit, self.counting.wanted()
        held = self.counting.swept if self.counting.is_done else None

        def work(say):
            counted = held or Counter(lambda share: say(0.8 * share, path.name)).answer(wanted)
            say(0.9, path.name)
            write_compare_file(path, counted.answer, counted.terrain, unit)

        filing.run(
            work,
            "Writing the comparison",
            lambda _: filing.say(f"The comparison is written to {path.name}."),
            filing.complain,
        )
