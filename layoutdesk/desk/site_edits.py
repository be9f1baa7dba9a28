"""Changes of the site as a whole: exclusions, height, survey grid."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QInputDialog

from ..core.model import InputProblem, Project
from ..session.exclusions import typed_clearance_m
from ..session.specification import shown_length
from ..session.units import length_m


class SiteEdits:
    """Edits what holds for every block."""

    def __init__(self, window):
        self.window = window

    def edit(self, label: str, change) -> None:
        """An edit that may find its input unfit, and then changes nothing."""
        try:
            self.window.document.edit(label, change)
        except InputProblem as problem:
            self.window.filing.complain(problem)

    def add_exclusions(self) -> None:
        """Keep rows out of the shapes in a file."""
        path, _ = QFileDialog.getOpenFileName(
            self.window,
            "Shapes to keep rows out of",
            str(self.window.settings.value("folder", "")),
            "Shapes (*.geojson *.json *.gpkg *.shp *.zip *.kml *.kmz *.dxf *.csv);;All files (*)",
        )
        if not path:
            return
        text, agreed = QInputDialog.getText(
            self.window,
            "Clearance",
            "Keep rows this far from the shapes (empty: as the file says):",
            text="",
        )
        if agreed:
            self.exclude_file(Path(path), text)

    def exclude_file(self, path: Path, clearance: str) -> None:
        """Add a file's shapes as exclusions; an empty clearance leaves it to the file."""

        from ..session.opening import with_exclusions

        def change(project: Project) -> Project:
            unit = self.window.unit
            metres = typed_clearance_m(clearance, unit) if clearance.strip() else None
            return with_exclusions(project, [(path, metres)])

        self.edit("Add exclusions", change)

    def ask_height(self) -> None:
        if self.window.document is None:
            return
        now = shown_length(self.window.document.project.site.frame.height_m, self.window.unit)
        text, agreed = QInputDialog.getText(
            self.window, "Height of the site", "Ellipsoidal height of the site:", text=now
        )
        if agreed:
            self.set_height(text)

    def set_height(self, text: str) -> None:
        from ..session.opening import at_height

        def change(project: Project) -> Project:
            metres = length_m(text.replace("US ft", "usft"), self.window.unit)
            if not -500 <= metres <= 9000:
                raise InputProblem(
                    f"{text.strip()} is no height on this earth: give metres or feet."
                )
            return at_height(project, metres)

        self.edit("Set the height", change)

    def ask_survey_crs(self) -> None:
        if self.window.document is None:
            return
        now = self.window.document.project.site.survey_crs
        text, agreed = QInputDialog.getText(
            self.window,
            "Survey grid",
            "Coordinate system of the stake-out files:",
            text=now if len(now) < 40 else "",
        )
        if agreed:
            self.set_survey_crs(text)

    def set_survey_crs(self, text: str) -> None:
        from ..session.opening import with_survey_crs

        self.edit("Choose the survey grid", lambda p: with_survey_crs(p, text))
