"""Which points are handed off and how tables of them are written, in plain language and as typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..core.model import HandOff, InputProblem, Project
from ..core.model.handoff import (
    COLUMNS,
    DECIMAL_MARKS,
    FORMATS,
    ORDERS,
    POINT_KINDS,
    SEPARATORS,
)
from .part_words import parts_text, typed_parts
from .quantities import Quantity, stepped, typed, value_of
from .specification import Paragraph, Value
from .wording import listed

KIND_WORDS: dict[str, str] = {
    "row_end": "row ends",
    "end_post": "end posts",
    "line_post": "line posts",
    "anchor": "anchors",
    "vine": "vines",
    "outline": "outline corners",
    "exclusion": "exclusion corners",
    "control": "control points",
}
"""Kinds of points as people name them."""
_ORDER_MEANINGS = (
    "All end posts of a block, then its line posts, anchors and vines",
    "Everything that stands in a row together, each row from its start end",
    "The same, every other row from its far end, as one walks",
)
_WHOLE_SITE, _ALL_DAYS, _NEVER = "the whole site", "all days", "any number of"
_YES, _NO = "with a header", "without a header"
_SEALED, _BARE = "a sealed line", "its last point"
_OWN_UNIT = "the grid's own"
_FEATURE = "feature."

QUANTITIES: dict[str, Quantity] = {
    "points.kinds": Quantity("points handed off", "text"),
    "points.parts": Quantity("rows and vines handed off", "text", none=_WHOLE_SITE),
    "points.day": Quantity("planting day", "whole", 0, 9999, none=_ALL_DAYS),
    "points.vine_every": Quantity("every nth vine", "whole", 1, 1000),
    "points.order": Quantity(
        "order of the points", "choice", choices=ORDERS, meanings=_ORDER_MEANINGS
    ),
    "points.first_number": Quantity("first point number", "whole", 0, 10**9),
    "points.most_points": Quantity("points in one table", "whole", 0, 10**7, none=_NEVER),
    "formats": Quantity("files of the hand-off", "text"),
    "table.columns": Quantity("columns of the table", "text"),
    "table.has_header": Quantity("header of the table", "choice", choices=(_YES, _NO)),
    "table.separator": Quantity("separator of the table", "choice", choices=tuple(SEPARATORS)),
    "table.decimal_mark": Quantity("decimal mark", "choice", choices=tuple(DECIMAL_MARKS)),
    "table.decimals": Quantity("decimals of coordinates", "whole", 0, 6),
    "table.unit": Quantity(
        "unit of written coordinates",
        "choice",
        choices=(_OWN_UNIT, "metre", "foot", "US survey foot"),
        meanings=("The survey grid's", "", "0.3048 m exactly", "1200/3937 m, 2 parts in a million longer"),
    ),
    "table.description": Quantity("description of a point", "text"),
    "table.is_sealed": Quantity(
        "end of the table",
        "choice",
        choices=(_SEALED, _BARE),
        meanings=(
            "Revision and checksum stand in a last line without coordinates",
            "For programs that stumble over such a line; the file's checksum stands on the sheet",
        ),
    ),
    **{
        f"{_FEATURE}{kind}": Quantity(f"feature of {words}", "text", none=kind.replace("_", " "))
        for kind, words in KIND_WORDS.items()
    },
}  # fmt: skip


def points_paragraph_of(project: Project, hand: HandOff) -> Paragraph:
    """Which points are handed off.

    Examples
    --------
    >>> from .specification import as_text
    >>> print(as_text(points_paragraph_of(None, HandOff())).splitlines()[0])
    Handed off are end posts, line posts, anchors and vines of the whole site.
    """
    v = _values(hand)
    choice = hand.points
    sentences: list = [("Handed off are ", v("points.kinds"), " of ", v("points.parts"), ".")]
    if "vine" in choice.kinds:
        last = ", and the last one of each segment" if choice.vine_every > 1 else ""
        sentences.append(
            (
                *(
                    "One vine in ",
                    v("points.vine_every"),
                    f" is among them{last}, of those planted ",
                ),
                *("on ", v("points.day"), "."),
            )
        )
    sentences += [
        (
            *(
                "They stand ",
                v("points.order"),
                ", numbered from ",
                v("points.first_number"),
                "; one table ",
            ),
            *(
                "holds at most " if choice.most_points else "holds ",
                v("points.most_points"),
                " points.",
            ),
        ),
        ("Files: ", v("formats"), "."),
    ]
    return tuple(sentences)


def table_paragraph_of(project: Project, hand: HandOff) -> Paragraph:
    """How tables of points are written.

    Examples
    --------
    >>> from .specification import as_text
    >>> print(as_text(table_paragraph_of(None, HandOff())).splitlines()[0])
    A line holds point, northing, easting, elevation, description, parted by a comma, with a decimal point and 4 decimals.
    """
    v, table = _values(hand), hand.table
    features: list = []
    for kind in hand.points.kinds:
        features += ["; " if features else "", f"{KIND_WORDS[kind]} ", v(f"{_FEATURE}{kind}")]
    uses_features = "{feature}" in table.description
    return (
        (
            *("A line holds ", v("table.columns"), ", parted by a ", v("table.separator")),
            *(
                ", with a decimal ",
                v("table.decimal_mark"),
                " and ",
                v("table.decimals"),
                " decimals.",
            ),
        ),
        ("It is written ", v("table.has_header"), " and ends in ", v("table.is_sealed"), "."),
        ("The unit of coordinates in all files is ", v("table.unit"), "."),
        ("A description reads ", v("table.description"), "."),
        *(((*("Features: ", *features), "."),) if uses_features and features else ()),
        (
            "In a description stand {code}, {feature}, {kind}, {block}, {row}, {segment}, {index} and {number}, "
            "with any words between them.",
        ),
    )


def _values(hand: HandOff):
    def v(key: str) -> Value:
        return _value(key, hand)

    return v


def _value(key: str, hand: HandOff) -> Value:
    quantity = QUANTITIES[key]
    said = value_said(key, hand)
    if quantity.kind == "text":
        return Value(key, said or quantity.none or "none", quantity.name)
    return value_of(key, quantity, (("", said),))


def value_said(key: str, hand: HandOff):
    """A value as its quantity has it: texts for lists, None for nothing said."""
    part, _, field = key.partition(".")
    if key == "formats":
        return ", ".join(hand.formats)
    if part == "feature":
        return dict(hand.table.features).get(field, "")
    value = getattr(getattr(hand, part), field)
    if key == "points.kinds":
        return listed([KIND_WORDS[kind] for kind in value]) if value else ""
    if key == "points.parts":
        return parts_text(value) if value else ""
    if key in ("points.day", "points.most_points"):
        return value or None
    if key == "table.columns":
        return ", ".join(value)
    if key == "table.has_header":
        return _YES if value else _NO
    if key == "table.is_sealed":
        return _SEALED if value else _BARE
    if key == "table.unit":
        return value or _OWN_UNIT
    return value


def with_typed_point(hand: HandOff, project: Project, key: str, text: str) -> HandOff:
    """The hand-off with one value of its points or table as typed or chosen.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    quantity, wanted = QUANTITIES[key], text.strip()
    if key == "points.kinds":
        return _with(hand, key, typed_kinds(wanted))
    if key == "points.parts":
        nothing = not wanted or wanted.casefold() in (_WHOLE_SITE, "all", "none")
        return _with(hand, key, () if nothing else typed_parts(wanted, project))
    if key == "formats":
        return replace(hand, formats=_words_of(wanted, FORMATS, "Files of the hand-off"))
    if key == "table.columns":
        return _with(hand, key, _typed_columns(wanted))
    if key == "table.description":
        return _with(hand, key, _typed_description(wanted))
    if key.startswith(_FEATURE):
        kind = key.removeprefix(_FEATURE)
        said = "" if wanted.casefold() == quantity.none else wanted
        features = tuple((k, said if k == kind else t) for k, t in hand.table.features)
        return replace(hand, table=replace(hand.table, features=features))
    return with_point_value(hand, key, typed(quantity, text))


