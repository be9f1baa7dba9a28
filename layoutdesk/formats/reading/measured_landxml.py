"""Measured points from LandXML: CgPoints, northing first, in the unit the file says. LandXML 1.2 (2008)."""

from __future__ import annotations

from itertools import zip_longest
from pathlib import Path

import numpy as np

from layoutdesk.core.model import InputProblem

from .measured import Draft
from .measured_cells import numbers_of
from .reference import crs_as_file_says

_LINEAR_UNITS_M = {
    "millimeter": 0.001,
    "centimeter": 0.01,
    "meter": 1.0,
    "kilometer": 1000.0,
    "inch": 0.0254,
    "foot": 0.3048,
    "USSurveyFoot": 1200 / 3937,
    "mile": 1609.344,
}
"""Units of length as LandXML 1.2 (2008) names them. [m]"""
_CHUNK = 500


def read_measured_landxml(path: Path, shown: str) -> Draft:
    """All CgPoints that have coordinates of their own.

    Raises
    ------
    InputProblem
        When it is no whole XML file, or holds no CgPoint.
    """
    import xml.etree.ElementTree as ET

    draft = Draft("LandXML")
    texts: list[str] = []
    code: str | None = None
    groups: list = []
    try:
        for event, element in ET.iterparse(path, events=("start", "end")):
            tag = element.tag.rpartition("}")[2]
            if event == "start":
                if tag == "CgPoints":
                    groups.append(element)
                continue
            if tag == "CgPoint":
                if element.text and element.text.strip() and not element.get("pntRef"):
                    draft.name.append(_name(element))
                    draft.description.append(_description(element))
                    texts.append(element.text)
                (groups[-1] if groups else element).clear()  # else a million empty ones are kept
            elif tag == "CgPoints":
                groups.pop()
            elif tag in ("P", "F", "Pnts", "Faces"):
                element.clear()
            elif tag in ("Metric", "Imperial") and draft.unit_m is None:
                draft.unit_m = _LINEAR_UNITS_M.get(element.get("linearUnit", ""))
            elif tag == "CoordinateSystem" and code is None:
                code = element.get("epsgCode")
    except (ET.ParseError, OSError, UnicodeError):
        raise InputProblem(f"{shown} is no whole XML file: export it again as LandXML.") from None
    if not texts:
        raise InputProblem(
            f"{shown} holds no CgPoint with coordinates: export the measured points, not only lines or surfaces."
        )
    numbers = _numbers(texts)
    draft.en = numbers[:, [1, 0]]
    draft.height = numbers[:, 2]
    draft.line = np.arange(1, len(texts) + 1)
    draft.said.append("CgPoints, northing first")
    if code and code.isdecimal():
        found = crs_as_file_says(f"EPSG:{code}")
        draft.crs = found if found is not None and found.is_projected else None
    return draft


def _name(element) -> str:
    return (element.get("name") or element.get("oID") or "").strip()


def _description(element) -> str:
    parts = [(element.get(key) or "").strip() for key in ("desc", "code")]
    return " ".join(dict.fromkeys(p for p in parts if p))


def _numbers(texts: list[str]) -> np.ndarray:
    """(n, 3) of numbers; NaN for what is none or is not there."""
    columns: list[list[str]] = [[], [], []]
    for begin in range(0, len(texts), _CHUNK):
        rows = [text.split() for text in texts[begin : begin + _CHUNK]]
        turned = list(zip_longest(*rows, fillvalue="nan"))
        for at, cells in enumerate(columns):
            cells.extend(turned[at] if at < len(turned) else ["nan"] * len(rows))
    return np.column_stack([numbers_of(cells, False) for cells in columns])
