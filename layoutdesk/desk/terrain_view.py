"""The ground's heights on the plan: chosen, asked about, read off the GUI thread, drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtGui import QImage

from ..core.model import VERTICAL_UNITS, InputProblem, Project, Terrain
from ..session.specification import shown_exactly
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
    def of(self) -> tuple:
        """What tells one drawing of heights from another."""
        p = self.project
        return p.terrain, self.path, p.site, tuple(b.outline.bounds for b in p.blocks)


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
        self.window.site.ask(
            f"Heights from {path.name}",
            f"In which unit are they, and what do they count from? {file}",
            (
                Field("unit", "Unit of heights", said.unit or "m", "m, ft or usft"),
                Field("datum", "Counted from", said.datum or "", "such as EGM96, or a bench mark"),
                Field(
                    "crs", "Coordinate system", "", "empty: as the file says, else the outline's"
                ),
            ),
            "Use them",
            lambda texts: self._put(path, texts),
        )

    def _put(self, path: Path, texts: dict[str, str]) -> None:
        unit = texts["unit"].strip().lower()
        if unit not in VERTICAL_UNITS:
            raise Unfit("A unit of heights is m, ft or usft.", "unit")
        terrain = Terrain(str(path), unit, texts["datum"].strip(), texts["crs"].strip())
        self.put(terrain)

    def put(self, terrain: Terrain) -> None:
        """Read heights and keep them; a notice says why where they cannot be used."""
        from ..session.terrain import terrain_of, with_terrain

        document = self.window.document
        wanted = replace(document.project, terrain=terrain)

        def found(read) -> None:
            if self.window.document is document:
                document.edit("heights of the ground", with_terrain(terrain))
                self.window.filing.say(f"{read.statement}.")

        self.window.filing.run(
            lambda say: terrain_of(wanted, document.path),
            "Reading the heights",
            found,
            self.window.filing.complain,
        )

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
            try:
                metres = 0.0 if text.lower() in ("none", "no", "0") else length_m(text, unit)
                self._change("contours", contour_m=metres)
            except ValueError:
                raise InputProblem("An interval lies between 0 and 1000 m.") from None

        self.window.site.ask(
            "Contours",
            "How far apart in height? Every fifth is drawn stronger, with its height.",
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
        if document is None or document.project.terrain is None:
            self.read = self._asked = None
            if self.window.canvas.terrain is not None:
                self.window.canvas.show_terrain(None)
            return
        wanted = _Wanted(document.project, document.path)
        if self._asked is not None and self._asked.of == wanted.of:
            return
        if self._answers is None:
            self._answers = Answers(_pictured, self.window, "terrain")
            self._answers.answered.connect(self._take)
        self._asked = wanted
        self._answers.submit(wanted)

    def _take(self, wanted: _Wanted, answer, problem) -> None:
        if wanted is not self._asked:
            return  # of heights that were changed meanwhile, or of a project that was left
        if problem is not None:
            self.read = None
            self.window.canvas.show_terrain(None)
            if not isinstance(problem, InputProblem):
                raise problem
            return  # a finding says so
        self.read, picture = answer
        image = None
        if picture.relief is not None:
            height, width = picture.relief.shape[:2]
            image = QImage(
                picture.relief.tobytes(), width, height, 4 * width, QImage.Format.Format_RGBA8888
            ).copy()
        self.window.canvas.show_terrain((picture.contours, image, picture.bounds_m))

    def height_said(self, x_m: float, y_m: float) -> str:
        """Height of the ground at a place, in words; empty where nothing is known."""
        if self.read is None:
            return ""
        import numpy as np

        z = float(self.read.surface.heights_m(np.array([[x_m, y_m]]))[0])
        return "" if np.isnan(z) else f"ground {shown_exactly(z, self.window.unit)}"

    def close(self) -> None:
        if self._answers is not None:
            self._answers.close()


def _pictured(wanted: _Wanted):
    """The ground, and what is drawn of it; on the worker's thread."""
    import shapely

    from ..session.terrain import terrain_of
    from ..session.terrain_picture import terrain_picture

    project = wanted.project
    read = terrain_of(project, wanted.path)
    bounds = shapely.total_bounds([b.outline for b in project.blocks]).tolist()
    terrain = project.terrain
    return read, terrain_picture(read, bounds, terrain.contour_m, terrain.relief)
