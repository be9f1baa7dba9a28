"""Pixels of a raster as colours: palettes, stretches, masks, thinning and looking between pixels."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

STRETCH_PCT = 2.0, 98.0
"""Percentiles that become black and white where numbers are no bytes. Common practice."""

_ROWS_AT_ONCE = 64
"""Rows of a picture made together, so that what they need stays in the processor's cache."""


@dataclass(frozen=True, eq=False)
class Look:
    """How a raster's numbers become colours.

    Attributes
    ----------
    bands : tuple of int
        One band of grey or of palette numbers, or red, green and blue; counted from 1.
    alpha : int or None
        Band of opacity.
    palette : uint8 array, shape (n, 4), or None
        Red, green, blue and opacity of each palette number.
    black_white : tuple of (float, float)
        For each band the numbers shown black and white; empty where bytes are shown as they are.
    """

    bands: tuple[int, ...]
    alpha: int | None = None
    palette: np.ndarray | None = field(default=None, repr=False)
    black_white: tuple[tuple[float, float], ...] = ()

    @property
    def n_read(self) -> int:
        """Numbers read for a pixel."""
        return len(self.bands) + (self.alpha is not None)


def look_of(dataset) -> Look:
    """How an open raster is shown, but for a stretch that has to be measured (`with_stretch`)."""
    from rasterio.enums import ColorInterp as Ink

    inks = list(dataset.colorinterp)
    alpha = inks.index(Ink.alpha) + 1 if Ink.alpha in inks else None
    if inks[0] == Ink.palette:
        table = dataset.colormap(1)
        palette = np.zeros((max(256, max(table) + 1), 4), dtype=np.uint8)
        palette[list(table)] = list(table.values())
        return Look((1,), alpha, palette)
    primaries = [Ink.red, Ink.green, Ink.blue]
    shown = [i for i in range(1, dataset.count + 1) if i != alpha]
    if all(ink in inks for ink in primaries):
        bands = tuple(inks.index(ink) + 1 for ink in primaries)
    elif len(shown) >= 3:
        bands = tuple(shown[:3])
    else:
        bands = tuple(shown[:1]) or (1,)
    bits = int(dataset.tags(bands[0], ns="IMAGE_STRUCTURE").get("NBITS", 8))
    few = dataset.dtypes[bands[0] - 1] == "uint8" and bits < 8
    return Look(bands, alpha, None, ((0.0, 2.0**bits - 1),) * len(bands) if few else ())


def needs_stretch(dataset, look: Look) -> bool:
    """Whether numbers are no bytes, so that black and white have to be measured."""
    return look.palette is None and dataset.dtypes[look.bands[0] - 1] != "uint8"


def with_stretch(look: Look, values: np.ndarray, valid: np.ndarray) -> Look:
    """The look with black and white at the percentiles of (b, n) sample values, (b, n) valid."""
    pairs = []
    for band, usable in zip(values, valid, strict=True):
        seen = band[usable]
        low, high = (
            map(float, np.percentile(seen.astype(float), STRETCH_PCT)) if seen.size else (0.0, 1.0)
        )
        pairs.append((low, high) if high > low else (low - 0.5, low + 0.5))
    return replace(look, black_white=tuple(pairs))


def values_and_valid(dataset, window, look: Look):
    """Numbers of the shown bands, (b, h, w), and which of them mean something, bool (b, h, w)."""
    values = dataset.read(list(look.bands), window=window)
    if np.iscomplexobj(values):
        values = np.abs(values)
    valid = np.ones(values.shape, dtype=bool)
    if values.dtype.kind == "f":
        valid &= np.isfinite(values)
    for i, band in enumerate(look.bands):
        nodata = dataset.nodatavals[band - 1]
        if nodata is not None and np.isfinite(nodata):
            valid[i] &= values[i] != np.asarray(nodata).astype(values.dtype)
    return values, valid


def colours(dataset, window, look: Look) -> np.ndarray:
    """Pixels of an open raster as uint8 red, green, blue, opacity, shape (h, w, 4).

    Opacity is 0 where a mask, the opacity band or the value for "no data" in every band says so.
    """
    from rasterio.enums import MaskFlags

    values, valid = values_and_valid(dataset, window, look)
    out = np.empty((*values.shape[1:], 4), dtype=np.uint8)
    if look.palette is not None:
        out[:] = look.palette[np.clip(values[0], 0, len(look.palette) - 1)]
    else:
        with np.errstate(invalid="ignore"):
            for i in range(3):
                j = i if len(values) == 3 else 0
                if i > 0 and j == 0:
                    out[..., i] = out[..., 0]
                else:
                    out[..., i] = _stretched(values[j], valid[j], look, j)
        out[..., 3] = 255
    seen = valid.any(axis=0)
    flags = dataset.mask_flag_enums[look.bands[0] - 1]
    if MaskFlags.per_dataset in flags and MaskFlags.alpha not in flags:
        seen &= dataset.read_masks(look.bands[0], window=window) > 0
    if look.alpha is not None:
        opacity = dataset.read(look.alpha, window=window)
        if opacity.dtype != np.uint8:
            most = np.iinfo(opacity.dtype).max if opacity.dtype.kind in "iu" else 1.0
            opacity = (np.clip(opacity, 0, most) / most * 255 + 0.5).astype(np.uint8)
        out[..., 3] = np.minimum(out[..., 3], opacity)
    out[~seen, 3] = 0
    return out


