"""Words, meanings and steps of the values a paragraph of rules holds."""

from __future__ import annotations

NAMES = {
    "bearing_deg": "bearing",
    "row_spacing_m": "row spacing",
    "vine_spacing_m": "vine spacing",
    "headland_m": "headland",
    "side_margin_m": "side margin",
    "side_angle_deg": "row end angle",
    "first_row_m": "first row",
    "first_vine_m": "first vine",
    "last_vine_m": "last vine",
    "line_post_every": "line posts",
    "anchor_m": "anchors",
    "min_row_m": "least row length",
    "alley_every_m": "alley interval",
    "alley_width_m": "alley width",
    "leftover": "leftover",
    "stretch_max_pct": "stretch",
    "lattice": "lattice",
    "number_from": "numbering side",
    "first_number": "first number",
    "start_corner": "starting corner",
    "block_name": "block name",
    "common": "shared rules",
}
"""Plain names of the values, as undo and the screen reader say them."""

NONE_WORDS = {
    "line_post_every": "no line posts",
    "anchor_m": "no anchors",
    "alley_every_m": "no alleys",
    "min_row_m": "no row",
    "first_row_m": "at the edge of",
}
"""What a value of 0 is called, where it is not called 0."""

BEST_WORDS = "where most vines fit"

_STEPS = {
    "bearing_deg": 0.5,
    "side_angle_deg": 1,
    "line_post_every": 1,
    "stretch_max_pct": 0.5,
    "first_number": 1,
}
_STEPS_M = {
    "row_spacing_m": 0.05,
    "vine_spacing_m": 0.05,
    "headland_m": 0.5,
    "side_margin_m": 0.25,
    "first_row_m": 0.05,
    "first_vine_m": 0.05,
    "last_vine_m": 0.05,
    "anchor_m": 0.1,
    "min_row_m": 1.0,
    "alley_every_m": 5.0,
    "alley_width_m": 0.5,
    "clearance": 0.5,
}
_STEPS_FT = {
    "headland_m": 1.0,
    "side_margin_m": 1.0,
    "anchor_m": 0.5,
    "min_row_m": 5.0,
    "alley_every_m": 10.0,
    "alley_width_m": 1.0,
    "clearance": 1.0,
}
"""Others step by a quarter of a foot. [ft]"""

_CHOICE_WORDS = {
    ("leftover", "far end"): "the far end",
    ("common", "own"): "its own",
    ("common", "shared"): "shared",
}
MEANINGS = {
    "leftover": {
        "far end": "the first vine as the rule says, the gap at the far end",
        "both ends": "half of the gap before the first vine, half after the last",
        "stretch": "vines a little wider or closer, so that both ends come out even",
        "across": "vines in straight lines across all rows; the gap falls as it may",
    },
    "lattice": {
        "square": "vines side by side in neighbouring rows",
        "staggered": "every other row shifted by half a vine spacing",
    },
    "common": {
        "own": "what is changed here changes this block only",
        "shared": "takes the rules that other blocks share; a change changes all of them",
    },
}
"""What each choice does, in a line."""


def step_of(rule: str, unit: str = "m") -> float:
    """What one step changes, a round figure in the unit shown; of a clearance for "clearance"."""
    if rule in _STEPS:
        return _STEPS[rule]
    if rule not in _STEPS_M:
        return 0.0
    return _STEPS_M[rule] if unit == "m" else _STEPS_FT.get(rule, 0.25)


def choice_text(rule: str, value: str) -> str:
    """A choice as the paragraph says it."""
    if rule == "start_corner":
        return f"{value} corner"
    return _CHOICE_WORDS.get((rule, value), value)
