"""Telling a Layout Desk project from any other GeoPackage."""

from __future__ import annotations

import sqlite3
from pathlib import Path

DOCUMENT_TABLE = "layoutdesk_document"


def is_project(path) -> bool:
    """Whether a file is a Layout Desk project: a SQLite file with the document table.

    False for anything else: other files, folders, a missing path. The file is opened read-only
    and nothing is written beside it.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            if stream.read(16) != b"SQLite format 3\x00":
                return False
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
        try:
            found = connection.execute(
                "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (DOCUMENT_TABLE,)
            ).fetchone()
        finally:
            connection.close()
    except (OSError, sqlite3.Error, ValueError):
        return False
    return found is not None
