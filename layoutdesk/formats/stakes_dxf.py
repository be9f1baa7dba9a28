"""Stake-out drawing: DXF R2010 in the survey system, for any drawing or survey program.

The document, its layers, symbols, outlines and exclusions are ezdxf's; rows, labels and the many
symbols are streamed into its entities section as text.
"""

from __future__ import annotations

import io
import math
import operator

import numpy as np
import shapely

from ..core.layout.numbering import INDEX_DIGITS, segment_letter
from ..core.model import RowPlan
from .digits import RECORDS, Chosen, Decimal, Hex, Records, Whole
from .stake_chunks import (
    Progress,
    clean,
    in_survey,
    mark_infix,
    marks_by_kind,
    n_marks,
    segment_codes,
)
from .stakeset import StakeSet

DECIMALS = 4
"""Of coordinates in the survey unit, as in the table of points."""

LAYERS = {
    "OUTLINE": (7, None),
    "EXCLUSION": (32, 0xA33B2B),
    "ROW": (96, 0x4B6F62),
    "ROW_LABEL": (8, 0x7F8983),
    "END_POST": (30, 0x8A4B12),
    "LINE_POST": (42, 0xB27A12),
    "ANCHOR": (140, 0x2A6A8E),
    "VINE": (74, 0x4F8A3C),
    "NOTE": (7, None),
}
"""Name of each layer, its colour from the common 255, and its true colour, to be seen on black and
on white; colour 7 turns black or white by itself and has no true colour."""

LABEL_M = 1.25
"""Height of row labels: 2.5 mm plotted at 1:500. [m]"""

LABEL_SHARE = 0.6
"""Labels are never higher than this share of the row spacing."""

_ATTRIBUTE_M = 0.1
_STEP = 16
"""Handles one streamed record may use: all end in one digit of its own."""

_INSUNITS = {1.0: 6, 0.3048: 2, 1200 / 3937: 21}
"""Numbers of the metre, the foot and the US survey foot in a drawing's header."""


def write_stakes_dxf(path, stakes: StakeSet, *, progress: Progress | None = None) -> int:
    """Number of entities written, in the survey system and its unit.

    Outlines, exclusions, rows, a row label at both ends of every segment, a symbol with invisible
    attributes CODE, ROW, SEGMENT and INDEX for every post, anchor and vine, and a note with the
    statement on the survey system. Where the ground is known under every post, anchor and vine, their
    symbols stand at its height, in the survey unit; else the drawing is flat, for a z of 0 here and
    there would be taken for a height. Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    stakes : StakeSet
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place in the survey system.
    """
    labels = [_Labels(plan, stakes) for plan in stakes.plans]
    marks = n_marks(stakes)
    # A straight row is a streamed line; a curved one is a polyline of the document's own.
    per_segment = [3 if plan.course is None else 2 for plan in stakes.plans]
    segments = [plan.n_segments for plan in stakes.plans]
    streamed = sum(map(operator.mul, per_segment, segments)) + marks
    document = _document(stakes, labels)
    entities = len(document.modelspace())
    handle, seed = _handles(str(document.entitydb.handles), streamed)
    document.entitydb.handles.reset(seed)
    head, tail = _halves(document)
    owner = document.modelspace().block_record_handle.encode()
    raised = stakes.heights is not None and not stakes.n_without_height
    done = 0
    with open(path, "wb") as file:
        file.write(head)
        for plan, label in zip(stakes.plans, labels, strict=True):
            for records, values in _row_batches(plan, label, owner):
                values["handle"] = np.arange(handle, handle + len(values["x"]))
                handle += len(values["x"])
                for piece in records.encoded(values):
                    file.write(piece)
            names = _names(plan)
            for kind, chunks in marks_by_kind(plan):
                records = _mark_records(kind, names, owner, stakes.survey.unit_m, raised)
                for first_segment, some in chunks:
                    xy = in_survey(stakes, some.xy_m)
                    segment = first_segment + some.segment
                    values = {
                        "handle": np.arange(handle, handle + len(some)),
                        "x": xy[:, 0],
                        "y": xy[:, 1],
                        **dict.fromkeys(("code", "row", "letter"), segment),
                        **dict.fromkeys(("number", "index"), some.index),
                    }
                    if raised:
                        values["z"] = stakes.heights(some.xy_m) / stakes.survey.unit_m
                    for piece in records.encoded(values):
                        file.write(piece)
                    handle, done = handle + len(some), done + len(some)
                    if progress:
                        progress(done / marks)
        file.write(tail)
    return entities + streamed


