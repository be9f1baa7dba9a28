"""In which coordinates points are handed off, and what a calibration may do, in plain language and as typed."""

from __future__ import annotations

from dataclasses import replace

from ..core.model import HandOff, InputProblem, Project
from ..core.model.handoff import COORDINATES, HEIGHT_MOVES, MOVES
from ..core.staking.calibration import does
from ..formats.stakeset import SurveyGrid
from .calibrating import calibrated
from .control_lines import signed_length
from .control_points import FARTHEST_M, stated_here
from .coordinate_typing import plural_unit, shown_coordinate, typed_coordinates, typed_number
from .hand_off_set import hand_off_of
from .planting_values import in_steps
from .quantities import Quantity, stepped, typed, value_of
from .rule_typing import stepped_figure
from .specification import Paragraph, Value

_MIDDLE, _FACTOR_HERE, _NOT_STATED = "the site's middle", "the combined factor", "not stated"
_NOTHING_DONE = "nothing"
_OFFSET_STEP = 1000.0
_PLANE_MEANING = "A shift and a tilt, from three points or more that do not stand in one line"

QUANTITIES: dict[str, Quantity] = {
    "coordinates": Quantity(
        "coordinates",
        "choice",
        choices=COORDINATES,
        meanings=(
            "As on the survey grid: what a receiver set to it shows",
            "Scaled about a point, so that distances between them are those a tape shows",
            "Moved onto what a crew measured at control points",
        ),
    ),
    "vertical_datum": Quantity("vertical datum", "text", none=_NOT_STATED),
    "ground.about": Quantity("ground point", "text", none=_MIDDLE),
    "ground.factor": Quantity(
        "combined factor", "number", 0.9, 1.1, none=_FACTOR_HERE, decimals=9, **in_steps(1e-6)
    ),
    "ground.offset_e": Quantity("offset of eastings", "text"),
    "ground.offset_n": Quantity("offset of northings", "text"),
    "calibration.moves": Quantity(
        "moves of the calibration",
        "choice",
        choices=MOVES,
        meanings=(
            "From one control point or more",
            "From two or more; lengths stay as they are",
            "From two or more; three or more check it",
        ),
    ),
    "calibration.heights": Quantity(
        "heights of the calibration",
        "choice",
        choices=(_NOTHING_DONE, *HEIGHT_MOVES[1:]),
        meanings=("Heights stay as they are", "One figure added to all", _PLANE_MEANING),
    ),
    "calibration.worst_m": Quantity("largest residual in position", "small_length", 0.001, 10.0),
    "calibration.worst_height_m": Quantity(
        "largest residual in height", "small_length", 0.001, 10.0
    ),
}
_OFFSETS = ("ground.offset_e", "ground.offset_n")


def coordinates_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """In which coordinates points are written."""
    from ..formats.placing import is_stated_elsewhere

    hand, grid = hand_off_of(project), _grid(project)
    known_as = grid.crs if len(grid.crs) < 40 else "own definition"

    def v(key: str) -> Value:
        return _value(key, hand, unit)

    sentences: list = [
        ("Points are written in ", v("coordinates"), f" coordinates of {grid.name} ({known_as})."),
        ("Elevations count from a vertical datum that is ", v("vertical_datum"), "; nothing is shifted by it.")
        if not hand.vertical_datum
        else ("Elevations count from ", v("vertical_datum"), ", in words alone: nothing is shifted by it."),
    ]  # fmt: skip
    if hand.coordinates == "ground":
        sentences += [
            (
                *("They are scaled about ", v("ground.about"), " by one over ", v("ground.factor")),
                *(", then ", v("ground.offset_e"), " is added to eastings and "),
                *(v("ground.offset_n"), f" to northings, in the grid's unit, the {grid.unit}."),
            ),
            (_ground_words(project, grid),),
        ]
    if hand.coordinates != "grid" and is_stated_elsewhere(project):
        sentences.append(
            (
                f"What is stated here is in {_short(hand.stated_in)}: a new value in {known_as} takes its place, "
                "and what else was stated in the old system falls away.",
            )
        )
    return tuple(sentences)


def calibration_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """What a calibration may do, and what it does."""
    hand = hand_off_of(project)

    def v(key: str) -> Value:
        return _value(key, hand, unit)

    return (
        (
            *("Known coordinates are moved onto measured ones by ", v("calibration.moves")),
            *(", heights by ", v("calibration.heights"), "."),
        ),
        (
            *("It is refused where a control point is more than ", v("calibration.worst_m")),
            *(" off in position or ", v("calibration.worst_height_m"), " in height."),
        ),
        (_calibration_words(project, unit),),
    )


def _calibration_words(project: Project, unit: str) -> str:
    """What the control points do now."""
    hand, found = hand_off_of(project), calibrated(project)
    if found is None:
        n = len(hand.control)
        there = "There are no control points yet" if n == 0 else "No control point is measured yet"
        return f"{there}: nothing is moved."
    if found.refused:
        return found.refused
    grid = _grid(project)
    worst = f"no residual is larger than {signed_length(found.plan.worst_m, unit)[1:]} in position"
    if found.height is not None:
        worst += f" and {signed_length(found.height.worst_m, unit)[1:]} in height"
    checked = (
        worst
        if found.plan.redundancy
        else "nothing checks it: the fit has no more measurements than it needs"
    )
    said = does(found).replace(" deg", "°").replace("-", "−")
    unused = "" if hand.coordinates == "calibrated" else " Coordinates are not calibrated now."
    return f"It {said}, in the {grid.unit} of the grid; {checked}.{unused}"


