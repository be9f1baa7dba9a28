"""Cells of CSV files that people open in spreadsheets."""

from __future__ import annotations


def csv_cell(value):
    """Words that a spreadsheet would take for a formula begin with an apostrophe."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@") else value
