"""Where water comes from and what it can give, in plain language, and its values as typed and stepped."""

from __future__ import annotations

import re
from dataclasses import replace

from ..core.model import InputProblem
from ..core.model.water import SOURCE_LIMITS, Source, Water
from .quantities import Quantity, stepped, typed, value_of
from .specification import Paragraph, Value

CORNER = "the corner next to the highest row end"
PLACED = "its place on the plan"
_PLACES = {
    CORNER: "The outlines' corner nearest to where water enters the highest row: assumed",
    PLACED: "Where it was set down on the plan",
}
_GROUND = "the ground there"


def _of(name: str, field: str, kind: str, **more) -> Quantity:
    return Quantity(name, kind, *SOURCE_LIMITS[field], **more)


_QUANTITIES: dict[str, Quantity] = {
    "place_m": Quantity(
        "place of the source", "choice", choices=tuple(_PLACES), meanings=tuple(_PLACES.values())
    ),
    "level_m": _of("height of the source", "level_m", "length", step=0.5, step_ft=1, none=_GROUND),
    "curve": Quantity("what the source gives", "text"),
    "losses_m": _of("loss in filter and control head", "losses_m", "head"),
    "hours_a_day": _of("hours of watering a day", "hours_a_day", "hours"),
    "velocity_m_s": _of("greatest speed in pipes", "velocity_m_s", "velocity"),
    "pipes_mm": Quantity("sizes of pipe", "text"),
}
NAMES = {
    "pipes_mm" if key == "pipes_mm" else f"source.{key}": quantity.name
    for key, quantity in _QUANTITIES.items()
}
"""Plain names of the values."""

_HEAD = Quantity("what the source gives", "head", 0.0, 1000.0)
_FLOW = Quantity("what the source gives", "flow", 0.0, 100_000.0)
_SIZE = Quantity("sizes of pipe", "thickness", 5.0, 2000.0)
_CURVE_LIKE = {"m": "50 m at 0 m³/h, 40 m at 40 m³/h", "ft": "165 ft at 0 gpm, 130 ft at 90 gpm"}
_PIPES_LIKE = "40/35.2, 50/44, outer and inner width"


def curve_text(curve, unit: str = "m") -> str:
    """What a source gives as people read it: pairs of head and flow.

    Heads of a source are told as heights of water, in metres or feet, as pumps and wells are.

    Examples
    --------
    >>> curve_text(((0.0, 50.0), (20.0, 40.0)))
    '50 m at 0 m³/h, 40 m at 20 m³/h'
    >>> curve_text(((0.0, 50.0), (20.0, 40.0)), "ft")
    '164.04 ft at 0 gpm, 131.23 ft at 88.057 gpm'
    """
    head, flow, head_label, flow_label = _curve_units(unit)
    pairs = (f"{h / head:.5g} {head_label} at {q / flow:.5g} {flow_label}" for q, h in curve)
    return ", ".join(pairs)


def _curve_units(unit: str) -> tuple[float, float, str, str]:
    """Size of one unit of head and of flow, [m] and [m³/h], and what they are called."""
    head, flow = ("m", "m³/h") if unit == "m" else ("ft", "gpm")
    return typed(_HEAD, f"1 {head}"), typed(_FLOW, f"1 {flow}"), head, flow


_PAIR = re.compile(r"^(.+?)\s*(?:@|\bat\b)\s*(.+)$", re.IGNORECASE)
_TURNED = re.compile(r"^([^:]+):([^:]+)$")


def typed_curve(text: str, unit: str = "m") -> tuple[tuple[float, float], ...]:
    """A source's curve from pairs such as "50 m at 0 m³/h, 4 bar at 20", or "0:50, 20:40" (flow first).

    A single pair holds for all smaller flows too. Bare heads are in metres or feet of water, bare
    flows in m³/h or gallons a minute. Semicolons may part the pairs where commas stand in numbers.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.

    Examples
    --------
    >>> typed_curve("0:50, 20:40"), typed_curve("35 at 12")
    (((0.0, 50.0), (20.0, 40.0)), ((0.0, 35.0), (12.0, 35.0)))
    """
    like = _CURVE_LIKE["m" if unit == "m" else "ft"]
    _, _, head_label, flow_label = _curve_units(unit)
    found = []
    for part in _parts(text):
        pair = _PAIR.match(part)
        turned = None if pair else _TURNED.match(part)
        if not pair and not turned:
            raise InputProblem(f"What the source gives: {part!r} is no pair: write it like {like}.")
        head, flow = (pair[1], pair[2]) if pair else (turned[2], turned[1])
        found.append(
            (
                typed(_FLOW, _with_label(flow, flow_label)),
                typed(_HEAD, _with_label(head, head_label)),
            )
        )
    if not found:
        raise InputProblem(f"What the source gives is missing: write it like {like}.")
    found.sort()
    if len(found) == 1 and found[0][0] > 0:
        found.insert(0, (0.0, found[0][1]))
    try:
        return Source(curve=tuple(found)).curve
    except ValueError as problem:
        wrong = str(problem)
    if "rise with" in wrong:
        raise InputProblem(
            "What the source gives: the head must not rise where more water is taken; check which figure "
            "is the flow."
        )
    if "flows must rise" in wrong:
        raise InputProblem("What the source gives: one flow has two heads: leave one of them out.")
    raise InputProblem(f"What the source gives: a flow above 0 is needed, like {like}.")


def _parts(text: str) -> list[str]:
    mark = ";" if ";" in text else r",(?!\d)|,(?=\d+[^,:@]*(?::|@|\bat\b))"
    return [part.strip() for part in re.split(mark, text) if part.strip()]


