"""A trellis value by value, as a paragraph shows, types and steps it.

Keys of values are fields of `Trellis`, dotted where they lie inside a part of it:
`fruiting_wire.diameter_mm`, `foliage.0.height_m`, `spare.shelters`; `conditions.…` and `currency` are those of
the whole site.
"""

from __future__ import annotations

import math
from dataclasses import replace

from ..core.model import FoliageWire, InputProblem, Trellis
from ..core.model.trellis import ITEMS, TRELLIS_LIMITS, WIRE_LIMITS
from .quantities import Quantity, shown
from .units import unit_length_m

ENDS = {
    "tied back": "tied back to an anchor",
    "braced inside": "braced inside the row",
    "slanted brace": "held by a slanted brace",
}
_END_OF_WORDS = {words: kind for kind, words in ENDS.items()}
_ENDS_MEAN = {
    "tied back": "An anchor beyond the end post holds it by a tie",
    "braced inside": "A second post in the row, a level brace, and a diagonal loop of wire",
    "slanted brace": "A brace from the end post down into the row onto a pad",
}
SINGLE, PAIR = "single", "a pair"
_SINGLE_OR_PAIR = {
    SINGLE: "One wire on the posts",
    PAIR: "A wire on either side of the posts, clipped together between them",
}
ADD = "one more"
_ADD = {"no more": "As it is", ADD: "One more foliage wire, above the highest"}
_STEP_UP_M = 0.3
"""From one foliage wire to the next: 8 to 14 in (extension guides). [m]"""
_LEAST_UP_M = 0.05
"""Nearer than this one wire more is a slip. Common practice. [m]"""
WIRES = {
    "fruiting_wire": "fruiting wire",
    "foliage_wire": "foliage wires",
    "drip_wire": "drip wire",
    "tie_wire": "ties",
}
_HIGHEST = "the highest wire"
_NO_WIRE = "no wire of its own"
_NO_STAKE = "no training stake"
CURRENCY_MOST = 12
"""Letters; more of them would push prices out of their columns."""
_EACH = "one a wire"


def _length(name: str, field: str, step=0.05, step_ft=0.25, **more) -> Quantity:
    return Quantity(name, "length", *TRELLIS_LIMITS[field], step, step_ft, **more)


def _whole(name: str, field: str, **more) -> Quantity:
    return Quantity(name, "whole", *(int(v) for v in TRELLIS_LIMITS[field]), **more)


_QUANTITIES: dict[str, Quantity] = {
    "stake_length_m": _length("length of training stakes", "stake_length_m", none=_NO_STAKE),
    "stake_driven_m": _length("depth of training stakes", "stake_driven_m"),
    "line_post_length_m": _length("length of line posts", "line_post_length_m"),
    "line_post_driven_m": _length("depth of line posts", "line_post_driven_m"),
    "end_post_length_m": _length("length of end posts", "end_post_length_m"),
    "end_post_driven_m": _length("depth of end posts", "end_post_driven_m"),
    "ends": Quantity(
        "how row ends hold",
        "choice",
        choices=tuple(_END_OF_WORDS),
        meanings=tuple(_ENDS_MEAN.values()),
    ),
    "end_angle_deg": Quantity("angle of end posts", "angle", *TRELLIS_LIMITS["end_angle_deg"]),
    "tie_height_m": _length("height of the tie", "tie_height_m", none=_HIGHEST),
    "brace_span_m": _length("distance of the brace post", "brace_span_m", 0.1),
    "brace_angle_deg": Quantity("angle of the brace", "angle", *TRELLIS_LIMITS["brace_angle_deg"]),
    "fruiting_wire_height_m": _length("height of the fruiting wire", "fruiting_wire_height_m"),
    "drip_wire_height_m": _length("height of the drip wire", "drip_wire_height_m", none=_NO_WIRE),
    "wrap_m": _length("wrap of a wire", "wrap_m", 0.1),
    "tie_lines": _whole("strands of a tie", "tie_lines"),
    "tie_wrap_m": _length("wrap of a tie", "tie_wrap_m", 0.1),
    "joins_allowed": _whole("joins in a wire", "joins_allowed"),
    "drip_line_end_m": _length("drip line beyond an end", "drip_line_end_m", 0.1),
    "stake_clips_per_vine": _whole("clips at a stake", "stake_clips_per_vine"),
    "drip_clips_per_vine": _whole("clips of the drip line", "drip_clips_per_vine"),
    "pair_clips_per_bay": _whole("clips of a pair", "pair_clips_per_bay"),
    "staples_per_post": _whole("staples on a post", "staples_per_post", none=_EACH),
    "tensioners_per_wire": _whole("tensioners on a wire", "tensioners_per_wire"),
    "shelters_per_vine": _whole("shelters a vine", "shelters_per_vine"),
    "drip_tubes_per_vine": _whole("drip tubes a vine", "drip_tubes_per_vine"),
    "drip_line": Quantity(
        "drip line", "choice", choices=("a drip line", "no drip line"), meanings=("", "")
    ),
    "foliage.add": Quantity(
        "foliage wires", "choice", choices=tuple(_ADD), meanings=tuple(_ADD.values())
    ),
    "conditions.colder_k": Quantity("cold after drawing", "warmth", 0, 100),
    "conditions.warmer_k": Quantity("heat after drawing", "warmth", 0, 100),
    "conditions.crop_kg_m": Quantity("crop on the wire", "line_load", 0, 50),
    "currency": Quantity("currency", "text", none="not said"),
}
for _wire, _name in WIRES.items():
    _QUANTITIES |= {
        f"{_wire}.diameter_mm": Quantity(
            f"thickness of the {_name}", "thickness", *WIRE_LIMITS["diameter_mm"], decimals=3
        ),
        f"{_wire}.strength_mpa": Quantity(
            f"strength of the {_name}", "strength", *WIRE_LIMITS["strength_mpa"]
        ),
        f"{_wire}.tension_n": Quantity(
            f"tension of the {_name}", "force", *WIRE_LIMITS["tension_n"]
        ),
    }
