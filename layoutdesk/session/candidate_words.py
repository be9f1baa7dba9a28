"""What candidates are called, and what they change, in words."""

from __future__ import annotations

from ..core.model.study import Candidate
from .specification import shown_bearing, shown_exactly
from .units import unit_label


def candidate_title(candidate: Candidate, blocks) -> str:
    """What a candidate is called: its name, else its bearing, or those of the blocks.

    Examples
    --------
    >>> candidate_title(Candidate(96.0), ()), candidate_title(Candidate(96.0, name="low"), ())
    ('096.0°', 'low')
    """
    if candidate.name:
        return candidate.name
    if candidate.bearing_deg is not None:
        return shown_bearing(candidate.bearing_deg)
    if any(b.guide is not None for b in blocks):
        return "Curved rows"
    bearings = {b.rules.bearing_deg for b in blocks}
    return shown_bearing(*bearings) if len(bearings) == 1 else "Several bearings"


def candidate_about(candidate: Candidate, unit: str = "m") -> str:
    """What a candidate changes beside the bearing.

    Examples
    --------
    >>> candidate_about(Candidate(96.0, row_spacing_m=2.2, vine_spacing_m=1.2))
    '2.20 × 1.20 m'
    """
    if not candidate.changes:
        return "as it stands"
    words = {
        "row_spacing_m": "{} rows",
        "vine_spacing_m": "{} vines",
        "headland_m": "{} headland",
        "side_margin_m": "{} sides",
    }
    said = []
    if candidate.name and candidate.bearing_deg is not None:
        said.append(shown_bearing(candidate.bearing_deg))
    both = candidate.row_spacing_m is not None and candidate.vine_spacing_m is not None
    if both:
        said.append(
            f"{_figures(candidate.row_spacing_m, unit)} × "
            f"{_figures(candidate.vine_spacing_m, unit)} {unit_label(unit)}"
        )
    for rule, form in words.items():
        value = getattr(candidate, rule)
        if value is not None and not (both and rule in _SPACINGS):
            decimals = 1 if unit != "m" or rule in ("headland_m", "side_margin_m") else 2
            said.append(form.format(shown_exactly(value, unit, decimals)))
    if candidate.first_row_m == "best":
        said.append("first row best")
    elif candidate.first_row_m is not None:
        said.append(f"first row at {shown_exactly(candidate.first_row_m, unit)}")
    return ", ".join(said)


_SPACINGS = ("row_spacing_m", "vine_spacing_m")


def candidate_names(candidates, blocks, unit: str = "m") -> tuple[str, ...]:
    """What each candidate is called where it stands alone, as in a file: no two alike."""
    names: list[str] = []
    for candidate in candidates:
        title, about = candidate_title(candidate, blocks), candidate_about(candidate, unit)
        name = f"{title}, {about}" if about and not candidate.name else title
        again = 2
        while name in names:
            name = f"{title} ({again})"
            again += 1
        names.append(name)
    return tuple(names)


def _figures(metres: float, unit: str) -> str:
    """A length without its unit."""
    return shown_exactly(metres, unit, 2 if unit == "m" else 1).removesuffix(f" {unit_label(unit)}")