def _with_label(figure: str, label: str) -> str:
    bare = figure.strip()
    return f"{bare} {label}" if re.fullmatch(r"[+-]?[\d.,]+", bare.replace("−", "-")) else bare


def pipes_text(pipes, unit: str = "m") -> str:
    """Pipes as outer and inner diameter.

    Examples
    --------
    >>> pipes_text(((32.0, 28.0), (40.0, 35.2)))
    '32/28, 40/35.2 mm'
    """
    size, label = (1.0, "mm") if unit == "m" else (25.4, "in")
    return ", ".join(f"{o / size:.4g}/{i / size:.4g}" for o, i in pipes) + f" {label}"


def typed_pipes(text: str, unit: str = "m") -> tuple[tuple[float, float], ...]:
    """Pipes from pairs of outer and inner diameter, such as "40/35.2, 50/44 mm".

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.

    Examples
    --------
    >>> typed_pipes("50/44, 40/35.2")
    ((40.0, 35.2), (50.0, 44.0))
    """
    last = re.search(r"(mm|in|cm)\s*$", text.strip(), re.IGNORECASE)
    label = last[1] if last else "mm" if unit == "m" else "in"
    bare = text.strip()[: last.start()] if last else text
    found = []
    for part in re.split(r";|,\s+|,(?=\d+\.?\d*/)", bare):
        if not part.strip():
            continue
        outer, slash, inner = part.partition("/")
        if not slash:
            raise InputProblem(
                f"Sizes of pipe: {part.strip()!r} is no pair: write it like {_PIPES_LIKE}."
            )
        found.append(
            (typed(_SIZE, _with_label(outer, label)), typed(_SIZE, _with_label(inner, label)))
        )
    if not found:
        raise InputProblem(f"Sizes of pipe are missing: write them like {_PIPES_LIKE}.")
    wrong = [pair for pair in found if not pair[1] < pair[0]]
    if wrong:
        raise InputProblem(
            f"Sizes of pipe: {pipes_text(wrong[:1], unit)} is as wide inside as outside: write the outer "
            "width first."
        )
    return tuple(sorted(set(found), key=lambda pair: pair[::-1]))


def _bare(key: str) -> str:
    return key.removeprefix("source.")


def typed_source(water: Water, key: str, text: str, unit: str = "m") -> Water:
    """The water with one value of its source, or its pipes, as typed or chosen.

    What the source gives is taken as known once it was typed, be it the same that was assumed.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    name, source = _bare(key), water.source
    if name == "pipes_mm":
        return replace(water, pipes_mm=typed_pipes(text, unit))
    if name == "curve":
        return replace(
            water, source=replace(source, curve=typed_curve(text, unit), is_assumed=False)
        )
    if name == "place_m":
        wanted = CORNER if text.strip().lower() == "corner" else text
        chosen = typed(_QUANTITIES[name], wanted, unit)
        if chosen == PLACED and source.place_m is None:
            raise InputProblem("The source has no place of its own yet: set it down on the plan.")
        place = None if chosen == CORNER else source.place_m
        return replace(water, source=replace(source, place_m=place))
    value = typed(_QUANTITIES[name], text, unit)
    return replace(water, source=replace(source, **{name: value}))


def stepped_source(
    water: Water, key: str, steps: float, unit: str = "m", ground_m: float = 0.0
) -> Water:
    """The water with one value of its source moved by so many steps, held inside its limits.

    `ground_m` is where a level that was not said begins. [m]
    """
    name, source = _bare(key), water.source
    quantity = _QUANTITIES[name]
    if quantity.kind == "text":
        return water
    if name == "place_m":
        return replace(water, source=replace(source, place_m=None)) if source.place_m else water
    value = getattr(source, name)
    if name == "level_m" and value is None:
        value = ground_m
    moved = stepped(quantity, value, steps, unit)
    return replace(water, source=replace(source, **{name: moved}))


def source_paragraph(water: Water, unit: str = "m") -> Paragraph:
    """Where water comes from, what it gives, and the pipes it comes through.

    Examples
    --------
    >>> from .specification import as_text
    >>> as_text(source_paragraph(Water())).splitlines()[1]
    'Nobody said yet what it gives; assumed is a head of 50 m at 0 m³/h, 40 m at 40 m³/h.'
    """
    source = water.source

    def v(name: str, value=None):
        quantity = _QUANTITIES[name]
        key = name if name == "pipes_mm" else f"source.{name}"
        if name == "place_m" and source.place_m is None:
            quantity = replace(quantity, choices=(CORNER,), meanings=(_PLACES[CORNER],))
        given = getattr(source, name, None) if value is None else value
        return value_of(key, quantity, (("", given),), unit)

    place = v("place_m", CORNER if source.place_m is None else PLACED)
    curve: Value = v("curve", curve_text(source.curve, unit))
    gives = ("It gives a head of ", curve, ".")
    if source.is_assumed:
        gives = ("Nobody said yet what it gives; assumed is a head of ", curve, ".")
    return (
        ("Water comes from ", place, "; its heads count from ", v("level_m"), "."),
        gives,
        (
            v("losses_m"),
            " is lost in filter, meter and control head. Watering may take ",
            v("hours_a_day"),
            " a day.",
        ),
        (
            "Water in pipes should run no faster than ",
            v("velocity_m_s"),
            "; pipes are ",
            v("pipes_mm", pipes_text(water.pipes_mm, unit)),
            ", outside and inside.",
        ),
    )
