"""Explanations in words: what it looks like, what it did here, and what to do."""

from __future__ import annotations

import math
from collections.abc import Sequence

from .explanations import Facts
from .height_blunders import HeightBlunder
from .looking_like import FOOT_M, US_SURVEY_FOOT_M, small_length
from .row_mixups import MixUp, RowNames
from .whole_moves import Part, Whole

_TOWARDS = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)
MOST_NAMED = 6
"""Codes that are named; of the others their number is told."""
_CHECK_FIRST = "See that the measured file was read rightly, then"


def towards(offset: complex) -> str:
    """Eight-point direction of an offset, east + i north.

    Examples
    --------
    >>> towards(1 + 1j), towards(-2j)
    ('north-east', 'south')
    """
    bearing = math.degrees(math.atan2(offset.real, offset.imag))
    return _TOWARDS[round(bearing / 45) % 8]


def named(codes: Sequence[str]) -> str:
    """Codes in a row of words.

    Examples
    --------
    >>> named(("A", "B")), named(tuple("ABCDEFGHI"))
    ('A and B', 'A, B, C, D, E, F and 3 more')
    """
    shown = list(codes[:MOST_NAMED])
    if len(codes) > MOST_NAMED:
        return f"{', '.join(shown)} and {len(codes) - MOST_NAMED} more"
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)


def unit_words(unit_m: float) -> str:
    """What written coordinates are in.

    Examples
    --------
    >>> unit_words(1.0), unit_words(0.3048), unit_words(1200 / 3937)
    ('metres', 'international feet', 'US survey feet')
    """
    for length, words in ((FOOT_M, "international feet"), (US_SURVEY_FOOT_M, "US survey feet")):
        if abs(unit_m / length - 1) < 1e-9:
            return words
    return "metres" if unit_m == 1.0 else f"units of {unit_m:.9g} m"


def whole_words(
    whole: Whole,
    part: Part,
    facts: Facts,
    least_m: float,
    most_m: float,
    direction: str,
    shifted: str,
) -> str:
    """Of one thing that moved all points of a site or block.

    Parameters
    ----------
    whole : Whole
    part : Part
        One of its parts.
    facts : Facts
    least_m, most_m : float
        How far the points lie off by all of it. [m]
    direction, shifted : str
        Where they lie, from where they belong: by all of it, and by the shift in it alone.
    """

    def long(length_m):
        return small_length(length_m, facts.unit_m)

    if most_m - least_m > 0.1 * most_m:
        did = f"points lie {long(least_m)} to {long(most_m)} from where they belong"
    else:
        did = f"all of it lies {long(most_m)} to the {direction}"
    if len(whole.parts) > 1:
        did = "together with what else moved it, " + did
    unsure = 2 * whole.unsure
    if part.code == "survey-foot":
        words = _foot_words(part, facts, did)
    elif part.code == "feet-as-metres":
        words = _metre_words(part, facts, did)
    elif part.code == "axes-swapped":
        words = (
            f"Looks like northing and easting exchanged: {did}. {_CHECK_FIRST} have the crew set the order of "
            "coordinates to that of the file handed off, and stake again."
        )
    elif part.code == "grid-as-ground":
        words = _ground_words(part, whole.base.about, facts, did, unsure)
    elif part.code in ("bearing-convergence", "bearing-magnetic", "turn"):
        words = _turn_words(part, facts, did, math.degrees(unsure))
    elif part.code == "scale":
        words = (
            f"All of it is {abs(part.amount) * 1e6:,.0f} ppm too {'long' if part.amount > 0 else 'short'} "
            f"(give or take {unsure * 1e6:,.0f} ppm): {did}. No factor that is known of this site does that: have the crew "
            "see the scale factor their instrument is set to."
        )
        words += _rival_words(part, facts)
    elif part.code == "rows-shifted":
        words = shifted_words(part.amount, "Looks like all rows are") + (
            " A shift of the whole by as many row spacings would look much the same: look at one row number in the field."
        )
    else:
        words = _shift_words(whole, part, facts, shifted)
    return words


