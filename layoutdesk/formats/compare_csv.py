"""compare.csv: one row a candidate, the columns named as in compare.json."""

from __future__ import annotations

import csv
from pathlib import Path

from .compareset import COLUMNS, CompareSet, records


def write_compare_csv(path, compare: CompareSet) -> None:
    """Write the table as plain numbers in SI; what is not known stays empty."""
    with Path(path).open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(COLUMNS)
        for record in records(compare):
            rows.writerow("" if record[c] is None else _cell(record[c]) for c in COLUMNS)


def _cell(value):
    """Words that a spreadsheet would take for a formula begin with an apostrophe."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@") else value
