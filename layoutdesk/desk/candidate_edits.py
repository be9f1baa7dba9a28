"""Wishes on the compare stage, as edits of the document: candidates, and what they are measured by."""

from __future__ import annotations

from dataclasses import replace

from ..core.compare.catalogue import MEASURES
from ..core.model import InputProblem
from ..core.model.study import Candidate, Study
from .asking import Field, Unfit
from .sketch import SketchTool


class CandidateEdits:
    """Adds, adopts and takes out candidates; sets the base, notes, and the paragraph's values."""

    def __init__(self, window, stage, counting):
        self.window, self.stage, self.counting = window, stage, counting
        self._adopted: tuple = ("", None)
        stage.add_typed.connect(self.add_typed)
        plans = stage.plans
        plans.base_wanted.connect(self.make_base)
        plans.adopt_wanted.connect(self.adopt)
        plans.note_wanted.connect(self.ask_note)
        plans.remove_wanted.connect(self.remove)
        stage.table.ticked.connect(self.tick)
        stage.curves.wanted.connect(self.add_at)
        p = stage.paragraph
        p.began.connect(lambda _: self._settle())
        p.typed.connect(self.type)
        p.chosen.connect(self.type)
        p.moved.connect(self.move)
        p.put_back.connect(self.put_back)
        p.settled.connect(lambda _: self._settle())

    def study(self) -> Study:
        """The document's study, with the plan as it stands where it has none."""
        from ..session.comparing import study_of

        return study_of(self.window.document.project)

    def _edit(self, label: str, change) -> bool:
        """An edit that may find its input unfit, and then changes nothing."""
        try:
            return self.window.document.edit(label, change)
        except InputProblem as problem:
            self.window.filing.complain(problem)
            return False

    def _edit_study(self, label: str, change, merge: str | None = None) -> None:
        from ..session.comparing import study_of

        document = self.window.document
        document.edit(label, lambda p: replace(p, study=change(study_of(p))), merge)

    def _settle(self) -> None:
        if self.window.document is not None:
            self.window.document.settle()

    # candidates

    def focus_field(self) -> None:
        """Put the keyboard where a candidate is typed."""
        self.window.show_stage("compare")
        self.stage.take_keyboard()

    def add_typed(self, text: str) -> None:
        """Add a candidate as typed; what cannot be is said under the field, and stays for mending."""
        from ..session.study_edits import candidate_of

        try:
            self.add(candidate_of(text, self.window.unit, self.window.rules.true_from))
        except InputProblem as problem:
            self.stage.refuse(str(problem))
        else:
            self.stage.refuse("")
            self.stage.field.clear()

    def add(self, *candidates: Candidate) -> None:
        """Put candidates beside those there are, as one edit.

        Of several those are passed over that stand there already.

        Raises
        ------
        InputProblem
            Where none can be added.
        """
        from ..session.study_edits import with_candidate

        def change(project):
            before = project
            for candidate in candidates:
                try:
                    project = with_candidate(project, candidate)
                except InputProblem as problem:
                    refused = problem
            if project is before:
                raise refused
            return project

        label = "candidate" if len(candidates) == 1 else "candidates"
        self.window.document.edit(label, change)

    def add_at(self, bearing_deg: float) -> None:
        """Add a candidate at a bearing, in all else like the base."""
        from ..session.candidate_ways import candidate_at

        try:
            self.add(candidate_at(self.study(), bearing_deg))
        except InputProblem as problem:
            self.window.filing.say(str(problem))

    def add_along_edge(self) -> None:
        """Add rows along the edge that is in hand on the rows stage."""
        w = self.window
        view = w.edges.view
        if view is None:
            w.filing.tell(
                "No edge is in hand. Click one on the stage Rows, or step through them there with "
                "Ctrl+], and then choose this again.",
                answers=(("To the rows", lambda: w.show_stage("rows")), ("Leave it", lambda: None)),
            )
            return
        w.show_stage("compare")
        self.add_at(round(view.bearing_deg, 4))

    def add_through_places(self) -> None:
        """Have two places set on the plan; rows run from the first to the second."""
        from ..session.candidate_ways import bearing_between

        w = self.window
        w.show_stage("compare")
        w.take_tool(
            SketchTool(
                w,
                "A candidate whose rows run from one place to another",
                "pair",
                lambda places: self.add_at(bearing_between(places)),
            )
        )

    def ask_sweep(self) -> None:
        """Ask by which measure the best bearings are to be added, and how many."""
        w = self.window
        w.show_stage("compare")
        if self.counting.swept is None:
            w.filing.say("All bearings are still being counted: in a moment.")
            return
        from ..session.candidate_ways import APART_DEG, measure_named
        from ..session.compare_lines import swept_values

        known = [n for n in swept_values(self.counting.swept_answer) if MEASURES[n].better]

        def offers(text: str) -> list[tuple[str, str]]:
            labels = [MEASURES[n].label for n in known]
            wanted = text.strip().casefold()
            return [(label, label) for label in labels if wanted in label.casefold()]

        w.site.ask(
            "The best of all bearings",
            f"The best bearings by one measure are added, at least {APART_DEG:g}° apart.",
            (
                Field("measure", "Measure", hint="one of these", offers=offers),
                Field("count", "How many", "3"),
            ),
            "Add them",
            lambda texts: self._add_best(measure_named(texts["measure"], known), texts["count"]),
        )

    def _add_best(self, name: str, count: str) -> None:
        from ..session.candidate_ways import best_bearings, candidate_at, typed_count
        from ..session.compare_lines import swept_values

        try:
            wanted = typed_count(count)
        except InputProblem as problem:
            raise Unfit(problem, "count") from None
        answer, study = self.counting.swept_answer, self.study()
        values = swept_values(answer)[name]
        found = best_bearings(answer.sweep.bearings_deg, values, name, wanted)
        self.add(*(candidate_at(study, b) for b in found))

    def remove(self, index: int) -> None:
        from ..session.study_edits import without_candidate

        self._edit("candidate taken out", lambda p: without_candidate(p, index))

    def make_base(self, index: int) -> None:
        from ..session.study_edits import with_base

        self._edit("base of the comparison", lambda p: with_base(p, index))

    def adopt(self, index: int) -> None:
        """Have the blocks laid as a candidate would have them."""
        from ..session.study_edits import keeps_the_old_plan, with_adopted

        called = self.stage.plans.cards[index].column.called
        kept = keeps_the_old_plan(self.window.document.project, index)
        if self._edit(f"adopt {called}", lambda p: with_adopted(p, index)):
            self.window.ask_settled()
            said = f"The rows run as in {called} now; undo takes it back."
            if not kept:
                said += " The old plan is no longer compared."
            self.window.filing.say(said)
            self._adopted = said, self.window.document.project.blocks

    def fall_quiet(self) -> None:
        """Take back what was said of an adoption once the rows run otherwise."""
        said, blocks = self._adopted
        document, work = self.window.document, self.window.work
        if said and (document is None or document.project.blocks is not blocks):
            self._adopted = "", None
            if work.text() == said:
                work.clear()

    def ask_note(self, index: int) -> None:
        """Ask for the name and the note of a candidate."""
        column, asked = self.stage.plans.cards[index].column, self.study().candidates[index]
        self.window.site.ask(
            f"Name and note of {column.called}",
            "They stand with the plan and in every file of the comparison.",
            (
                Field("name", "Name", asked.name, f"empty: {column.title}"),
                Field("note", "Note", asked.note, "empty: no note"),
            ),
            "Keep them",
            lambda texts: self._keep_words(asked, texts["name"], texts["note"]),
        )

    def _keep_words(self, asked: Candidate, name: str, note: str) -> None:
        from ..session.study_edits import with_name, with_note

        def change(project):
            # others may have been taken out while the card stood open
            candidates = study_of(project).candidates
            if asked not in candidates:
                raise InputProblem("This candidate is no longer compared: its words went with it.")
            index = candidates.index(asked)
            return with_note(with_name(project, index, name), index, note.strip())

        from ..session.comparing import study_of

        self.window.document.edit("words on a candidate", change)

    def tick(self, name: str, on: bool) -> None:
        """Have a measure decide, or no longer, which candidates are beaten."""

        def change(study: Study) -> Study:
            names = set(study.chosen) | {name} if on else set(study.chosen) - {name}
            return replace(study, chosen=tuple(n for n in MEASURES if n in names))

        self._edit_study("measures that decide", change)

    # what is measured by

    def type(self, key: str, text: str) -> None:
        """Take a value of the paragraph as typed or chosen; what cannot be is said at the value."""
        from ..session.study_words import with_typed

        unit, true_from = self.window.unit, self.window.rules.true_from
        self._try(key, lambda study: with_typed(study, key, text, unit, true_from))

    def move(self, key: str, steps: float) -> None:
        """Step a value; steps in a row are one edit."""
        from ..session.study_words import stepped

        project, unit = self.window.document.project, self.window.unit
        latitude = project.site.frame.latitude_deg
        names = tuple(b.name for b in project.blocks)
        self._try(
            key,
            lambda study: stepped(study, key, steps, latitude, unit, names),
            f"scrub {key}",
        )

    def _try(self, key: str, change, merge: str | None = None) -> None:
        from ..session.study_words import NAMES

        try:
            self._edit_study(NAMES[key], change, merge)
        except InputProblem as problem:
            self.stage.paragraph.refuse(key, str(problem))

    def put_back(self, key: str) -> None:
        """Take back what was stepped or scrubbed since the value was last settled."""
        self.window.document.withdraw(f"scrub {key}")
