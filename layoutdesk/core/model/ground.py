"""What is on the ground: the site's frame, blocks and exclusions."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import shapely

from .overrides import Override
from .rules import RowRules


@dataclass(frozen=True)
class SiteFrame:
    """The site's own plane: an ellipsoidal transverse Mercator about its origin, true on the ground.

    The scale at the origin is 1 + h / R, h the site's ellipsoidal height and R the mean radius of
    curvature there, so one metre in the frame is one metre on the ground to better than 0.1 ppm
    within 2 km at sea level. Height adds the difference of the two radii of curvature, at most
    0.53 ppm for each kilometre of height (0.5 mm in a kilometre).

    Attributes
    ----------
    latitude_deg, longitude_deg : float
        Origin, on `datum`. [deg]
    height_m : float
        Ellipsoidal height of the site. [m]
    semi_major_m, inverse_flattening : float
        Ellipsoid of the datum; an inverse flattening of 0 is a sphere.
    datum : str
        WKT of the source data's geographic system.

    Examples
    --------
    Ground distances grow by 0.1569 ppm per metre of height at 38.5 degrees:

    >>> frame = SiteFrame(38.5, 0.0, 300.0)
    >>> round((frame.scale - 1) * 1e6, 2)
    47.07
    """

    latitude_deg: float
    longitude_deg: float
    height_m: float = 0.0
    semi_major_m: float = 6378137.0
    inverse_flattening: float = 298.257223563
    datum: str = field(default="", repr=False)

    @property
    def mean_radius_m(self) -> float:
        """Geometric mean of the meridian and prime-vertical radii at the origin. [m]

        Sources: IOGP Publication 373-7-2, section on radii of curvature (from memory).
        """
        f = 1 / self.inverse_flattening if self.inverse_flattening else 0.0
        e2 = f * (2 - f)
        w2 = 1 - e2 * math.sin(math.radians(self.latitude_deg)) ** 2
        return self.semi_major_m * math.sqrt(1 - e2) / w2

    @property
    def scale(self) -> float:
        """Scale of the projection at its origin."""
        return 1 + self.height_m / self.mean_radius_m


@dataclass(frozen=True)
class Exclusion:
    """Ground that no row may enter: a point, line or polygon with its own clearance."""

    shape: shapely.Geometry
    clearance_m: float = 0.0
    name: str = ""
    kind: str = ""

    def __post_init__(self):
        _width_in("clearance_m", self.clearance_m)


@dataclass(frozen=True)
class EdgeWidth:
    """A clear width of its own for one outline edge: ring 0 is the shell, then the holes."""

    ring: int
    edge: int
    width_m: float

    def __post_init__(self):
        _width_in("width_m", self.width_m)


def _width_in(name: str, value: float) -> None:
    if not (math.isfinite(value) and 0 <= value <= 1000):
        raise ValueError(f"{name}: {value!r} is outside 0 to 1000")


@dataclass(frozen=True)
class Guide:
    """A drawn line that rows follow as parallels, in the direction it was drawn.

    `smooth` rounds it through its corners; else rows bend at them as drawn.
    """

    points_m: tuple[tuple[float, float], ...]
    smooth: bool = True

    def __post_init__(self):
        steps = zip(self.points_m, self.points_m[1:], strict=False)
        if len(self.points_m) < 2 or any(a == b for a, b in steps):
            raise ValueError("points_m: a guide line needs two places or more, all different")
        if not all(math.isfinite(c) for point in self.points_m for c in point):
            raise ValueError("points_m: a place of the guide line is no number")


@dataclass(frozen=True)
class Block:
    """An outline in the site frame with the rules of its rows.

    Attributes
    ----------
    name : str
        Also the prefix of its codes.
    outline : polygon
    rules : RowRules
    edge_widths : tuple of EdgeWidth
    overrides : tuple of Override
        What was decided for single rows, posts and vines.
    guide : Guide or None
        Rows follow it instead of the bearing.
    common : bool
        Whether its rules are those it shares with the site's other common blocks.

    Examples
    --------
    >>> Block("B1", shapely.box(0, 0, 100, 50)).outline.area
    5000.0
    """

    name: str
    outline: shapely.Polygon
    rules: RowRules = field(default_factory=RowRules)
    edge_widths: tuple[EdgeWidth, ...] = ()
    overrides: tuple[Override, ...] = ()
    guide: Guide | None = None
    common: bool = False

    def __post_init__(self):
        if not self.name or any(c in self.name for c in '",\n\r'):
            raise ValueError(f"name: {self.name!r} must have no quotes, commas or line ends")
        if self.outline.geom_type != "Polygon" or self.outline.is_empty:
            raise ValueError(f"outline: a polygon is needed, not {self.outline.geom_type}")
        rings = [self.outline.exterior, *self.outline.interiors]
        for own in self.edge_widths:
            if (
                not 0 <= own.ring < len(rings)
                or not 0 <= own.edge < len(rings[own.ring].coords) - 1
            ):
                raise ValueError(f"edge_widths: there is no edge {own.edge} in ring {own.ring}")
