"""Changes of the site as a whole: exclusions, height, survey grid."""

from __future__ import annotations

from pathlib import Path

from ..core.model import InputProblem, Project
from ..session.exclusions import typed_clearance_m
from ..session.specification import shown_length
from ..session.units import length_m
from ..session.wording import wants_unit
from . import choosing
from .asking import AskCard, Field, Unfit

_SHAPES = "Shapes (*.geojson *.json *.gpkg *.shp *.zip *.kml *.kmz *.dxf *.csv);;All files (*)"


class SiteEdits:
    """Edits what holds for every block."""

    def __init__(self, window):
        self.window = window
        self.card: AskCard | None = None

    def edit(self, label: str, change) -> None:
        """An edit that may find its input unfit, and then changes nothing."""
        try:
            self.window.document.edit(label, change)
        except InputProblem as problem:
            self.window.filing.complain(problem)

    def ask(self, title: str, sentence: str, fields: tuple[Field, ...], primary: str, edit) -> None:
        """Ask in a card for what an edit needs; `edit` has the texts and raises InputProblem."""
        if self.card is None:
            self.card = AskCard(self.window.canvas)
        document = self.window.document

        def take(texts: dict[str, str]) -> None:
            if self.window.document is document:  # else it was asked of a project that was left
                edit(texts)

        self.card.ask(title, sentence, fields, primary, take)

    def leave(self) -> None:
        """Take back a question that is open."""
        if self.card is not None:
            self.card.leave()

    # exclusions

    def add_exclusions(self) -> None:
        """Keep rows out of the shapes in a file."""
        if self.window.document is None:
            return
        path = choosing.chosen_path(
            self.window,
            "Shapes to keep rows out of",
            choosing.usual_folder(str(self.window.settings.value("folder", ""))),
            _SHAPES,
        )
        if path is not None:
            self.ask_clearance(path)

    def ask_clearance(self, path: Path) -> None:
        """Ask how far rows keep from a file's shapes; its unit only where the file lacks one."""
        self.ask(
            f"Exclusions from {path.name}",
            "Rows keep out of these shapes, and this far from them.",
            (
                Field("clearance", "Clearance", hint="empty: as the file says"),
                Field("unit", "Drawing unit", hint="m, ft, usft or mm", asked=False),
            ),
            "Add them",
            lambda texts: self._exclude(path, texts["clearance"], texts["unit"]),
        )

    def exclude_file(self, path: Path, clearance: str, unit: str = "") -> None:
        """Add a file's shapes as exclusions; an empty clearance leaves it to the file."""
        try:
            self._exclude(path, clearance, unit)
        except InputProblem as problem:
            self.window.filing.complain(problem)

    def _exclude(self, path: Path, clearance: str, unit: str) -> None:
        from ..session.opening import with_exclusions

        metres = typed_clearance_m(clearance, self.window.unit) if clearance.strip() else None

        def change(project: Project) -> Project:
            try:
                return with_exclusions(project, [(path, metres)], unit.strip() or None)
            except InputProblem as problem:
                if wants_unit(str(problem)):
                    raise Unfit(problem, "unit") from None
                raise

        self.window.document.edit(f"exclusions from {path.name}", change)

    # height

    def ask_height(self) -> None:
        if self.window.document is None:
            return
        now = shown_length(self.window.document.project.site.frame.height_m, self.window.unit)
        self.ask(
            "Height of the site",
            "Height above the ellipsoid, as satellite receivers give it, not above sea level. "
            "A height wrong by 100 m makes 1.6 mm in every 100 m on the ground.",
            (Field("height", "Height above the ellipsoid", now),),
            "Set the height",
            lambda texts: self._rise(texts["height"]),
        )

    def set_height(self, text: str) -> None:
        """Set the site's height as typed; a notice says why where it cannot be."""
        try:
            self._rise(text)
        except InputProblem as problem:
            self.window.filing.complain(problem)

    def _rise(self, text: str) -> None:
        from ..session.opening import at_height

        metres = length_m(text, self.window.unit)
        if not -500 <= metres <= 9000:
            raise InputProblem(f"{text.strip()} is no height on this earth: give metres or feet.")
        self.window.document.edit("height", lambda project: at_height(project, metres))

    # survey grid

    def ask_survey_crs(self) -> None:
        if self.window.document is None:
            return
        from ..session.survey import grids_matching, likely_grids

        project = self.window.document.project
        offers = likely_grids(project)
        code, grid = self.window.document.project.site.survey_crs, self.window.survey.grid
        code = f"{code}, " if len(code) < 40 else ""
        self.ask(
            "Survey grid",
            f"The stake-out files are now in {code}{grid.name} ({grid.unit}).",
            (
                Field(
                    "grid",
                    "Another grid: its code, or words of its name",
                    hint="EPSG:32754",
                    offers=lambda text: [(o.code, o.words) for o in _grids(offers, text, project)],
                ),
            ),
            "Use this grid",
            lambda texts: self._stake_in(
                texts["grid"],
                # one of the place is meant where its words fit one of the place
                grids_matching(offers, texts["grid"]) or _grids(offers, texts["grid"], project),
            ),
        )

    def set_survey_crs(self, text: str) -> None:
        """Stake out in another system; a notice says why where it cannot be."""
        try:
            self._stake_in(text)
        except InputProblem as problem:
            self.window.filing.complain(problem)

    def _stake_in(self, text: str, offers=()) -> None:
        from ..session.opening import with_survey_crs
        from ..session.survey import grid_code

        code = grid_code(text, offers)
        self.window.document.edit("survey grid", lambda p: with_survey_crs(p, code))


def _grids(offers, text: str, project: Project) -> tuple:
    """Grids of a list that what is typed fits, then those of all the world; where nothing is typed the list alone."""
    from ..session.survey import grids_matching, grids_named

    found = grids_matching(offers, text)
    if not text.strip():
        return found
    known = {o.code for o in found}
    return (*found, *(g for g in grids_named(text, project) if g.code not in known))
