"""Where the hand-off and the stake-out set are written to, and whether a file still matches the plan."""

from __future__ import annotations

from pathlib import Path

from ..core.model import Project
from . import choosing, telling

_ANY = "Files of a hand-off (*.csv *.txt *.dxf *.xml *.kml *.kmz *.gpx *.gpkg *.zip *.geojson *.pdf);;All files (*)"


class HandOffFiles:
    """Asks where to, and writes and reads off the GUI thread."""

    def __init__(self, window, work):
        self.window, self.work = window, work
        self.card = work.card
        self._verified: tuple[Project, object] | None = None

    def tie(self) -> None:
        """Do what the page of files asks, now that it is made."""
        self.card.folder_wanted.connect(self.choose_folder)
        self.card.folder_typed.connect(self.show)
        self.card.hand_off_wanted.connect(self.write)
        self.card.write_wanted.connect(self.write_stakes)

    def forget(self) -> None:
        self._verified = None
        if self.card.has_files:
            self.card.folder.clear()

    # what is there, and where to

    def show(self) -> None:
        """What the stake-out set would hold now, and what the folder holds already."""
        w = self.window
        ready = w.answer is not None and w.answer.settled
        if not self.work.is_shown or self.work.page.name != "files" or not ready:
            return
        from ..session.hand_off_files import hand_off_in
        from ..session.handoff import preview_of

        folder = self.card.chosen_folder()
        preview = preview_of(w.document.project, w.answer, w.survey, folder)
        there = hand_off_in(folder) if folder is not None else ""
        said = f"In the folder is {there}." if there else ""
        self.card.show_preview(preview, said, w.theme)

    def choose_folder(self) -> None:
        """Ask for a folder; one that holds other things gets a folder of the files' own inside."""
        from ..session.hand_off_files import hand_off_in
        from ..session.opened import set_folder

        w = self.window
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        chosen = choosing.chosen_path(w, "Folder for the files", start, what="folder")
        if chosen is not None:
            ours = bool(hand_off_in(chosen))
            folder = chosen if ours else set_folder(chosen, w.document.project.name)
            self.card.folder.setText(str(folder))

    def _folder(self) -> Path | None:
        """The folder on the card; asked for where none is named."""
        if self.card.chosen_folder() is None:
            self.choose_folder()
        folder = self.card.chosen_folder()
        if folder is not None:
            self.window.settings.setValue("folder", str(folder.parent))
        return folder

    # writing

    def write_stakes(self) -> None:
        """Write the stake-out set into the folder on the card."""
        self.window.filing.take_typing()
        folder = self._folder()
        if folder is not None:
            self.window.filing.stake_out_to(folder)

    def write(self) -> None:
        """Write the hand-off into the folder on the card."""
        self.window.filing.take_typing()
        folder = self._folder()
        if folder is not None and self._may_replace(folder):
            self.write_to(folder)

    def _may_replace(self, folder: Path) -> bool:
        """Whether a hand-off of another project may be replaced; one of this project is, as was said."""
        from ..session.hand_off_files import hand_off_in

        there = hand_off_in(folder)
        if not there or f"of {self.window.document.project.name}, " in there:
            return True
        return bool(
            telling.decide(
                self.window,
                f"Replace the hand-off in {folder.name}?",
                f"The folder holds {there}.",
                (("replace", "Replace it"),),
                "Go back",
            )
        )

    def write_to(self, folder: Path) -> None:
        """Write the hand-off of the project as it is now, off the GUI thread."""
        from ..session.hand_off_files import write_hand_off

        filing, unit, counting = self.window.filing, self.window.unit, self.work.counting
        wanted = counting.wanted()
        held = counting.newest if counting.is_done else None
        if wanted is None:
            filing.say("The rows are still being laid: in a moment.")
            return

        def work(say):
            from ..session.hand_off_set import hand_off_set

            say(0.0, "points")
            hand = (
                held.answer.hand
                if held is not None
                else hand_off_set(wanted.project, wanted.plans, wanted.path, day=wanted.day)
            )
            return write_hand_off(folder, hand, unit, progress=say)

        def written(names) -> None:
            filing.say(f"{len(names)} files written to {folder.name}")
            self.show()

        filing.run(work, "Writing the hand-off", written, filing.complain)

    # verifying

    def verify(self) -> None:
        """Ask for a file, and tell whether it still matches the plan."""
        w = self.window
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        path = choosing.chosen_path(w, "A file to hold against the plan", start, _ANY)
        if path is not None:
            w.settings.setValue("folder", str(path.parent))
            self.verify_file(path)

    def verify_file(self, path: Path) -> None:
        """Hold a file against the plan as it is now, off the GUI thread."""
        from ..session.verifying import verified

        filing, wanted = self.window.filing, self.work.counting.wanted()
        if wanted is None:
            filing.say("The rows are still being laid: in a moment.")
            return

        def work(say):
            say(0.1, path.name)
            return verified(path, wanted.project, wanted.plans, wanted.path)

        def done(found) -> None:
            self._verified = wanted.project, found
            self.work.turn_to("files")
            self.show_verified()

        filing.run(work, f"Verifying {path.name}", done, filing.complain)

    def show_verified(self) -> None:
        """What was found of a file; nothing any more once the project is another."""
        from ..session.verifying import moved_lines

        w, side = self.window, self.work.side
        if self.work.page.name != "files":
            return
        if self._verified is not None and self._verified[0] is not w.document.project:
            self._verified = None
        found = self._verified[1] if self._verified is not None else None
        words = found.words if found is not None else ()
        is_amiss = found is not None and not found.matches
        side.say("files", () if is_amiss else words, first=words if is_amiss else ())
        lines = moved_lines(found, w.unit) if found is not None else ()
        side.show_lines("moved", lines, w.theme)

    def print_plan(self) -> None:
        self.window.actions_by_id["print"].trigger()