def with_stepped_point(hand: HandOff, key: str, steps: float) -> HandOff:
    """The hand-off with one value moved by so many steps; texts stay."""
    quantity = QUANTITIES[key]
    if quantity.kind == "text":
        return hand
    size = 1000.0 if key == "points.most_points" else 1.0
    value = stepped(replace(quantity, step=size), value_said(key, hand), steps)
    try:
        return with_point_value(hand, key, value)
    except InputProblem:  # a choice that another one bars is stepped over
        return with_point_value(hand, key, stepped(quantity, value, 1 if steps > 0 else -1))


def with_point_value(hand: HandOff, key: str, value) -> HandOff:
    """The hand-off with a value as its quantity has it."""
    if key in ("points.day", "points.most_points"):
        value = value or 0
    if key == "table.has_header":
        value = value == _YES
    if key == "table.is_sealed":
        value = value == _SEALED
    if key == "table.unit":
        value = "" if value == _OWN_UNIT else value
    return _with(hand, key, value)


def _with(hand: HandOff, key: str, value) -> HandOff:
    part, _, field = key.partition(".")
    try:
        return replace(hand, **{part: replace(getattr(hand, part), **{field: value})})
    except ValueError:
        raise InputProblem(
            "Separator and decimal mark cannot both be a comma: change the other one first."
        ) from None


