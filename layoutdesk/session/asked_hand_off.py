"""A hand-off asked for in words on the command line, and the project it makes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from ..core.model import InputProblem, Project
from ..core.model.handoff import CONTACTS, FORMATS, POINT_KINDS
from .asked_rules import of_option
from .hand_off_set import hand_off_of
from .hand_off_words import with_hand_off, with_typed_hand_off
from .point_words import typed_kinds

HAND_OFF_OPTIONS: dict[str, str] = {
    # option: the value of the paragraphs that it gives
    "points": "points.kinds",
    "parts": "points.parts",
    "day": "points.day",
    "vine-every": "points.vine_every",
    "order": "points.order",
    "first-number": "points.first_number",
    "split": "points.most_points",
    "formats": "formats",
    "columns": "table.columns",
    "header": "table.has_header",
    "separator": "table.separator",
    "decimal-mark": "table.decimal_mark",
    "decimals": "table.decimals",
    "written-unit": "table.unit",
    "description": "table.description",
    "seal": "table.is_sealed",
    "vertical-datum": "vertical_datum",
    "ground-point": "ground.about",
    "ground-factor": "ground.factor",
    "ground-east": "ground.offset_e",
    "ground-north": "ground.offset_n",
    "calibration": "calibration.moves",
    "calibration-heights": "calibration.heights",
    "calibration-worst": "calibration.worst_m",
    "calibration-worst-height": "calibration.worst_height_m",
    "coordinates": "coordinates",
    "tolerance": "tolerance_m",
    "vine-tolerance": "vine_tolerance_m",
    "height-tolerance": "height_tolerance_m",
}
"""Every option that gives a value of the hand-off, in the order they are taken in."""

HAND_OFF_MEANINGS: dict[str, str] = {
    "points": f"kinds of points: some of {', '.join(k.replace('_', ' ') for k in POINT_KINDS)}; or all",
    "parts": "rows and vines: 'B1 rows 12-40', 'B1 rows 3-30 every 9', 'B1-R012A'",
    "day": "number of the planting day whose vines and rows are meant",
    "vine-every": "every nth vine of a segment, the first and the last in it",
    "order": "'by kind', 'row by row' or 'serpentine', every other row back",
    "first-number": "number of the first point",
    "split": "most points in one table; 0 for any number",
    "formats": f"files: some of {', '.join(FORMATS)}; or all",
    "columns": "columns of the table, in order: point, northing, easting, elevation, description, code, kind, "
    "block, row, segment, index",
    "header": "yes or no: whether the table begins with a line of headings",
    "separator": "comma, semicolon, tab or space",
    "decimal-mark": "point or comma",
    "decimals": "decimals of coordinates in tables",
    "written-unit": "unit of all written coordinates: 'metre', 'foot', 'US survey foot'; own for the grid's",
    "description": "what a description is made of: '{feature} {code}'",
    "seal": "yes or no: whether a table ends in a line with revision and checksum",
    "coordinates": "grid, ground or calibrated",
    "vertical-datum": "what elevations count from, in words",
    "ground-point": "'EASTING, NORTHING' of the point that keeps its coordinates on the ground [the site's middle]",
    "ground-factor": "combined factor, grid over ground [the one at that point]",
    "ground-east": "added to ground eastings, in the grid's unit",
    "ground-north": "added to ground northings, in the grid's unit",
    "calibration": "what a calibration may do: 'shift', 'shift and turn', 'shift, turn and scale'",
    "calibration-heights": "what it may do to heights: none, shift or plane",
    "calibration-worst": "largest residual in plan that is accepted (3cm)",
    "calibration-worst-height": "largest residual in height that is accepted (5cm)",
    "tolerance": "asked for at posts (3cm)",
    "vine-tolerance": "asked for at vines (5cm)",
    "height-tolerance": "asked for in height (5cm)",
}
"""What each option takes, for the help of a command."""

LISTED_OPTIONS: dict[str, tuple[str, str]] = {
    # option that may be repeated: (what it takes, its meaning)
    "control": (
        "FILE.csv",
        "control points: name, northing, easting, elevation, known and measured ones",
    ),
    "leave-out": ("NAME", "leave a control point out of the calibration"),
    "feature": ("KIND=TEXT", "your own code for a kind of point: 'end post=EP', for {feature}"),
    "contact": ("WHO=TEXT", f"printed on the sheet for {', '.join(CONTACTS)}"),
}
"""Options that may be repeated, in the order they are taken in."""

_WORDS: dict[str, dict[str, str]] = {
    "header": {"yes": "with a header", "no": "without a header"},
    "seal": {"yes": "a sealed line", "no": "its last point"},
    "written-unit": {"own": "the grid's own", "m": "metre", "ft": "foot", "usft": "US survey foot"},
}
"""Short words for choices."""


@dataclass(frozen=True)
class AskedHandOff:
    """What a command was asked for: values by option, and options that were repeated."""

    given: Mapping[str, str] = field(default_factory=dict)
    listed: Mapping[str, Sequence[str]] = field(default_factory=dict)


def with_asked_hand_off(
    project: Project, asked: AskedHandOff, unit: str = "m"
) -> tuple[Project, tuple[str, ...]]:
    """The project with the hand-off that is asked for, and what is to be told of files that were read.

    Raises
    ------
    InputProblem
        One sentence that names the option.
    """
    notes: list[str] = []
    for path in asked.listed.get("control", ()):
        from .control_points import read_control_csv, with_control

        with of_option("control"):
            if not Path(path).is_file():
                raise InputProblem(f"{path} does not exist: check the name of the file.")
            points, told = read_control_csv(path, project)
            project = with_control(project, points)
            notes += [f.message for f in told]
    for name in asked.listed.get("leave-out", ()):
        with of_option("leave-out"):
            project = _left_out(project, name)
    for option, key in HAND_OFF_OPTIONS.items():
        if option not in asked.given:
            continue
        text = asked.given[option]
        words = _WORDS.get(option)
        if words is not None:
            short = text.strip().casefold()
            known = {w.casefold(): w for w in words.values()}
            text = words.get(short) or known.get(short, "")
            if not text:
                raise InputProblem(f"--{option}: give one of {', '.join(words)}.")
        with of_option(option):
            project = with_typed_hand_off(project, key, text, unit)
    for text in asked.listed.get("feature", ()):
        with of_option("feature"):
            project = _with_feature(project, text)
    for text in asked.listed.get("contact", ()):
        with of_option("contact"):
            name, said = _pair(text, "surveyor=A. Name, +00 0000")
            if name not in CONTACTS:
                raise InputProblem(f"{name!r} is none of {', '.join(CONTACTS)}.")
            project = with_typed_hand_off(project, f"contact.{name}", said, unit)
    return project, tuple(notes)


def _with_feature(project: Project, text: str) -> Project:
    name, said = _pair(text, "end post=EP")
    kinds = typed_kinds(name)
    hand = hand_off_of(project)
    features = tuple((k, said if k in kinds else t) for k, t in hand.table.features)
    return with_hand_off(project, replace(hand, table=replace(hand.table, features=features)))


def _left_out(project: Project, name: str) -> Project:
    from .control_points import with_control_used

    if hand_off_of(project).control_point(name) is None:
        raise InputProblem(f"{name!r} is no control point of this project.")
    return with_control_used(project, name, False, False)


def _pair(text: str, like: str) -> tuple[str, str]:
    name, mark, said = text.partition("=")
    if not mark or not name.strip():
        raise InputProblem(f"{text!r} says nothing: write it like {like!r}.")
    return name.strip().casefold(), said.strip()
