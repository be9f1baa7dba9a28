"""What the planting stage writes: sheets, cards, forms, calendars."""

from __future__ import annotations

from pathlib import Path

from . import choosing, telling

_KINDS = {
    # ending of the action: (title of the question, filter)
    "pdf": "PDF (*.pdf)",
    "csv": "CSV (*.csv)",
    "ics": "iCalendar (*.ics)",
    "xlsx": "Excel workbook (*.xlsx)",
}


class PlantingFiles:
    """Asks where to, and writes off the GUI thread."""

    def __init__(self, window, work):
        self.window, self.work = window, work

    def write(self, name: str) -> None:
        """Ask where to, and write one of the files, or the whole set."""
        w = self.window
        w.filing.take_typing()
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        if name == "set":
            folder = choosing.chosen_path(w, "Folder for the planting files", start, what="folder")
            if folder is not None and self._may_replace(folder):
                w.settings.setValue("folder", str(folder))
                self.write_to(folder, "set")
            return
        stem, ending = name.rsplit(".", 1)
        start = start / f"{w.document.project.name}, {name}"
        title = stem.replace("-", " ").capitalize()
        path = choosing.chosen_path(w, title, start, _KINDS[ending], what="save")
        if path is None:
            return
        if path.suffix.lower() != f".{ending}":
            path = path.with_name(f"{path.name}.{ending}")
        w.settings.setValue("folder", str(path.parent))
        self.write_to(path, name)

    def _may_replace(self, folder: Path) -> bool:
        from ..session.planting_files import FILES

        there = [name for name in FILES if (folder / name).exists()]
        return not there or bool(
            telling.decide(
                self.window,
                f"Replace the planting files in {folder.name}?",
                f"The folder holds {', '.join(there)}.",
                (("replace", "Replace them"),),
                "Go back",
            )
        )

    def write_to(self, path: Path, name: str) -> None:
        """Write one of the files, or with "set" all of them into a folder."""
        from ..session.planting_files import write_planting_file, write_planting_set
        from .planting_counting import Planner

        filing, unit, planning = self.window.filing, self.window.unit, self.work.planning
        wanted = planning.wanted()
        held = planning.newest if planning.is_done else None
        if wanted is None:
            filing.say("The rows are still being laid: in a moment.")
            return

        def work(say):
            say(0.1, path.name)
            answer = (held or Planner().answer(wanted)).answer
            say(0.3, path.name)
            if name == "set":
                write_planting_set(
                    path,
                    answer,
                    unit,
                    day=wanted.today,
                    progress=lambda share, what: say(0.3 + 0.7 * share, what),
                )
            else:
                write_planting_file(path, answer, unit, day=wanted.today, kind=name)

        filing.run(
            work,
            "Writing the planting files",
            lambda _: filing.say(f"Written to {path.name}."),
            filing.complain,
        )
