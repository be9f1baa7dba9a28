"""The pages of the hand-off stage: their words, their lists and what each shows on the plan."""

from __future__ import annotations

from .lines_table import Column
from .paged_cards import Page, TablePart

PAGES: tuple[Page, ...] = (
    Page(
        "points",
        "Points",
        "Which points are handed off, and how they are written",
        "Points for those who stake",
        "What is handed off",
        "points",
        (("points", ""), ("table", "Tables of points")),
        (("parts", "Selected rows alone"), ("whole-site", "The whole site")),
        (
            TablePart(
                "kinds",
                "By kind",
                (
                    Column("kind", "Points", ""),
                    Column("count", "Count", "", 0, True),
                    Column("first", "First", "Number and code of the first one", 1),
                ),
                widest_px=170,
            ),
        ),
    ),
    Page(
        "grid",
        "Grid",
        "In which coordinates points are written; control points",
        "Grid, ground and control points",
        "What coordinates do here",
        "effect",
        (("coordinates", ""), ("calibration", "Calibration on control points")),
        (
            ("grid", "Survey grid…"),
            ("control-add", "Add a control point…"),
            ("control-read", "Read control points…"),
            ("control-change", "Change the point…"),
            ("control-leave", "Leave the point out"),
            ("control-remove", "Take the point away"),
        ),
        (
            TablePart(
                "control",
                "Control points, and how far each is off the fit",
                (
                    Column("name", "Point", "Its name"),
                    Column("plan", "Position", "Measured less fitted, east and north"),
                    Column("height", "Height", "Measured less fitted", 2, True),
                    Column("used", "Used for", "What the calibration uses it for", 1),
                    Column("known", "Known", "Easting, northing, elevation on the grid", 3),
                    Column("measured", "Measured", "As the crew's instrument shows it", 4),
                ),
                widest_px=150,
            ),
            TablePart(
                "checks",
                "Check lines, to be taped",
                (
                    Column("name", "From, to", "Between end posts"),
                    Column("what", "Line", "What it is of its block", 3),
                    Column("ground", "Ground", "On the ground, as a tape shows it", 0, True),
                    Column("grid", "Grid", "By coordinates of the survey grid", 1, True),
                    Column("bearing", "Bearing", "On the grid and true", 2, True),
                ),
                widest_px=205,
            ),
        ),
    ),
    Page(
        "files",
        "Files",
        "What is written, and where",
        "Files of the hand-off",
        "What will be written",
        "",
        (("sheet", "On the hand-off sheet"),),
        (("verify", "Verify a file…"), ("print", "Print the plan…")),
        (
            TablePart(
                "moved",
                "Points of the file that are not where the plan has them",
                (
                    Column("code", "Point", ""),
                    Column("distance", "Moved", "From the file to the plan", 0, True),
                    Column("direction", "Towards", "True bearing", 1, True),
                ),
                rows_at_most=10,
                widest_px=190,
            ),
            TablePart(
                "files",
                "Files",
                (
                    Column("name", "File", ""),
                    Column("holds", "Holds", "What is in it"),
                    Column("system", "System", "In which coordinates", 1),
                ),
                rows_at_most=15,
                widest_px=230,
            ),
        ),
    ),
    Page(
        "staked",
        "As staked",
        "What was measured in the field, against the plan",
        "What stands in the ground",
        "Against the plan",
        "staked",
        (),
        (
            ("staked-read", "Read measured points…"),
            ("staked-how", "How it is read…"),
            ("staked-accept", "Accept them…"),
            ("staked-adopt", "Adopt the ends…"),
            ("staked-back", "Lay by the rules again"),
        ),
        (
            TablePart(
                "explanations",
                "What it looks like",
                (
                    Column("words", "Looks like", ""),
                    Column("where", "Where", "Blocks, rows or points it is about", 1),
                    Column("amount", "Amount", "", 0, True),
                ),
                widest_px=230,
            ),
            TablePart(
                "worst",
                "Beyond tolerance, the farthest first",
                (
                    Column("code", "Point", ""),
                    Column("distance", "Off", "From plan to ground", 0, True),
                    Column("across", "Across", "Right of the row is more", 1, True),
                    Column("along", "Along", "With the row's bearing is more", 2, True),
                    Column("height", "Height", "Ground less plan", 3, True),
                ),
                rows_at_most=10,
                widest_px=150,
            ),
            TablePart(
                "staked_rows",
                "By row",
                (
                    Column("row", "Row", ""),
                    Column("points", "Points", "That were measured", 2, True),
                    Column("across", "Across", "Mean; right of the row is more", 0, True),
                    Column("along", "Along", "Mean; with the bearing is more", 1, True),
                    Column("worst", "Farthest", "", 0, True),
                ),
                widest_px=130,
            ),
            TablePart(
                "decided",
                "Decided before",
                (
                    Column("day", "Day", ""),
                    Column("verdict", "", "Accepted, or adopted"),
                    Column("file", "File", "", 2),
                    Column("points", "Points", "", 1, True),
                    Column("rms", "RMS", "Root mean square of the distances", 0, True),
                    Column("by", "By", "", 3),
                ),
                widest_px=130,
            ),
        ),
    ),
)
PAGE = {page.name: page for page in PAGES}
