"""Descriptions of points by the user's own template, such as `{feature} {block}/{row}{segment}`."""

from __future__ import annotations

import re
from collections.abc import Callable

from ..core.model import InputProblem

FIELDS = {
    "code": ("owner", "tail"),
    "feature": ("feature",),
    "kind": ("kind",),
    "block": ("block",),
    "row": ("row",),
    "segment": ("segment",),
    "index": ("index",),
    "number": ("number",),
}
"""What may stand in braces, and the columns of `point_records.PointTexts` it is written by."""

_FIELD = re.compile(r"\{(\w+)\}")


def check_template(text: str) -> None:
    """Nothing for a template that can be written; an InputProblem says what is wrong with another.

    Raises
    ------
    InputProblem

    Examples
    --------
    >>> check_template("{feature} {code}")
    >>> check_template("{featur} {code}")
    Traceback (most recent call last):
    ...
    layoutdesk.core.model.findings.InputProblem: Description of a point: {featur} is none of {code}, {feature}, {kind}, {block}, {row}, {segment}, {index}, {number}.
    """
    if not text.strip():
        raise InputProblem("Description of a point: it is empty: write {code} at least.")
    known = ", ".join(f"{{{name}}}" for name in FIELDS)
    for name in _FIELD.findall(text):
        if name not in FIELDS:
            raise InputProblem(f"Description of a point: {{{name}}} is none of {known}.")
    if re.search(r"[{}]", _FIELD.sub("", text)):
        raise InputProblem(
            f"Description of a point: a brace stands alone: write braces around one of {known}."
        )


def template_parts(template: str, escaped: Callable[[str], str] = str) -> list[bytes | str]:
    """Parts of a record that write a description: bytes for words, a str for a column.

    Parameters
    ----------
    template : str
    escaped : function of str to str
        How a file writes a text of the user's.

    Raises
    ------
    InputProblem
        Where the template cannot be written.

    Examples
    --------
    >>> template_parts("{feature} at {code}")
    ['feature', b' at ', 'owner', 'tail']
    """
    check_template(template)
    parts: list[bytes | str] = []
    for i, text in enumerate(_FIELD.split(template)):
        if i % 2:
            parts += FIELDS[text]
        elif text:
            parts.append(escaped(text).encode("utf-8", "replace"))
    return parts


def columns_in(parts: list[bytes | str]) -> list[str]:
    """Columns that parts name, each once."""
    return list(dict.fromkeys(p for p in parts if isinstance(p, str)))
