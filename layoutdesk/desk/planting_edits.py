"""Wishes on the planting stage, as edits of the document: values, lots, tags, assignments, days."""

from __future__ import annotations

import datetime

from ..core.model import InputProblem
from . import choosing
from .asking import Field
from .planting_asking import at_its_field

_TABLES = "Tables (*.csv *.txt);;All files (*)"
_OF_A_LOT = ("tag", "tags-read", "tags-done", "lot-remove", "fill")
_OF_DAYS = ("missed", "day-cards", "calendar", "years-xlsx")
_OF_ASSIGNMENTS = ("swap", "unassign")


class PlantingEdits:
    """Edits what the project says of its planting."""

    def __init__(self, window, work):
        self.window, self.work = window, work
        self._worded: tuple = ()
        for p in work.card.paragraphs.values():
            p.began.connect(lambda _: window.document.settle())
            p.typed.connect(self.type)
            p.chosen.connect(self.type)
            p.moved.connect(self.move)
            p.put_back.connect(lambda key: window.document.withdraw(_scrub(key)))
            p.settled.connect(lambda _: window.document.settle())

    @property
    def project(self):
        return self.window.document.project

    # words

    def show_words(self) -> None:
        """The paragraphs of all pages, as the project is."""
        from ..session import planting_words as words
        from ..session.lot_words import lot_paragraph

        lot, unit, project = self.work.held_lot, self.window.unit, self.project
        worded = (project.planting, project.water, project.site.frame, unit, lot)
        if worded == self._worded:
            return
        self._worded = worded
        shown = self.work.card.paragraphs
        shown["lot"].show_paragraph(lot_paragraph(project, lot, unit) if lot else ())
        self._word_buttons(lot)
        self.work.card.say("lots", "" if lot else "No lot yet: add one, or read them from a table.")
        shown["setting"].show_paragraph(words.setting_paragraph(project, unit))
        shown["crew"].show_paragraph(words.crew_paragraph(project, unit))
        shown["inspecting"].show_paragraph(words.inspecting_paragraph(project, unit))
        shown["years"].show_paragraph(words.years_paragraph(project, unit))

    def _word_buttons(self, lot: str) -> None:
        """Buttons that are about the lot in hand, and those that need a lot or an assignment."""
        from ..session.planted import begins_of

        card, actions, planting = self.work.card, self.window.actions_by_id, self.project.planting
        known = planting.lot(lot) if lot else None
        done = known is not None and known.tags_recorded
        words = "Tags not all recorded" if done else "All tags recorded"
        for button in card.buttons["planting-tags-done"]:
            button.setText(words)
        assigned = planting is not None and bool(planting.assignments)
        undated = begins_of(self.project) is None
        groups = (
            (_OF_A_LOT, known is None),
            (_OF_ASSIGNMENTS, not assigned),
            (_OF_DAYS, undated),
        )
        for names, barred in groups:
            card.bar_buttons((actions[f"planting-{name}"] for name in names), barred)

    def type(self, key: str, text: str) -> None:
        """Take a value as typed or chosen; what cannot be is said at the value."""
        from ..session.lot_words import with_typed_lot
        from ..session.planting_words import with_typed_planting

        lot, unit, today = self.work.held_lot, self.window.unit, datetime.date.today()
        if key.startswith("lot."):
            self._try(key, lambda p: with_typed_lot(p, lot, key, text, today))
            planting = self.project.planting
            if key == "lot.name" and planting is not None and planting.lot(text.strip()):
                self.work.take_lot(planting.lot(text.strip()).name)
        else:
            self._try(key, lambda p: with_typed_planting(p, key, text, unit))

    def move(self, key: str, steps: float) -> None:
        """Step a value; steps in a row are one edit."""
        from ..session.lot_words import with_stepped_lot
        from ..session.planting_words import with_stepped_planting

        lot, unit = self.work.held_lot, self.window.unit
        if key.startswith("lot."):
            self._try(key, lambda p: with_stepped_lot(p, lot, key, steps), _scrub(key))
        else:
            self._try(key, lambda p: with_stepped_planting(p, key, steps, unit), _scrub(key))

    def _try(self, key: str, change, merge: str | None = None) -> None:
        from ..session.lot_words import LOT_NAMES
        from ..session.planting_words import PLANTING_NAMES

        name = {**PLANTING_NAMES, **LOT_NAMES}[key]
        try:
            self.window.document.edit(f"Change {name}", change, merge)
        except InputProblem as problem:
            paragraph = self.work.card.paragraph_with(key)
            if paragraph is None:
                self.window.filing.complain(problem)
            else:
                paragraph.refuse(key, str(problem))

    def _ask(
        self, title: str, sentence: str, fields, primary: str, label: str, change, then=None
    ) -> None:
        """Ask for what a change needs; `change(project, texts)` gives the project."""

        fields = tuple(fields)

        def edit(texts):
            try:
                self.window.document.edit(label, lambda p: change(p, texts))
            except InputProblem as problem:
                raise at_its_field(problem, fields) from problem
            if then is not None:
                then(texts)

        self.window.site.ask(title, sentence, fields, primary, edit)

    # lots and tags

    def new_lot(self) -> None:
        from ..session.lot_words import with_new_lot

        today = datetime.date.today()
        self._ask(
            "New lot",
            "A lot is one delivery of one plant. What came of it can be said later.",
            (
                Field("name", "Lot", hint="as the delivery note has it: 27-A"),
                Field("variety", "Variety"),
                Field("clone", "Clone"),
                Field("rootstock", "Rootstock"),
                Field("nursery", "Nursery"),
                Field("ordered", "Plants ordered", hint="1200"),
            ),
            "Add the lot",
            "new lot",
            lambda p, texts: with_new_lot(p, texts, today),
            then=lambda texts: self.work.take_lot(texts["name"].strip()),
        )

    def remove_lot(self) -> None:
        from ..session.lot_edits import without_lot

        self._edit_lot("lot taken away", without_lot)

    def turn_tags_recorded(self) -> None:
        """Say that all tags of the lot in hand are recorded, or that they are not."""
        from ..session.lot_edits import with_all_tags_recorded

        lot = self.work.held_lot
        planting = self.project.planting
        known = planting.lot(lot) if planting is not None and lot else None
        yes = known is not None and not known.tags_recorded
        self._edit_lot("tags of a lot", lambda p, name: with_all_tags_recorded(p, name, yes))

    def _edit_lot(self, label: str, change) -> None:
        lot = self.work.held_lot
        if not lot:
            self.window.filing.say("There is no lot yet.")
            return
        try:
            self.window.document.edit(label, lambda p: change(p, lot))
        except InputProblem as problem:
            self.window.filing.complain(problem)

    def record_tag(self) -> None:
        from ..session.lot_words import with_tag_texts

        today = datetime.date.today()
        self._ask(
            "A plant's tag",
            "What stands on it goes on record before it comes off: a tag left on strangles the trunk.",
            (
                Field("lot", "Lot", self.work.held_lot),
                Field("text", "As it stands on the tag"),
                Field("variety", "Variety", hint="where the tag says it"),
                Field("clone", "Clone"),
                Field("rootstock", "Rootstock"),
                Field("plants", "Plants with this very tag", "1"),
                Field("by", "Read by", self.work.records.who),
            ),
            "Record it",
            "tag recorded",
            lambda p, texts: with_tag_texts(p, texts, today),
        )

    def read_lots(self) -> None:
        from ..session.lot_words import with_lots_of_file

        self._read("Lots, as a table", "lots read", with_lots_of_file)

    def read_tags(self) -> None:
        from ..session.lot_words import with_tags_of_file

        self._read("Tags, as a table", "tags read", with_tags_of_file)

    def _read(self, title: str, label: str, change) -> None:
        w = self.window
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        path = choosing.chosen_path(w, title, start, _TABLES)
        if path is not None:
            w.settings.setValue("folder", str(path.parent))
            self.read_from(path, label, change)

    def read_from(self, path, label: str, change) -> None:
        """Read a table into the project; what of it was not taken is told."""
        w, told = self.window, []
        today = datetime.date.today()

        def read(project):
            after, sentences = change(project, path, today)
            told[:] = sentences
            return after

        try:
            w.document.edit(label, read)
        except InputProblem as problem:
            w.filing.complain(problem)
            return
        w.filing.say(f"{path.name} is read.")
        if told:
            w.filing.tell("\n".join(told), f"Of {path.name}")

    # assignments

    def assign(self) -> None:
        from ..session.lot_words import with_assignment_texts

        self._ask(
            "Which plant stands where",
            "Rows by number, a segment, or some of its vines: B1; B1 rows 12-40; B1 rows 3-30 every 9; "
            "B1-R012A-V001..V060. A later assignment goes before an earlier one.",
            (
                Field("parts", "Where", self.work.records.parts_in_hand()),
                Field(
                    "what",
                    "Lot, or plant",
                    self.work.held_lot,
                    hint="27-A or Variety; clone; rootstock",
                ),
                Field("use", "For", "crop", hint="crop, buffer, pollinator or trial"),
            ),
            "Assign",
            "assignment",
            with_assignment_texts,
        )

    def fill(self) -> None:
        from ..session.assigning import filled_from

        plans = self.work.tool.plans
        self._ask(
            "Fill rows from a vine",
            "The lot is set vine by vine, row after row, until it is used up.",
            (
                Field("lot", "Lot", self.work.held_lot),
                Field(
                    "code", "From the vine", self.work.records.code_in_hand(), hint="B1-R001A-V001"
                ),
                Field("order", "Way", "rows", hint="rows, or back and forth"),
            ),
            "Fill",
            "rows filled",
            lambda p, texts: filled_from(p, plans, texts["lot"], texts["code"], texts["order"]),
        )

    def swap(self) -> None:
        from ..session.lot_words import with_swap_texts

        today = datetime.date.today()
        plans = self.work.tool.plans
        self._ask(
            "Another lot than assigned",
            "The earlier assignment stays on record, and this one with its reason behind it.",
            (
                Field("parts", "Where", self.work.records.parts_in_hand()),
                Field("lot", "Lot that takes its place", self.work.held_lot),
                Field("reason", "Reason"),
            ),
            "Swap",
            "lot swapped",
            lambda p, texts: with_swap_texts(p, plans, texts, today),
        )

    def take_back(self) -> None:
        """Take the assignment in hand back."""
        from ..session.assigning import without_assignment

        line = self.work.side.tables["assignments"].held_line
        if line is None:
            self.window.filing.say("Pick an assignment in the list first.")
            return
        try:
            self.window.document.edit(
                "assignment taken back", lambda p: without_assignment(p, line.index)
            )
        except InputProblem as problem:
            self.window.filing.complain(problem)

    # days

    def miss_day(self) -> None:
        """Note that the day in hand did not come about; what was planned for it moves on."""
        from ..session.planting_words import with_missed_day

        at = self.work.side.tables["days"].held
        days = self.work.answer.days if self.work.answer is not None else None
        if at is None or days is None:
            self.window.filing.say("Pick a day in the list first.")
            return
        day = days.days[at].day
        self.window.document.edit("missed day", lambda p: with_missed_day(p, day))

    def ask_title(self) -> None:
        from ..session.planting_words import TITLE_FIELDS, title_texts, with_title_texts

        texts = title_texts(self.project)
        self._ask(
            "Title block",
            "Printed on the sheets; what is left empty can be filled in by hand.",
            (Field(name, label, texts[name]) for name, label in TITLE_FIELDS),
            "Keep it",
            "title block",
            with_title_texts,
        )


def _scrub(key: str) -> str:
    return f"scrub {key}"
