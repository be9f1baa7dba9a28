"""From raw rings to valid polygons, saying each thing that was done.

The method for a ring that crosses itself is GEOS's *structure*: ground the ring encloses is
inside, whichever way round and however often, unless the ring runs back around it the other way.
Both lobes of a bow-tie stay. (`buffer(0)` would drop one without a word; the *linework* method
makes ground enclosed twice a hole.) Where the two methods differ, the finding tells both areas.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.polygon import orient

from layoutdesk.core.model.findings import Finding

from .reference import signed_area
from .shapes import Piece, area_words, counted

SAME_CORNER_M = 1e-5
"""Successive corners nearer than this are one corner. [m]"""

SLIVER_WIDTH_M = 0.05
"""Parts whose mean width is below this are slivers, if a far larger part is there. [m]"""

SLIVER_SHARE = 0.01
"""A part is dropped as a sliver only below this share of the largest. [1]"""


@dataclass
class Repair:
    """Makes polygons, lines and points valid, and keeps the findings.

    Attributes
    ----------
    unit_m : float
        Metres per coordinate unit, about, for tolerances. [m]
    area_m2 : callable
        Area of a polygon. [m²]
    decimals : int
        Decimals for coordinates in sentences.
    rings_close_themselves, shell_direction : bool
        As in `Source`.
    drop_slivers : bool
        For outlines; an exclusion may be as small as a pole.
    """

    unit_m: float
    area_m2: Callable[[object], float]
    decimals: int = 2
    rings_close_themselves: bool = False
    shell_direction: bool = False
    drop_slivers: bool = True
    findings: list[Finding] = field(default_factory=list)

    def polygons(self, piece: Piece) -> list[shapely.Polygon]:
        """Valid polygons of an area piece: shells counter-clockwise, holes clockwise; maybe none."""
        rings = []
        turned = 0
        for number, raw in enumerate(piece.rings):
            part = "" if number == 0 else f", hole {number}"
            ring = self._cleaned(raw, piece.where + part)
            if len(ring) < 3:
                self._say(
                    "outline-part-dropped",
                    f"It has only {counted(len(ring), 'usable corner')} and was left out.",
                    piece.where + part,
                )
                if number == 0:
                    return []
                continue
            clockwise = signed_area(ring) < 0
            if clockwise == (number == 0):
                ring = np.vstack([ring[:1], ring[:0:-1]])  # turned about the same first corner
                turned += 1
            rings.append(np.vstack([ring, ring[:1]]))
        if turned and self.shell_direction:
            self._say(
                "winding-turned",
                f"{counted(turned, 'ring')} ran the wrong way round and "
                f"{'was' if turned == 1 else 'were'} turned.",
                piece.where,
            )
        polygon = shapely.Polygon(rings[0], rings[1:])
        if polygon.is_valid:
            return [polygon]
        return self._rebuilt(polygon, piece.where)

    def line(self, piece: Piece) -> shapely.LineString | None:
        """A line of at least two different points, or None."""
        xy = self._finite(piece.rings[0], piece.where)
        if len(xy) > 1:
            xy = xy[np.r_[True, (np.diff(xy, axis=0) != 0).any(axis=1)]]
        if len(xy) < 2:
            self._say("outline-part-dropped", "A line without length was left out.", piece.where)
            return None
        return shapely.LineString(xy)

    def point(self, piece: Piece) -> shapely.Point | None:
        """A point, or None without usable numbers."""
        xy = self._finite(piece.rings[0], piece.where)
        return shapely.Point(xy[0]) if len(xy) else None

    def without_slivers(self, parts: list[tuple]) -> list[tuple]:
        """(polygon, …) tuples without slivers, each of which becomes a finding."""
        if not self.drop_slivers or len(parts) < 2:
            return parts
        largest = max(p[0].area for p in parts)
        kept = []
        for part in parts:
            polygon, where = part[0], part[1].where
            width_m = 2 * polygon.area / polygon.length * self.unit_m
            if width_m < SLIVER_WIDTH_M and polygon.area < SLIVER_SHARE * largest:
                self._say(
                    "outline-part-dropped",
                    f"A sliver of {area_words(self.area_m2(polygon))} near "
                    f"{self._at(polygon.exterior.coords[0])} was left out.",
                    where,
                )
            else:
                kept.append(part)
        return kept

    def _say(self, code, message, where, severity=""):
        self.findings.append(Finding(code, message, where=where, severity=severity))

    def _at(self, xy) -> str:
        return f"({xy[0]:.{self.decimals}f}, {xy[1]:.{self.decimals}f})"

    def _finite(self, xy, where):
        good = np.isfinite(xy).all(axis=1)
        if good.all():
            return xy
        lost = np.flatnonzero(~good) + 1
        named = ", ".join(map(str, lost[:5])) + (", …" if len(lost) > 5 else "")
        self._say(
            "corner-dropped",
            f"{counted(len(lost), 'corner')} without a usable number left out "
            f"(number {named}); the shape may lack a bend there.",
            where,
        )
        return xy[good]

    def _cleaned(self, raw, where) -> np.ndarray:
        """Ring without its closing corner, without doubled or unusable corners."""
        xy = self._finite(raw, where)
        if len(xy) < 2:
            return xy
        near = SAME_CORNER_M / self.unit_m
        closed = np.abs(xy[0] - xy[-1]).max() <= near
        if closed:
            xy = xy[:-1]
        elif not self.rings_close_themselves and np.isfinite(raw[-1]).all():
            gap_m = float(np.hypot(*(xy[0] - xy[-1]))) * self.unit_m
            self._say(
                "ring-closed",
                f"It was not closed; an edge of {gap_m:.2f} m was added from its last corner "
                "to its first.",
                where,
            )
        same = np.r_[False, np.abs(np.diff(xy, axis=0)).max(axis=1) <= near]
        if same.any():
            self._say(
                "vertices-removed",
                f"{counted(int(same.sum()), 'doubled corner')} taken out, the first at "
                f"{self._at(xy[int(np.argmax(same))])}.",
                where,
            )
            xy = xy[~same]
        return xy

    def _rebuilt(self, polygon, where) -> list[shapely.Polygon]:
        reason = shapely.is_valid_reason(polygon)
        spot = re.search(r"\[(\S+) (\S+)\]", reason)
        at = f" near {self._at((float(spot[1]), float(spot[2])))}" if spot else ""
        before_m2 = abs(signed_area(np.asarray(polygon.exterior.coords)[:-1])) - sum(
            abs(signed_area(np.asarray(h.coords)[:-1])) for h in polygon.interiors
        )
        before_m2 *= self._m2_per_unit(polygon)

        shell, notes = self._mended(shapely.Polygon(polygon.exterior), at)
        holes = []
        for number, ring in enumerate(polygon.interiors, 1):
            hole, hole_notes = self._mended(shapely.Polygon(ring), f" in hole {number}")
            notes += hole_notes
            inside = shapely.intersection(shell, hole).area
            if inside <= 1e-9 * hole.area:
                notes.append(f"hole {number} lies outside its outline and was left out")
                continue
            if inside < hole.area * (1 - 1e-9):
                notes.append(f"hole {number} reaches beyond its outline and was cut at it")
            holes.append(hole)
        fixed = shell.difference(shapely.union_all(holes)) if holes else shell
        parts = [
            orient(p)
            for p in shapely.get_parts(fixed)
            if p.geom_type == "Polygon" and not p.is_empty
        ]
        parts = [p for p in parts if self._has_width(p)]
        if not parts:
            self._say("outline-part-dropped", "It encloses no ground and was left out.", where)
            return []
        if not notes:
            notes = [f"rings touched each other{at}"]
        sizes = " and ".join(area_words(self.area_m2(p)) for p in parts[:5])
        message = (
            f"{'; '.join(notes)[0].upper()}{'; '.join(notes)[1:]}. Now "
            f"{counted(len(parts), 'part')} of {sizes}{' and more' if len(parts) > 5 else ''}; "
            f"by its corners as written it was {area_words(max(before_m2, 0.0))}."
        )
        self._say("outline-repaired", message, where)
        return parts

    def _mended(self, polygon, at) -> tuple[object, list[str]]:
        """A ring's polygon made valid, and what to say of it."""
        if polygon.is_valid:
            return polygon, []
        whole = shapely.make_valid(polygon, method="structure", keep_collapsed=False)
        note = f"it crossed or touched itself{at} and was rebuilt"
        other = shapely.make_valid(polygon, method="linework")
        if abs(whole.area - other.area) > 1e-6 * max(whole.area, other.area):
            note += (
                ", ground enclosed twice counted in (without it "
                f"{area_words(other.area * self._m2_per_unit(polygon))})"
            )
        return whole, [note]

    def _has_width(self, polygon) -> bool:
        """Not a mere spike left by rounding."""
        return 2 * polygon.area / polygon.length * self.unit_m > SAME_CORNER_M

    def _m2_per_unit(self, polygon) -> float:
        """Square metres per square unit of coordinates, at a polygon's place. [m²]"""
        hull = polygon.envelope
        return self.area_m2(hull) / hull.area if hull.area else self.unit_m**2
