"""Lines of forms that were not taken, as a table to be corrected and read again."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

import numpy as np

from ..core.model import InputProblem
from ..formats.csv_cells import csv_cell
from ..formats.reading.field_forms import FormTable, meanings_of
from ..formats.reading.table import bare

PROBLEM = "problem"
_PLACE = ("lon", "lat")


def leftover_text(forms: Sequence[FormTable], left: Sequence[tuple[int, int, str]]) -> str:
    """Lines as CSV under the columns of all their forms, and what is wrong with each; "" for none.

    Parameters
    ----------
    forms : sequence of FormTable
    left : sequence of (int, int, str)
        Form, its line, and what is wrong.
    """
    if not left:
        return ""
    used = sorted({f for f, _, _ in left})
    keys = {f: _keys(forms[f]) for f in used}
    columns: dict[str, str] = {}
    for f in used:
        for key, name in zip(keys[f], forms[f].header, strict=True):
            columns.setdefault(key, name)
    columns.pop(PROBLEM, None)
    places = {f: _places(forms[f], [i for g, i, _ in left if g == f]) for f in used}
    if any(places.values()):
        columns |= {key: columns.get(key, key) for key in _PLACE}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*columns.values(), PROBLEM])
    for f, i, words in left:
        cells = dict(zip(keys[f], forms[f].rows[i], strict=True)) | places[f].get(i, {})
        writer.writerow([csv_cell(cells.get(key, "")) for key in columns] + [csv_cell(words)])
    return out.getvalue()


def _keys(form: FormTable) -> list[str]:
    """What makes columns of several forms one: their meaning, else their name."""
    meanings = meanings_of(form.header)
    return [
        m or f" {bare(name)} {k}"
        for k, (m, name) in enumerate(zip(meanings, form.header, strict=True))
    ]


def _places(form: FormTable, rows: list[int]) -> dict[int, dict[str, str]]:
    """Longitude and latitude of lines that have a point: with it, codes of another revision are tested."""
    if form.places is None or "lon" in form.meanings or not rows:
        return {}
    from pyproj import CRS, Transformer

    from ..formats.crs import crs_named

    try:
        crs = crs_named(form.places_in)
    except InputProblem:
        return {}
    onward = Transformer.from_crs(crs, CRS.from_epsg(4326), always_xy=True)
    lon, lat = onward.transform(*form.places[rows].T)
    return {
        i: {"lon": f"{x:.9f}", "lat": f"{y:.9f}"}
        for i, x, y in zip(rows, np.atleast_1d(lon), np.atleast_1d(lat), strict=True)
        if np.isfinite([x, y]).all()
    }
