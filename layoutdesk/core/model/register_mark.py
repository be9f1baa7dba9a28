"""The mark of an entry of the register: a digest over the entry and the mark before it.

Every program that ever reads a register must come to the same marks. What is digested is told here in
full, and nothing of it changes: a later kind of entry gets another `FORM`.
"""

from __future__ import annotations

import dataclasses
import datetime
import hashlib
import json
from typing import TYPE_CHECKING

import numpy as np

from .planting import Lot

if TYPE_CHECKING:
    from .register import Batch

FORM = 1
STAND_ARRAYS = {"number": "<i4", "letter": "<i4", "first": "<i4", "count": "<i4", "xy_mm": "<i4"}
"""Arrays of a stand and their element types, in the order they are digested in and stored in files."""
EVENT_ARRAYS = {
    "place": "<i4",
    "what": "|u1",
    "day": "<i4",
    "lot": "<i2",
    "cause": "<i2",
    "faults": "<u2",
}
"""Arrays of events, likewise."""


def lot_said(lot: Lot) -> dict:
    """A lot as JSON values: its name, and every field that says something else than nothing.

    A field that a lot gets one day says nothing for lots of before, so that their marks stay.

    Examples
    --------
    >>> from .planting import Plant
    >>> lot_said(Lot("A7", Plant("Saperavi"), ordered=500))
    {'name': 'A7', 'plant': {'variety': 'Saperavi'}, 'ordered': 500}
    """
    return _said(lot)


def _said(value) -> dict:
    said = {}
    for field in dataclasses.fields(value):
        v = getattr(value, field.name)
        if dataclasses.is_dataclass(v):
            said[field.name] = _said(v)
        elif field.default is dataclasses.MISSING or v != field.default:
            if isinstance(v, datetime.date):
                v = v.isoformat()
            said[field.name] = list(v) if isinstance(v, tuple) else v
    return said


def mark_of(before: str, batch: Batch) -> str:
    """SHA-256 over the mark before, the words of an entry as JSON, and its arrays, as hexadecimal digits.

    The JSON has sorted keys, no spaces and only ASCII; the arrays follow it little-endian, those of the
    stand first.
    """
    stand, events = batch.stand, batch.events
    words = {
        "form": FORM,
        "before": before,
        "recorded": batch.recorded,
        "by": batch.by,
        "source": batch.source,
        "revision": batch.revision,
        "note": batch.note,
        "lots": [lot_said(lot) for lot in batch.lots],
        "words": batch.words,
        "renamed": batch.renamed,
        "blocks": stand.block,
        "places": len(stand),
        "events": len(events),
    }
    text = json.dumps(words, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    digest = hashlib.sha256(text.encode("ascii"))
    for arrays, kinds in ((stand, STAND_ARRAYS), (events, EVENT_ARRAYS)):
        for name, kind in kinds.items():
            digest.update(np.ascontiguousarray(getattr(arrays, name), kind).tobytes())
    return digest.hexdigest()
