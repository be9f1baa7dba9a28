"""How vines are set, and when plants must be ordered, in plain language."""

from __future__ import annotations

from dataclasses import replace

from ..core.model import InputProblem
from ..core.model.planting import SETTING_LIMITS, Setting
from .planting_values import in_steps, planting_value, typed_value, usual_words
from .quantities import Quantity
from .specification import Paragraph


def _of(name: str, field: str, kind: str, **more) -> Quantity:
    return Quantity(name, kind, *SETTING_LIMITS[field], **more)


QUANTITIES: dict[str, Quantity] = {
    "setting.hole_depth_m": _of("depth of a hole", "hole_depth_m", "small_length", step=5, step_ft=1),
    "setting.union_low_m": _of("lower end of the graft union's band", "union_low_m", "small_length"),
    "setting.union_high_m": _of("upper end of the graft union's band", "union_high_m", "small_length"),
    "setting.spares_pct": _of("spare plants", "spares_pct", "share", **in_steps(0.5)),
    "setting.potted_weeks": _of("weeks from grafting to a potted plant", "potted_weeks", "number", **in_steps(1)),
    "setting.bare_root_months": _of(
        "months from the order to a dormant plant", "bare_root_months", "number", **in_steps(1)
    ),
}  # fmt: skip
_WORDS = {
    "hole_depth_m": "the hole's depth",
    "union_low_m": "the graft union's band",
    "union_high_m": "the graft union's band",
    "spares_pct": "spares",
    "potted_weeks": "weeks of potted plants",
    "bare_root_months": "months of dormant plants",
}
_RANGES = {
    "m": "Usual are holes of 30 to 45 cm for potted plants (a nursery's guide) and a union three to four fingers, "
    "or 5 to 10 cm, elsewhere 15 cm, above the soil; 1 to 10 % of spares; 14 to 16 weeks, and 14 to 18 months (extension "
    "services).",
    "ft": "Usual are holes of 12 to 18 in for potted plants (a nursery's guide) and a union three to four fingers, "
    "or 2 to 4 in, elsewhere 6 in, above the soil; 1 to 10 % of spares; 14 to 16 weeks, and 14 to 18 months (extension "
    "services).",
}
"""What is usual, for whoever changes it."""


def setting_paragraph_of(setting: Setting, unit: str = "m") -> Paragraph:
    """How vines are set.

    Examples
    --------
    >>> from .specification import as_text
    >>> as_text(setting_paragraph_of(Setting())).splitlines()[0]
    'Holes are 40 cm deep. The graft union stays 5.5 cm to 8 cm above the soil when it has settled.'
    """

    def v(field: str):
        key, said = f"setting.{field}", getattr(setting, field)
        return planting_value(key, QUANTITIES[key], said, unit, getattr(Setting(), field))

    return (
        (
            *("Holes are ", v("hole_depth_m"), " deep. The graft union stays ", v("union_low_m")),
            *(" to ", v("union_high_m"), " above the soil when it has settled."),
        ),
        ("Of every plant ", v("spares_pct"), " more are ordered than there are vines."),
        (
            *("Potted plants are ordered ", v("potted_weeks"), " weeks before planting begins, "),
            *("dormant plants ", v("bare_root_months"), " months before."),
        ),
        (_RANGES["m" if unit == "m" else "ft"] + usual_words(setting, Setting(), _WORDS),),
    )


def with_setting(setting: Setting, field: str, value) -> Setting:
    """How vines are set, with one value changed.

    Raises
    ------
    InputProblem
        Where the band of the graft union would have no height.
    """
    try:
        return replace(setting, **{field: value})
    except ValueError:
        raise InputProblem(
            "Graft union: the lower end of its band must lie below the upper one: change the other one first."
        ) from None


def stepped_limits(setting: Setting, field: str, quantity: Quantity) -> Quantity:
    """The limits that a value is stepped within: the ends of the band do not pass each other."""
    if field == "union_low_m":
        return replace(quantity, high=min(quantity.high, setting.union_high_m - 0.001))
    if field == "union_high_m":
        return replace(quantity, low=max(quantity.low, setting.union_low_m + 0.001))
    return quantity


def with_union_band(setting: Setting, text: str, unit: str = "m") -> Setting:
    """Both ends of the graft union's band as typed: "5.5 to 8 cm", "5.5cm..8cm", "2in to 3in".

    Raises
    ------
    InputProblem

    Examples
    --------
    >>> found = with_union_band(Setting(), "5 to 10 cm")
    >>> found.union_low_m, found.union_high_m
    (0.05, 0.1)
    """
    import re

    parts = re.split(r"\s+to\s+|\s*\.\.+\s*|\s*[–…]\s*|(?<=[\dm])\s*-\s*(?=\d)", text.strip())
    if len(parts) != 2:
        raise InputProblem(f"Graft union: {text.strip()!r} is no band: write it like 5.5 to 8 cm.")
    unit_behind = re.search(r"[^\d.,\s].*$", parts[1])
    if unit_behind and re.fullmatch(r"[\d.,]+", parts[0]):
        parts[0] += f" {unit_behind[0]}"
    keys = ("setting.union_low_m", "setting.union_high_m")
    low, high = (
        typed_value(QUANTITIES[k], part, unit) for k, part in zip(keys, parts, strict=True)
    )
    if low >= high:
        raise InputProblem(
            f"Graft union: {text.strip()!r} begins above its end: write the lower one first."
        )
    return replace(setting, union_low_m=low, union_high_m=high)