def typed_kinds(text: str) -> tuple[str, ...]:
    """Kinds of points as typed: "end posts, vines and anchors", "all".

    Examples
    --------
    >>> typed_kinds("vines and row ends"), typed_kinds("End post; control")
    (('row_end', 'vine'), ('end_post', 'control'))
    """
    if text.strip().casefold() == "all":
        return POINT_KINDS[1:]
    names = {}
    for kind, words in KIND_WORDS.items():
        for name in (kind, words, words.removesuffix("s"), kind.replace("_", " "), f"{kind}s"):
            names[name] = kind
    names |= {"outlines": "outline", "exclusions": "exclusion", "corners": "outline"}
    found = []
    for word in _pieces(text):
        if word not in names:
            raise InputProblem(
                f"Points handed off: {word!r} is no kind of point: give some of {listed(KIND_WORDS.values())}."
            )
        found.append(names[word])
    if not found:
        raise InputProblem(f"Points handed off: give some of {listed(KIND_WORDS.values())}.")
    return tuple(k for k in POINT_KINDS if k in found)


def _typed_columns(text: str) -> tuple[str, ...]:
    columns = tuple(_pieces(text))
    for column in columns:
        if column not in COLUMNS:
            raise InputProblem(f"Columns of the table: {column!r} is none of {', '.join(COLUMNS)}.")
    if not columns:
        raise InputProblem(f"Columns of the table: give some of {', '.join(COLUMNS)}.")
    twice = next((c for c in columns if columns.count(c) > 1), None)
    if twice:
        raise InputProblem(f"Columns of the table: {twice} stands there twice: give it once.")
    return columns


def _words_of(text: str, known: Sequence[str], name: str) -> tuple[str, ...]:
    words = tuple(_pieces(text))
    if words == ("all",):
        return tuple(known)
    for word in words:
        if word not in known:
            raise InputProblem(f"{name}: {word!r} is none of {', '.join(known)}.")
    if not words:
        raise InputProblem(f"{name}: give some of {', '.join(known)}.")
    return tuple(k for k in known if k in words)


def _pieces(text: str) -> list[str]:
    """Words of a list, in lower case: parted by commas, semicolons or "and"."""
    import re

    return [p.strip() for p in re.split(r"[,;\n]|\band\b", text.casefold()) if p.strip()]


def _typed_description(text: str) -> str:
    if not text:
        raise InputProblem("Description of a point: it is empty: write {code} at least.")
    from ..formats.point_descriptions import check_template

    check_template(text)
    return text
