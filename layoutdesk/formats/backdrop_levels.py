"""Which of a raster's reduced copies to read for a picture, and a sample where there is none."""

from __future__ import annotations

import contextlib
import hashlib
import math
import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from .backdrop_pixels import Look, colours, thinned, values_and_valid

MOST_READ = 45_000_000
"""Numbers read for one picture: 0.3 s in the slowest usual packing (JPEG), 0.1 s in others."""

_MOST_SAMPLED = 20_000_000
"""Numbers read for a coarse picture, in many small pieces."""

_MOST_MEASURED = 12_000_000
"""Numbers read to measure black and white."""

REDUCED_LOOK = Look((1, 2, 3))
_FORM = "1"
"""Changes with what is written into the cache, so that older copies are not taken."""


@dataclass(frozen=True, eq=False)
class Piece:
    """Part of a raster at some reduction.

    `corner` is its upper left corner and `side` the size of one of its pixels, both in pixels of the
    full raster, right and down.
    """

    pixels: np.ndarray
    corner: tuple[float, float]
    side: tuple[float, float]
    coarse: bool = False


@dataclass(eq=False)
class _Level:
    about: float  # full pixels a pixel, nearly; `side` is exact
    look: Look
    open: Callable[[], object]
    own: bool = True
    reduced: bool = False
    _dataset: object = field(default=None, repr=False)

    @property
    def dataset(self):
        if self._dataset is None:
            self._dataset = self.open()
        return self._dataset

    def close(self) -> None:
        if self._dataset is not None and self.own:
            self._dataset.close()
        self._dataset = None


