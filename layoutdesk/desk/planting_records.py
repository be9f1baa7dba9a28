"""What is recorded at vines on the planting stage, and the history of the one in hand."""

from __future__ import annotations

import datetime
import getpass
from contextlib import suppress

from ..core.model import InputProblem
from . import choosing
from .asking import Field
from .planting_asking import at_its_field

_FORMS = "Filled forms (*.csv *.txt *.gpkg);;All files (*)"
_WORDS = {
    # event: (title, sentence, words of the button)
    "planted": ("Planted", "As assigned, unless another lot is named.", "Record as planted"),
    "replanted": ("Planted again", "After a loss: the earlier plant stays on record.", "Record"),
    "missing": ("Missing", "Nothing stands there.", "Record as missing"),
    "dead": ("Dead", "With its cause, where that is known.", "Record as dead"),
    "alive": ("Seen alive", "What was thought missing stands.", "Record as alive"),
    "checked": ("Inspected", "What was wrong, by its words; empty where all was right.", "Record"),
    "reworked": ("Put right", "It is to be inspected again.", "Record as put right"),
    "void": ("A mistake", "What was recorded there before does not count. It stays in the history.", "Record the mistake"),
}  # fmt: skip


class PlantingRecords:
    """Asks what to record, about the vine in hand or the selected rows."""

    def __init__(self, window, work):
        self.window, self.work = window, work
        self.leftover = ""

    @property
    def who(self) -> str:
        """Who records; the name given last, else that of the user."""
        said = str(self.window.settings.value("recorded-by", ""))
        if not said:
            with suppress(OSError, KeyError, ImportError):
                said = getpass.getuser()
        return said

    def code_in_hand(self) -> str:
        """Code of the vine in hand; empty without one."""
        from ..session.vine_places import code_of_vine

        held = self.work.tool.held
        return code_of_vine(self.work.tool.plans, held) if held and self.work.tool.plans else ""

    def parts_in_hand(self) -> str:
        """The selected rows in words, else the code of the vine in hand."""
        from ..session.assigning import parts_of_selection, parts_text

        selection = self.window.selecting.selection
        if selection:
            return parts_text(parts_of_selection(selection))
        return self.code_in_hand()

    def words(self) -> str:
        """The history of the vine in hand, else what to do."""
        held, plans = self.work.tool.held, self.work.tool.plans
        if not held or not plans:
            return (
                "Click a vine for its history; Shift and a drag select rows to record something of."
            )
        from ..session.recording import vine_history_lines

        lines = vine_history_lines(self.window.document.project, plans, held)
        return "\n".join((self.code_in_hand(), *lines))

    def record(self, event: str) -> None:
        """Ask about what, when and by whom, and record it."""
        from ..session.recording_texts import with_recorded_texts

        title, sentence, button = _WORDS[event]
        plans = self.work.tool.plans
        fields = [
            Field(
                "parts", "Which vines", self.parts_in_hand(), hint="B1-R012A-V034 or B1 rows 3-5"
            ),
            Field("day", "Day", datetime.date.today().isoformat()),
            Field("by", "Recorded by", self.who),
            Field("note", "Remark"),
        ]
        if event in ("planted", "replanted"):
            hint = "empty: as assigned"
            fields.insert(1, Field("lot", "Lot", hint=hint))
            fields.append(
                Field("although", "Although tags are not all recorded, because", asked=False)
            )
        if event in ("dead", "missing"):
            from ..core.model.register import CAUSES

            fields.insert(1, Field("cause", "Cause", offers=lambda text: _offers(text, CAUSES)))
        if event == "checked":
            from ..core.model.planting import CHECKS

            words = ", ".join(CHECKS.values())
            fields.insert(1, Field("faults", "What was wrong", hint=words))

        def edit(texts):
            self.window.settings.setValue("recorded-by", texts["by"])
            when = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
            try:
                self.window.document.edit(
                    f"record: {title.lower()}",
                    lambda p: with_recorded_texts(p, plans, event, texts, when),
                )
            except InputProblem as problem:
                raise at_its_field(problem, tuple(fields)) from problem

        self.window.site.ask(title, sentence, tuple(fields), button, edit)

    def read_forms(self) -> None:
        """Merge filled forms into the register."""
        w = self.window
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        path = choosing.chosen_path(w, "Filled forms", start, _FORMS)
        if path is not None:
            w.settings.setValue("folder", str(path.parent))
            self.read_forms_from([path])

    def read_forms_from(self, paths) -> None:
        """Merge forms, off the GUI thread; what became of every line is told."""
        from ..session.form_merging import merge_forms
        from ..session.recording_texts import merged_words

        w, document, plans = self.window, self.window.document, self.work.tool.plans
        project = document.project
        now = datetime.datetime.now().astimezone()

        def work(say):
            say(0.1, "forms")
            return merge_forms(
                project,
                plans,
                paths,
                by=self.who,
                when=now.isoformat(timespec="seconds"),
                today=now.date(),
            )

        def found(merged) -> None:
            if w.document is not document or document.project is not project:
                w.filing.say("The project was changed meanwhile: read the forms again.")
                return
            document.edit("forms read", lambda _: merged.project)
            self.leftover = merged.leftover_csv()
            words = merged_words(merged)
            if self.leftover:
                words += (
                    "\nStages, Planting, Write the lines left over: a table to mend and read again."
                )
            w.filing.tell(words, "What became of the forms")

        w.filing.run(work, "Reading forms", found, w.filing.complain)

    def write_leftover(self) -> None:
        """Write the lines of the forms read last that were not taken, to be mended and read again."""
        w = self.window
        if not self.leftover:
            w.filing.say("No line is left over from a form.")
            return
        start = choosing.usual_folder(str(w.settings.value("folder", ""))) / "left over.csv"
        path = choosing.chosen_path(w, "Lines left over", start, "CSV (*.csv)", what="save")
        if path is not None:
            self.write_leftover_to(path)

    def write_leftover_to(self, path) -> None:
        """Write them into a file, whole or not at all."""
        from ..session.file_sets import write_alone

        try:
            write_alone(path, lambda stage, text: stage.write_text(text, "utf-8"), self.leftover)
        except InputProblem as problem:
            self.window.filing.complain(problem)
            return
        self.window.filing.say(f"Written to {path.name}.")


def _offers(text: str, words) -> list[tuple[str, str]]:
    wanted = text.strip().lower()
    return [(word, word) for word in words if wanted in word]