# ------------------------------------------------------------------------------ the document


def _document(stakes: StakeSet, labels):
    """The drawing with everything but rows, labels and symbols."""
    import ezdxf

    unit_m = stakes.survey.unit_m
    document = ezdxf.new("R2010", setup=False)
    document.header["$INSUNITS"] = _unit_number(unit_m)
    document.header["$MEASUREMENT"] = 0 if _unit_number(unit_m) in (2, 21) else 1
    # Points of exclusions show as a cross in a circle, which a dot would not.
    document.header["$PDMODE"], document.header["$PDSIZE"] = 34, 1 / unit_m
    document.header.custom_vars.append("Layout Desk", clean(stakes.statement))
    document.linetypes.add("EXCLUSION", [1.5 / unit_m, 1.0 / unit_m, -0.5 / unit_m])
    for name, (colour, rgb) in LAYERS.items():
        layer = document.layers.add(name, color=colour)
        if rgb is not None:
            layer.rgb = (rgb >> 16, rgb >> 8 & 255, rgb & 255)
    document.layers.get("EXCLUSION").dxf.linetype = "EXCLUSION"
    _draw_symbols(document, unit_m)
    space = document.modelspace()
    reach = [label.reach for label in labels]
    for plan in stakes.plans:
        reach += _draw_shape(space, plan.block.outline, stakes, "OUTLINE")
        for row in plan.shapes if plan.course is not None else ():
            _draw_shape(space, row, stakes, "ROW")
    for exclusion in stakes.project.exclusions:
        reach += _draw_shape(space, exclusion.shape, stakes, "EXCLUSION")
    reach = np.vstack([np.empty((0, 2)), *reach])
    low, high = (reach.min(axis=0), reach.max(axis=0)) if len(reach) else (np.zeros(2),) * 2
    low = _draw_note(space, stakes, low, high)
    space.reset_extents((*low, 0), (*high, 0))
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (*low, 0), (*high, 0)
    span = np.maximum(high - low, 1 / unit_m)
    document.set_modelspace_vport(
        float(max(span[1], span[0] / 1.5)) * 1.05, tuple((low + high) / 2)
    )
    return document


def _unit_number(unit_m: float) -> int:
    """Number of the drawing's unit in its header, 0 where it has none (the note says its length)."""
    for length_m, number in _INSUNITS.items():
        if math.isclose(unit_m, length_m, rel_tol=1e-9):
            return number
    return 0


def _draw_symbols(document, unit_m: float) -> None:
    """One small block for each kind of mark, in the colour of the layer it is put on."""
    m = 1 / unit_m
    end_post = document.blocks.new("END_POST")
    end_post.add_circle((0, 0), 0.12 * m)
    end_post.add_line((-0.2 * m, 0), (0.2 * m, 0))
    end_post.add_line((0, -0.2 * m), (0, 0.2 * m))
    square = [(-0.1 * m, -0.1 * m), (0.1 * m, -0.1 * m), (0.1 * m, 0.1 * m), (-0.1 * m, 0.1 * m)]
    document.blocks.new("LINE_POST").add_lwpolyline(square, close=True)
    diamond = [(0, -0.15 * m), (0.15 * m, 0), (0, 0.15 * m), (-0.15 * m, 0)]
    document.blocks.new("ANCHOR").add_lwpolyline(diamond, close=True)
    document.blocks.new("VINE").add_circle((0, 0), 0.08 * m)
    for name in ("END_POST", "LINE_POST", "ANCHOR", "VINE"):
        for place, tag in enumerate(("CODE", "ROW", "SEGMENT", "INDEX")):
            document.blocks.get(name).add_attdef(
                tag,
                (0.2 * m, -0.15 * m * place),
                dxfattribs={"layer": name, "height": _ATTRIBUTE_M * m, "flags": 1, "prompt": tag},
            )


