"""Rows, labels and symbols of a hand-off's drawing as streamed records."""

from __future__ import annotations

import numpy as np

from .block_rows import BlockRows
from .digits import RECORDS, Chosen, Decimal, Hex, Records, Whole
from .handoffset import HandOffSet
from .point_records import PointTexts, placed
from .points_dxf_document import ATTRIBUTE_M, LABEL_M, NO_HEIGHT, layer_of

DECIMALS = 4
"""Of coordinates, as in the stake-out set's table of points."""

LABEL_SHARE = 0.6
"""Labels are never higher than this share of the row spacing."""

TAG_PARTS = {
    "CODE": ["owner", "tail"],
    "ROW": ["row"],
    "SEGMENT": ["segment"],
    "INDEX": ["index"],
    "POINT": ["number"],
}
"""Attributes of symbols, by columns of `PointTexts`."""

_STEP = 16
"""Handles one streamed record may use: all end in one digit of its own."""


def handles_from(free: str, n_records: int) -> tuple[int, str]:
    """First number of the streamed records, whose handles are its hexadecimal digits and one more,
    and the first free handle after all of them. All numbers have the same count of digits."""
    first = int(free, 16) // _STEP + 1
    last = first + n_records
    if len(f"{first:X}") != len(f"{last:X}"):
        first = 16 ** (len(f"{last:X}") - 1)
        if len(f"{first + n_records:X}") != len(f"{first:X}"):
            first *= 16
    return first, f"{(first + n_records) * _STEP:X}"


class Labels:
    """Ends of a block's rows, and row labels beyond the anchors, in written coordinates.

    Attributes
    ----------
    ends : float array, shape (s, 2, 2)
        Start and far end post of every segment.
    spots : float array, shape (s, 2, 2)
        Where the labels' near edges are centred.
    angle_deg : float array, shape (s,)
        Of the text, anticlockwise from the x axis, in (-90, 90] so that no label stands on its head.
    flipped : bool array, shape (s,)
        Where the text runs against the row.
    height : float
        Of the letters.
    reach : float array, shape (r, 2)
        Corners that hold all of them.
    """

    def __init__(self, rows: BlockRows, hand: HandOffSet):
        plan, unit_m = rows.plan, hand.placing.unit_m
        self.number = plan.segments.number[rows.segment]
        height_m = min(LABEL_M, LABEL_SHARE * plan.rules.row_spacing_m)
        beyond_m = plan.rules.anchor_m + height_m
        self.height = height_m / unit_m
        self.ends_m = plan.segment_ends_m[rows.segment]
        spots_m = self.ends_m + beyond_m * plan.outward[rows.segment]
        self.ends = _placed(hand, self.ends_m)
        self.spots = _placed(hand, spots_m)
        # A bent row's labels follow its chord.
        east, north = (self.ends[:, 1] - self.ends[:, 0]).T
        angle_deg = np.degrees(np.arctan2(north, east))
        self.flipped = (angle_deg <= -90) | (angle_deg > 90)
        self.angle_deg = np.where(self.flipped, (angle_deg + 180) % 360, angle_deg)
        self.angle_deg[self.angle_deg > 90] -= 360
        # No number is wider than its count of digits times its height.
        longest = len(str(int(self.number.max(initial=1)))) * self.height
        places = self.spots.reshape(-1, 2)
        self.reach = np.empty((0, 2))
        if len(places):
            self.reach = np.array([places.min(axis=0) - longest, places.max(axis=0) + longest])


def _placed(hand: HandOffSet, xy_m: np.ndarray) -> np.ndarray:
    flat = xy_m.reshape(-1, 2)
    parts = [placed(hand, flat[i : i + RECORDS]) for i in range(0, len(flat), RECORDS)]
    return np.vstack([np.empty((0, 2)), *parts]).reshape(xy_m.shape)


def tags_of(*pairs) -> list:
    """Parts of a record from group codes and values, a value being one part or a list of parts."""
    parts = []
    for code, value in pairs:
        parts += [b"%d\n" % code, *(value if isinstance(value, list) else [value]), b"\n"]
    return parts