def _foot_words(part: Part, facts: Facts, did: str) -> str:
    survey, other = "US survey feet", "international feet"
    read, taken = (survey, other) if part.amount < 0 else (other, survey)
    unit = unit_words(facts.unit_m)
    if unit not in (survey, other):
        return (
            f"Looks like coordinates turned into {'one kind of feet' if unit == 'metres' else 'feet'} and back with "
            f"the other ({read} read as {taken}): {did}. Find out where the feet come in, set them to one kind, and "
            "stake again."
        )
    return (
        f"Looks like {read} read as {taken}: {did}. {_CHECK_FIRST} have the crew set the controller's unit to "
        f"{unit}, which the coordinates were handed off in, and stake again."
    )


def _metre_words(part: Part, facts: Facts, did: str) -> str:
    read, taken = ("metres", "feet") if part.amount < 0 else ("feet", "metres")
    return (
        f"Looks like {read} read as {taken}: {did}. {_CHECK_FIRST} have the crew set the controller's unit to "
        f"{unit_words(facts.unit_m)}, which the coordinates were handed off in, and stake again."
    )


def _ground_words(part: Part, base_about: complex, facts: Facts, did: str, unsure: float) -> str:
    scale, factor = 1 + part.amount, facts.combined_factor
    is_factor = (scale < 1) == (factor < 1)
    found = f"{part.amount * 1e6:+,.0f} ppm"
    if part.sort != "base":
        found += f" (give or take {unsure * 1e6:,.0f})"
    known = f"{((factor if is_factor else 1 / factor) - 1) * 1e6:+,.0f} ppm"
    if facts.coordinates == "ground":
        like = (
            "measured coordinates on the grid, not on the ground, or the factor applied twice"
            if is_factor
            else "ground coordinates staked as if they were on the grid"
        )
    else:
        like = (
            "grid coordinates staked as lengths on the ground"
            if is_factor
            else "the combined factor applied the wrong way round, or twice"
        )
    about = ", about the origin of coordinates" if part.sort == "base" and not base_about else ""
    words = (
        f"Looks like {like}{about}: lengths are off by {found}, the factor makes {known}; {did}. Have the crew set "
        f"the scale of their instrument for coordinates on the {'ground' if facts.coordinates == 'ground' else 'grid'}"
        ", and stake again."
    )
    return words + _rival_words(part, facts)


_TURNS = {
    "grid as true": "grid north taken for true north",
    "true as grid": "true north taken for grid north",
    "true by compass": "magnetic north taken for true north",
    "grid by compass": "magnetic north taken for grid north",
    "compass as true": "true north taken for magnetic north, or the declination applied twice",
    "compass as grid": "grid north taken for magnetic north, or the declination applied twice",
}


def _turn_words(part: Part, facts: Facts, did: str, unsure_deg: float) -> str:
    way = "clockwise" if part.amount > 0 else "anticlockwise"
    found = f"{abs(part.amount):.{_decimals(unsure_deg)}f}° {way}"
    if part.code == "turn":
        words = (
            f"All of it is turned by {found}: {did}. Have the crew check the point and the direction they set up on, "
            "and stake again."
        )
        return words + _rival_words(part, facts)
    if part.code == "bearing-convergence":
        known = f"the convergence here is {facts.convergence_deg:+.2f}°"
    else:
        known = f"the declination here is {facts.declination_deg:+.1f}°"
        if "grid" in part.sort:
            known += f" from true north and {facts.declination_deg - facts.convergence_deg:+.1f}° from grid north"
    words = (
        f"Looks like {_TURNS[part.sort]}: all of it is turned by {found}, and {known}; {did}. Have the crew set "
        "out by coordinates, or by bearings from grid north, and stake again."
    )
    return words + _rival_words(part, facts)


def _decimals(unsure: float) -> int:
    """Digits that mean something."""
    return min(max(-math.floor(math.log10(max(unsure, 1e-6))), 1), 4)


def _rival_words(part: Part, facts: Facts) -> str:
    """What else it could be."""
    said = []
    for code, sort in part.rivals:
        if code == "bearing-convergence":
            said.append(f"the convergence ({facts.convergence_deg:+.2f}°: {_TURNS[sort]})")
        elif code == "bearing-magnetic":
            said.append(f"the declination ({facts.declination_deg:+.1f}°: {_TURNS[sort]})")
        elif code == "grid-as-ground":
            said.append(f"the combined factor ({(facts.combined_factor - 1) * 1e6:+,.0f} ppm)")
        elif code == "turn":
            said.append("any other turn of that size, such as a wrong backsight")
        elif code == "scale":
            said.append("any other scale of that size")
    said = list(dict.fromkeys(said))
    return (
        f" The numbers fit {named(said)} nearly as well: ask before anything is pulled out."
        if said
        else ""
    )


