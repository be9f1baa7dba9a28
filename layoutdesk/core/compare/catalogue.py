"""Every measure of a candidate: its name, unit, definition, and whether more of it is better."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Better = Literal["more", "less", ""]


@dataclass(frozen=True)
class Measure:
    """One line of the comparison.

    Attributes
    ----------
    name : str
        With its unit at the end, as it stands in every file.
    label : str
        As people read it, without the unit.
    unit : str
        "m", "m2", "%", "h/day", "MJ/m2/day", "deg", "money" or "" for a count.
    better : str
        "more", "less", or empty where neither is better as such.
    decimals : int
    needs : str
        "" for rows alone, else "terrain", "sun", "wind" or "prices".
    definition : str
        One sentence.
    """

    name: str
    label: str
    unit: str
    better: Better
    decimals: int
    needs: str
    definition: str


_TABLE = (
    # name, label, unit, better, decimals, needs, definition
    ("vines", "Vines", "", "more", 0, "", "Vines that stand."),
    ("rows", "Rows", "", "less", 0, "", "Row lines that hold at least one segment."),
    ("segments", "Segments", "", "less", 0, "", "Pieces of row between two end posts."),
    (
        "row_length_m",
        "Row length",
        "m",
        "more",
        1,
        "",
        "All segments together, end post to end post, in plan.",
    ),
    ("mean_row_m", "Mean row", "m", "more", 1, "", "Row length over the number of segments."),
    ("shortest_row_m", "Shortest row", "m", "more", 1, "", "The shortest segment."),
    ("longest_row_m", "Longest row", "m", "", 1, "", "The longest segment."),
    (
        "short_rows",
        "Short rows",
        "",
        "less",
        0,
        "",
        "Segments shorter than the study's limit for a short row.",
    ),
    (
        "end_posts",
        "End posts",
        "",
        "less",
        0,
        "",
        "Two at every segment: each end assembly costs and takes ground.",
    ),
    ("line_posts", "Line posts", "", "less", 0, "", "Posts within the segments."),
    (
        "planted_share_pct",
        "Planted share",
        "%",
        "more",
        2,
        "",
        "Row length times row spacing, of all ground inside the outlines.",
    ),
    (
        "headland_share_pct",
        "Headland share",
        "%",
        "less",
        2,
        "",
        "Row lines inside the outlines that lie in the headland of an end edge, of all their length inside the outlines; curved rows by area.",
    ),
    (
        "turns",
        "Turns a pass",
        "",
        "less",
        0,
        "",
        "Changes from one segment to the next when every segment is driven along once.",
    ),
    (
        "travel_m",
        "Travel a pass",
        "m",
        "less",
        0,
        "",
        "Every segment once, back and forth in row order, and the straight way from the end of one to the next.",
    ),
    (
        "idle_share_pct",
        "Idle travel",
        "%",
        "less",
        1,
        "",
        "Share of the travel of a pass that is not along a row.",
    ),
    (
        "grade_along_max_pct",
        "Steepest along",
        "%",
        "less",
        1,
        "terrain",
        "The steepest rise or fall along the rows, over the machine's length.",
    ),
    (
        "grade_along_p95_pct",
        "Along, 95th percentile",
        "%",
        "less",
        1,
        "terrain",
        "95 % of the row length is less steep along the row.",
    ),
    (
        "grade_across_max_pct",
        "Steepest side tilt",
        "%",
        "less",
        1,
        "terrain",
        "The steepest tilt at right angles to the rows, over the machine's width.",
    ),
    (
        "grade_across_p95_pct",
        "Side tilt, 95th percentile",
        "%",
        "less",
        1,
        "terrain",
        "95 % of the row length has less side tilt.",
    ),
    (
        "steep_along_m",
        "Row over the limit along",
        "m",
        "less",
        0,
        "terrain",
        "Metres of row steeper along than the study's limit.",
    ),
    (
        "steep_across_m",
        "Row over the limit of tilt",
        "m",
        "less",
        0,
        "terrain",
        "Metres of row with more side tilt than the study's limit.",
    ),
    (
        "ground_length_m",
        "Row length on the slope",
        "m",
        "",
        1,
        "terrain",
        "All segments together, measured along the ground, in plan where heights are not known: the line of drip.",
    ),
    (
        "drop_max_m",
        "Height range in a row",
        "m",
        "less",
        2,
        "terrain",
        "Highest less lowest ground in one segment, the greatest of all: what a lateral must cope with.",
    ),
    (
        "drop_p95_m",
        "Height range, 95th percentile",
        "m",
        "less",
        2,
        "terrain",
        "95 % of the segments have less.",
    ),
    (
        "height_unknown_m",
        "Row without heights",
        "m",
        "less",
        0,
        "terrain",
        "Metres of row where the terrain is not known; grades leave them out.",
    ),
    (
        "sun_left_h",
        "Sun on the left face",
        "h/day",
        "",
        2,
        "sun",
        "Hours a day of direct sun on the left face, mean over its height and the season; left as seen along the bearing.",
    ),
    ("sun_right_h", "Sun on the right face", "h/day", "", 2, "sun", "The same for the right face."),
    (
        "sun_left_mj_m2",
        "Energy on the left face",
        "MJ/m2/day",
        "",
        2,
        "sun",
        "Direct clear-sky energy on a square metre of the left face, mean of the season's days.",
    ),
    (
        "sun_right_mj_m2",
        "Energy on the right face",
        "MJ/m2/day",
        "",
        2,
        "sun",
        "The same for the right face.",
    ),
    (
        "sun_morning_mj_m2",
        "Energy before noon",
        "MJ/m2/day",
        "",
        2,
        "sun",
        "Both faces together before solar noon, for a square metre of each.",
    ),
    (
        "sun_afternoon_mj_m2",
        "Energy after noon",
        "MJ/m2/day",
        "",
        2,
        "sun",
        "Both faces together after solar noon, for a square metre of each.",
    ),
    (
        "sun_hot_mj_m2",
        "Load in the hottest hours",
        "MJ/m2/day",
        "less",
        2,
        "sun",
        "Direct energy on a square metre of the face that gets more of it in the season's hottest hours.",
    ),
    (
        "sun_share_pct",
        "Light caught",
        "%",
        "more",
        1,
        "sun",
        "Direct light of the season that meets the canopy, of what falls on the ground it stands on.",
    ),
    (
        "wind_angle_deg",
        "Angle to the wind",
        "deg",
        "",
        0,
        "wind",
        "Between the rows and the prevailing wind, mean over all row length: 0 along the rows, 90 across them.",
    ),
    (
        "posts_cost",
        "Cost of posts and ends",
        "money",
        "less",
        0,
        "prices",
        "End posts and line posts at the study's prices.",
    ),
)

GROUP_TITLES: dict[str, str] = {
    "": "Rows",
    "terrain": "On the slope",
    "sun": "Sun on the hedge",
    "wind": "Wind",
    "prices": "Cost",
}
"""Headings of the table by what a measure needs to be known."""

MEASURES: dict[str, Measure] = {row[0]: Measure(*row) for row in _TABLE}
"""Every measure, in the order it is shown."""
