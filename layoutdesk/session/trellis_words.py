"""The trellis of a block, or of several, as a paragraph of plain language, and its values as changed.

Keys of values are those of `trellis_values`.
"""

from __future__ import annotations

from dataclasses import replace

from ..core.model import InputProblem, Project
from ..core.model.materials import Materials
from .quantities import stepped, typed, value_of
from .specification import Paragraph, Sentence
from .trellis_values import (
    CURRENCY_MOST,
    ENDS,
    TRELLIS_NAMES,
    WIRES,
    begin_of,
    changed,
    quantity_of,
    value_in,
    with_value,
)

__all__ = ["TRELLIS_NAMES", "trellis_paragraph", "with_stepped_trellis", "with_typed_trellis"]


def _with_materials(project: Project, materials: Materials) -> Project:
    return replace(project, materials=materials)


def _with_site_value(project: Project, key: str, value) -> Project:
    materials = project.materials or Materials()
    if key == "currency":
        said = " ".join((value or "").split())
        if len(said) > CURRENCY_MOST:
            raise InputProblem(
                f"Currency: {CURRENCY_MOST} letters are the most: write it like EUR or AUD."
            )
        return _with_materials(project, replace(materials, currency=said))
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
    value = typed(quantity_of(key), ENDS.get(text, text) if key == "ends" else text, unit)
    if _is_of_site(key):
        return _with_site_value(project, key, value)
    materials = project.materials or Materials()
    for name in names:
        trellis = changed(materials.trellis_of(name), key, value, unit)
        materials = materials.with_trellis(name, trellis)
    return _with_materials(project, materials)


def with_stepped_trellis(
    project: Project, names: tuple[str, ...], key: str, steps: float, unit: str = "m"
) -> Project:
    """The project with one value moved by so many of its steps, in each block from what it has there.

    A step that the trellis does not allow leaves a block as it is.
    """
    quantity, materials = quantity_of(key), project.materials or Materials()
    if _is_of_site(key):
        value = stepped(quantity, _site_value(materials, key), steps, unit)
        return _with_site_value(project, key, value)
    if key == "foliage.add":
        return project
    for name in names:
        trellis = materials.trellis_of(name)
        value = value_in(trellis, key)
        begin = begin_of(trellis, key) if value is None else value
        moved = stepped(quantity, begin, steps, unit)
        try:
            materials = materials.with_trellis(name, with_value(trellis, key, moved))
        except ValueError:
            continue
    return _with_materials(project, materials)


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
            return value_of(key, quantity_of(key), (("", _site_value(materials, key)),), unit)
        each = tuple((name, value_in(t, key)) for name, t in trellises)
        return value_of(key, quantity_of(key), each, unit)

    def any_has(test) -> bool:
        return any(test(t) for _, t in trellises)

    return (
        _at_vines(v, any_has),
        _posts(v),
        _ends(v, any_has),
        _foliage(v, trellises),
        *_wires(v, any_has),
        *_fastened(v, any_has),
        *_drip(v, any_has),
        *_spares(v),
        (
            "Wires become ",
            v("conditions.colder_k"),
            " colder and ",
            v("conditions.warmer_k"),
            " warmer than when they are drawn; the fruiting wire carries ",
            v("conditions.crop_kg_m"),
            ". Currency of prices: ",
            v("currency"),
            ".",
        ),
    )


def _at_vines(v, any_has) -> Sentence:
    told: list = ["Each vine has "]
    if any_has(lambda t: t.stake_length_m):
        told += ["a training stake ", v("stake_length_m"), " long, ", v("stake_driven_m")]
        told.append(" of it in the ground, and ")
    else:
        told += [v("stake_length_m"), ", but "]
    return (*told, *_several(v("shelters_per_vine"), "shelter"), ".")


def _several(value, one: str) -> tuple:
    """A number and what it counts."""
    return value, f" {one}" if value.text == "1" else f" {one}s"


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
            told += [", and meets it at ", v("tie_height_m")]
    return (*told, ".")


def _foliage(v, trellises) -> Sentence:
    count = max(len(t.foliage_wires) for _, t in trellises)
    told: list = ["The fruiting wire hangs at ", v("fruiting_wire_height_m")]
    told.append(". Foliage wires: " if count else ". There are no foliage wires, and ")
    for i in range(count):
        told += [v(f"foliage.{i}.height_m"), ", ", v(f"foliage.{i}.paired"), "; "]
    return (*told, v("foliage.add"), ".")


def _wires(v, any_has):
    shown_wires = ["fruiting_wire"]
    if any_has(lambda t: t.foliage_wires):
        shown_wires.append("foliage_wire")
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


def _fastened(v, any_has):
    told: list = ["Wires are wrapped with ", v("wrap_m"), " more at each end, ties with "]
    told += [v("tie_wrap_m"), "; each wire has ", *_several(v("tensioners_per_wire"), "tensioner")]
    yield (*told, " and at most ", *_several(v("joins_allowed"), "join"), ".")
    told = ["Staples on each post: ", v("staples_per_post")]
    if any_has(lambda t: t.stake_length_m):
        told += ["; clips from each stake to the fruiting wire: ", v("stake_clips_per_vine")]
    if any_has(lambda t: any(f.paired for f in t.foliage_wires)):
        told += ["; clips of a pair from post to post: ", v("pair_clips_per_bay")]
    yield (*told, ".")


def _drip(v, any_has):
    hung = any_has(lambda t: t.drip_wire_height_m is not None)
    told: list = ["There is ", v("drip_line"), " in the rows"]
    if any_has(lambda t: t.drip_line):
        told += [", ", v("drip_line_end_m"), " longer at each end"]
    # A wire may be hung, and is counted, before there is a line to hang on it.
    told += ["; the drip wire hangs at " if hung else "; for it there is "]
    told.append(v("drip_wire_height_m"))
    if hung:
        told += [", with ", *_several(v("drip_clips_per_vine"), "clip"), " a vine"]
    yield (*told, ". Each vine has ", *_several(v("drip_tubes_per_vine"), "drip tube"), ".")


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
