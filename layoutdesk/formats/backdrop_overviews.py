"""Reduced copies of large pictures in a cache folder, so that they are there at once at any zoom."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from ..core.model import InputProblem
from .backdrop_levels import REDUCED_LOOK, as_window, reduced_folder
from .backdrop_pixels import Look, colours, thinned

MOST_KEPT_BYTES = 4_000_000_000
"""Reduced copies kept in the cache; the least used go first."""

_BLOCK = 256
_SMALLEST_PX = 512
_QUALITY = 90


def build_overviews(
    source, cache_folder, progress: Callable[[float], bool | None] | None = None
) -> Path | None:
    """Make reduced copies of a large raster, each half of the one before, in a cache folder.

    The raster's own file and folder are not touched. Runs for seconds to minutes: call it off the
    window's thread.

    Parameters
    ----------
    source : BackdropSource
    cache_folder : str or Path
    progress : function, optional
        Called with the share that is done, 0 to 1; where it answers False the work stops.

    Returns
    -------
    Path or None
        The folder with the copies; None where it was stopped, and nothing is left behind.

    Raises
    ------
    InputProblem
        Where the raster is damaged or the cache folder cannot be written.
    """
    import rasterio
    from rasterio.errors import RasterioError

    folder = reduced_folder(source, cache_folder)
    if folder.is_dir():
        return folder
    stage = folder.with_name(f".{folder.name}-{secrets.token_hex(4)}")
    tell = progress or (lambda share: None)
    try:
        stage.mkdir(parents=True)
        if shutil.disk_usage(stage).free < source.width * source.height // 2:
            raise InputProblem(
                f"{cache_folder} has too little room for reduced copies of {source.path.name}: make "
                "room on that disk."
            )
        finer, done, look = source.path, 0.0, source.look
        whole = sum(4.0**-k for k in range(16))
        for k in range(16):
            reduced = stage / f"{k + 1}.tif"
            weight = 4.0**-k / whole
            with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(finer) as dataset:
                small = max(dataset.width, dataset.height) <= 2 * _SMALLEST_PX
                for share in _halved(dataset, look, reduced, source, 2.0 ** (k + 1)):
                    if tell(min(done + weight * share, 1.0)) is False:
                        return None
            done += weight
            finer, look = reduced, REDUCED_LOOK
            if small:
                break
        if not folder.is_dir():  # else another program was quicker
            os.replace(stage, folder)
        prune(cache_folder, keep=folder)
        tell(1.0)
        return folder
    except RasterioError:
        raise InputProblem(
            f"No reduced copies of {source.path.name} could be made: see that the file is whole and "
            f"that there is room in {cache_folder}."
        ) from None
    except OSError as problem:
        reason = (problem.strerror or str(problem)).lower()
        raise InputProblem(
            f"{cache_folder} cannot be written ({reason}): make room there for reduced copies."
        ) from None
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _halved(dataset, look: Look, path: Path, source, factor: float):
    """Write a raster at half its size, giving the share done as it goes on."""
    import rasterio
    from affine import Affine

    a, b, c, d, e, f = source.to_crs
    wide, high = -(-dataset.width // 2), -(-dataset.height // 2)
    profile = {
        "driver": "GTiff",
        "width": wide,
        "height": high,
        "count": 3,
        "dtype": "uint8",
        "tiled": True,
        "blockxsize": _BLOCK,
        "blockysize": _BLOCK,
        "interleave": "pixel",
        "compress": "jpeg",
        "photometric": "ycbcr",
        "jpeg_quality": _QUALITY,
        "bigtiff": "if_safer",
        "transform": Affine(a * factor, b * factor, c, d * factor, e * factor, f),
    }
    with rasterio.open(path, "w", **profile) as out:
        for top in range(0, high, _BLOCK):
            bottom = min(top + _BLOCK, high)
            rows = as_window((0, 2 * top, dataset.width, min(2 * bottom, dataset.height)))
            pixels = thinned(colours(dataset, rows, look), 2, 2)
            window = as_window((0, top, wide, bottom))
            out.write(np.ascontiguousarray(np.moveaxis(pixels[..., :3], -1, 0)), window=window)
            out.write_mask(pixels[..., 3] >= 128, window=window)
            yield bottom / high


def prune(cache_folder, keep: Path | None = None, most_bytes: int = MOST_KEPT_BYTES) -> None:
    """Take away the reduced copies used longest ago, beyond `most_bytes`, and what was cut off."""
    kept, folders = 0, []
    with contextlib.suppress(OSError):
        folders = [(f.stat().st_mtime, f) for f in Path(cache_folder).iterdir() if f.is_dir()]
    for used, folder in sorted(folders, key=lambda pair: (pair[1] != keep, -pair[0])):
        if folder.name.startswith("."):  # at work, or killed at it
            if time.time() - used > 86_400:
                shutil.rmtree(folder, ignore_errors=True)
            continue
        with contextlib.suppress(OSError):
            kept += sum(file.stat().st_size for file in folder.iterdir())
        if kept > most_bytes and folder != keep:
            shutil.rmtree(folder, ignore_errors=True)
