"""compare.csv: one row a candidate, the columns named as in compare.json."""

from __future__ import annotations

import csv
from pathlib import Path

from .compareset import COLUMNS, CompareSet, records
from .csv_cells import csv_cell


def write_compare_csv(path, compare: CompareSet) -> None:
    """Write the table as plain numbers in SI; what is not known stays empty."""
    with Path(path).open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(COLUMNS)
        for record in records(compare):
            rows.writerow("" if record[c] is None else csv_cell(record[c]) for c in COLUMNS)
