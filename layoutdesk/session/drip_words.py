"""What a block's drip system is, as a paragraph of plain language, and its values as typed and stepped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..core.model import InputProblem
from ..core.model.water import DRIP_LIMITS, Drip
from ..core.water.drips import DRIP_TUBES_MM
from .quantities import Quantity, stepped, typed, value_of
from .specification import Paragraph, Sentence

AT_VINES, IN_LINE = "at the vines", "in the drip line"
_WAYS = {
    AT_VINES: "Emitters are set on the line where a vine stands",
    IN_LINE: "Emitters come in the line, at a spacing of their own",
}
_USUAL_INLINE_M = {"m": 0.5, "ft": 0.4572}
"""Where emitters come in the line and nothing was said: 0.5 m, or 18 in; common practice."""
_KINDS = {
    # kind: (exponent, meaning): Keller and Bliesner, Sprinkle and trickle irrigation, 1990 (from memory)
    "pressure-compensating": (0.05, "Nearly the same flow at any pressure in its range"),
    "partly compensating": (0.3, "Flow rises a little with pressure"),
    "turbulent": (0.5, "Flow rises with the root of pressure"),
    "laminar": (1.0, "Flow rises as pressure does"),
}
_KIND_UP_TO = ((0.1, "pressure-compensating"), (0.4, "partly compensating"), (0.7, "turbulent"))
_LAWS = {
    "darcy-weisbach": ("Darcy and Weisbach", "Holds for smooth tube of any width"),
    "hazen-williams": ("Hazen and Williams", "Says too little in narrow tube"),
}
_FEEDS = {
    "higher end": ("their higher ends", "Where the ground is higher on the whole: water runs down"),
    "start end": ("their start ends", "Where vines are counted from"),
    "far end": ("their far ends", "Where the last vines stand"),
    "middle": ("their middle", "Water runs both ways: half as far"),
    "line": ("a line across the rows", "Where the drawn submain crosses them, or next to it"),
}
FEED_WORDS = {code: words for code, (words, _) in _FEEDS.items()}
AS_FEW = "as few as source and slope allow"
_LARGEST_CV_UNSAID = 0.5
"""A bare figure up to this is a share of 1, as makers print it; more is per cent."""


def _of(name: str, field: str, kind: str, **more) -> Quantity:
    return Quantity(name, kind, *DRIP_LIMITS[field], **more)


_QUANTITIES: dict[str, Quantity] = {
    "emitter_way": Quantity(
        "way emitters are set", "choice", choices=tuple(_WAYS), meanings=tuple(_WAYS.values())
    ),
    "emitters_per_vine": _of("emitters a vine", "emitters_per_vine", "whole"),
    "inline_m": _of("spacing of emitters", "inline_m", "length", step=0.05, step_ft=0.25, none=AT_VINES),
    "emitter_l_h": _of("flow of an emitter", "emitter_l_h", "drop_flow", decimals=2),
    "emitter_head_m": _of("pressure an emitter is told for", "emitter_head_m", "head"),
    "emitter_kind": Quantity(
        "kind of emitter",
        "choice",
        choices=tuple(_KINDS),
        meanings=tuple(meaning for _, meaning in _KINDS.values()),
    ),
    "exponent": _of("exponent of the emitter", "exponent", "number"),
    "cv": Quantity(
        "variation of emitters", "share", *(100 * v for v in DRIP_LIMITS["cv"]), step=0.5, step_ft=0.5
    ),
    "least_head_m": _of("least working pressure", "least_head_m", "head"),
    "greatest_head_m": _of("greatest working pressure", "greatest_head_m", "head"),
    "barb_loss": _of("loss past an emitter", "barb_loss", "number"),
    "tube_mm": _of("inner width of the drip line", "tube_mm", "thickness", step=0.1, step_ft=0.005),
    "law": Quantity(
        "law of friction",
        "choice",
        choices=tuple(words for words, _ in _LAWS.values()),
        meanings=tuple(meaning for _, meaning in _LAWS.values()),
    ),
    "fed": Quantity(
        "place rows are fed at",
        "choice",
        choices=tuple(words for words, _ in _FEEDS.values()),
        meanings=tuple(meaning for _, meaning in _FEEDS.values()),
    ),
    "bridge_m": _of("gap a drip line bridges", "bridge_m", "length", step=1, step_ft=5),
    "head_m": _of("pressure behind a valve", "head_m", "head"),
    "variation_pct": _of("permitted variation of flow", "variation_pct", "share"),
    "sets": Quantity("number of sets", "whole", 1, 200, none=AS_FEW),
}  # fmt: skip

NAMES = {key: quantity.name for key, quantity in _QUANTITIES.items()}
"""Plain names of the values."""


def kind_of_exponent(exponent: float) -> str:
    """What an emitter of an exponent is called.

    Examples
    --------
    >>> kind_of_exponent(0.05), kind_of_exponent(0.46)
    ('pressure-compensating', 'turbulent')
    """
    return next((kind for up_to, kind in _KIND_UP_TO if exponent <= up_to), "laminar")


def _shown_value(drip: Drip, key: str):
    """A value as the paragraph has it: choices in words, shares in per cent."""
    if key == "emitter_way":
        return AT_VINES if drip.inline_m is None else IN_LINE
    if key == "emitter_kind":
        return kind_of_exponent(drip.exponent)
    if key == "law":
        return _LAWS[drip.law][0]
    if key == "fed":
        return FEED_WORDS[drip.fed]
    if key == "cv":
        return round(100 * drip.cv, 9)
    return getattr(drip, key)


def _with(drip: Drip, key: str, value, unit: str) -> Drip:
    """The drip system with one value as the paragraph has it."""
    if key == "emitter_way":
        usual = _USUAL_INLINE_M["m" if unit == "m" else "ft"]
        changes = {"inline_m": None if value == AT_VINES else drip.inline_m or usual}
    elif key == "emitter_kind":
        changes = {"exponent": _KINDS[value][0]}
    elif key == "law":
        changes = {"law": next(law for law, (words, _) in _LAWS.items() if words == value)}
    elif key == "fed":
        changes = {"fed": next(code for code, words in FEED_WORDS.items() if words == value)}
    elif key == "cv":
        changes = {"cv": round(value / 100, 12)}
    else:
        changes = {key: value}
    if changes.get("fed") == "line" and len(drip.line_m) < 2:
        raise InputProblem(
            "There is no line yet that rows could be fed at: draw the submain first."
        )
    try:
        return replace(drip, **changes)
    except ValueError:
        raise InputProblem(
            "The least working pressure must lie below the greatest: change the other one first."
        ) from None


def typed_drip(drip: Drip, key: str, text: str, unit: str = "m") -> Drip:
    """A block's drip system with one value as typed or chosen.

    A drip line may be typed by what it is sold as: "20 mm tube" is one of 17.6 mm inside. Emitters'
    variation is read as per cent, or as a share of 1 where it is below half and has no sign behind it.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.

    Examples
    --------
    >>> typed_drip(Drip(), "tube_mm", "20 mm tube").tube_mm, typed_drip(Drip(), "cv", "0.03").cv
    (17.6, 0.03)
    """
    quantity, wanted = _QUANTITIES[key], text.strip()
    if key == "tube_mm":
        inside = (
            tube_sold_as(wanted.lower().removesuffix("tube")) if "tube" in wanted.lower() else None
        )
        if inside is not None:
            return replace(drip, tube_mm=inside)
    if key == "fed":
        wanted = FEED_WORDS.get(wanted.lower(), wanted)
    if key == "law":
        wanted = _LAWS.get(wanted.lower(), (wanted,))[0]
    if key == "cv" and "%" not in wanted:
        share = typed(replace(quantity, kind="number", low=0.0), wanted)
        if share <= _LARGEST_CV_UNSAID:
            return _with(drip, key, 100 * share, unit)
    return _with(drip, key, typed(quantity, wanted, unit), unit)


def tube_sold_as(text: str) -> float | None:
    """Inner diameter of the drip tube that is sold by a size, None where none is. [mm]

    Examples
    --------
    >>> tube_sold_as("16 mm"), tube_sold_as("18")
    (13.6, None)
    """
    try:
        size = typed(Quantity("drip line", "thickness", 0.0, 1000.0), text)
    except InputProblem:
        return None
    return next((inner for outer, inner in DRIP_TUBES_MM if abs(outer - size) < 0.01), None)


def stepped_drip(drip: Drip, key: str, steps: float, unit: str = "m") -> Drip:
    """A block's drip system with one value moved by so many of its steps, held inside its limits."""
    quantity, value = _QUANTITIES[key], _shown_value(drip, key)
    if key == "fed" and len(drip.line_m) < 2:
        quantity = replace(quantity, choices=quantity.choices[:-1])
    if key == "sets" and value is None:
        value = 0 if steps > 0 else 1
    if key == "inline_m" and value is None:
        value = _USUAL_INLINE_M["m" if unit == "m" else "ft"]
    if key == "least_head_m":
        quantity = replace(quantity, high=min(quantity.high, drip.greatest_head_m - 0.1))
    if key == "greatest_head_m":
        quantity = replace(quantity, low=max(quantity.low, drip.least_head_m + 0.1))
    return _with(drip, key, stepped(quantity, value, steps, unit), unit)


