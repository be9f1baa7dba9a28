"""The trellis of a block, or of several, as a paragraph of plain language, and its values as changed.

Keys of values are fields of `Trellis`, dotted where they lie inside a part of it:
`fruiting_wire.diameter_mm`, `foliage.0.height_m`, `spare.shelters`; `conditions.…` and `currency` are those of
the whole site.
"""

from __future__ import annotations

from dataclasses import replace

from ..core.model import FoliageWire, InputProblem, Project, Trellis
from ..core.model.materials import Materials
from ..core.model.trellis import ITEMS, TRELLIS_LIMITS, WIRE_LIMITS
from .quantities import Quantity, shown, stepped, typed, value_of
from .specification import Paragraph, Sentence

_ENDS = {
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
WIRES = {
    "fruiting_wire": "fruiting wire",
    "foliage_wire": "foliage wires",
    "drip_wire": "drip wire",
    "tie_wire": "ties",
}
_HIGHEST = "the highest wire"
_NO_WIRE = "no wire of its own"
_EACH = "one a wire"


def _length(name: str, field: str, step=0.05, step_ft=0.25, **more) -> Quantity:
    return Quantity(name, "length", *TRELLIS_LIMITS[field], step, step_ft, **more)


def _whole(name: str, field: str, **more) -> Quantity:
    return Quantity(name, "whole", *(int(v) for v in TRELLIS_LIMITS[field]), **more)


_QUANTITIES: dict[str, Quantity] = {
    "stake_length_m": _length("length of training stakes", "stake_length_m"),
    "stake_driven_m": _length("depth of training stakes", "stake_driven_m"),
    "line_post_length_m": _length("length of line posts", "line_post_length_m"),
    "line_post_driven_m": _length("depth of line posts", "line_post_driven_m"),
    "end_post_length_m": _length("length of end posts", "end_post_length_m"),
    "end_post_driven_m": _length("depth of end posts", "end_post_driven_m"),
    "ends": Quantity(
        "how row ends hold", "choice", choices=tuple(_ENDS), meanings=tuple(_ENDS.values())
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
    "currency": Quantity("currency", "text", none="no currency"),
}
for _wire, _name in WIRES.items():
    _QUANTITIES |= {
        f"{_wire}.diameter_mm": Quantity(
            f"thickness of the {_name}", "thickness", *WIRE_LIMITS["diameter_mm"], decimals=2
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


def _quantity(key: str) -> Quantity:
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


def _value(trellis: Trellis, key: str):
    """A value as the paragraph has it."""
    part, _, rest = key.partition(".")
    if key == "drip_line":
        return _QUANTITIES[key].choices[0 if trellis.drip_line else 1]
    if key == "foliage.add":
        return "no more"
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


def _with(trellis: Trellis, key: str, value) -> Trellis:
    part, _, rest = key.partition(".")
    if key == "drip_line":
        return replace(trellis, drip_line=value == _QUANTITIES[key].choices[0])
    if key == "foliage.add":
        return _with_one_more(trellis) if value == ADD else trellis
    if part == "foliage":
        return _with_foliage(trellis, rest, value)
    if part == "spare":
        return replace(trellis, spares_pct=dict(trellis.spares_pct) | {rest: value})
    if part in WIRES:
        return replace(trellis, **{part: replace(getattr(trellis, part), **{rest: value})})
    return replace(trellis, **{key: value})


def _with_one_more(trellis: Trellis) -> Trellis:
    """One more foliage wire above the highest, or as high as the posts let it be."""
    upright = trellis.line_post_length_m - trellis.line_post_driven_m
    top = min(trellis.height_m + _STEP_UP_M, upright)
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
    name = _quantity(key).name
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


def _changed(trellis: Trellis, key: str, value, unit: str) -> Trellis:
    try:
        return _with(trellis, key, value)
    except ValueError as problem:
        raise _refused(trellis, key, value, unit, problem) from None


def _with_materials(project: Project, materials: Materials) -> Project:
    return replace(project, materials=materials)


def _with_site_value(project: Project, key: str, value) -> Project:
    materials = project.materials or Materials()
    if key == "currency":
        return _with_materials(project, replace(materials, currency=value or ""))
    field = key.partition(".")[2]
    conditions = replace(materials.conditions, **{field: value})
    return _with_materials(project, replace(materials, conditions=conditions))


def _is_of_site(key: str) -> bool:
    return key == "currency" or key.startswith("conditions.")


def _site_value(materials: Materials, key: str):
    if key == "currency":
        return materials.currency or None
    return getattr(materials.conditions, key.partition(".")[2])


def with_typed_trellis(
    project: Project, names: tuple[str, ...], key: str, text: str, unit: str = "m"
) -> Project:
    """The project with one value of some blocks' trellises as typed or chosen.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed, or what stands against it.
    """
    value = typed(_quantity(key), text, unit)
    if _is_of_site(key):
        return _with_site_value(project, key, value)
    materials = project.materials or Materials()
    for name in names:
        trellis = _changed(materials.trellis_of(name), key, value, unit)
        materials = materials.with_trellis(name, trellis)
    return _with_materials(project, materials)


def with_stepped_trellis(
    project: Project, names: tuple[str, ...], key: str, steps: float, unit: str = "m"
) -> Project:
    """The project with one value moved by so many of its steps, in each block from what it has there.

    A step that the trellis does not allow leaves a block as it is.
    """
    quantity, materials = _quantity(key), project.materials or Materials()
    if _is_of_site(key):
        value = stepped(quantity, _site_value(materials, key), steps, unit)
        return _with_site_value(project, key, value)
    if key == "foliage.add":
        return project
    for name in names:
        trellis = materials.trellis_of(name)
        value = _value(trellis, key)
        begin = _begin(trellis, key) if value is None else value
        moved = stepped(quantity, begin, steps, unit)
        try:
            materials = materials.with_trellis(name, _with(trellis, key, moved))
        except ValueError:
            continue
    return _with_materials(project, materials)


def _begin(trellis: Trellis, key: str):
    """Where stepping begins from what is not said."""
    if key == "tie_height_m":
        return trellis.height_m
    if key == "staples_per_post":
        return trellis.n_wires
    return Trellis().drip_wire_height_m if key == "drip_wire_height_m" else None


def trellis_paragraph(materials: Materials, names: tuple[str, ...], unit: str = "m") -> Paragraph:
    """The trellises of some blocks; where they differ a value tells what each of them has.

    Examples
    --------
    >>> from .specification import as_text
    >>> as_text(trellis_paragraph(Materials(), ("B1",))).splitlines()[0]
    'Each vine has a training stake 1.80 m long, 0.45 m of it in the ground, and 1 shelter.'
    """
    trellises = tuple((name, materials.trellis_of(name)) for name in names)

    def v(key: str):
        if _is_of_site(key):
            return value_of(key, _quantity(key), (("", _site_value(materials, key)),), unit)
        each = tuple((name, _value(t, key)) for name, t in trellises)
        return value_of(key, _quantity(key), each, unit)

    def any_has(test) -> bool:
        return any(test(t) for _, t in trellises)

    return (
        _at_vines(v),
        _posts(v),
        _ends(v, any_has),
        _foliage(v, trellises),
        *_wires(v, any_has),
        _fastened(v, any_has),
        *_drip(v, any_has),
        *_spares(v),
        (
            "Wires become ",
            v("conditions.colder_k"),
            " colder and ",
            v("conditions.warmer_k"),
            " warmer than when they are drawn; the fruiting wire carries ",
            v("conditions.crop_kg_m"),
            ". Prices are in ",
            v("currency"),
            ".",
        ),
    )


def _at_vines(v) -> Sentence:
    shelters = v("shelters_per_vine")
    noun = " shelter." if shelters.text == "1" else " shelters."
    return (
        *("Each vine has a training stake ", v("stake_length_m"), " long, ", v("stake_driven_m")),
        *(" of it in the ground, and ", shelters, noun),
    )


def _posts(v) -> Sentence:
    return (
        *("Line posts are ", v("line_post_length_m"), " long and driven ", v("line_post_driven_m")),
        *(", end posts ", v("end_post_length_m"), " and ", v("end_post_driven_m"), "."),
    )


def _ends(v, any_has) -> Sentence:
    told: list = ["Row ends are ", v("ends"), "; the end post stands at ", v("end_angle_deg")]
    told.append(" to the ground")
    if any_has(lambda t: t.ends == "tied back"):
        told += [", and the tie holds it at ", v("tie_height_m")]
    if any_has(lambda t: t.ends == "braced inside"):
        told += [", the brace post ", v("brace_span_m"), " from it"]
        if not any_has(lambda t: t.ends == "tied back"):
            told += [", and the loop meets it at ", v("tie_height_m")]
    if any_has(lambda t: t.ends == "slanted brace"):
        told += [", the brace at ", v("brace_angle_deg")]
        if not any_has(lambda t: t.ends != "slanted brace"):
            told += [" from a height of ", v("tie_height_m")]
    return (*told, ".")


def _foliage(v, trellises) -> Sentence:
    told: list = ["The fruiting wire hangs at ", v("fruiting_wire_height_m"), ". Foliage wires: "]
    count = max(len(t.foliage_wires) for _, t in trellises)
    for i in range(count):
        told += [v(f"foliage.{i}.height_m"), ", ", v(f"foliage.{i}.paired"), "; "]
    return (*told, v("foliage.add"), ".")


def _wires(v, any_has):
    shown_wires = ["fruiting_wire", "foliage_wire"]
    if any_has(lambda t: t.drip_wire_height_m is not None):
        shown_wires.append("drip_wire")
    for wire in shown_wires:
        name = WIRES[wire]
        begin = f"The {name} {'are' if wire == 'foliage_wire' else 'is'} "
        yield (
            begin,
            v(f"{wire}.diameter_mm"),
            " thick, breaks at " if wire != "foliage_wire" else " thick, break at ",
            v(f"{wire}.strength_mpa"),
            " and is drawn to " if wire != "foliage_wire" else " and are drawn to ",
            v(f"{wire}.tension_n"),
            ".",
        )
    yield (
        "Ties have ",
        v("tie_lines"),
        " strands of wire ",
        v("tie_wire.diameter_mm"),
        " thick, breaking at ",
        v("tie_wire.strength_mpa"),
        ".",
    )


def _fastened(v, any_has) -> Sentence:
    told: list = ["Wires are wrapped with ", v("wrap_m"), " more at each end, ties with "]
    told += [v("tie_wrap_m"), ", and joined at most ", v("joins_allowed"), " times. Each has "]
    told += [v("tensioners_per_wire"), " tensioners, each post "]
    told += [v("staples_per_post"), " staples, each stake "]
    told += [v("stake_clips_per_vine"), " clips to the fruiting wire"]
    if any_has(lambda t: any(f.paired for f in t.foliage_wires)):
        told += [", a pair ", v("pair_clips_per_bay"), " clips from post to post"]
    return (*told, ".")


def _drip(v, any_has):
    if not any_has(lambda t: t.drip_line):
        yield ("There is ", v("drip_line"), " in the rows.")
        return
    told: list = ["There is ", v("drip_line"), ", on a wire at ", v("drip_wire_height_m")]
    if any_has(lambda t: t.drip_wire_height_m is not None):
        told += [", with ", v("drip_clips_per_vine"), " clips a vine"]
    told += [", ", v("drip_line_end_m"), " longer at each end, and "]
    yield (*told, v("drip_tubes_per_vine"), " drip tubes a vine.")


_SPARE_NAMES = {
    "training_stakes": "stakes",
    "line_posts": "line posts",
    "end_posts": "end posts",
    "brace_posts": "brace posts",
    "braces": "braces",
    "pads": "pads",
    "anchors": "anchors",
    "fruiting_wire_m": "fruiting wire",
    "foliage_wire_m": "foliage wire",
    "drip_wire_m": "drip wire",
    "tie_wire_m": "tie wire",
    "drip_line_m": "drip line",
    "stake_clips": "stake clips",
    "pair_clips": "pair clips",
    "drip_clips": "drip clips",
    "staples": "staples",
    "tensioners": "tensioners",
    "shelters": "shelters",
    "drip_tubes": "drip tubes",
}


def _spares(v):
    told: list = ["Spares beyond the count: "]
    for i, (item, name) in enumerate(_SPARE_NAMES.items()):
        told += [*((", ",) if i else ()), f"{name} ", v(f"spare.{item}")]
    yield (*told, ".")