for _item, (_label, _) in ITEMS.items():
    _QUANTITIES[f"spare.{_item}"] = Quantity(
        f"spares of {_label[:1].lower()}{_label[1:]}", "share", 0, 100, 0.5, 0.5
    )

TRELLIS_NAMES = {key: quantity.name for key, quantity in _QUANTITIES.items()}
"""Plain names of the values, but for those of single foliage wires."""


def quantity_of(key: str) -> Quantity:
    if key in _QUANTITIES:
        return _QUANTITIES[key]
    _, index, field = key.split(".")
    which = f"foliage wire {int(index) + 1}"
    if field == "paired":
        return Quantity(
            f"kind of {which}",
            "choice",
            choices=tuple(_SINGLE_OR_PAIR),
            meanings=tuple(_SINGLE_OR_PAIR.values()),
        )
    return _length(f"height of {which}", "fruiting_wire_height_m", none="none")


def value_in(trellis: Trellis, key: str):
    """A value as the paragraph has it."""
    part, _, rest = key.partition(".")
    if key == "drip_line":
        return _QUANTITIES[key].choices[0 if trellis.drip_line else 1]
    if key == "foliage.add":
        return "no more"
    if key == "ends":
        return ENDS[trellis.ends]
    if key == "stake_length_m":
        return trellis.stake_length_m or None
    if part == "foliage":
        index, _, field = rest.partition(".")
        wires = trellis.foliage_wires
        wire = wires[int(index)] if int(index) < len(wires) else None
        if field == "paired":
            return PAIR if wire is not None and wire.paired else SINGLE
        return None if wire is None else wire.height_m
    if part == "spare":
        return trellis.spare_pct(rest)
    if part in WIRES:
        return getattr(getattr(trellis, part), rest)
    return getattr(trellis, key)


def with_value(trellis: Trellis, key: str, value) -> Trellis:
    """The trellis with one value exchanged.

    Raises
    ------
    ValueError
        Where the trellis cannot stand so; `changed` says it in people's words.
    InputProblem
        Where no wire can be added.
    """
    part, _, rest = key.partition(".")
    if key == "drip_line":
        return replace(trellis, drip_line=value == _QUANTITIES[key].choices[0])
    if key == "foliage.add":
        return _with_one_more(trellis) if value == ADD else trellis
    if key == "ends":
        return replace(trellis, ends=_END_OF_WORDS[value])
    if key == "stake_length_m":
        return replace(trellis, stake_length_m=value or 0.0)
    if part == "foliage":
        return _with_foliage(trellis, rest, value)
    if part == "spare":
        return replace(trellis, spares_pct=dict(trellis.spares_pct) | {rest: value})
    if part in WIRES:
        return replace(trellis, **{part: replace(getattr(trellis, part), **{rest: value})})
    return replace(trellis, **{key: value})


