"""Edits of whole shapes: drawing, splitting, merging, copying, offsetting, naming, bringing in.

Every function gives a new project, or raises InputProblem with one sentence. Lengths in metres of
the site frame.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import shapely

from ..core.geometry.scanline import RIM_M
from ..core.layout.numbering import Place, place_of_code, segment_code
from ..core.model import Block, Exclusion, Finding, InputProblem, Project, RowRules
from .kinds import KINDS, checked_clearance_m
from .named_parts import with_parts_alike, with_renamed_parts, without_lost_parts
from .reshaping import (
    ShapeId,
    carried_widths,
    checked,
    shape_of,
    shape_words,
    with_corner_removed,
    with_shape,
)
from .wording import listed

GAP_M = 0.01
"""Blocks this near to each other are one ground when merged. [m]"""
MOST_NAME = 24
_SLIVER_M = 0.1
_STRAIGHT_M = 1e-6
_MOST_OFFSET_M = 1000.0
_MITRE = 5.0


def drawn(points, form: str) -> shapely.Geometry:
    """A shape from places as drawn, (x_m, y_m) each: form "point", "line" or "polygon".

    A place clicked twice counts once, and an area may end where it began.

    Raises
    ------
    InputProblem
        Where there are too few places, or one is no number.
    """
    xy = np.asarray(points, dtype=float).reshape(-1, 2)
    if not np.isfinite(xy).all():
        raise InputProblem("A corner that was drawn has no usable place: draw it again.")
    xy = xy[np.r_[True, (xy[1:] != xy[:-1]).any(axis=1)][: len(xy)]]
    if form == "polygon" and len(xy) > 1 and (xy[0] == xy[-1]).all():
        xy = xy[:-1]
    least, words = {
        "point": (1, "A point needs a place"),
        "line": (2, "A line needs two corners or more"),
        "polygon": (3, "An area needs three corners or more"),
    }[form]
    if len(xy) < least:
        raise InputProblem(f"{words}: set {least - len(xy)} more.")
    make = {"point": lambda a: shapely.points(a[0]), "line": shapely.linestrings}
    return make.get(form, shapely.polygons)(xy)


def next_name(project: Project, beside: tuple[str, ...] = ()) -> str:
    """The next free block name: B and one more than the highest number in use."""
    names = [*(b.name for b in project.blocks), *beside]
    numbers = [int(m[1]) for m in (re.fullmatch(r"[Bb](\d+)", n, re.ASCII) for n in names) if m]
    return f"B{max(numbers, default=0) + 1}"


def _new_block(project: Project, name: str, outline) -> Block:
    """A block with the rules of the last one, or rows along its own longest edge."""
    from .opening import longest_edge_bearing_deg

    if project.blocks:
        last = project.blocks[-1]
        return replace(last, name=name, outline=outline, edge_widths=(), overrides=(), guide=None)
    return Block(name, outline, RowRules(bearing_deg=longest_edge_bearing_deg(outline)))


def with_block_drawn(project: Project, points) -> Project:
    """The project with a block more, named with the next free name, with the last block's rules."""
    name, outline = next_name(project), drawn(points, "polygon")
    more = replace(project, blocks=(*project.blocks, _new_block(project, name, outline)))
    return checked(more, ShapeId("block", name))


def with_hole(project: Project, block_name: str, points) -> Project:
    """The project with a hole in a block's outline, behind the holes it has."""
    block, hole = project.block(block_name), drawn(points, "polygon")
    outline = shapely.Polygon(block.outline.exterior, [*block.outline.interiors, hole.exterior])
    return checked(
        project.with_block(replace(block, outline=outline)), ShapeId("block", block_name)
    )


def without_hole(project: Project, block_name: str, ring: int) -> Project:
    """The project with the ground of a hole (ring 1, 2, …) given back to its block."""
    block = project.block(block_name)
    holes = list(block.outline.interiors)
    if not 1 <= ring <= len(holes):
        raise IndexError(f"ring: {block_name} has no hole {ring}")
    del holes[ring - 1]
    widths = tuple(
        replace(w, ring=w.ring - (w.ring > ring)) for w in block.edge_widths if w.ring != ring
    )
    outline = shapely.Polygon(block.outline.exterior, holes)
    return project.with_block(replace(block, outline=outline, edge_widths=widths))