class Levels:
    """A raster with its reduced copies, opened when they are needed."""

    def __init__(self, path: Path, look: Look, width: int, height: int, keep=None):
        import rasterio

        self._path, self._look, self._size = path, look, (width, height)
        base = _Level(1.0, look, lambda: rasterio.open(path), own=keep is None, _dataset=keep)
        self._levels = [base]
        factors = base.dataset.overviews(look.bands[0])
        for number, factor in sorted(enumerate(factors), key=lambda pair: pair[1]):
            self._levels.append(
                _Level(factor, look, lambda i=number: rasterio.open(path, overview_level=i))
            )
        self._reduced: Path | None = None

    def take_reduced(self, cache_folder: Path, source) -> None:
        """Use the reduced copies of `build_overviews`, where they are there by now."""
        import rasterio

        folder = reduced_folder(source, cache_folder)
        if self._reduced is not None or not folder.is_dir():
            return
        with contextlib.suppress(OSError):
            os.utime(folder)  # lately used
        files = sorted(folder.glob("*.tif"), key=lambda file: int(file.stem))
        for file in files:
            self._levels.append(
                _Level(
                    2.0 ** int(file.stem),
                    REDUCED_LOOK,
                    lambda file=file: rasterio.open(file),
                    reduced=True,
                )
            )
        self._levels.sort(key=lambda level: level.about)
        self._reduced = folder

    def _drop_reduced(self) -> None:
        for level in self._levels:
            if level.reduced:
                level.close()
        self._levels = [level for level in self._levels if not level.reduced]
        shutil.rmtree(self._reduced, ignore_errors=True)
        self._reduced = None

    def side(self, level: _Level) -> tuple[float, float]:
        """Full pixels a pixel, right and down.

        Reduced copies of ours halve exactly; GDAL stretches what is left over at the far edges.
        """
        if level.reduced:
            return level.about, level.about
        return self._size[0] / level.dataset.width, self._size[1] / level.dataset.height

    def piece(self, low, high, per_px, n_px: int) -> Piece:
        """The part from `low` to `high` (right, down), for a picture of `n_px` pixels.

        `per_px` are full pixels for one pixel of the picture, right and down: the piece is no finer
        than half of that and, unless `coarse`, hardly coarser.
        """
        from rasterio.errors import RasterioError

        try:
            return self._piece(low, high, per_px, n_px)
        except RasterioError:
            if self._reduced is None:
                raise
            self._drop_reduced()  # a damaged copy in the cache is no loss
            return self._piece(low, high, per_px, n_px)

    def _piece(self, low, high, per_px, n_px: int) -> Piece:
        finest = min(per_px)
        wanted = max(
            i for i, level in enumerate(self._levels) if i == 0 or level.about <= 1.05 * finest
        )
        most = max(MOST_READ, 5 * n_px * self._look.n_read)
        for level in self._levels[wanted:]:
            side = self.side(level)
            by = tuple(max(1, int(p / s + 0.05)) for p, s in zip(per_px, side, strict=True))
            window = _window(level.dataset, low, high, side, by)
            if _cost(level, window) <= most:
                pixels = thinned(colours(level.dataset, as_window(window), level.look), *by)
                corner = window[0] * side[0], window[1] * side[1]
                return Piece(
                    pixels,
                    corner,
                    (side[0] * by[0], side[1] * by[1]),
                    coarse=max(side) > 2.1 * max(finest, 1.0),
                )
        return self._sampled(level, window, side, by, min(most, _MOST_SAMPLED))

    def _sampled(self, level: _Level, window, side, by, most: int) -> Piece:
        """A coarse piece from a few of a level's blocks, evenly chosen."""
        x0, y0, _, y1 = window
        dataset = level.dataset
        high, wide = _block_shape(dataset)
        pace = _paces(level, window, most)
        if wide >= dataset.width:  # strips: a row of each that is chosen
            tops = range(y0 // high * high, y1, high * pace)
            middle = [min(top + high * pace // 2, dataset.height - 1) for top in tops]
            rows = [
                colours(dataset, as_window((window[0], y, window[2], y + 1)), level.look)
                for y in middle
            ]
            pixels, size, corner = (
                thinned(np.concatenate(rows), by[0], 1),
                (by[0], high * pace),
                (x0, tops[0]),
            )
        else:
            lines, columns = _chosen(window, high, wide, pace)
            pixels = np.empty((len(lines), len(columns), 4), dtype=np.uint8)
            for i, top in enumerate(lines):
                for j, left in enumerate(columns):
                    block = _block_at(dataset, left, top, pace)
                    seen = colours(dataset, as_window(block), level.look)
                    pixels[i, j] = thinned(seen, seen.shape[1], seen.shape[0])[0, 0]
            size, corner = (wide * pace, high * pace), (columns[0], lines[0])
        return Piece(
            pixels,
            (corner[0] * side[0], corner[1] * side[1]),
            (size[0] * side[0], size[1] * side[1]),
            coarse=True,
        )

    def measured(self):
        """Numbers of the shown bands over all the raster, (b, n), and which mean something, (b, n).

        The last block of the full raster is always read, so that a file cut short is noticed.
        """
        base, level = self._levels[0].dataset, self._levels[-1]
        for finer in self._levels:
            if _cost(level := finer, _all_of(finer.dataset)) <= _MOST_MEASURED:
                break
        dataset = level.dataset
        window = _all_of(dataset)
        pace = _paces(level, window, _MOST_MEASURED)
        blocks = [window]
        if pace > 1:
            lines, columns = _chosen(window, *_block_shape(dataset), pace)
            blocks = [_block_at(dataset, left, top, pace) for top in lines for left in columns]
        read = [values_and_valid(dataset, as_window(b), level.look) for b in blocks]
        last = base.width - 1, base.height - 1, base.width, base.height
        values_and_valid(base, as_window(last), level.look)
        bands = len(level.look.bands)
        return tuple(
            np.concatenate([pair[k].reshape(bands, -1) for pair in read], axis=1) for k in (0, 1)
        )

    def close(self) -> None:
        """Close what was opened."""
        for level in self._levels:
            level.close()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()


def too_large(width: float, height: float, look: Look) -> bool:
    """Whether a raster is more than is read for one picture."""
    return width * height * look.n_read > MOST_READ


def as_window(window):
    from rasterio.windows import Window

    x0, y0, x1, y1 = window
    return Window(x0, y0, x1 - x0, y1 - y0)


def _all_of(dataset):
    return 0, 0, dataset.width, dataset.height


def _window(dataset, low, high, side, by) -> tuple[int, int, int, int]:
    """Pixels x0, y0, x1, y1 to be read, two to spare.

    It begins at a whole number of means of `by` pixels, so that a picture doesn't shimmer when panned.
    """
    out = []
    for k, most in ((0, dataset.width), (1, dataset.height)):
        first = max(int(low[k] / side[k]) - 2 * by[k], 0) // by[k] * by[k]
        last = min(math.ceil(high[k] / side[k]) + 2 * by[k], most)
        out.append((min(first, most - 1), last))
    return out[0][0], out[1][0], out[0][1], out[1][1]


def _block_shape(dataset) -> tuple[int, int]:
    high, wide = dataset.block_shapes[0]
    return high, wide


def _n_blocks(dataset, window) -> int:
    high, wide = _block_shape(dataset)
    x0, y0, x1, y1 = window
    return (-(-x1 // wide) - x0 // wide) * (-(-y1 // high) - y0 // high)


def _cost(level: _Level, window) -> int:
    """Numbers that are unpacked to read a window: its blocks are read whole."""
    high, wide = _block_shape(level.dataset)
    return _n_blocks(level.dataset, window) * high * wide * level.look.n_read


def _paces(level: _Level, window, most: int) -> int:
    """Every how manieth block is read, so that no more than `most` numbers are."""
    over = _cost(level, window) / most
    strips = _block_shape(level.dataset)[1] >= level.dataset.width
    return max(1, math.ceil(over if strips else math.sqrt(over)))


def _chosen(window, high: int, wide: int, pace: int):
    """Top and left of the groups of blocks of which one is read."""
    x0, y0, x1, y1 = window
    return (
        list(range(y0 // high * high, y1, high * pace)),
        list(range(x0 // wide * wide, x1, wide * pace)),
    )


def _block_at(dataset, left: int, top: int, pace: int):
    """The middle block of a group, as far as the raster goes."""
    high, wide = _block_shape(dataset)
    x0 = min(left + pace // 2 * wide, (dataset.width - 1) // wide * wide)
    y0 = min(top + pace // 2 * high, (dataset.height - 1) // high * high)
    return x0, y0, min(x0 + wide, dataset.width), min(y0 + high, dataset.height)


def reduced_folder(source, cache_folder) -> Path:
    """Where the reduced copies of a raster, as it is now, are kept."""
    words = "\n".join([_FORM, os.path.realpath(source.path), *map(str, source.changed)])
    return Path(cache_folder) / hashlib.sha256(words.encode()).hexdigest()[:24]
