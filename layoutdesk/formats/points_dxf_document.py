"""The document of a hand-off's drawing: its header, layers, symbols, outlines, exclusions and note, by ezdxf."""

from __future__ import annotations

import io
import math

import numpy as np
import shapely

from ..core.model.handoff import POINT_KINDS
from .handoffset import HandOffSet
from .point_records import KIND_NAMES, placed
from .stake_chunks import clean

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

SINGLE_LAYERS = {
    "OUTLINE_CORNER": (7, None),
    "EXCLUSION_CORNER": (32, 0xA33B2B),
    "CONTROL": (220, 0x8E2A6A),
}
"""The same of points that stand in no row, where there are any."""

NO_HEIGHT = "_NO_HEIGHT"
"""Ends the names of layers of what stands at 0 because the ground is not known there."""

LABEL_M = 1.25
"""Height of row labels: 2.5 mm plotted at 1:500. [m]"""

ATTRIBUTE_M = 0.1
"""Height of the letters of attributes. [m]"""

_INSUNITS = {1.0: 6, 0.3048: 2, 1200 / 3937: 21}
"""Numbers of the metre, the foot and the US survey foot in a drawing's header."""


def layer_of(kind: int) -> str:
    """Layer, and symbol, of points of a kind."""
    return KIND_NAMES[kind].upper()


def drawn_document(
    hand: HandOffSet,
    reach: list[np.ndarray],
    tags: tuple[str, ...],
    note: str,
    *,
    flat: bool = True,
    no_height: tuple[str, ...] = (),
):
    """The drawing with everything but rows, labels and symbols.

    Parameters
    ----------
    hand : HandOffSet
    reach : list of float array, shape (n, 2)
        Places of what will be drawn besides, in written coordinates.
    tags : tuple of str
        Attributes of the symbols.
    note : str
        What stands below the drawing.
    flat : bool
        Whether rows that bend, outlines and exclusions are drawn here, without heights.
    no_height : tuple of str
        Layers that have a second one for what stands at 0 because the ground is not known.

    Returns
    -------
    ezdxf document
    """
    import ezdxf

    unit_m = hand.placing.unit_m
    document = ezdxf.new("R2010", setup=False)
    document.header["$INSUNITS"] = _unit_number(unit_m)
    document.header["$MEASUREMENT"] = 0 if _unit_number(unit_m) in (2, 21) else 1
    # Points of exclusions show as a cross in a circle, which a dot would not.
    document.header["$PDMODE"], document.header["$PDSIZE"] = 34, 1 / unit_m
    document.header.custom_vars.append("Layout Desk", clean(hand.statement))
    document.linetypes.add("EXCLUSION", [1.5 / unit_m, 1.0 / unit_m, -0.5 / unit_m])
    symbols = ["END_POST", "LINE_POST", "ANCHOR", "VINE"]
    there = [layer_of(POINT_KINDS.index(kind)) for kind in hand.points.counts]
    more = [name for name in SINGLE_LAYERS if name in there]
    layers = LAYERS | {name: SINGLE_LAYERS[name] for name in more}
    layers |= {name + NO_HEIGHT: layers[name] for name in no_height}
    for name, (colour, rgb) in layers.items():
        layer = document.layers.add(name, color=colour)
        if rgb is not None:
            layer.rgb = (rgb >> 16, rgb >> 8 & 255, rgb & 255)
        if name in ("EXCLUSION", "EXCLUSION" + NO_HEIGHT):
            layer.dxf.linetype = "EXCLUSION"
    _draw_symbols(document, unit_m, (*symbols, *more), tags)
    space = document.modelspace()
    reach = [*reach]
    for plan in hand.plans:
        reach += _draw_shape(space if flat else None, plan.block.outline, hand, "OUTLINE")
        if plan.course is not None and flat:
            for row in _bent_rows(hand, plan):
                reach += _draw_shape(space, row, hand, "ROW")
    for exclusion in hand.project.exclusions:
        reach += _draw_shape(space if flat else None, exclusion.shape, hand, "EXCLUSION")
    reach = np.vstack([np.empty((0, 2)), *reach])
    low, high = (reach.min(axis=0), reach.max(axis=0)) if len(reach) else (np.zeros(2),) * 2
    low = _draw_note(space, note, unit_m, low, high)
    space.reset_extents((*low, 0), (*high, 0))
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (*low, 0), (*high, 0)
    span = np.maximum(high - low, 1 / unit_m)
    document.set_modelspace_vport(
        float(max(span[1], span[0] / 1.5)) * 1.05, tuple((low + high) / 2)
    )
    return document


