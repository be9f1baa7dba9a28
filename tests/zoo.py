"""Awkward outlines, all valid, in metres near (0, 0), and random ones from a seed.

Every outline here is meant to be laid with any bearing; the comment says what it tempts a program
to get wrong. Shapes that no reader may hand on (crossing rings) are not here.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.affinity import rotate, translate


def box_with(*holes, width_m=60.0, length_m=150.0) -> shapely.Polygon:
    """A box with its left bottom corner at (0, 0) and holes given as rings."""
    return shapely.Polygon([(0, 0), (width_m, 0), (width_m, length_m), (0, length_m)], holes)


def regular(n: int, radius_m: float, x_m: float = 0.0, y_m: float = 0.0) -> list:
    """Corners of a regular polygon, counter-clockwise, the first one east of the centre."""
    angle = 2 * np.pi * np.arange(n) / n
    return np.column_stack(
        [x_m + radius_m * np.cos(angle), y_m + radius_m * np.sin(angle)]
    ).tolist()


def wavy(n: int, radius_m: float, waves: int, depth: float) -> shapely.Polygon:
    """A closed curve of `n` corners whose radius swings by the share `depth`."""
    angle = 2 * np.pi * np.arange(n) / n
    r = radius_m * (1 + depth * np.sin(waves * angle))
    return shapely.Polygon(np.column_stack([r * np.cos(angle), r * np.sin(angle)]))


def comb(teeth: int = 6, tooth_m: float = 12.0, gap_m: float = 7.2) -> shapely.Polygon:
    """A spine at the bottom with teeth along y: one row line meets one tooth, or the spine alone."""
    pitch = tooth_m + gap_m
    parts = [shapely.box(k * pitch, 0, k * pitch + tooth_m, 100) for k in range(teeth)]
    return shapely.union_all([shapely.box(0, 0, (teeth - 1) * pitch + tooth_m, 30), *parts])


def spiral(turns: int = 3, lane_m: float = 14.0) -> shapely.Polygon:
    """A rectangular spiral lane: lines along y meet it many times."""
    x = y = 0.0
    path, reach = [(x, y)], lane_m * 2
    for k in range(turns * 4):
        dx, dy = ((1, 0), (0, 1), (-1, 0), (0, -1))[k % 4]
        x, y = x + dx * reach, y + dy * reach
        path.append((x, y))
        reach += lane_m if k % 2 else 0.0
    return shapely.LineString(path).buffer(lane_m * 0.35, cap_style="flat", join_style="mitre")


def star(points: int = 7, outer_m: float = 90.0, inner_m: float = 35.0) -> shapely.Polygon:
    """Sharp corners in and out."""
    angle = np.pi * np.arange(2 * points) / points
    r = np.where(np.arange(2 * points) % 2, inner_m, outer_m)
    return shapely.Polygon(np.column_stack([r * np.cos(angle), r * np.sin(angle)]))


def _zoo() -> dict[str, shapely.Polygon]:
    spacing = 2.4
    return {
        # One end is a point: rows end in nothing.
        "needle": shapely.Polygon([(0, 0), (12, 0), (6, 300)]),
        # Rows are cut in two by a hole.
        "hole": box_with([(20, 50), (40, 50), (40, 90), (20, 90)]),
        # A hole that touches the shell in one corner.
        "hole touching the shell": box_with([(0, 75), (20, 60), (20, 90)]),
        # A hole whose left edge lies exactly on a row line of 2.4 m from x = 0.
        "hole flush with a row": box_with([(9.6, 50), (30, 50), (30, 90), (9.6, 90)]),
        "comb": comb(),
        "spiral": spiral(),
        "L": shapely.union_all([shapely.box(0, 0, 24, 150), shapely.box(0, 0, 72, 40)]),
        "U": shapely.union_all(
            [shapely.box(0, 0, 24, 150), shapely.box(0, 0, 72, 40), shapely.box(48, 0, 72, 150)]
        ),
        "T": shapely.union_all([shapely.box(24, 0, 48, 150), shapely.box(0, 110, 72, 150)]),
        # Corners in the middle of straight edges split nothing.
        "collinear corners": shapely.Polygon(
            [(0, 0), (20, 0), (40, 0), (60, 0), (60, 50), (60, 100), (60, 150), (0, 150), (0, 75)]
        ),
        "clockwise": shapely.Polygon([(0, 0), (0, 150), (60, 150), (60, 0)]),
        "hole wound like the shell": box_with([(20, 50), (40, 50), (40, 90), (20, 90)][::-1]),
        "tiny": shapely.box(0, 0, 0.02, 0.02),
        "huge": shapely.box(-1500, -1500, 1500, 1500),
        # Eastings and northings of a grid: sums lose digits.
        "far from the origin": translate(shapely.box(0, 0, 60, 150), 288_832.04, 6_180_001.32),
        "5,000 corners": wavy(5000, 130.0, 9, 0.15),
        "star": star(),
        "annulus": shapely.Polygon(regular(64, 90), [regular(64, 45)]),
        # A notch whose tip lies exactly on a row line.
        "notch on a row": shapely.Polygon(
            [(0, 0), (60, 0), (60, 150), (30, 150), (24, 100), (18, 150), (0, 150)]
        ),
        # Every corner on a line of a 2.4 m row lattice.
        "corners on rows": shapely.Polygon(
            [
                (spacing * k, y)
                for k, y in (
                    (0, 30),
                    (5, 0),
                    (15, 20),
                    (20, 0),
                    (25, 90),
                    (15, 150),
                    (10, 120),
                    (5, 150),
                )
            ]
        ),
        # Both edges lean by 0.6 mm in 150 m: a row along them is on the rim all the way.
        "almost parallel": shapely.Polygon([(0, 0), (60, 0), (60.0006, 150), (0.0006, 150)]),
        # The right edge leans by a hand's width: rows run out of it at a grazing angle.
        "grazing": shapely.Polygon([(0, 0), (60, 0), (60.3, 150), (-0.3, 150)]),
        # A cut 1 cm wide, and one narrower than the rim's millimetre.
        "slit": shapely.Polygon(
            [
                (0, 0),
                (29.995, 0),
                (29.995, 100),
                (30.005, 100),
                (30.005, 0),
                (60, 0),
                (60, 150),
                (0, 150),
            ]
        ),
        "hairline": shapely.Polygon(
            [
                (0, 0),
                (29.9998, 0),
                (29.9998, 100),
                (30.0002, 100),
                (30.0002, 0),
                (60, 0),
                (60, 150),
                (0, 150),
            ]
        ),
        # The plantable area is a few centimetres wide.
        "one row wide": shapely.box(0, 0, 6.05, 120),
    }


ZOO = _zoo()
"""Name to outline."""


def turned(geometry, bearing_deg: float):
    """The shape turned clockwise about (0, 0), as a bearing is."""
    return rotate(geometry, -bearing_deg, origin=(0, 0))


def random_star(rng, corners: int, radius_m: float) -> shapely.Polygon:
    """Corners at random distances around the middle, in order of angle."""
    angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
    r = radius_m * rng.uniform(0.35, 1.0, corners)
    polygon = shapely.Polygon(np.column_stack([r * np.cos(angle), r * np.sin(angle)]))
    return (
        polygon if polygon.is_valid and polygon.area > 100 else random_hull(rng, corners, radius_m)
    )


def random_hull(rng, corners: int, radius_m: float) -> shapely.Polygon:
    """Convex hull of random points."""
    return shapely.MultiPoint(rng.uniform(-radius_m, radius_m, (max(corners, 4), 2))).convex_hull


def random_rectilinear(rng, boxes: int, radius_m: float, grid_m: float = 2.5) -> shapely.Polygon:
    """Boxes on a grid joined, with boxes cut out: edges and corners fall on common lines."""
    n = int(radius_m // grid_m)

    def a_box(least: int, most: int):
        x, y = rng.integers(-n, n, 2)
        w, h = rng.integers(least, most, 2)
        return shapely.box(x * grid_m, y * grid_m, (x + w) * grid_m, (y + h) * grid_m)

    solid = shapely.union_all([a_box(n // 2, n + 1) for _ in range(boxes)])
    gone = shapely.union_all([a_box(1, max(n // 4, 3)) for _ in range(boxes)])
    parts = shapely.get_parts(shapely.difference(solid, gone))
    return max(parts, key=shapely.area)


def random_outline(rng) -> shapely.Polygon:
    """One of the random kinds, 40 to 160 m across, sometimes with a hole, moved a little."""
    radius = rng.uniform(40, 120)
    kind = rng.integers(3)
    if kind == 0:
        polygon = random_star(rng, int(rng.integers(5, 16)), radius)
    elif kind == 1:
        polygon = random_hull(rng, int(rng.integers(5, 20)), radius)
    else:
        polygon = random_rectilinear(rng, int(rng.integers(2, 5)), radius)
    if rng.random() < 0.3:
        middle = polygon.representative_point()
        hole = shapely.Polygon(
            regular(int(rng.integers(3, 9)), rng.uniform(4, 15), middle.x, middle.y)
        )
        if shapely.contains_properly(polygon, hole):
            polygon = shapely.difference(polygon, hole)
    shift = rng.uniform(-300, 300, 2) if kind != 2 else np.zeros(2)
    return translate(polygon, *shift)


def edge_bearing_deg(polygon: shapely.Polygon, index: int) -> float:
    """Bearing of a shell edge, clockwise from north. [deg]"""
    (x0, y0), (x1, y1) = polygon.exterior.coords[index : index + 2]
    return math.degrees(math.atan2(x1 - x0, y1 - y0)) % 360