def split(project: Project, block_name: str, line_points) -> Project:
    """The project with a block cut along a line; the largest part keeps the name.

    The others follow it with the next free names and the same rules. Own widths stay on the edges
    that lie on old ones; what was decided for single rows goes to the part it stands in.

    Raises
    ------
    InputProblem
        Where the line does not cut the block, or would cut off a sliver.
    """
    block = project.block(block_name)
    parts = _cut(block.outline, drawn(line_points, "line"))
    if len(parts) < 2:
        raise InputProblem(
            f"The line does not cut {block_name} in two: draw it from one edge across to another."
        )
    if shapely.is_empty(shapely.buffer(parts, -_SLIVER_M / 2, quad_segs=1)).any():
        raise InputProblem(
            f"The line runs along an edge of {block_name} and would cut off a sliver: draw it "
            "farther in."
        )
    parts = shapely.orient_polygons(parts[np.argsort(-shapely.area(parts), kind="stable")])
    names = [block_name]
    for _ in parts[1:]:
        names.append(next_name(project, tuple(names)))
    places = shapely.points([(o.x_m, o.y_m) for o in block.overrides] or np.empty((0, 2)))
    holder = np.argmin(shapely.distance(parts[:, None], places[None, :]), axis=0)
    made = [
        replace(
            block,
            name=name,
            outline=part,
            edge_widths=carried_widths(part, [(block.outline, block.edge_widths)]),
            overrides=tuple(
                o for o, h in zip(block.overrides, holder.tolist(), strict=True) if h == i
            ),
        )
        for i, (name, part) in enumerate(zip(names, parts, strict=True))
    ]
    at = project.blocks.index(block)
    project = replace(project, blocks=(*project.blocks[:at], *made, *project.blocks[at + 1 :]))
    return with_parts_alike(project, block_name, tuple(names[1:]))


def _cut(outline, line) -> np.ndarray:
    """The parts a line cuts an area into, as an array of polygons."""
    # Ends snapped onto an edge may fall short of it by rounding.
    xy = shapely.get_coordinates(line).copy()
    for end, towards in ((0, 1), (-1, -2)):
        step = xy[end] - xy[towards]
        xy[end] = xy[end] + step / math.hypot(*step) * RIM_M
    # A cut that passes a corner by a hair goes through it, and leaves no edge of a hair's length.
    corners = shapely.multipoints(shapely.get_coordinates(outline))
    line = shapely.snap(shapely.linestrings(xy), corners, RIM_M)
    noded = shapely.union_all([shapely.boundary(outline), line])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    shapely.prepare(outline)
    return faces[shapely.contains(outline, shapely.point_on_surface(faces))]


def merged(project: Project, names) -> Project:
    """The project with blocks that touch or overlap made one, in the place of the first.

    It has the name and the rules of the first named. Gaps up to GAP_M between them are closed. Own
    widths stay on the edges that are left; what was decided for single rows stays.

    Raises
    ------
    InputProblem
        Where fewer than two are named, or one lies apart from the rest.
    """
    names = list(dict.fromkeys(names))
    if len(names) < 2:
        raise InputProblem("Merging needs two blocks or more: pick another one.")
    several = [project.block(name) for name in names]
    _refuse_apart(several)
    outlines = np.array([b.outline for b in several])
    whole = shapely.union_all(outlines)
    if whole.geom_type != "Polygon":
        whole = _union_across_gaps(outlines)
    if whole.geom_type != "Polygon":
        raise InputProblem(
            f"{listed(names)} meet in a corner only and make no single outline: move a corner so "
            "that they share an edge."
        )
    whole = shapely.orient_polygons(_without_slits(whole))
    first = several[0]
    block = replace(
        first,
        outline=whole,
        edge_widths=carried_widths(whole, [(b.outline, b.edge_widths) for b in several], GAP_M),
        overrides=tuple(dict.fromkeys(o for b in several for o in b.overrides)),
    )
    blocks = [
        block if b.name == first.name else b
        for b in project.blocks
        if b.name == first.name or b.name not in names
    ]
    project = without_lost_parts(replace(project, blocks=tuple(blocks)))
    return _without_seams(project, first.name, outlines)


def _refuse_apart(several: list[Block]) -> None:
    """Refuse blocks that no chain of neighbours links to the first."""
    outlines = np.array([b.outline for b in several])
    linked = np.arange(len(several)) == 0
    for _ in several:
        near = shapely.dwithin(outlines[:, None], outlines[None, linked], GAP_M).any(axis=1)
        if (near == linked).all():
            break
        linked = near
    if not linked.all():
        apart = outlines[~linked]
        away = shapely.distance(apart, shapely.union_all(outlines[linked]))
        i = int(np.argmin(away))
        name = several[int(np.flatnonzero(~linked)[i])].name
        rest = listed([b.name for b in several]) if len(several) == 2 else name
        end = "lie" if len(several) == 2 else "lies"
        raise InputProblem(
            f"{rest} {end} {away[i]:.2f} m apart{'' if len(several) == 2 else ' from the others'}: "
            f"blocks can be merged up to {GAP_M * 100:g} cm from each other."
        )