def entity(name: bytes, digit: bytes, owner, layer, *subclass) -> list:
    """Parts of the record of one entity, whose handle ends in a digit of its own."""
    handle = [b"5\n", "handle", digit + b"\n"]
    owned = [b"330\n", *owner, b"\n"]
    rest = tags_of((100, b"AcDbEntity"), (8, layer), *subclass)
    return [b"0\n" + name + b"\n", *handle, *owned, *rest]


def row_records(owner: bytes) -> Records:
    """Straight rows without heights."""
    return Records(
        entity(
            *(b"LINE", b"0", [owner], b"ROW"),
            *((100, b"AcDbLine"), (10, "x"), (20, "y"), (30, b"0.0")),
            *((11, "x1"), (21, "y1"), (31, b"0.0")),
        ),
        {"handle": Hex(), **dict.fromkeys(("x", "y", "x1", "y1"), Decimal(DECIMALS))},
    )


def row_values(label: Labels) -> dict:
    x, y, x1, y1 = label.ends.reshape(-1, 4).T
    return {"x": x, "y": y, "x1": x1, "y1": y1}


def label_records(label: Labels, owner: bytes, raised: bool) -> Records:
    """Row labels; raised ones stand at a height, or at 0 on a layer of their own."""
    z, layer = ("z", ["layer"]) if raised else (b"0.0", b"ROW_LABEL")
    columns = {
        "handle": Hex(),
        "number": Whole(),
        "angle": Decimal(6),
        "side": Chosen([b"0", b"2"]),
        **dict.fromkeys(("x", "y"), Decimal(DECIMALS)),
    }
    if raised:
        columns["z"] = Decimal(DECIMALS)
        columns["layer"] = Chosen([b"ROW_LABEL", b"ROW_LABEL" + NO_HEIGHT.encode()])
    return Records(
        entity(
            *(b"TEXT", b"0", [owner], layer, (100, b"AcDbText"), (10, "x"), (20, "y"), (30, z)),
            *((40, b"%.6f" % label.height), (1, "number"), (50, "angle"), (72, "side")),
            *((11, "x"), (21, "y"), (31, z), (100, b"AcDbText"), (73, b"2")),
        ),
        columns,
    )


def label_values(label: Labels, end: int, z: np.ndarray | None) -> dict:
    """Values of the labels at the start (0) or the far end (1) of the rows; `z` is NaN where not known."""
    values = {
        "x": label.spots[:, end, 0],
        "y": label.spots[:, end, 1],
        "number": label.number,
        "angle": label.angle_deg,
        # Text that runs with the row ends at the start label's spot and begins at the far one's.
        "side": (label.flipped == bool(end)).astype(int),
    }
    if z is not None:
        unknown = np.isnan(z)
        values |= {"z": np.where(unknown, 0.0, z), "layer": unknown.astype(int)}
    return values


def symbol_records(
    kind: int, texts: PointTexts, tags: dict[str, list], owner: bytes, unit_m: float, z: str
) -> Records:
    """A symbol with its attributes and their end; `z` is "flat", "known" or "unknown"."""
    symbol = layer_of(kind).encode()
    layer = symbol + NO_HEIGHT.encode() if z == "unknown" else symbol
    place = ((10, "x"), (20, "y"), (30, "z" if z == "known" else b"0.0"))
    reference = ((100, b"AcDbBlockReference"), (66, b"1"), (2, symbol), *place)
    parts = entity(b"INSERT", b"0", [owner], layer, *reference)
    height = b"%.6g" % (ATTRIBUTE_M / unit_m)
    insert = ["handle", b"0"]
    for digit, (tag, value) in enumerate(tags.items(), 1):
        parts += entity(
            *(b"ATTRIB", b"%d" % digit, insert, layer, (100, b"AcDbText"), *place),
            *((40, height), (1, value), (100, b"AcDbAttribute"), (2, tag.encode()), (70, b"1")),
        )
    parts += entity(b"SEQEND", b"%d" % (len(tags) + 1), insert, layer)
    columns = {"handle": Hex(), "x": Decimal(DECIMALS), "y": Decimal(DECIMALS)}
    if z == "known":
        columns["z"] = Decimal(DECIMALS)
    named = [part for value in tags.values() for part in value if isinstance(part, str)]
    return Records(parts, columns | texts.columns(list(dict.fromkeys(named))))
