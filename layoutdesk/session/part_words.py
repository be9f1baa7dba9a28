"""Parts of blocks as people type and read them: rows, segments, some of their vines."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from ..core.layout.numbering import segment_letter
from ..core.model import InputProblem, Part, Project
from ..core.planting.assigned import parts_of_vines
from .selection import Selection, places_of
from .vine_places import vines_of_segments
from .wording import listed

LIKE = "B1, B1 rows 12-40, B1 rows 3-30 every 9, B1-R012A, B1-R012A-V001..V060"
_TO = r"\s*(?:-|–|−|\.\.+|…|to)\s*"
_NTH = r"(\d+)(?:st|nd|rd|th)?"
_WORDS = re.compile(
    rf"""(?:,?\s*(?:
        (?P<all>all\s+rows)
        |(?:rows?\s*|r(?=\d))?(?P<first_row>\d+)(?:{_TO}(?P<last_row>\d+))?
    )(?:\s+every\s+{_NTH.replace("(", "(?P<every_row>", 1)}(?:\s+rows?)?(?!\s*vine\s*(?:;|,|$)))?)?
    (?:,?\s*segments?\s+(?P<letter>[a-z]{{1,3}}))?
    (?:,?\s*vines?\s*v?(?P<first_vine>\d+)(?:{_TO}(?:v?(?P<last_vine>\d+)|(?P<end>end)))?)?
    (?:,?\s*every\s+{_NTH.replace("(", "(?P<every_vine>", 1)}\s+vine)?
    \s*(?=;|,|$)""",
    re.IGNORECASE | re.VERBOSE,
)
"""Behind a block's name: rows, a segment, vines; each may be left out."""
_CODE = re.compile(
    rf"""-R(?P<first_row>\d+)(?P<letter>[a-z]{{1,3}}(?![a-z]))?
    (?:-V(?P<first_vine>\d+)(?:{_TO}(?:v?(?P<last_vine>\d+)|(?P<end>end)))?)?
    (?:,?\s*every\s+{_NTH.replace("(", "(?P<every_vine>", 1)}\s+vine)?
    \s*(?=;|,|$)""",
    re.IGNORECASE | re.VERBOSE,
)
"""The same as a code, such as -R012A-V034..V060."""
_MOST = 10**9


def typed_parts(text: str, project: Project) -> tuple[Part, ...]:
    """Parts of blocks as typed.

    Parameters
    ----------
    text : str
        "B1", "B1 rows 12-40", "B1 rows 3-30 every 9", "B1 row 5 segment B vines 10-20", "B1-R012A",
        "B1-R012A-V034..V060", each with "every 5th vine" behind it where that is meant; several with a
        semicolon. The block's name goes on for those behind it that have none, as in "B1 rows 3-5, 9", and
        can be left out where there is one block.
    project : Project

    Raises
    ------
    InputProblem
        Where it is none of these, or there is no such block.
    """
    rest = text.strip().strip(";").strip()
    if not rest:
        raise InputProblem(f"Nothing is said of where: write it like {LIKE}.")
    names = sorted((b.name for b in project.blocks), key=len, reverse=True)
    block = names[0] if len(names) == 1 else ""
    parts: list[Part] = []
    while rest:
        part, rest = _first_part(rest, names, block)
        block = part.block
        parts.append(part)
        rest = rest.lstrip(" ;,\t\n")
    return tuple(parts)


def _first_part(rest: str, names: list[str], block: str) -> tuple[Part, str]:
    """The part a text begins with, and what is behind it."""
    for name in names:
        behind = _behind(rest, name)
        if behind is None:
            continue
        found = _CODE.match(behind) or _WORDS.match(behind)
        if found:
            return _part(rest, name, found), behind[found.end() :]
    found = _WORDS.match(rest) if block else None
    if found and found.end():
        return _part(rest, block, found), rest[found.end() :]
    piece = rest.partition(";")[0].strip()
    if any(_behind(rest, name) is not None for name in names):
        raise InputProblem(f"{piece!r} says no rows or vines: write it like {LIKE}.")
    there = f"there {'is' if len(names) == 1 else 'are'} {listed(sorted(names))}"
    raise InputProblem(f"{piece!r} begins with no block's name; {there}: write it like {LIKE}.")


def _behind(text: str, name: str) -> str | None:
    """What stands behind a block's name; None where the text does not begin with it."""
    for length in range(len(name), min(len(text), 2 * len(name)) + 1):
        if text[:length].casefold() == name.casefold():
            behind = text[length:]
            return None if re.match(r"\w", behind) else re.sub(r"^:\s*", " ", behind)
    return None


