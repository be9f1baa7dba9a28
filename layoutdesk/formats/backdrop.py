"""A picture under the plan: an orthophoto or scanned map, warped to the site frame."""

from __future__ import annotations

import contextlib
import math
import warnings
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np

from ..core.model import InputProblem, SiteFrame
from .backdrop_levels import Levels, too_large
from .backdrop_pixels import Look, look_of, looked_up, needs_stretch, with_stretch
from .backdrop_placing import (
    Placing,
    between_nodes,
    corners_in_frame,
    nodes_of,
    pixels_a_pixel,
    through,
)
from .crs import crs_named, shift_onto
from .rasters import raster_library

_SIGNATURES = b"II*\0", b"MM\0*", b"II+\0", b"MM\0+", b"\x89PNG", b"\xff\xd8\xff", b"\0\0\0\x0cjP"


@dataclass(frozen=True, eq=False)
class BackdropSource:
    """A raster file that can be shown under the plan, and what its user should know of it.

    Attributes
    ----------
    path : Path
    corners_m : float array, shape (4, 2)
        Upper left, upper right, lower right and lower left corner in the site frame; of a raster
        far larger than a site, those of the part around it. [m]
    crs : str
        Name of its coordinate system.
    pixel_m : float
        Side of a pixel on the ground, its middle's. [m]
    width, height : int
        [px]
    bands : int
    has_overviews : bool
        Whether the file carries reduced copies of itself.
    notes : tuple of str
        Sentences: what was assumed, shifted or fitted.
    """

    path: Path
    corners_m: np.ndarray
    crs: str
    pixel_m: float
    width: int
    height: int
    bands: int
    has_overviews: bool
    notes: tuple[str, ...]
    look: Look = field(repr=False)
    coarsest: float = field(repr=False)
    crs_wkt: str = field(repr=False)
    to_crs: tuple[float, ...] = field(repr=False)
    changed: tuple[int, int] = field(repr=False)

    @property
    def wants_overviews(self) -> bool:
        """Whether it is too large to be read at once and carries no copy reduced enough."""
        by = self.coarsest
        return too_large(self.width / by, self.height / by, self.look)


@dataclass(frozen=True, eq=False)
class Picture:
    """Pixels for a piece of the site frame, north up.

    `coarse` says that finer ones were too many to read: build the overviews and ask again.
    """

    rgba: np.ndarray
    coarse: bool = False


def read_about(path, frame: SiteFrame, site_crs=None) -> BackdropSource:
    """What is to be known of a raster before it is shown under the plan.

    Parameters
    ----------
    path : str or Path
        GeoTIFF, or any other georeferenced raster that GDAL reads.
    frame : SiteFrame
    site_crs : str, optional
        Coordinate system taken where the raster names none; a note says so.

    Raises
    ------
    InputProblem
        Where it is no raster or damaged, has no place or no coordinate system, or lies more than
        50 km from the site.
    """
    path = Path(path)
    with _opened(path) as dataset:
        to_crs, notes = transform_of(dataset, path.name)
        crs, assumed = crs_of(dataset, path.name, site_crs)
        if assumed:
            notes.append(f"It names no coordinate system; the site's, {crs.name}, was taken.")
        shift = shift_onto(frame, crs)
        if shift:
            notes.append(f"Shifted from {crs.geodetic_crs.name} to the site's datum by: {shift}.")
        width, height = dataset.width, dataset.height
        placing = Placing(crs, to_crs, frame, width)
        corners = corners_in_frame(placing, width, height, path.name, assumed and crs.name)
        look = look_of(dataset)
        stat = path.stat()
        factors = dataset.overviews(look.bands[0])
        with _damage_told(path.name), Levels(path, look, width, height, keep=dataset) as levels:
            values, valid = levels.measured()
        if needs_stretch(dataset, look):
            look = with_stretch(look, values, valid)
            notes.append("Its brightness was stretched: the darkest and lightest 2 % are cut off.")
        middle = np.clip(placing.to_pixels(corners.mean(axis=0)), 0, (width, height))
        step = placing.to_frame(middle + [[0, 0], [1, 0], [0, 1]])
        (ax, ay), (bx, by) = step[1] - step[0], step[2] - step[0]
        return BackdropSource(
            path,
            corners,
            crs.name,
            math.sqrt(abs(ax * by - ay * bx)),
            width,
            height,
            dataset.count,
            bool(factors),
            tuple(notes),
            look,
            float(max(factors, default=1)),
            crs.to_wkt(),
            tuple(to_crs)[:6],
            (stat.st_mtime_ns, stat.st_size),
        )


@contextlib.contextmanager
def _opened(path: Path):
    """The open raster; a file that cannot be opened is told of in one sentence."""
    rasterio = raster_library()
    from rasterio.errors import NotGeoreferencedWarning, RasterioError

    name = path.name
    if not path.exists():
        raise InputProblem(f"There is no file {path}: give the picture's place.")
    with warnings.catch_warnings():  # no georeference is told in our own words
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            dataset = rasterio.open(path)
        except RasterioError:
            if path.is_file() and _begins_as_picture(path):
                raise _damaged(name) from None
            raise InputProblem(
                f"{name} is no picture that can be read: give a GeoTIFF or another raster file."
            ) from None
    with dataset:
        if dataset.count == 0 or dataset.width * dataset.height == 0:
            raise InputProblem(
                f"{name} holds no picture, or several under names of their own: save the one that "
                "is wanted as a GeoTIFF."
            )
        yield dataset