def _union_across_gaps(outlines):
    """The union once corners that face each other across a gap are laid on each other."""
    whole, waiting = outlines[0], list(outlines[1:])
    while waiting:
        away = shapely.distance(whole, waiting)
        other = waiting.pop(int(np.argmin(away)))
        laid = shapely.snap(other, whole, GAP_M * 1.001)
        whole = shapely.union(shapely.snap(whole, laid, GAP_M * 1.001), laid)
    return whole


def _without_slits(whole):
    """The outline without holes thinner than a gap that merging closes."""
    holes = shapely.polygons(shapely.get_rings(whole)[1:])
    wide = ~shapely.is_empty(shapely.buffer(holes, -GAP_M / 2, join_style="mitre"))
    if wide.all():
        return whole
    return shapely.Polygon(whole.exterior, [h.exterior for h in holes[wide]])


def _without_seams(project: Project, name: str, outlines) -> Project:
    """The project without the corners left on straight edges where blocks met."""
    which = ShapeId("block", name)
    block = project.block(name)
    parts, owner = shapely.get_coordinates(outlines, return_index=True)
    places, at = np.unique(parts, axis=0, return_inverse=True)
    pairs = np.unique(np.column_stack([at.ravel(), owner]), axis=0)
    seams = {tuple(p) for p in places[np.bincount(pairs[:, 0]) > 1].tolist()}
    for ring, line in reversed(list(enumerate(shapely.get_rings(block.outline)))):
        xy = shapely.get_coordinates(line)[:-1]
        before, after = np.roll(xy, 1, axis=0), np.roll(xy, -1, axis=0)
        step = after - before
        size = np.maximum(np.hypot(*step.T), 1e-300)
        away = xy - before
        off = np.abs(step[:, 0] * away[:, 1] - step[:, 1] * away[:, 0]) / size
        onward = ((after - xy) * away).sum(axis=1) > 0
        for i in reversed(np.flatnonzero((off <= _STRAIGHT_M) & onward).tolist()):
            if tuple(xy[i].tolist()) in seams and _same_width(project.block(name), ring, i):
                project = with_corner_removed(project, which, ring, i)
    return project


def _same_width(block: Block, ring: int, index: int) -> bool:
    """Whether both edges at a corner have the same own width, or none."""
    count = int(shapely.get_num_coordinates(shapely.get_rings(block.outline)[ring])) - 1
    own = {w.edge: w.width_m for w in block.edge_widths if w.ring == ring}
    return own.get((index - 1) % count) == own.get(index)


def moved(project: Project, which: ShapeId, dx_m: float, dy_m: float) -> Project:
    """The project with a shape elsewhere, and all that stands in a block by its place with it."""
    if which.kind == "exclusion":
        shape = _shifted(shape_of(project, which), dx_m, dy_m)
        return checked(with_shape(project, which, shape), which)
    block = _shifted_block(project.block(which.key), dx_m, dy_m)
    return checked(project.with_block(block), which)


def copied(project: Project, which: ShapeId, dx_m: float, dy_m: float) -> Project:
    """The project with a copy of a shape, moved by a step; it stands last.

    A block's copy has the next free name, and its rules, widths and single decisions moved along.
    """
    if which.kind == "exclusion":
        one = project.exclusions[which.key]
        copy = replace(one, shape=_shifted(one.shape, dx_m, dy_m))
        more = replace(project, exclusions=(*project.exclusions, copy))
        return checked(more, ShapeId("exclusion", len(project.exclusions)))
    name = next_name(project)
    copy = replace(_shifted_block(project.block(which.key), dx_m, dy_m), name=name)
    return checked(replace(project, blocks=(*project.blocks, copy)), ShapeId("block", name))


def _shifted(shape, dx_m: float, dy_m: float):
    return shapely.transform(shape, lambda xy: xy + (dx_m, dy_m))


def _shifted_block(block: Block, dx_m: float, dy_m: float) -> Block:
    if not (math.isfinite(dx_m) and math.isfinite(dy_m)):
        raise InputProblem(f"The step to move {block.name} by is no number: give it in metres.")

    def along(value):
        return replace(value, x_m=value.x_m + dx_m, y_m=value.y_m + dy_m)

    guide = block.guide
    if guide is not None:
        guide = replace(guide, points_m=tuple((x + dx_m, y + dy_m) for x, y in guide.points_m))
    return replace(
        block,
        outline=_shifted(block.outline, dx_m, dy_m),
        rules=replace(block.rules, alleys=tuple(map(along, block.rules.alleys))),
        overrides=tuple(map(along, block.overrides)),
        guide=guide,
    )


