"""What came back from the field on the hand-off stage: read, told, accepted or adopted, and reported."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

from ..core.model import InputProblem
from . import choosing
from .asking import Field, Unfit
from .handoff_counting import MeasuredFile, Staking

_MEASURED = (
    "Measured points (*.csv *.txt *.xml *.dxf *.gpkg *.shp *.zip *.geojson *.json *.kml *.kmz *.gpx "
    "*.asc *.pts *.xyz *.dat);;All files (*)"
)
_NO_FILE = (
    "Read the file that a crew brought back: a table in any order of columns, LandXML, DXF, GeoPackage or "
    "Shapefile. Its points are matched with the plan by code, by number or by place, and nothing is changed "
    "before you say so."
)
_REPORTS = {
    ".pdf": "PDF (*.pdf)",
    ".csv": "CSV (*.csv)",
    ".geojson": "GeoJSON (*.geojson)",
    ".json": "JSON (*.json)",
}
_OF_AN_ANSWER = ("staked-how", "staked-accept", "staked-adopt")
_LISTS = ("explanations", "worst", "staked_rows")


class StakedWork:
    """Keeps the page of measured points true, and does what its buttons ask."""

    def __init__(self, window, work):
        self.window, self.work = window, work
        self.staking = Staking(window, work.counting)
        self._written: tuple = ()

    def close(self) -> None:
        self.staking.close()

    def forget(self) -> None:
        self.staking.forget()
        self._written = ()

    @property
    def answer(self):
        """The newest answer of the file in hand; None without one."""
        return self.staking.answer

    @property
    def holds(self) -> bool:
        """Whether it is of the rows on show."""
        return self.staking.holds_for_the_rows

    @property
    def layer(self):
        """Arrows of the file in hand; None where there are none of the rows on show."""
        return self.staking.newest.layer if self.holds else None

    # showing

    def show(self) -> None:
        """Everything that is told of the file in hand."""
        w, side, staking = self.window, self.work.side, self.staking
        if self.work.page.name != "staked":
            return
        newest, has_file = staking.newest, staking.file is not None
        written = (
            newest,
            staking.problem,
            staking.file,
            w.theme,
            w.document.project.hand_off,
            w.unit,
        )
        self.show_buttons()
        if written == self._written:
            return
        self._written = written
        self.work.card.say("staked", self._said())
        told = newest.told if newest is not None and not staking.problem else None
        if staking.problem:
            side.say("staked", (), (), (staking.problem,))
        elif told is None:
            side.say("staked", () if has_file else (_NO_FILE,))
        else:
            side.say("staked", told.sentences, told.notes, told.first)
        for key in _LISTS:
            side.show_lines(key, told.lines[key] if told is not None else (), w.theme)
        side.bars.show_bars(told.bars if told is not None else (), w.theme)

    def _said(self) -> str:
        """Which file is in hand, and how it was read."""
        file, answer = self.staking.file, self.answer
        if file is None:
            return ""
        if answer is None or self.staking.problem:
            return file.path.name
        return f"{file.path.name}: {answer.read_said}"

    def show_buttons(self) -> None:
        card, actions = self.work.card, self.window.actions_by_id
        has_answer = self.answer is not None and not self.staking.problem
        allowed = {
            "staked-how": self.staking.file is not None,
            "staked-accept": has_answer,
            "staked-adopt": has_answer,
            "staked-back": self._has_adopted(),
        }
        for name, may in allowed.items():
            card.bar_buttons((actions[f"handoff-{name}"],), not may)
        for button in (self.work.side.sheet, self.work.side.files):
            button.setEnabled(has_answer)

    def _has_adopted(self) -> bool:
        from ..session.adopting import has_adopted

        return has_adopted(self.window.document.project)

    def place_of(self, key: str, at: int) -> tuple[float, float] | None:
        """Where the plan has what a line of a list is about. [m]"""
        from ..session.staked_lines import place_of_key

        if not self.holds:
            return None
        return place_of_key(self.answer, self.work.side.tables[key].lines[at].key)

    # reading

    def read(self) -> None:
        w = self.window
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        path = choosing.chosen_path(w, "Measured points", start, _MEASURED)
        if path is not None:
            w.settings.setValue("folder", str(path.parent))
            self.read_file(path)

    def read_file(self, path: Path, **how: str) -> None:
        """Take a file in hand; how it is read is found out unless it is said."""
        self.staking.read(MeasuredFile(Path(path), **how))
        self.work.follow()

    def ask_how(self) -> None:
        """Ask how the file in hand is to be read and matched."""
        from ..core.model.handoff import COLUMNS, UNITS
        from ..core.staking.matching import WAYS

        file = self.staking.file
        if file is None:
            self.window.filing.say("Read measured points first.")
            return
        units = [u for u in UNITS if u]

        def take(texts):
            said = {name: text.strip() for name, text in texts.items()}
            for name, known in (("unit", units), ("way", WAYS)):
                if said[name] and said[name] not in known:
                    raise Unfit(f"{said[name]!r} is none of {', '.join(known)}.", name)
            self.staking.read(replace(file, **said))
            self.work.follow()

        hint = "empty: found out"
        self.window.site.ask(
            f"How {file.path.name} is read",
            "What is left empty is found out from the file. Of a table say what its columns hold, from the first "
            "on: " + ", ".join(COLUMNS[:5]) + "; a hyphen passes one over.",
            (
                Field("columns", "Columns", file.columns, hint),
                Field("unit", "Unit", file.unit, f"{hint}; {', '.join(units)}"),
                Field("way", "Matched by", file.way, f"{hint}; {', '.join(WAYS)}"),
                Field("layer", "Layer", file.layer, "empty: all of them"),
            ),
            "Read it so",
            take,
        )

    # deciding

    def accept(self) -> None:
        """Put on record that the plan stands as it was staked."""
        from ..session.staked_edits import with_accepted

        answer = self._answer_in_hand()
        if answer is not None:
            self._ask(
                "Accept what was staked",
                "The plan stays as it is, and it goes on record what was measured, by whom and when.",
                "Accept",
                "staked points accepted",
                lambda p, said: with_accepted(p, answer, **said),
            )

    def adopt(self) -> None:
        """Have rows run between the measured ends; what that changes is worked out and said first."""
        from ..session.adopting import adopting_words, looks_amiss
        from ..session.staked_edits import with_adopted

        answer, w = self._answer_in_hand(), self.window
        if answer is None:
            return
        project = w.document.project
        amiss = looks_amiss(answer)

        def work(say):
            say(0.2, "rows")
            return adopting_words(project, answer, w.unit)

        def change(p, said):
            if p is not project:
                raise InputProblem("The project was changed meanwhile: leave it, and adopt again.")
            return with_adopted(p, answer, **said)

        def ask(words) -> None:
            self._ask(
                "Adopt the measured ends",
                words,
                "Adopt them",
                "measured ends adopted",
                change,
                (Field("although", "Adopted all the same, because"),) if amiss else (),
            )

        w.filing.run(work, "Working out what would change", ask, w.filing.complain)

    def take_back(self) -> None:
        """Have rows run as they were planned again."""
        from ..session.staked_edits import without_adopted

        self._edit("rows by the rules again", without_adopted)

    def _answer_in_hand(self):
        if self.answer is None or self.staking.problem or not self.holds:
            self.window.filing.say(
                "It is still being worked out: in a moment."
                if self.staking.is_going_on
                else "Read measured points first."
            )
            return None
        return self.answer

    def _ask(
        self,
        title: str,
        sentence: str,
        primary: str,
        label: str,
        change,
        more: tuple[Field, ...] = (),
    ) -> None:
        """Ask who decides, and when, and more; `change(project, said)` gives the project."""
        settings = self.window.settings

        def edit(texts):
            try:
                day = datetime.date.fromisoformat(texts["day"].strip())
            except ValueError:
                raise Unfit("Give the day as year-month-day: 2026-04-28.", "day") from None
            said = {"by": texts["by"].strip(), "day": day, "note": texts["note"].strip()}
            said |= {field.name: texts[field.name].strip() for field in more}
            settings.setValue("recorded-by", said["by"])
            try:
                self.window.document.edit(label, lambda p: change(p, said))
            except InputProblem as problem:
                raise Unfit(problem, more[-1].name if more else "by") from problem

        self.window.site.ask(
            title,
            sentence,
            (
                Field("by", "Decided by", str(settings.value("recorded-by", ""))),
                Field("day", "Day", datetime.date.today().isoformat()),
                Field("note", "Remark"),
                *more,
            ),
            primary,
            edit,
        )

    def _edit(self, label: str, change) -> None:
        try:
            self.window.document.edit(label, change)
        except InputProblem as problem:
            self.window.filing.complain(problem)

    # reporting

    def write_report(self, end: str = "") -> None:
        """Ask where to, and write the whole report into a folder, or one file of it."""
        answer, w = self._answer_in_hand(), self.window
        if answer is None:
            return
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        if not end:
            folder = choosing.chosen_path(w, "Folder for the report", start, what="folder")
            if folder is not None:
                w.settings.setValue("folder", str(folder))
                self.write_report_to(folder)
            return
        start = start / f"{w.document.project.name}, as staked{end}"
        path = choosing.chosen_path(w, "As staked", start, _REPORTS[end], what="save")
        if path is None:
            return
        path = path if path.suffix.lower() == end else path.with_name(f"{path.name}{end}")
        w.settings.setValue("folder", str(path.parent))
        self.write_report_to(path, whole=False)

    def write_report_to(self, path: Path, *, whole: bool = True) -> None:
        """Write the report into a folder, or one file of it, off the GUI thread."""
        from ..session.staked_files import write_staked, write_staked_file

        filing, unit, answer = self.window.filing, self.window.unit, self.answer
        day = datetime.date.today()

        def work(say):
            say(0.1, path.name)
            if whole:
                write_staked(path, answer, unit, day=day, progress=say)
            else:
                write_staked_file(path, answer, unit, day)

        filing.run(
            work,
            "Writing the report",
            lambda _: filing.say(f"Written to {path.name}."),
            filing.complain,
        )
