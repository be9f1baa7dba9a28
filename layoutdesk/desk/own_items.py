"""How things are sold: the picked line of the take-off, and whole lists of own items."""

from __future__ import annotations

from pathlib import Path

from ..core.model import InputProblem
from . import choosing

_LIST = "A list of items (*.csv)"


class OwnItems:
    """Turns wishes about units of sale, prices and names into edits of the document.

    Attributes
    ----------
    picked : str
        Key of the line that is looked at more closely; empty where none is.
    """

    def __init__(self, window, side, counting):
        self.window, self.side, self.counting = window, side, counting
        self.picked = ""
        side.table.picked.connect(self.pick)
        side.table.put_down.connect(lambda: self.pick(""))
        side.editor.kept.connect(self.keep)
        side.editor.given_back.connect(self.give_back)
        side.editor.dismissed.connect(lambda: self.pick(""))

    def pick(self, key: str) -> None:
        """Look at a line more closely, as it is sold; the same once more, or an empty key: leave it."""
        self.picked = "" if key == self.picked else key
        self.show(anew=True)
        if not self.picked:
            self.side.table.setFocus()

    def put_down(self) -> None:
        self.picked = ""
        self.side.table.mark("")
        self.side.open_editor(False)

    def _picked_line(self):
        """The picked line as it is listed and as it is ordered; None twice where it is gone."""
        row = self.side.table.table.row_of(self.picked) if self.picked else -1
        listed = self.side.table.table.line(row)
        answer = self.counting.answer
        if listed is None or answer is None:
            return None, None
        ordered = (n for n in answer.lines if n.order.need.product == listed.product)
        return listed, next(ordered, None)

    def show(self, *, anew: bool = False) -> None:
        """Show how the picked line is sold; what is being typed stays while figures change."""
        listed, line = self._picked_line()
        if line is None:
            self.put_down()
            return
        editor = self.side.editor
        if anew or not editor.is_typing:
            from ..session.supply_words import supply_texts

            materials = self.window.document.project.materials
            currency = "" if materials is None else materials.currency
            texts = supply_texts(line.supply, line.order.need.unit == "m", self.window.unit)
            hints = {
                "price": f"not known{f', {currency}' if currency else ''}",
                "mass": "not known",
            }
            editor.show_supply(listed.label, listed.meaning, texts, hints, listed.is_own)
        if self.side.table.picked_key != self.picked:
            self.side.open_editor(True)
            self.side.table.mark(self.picked)

    def keep(self, texts: dict[str, str]) -> None:
        """Take what was typed of the picked line as the user's own; what cannot be is said there."""
        from ..session.material_edits import typed_supply, with_own_supply
        from ..session.supply_words import field_refused

        listed, line = self._picked_line()
        if line is None:
            return
        try:
            supply = typed_supply(
                line.supply,
                **texts,
                unit=self.window.unit,
                counted_in_m=line.order.need.unit == "m",
            )
        except InputProblem as problem:
            self.side.editor.refuse(field_refused(str(problem)), str(problem))
            return
        self.side.editor.is_typing = False
        self._edit(listed, lambda p: with_own_supply(p, supply))

    def give_back(self) -> None:
        """Have the catalogue say again how the picked line is sold."""
        from ..session.material_edits import without_own_supply

        listed, line = self._picked_line()
        if line is not None:
            self.side.editor.is_typing = False
            self._edit(listed, lambda p: without_own_supply(p, listed.product))

    def _edit(self, listed, change) -> None:
        from ..session.catalogue import item_label

        name = item_label(listed.product.item)
        self.window.document.edit(f"Change the item {name[:1].lower()}{name[1:]}", change)

    def ask_for_list(self) -> None:
        """Ask for a list of own items and prices, and take them into the project."""
        w = self.window
        folder = choosing.usual_folder(str(w.settings.value("folder", "")))
        path = choosing.chosen_path(w, "A list of items and prices", folder, _LIST)
        if path is None:
            return
        w.settings.setValue("folder", str(path.parent))
        self.read_list(path)

    def read_list(self, path: Path) -> None:
        """Take a list of own items into the project, all of it or nothing."""
        from ..session.catalogue import user_supplies_from
        from ..session.material_edits import with_own_supplies

        filing, document = self.window.filing, self.window.document

        def taken(supplies) -> None:
            if self.window.document is not document:
                return
            changed = document.edit("own items", lambda p: with_own_supplies(p, supplies))
            n = len(supplies)
            said = f"{n} item{'s' * (n != 1)} read from {path.name}"
            filing.say(f"{said}." if changed else f"{said}: they were known already.")

        filing.run(lambda say: user_supplies_from(path), "Reading the list", taken, filing.complain)

    def write_list(self) -> None:
        """Write the items of the take-off as a list, to be filled in and read back."""
        w = self.window
        folder = choosing.usual_folder(str(w.settings.value("folder", "")))
        start = folder / f"{w.document.project.name}, items.csv"
        path = choosing.chosen_path(w, "A list of the items", start, _LIST, what="save")
        if path is None:
            return
        path = path if path.suffix.lower() == ".csv" else path.with_name(f"{path.name}.csv")
        w.settings.setValue("folder", str(path.parent))
        self.write_list_to(path)

    def write_list_to(self, path: Path) -> None:
        """Write the items into a file, whole or not at all."""
        from ..formats.atomic import replacing
        from ..session.catalogue import supplies_template

        answer, filing = self.counting.answer, self.window.filing

        def work(say):
            with replacing(path) as stage:
                stage.write_text(supplies_template(answer), encoding="utf-8")

        filing.run(
            work,
            "Writing the list",
            lambda _: filing.say(
                f"The items are written to {path.name}: fill in prices, then read it."
            ),
            filing.complain,
        )