def offset_shape(project: Project, which: ShapeId, by_m: float) -> Project:
    """The project with a shape grown by a distance all round, or shrunk where it is negative.

    Areas keep sharp corners; a point or a line becomes an area with round ones. Where no edge is
    lost, corners keep their numbers and edges their own widths; else own widths are dropped, and
    edges lie within a hundredth of the distance.

    Raises
    ------
    InputProblem
        Where the shape would vanish or fall apart, or a hole would close.
    """
    shape, words = shape_of(project, which), shape_words(project, which)
    if not (math.isfinite(by_m) and abs(by_m) <= _MOST_OFFSET_M):
        raise InputProblem(f"{by_m:g} m cannot be used to grow {words}: give 1000 m at most.")
    if by_m == 0:
        return project
    is_area = shape.geom_type in ("Polygon", "MultiPolygon")
    if not is_area and by_m < 0:
        raise InputProblem(
            f"{words[0].upper()}{words[1:]} has no width to shrink: grow it instead."
        )
    style = {"join_style": "mitre", "mitre_limit": _MITRE} if is_area else {"quad_segs": 8}
    with np.errstate(
        invalid="ignore"
    ):  # mitres of edges that fold back; what they come to is checked
        grown = shapely.buffer(shape, by_m, **style)
    n_parts = shapely.get_num_geometries(grown)
    if grown.is_empty:
        raise InputProblem(f"Shrunk by {-by_m:g} m, {words} would vanish: take a smaller step.")
    if n_parts > shapely.get_num_geometries(shape):
        raise InputProblem(
            f"Shrunk by {-by_m:g} m, {words} would fall into {n_parts} parts: take a smaller step, or "
            "split it first."
        )
    if is_area and by_m > 0 and len(shapely.get_rings(grown)) < len(shapely.get_rings(shape)):
        raise InputProblem(
            f"Grown by {by_m:g} m, {words} would lose a hole: take the hole out first, or a smaller "
            "step."
        )
    same = _offset_corner_by_corner(shape, by_m) if shape.geom_type == "Polygon" else None
    if same is None or not _is_the_offset(same, grown, by_m):
        return checked(with_shape(_without_widths(project, which), which, grown), which)
    if which.kind == "exclusion":
        return checked(with_shape(project, which, same), which)
    return checked(project.with_block(replace(project.block(which.key), outline=same)), which)


def _without_widths(project: Project, which: ShapeId) -> Project:
    if which.kind == "exclusion":
        return project
    return project.with_block(replace(project.block(which.key), edge_widths=()))


def _is_the_offset(same, grown, by_m: float) -> bool:
    """Whether corners moved one by one give what a buffer gives.

    The buffer passes over corners that turn in by less than a hundredth of its distance.
    """
    if not shapely.is_valid(same):
        return False
    apart_m2 = shapely.area(shapely.symmetric_difference(same, grown))
    return bool(apart_m2 <= 0.02 * abs(by_m) * shapely.length(grown))


def _offset_corner_by_corner(polygon, by_m: float):
    """Each corner moved to where its two offset edges meet.

    None where an edge would turn about, or a corner would run out farther than the mitre limit.
    """
    rings = []
    for number, ring in enumerate(shapely.get_rings(polygon)):
        xy = shapely.get_coordinates(ring)[:-1]
        step = np.roll(xy, -1, axis=0) - xy
        size = np.hypot(*step.T)
        if (size == 0).any():
            return None
        # To the right of an edge whose area lies on its left.
        turn = 1.0 if ring.is_ccw == (number == 0) else -1.0
        out = np.column_stack([step[:, 1], -step[:, 0]]) / size[:, None] * turn
        back = np.roll(out, 1, axis=0)
        both = 1 + (out * back).sum(axis=1)  # twice the squared cosine of half the turn
        ahead = (back[:, 0] * out[:, 1] - back[:, 1] * out[:, 0]) * turn * by_m > 0
        if (both < np.where(ahead, 2 / _MITRE**2, 1e-9)).any():
            return None
        placed = xy + by_m * (out + back) / both[:, None]
        if (((np.roll(placed, -1, axis=0) - placed) * step).sum(axis=1) <= 0).any():
            return None
        rings.append(placed)
    return shapely.Polygon(rings[0], rings[1:])


