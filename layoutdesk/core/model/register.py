"""The register of what stands at every vine position: entries that are only ever added to.

An entry (`Batch`) is one act of recording. It holds events as arrays, so that a million vines with ten
events each are a few arrays. Each entry carries a mark over itself and the mark before it: what was changed
afterwards shows. Vine positions are those of the `Stand`: segments as they were when something was first
recorded of them, with codes and places that no later change of the layout touches.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np

from .planting import CHECKS, Lot
from .register_mark import EVENT_ARRAYS, STAND_ARRAYS, mark_of

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

NO_PLACE = -(2**31)
"""Of a place that the layout left empty when its segment was recorded."""


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

    def __len__(self) -> int:
        """Positions, those that the layout left empty too."""
        return len(self.xy_mm)

    @cached_property
    def offsets(self) -> np.ndarray:
        """Position of the first index of each piece, shape (p,)."""
        return np.cumsum(self.count, dtype=np.int64) - self.count

    def piece_of(self, place) -> np.ndarray:
        """Which piece positions are of."""
        stops = self.offsets + self.count
        return np.searchsorted(stops, np.asarray(place), side="right")

    def index_of(self, place) -> np.ndarray:
        """Index of positions in their segments, as codes have it."""
        piece = self.piece_of(place)
        return np.asarray(place) - self.offsets[piece] + self.first[piece]

    def xy_m(self, place) -> np.ndarray:
        """Site frame x, y of positions, shape (n, 2); nan where the layout left them empty. [m]"""
        xy = self.xy_mm[place]
        return np.where(xy == NO_PLACE, np.nan, xy / 1000)

    def joined(self, *others: Stand) -> Stand:
        """With other pieces behind these."""
        parts = [stand for stand in (self, *others) if len(stand.block)]
        if len(parts) < 2:
            return parts[0] if parts else self
        block = tuple(name for stand in parts for name in stand.block)
        return Stand(block, *(_joined(parts, name) for name in STAND_ARRAYS))


def _joined(parts, name: str) -> np.ndarray:
    joined = np.concatenate([getattr(part, name) for part in parts])
    joined.setflags(write=False)
    return joined


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

    def __len__(self) -> int:
        return len(self.place)

    def taken(self, which) -> Events:
        """Some of the events, by mask, slice or indices."""
        return Events(*(getattr(self, f.name)[which] for f in fields(self)))


def no_events() -> Events:
    """Events of an entry that tells of no vine."""
    return Events(*(np.empty(0, kind) for kind in EVENT_ARRAYS.values()))


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

    What is joined over all entries is made when it is first asked for, and kept.

    Attributes
    ----------
    batches : tuple of Batch
    broken_at : int or None
        The first entry that does not fit its mark: it or one before it was changed from outside.
    """

    batches: tuple[Batch, ...] = ()
    broken_at: int | None = None

    @property
    def mark(self) -> str:
        """Over everything; empty where nothing is recorded."""
        return self.batches[-1].mark if self.batches else ""

    def __eq__(self, other) -> bool:
        if not isinstance(other, Register):
            return NotImplemented
        mine, theirs = ((r.mark, len(r.batches), r.broken_at) for r in (self, other))
        return mine == theirs

    def __hash__(self) -> int:
        return hash(self.mark)

    def begins_with(self, other: Register | None) -> bool:
        """Whether everything that another has on record is on record here."""
        n = len(other.batches) if other is not None else 0
        return n == 0 or (n <= len(self.batches) and self.batches[n - 1].mark == other.mark)

    @cached_property
    def stand(self) -> Stand:
        """Every position on record."""
        return Stand().joined(*(batch.stand for batch in self.batches))

    @cached_property
    def events(self) -> Events:
        """Every event, in the order they were recorded."""
        parts = [batch.events for batch in self.batches if len(batch.events)]
        if len(parts) < 2:
            return parts[0] if parts else no_events()
        return Events(*(_joined(parts, name) for name in EVENT_ARRAYS))

    @cached_property
    def batch_of_event(self) -> np.ndarray:
        """Which entry each event is of."""
        counts = [len(batch.events) for batch in self.batches]
        return np.repeat(np.arange(len(counts)), counts)

    @cached_property
    def lots(self) -> tuple[Lot, ...]:
        """Every lot, in order of first mention, as it was described last."""
        known: dict[str, Lot] = {}
        for batch in self.batches:
            for lot in batch.lots:
                known[lot.name.casefold()] = lot  # a name known keeps its number
        return tuple(known.values())

    @cached_property
    def words(self) -> tuple[str, ...]:
        """Every cause."""
        return tuple(word for batch in self.batches for word in batch.words)

    @cached_property
    def block_names(self) -> tuple[tuple[str, ...], ...]:
        """All names that the block of each piece of `stand` ever had, today's first."""
        names: list[tuple[str, ...]] = []
        for batch in self.batches:
            names += [(block,) for block in batch.stand.block]
            for old, new in batch.renamed:
                names = [(new, *told) if told[0] == old else told for told in names]
        return tuple(names)

    def with_batch(
        self,
        events: Events | None = None,
        *,
        recorded: str,
        by: str,
        source: str,
        revision: str = "",
        note: str = "",
        stand: Stand | None = None,
        lots: tuple[Lot, ...] = (),
        words: tuple[str, ...] = (),
        renamed: tuple[tuple[str, str], ...] = (),
    ) -> Register:
        """The register with one more entry; nothing that is on record changes.

        Events count positions, lots and causes as the register with this entry does: `stand`, `lots` and
        `words` come behind those that are known.
        """
        batch = Batch(
            *(_storable(text) for text in (recorded, by, source, revision, note)),
            _settled(stand or Stand(), STAND_ARRAYS),
            tuple(lots),
            tuple(words),
            tuple((old, new) for old, new in renamed),
            _settled(events or no_events(), EVENT_ARRAYS),
            "",
        )
        batch = replace(batch, mark=mark_of(self.mark, batch))
        register = Register((*self.batches, batch), self.broken_at)
        added = {
            "stand": batch.stand.block,
            "lots": batch.lots,
            "words": batch.words,
            "block_names": batch.stand.block or batch.renamed,
        }
        for joined, adds in added.items():
            if not adds:  # kept where it is the same, so that an entry costs what it tells
                register.__dict__[joined] = getattr(self, joined)
        hold_batch(batch, len(register.stand), len(register.lots), len(register.words))
        return register