def _stretched(band, valid, look: Look, i: int) -> np.ndarray:
    if not look.black_white:
        return band if band.dtype == np.uint8 else np.clip(band, 0, 255).astype(np.uint8)
    black, white = look.black_white[i]
    grey = (band - black).astype(np.float32)
    grey *= np.float32(255 / (white - black))
    grey[~valid] = 0
    return (np.clip(grey, 0, 255) + np.float32(0.5)).astype(np.uint8)


def thinned(pixels: np.ndarray, across: int, down: int) -> np.ndarray:
    """Means of `down` by `across` pixels, each pixel counting by its opacity.

    Pixels beyond the right and bottom edge count as transparent without weight on the colour.

    Examples
    --------
    >>> black, white, nothing = (0, 0, 0, 255), (255, 255, 255, 255), (255, 0, 0, 0)
    >>> thinned(np.array([[black, white, white, nothing]], dtype=np.uint8), 2, 1).tolist()
    [[[127, 127, 127, 255], [255, 255, 255, 127]]]
    """
    if across == 1 and down == 1:
        return pixels
    high, wide = pixels.shape[:2]
    more_down, more_across = -high % down, -wide % across
    if more_down or more_across:
        pixels = np.pad(pixels, ((0, more_down), (0, more_across), (0, 0)))
    n = across * down
    if pixels[..., 3].min(initial=255) == 255:
        return (_sums(pixels, across, down, np.uint32) // n).astype(np.uint8)
    weighed = pixels.astype(np.float32)
    weighed[..., :3] *= weighed[..., 3:]
    sums = _sums(weighed, across, down, np.float32)
    sums[..., :3] /= np.maximum(sums[..., 3:], 1)
    sums[..., 3] /= n
    return sums.astype(np.uint8)


def _sums(pixels, across: int, down: int, kind) -> np.ndarray:
    rows = pixels[0::down].astype(kind)
    for i in range(1, down):
        rows += pixels[i::down]
    out = rows[:, 0::across].copy()
    for i in range(1, across):
        out += rows[:, i::across]
    return out


def looked_up(pixels: np.ndarray, u: np.ndarray, v: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """Colours between pixels at places u to the right and v down, by the four pixels around.

    Parameters
    ----------
    pixels : uint8 array, shape (h, w, 4)
    u, v : float arrays, shape (n, m)
        From the outer corner of the first pixel, whose centre is at 0.5, 0.5. [px]
    inside : bool array, shape (n, m)
        Where there is a picture at all; elsewhere the answer is transparent.

    Returns
    -------
    uint8 array, shape (n, m, 4)
    """
    out = np.zeros((*u.shape, 4), dtype=np.uint8)
    flat = np.ascontiguousarray(pixels).view(np.uint32).ravel()
    opaque = bool((pixels[..., 3] == 255).all())
    for first in range(0, len(u), _ROWS_AT_ONCE):
        part = slice(first, first + _ROWS_AT_ONCE)
        where = np.nonzero(inside[part])
        if len(where[0]):
            out[part][where] = _between(flat, pixels.shape, u[part][where], v[part][where], opaque)
    return out


def _between(flat, shape, u, v, opaque: bool) -> np.ndarray:
    high, wide = shape[:2]
    a = np.clip(u - 0.5, 0, wide - 1)
    b = np.clip(v - 0.5, 0, high - 1)
    i = np.minimum(a.astype(np.int64), max(wide - 2, 0))
    j = np.minimum(b.astype(np.int64), max(high - 2, 0))
    a, b = (a - i).astype(np.float32), (b - j).astype(np.float32)
    right, below = int(wide > 1), wide if high > 1 else 0
    at = j * wide + i
    total = np.zeros((len(at), 4), dtype=np.float32)
    for step, weight in (
        (0, (1 - a) * (1 - b)),
        (right, a * (1 - b)),
        (below, (1 - a) * b),
        (right + below, a * b),
    ):
        tap = flat[at + step].view(np.uint8).reshape(-1, 4).astype(np.float32)
        if opaque:
            tap *= weight[:, None]
        else:
            weight = weight * tap[:, 3]
            tap[:, 3] = 1
            tap *= weight[:, None]
        total += tap
    if not opaque:
        total[:, :3] /= np.maximum(total[:, 3:], 1e-3)
    total += np.float32(0.5)
    return np.minimum(total, 255).astype(np.uint8)
