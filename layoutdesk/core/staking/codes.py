"""Which point of the plan a text means: codes and descriptions by a template, many at a time."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from ..layout.numbering import MARK_LETTER
from ..model.handoff import POINT_KINDS
from .points import Owners, Points, code_tail

_FIELD = re.compile(r"\{(\w+)\}")
_KIND_OF_LETTER = {
    letter.casefold(): POINT_KINDS.index(kind) for kind, letter in MARK_LETTER.items()
}
_NUMBER = re.compile(r"^[ \t]*0*(\d{1,15})(?:[.,]0*)?[ \t]*$|^.*$", re.MULTILINE)
_MOST_INDEX = 1 << 31


def keys_of_points(points: Points) -> np.ndarray:
    """One number for what each point is: equal for the same post, vine or corner, whatever its own number.

    Examples
    --------
    >>> some = Points(*(np.array([v]) for v in (7, 4, 2, 3)), np.zeros((1, 2)))
    >>> keys_of_points(some) == key_of(2, 4, 3)
    array([ True])
    """
    return key_of(points.owner.astype(np.int64), points.kind.astype(np.int64), points.index)


def key_of(owner, kind, index):
    """The number of owner, kind and index together."""
    return (owner << 36) + (kind << 32) + index


def numbers_in(texts: Sequence[str]) -> np.ndarray:
    """Point numbers, (n,) of int; -1 where a text is none.

    Examples
    --------
    >>> numbers_in(["0012", "7.00", "B1-R001A-E1", ""]).tolist()
    [12, 7, -1, -1]
    """
    found = _NUMBER.findall(_joined(texts))
    return np.array([f or "-1" for f in found][: len(texts)], dtype="U16").astype(np.int64)


def keys_in(
    texts: Sequence[str], owners: Owners, points: Points, template: str = "", features=()
) -> np.ndarray:
    """What each text means, (n,) of int as `keys_of_points`; -1 where it means no point.

    A text means a point by the template of descriptions, by its code as a whole or with other words around it
    (`STK B1-R012A-E1 ok`), or by being the code of a corner or the name of a control point. Upper and lower
    case are one.

    Parameters
    ----------
    texts : sequence of str
    owners : Owners
    points : Points
        All points of the plan.
    template : str
        Of descriptions, such as "{feature} {block}/{row}{segment}/{index}"; empty for codes alone.
    features : sequence of (str, str)
        The user's own code for kinds.
    """
    keys = np.full(len(texts), -1, np.int64)
    if not any(texts):
        return keys
    joined = _joined(texts).casefold()
    blocks = _blocks(owners)
    rows = _Rows(owners)
    made = _pattern(template, features, blocks)
    if made is not None:
        pattern, names = made
        found = pattern.findall(joined)
        if len(names) == 1:
            found = [(f,) for f in found]
        keys = _by_fields(found[: len(texts)], names, rows, _kinds_named(features), points)
    left = np.flatnonzero(keys < 0)
    if len(left) and blocks:
        found = _code_pattern(blocks).findall(_some(joined, left, len(texts)))
        keys[left] = _by_fields(found[: len(left)], _CODE_FIELDS, rows, {}, points)
        left = np.flatnonzero(keys < 0)
    if len(left):
        singles = _singles(owners, points)
        if singles:
            lines = joined.split("\n")
            keys[left] = [singles.get(lines[i].strip(), -1) for i in left.tolist()]
            left = np.flatnonzero(keys < 0)
            if len(left):  # the code may stand among other words
                codes = sorted(map(re.escape, singles), key=len, reverse=True)
                among = re.compile(rf"(?<!\S)(?:{'|'.join(codes)})(?!\S)")
                hits = (among.search(lines[i]) for i in left.tolist())
                keys[left] = [singles[hit[0]] if hit else -1 for hit in hits]
    return keys


def _joined(texts: Sequence[str]) -> str:
    """All texts, a line each: patterns then run over them without a loop."""
    joined = "\n".join(texts)
    if joined.count("\n") != len(texts) - 1:
        joined = "\n".join(" ".join(text.splitlines()) for text in texts)
    return joined


def _some(joined: str, which: np.ndarray, n: int) -> str:
    if len(which) == n:
        return joined
    lines = joined.split("\n")
    return "\n".join([lines[i] for i in which.tolist()])


def _blocks(owners: Owners) -> list[str]:
    return list(dict.fromkeys(b.casefold() for b in owners.block[: owners.n_segments]))


def _one_of(names) -> str:
    """A pattern for one of some names, the longer first."""
    return "|".join(map(re.escape, sorted(set(names), key=lambda n: (-len(n), n))))


_CODE_FIELDS = ("block", "row", "segment", "letter", "index")
_CODE = r"0*(\d{1,9})([a-z]{1,3})-([vlea])0*(\d{1,9})"


def _code_pattern(blocks: list[str]) -> re.Pattern:
    """Codes of posts, anchors and vines anywhere in a line; every line is found once, with or without one."""
    return re.compile(rf"^(?:.*?(?<![\w-])({_one_of(blocks)})-r{_CODE}(?!\w).*|.*)$", re.MULTILINE)


def _kinds_named(features) -> dict[str, int]:
    """Kinds by the user's own code for them, and by their own words; a code of two kinds means neither."""
    named: dict[str, int] = {}
    for kind, text in features:
        word = text.strip().casefold()
        if word:
            named[word] = -1 if word in named else POINT_KINDS.index(kind)
    for number, kind in enumerate(POINT_KINDS):
        for word in (kind, kind.replace("_", " ")):
            named.setdefault(word, number)
    return named