def _bent_rows(hand: HandOffSet, plan):
    """Lines of the block's chosen rows."""
    lines = hand.lines
    for i in np.flatnonzero(lines.kind == 0).tolist():
        if lines.block[i] == plan.block.name:
            yield shapely.LineString(lines.xy_m[lines.first[i] : lines.first[i + 1]])


def _unit_number(unit_m: float) -> int:
    """Number of the drawing's unit in its header, 0 where it has none (the note says its length)."""
    for length_m, number in _INSUNITS.items():
        if math.isclose(unit_m, length_m, rel_tol=1e-9):
            return number
    return 0


def _draw_symbols(document, unit_m: float, names: tuple[str, ...], tags: tuple[str, ...]) -> None:
    """One small block for each kind of point, in the colour of the layer it is put on."""
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
    for name in names:
        if name in SINGLE_LAYERS:
            _draw_single(document.blocks.new(name), name, m)
        for place, tag in enumerate(tags):
            document.blocks.get(name).add_attdef(
                tag,
                (0.2 * m, -0.15 * m * place),
                dxfattribs={"layer": name, "height": ATTRIBUTE_M * m, "flags": 1, "prompt": tag},
            )


def _draw_single(symbol, name: str, m: float) -> None:
    """A triangle about a dot for control, a slanting cross for corners, in a square for an exclusion's."""
    if name == "CONTROL":
        corners = [(-0.26 * m, -0.15 * m), (0.26 * m, -0.15 * m), (0, 0.3 * m)]
        symbol.add_lwpolyline(corners, close=True)
        symbol.add_circle((0, 0), 0.02 * m)
        return
    for y in (-0.15 * m, 0.15 * m):
        symbol.add_line((-0.15 * m, y), (0.15 * m, -y))
    if name == "EXCLUSION_CORNER":
        square = [(-0.15 * m, -0.15 * m), (0.15 * m, -0.15 * m), (0.15 * m, 0.15 * m)]
        symbol.add_lwpolyline([*square, (-0.15 * m, 0.15 * m)], close=True)


def _draw_shape(space, shape, hand: HandOffSet, layer: str) -> list[np.ndarray]:
    """Draws any geometry, or nothing without a space; gives its vertices in written coordinates."""
    reach = []
    for part in shapely.get_parts(shape, return_index=False):
        if part.geom_type == "GeometryCollection" or part.geom_type.startswith("Multi"):
            reach += _draw_shape(space, part, hand, layer)
            continue
        polygon = part.geom_type == "Polygon"
        for line in shapely.get_rings(part) if polygon else [part]:
            if line.is_empty:
                continue
            xy = placed(hand, shapely.get_coordinates(line))
            reach.append(xy)
            closed = line.geom_type == "LinearRing"
            if space is None:
                continue
            if part.geom_type == "Point":
                space.add_point(xy[0], dxfattribs={"layer": layer})
            else:
                space.add_lwpolyline(
                    xy[:-1] if closed else xy, close=closed, dxfattribs={"layer": layer}
                )
    return reach


def _draw_note(space, note: str, unit_m: float, low, high) -> np.ndarray:
    """The note below the drawing; gives the drawing's new low corner."""
    height = LABEL_M / unit_m
    width = max(float(high[0] - low[0]), 60 * height)
    text = clean(note)
    for mark in "\\{}":
        text = text.replace(mark, "\\" + mark)
    place = (float(low[0]), float(low[1]) - 4 * height)
    style = {"layer": "NOTE", "char_height": height, "width": width, "insert": place}
    space.add_mtext(text, dxfattribs=style)
    n_lines = math.ceil(len(text) * height / width)
    return np.array([low[0], place[1] - 1.7 * height * n_lines])


def halves(document) -> tuple[bytes, bytes]:
    """The document's text before and after the end of its entities."""
    stream = io.StringIO()
    document.write(stream)
    text = stream.getvalue()
    begin = text.index("  0\nSECTION\n  2\nENTITIES\n")
    cut = text.index("  0\nENDSEC\n", begin)
    return tuple(t.encode("utf-8", "dxfreplace") for t in (text[:cut], text[cut:]))