def without_shape(project: Project, which: ShapeId) -> Project:
    """The project without a block or an exclusion.

    Raises
    ------
    InputProblem
        Where it is the only block.
    """
    if which.kind == "exclusion":
        rest = list(project.exclusions)
        del rest[which.key]
        return replace(project, exclusions=tuple(rest))
    block = project.block(which.key)
    if len(project.blocks) == 1:
        raise InputProblem(
            f"{block.name} is the only block and a project needs one: draw another before deleting it."
        )
    left = tuple(b for b in project.blocks if b.name != block.name)
    return without_lost_parts(replace(project, blocks=left))


_NAME = re.compile(r"[^\W_][\w-]*")


def checked_name(project: Project, name: str, instead_of: str = "") -> str:
    """A name a block can have, trimmed: its codes must be read back as what they name.

    Raises
    ------
    InputProblem
        Where it is empty, too long, has other signs, or is another block's; upper and lower case are
        one.
    """
    name = name.strip()
    if not name or len(name) > MOST_NAME:
        raise InputProblem(f"A block's name has 1 to {MOST_NAME} signs: {name!r} has {len(name)}.")
    back = place_of_code(segment_code(name, 1, 0))
    if (
        not _NAME.fullmatch(name)
        or back != Place(name.upper(), 1, 0)
        or len(name.upper()) != len(name)
    ):
        raise InputProblem(
            f"{name!r} cannot be a block's name: begin with a letter or digit, and use letters, "
            "digits, - and _ only."
        )
    for block in project.blocks:
        if block.name != instead_of and block.name.upper() == name.upper():
            raise InputProblem(f"There is a block {block.name} already: choose another name.")
    return name


def renamed(project: Project, old: str, new: str) -> Project:
    """The project with a block of another name; its codes begin with it."""
    block = project.block(old)
    named = replace(block, name=checked_name(project, new, old))
    findings = tuple(
        replace(f, where=named.name, message=f.message.replace(f"of {old} ", f"of {named.name} "))
        if f.where == old
        else f
        for f in project.site.findings
    )
    project = replace(
        project,
        site=replace(project.site, findings=findings),
        blocks=tuple(named if b is block else b for b in project.blocks),
    )
    return with_renamed_parts(project, old, named.name)


def with_exclusion(
    project: Project, shape, kind: str = "", clearance_m: float | None = None, name: str = ""
) -> Project:
    """The project with an exclusion more; without a clearance it has that of its kind, or 0 m."""
    if clearance_m is None:
        clearance_m = KINDS[kind].clearance_m if kind in KINDS else 0.0
    one = Exclusion(shape, checked_clearance_m(clearance_m), name.strip(), kind.strip())
    more = replace(project, exclusions=(*project.exclusions, one))
    return checked(more, ShapeId("exclusion", len(project.exclusions)))


def with_exclusion_kind(
    project: Project, index: int, kind: str, clearance_m: float | None = None
) -> Project:
    """The project with an exclusion of another kind, and another clearance where one is given."""
    several = list(project.exclusions)
    width = several[index].clearance_m if clearance_m is None else checked_clearance_m(clearance_m)
    several[index] = replace(several[index], kind=kind.strip(), clearance_m=width)
    return replace(project, exclusions=tuple(several))


def imported_blocks(
    project: Project, path, crs: str | None = None, unit: str | None = None
) -> Project:
    """The project with the outlines of a file as more blocks, with the last block's rules.

    What was found while reading is added to the site's findings. `crs` and `unit` are for files that
    do not say theirs.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or an outline of it lies too far away.
    """
    from ..formats import crs as systems
    from ..formats.reading import read_outlines

    read = read_outlines(path, crs=crs, unit=unit)
    move, findings = systems.to_frame(read.crs, project.site.frame), list(read.findings)
    shift = systems.shift_onto(project.site.frame, read.crs)
    if shift is not None:
        said = f"{read.source} is on another datum than the site. Shift used: {shift}."
        findings.append(Finding("datum-shift", said, read.source, severity="caution"))
    for shape in read.shapes:
        name, outline = next_name(project), shapely.transform(shape.geometry, move)
        if not np.isfinite(shapely.get_coordinates(outline)).all():
            raise InputProblem(
                f"{read.source} has corners outside its coordinate system: check it, or give another."
            )
        project = replace(project, blocks=(*project.blocks, _new_block(project, name, outline)))
        try:
            project = checked(project, ShapeId("block", name))
        except InputProblem as problem:
            raise InputProblem(f"{read.source}: {problem}") from None
    site = replace(project.site, findings=(*project.site.findings, *findings))
    return replace(project, site=site)
