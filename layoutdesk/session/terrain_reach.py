"""How far round the outlines the ground is drawn: fainter with the distance, never cut off hard."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..formats.terrain import AROUND_M

_FULL_M = 30.0
_GONE_M = AROUND_M - 4.0
"""Heights are read a little farther: nothing is cut off."""
_STEPS = 6
"""Shades of lines: each takes a pen of its own."""
_UNDER_ROWS = 4 / 6
_CELLS_ACROSS = 420


@dataclass(frozen=True, eq=False)
class Reach:
    """Distance from the outlines, on a grid.

    Attributes
    ----------
    bounds_m : (x0, y0, x1, y1)
        Beyond them nothing is drawn. [m]
    distance_m : float array, shape (r, c)
        From the nearest outline, less than 0 inside it; south first. [m]
    cell_m : float
    """

    bounds_m: tuple[float, float, float, float]
    distance_m: np.ndarray
    cell_m: float

    @staticmethod
    def round(outlines) -> Reach:
        """The reach of some outlines, shapely polygons."""
        from scipy.ndimage import distance_transform_edt

        x0, y0, x1, y1 = shapely.total_bounds(list(outlines)).tolist()
        x0, y0, x1, y1 = x0 - AROUND_M, y0 - AROUND_M, x1 + AROUND_M, y1 + AROUND_M
        cell = max(max(x1 - x0, y1 - y0) / _CELLS_ACROSS, 0.5)
        columns, rows = (int(np.ceil(span / cell)) for span in (x1 - x0, y1 - y0))
        x, y = np.meshgrid(
            x0 + cell * (np.arange(columns) + 0.5), y0 + cell * (np.arange(rows) + 0.5)
        )
        inside = np.zeros(x.shape, dtype=bool)
        for outline in outlines:
            a0, b0, a1, b1 = outline.bounds
            part = (
                slice(max(int((b0 - y0) / cell), 0), int((b1 - y0) / cell) + 1),
                slice(max(int((a0 - x0) / cell), 0), int((a1 - x0) / cell) + 1),
            )
            shapely.prepare(outline)
            inside[part] |= shapely.contains_xy(outline, x[part], y[part])
            middle = outline.representative_point()  # however small a block is
            inside[int((middle.y - y0) / cell), int((middle.x - x0) / cell)] = True
        distance = distance_transform_edt(~inside) - distance_transform_edt(inside)
        return Reach((x0, y0, x1, y1), cell * distance, cell)

    def from_outline_m(self, xy_m: np.ndarray) -> np.ndarray:
        """Distance of (n, 2) places from the nearest outline, less than 0 inside it, (n,). [m]"""
        rows, columns = self.distance_m.shape
        column = ((xy_m[:, 0] - self.bounds_m[0]) / self.cell_m).astype(np.intp)
        row = ((xy_m[:, 1] - self.bounds_m[1]) / self.cell_m).astype(np.intp)
        return self.distance_m[np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)]

    def shade_in_steps(self, xy_m: np.ndarray) -> np.ndarray:
        """How strongly lines at (n, 2) places are drawn, in few steps from 1 to 0, (n,).

        Under rows they stand back.
        """
        distance = self.from_outline_m(xy_m)
        return np.ceil(_STEPS * np.where(distance < 0, _UNDER_ROWS, _shade(distance))) / _STEPS

    def shade_of_cells(self, bounds_m, shape: tuple[int, int]) -> np.ndarray:
        """How strongly the cells of a grid are drawn that is north up, from 1 to 0, (r, c)."""
        from scipy.ndimage import map_coordinates

        x0, y0, x1, y1 = bounds_m
        rows, columns = shape
        x = x0 + (x1 - x0) * (np.arange(columns) + 0.5) / columns
        y = y1 - (y1 - y0) * (np.arange(rows) + 0.5) / rows
        at = np.meshgrid(
            (y - self.bounds_m[1]) / self.cell_m - 0.5,
            (x - self.bounds_m[0]) / self.cell_m - 0.5,
            indexing="ij",
        )
        return _shade(map_coordinates(self.distance_m, at, order=1, mode="nearest"))


def _shade(distance_m: np.ndarray) -> np.ndarray:
    return np.clip((_GONE_M - distance_m) / (_GONE_M - _FULL_M), 0.0, 1.0)