def _begins_as_picture(path: Path) -> bool:
    with open(path, "rb") as file:
        return file.read(8).startswith(_SIGNATURES)


def _damaged(name: str) -> InputProblem:
    return InputProblem(f"{name} is damaged or cut short: copy it again from where it came.")


@contextlib.contextmanager
def _damage_told(name: str):
    from rasterio.errors import RasterioError

    try:
        yield
    except RasterioError:
        raise _damaged(name) from None


def transform_of(dataset, name: str):
    """From pixels to coordinates, and a note where control points had to be fitted."""
    from rasterio.transform import from_gcps

    to_crs, notes = dataset.transform, []
    points = dataset.gcps[0]
    if to_crs.is_identity and len(points) >= 3:
        to_crs = from_gcps(points)
        across, down = np.array([(p.col, p.row) for p in points], dtype=float).T
        x, y = through(to_crs[:6], across, down)
        off = np.hypot(x - [p.x for p in points], y - [p.y for p in points])
        side = math.sqrt(abs(to_crs.determinant)) or 1.0
        notes.append(
            f"It is placed by {len(points)} control points, which fit within "
            f"{off.max() / side:.1f} pixels."
        )
    if to_crs.is_identity or not np.isfinite(to_crs[:6]).all() or to_crs.is_degenerate:
        raise InputProblem(
            f"{name} does not say where it lies: georeference it first (a GeoTIFF, or a world file "
            "beside it)."
        )
    return to_crs, notes


def crs_of(dataset, name: str, site_crs):
    """The raster's horizontal system, and whether it had to be assumed."""
    from rasterio.errors import CRSError

    known = dataset.crs or dataset.gcps[1]
    if known:
        with contextlib.suppress(InputProblem, CRSError):
            crs = crs_named(known.to_wkt())
            if crs.is_projected or crs.is_geographic:
                return crs, False
    if site_crs is None:
        raise InputProblem(
            f"{name} names no coordinate system: write one into it, or save it from a GIS as a "
            "GeoTIFF with one."
        )
    return crs_named(site_crs), True


class BackdropReader:
    """An open raster that gives pictures of pieces of the site frame.

    Not for several threads at once. Close it, or use it in a `with`.
    """

    def __init__(self, source: BackdropSource, frame: SiteFrame, cache_folder=None):
        self.source, self.frame, self._cache_folder = source, frame, cache_folder
        self._levels = None

    @cached_property
    def _placing(self) -> Placing:
        s = self.source
        return Placing(crs_named(s.crs_wkt), s.to_crs, self.frame, s.width)

    def picture(self, bounds_m, width: int, height: int) -> Picture:
        """What lies in `bounds_m`, (x0, y0, x1, y1) in the frame, on width by height pixels.

        The raster is read at the level of its overviews that suits, or else of the reduced copies in
        the cache folder, or else a sample is. Transparent beyond the raster and where it has no data.

        Raises
        ------
        InputProblem
            Where the file is gone, changed or damaged.
        """
        s = self.source
        nodes, at = nodes_of(self._placing, bounds_m, width, height)
        usable = nodes[np.isfinite(nodes).all(axis=-1)]
        nothing = Picture(np.zeros((height, width, 4), dtype=np.uint8))
        if not len(usable):
            return nothing
        low = np.clip(usable.min(axis=0), 0, (s.width, s.height))
        high = np.clip(usable.max(axis=0), 0, (s.width, s.height))
        if (high <= low).any():
            return nothing
        per_px = pixels_a_pixel(nodes, at, low, high)
        with _damage_told(s.path.name):
            piece = self._open_levels().piece(low, high, per_px, width * height)
        u, v = between_nodes(nodes, at, width, height)
        inside = (u >= 0) & (u <= s.width) & (v >= 0) & (v <= s.height)
        (sx, sy), (ox, oy) = piece.side, piece.corner
        rgba = looked_up(piece.pixels, (u - ox) / sx, (v - oy) / sy, inside)
        return Picture(rgba, piece.coarse)

    def _open_levels(self) -> Levels:
        s = self.source
        if self._levels is None:
            try:
                stat = s.path.stat()
            except OSError:
                raise InputProblem(f"There is no file {s.path} any more: put it back.") from None
            if (stat.st_mtime_ns, stat.st_size) != s.changed:
                raise InputProblem(f"{s.path.name} has changed since it was opened: open it again.")
            self._levels = Levels(s.path, s.look, s.width, s.height)
        if s.wants_overviews and self._cache_folder is not None:
            self._levels.take_reduced(self._cache_folder, s)
        return self._levels

    def close(self) -> None:
        """Close the file."""
        if self._levels is not None:
            self._levels.close()
            self._levels = None

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()


def picture(
    source: BackdropSource, frame: SiteFrame, bounds_m, width: int, height: int, cache_folder=None
) -> Picture:
    """One picture, from a file opened for it alone; see `BackdropReader.picture`."""
    with BackdropReader(source, frame, cache_folder) as reader:
        return reader.picture(bounds_m, width, height)