def _draw_shape(space, shape, stakes: StakeSet, layer: str) -> list[np.ndarray]:
    """Draws any geometry; gives its vertices in the survey system."""
    reach = []
    for part in shapely.get_parts(shape, return_index=False):
        if part.geom_type == "GeometryCollection" or part.geom_type.startswith("Multi"):
            reach += _draw_shape(space, part, stakes, layer)
            continue
        polygon = part.geom_type == "Polygon"
        for line in shapely.get_rings(part) if polygon else [part]:
            if line.is_empty:
                continue
            xy = in_survey(stakes, shapely.get_coordinates(line))
            reach.append(xy)
            closed = line.geom_type == "LinearRing"
            if part.geom_type == "Point":
                space.add_point(xy[0], dxfattribs={"layer": layer})
            else:
                space.add_lwpolyline(
                    xy[:-1] if closed else xy, close=closed, dxfattribs={"layer": layer}
                )
    return reach


def _draw_note(space, stakes: StakeSet, low, high) -> np.ndarray:
    """The statement below the drawing; gives the drawing's new low corner."""
    height = LABEL_M / stakes.survey.unit_m
    width = max(float(high[0] - low[0]), 60 * height)
    text = clean(stakes.statement)
    for mark in "\\{}":
        text = text.replace(mark, "\\" + mark)
    place = (float(low[0]), float(low[1]) - 4 * height)
    style = {"layer": "NOTE", "char_height": height, "width": width, "insert": place}
    space.add_mtext(text, dxfattribs=style)
    n_lines = math.ceil(len(text) * height / width)
    return np.array([low[0], place[1] - 1.7 * height * n_lines])


def _handles(free: str, n_records: int) -> tuple[int, str]:
    """First number of the streamed records, whose handles are its hexadecimal digits and one more,
    and the first free handle after all of them. All numbers have the same count of digits."""
    first = int(free, 16) // _STEP + 1
    last = first + n_records
    if len(f"{first:X}") != len(f"{last:X}"):
        first = 16 ** (len(f"{last:X}") - 1)
        if len(f"{first + n_records:X}") != len(f"{first:X}"):
            first *= 16
    return first, f"{(first + n_records) * _STEP:X}"


def _halves(document) -> tuple[bytes, bytes]:
    """The document's text before and after the end of its entities."""
    stream = io.StringIO()
    document.write(stream)
    text = stream.getvalue()
    begin = text.index("  0\nSECTION\n  2\nENTITIES\n")
    cut = text.index("  0\nENDSEC\n", begin)
    return tuple(t.encode("utf-8", "dxfreplace") for t in (text[:cut], text[cut:]))


# ------------------------------------------------------------------------------ the many


class _Labels:
    """Ends of a block's rows, and row labels beyond the anchors, in the survey system.

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
    """

    def __init__(self, plan: RowPlan, stakes: StakeSet):
        s, unit_m = plan.segments, stakes.survey.unit_m
        height_m = min(LABEL_M, LABEL_SHARE * plan.rules.row_spacing_m)
        beyond_m = plan.rules.anchor_m + height_m
        self.height = height_m / unit_m
        spots_m = plan.segment_ends_m + beyond_m * plan.outward
        self.ends = _survey(stakes, plan.segment_ends_m)
        self.spots = _survey(stakes, spots_m)
        # A bent row's labels follow its chord.
        east, north = (self.ends[:, 1] - self.ends[:, 0]).T
        angle_deg = np.degrees(np.arctan2(north, east))
        self.flipped = (angle_deg <= -90) | (angle_deg > 90)
        self.angle_deg = np.where(self.flipped, (angle_deg + 180) % 360, angle_deg)
        self.angle_deg[self.angle_deg > 90] -= 360
        # No number is wider than its count of digits times its height.
        longest = len(str(int(s.number.max(initial=1)))) * self.height
        low, high = (
            (f(self.spots.reshape(-1, 2), axis=0) for f in (np.min, np.max))
            if len(s)
            else (None, None)
        )
        self.reach = np.array([low - longest, high + longest]) if len(s) else np.empty((0, 2))


def _survey(stakes: StakeSet, xy_m: np.ndarray) -> np.ndarray:
    flat = xy_m.reshape(-1, 2)
    parts = [in_survey(stakes, flat[i : i + RECORDS]) for i in range(0, len(flat), RECORDS)]
    return np.vstack([np.empty((0, 2)), *parts]).reshape(xy_m.shape)


