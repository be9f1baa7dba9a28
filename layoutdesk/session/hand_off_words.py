"""What a project says of its hand-off, as paragraphs, and every value of them as typed and as stepped.

Keys are dotted by what they are of ("points.kinds", "table.decimals", "ground.factor", "contact.surveyor").
"""

from __future__ import annotations

from dataclasses import replace

from ..core.model import HandOff, Project
from ..core.model.handoff import CONTACTS
from . import coordinate_words, point_words
from .hand_off_set import hand_off_of
from .quantities import Quantity, stepped, typed, value_of
from .specification import Paragraph, Value

_LEFT_OPEN = "left open"
_CONTACT = "contact."
_SHEET: dict[str, Quantity] = {
    "tolerance_m": Quantity("tolerance at posts", "small_length", 0.001, 10.0),
    "vine_tolerance_m": Quantity("tolerance at vines", "small_length", 0.001, 10.0),
    "height_tolerance_m": Quantity("tolerance in height", "small_length", 0.001, 10.0),
    **{f"{_CONTACT}{c}": Quantity(f"contact, {c}", "text", none=_LEFT_OPEN) for c in CONTACTS},
}
QUANTITIES: dict[str, Quantity] = {
    **point_words.QUANTITIES,
    **coordinate_words.QUANTITIES,
    **_SHEET,
}
HAND_OFF_NAMES: dict[str, str] = {key: quantity.name for key, quantity in QUANTITIES.items()}
"""Plain names of all values, as undo and the screen reader say them."""


def points_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """Which points are handed off, in which order, as which files."""
    return point_words.points_paragraph_of(project, hand_off_of(project))


def table_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """How tables of points are written."""
    return point_words.table_paragraph_of(project, hand_off_of(project))


def coordinates_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """Which coordinates are written: grid, ground or calibrated."""
    return coordinate_words.coordinates_paragraph(project, unit)


def calibration_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """What a calibration may do, and what it did."""
    return coordinate_words.calibration_paragraph(project, unit)


def sheet_paragraph(project: Project, unit: str = "m") -> Paragraph:
    """What is asked of those who stake, and whom to ask."""
    hand = hand_off_of(project)

    def v(key: str) -> Value:
        return value_of(key, _SHEET[key], (("", getattr(hand, key)),), unit)

    contacts: list = []
    for name, said in hand.contacts:
        key = f"{_CONTACT}{name}"
        value = Value(key, said or _LEFT_OPEN, _SHEET[key].name)
        contacts += ["; " if contacts else "", f"{name} ", value]
    return (
        (
            *("Posts are to stand within ", v("tolerance_m"), " of the plan, vines within "),
            *(v("vine_tolerance_m"), ", heights within ", v("height_tolerance_m")),
            " (3 cm and 5 cm are common practice)."
            if unit == "m"
            else " (1 in and 2 in are common practice).",
        ),
        ("On the sheet: ", *contacts, "."),
    )


def with_typed_hand_off(project: Project, key: str, text: str, unit: str = "m") -> Project:
    """The project with one value of its hand-off as typed or chosen.

    Parameters
    ----------
    project : Project
    key : str
        Of HAND_OFF_NAMES.
    text : str
    unit : str
        Of lengths; bare numbers are in it and in the units that go with it.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    hand = hand_off_of(project)
    if key in point_words.QUANTITIES:
        return with_hand_off(project, point_words.with_typed_point(hand, project, key, text))
    if key in coordinate_words.QUANTITIES:
        return with_hand_off(
            project, coordinate_words.with_typed_coordinate(hand, project, key, text, unit)
        )
    value = typed(_SHEET[key], text, unit)
    if key.startswith(_CONTACT):
        name = key.removeprefix(_CONTACT)
        told = tuple((c, (value or "") if c == name else said) for c, said in hand.contacts)
        return with_hand_off(project, replace(hand, contacts=told))
    return with_hand_off(project, replace(hand, **{key: value}))


def with_stepped_hand_off(project: Project, key: str, steps: float, unit: str = "m") -> Project:
    """The project with one value moved by so many steps, held inside its limits; texts stay."""
    hand = hand_off_of(project)
    if key in point_words.QUANTITIES:
        return with_hand_off(project, point_words.with_stepped_point(hand, key, steps))
    if key in coordinate_words.QUANTITIES:
        return with_hand_off(
            project, coordinate_words.with_stepped_coordinate(hand, project, key, steps, unit)
        )
    if key.startswith(_CONTACT):
        return project
    value = stepped(_SHEET[key], getattr(hand, key), steps, unit)
    return with_hand_off(project, replace(hand, **{key: value}))


def with_hand_off(project: Project, hand: HandOff) -> Project:
    """The project with a hand-off; the usual one is not said where nothing was said before."""
    if project.hand_off is None and hand == HandOff():
        return project
    return replace(project, hand_off=hand)
