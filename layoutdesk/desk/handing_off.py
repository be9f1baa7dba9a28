"""The hand-off stage: what would be written, where to, and writing it."""

from __future__ import annotations


class HandOff:
    """Keeps the hand-off card true, and does what its buttons ask."""

    def __init__(self, window, card):
        self.window, self.card = window, card
        card.folder_wanted.connect(self.choose_folder)
        card.folder_typed.connect(self.show)
        card.write_wanted.connect(self.write)
        card.print_wanted.connect(lambda: window.actions_by_id["print"].trigger())

    def show(self) -> None:
        """What would be written now, while the stage is on show."""
        w = self.window
        ready = w.answer is not None and w.answer.settled
        if w.stage != "handoff" or w.document is None or not ready:
            return
        from ..session.handoff import preview_of

        folder = self.card.chosen_folder()
        self.card.show_preview(preview_of(w.document.project, w.answer, w.survey, folder), w.theme)

    def choose_folder(self) -> None:
        folder = self.window.filing.ask_set_folder()
        if folder is not None:
            self.card.folder.setText(str(folder))

    def write(self) -> None:
        """Write the set into the folder on the card."""
        folder = self.card.chosen_folder()
        if folder is not None:
            self.window.filing.take_typing()
            self.window.settings.setValue("folder", str(folder.parent))
            self.window.filing.stake_out_to(folder)
