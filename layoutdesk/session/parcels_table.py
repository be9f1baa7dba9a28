"""Parcels compared, as lines of the two tables: one a bearing, and one a measure."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping

import numpy as np

from ..core.compare.catalogue import MEASURES
from ..core.compare.sweep import SWEPT

FIXED = (
    "parcel",
    "source",
    "name",
    "bearing_deg",
    "row_spacing_m",
    "vine_spacing_m",
    "first_row_m",
)
"""Columns before the measures."""

BEST_COLUMNS = (
    "parcel",
    "source",
    "name",
    "measure",
    "better",
    "bearing_deg",
    "value",
    "as_good",
    "worst_value",
)
"""Of the table of best bearings: `as_good` counts the bearings that share the best value."""

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")


def measures_written(needs: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the measures a run writes, in the catalogue's order.

    Parameters
    ----------
    needs : tuple of str
        What is known beside rows alone: "sun", "terrain", "wind", "prices".
    """
    return tuple(m.name for m in MEASURES.values() if m.name in SWEPT or m.needs in needs)


def needing(what: str) -> tuple[str, ...]:
    """Names of the measures that need one thing."""
    return tuple(m.name for m in MEASURES.values() if m.needs == what)


def columns(measures: tuple[str, ...]) -> tuple[str, ...]:
    """Of the table of bearings."""
    return FIXED + measures


def head(names: tuple[str, ...]) -> bytes:
    """A table's first line."""
    return _line(names).encode()


def bearing_lines(
    who: tuple[str, str, str],
    bearings_deg: np.ndarray,
    spacing_m: tuple[float, float],
    first_row_m: np.ndarray,
    values: Mapping[str, np.ndarray],
    measures: tuple[str, ...],
) -> bytes:
    """Lines of one parcel, a bearing each; what is not known stays empty.

    Parameters
    ----------
    who : (str, str, str)
        Id, source and name.
    bearings_deg, first_row_m : float array, shape (b,)
    spacing_m : (float, float)
        Between rows and between vines.
    values : dict of float array, shape (b,)
    measures : tuple of str
        Those to write, in order.
    """
    start = _line(tuple(map(cell, who)))[:-1]
    fixed = ",".join(f"{s:.10g}" for s in spacing_m)
    decimals = [MEASURES[name].decimals for name in measures]
    table = np.column_stack(
        [np.round(values[n], d) + 0.0 for n, d in zip(measures, decimals, strict=True)]
    )
    numbers = ",".join(f"%.{d}f" for d in decimals)
    # One formatting a line for all its numbers: the text costs a hundredth of the counting.
    lines = [
        f"{start},{bearing:.10g},{fixed},{first:.4f},{numbers % tuple(row)}\n"
        for bearing, first, row in zip(
            bearings_deg.tolist(), (first_row_m + 0.0).tolist(), table.tolist(), strict=True
        )
    ]
    text = "".join(lines)
    if np.isnan(table).any():
        cut = len(start)
        text = "".join(line[:cut] + line[cut:].replace("nan", "") for line in lines)
    return text.encode()


def best_lines(
    who: tuple[str, str, str],
    bearings_deg: np.ndarray,
    values: Mapping[str, np.ndarray],
    measures: tuple[str, ...],
) -> bytes:
    """Lines of one parcel, a measure each that has a better side; none where no row stands.

    Values are compared as they are written. Bearings at which no row stands have no short rows and
    no ends, and are no answer. Of bearings as good as each other the first is named.
    """
    start = tuple(map(cell, who))
    rows = values["segments"] > 0
    lines = []
    for name in measures:
        measure = MEASURES[name]
        shown = np.round(values[name], measure.decimals) + 0.0
        fit = rows & np.isfinite(shown)
        if not measure.better or not fit.any():
            continue
        where = np.flatnonzero(fit)
        low, high = shown[where].min(), shown[where].max()
        best, worst = (high, low) if measure.better == "more" else (low, high)
        at = where[np.argmax(shown[where] == best)]
        number = f"%.{measure.decimals}f"
        lines.append(
            _line(
                (
                    *start,
                    name,
                    measure.better,
                    f"{bearings_deg[at]:.10g}",
                    number % best,
                    str(int((shown[where] == best).sum())),
                    number % worst,
                )
            )
        )
    return "".join(lines).encode()


def cell(text: str) -> str:
    """A text from a file as a cell: what a spreadsheet would take for a formula is marked.

    Examples
    --------
    >>> cell("=1+1"), cell("-5"), cell("-A5"), cell("North")
    ("'=1+1", '-5', "'-A5", 'North')
    """
    text = " ".join(text.split())
    return f"'{text}" if text[:1] in tuple("=+-@") and not _NUMBER.fullmatch(text) else text


def _line(cells) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue()