def _shift_words(whole: Whole, part: Part, facts: Facts, direction: str) -> str:
    beside = "Besides, all" if len(whole.parts) > 1 else "All"
    return (
        f"{beside} of it lies {small_length(part.amount, facts.unit_m)} to the {direction}. Have the crew check the "
        "base or the point they set up on against a control point, and stake again."
    )


def shifted_words(by: float, rows: str) -> str:
    """Of rows numbered wrong."""
    by = int(by)
    n = f"{abs(by)} row{'s' if abs(by) > 1 else ''}"
    return (
        f"{rows} numbered {n} too {'low' if by > 0 else 'high'}: the stakes stand where rows with numbers "
        f"{abs(by)} {'higher' if by > 0 else 'lower'} belong. Mend the numbers on the stakes before vines are planted by them."
    )


def mixup_words(mixup: MixUp, names: RowNames) -> str:
    """Of some rows."""
    rows = [names.code[r] for r in mixup.rows]
    if mixup.code == "rows-swapped":
        pairs = [f"{a} and {b}" for a, b in zip(rows[::2], rows[1::2], strict=True)]
        one = len(pairs) == 1
        return (
            f"Looks like {'two rows' if one else 'rows'} swapped: {named(pairs) if one else '; '.join(pairs[:MOST_NAMED])}"
            f"{'' if len(pairs) <= MOST_NAMED else f' and {len(pairs) - MOST_NAMED} more pairs'} stand in each "
            "other's place. Exchange the labels of their stakes, or stake them again."
        )
    if mixup.code == "row-reversed":
        is_one = len(rows) == 1
        return (
            f"Looks like {named(rows)} {'was' if is_one else 'were'} counted from the other end: start and far ends are "
            f"exchanged. Exchange the labels of {'its' if is_one else 'their'} stakes, and see where the first vine stands."
        )
    if mixup.by:
        return shifted_words(
            mixup.by, f"Looks like {named(rows)} {'is' if len(rows) == 1 else 'are'}"
        )
    onto = [f"{a} on {names.code[b]}" for a, b in zip(rows, mixup.onto, strict=True)]
    return f"Rows stand where others belong: {named(onto)}. Mend the labels of their stakes, or stake them again."


def height_words(blunder: HeightBlunder, facts: Facts) -> str:
    """Of all heights."""
    if blunder.code == "height-unit":
        read, taken = ("metres", "feet") if blunder.factor < 1 else ("feet", "metres")
        return (
            f"Heights look like {read} read as {taken}. Places in plan are not touched by that: set the unit of heights in "
            "the file that was read, or in the controller."
        )
    way = "higher" if blunder.shift_m > 0 else "lower"
    return (
        f"All heights are {small_length(abs(blunder.shift_m), facts.unit_m)} {way} than the plan's. Look for another "
        "vertical datum, an antenna height, or ground known only to decimetres, before heights are relied on."
    )


def stray_words(
    codes: Sequence[str], off_m: Sequence[float], onto: Sequence[str], facts: Facts, n: int, of: int
) -> str:
    """Of `n` single points among `of`, the farthest of them named."""
    shown = [
        f"{code} ({small_length(off, facts.unit_m)}{f', where {there} belongs' if there else ''})"
        for code, off, there in zip(codes, off_m, onto, strict=True)
    ]
    named_all = named(shown)
    if n > len(shown):
        named_all = f"{', '.join(shown)} and {n - len(shown):,} more"
    if n > 0.3 * of:
        return (
            f"{n:,} of {of:,} points are off by more than measurement noise, and no mistake with a name explains that: "
            f"farthest {named_all}. See that the measured file belongs to this plan."
        )
    if n == 1:
        return (
            f"One point is far from where it belongs: {named_all}. No mistake with a name explains it: measure it "
            "again before moving the stake."
        )
    return (
        f"{n:,} points are far from where they belong: {named_all}. No mistake with a name explains them: measure "
        "them again before moving stakes."
    )