def _with_one_more(trellis: Trellis) -> Trellis:
    """One more foliage wire above the highest, or as high as the posts let it be."""
    lean = math.sin(math.radians(trellis.end_angle_deg))
    highest = min(
        trellis.line_post_length_m - trellis.line_post_driven_m,
        (trellis.end_post_length_m - trellis.end_post_driven_m) * lean,
    )
    top = min(trellis.height_m + _STEP_UP_M, math.floor(1000 * highest + 1e-6) / 1000)
    if top < trellis.height_m + _LEAST_UP_M:
        raise InputProblem(
            "Foliage wires: the posts end where the highest wire is: make them longer, or drive them "
            "less deep, and add the wire then."
        )
    wires = (*trellis.foliage_wires, FoliageWire(round(top, 3), paired=False))
    return replace(trellis, foliage_wires=wires)


def _with_foliage(trellis: Trellis, rest: str, value) -> Trellis:
    index, _, field = rest.partition(".")
    wires, at = list(trellis.foliage_wires), int(index)
    if at >= len(wires):
        return trellis
    if field == "paired":
        wires[at] = replace(wires[at], paired=value == PAIR)
    elif value is None:
        del wires[at]
    else:
        wires[at] = replace(wires[at], height_m=value)
    return replace(trellis, foliage_wires=tuple(wires))


def _refused(trellis: Trellis, key: str, value, unit: str, problem: ValueError) -> InputProblem:
    """What stands against a value, in people's words."""
    name = quantity_of(key).name
    name = name[:1].upper() + name[1:]
    told = str(problem)
    long = _QUANTITIES["wrap_m"]

    def length(metres: float) -> str:
        return shown(replace(long, decimals=2), metres, unit)

    if "highest wire" in told:
        which = "line posts" if told.startswith("line_post") else "end posts"
        return InputProblem(
            f"{name}: the {which} would end below the highest wire, at "
            f"{length(_height_then(trellis, key, value))}: make them longer, drive them less deep, or "
            "lower the wire."
        )
    if "end post's top" in told:
        return InputProblem(
            f"{name}: the tie would be above the end post's top: lower it, or make the post longer."
        )
    if "is not less than the length" in told:
        thing = "stake" if told.startswith("stake") else "post"
        return InputProblem(f"{name}: the {thing} would be all in the ground: drive it less deep.")
    return InputProblem(f"{name}: {told.partition(': ')[2]}.")


def _height_then(trellis: Trellis, key: str, value) -> float:
    """The highest wire, where a change would have moved it."""
    heights = [trellis.height_m]
    if key.endswith("height_m") and key != "tie_height_m" and value is not None:
        heights.append(value)
    return max(heights)


def changed(trellis: Trellis, key: str, value, unit: str) -> Trellis:
    """The same, and what cannot stand refused in one sentence.

    Raises
    ------
    InputProblem
    """
    try:
        return with_value(trellis, key, value)
    except ValueError as problem:
        raise _refused(trellis, key, value, unit, problem) from None


def begin_of(trellis: Trellis, key: str):
    """Where stepping begins from what is not said."""
    if key == "tie_height_m":
        return trellis.height_m
    if key == "staples_per_post":
        return trellis.n_wires
    if key == "stake_length_m":
        return Trellis().stake_length_m
    return Trellis().drip_wire_height_m if key == "drip_wire_height_m" else None


_ROUND_FT = {
    "stake_length_m": 6,
    "stake_driven_m": 1.5,
    "line_post_length_m": 8.5,
    "line_post_driven_m": 2,
    "end_post_length_m": 10,
    "end_post_driven_m": 3.5,
    "brace_span_m": 8,
    "fruiting_wire_height_m": 3,
    "drip_wire_height_m": 1.5,
    "wrap_m": 1.5,
    "tie_wrap_m": 2,
    "drip_line_end_m": 3,
}
_ROUND_FOLIAGE_FT = (4, 5, 6)


def starting_trellis(unit: str = "m") -> Trellis:
    """The usual trellis in round figures of a unit.

    Examples
    --------
    >>> round(starting_trellis("ft").height_m / 0.3048, 6)
    6.0
    """
    if unit == "m":
        return Trellis()
    size = unit_length_m(unit)
    foliage = tuple(
        replace(wire, height_m=feet * size)
        for wire, feet in zip(Trellis().foliage_wires, _ROUND_FOLIAGE_FT, strict=True)
    )
    lengths = {name: feet * size for name, feet in _ROUND_FT.items()}
    return Trellis(**lengths, foliage_wires=foliage)


def is_usual(trellis: Trellis) -> bool:
    """Whether a trellis is the one that a project begins with."""
    return trellis in (Trellis(), starting_trellis("ft"), starting_trellis("usft"))