def drip_paragraph(drips: tuple[tuple[str, Drip], ...], unit: str = "m") -> Paragraph:
    """The drip systems of some blocks as one paragraph; where they differ a value tells what each has.

    Parameters
    ----------
    drips : tuple of (block's name, Drip)
    unit : str
        Of lengths, which others go with.

    Examples
    --------
    >>> from .specification import as_text
    >>> as_text(drip_paragraph((("B1", Drip()),))).splitlines()[0]
    'Every vine has 1 emitter of 2.00 L/h at 0.98 bar.'
    """

    def v(key: str):
        quantity = _QUANTITIES[key]
        if key == "fed" and not all(len(d.line_m) > 1 for _, d in drips):
            quantity = replace(
                quantity, choices=quantity.choices[:-1], meanings=quantity.meanings[:-1]
            )
        return value_of(key, quantity, tuple((n, _shown_value(d, key)) for n, d in drips), unit)

    def all_have(field: str, *values) -> bool:
        return all(getattr(d, field) in values for _, d in drips)

    return (
        _emitters(v, all_have),
        (
            "They sit ",
            v("emitter_way"),
            ", are ",
            v("emitter_kind"),
            " (x ",
            v("exponent"),
            "), differ by ",
            v("cv"),
            " as they are made, and work from ",
            v("least_head_m"),
            " to ",
            v("greatest_head_m"),
            "; water running past one loses ",
            v("barb_loss"),
            " velocity heads.",
        ),
        (
            "The drip line is ",
            v("tube_mm"),
            " wide inside and lets water into the rows at ",
            v("fed"),
            ". Parts of a row no more than ",
            v("bridge_m"),
            " apart are one line.",
        ),
        (
            "Behind each valve ",
            v("head_m"),
            " is held; flows in a set may differ by ",
            v("variation_pct"),
            ". Sets that the block is watered in: ",
            v("sets"),
            ".",
        ),
        ("Friction is by ", v("law"), "."),
    )


def _emitters(v: Callable, all_have: Callable) -> Sentence:
    flow: Sentence = (" of ", v("emitter_l_h"), " at ", v("emitter_head_m"))
    if all_have("inline_m", None):
        noun = " emitter" if all_have("emitters_per_vine", 1) else " emitters"
        return ("Every vine has ", v("emitters_per_vine"), noun, *flow, ".")
    if not any(text == AT_VINES for _, text in v("emitter_way").each):
        return ("Emitters", *flow, " are ", v("inline_m"), " apart.")
    return (
        *("Emitters", *flow, ": at vines ", v("emitters_per_vine")),
        *(" each, in the line one every ", v("inline_m"), "."),
    )