def _pattern(template: str, features, blocks: list[str]):
    """The template as a pattern of whole lines, and its fields in order; None for one that tells no point."""
    template = template.strip().casefold()
    fields = _FIELD.findall(template)
    tells = {"row", "index"} <= set(fields) or ("code" in fields and template != "{code}")
    if not tells or not blocks or len(set(fields)) != len(fields):
        return None
    kinds = _one_of(_kinds_named(features))
    patterns = {
        "code": rf"({_one_of(blocks)})-r{_CODE}",
        "block": f"({_one_of(blocks)})",
        "row": r"0*(\d{1,9})",
        "segment": "([a-z]{1,3})",
        "index": r"0*(\d{1,9})",
        "kind": f"({kinds})",
        "feature": f"({kinds})",
        "number": r"(?:\d{0,15})",
    }
    names: list[str] = []
    parts = []
    for i, part in enumerate(_FIELD.split(template)):
        if i % 2 == 0:
            parts.append(r"[ \t]+".join(map(re.escape, re.split(r"[ \t]+", part))))
        elif part not in patterns:
            return None
        else:
            parts.append(patterns[part])
            if part == "code":
                names += _CODE_FIELDS
            elif part != "number":
                names.append(part)
    if len(set(names)) != len(names):  # a row beside the code that has one already: codes do
        return None
    return re.compile(rf"^(?:[ \t]*{''.join(parts)}[ \t]*|.*)$", re.MULTILINE), tuple(names)


class _Rows:
    """Owners of row segments by block, row number and letter."""

    def __init__(self, owners: Owners):
        self.owner: dict[tuple[str, int, str], int] = {}
        self.single: dict[tuple[str, int, str], int] = {}
        names = [b.casefold() for b in owners.block[: owners.n_segments]]
        letters = [letter.casefold() for letter in owners.letter[: owners.n_segments]]
        rows = owners.row[: owners.n_segments].tolist()
        for i, (block, row, letter) in enumerate(zip(names, rows, letters, strict=True)):
            self.owner[block, row, letter] = i
            whole = (block, row, "")
            self.single[whole] = -1 if whole in self.single else i
        self.owner |= self.single  # a row in one piece needs no letter
        self.only_block = names[0] if len(set(names)) == 1 else ""


def _by_fields(found, names, rows: _Rows, kinds: dict[str, int], points: Points) -> np.ndarray:
    """Keys of what patterns found, a tuple of texts for each line."""
    if not found:
        return np.empty(0, np.int64)
    column = dict(zip(names, zip(*found, strict=True), strict=True))
    n = len(found)
    blank = [""] * n
    block = column.get("block", [rows.only_block] * n)
    letter = column.get("segment", blank)
    look = rows.owner.get
    owner = np.array(
        [
            look((b, int(r), s), -1) if r else -1
            for b, r, s in zip(block, column["row"], letter, strict=True)
        ],
        dtype=np.int64,
    )
    index = np.array([i or "-1" for i in column["index"]], dtype="U10").astype(np.int64)
    if "letter" in column:
        kind = np.array([_KIND_OF_LETTER.get(k, -1) for k in column["letter"]], dtype=np.int64)
    elif "kind" in column or "feature" in column:
        first = np.array([kinds.get(k, -1) for k in column.get("kind", blank)], dtype=np.int64)
        own = np.array([kinds.get(k, -1) for k in column.get("feature", blank)], dtype=np.int64)
        kind = np.where(first >= 0, first, own)
        kind[kind == POINT_KINDS.index("row_end")] = POINT_KINDS.index("end_post")
    else:
        there = np.unique(points.kind)
        kind = np.full(n, int(there[0]) if len(there) == 1 else -1, np.int64)
    known = (owner >= 0) & (kind >= 0) & (index >= 0) & (index < _MOST_INDEX)
    return np.where(known, key_of(owner, kind, index), -1)


def _singles(owners: Owners, points: Points) -> dict[str, int]:
    """Keys of corners and control points by their codes."""
    which = np.flatnonzero(points.owner >= owners.n_segments)
    fields = (points.owner[which], points.kind[which], points.index[which])
    found = {}
    for owner, kind, index in zip(*(f.tolist() for f in fields), strict=True):
        code = f"{owners.code[owner]}{code_tail(POINT_KINDS[kind], index)}".casefold()
        found.setdefault(code, key_of(owner, kind, index))
    return found