def _part(text: str, block: str, found: re.Match) -> Part:
    said = {key: value for key, value in found.groupdict().items() if value}
    figure = {k: int(v) for k, v in said.items() if v.isdecimal()}
    piece = text.partition(";")[0].strip()
    if any(value > _MOST for value in figure.values()):
        raise InputProblem(f"{piece!r} has a number that is too large: write it like {LIKE}.")
    first_row, first_vine = figure.get("first_row"), figure.get("first_vine", 1)
    last_vine = figure.get("last_vine")
    if "first_vine" in said and last_vine is None and "end" not in said:
        last_vine = first_vine
    every = [figure.get(key, 1) for key in ("every_row", "every_vine")]
    if min(*every, first_vine) < 1 or (last_vine is not None and last_vine < first_vine):
        raise InputProblem(f"{piece!r}: the first comes before the last, and counts begin with 1.")
    return Part(
        block,
        first_row,
        figure.get("last_row", first_row),
        said.get("letter", "").upper(),
        first_vine,
        last_vine,
        *every,
    )


def parts_text(parts: tuple[Part, ...], most: int = 0) -> str:
    """Parts as people read and type them; no more than `most` where that is not 0.

    Examples
    --------
    >>> parts_text((Part("B1", 12, 40), Part("B1", 41, 41, "A", 1, 60)))
    'B1 rows 12-40; B1-R041A-V001..V060'
    >>> parts_text((Part("B1", 1, 9, every_row=4, every_vine=5), Part("B2")), 1)
    'B1 rows 1-9 every 4, every 5th vine; 1 more'
    """
    told = parts[:most] if most else parts
    texts = [_part_text(part) for part in told]
    if len(told) < len(parts):
        texts.append(f"{len(parts) - len(told):,} more")
    return "; ".join(texts)


def _part_text(part: Part) -> str:
    every = f", every {_ordinal(part.every_vine)} vine" if part.every_vine > 1 else ""
    some = part.first_vine > 1 or part.last_vine is not None
    last = "end" if part.last_vine is None else f"{part.last_vine:03d}"
    is_one = part.last_vine == part.first_vine
    is_code = part.first_row is not None and part.first_row == part.last_row
    if is_code and part.letter and part.every_row == 1:
        text = f"{part.block}-R{part.first_row:03d}{part.letter}"
        if some:
            until = "" if is_one else f"..{'' if part.last_vine is None else 'V'}{last}"
            text += f"-V{part.first_vine:03d}{until}"
        return text + every
    text = part.block
    if part.first_row is not None:
        rows = f"{part.first_row}" if is_code else f"{part.first_row}-{part.last_row}"
        text += f" row{'s' * (not is_code)} {rows}"
    elif part.every_row > 1:
        text += " all rows"
    if part.every_row > 1:
        text += f" every {part.every_row}"
    if part.letter:
        text += f" segment {part.letter}"
    if some:
        until = "" if is_one else f"-{last.lstrip('0')}"
        text += f" vine{'s' * (not is_one)} {part.first_vine}{until}"
    return text + every


def _ordinal(n: int) -> str:
    """A count as an ordinal.

    Examples
    --------
    >>> _ordinal(2), _ordinal(11), _ordinal(23)
    ('2nd', '11th', '23rd')
    """
    teen = 10 < n % 100 < 20
    return f"{n}{'th' if teen else {1: 'st', 2: 'nd', 3: 'rd'}.get(n % 10, 'th')}"


def parts_of_selection(selection: Selection, plans=None) -> tuple[Part, ...]:
    """The rows that are selected.

    With plans, whole rows are told without letters, and what is not there any more is passed over; else
    segments of one letter in rows with running numbers are one part.
    """
    if plans is not None:
        return parts_of_vines(plans, vines_of_segments(plans, places_of(selection, plans)))
    parts: list[Part] = []
    for block, letter, number in sorted((b, k, n) for b, n, k in selection):
        last = parts[-1] if parts else None
        text = segment_letter(letter)
        if last and (last.block, last.letter, last.last_row) == (block, text, number - 1):
            parts[-1] = replace(last, last_row=number)
        else:
            parts.append(Part(block, number, number, text))
    return tuple(parts)


def vines_of_text(project: Project, plans, text: str) -> np.ndarray:
    """Vines that are meant by a text, counted as in `Assigned`.

    Raises
    ------
    InputProblem
        Where it says none, or none stands there.
    """
    from ..core.planting.assigned import vines_of_parts

    vines = vines_of_parts(plans, typed_parts(text, project))
    if not len(vines):
        raise InputProblem(f"No vine stands at {text.strip()}: look at the rows on the plan.")
    return vines
