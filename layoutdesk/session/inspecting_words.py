"""How many vines are inspected while planting, in plain language."""

from __future__ import annotations

from ..core.model.planting import INSPECTING_LIMITS, Inspecting
from .planting_values import in_steps, planting_value, usual_words
from .quantities import Quantity
from .specification import Paragraph


def _of(name: str, field: str, kind: str, **more) -> Quantity:
    return Quantity(name, kind, *INSPECTING_LIMITS[field], **more)


QUANTITIES: dict[str, Quantity] = {
    "inspecting.tolerated_pct": _of("tolerated share of faulty vines", "tolerated_pct", "share", decimals=2, **in_steps(0.5)),
    "inspecting.confidence_pct": _of("confidence", "confidence_pct", "share", decimals=2),
    "inspecting.accept": _of("faulty vines accepted in a sample", "accept", "whole"),
    "inspecting.seed": _of("seed vines are drawn with", "seed", "whole"),
    "inspecting.inspectors": _of("inspectors", "inspectors", "whole"),
}  # fmt: skip
_WORDS = {
    "tolerated_pct": "the tolerated share",
    "confidence_pct": "the confidence",
    "accept": "the number accepted",
}


def inspecting_paragraph_of(inspecting: Inspecting, unit: str = "m") -> Paragraph:
    """How many vines of a lot are looked at, and how many faulty ones are too many.

    Examples
    --------
    >>> from .specification import as_text
    >>> print(as_text(inspecting_paragraph_of(Inspecting())).splitlines()[0])
    A lot in which 5 % of the vines or more are faulty is to be found out with a confidence of 95 %.
    """

    def v(field: str):
        key, said = f"inspecting.{field}", getattr(inspecting, field)
        usual = getattr(Inspecting(), field) if field in _WORDS else None
        return planting_value(key, QUANTITIES[key], said, unit, usual)

    one = inspecting.accept == 1
    return (
        (
            *("A lot in which ", v("tolerated_pct"), " of the vines or more are faulty is to be found "),
            *("out with a confidence of ", v("confidence_pct"), "."),
        ),
        (
            *("In the sample of a lot ", v("accept"), f" faulty vine{' is' if one else 's are'} accepted; "),
            "with more, all of the lot is gone over.",
        ),
        (
            *("Vines are drawn with the seed ", v("seed"), ", so that anybody draws the same ones; "),
            *("they are shared out to ", v("inspectors"), _sheets(inspecting.inspectors)),
        ),
        (
            "The more vines are looked at, the more surely a bad lot is found out; what a buyer or a nursery "
            "agreed on goes before." + usual_words(inspecting, Inspecting(), _WORDS),
        ),
    )  # fmt: skip


def _sheets(inspectors: int) -> str:
    return (
        " inspector."
        if inspectors == 1
        else " inspectors, each with a sheet and rows of their own."
    )