def with_typed_coordinate(
    hand: HandOff, project: Project, key: str, text: str, unit: str = "m"
) -> HandOff:
    """The hand-off with one value of its coordinates or calibration as typed or chosen.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    quantity, wanted = QUANTITIES[key], text.strip()
    if key == "ground.about":
        if wanted.casefold() in ("", "none", _MIDDLE, "site's middle", "the middle"):
            return with_coordinate_value(hand, project, key, (None, None))
        return with_coordinate_value(hand, project, key, _typed_about(project, text))
    if key in _OFFSETS:
        name = quantity.name.capitalize()
        is_none = wanted.casefold() in ("", "none", "no", "-", "–")
        value = 0.0 if is_none else typed_number(wanted, _grid(project), name)
        return with_coordinate_value(hand, project, key, value)
    if key == "vertical_datum":
        return with_coordinate_value(
            hand, project, key, "" if wanted.casefold() in (_NOT_STATED, "none", "-") else wanted
        )
    return with_coordinate_value(hand, project, key, typed(quantity, text, unit))


def with_stepped_coordinate(
    hand: HandOff, project: Project, key: str, steps: float, unit: str = "m"
) -> HandOff:
    """The hand-off with one value moved by so many steps; texts stay."""
    quantity = QUANTITIES[key]
    if key in _OFFSETS:
        value = stepped_figure(value_said(key, hand), steps, _OFFSET_STEP)
        return with_coordinate_value(hand, project, key, value)
    if quantity.kind == "text":
        return hand
    said = value_said(key, hand)
    if key == "ground.factor" and said is None:
        from ..formats.placing import ground_factor

        said = round(ground_factor(replace(project, hand_off=hand), _grid(project)), 6)
    return with_coordinate_value(hand, project, key, stepped(quantity, said, steps, unit))


def with_coordinate_value(hand: HandOff, project: Project, key: str, value) -> HandOff:
    """The hand-off with a value as it is kept; what is stated on the grid is stated in the project's system."""
    part, _, field = key.partition(".")
    if not field:
        return replace(hand, **{key: value})
    if part == "calibration":
        if key == "calibration.heights" and value == _NOTHING_DONE:
            value = "none"
        return replace(hand, calibration=replace(hand.calibration, **{field: value}))
    hand = stated_here(hand, project)
    if key == "ground.about":
        return replace(hand, ground=replace(hand.ground, easting=value[0], northing=value[1]))
    return replace(hand, ground=replace(hand.ground, **{field: value}))


def value_said(key: str, hand: HandOff):
    """A value as it is kept."""
    part, _, field = key.partition(".")
    if not field:
        return getattr(hand, key)
    if key == "ground.about":
        return hand.ground.easting, hand.ground.northing
    value = getattr(getattr(hand, part), field)
    return _NOTHING_DONE if key == "calibration.heights" and value == "none" else value


def _value(key: str, hand: HandOff, unit: str) -> Value:
    quantity, said = QUANTITIES[key], value_said(key, hand)
    if key == "ground.about":
        text = (
            _MIDDLE
            if said[0] is None
            else f"E {_short_figure(said[0])}, N {_short_figure(said[1])}"
        )
        return Value(key, text, quantity.name)
    if key in _OFFSETS:
        return Value(key, _short_figure(said), quantity.name, _OFFSET_STEP)
    if quantity.kind == "text":
        return Value(key, said or quantity.none, quantity.name)
    return value_of(key, quantity, (("", said),), unit)


def _typed_about(project: Project, text: str) -> tuple[float, float]:
    import numpy as np

    from ..formats.crs import frame_to_survey

    grid = _grid(project)
    found = typed_coordinates(text, grid, "Ground point")
    site = frame_to_survey(project.site.frame, project.site.survey_crs)(np.zeros((1, 2)))[0]
    if not np.hypot(*(np.array(found[:2]) - site)) * grid.unit_m <= FARTHEST_M:
        raise InputProblem(
            f"Ground point: {text.strip()!r} lies more than {FARTHEST_M / 1000:.0f} km from the site: write the "
            f"easting first, on {grid.name}."
        )
    return found[0], found[1]


def _ground_words(project: Project, grid: SurveyGrid) -> str:
    """Where the ground point and the factor are that nobody stated."""
    from ..formats.placing import ground_factor, ground_point

    ground = hand_off_of(project).ground
    e, n = ground_point(project, grid)
    factor = ground_factor(project, grid)
    middle = "The site's middle"
    said = [
        f"{middle if ground.easting is None else 'The ground point'} is "
        f"E {_short_figure(e)}, N {_short_figure(n)}"
    ]
    if ground.factor is None:
        said.append(f"the combined factor there is {factor:.9f}")
    more = (1 / factor - 1) * 100
    said.append(f"100 {plural_unit(grid.unit)} on the grid are {100 + more:.4f} on the ground")
    return "; ".join(said) + "."


def _short_figure(value: float) -> str:
    """A coordinate without noughts at its end."""
    text = shown_coordinate(value)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _short(crs: str) -> str:
    return crs if len(crs) < 40 else "another system"


def _grid(project: Project) -> SurveyGrid:
    from ..formats.crs import survey_grid

    return survey_grid(project.site.frame, project.site.survey_crs)