def hold_batch(batch: Batch, n_places: int, n_lots: int, n_words: int) -> None:
    """Check that an entry tells of nothing that is not there.

    Raises
    ------
    ValueError
        Where arrays differ in length, or count beyond the positions, lots or words there are with it.
    """
    stand, events = batch.stand, batch.events
    if any(
        len(getattr(stand, name)) != len(stand.block) for name in STAND_ARRAYS if name != "xy_mm"
    ):
        raise ValueError("stand: arrays of different lengths")
    if stand.xy_mm.shape != (int(stand.count.sum()), 2):
        raise ValueError("stand.xy_mm: one place an index is asked for")
    limits = {
        "place": (0, n_places - 1),
        "what": (0, len(EVENTS) - 1),
        "day": (0, datetime.date.max.toordinal()),
        "lot": (-1, n_lots - 1),
        "cause": (-1, n_words - 1),
        "faults": (0, 2 ** len(CHECKS) - 1),
    }
    for name, (low, high) in limits.items():
        values = getattr(events, name)
        if len(values) != len(events):
            raise ValueError(f"events.{name}: {len(values)} values for {len(events)} events")
        if len(values) and not (low <= values.min() and values.max() <= high):
            raise ValueError(f"events.{name}: values outside {low} to {high}")


def _settled(arrays, kinds: dict[str, str]):
    """The same with arrays of the kinds on record, which nobody writes to any more."""
    settled = {}
    for name, kind in kinds.items():
        given = np.asarray(getattr(arrays, name))
        values = np.array(given, kind, order="C")
        if not np.array_equal(values, given):
            raise ValueError(f"{name}: values that do not fit into {values.dtype}")
        values.setflags(write=False)
        settled[name] = values
    return replace(arrays, **settled)


def _storable(text: str) -> str:
    """File names may hold bytes that are no text; they are told as question marks."""
    return text.encode("utf-8", "replace").decode("utf-8")
