"""The register of what stands at every vine position: entries that are only ever added to.

An entry (`Batch`) is one act of recording. It holds events as arrays, so that a million vines with ten
events each are a few arrays. Each entry carries a mark over itself and the mark before it: what was changed
afterwards shows. Vine positions are those of the `Stand`: segments as they were when something was first
recorded of them, with codes and places that no later change of the layout touches.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .planting import Lot

EVENTS: dict[str, str] = {
    # event: what it says of a vine position; their order is the code in `Events.what`, never changed
    "planted": "planted for the first time",
    "replanted": "planted again after a loss",
    "alive": "seen alive",
    "missing": "nothing stands here",
    "dead": "dead, with its cause",
    "checked": "inspected while planting, with what was wrong",
    "reworked": "what was wrong has been put right",
    "void": "what was recorded here before was a mistake; nothing is known but what follows",
}
WHAT = {event: code for code, event in enumerate(EVENTS)}
STATES = ("not planted", "planted", "missing", "dead", "replanted")
"""State of a vine position; the order is the code in `Standing.state`."""
CAUSES = (
    "not known",
    "container left on",
    "graft union below the soil",
    "not firmed",
    "drought",
    "too wet",
    "frost",
    "heat",
    "animals",
    "machine",
    "spray",
    "disease",
    "weak plant",
)
"""Causes of losses that are offered (common practice); others are typed."""


@dataclass(frozen=True, eq=False)
class Stand:
    """Pieces of row as they were recorded, and the place of every vine of them.

    Attributes
    ----------
    block : tuple of str, p of them
    number, letter, first, count : int array, shape (p,)
        Row number, 0 for A …, index of its first vine and how many indices it holds.
    xy_mm : int32 array, shape (n, 2)
        Place of each index in the site frame; NO_PLACE where the layout left it empty. [mm]
    """

    block: tuple[str, ...] = ()
    number: np.ndarray = field(default_factory=lambda: np.empty(0, np.int32))
    letter: np.ndarray = field(default_factory=lambda: np.empty(0, np.int32))
    first: np.ndarray = field(default_factory=lambda: np.empty(0, np.int32))
    count: np.ndarray = field(default_factory=lambda: np.empty(0, np.int32))
    xy_mm: np.ndarray = field(default_factory=lambda: np.empty((0, 2), np.int32))

    # To be written: __len__ (vine positions), offsets (p,), piece_of(place), index_of(place),
    # codes(place) -> list of str, place_of_code(code) -> int or None, xy_m(place), joined(other).


NO_PLACE = -(2**31)


@dataclass(frozen=True, eq=False)
class Events:
    """Events as arrays of one length, in the order they were recorded.

    Attributes
    ----------
    place : int32 array
        Vine position, index into the register's whole stand.
    what : uint8 array
        Of WHAT.
    day : int32 array
        When it was so, as `datetime.date.toordinal`; 0 where nobody said.
    lot : int16 array
        Index into `Register.lots`, -1 for none.
    cause : int16 array
        Index into `Register.words`, -1 for none.
    faults : uint16 array
        Of "checked": a bit for each item of CHECKS that was wrong; 0 for none.
    """

    place: np.ndarray
    what: np.ndarray
    day: np.ndarray
    lot: np.ndarray
    cause: np.ndarray
    faults: np.ndarray


@dataclass(frozen=True, eq=False)
class Batch:
    """One act of recording.

    Attributes
    ----------
    recorded : str
        When, ISO 8601 with its offset; given by who records, the core has no clock.
    by : str
        Who says so.
    source : str
        "window", or the name of the file it came from.
    revision : str
        Of the plan it was recorded on.
    note : str
        Reason or remark.
    stand : Stand
        Pieces that were not on record before.
    lots : tuple of Lot
        Lots as they were described then: new ones, and those described otherwise than before. A later
        one of a name tells more of the same lot, it takes no new number.
    words : tuple of str
        Causes that were not on record before.
    renamed : tuple of (str, str)
        Blocks that have another name on the plan from now on.
    events : Events
    mark : str
        Over all of this and the mark before it.
    """

    recorded: str
    by: str
    source: str
    revision: str
    note: str
    stand: Stand
    lots: tuple[Lot, ...]
    words: tuple[str, ...]
    renamed: tuple[tuple[str, str], ...]
    events: Events
    mark: str


@dataclass(frozen=True, eq=False)
class Register:
    """All entries. Equal registers have equal marks.

    To be written: mark, __eq__ and __hash__ by mark, begins_with(other), stand, events, lots, words (each
    joined over all batches, cached), with_batch(...).
    """

    batches: tuple[Batch, ...] = ()