def _tags(*pairs) -> list:
    """Parts of a record from group codes and values, a value being one part or a list of parts."""
    parts = []
    for code, value in pairs:
        parts += [b"%d\n" % code, *(value if isinstance(value, list) else [value]), b"\n"]
    return parts


def _entity(name: bytes, digit: bytes, owner, layer: bytes, *subclass) -> list:
    handle = [b"5\n", "handle", digit + b"\n"]
    owned = [b"330\n", *owner, b"\n"]
    rest = _tags((100, b"AcDbEntity"), (8, layer), *subclass)
    return [b"0\n" + name + b"\n", *handle, *owned, *rest]


def _row_batches(plan: RowPlan, label: _Labels, owner: bytes):
    """Rows as lines and their two labels, as (records, values without handles)."""
    if not plan.n_segments:
        return
    coordinate, flat = Decimal(DECIMALS), (30, b"0.0")
    line = Records(
        _entity(
            *(b"LINE", b"0", [owner], b"ROW"),
            *((100, b"AcDbLine"), (10, "x"), (20, "y"), flat, (11, "x1"), (21, "y1"), (31, b"0.0")),
        ),
        {"handle": Hex(), **dict.fromkeys(("x", "y", "x1", "y1"), coordinate)},
    )
    x, y, x1, y1 = label.ends.reshape(-1, 4).T
    if plan.course is None:
        yield line, {"x": x, "y": y, "x1": x1, "y1": y1}
    text = Records(
        _entity(
            *(b"TEXT", b"0", [owner], b"ROW_LABEL", (100, b"AcDbText"), (10, "x"), (20, "y"), flat),
            *((40, b"%.6f" % label.height), (1, "number"), (50, "angle"), (72, "side")),
            *((11, "x"), (21, "y"), (31, b"0.0"), (100, b"AcDbText"), (73, b"2")),
        ),
        {
            "handle": Hex(),
            "number": Whole(),
            "angle": Decimal(6),
            "side": Chosen([b"0", b"2"]),
            **dict.fromkeys(("x", "y"), coordinate),
        },
    )
    for end in (0, 1):
        yield (
            text,
            {
                "x": label.spots[:, end, 0],
                "y": label.spots[:, end, 1],
                "number": plan.segments.number,
                "angle": label.angle_deg,
                # Text that runs with the row ends at the start label's spot and begins at the far one's.
                "side": (label.flipped == bool(end)).astype(int),
            },
        )


def _names(plan: RowPlan) -> dict[str, Chosen]:
    """Code, row number and letter of every segment."""
    s = plan.segments
    return {
        "code": Chosen(segment_codes(plan, clean(plan.block.name))),
        "row": Chosen([b"%d" % number for number in s.number.tolist()]),
        "letter": Chosen([segment_letter(i).encode() for i in s.letter.tolist()]),
    }


def _mark_records(
    kind: str, names: dict[str, Chosen], owner: bytes, unit_m: float, raised: bool
) -> Records:
    """A symbol with its attributes and their end."""
    layer = kind.upper().encode()
    place = ((10, "x"), (20, "y"), (30, "z" if raised else b"0.0"))
    reference = ((100, b"AcDbBlockReference"), (66, b"1"), (2, layer), *place)
    parts = _entity(b"INSERT", b"0", [owner], layer, *reference)
    height = b"%.6g" % (_ATTRIBUTE_M / unit_m)
    insert = ["handle", b"0"]
    code = ["code", mark_infix(kind), "number"]
    tags = (("CODE", code), ("ROW", ["row"]), ("SEGMENT", ["letter"]), ("INDEX", ["index"]))
    for digit, (tag, value) in enumerate(tags, 1):
        parts += _entity(
            *(b"ATTRIB", b"%d" % digit, insert, layer, (100, b"AcDbText"), *place),
            *((40, height), (1, value), (100, b"AcDbAttribute"), (2, tag.encode()), (70, b"1")),
        )
    parts += _entity(b"SEQEND", b"5", insert, layer)
    return Records(
        parts,
        {
            "handle": Hex(),
            "x": Decimal(DECIMALS),
            "y": Decimal(DECIMALS),
            **({"z": Decimal(DECIMALS)} if raised else {}),
            "number": Whole(INDEX_DIGITS[kind]),
            **names,
            "index": Whole(),
        },
    )
