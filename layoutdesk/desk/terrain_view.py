"""The ground's heights on the plan: chosen, asked about, read off the GUI thread, drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from ..core.model import InputProblem, Project, Terrain
from ..session.specification import shown_exactly, shown_length
from ..session.units import length_m
from . import choosing
from .asking import Field, Unfit
from .background import Answers

_FILES = "Heights (*.tif *.tiff *.vrt *.img *.asc *.csv *.txt *.xyz *.xml *.dxf);;All files (*)"


@dataclass(frozen=True, eq=False)
class _Wanted:
    """The heights of a project, and where its file is."""

    project: Project
    path: Path | None

    @property
    def ground(self) -> tuple:
        """What tells one ground from another, however it is drawn and wherever its outlines run."""
        terrain = replace(self.project.terrain, contour_m=0.0, relief=False)
        return terrain, self.path, self.project.site

    @property
    def of(self) -> tuple:
        """What tells one drawing of heights from another."""
        p = self.project
        return self.ground, p.terrain, tuple(b.outline for b in p.blocks)


class TerrainView:
    """Shows contours and relief of the project's heights on the canvas.

    Attributes
    ----------
    read : TerrainRead or None
        The ground as it was read last, for whoever asks for a height.
    """

    def __init__(self, window):
        self.window = window
        self.read = None
        self._answers: Answers | None = None
        self._asked: _Wanted | None = None

    # choosing

    def choose(self) -> None:
        """Give the site heights from a file."""
        if self.window.document is None:
            return
        path = choosing.chosen_path(
            self.window,
            "Heights of the ground",
            choosing.usual_folder(str(self.window.settings.value("folder", ""))),
            _FILES,
        )
        if path is not None:
            self.offer(path)

    def offer(self, path: Path) -> None:
        """Ask what a file of heights does not say of itself."""
        from ..session.terrain import what_it_says

        document = self.window.document

        def ask(said) -> None:
            if self.window.document is document:
                self._ask(path, said)

        self.window.filing.run(
            lambda say: what_it_says(path),
            "Looking into the heights",
            ask,
            self.window.filing.complain,
        )

    def _ask(self, path: Path, said) -> None:
        knows = [f"unit {said.unit}"] if said.unit else []
        knows += [f"heights above {said.datum}"] if said.datum else []
        file = f"The file says: {', '.join(knows)}." if knows else "The file says neither."
        system = f"empty: {said.crs}, as the file says" if said.crs else "empty: the outline's"
        self.window.site.ask(
            f"Heights from {path.name}",
            f"In which unit are they, and what do they count from? {file}",
            (
                Field("unit", "Unit of heights", said.unit or "m", "m, ft or usft"),
                Field("datum", "Counted from", said.datum or "", "such as EGM96, or a bench mark"),
                Field("crs", "Coordinate system", "", system),
            ),
            "Use them",
            lambda texts: self._put(path, said, texts),
        )

    def _put(self, path: Path, said, texts: dict[str, str]) -> None:
        from ..session import terrain as typed

        if self.window.filing.task is not None:
            raise InputProblem("Other work is in hand: wait for it, or cancel it.")
        terrain = Terrain(
            str(path),
            _taken("unit", lambda: typed.typed_unit(texts["unit"], said)),
            typed.typed_datum(texts["datum"], said),
            _taken("crs", lambda: typed.typed_system(texts["crs"])),
        )
        before = self.window.document.project.terrain
        if before is not None:  # drawn as the heights before were
            terrain = replace(terrain, contour_m=before.contour_m, relief=before.relief)
        self.put(terrain, usual=before is None)

    def put(self, terrain: Terrain, *, usual: bool = False) -> None:
        """Read heights and keep them; a notice says why where they cannot be used.

        `usual` draws contours at an interval that suits the ground.
        """
        from ..session.terrain import terrain_of, with_terrain
        from ..session.terrain_picture import interval_for

        document, unit = self.window.document, self.window.unit
        wanted = replace(document.project, terrain=terrain)

        def work(say):
            read = terrain_of(wanted, document.path)
            if read is None or not usual:
                return read, terrain
            return read, replace(terrain, contour_m=interval_for(read, wanted, unit))

        def found(made) -> None:
            read, drawn = made
            if self.window.document is document:
                document.edit("heights of the ground", with_terrain(drawn))
                if read is not None:
                    self.window.filing.say(f"{read.statement}.")

        self.window.filing.run(work, "Reading the heights", found, self.window.filing.complain)

    def _has(self) -> bool:
        document = self.window.document
        if document is None or document.project.terrain is None:
            self.window.filing.say("The site has no heights yet: choose a file of them first.")
            return False
        return True

    def ask_interval(self) -> None:
        """Ask how far apart contours are."""
        if not self._has():
            return
        unit, document = self.window.unit, self.window.document
        now = document.project.terrain.contour_m

        def take(texts) -> None:
            text = texts["interval"].strip()
            metres = 0.0 if text.lower() in ("none", "no", "0") else length_m(text, unit)
            if not 0 <= metres <= 1000:
                most = shown_length(1000.0, unit, 0)
                raise InputProblem(f"An interval lies between 0 and {most}.")
            if self.read is not None:
                from ..session.terrain_picture import check_interval

                check_interval(self.read, document.project, metres, unit)
            self._change("contours", contour_m=metres)

        self.window.site.ask(
            "Contours",
            "How far apart in height? Some are drawn stronger, with their heights. None hides them.",
            (Field("interval", "Interval", shown_exactly(now, unit) if now else "none"),),
            "Draw them",
            take,
        )

    def toggle_relief(self) -> None:
        """Show light and shade of slopes, or hide them."""
        if self._has():
            shown = not self.window.document.project.terrain.relief
            self._change("relief shown" if shown else "relief hidden", relief=shown)

    def _change(self, label: str, **changes) -> None:
        document = self.window.document
        terrain = replace(document.project.terrain, **changes)
        document.edit(label, lambda p: replace(p, terrain=terrain))

    def remove(self) -> None:
        """Take the heights away."""
        if self._has():
            from ..session.terrain import with_terrain

            self.window.document.edit("heights of the ground", with_terrain(None))

    # showing

    def follow(self) -> None:
        """After the document changed."""
        document = self.window.document
        if document is None or document.project.terrain is None or not document.project.blocks:
            self._asked = None
            self._forget()
            return
        wanted, before = _Wanted(document.project, document.path), self._asked
        if before is not None and before.of == wanted.of:
            return
        if before is None or before.ground != wanted.ground:
            self._forget()  # nothing is told of a ground that was left
        if self._answers is None:
            self._answers = Answers(_pictured, self.window, "terrain")
            self._answers.answered.connect(self._take)
        self._asked = wanted
        self._answers.submit(wanted)

    def _forget(self) -> None:
        self.read = None
        self.window.cursor_label.setToolTip("")
        if self.window.canvas.terrain is not None:
            self._show(None)

    def _show(self, terrain) -> None:
        self.window.canvas.show_terrain(terrain)
        self.window.works.show_terrain(terrain)
        self.window.rows.show()  # the card of a row tells its slope

    def _take(self, wanted: _Wanted, answer, problem) -> None:
        if wanted is not self._asked:
            return  # of heights that were changed meanwhile, or of a project that was left
        if problem is not None:
            self._forget()
            if not isinstance(problem, InputProblem):
                raise problem
            return  # a finding says so
        from .terrain_painting import relief_image

        self.read, picture = answer
        self.window.cursor_label.setToolTip(self.read.statement)
        self._show((picture, relief_image(picture)))
        if picture.too_many:
            self.window.filing.say("No contours: so near to one another they would be too many.")

    def height_said(self, x_m: float, y_m: float) -> str:
        """Height and slope of the ground at a place, in words; empty where nothing is known."""
        if self.read is None:
            return ""
        from ..session.slopes import ground_said

        return ground_said(self.read.surface, x_m, y_m, self.window.unit)

    def slope_said(self, plan, segment: int):
        """How steep a row is, in words, None where the ground is not known."""
        if self.read is None:
            return None
        from ..session.slopes import slope_said

        study = self.window.document.project.study
        return slope_said(plan, segment, self.read.surface, study, self.window.unit)

    def close(self) -> None:
        if self._answers is not None:
            self._answers.close()


def _taken(field: str, take):
    """What is taken from a field; a problem names the field."""
    try:
        return take()
    except InputProblem as problem:
        raise Unfit(problem, field) from None


def _pictured(wanted: _Wanted):
    """The ground, and what is drawn of it; on the worker's thread."""
    from ..session.terrain import terrain_of
    from ..session.terrain_picture import terrain_picture

    project, terrain = wanted.project, wanted.project.terrain
    read = terrain_of(project, wanted.path)
    outlines = [b.outline for b in project.blocks]
    return read, terrain_picture(read, outlines, terrain.contour_m, terrain.relief)
