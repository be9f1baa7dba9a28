"""Where the plan is looked at: a centre and a scale, and the way to pixels and back."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np


@dataclass(frozen=True)
class View:
    """A window on the site frame, north up.

    Attributes
    ----------
    x_m, y_m : float
        What is at the middle of the picture. [m]
    scale : float
        Pixels a metre.
    width, height : int
        Of the picture. [px]
    """

    x_m: float
    y_m: float
    scale: float
    width: int
    height: int

    LEAST, MOST = 1e-3, 4000.0

    def to_pixels(self, xy_m: np.ndarray) -> np.ndarray:
        """(…, 2) pixels from the left and the top."""
        out = np.empty(np.shape(xy_m))
        out[..., 0] = (xy_m[..., 0] - self.x_m) * self.scale + self.width / 2
        out[..., 1] = (self.y_m - xy_m[..., 1]) * self.scale + self.height / 2
        return out

    def to_site(self, px: float, py: float) -> tuple[float, float]:
        """Site frame x, y of a pixel. [m]"""
        return (
            self.x_m + (px - self.width / 2) / self.scale,
            self.y_m - (py - self.height / 2) / self.scale,
        )

    @property
    def bounds_m(self) -> tuple[float, float, float, float]:
        """What is seen: x0, y0, x1, y1. [m]"""
        x0, y1 = self.to_site(0, 0)
        x1, y0 = self.to_site(self.width, self.height)
        return x0, y0, x1, y1

    def zoomed(self, factor: float, px: float, py: float) -> View:
        """Scaled so that what is at a pixel stays there."""
        scale = min(max(self.scale * factor, self.LEAST), self.MOST)
        x, y = self.to_site(px, py)
        return replace(
            self,
            scale=scale,
            x_m=x - (px - self.width / 2) / scale,
            y_m=y + (py - self.height / 2) / scale,
        )

    def panned(self, dx_px: float, dy_px: float) -> View:
        """Moved so that the plan follows a hand by so many pixels."""
        return replace(self, x_m=self.x_m - dx_px / self.scale, y_m=self.y_m + dy_px / self.scale)

    def fitted(self, bounds_m, margins=(0, 0, 0, 0)) -> View:
        """Showing all of `bounds_m` inside margins (left, top, right, bottom). [px]"""
        x0, y0, x1, y1 = bounds_m
        left, top, right, bottom = margins
        wide = max(self.width - left - right, 50)
        high = max(self.height - top - bottom, 50)
        scale = min(wide / max(x1 - x0, 1e-6), high / max(y1 - y0, 1e-6))
        scale = min(max(scale, self.LEAST), self.MOST)
        return replace(
            self,
            scale=scale,
            x_m=(x0 + x1) / 2 + (self.width / 2 - left - wide / 2) / scale,
            y_m=(y0 + y1) / 2 - (self.height / 2 - top - high / 2) / scale,
        )


def scale_bar(scale: float, unit_m: float, most_px: float) -> tuple[float, float]:
    """Length of a round scale bar, in units and in pixels, at most `most_px` wide.

    Examples
    --------
    >>> scale_bar(2.0, 1.0, 130)
    (50.0, 100.0)
    """
    most = most_px / scale / unit_m
    power = 10.0 ** np.floor(np.log10(most))
    units = float(max(k * power for k in (1, 2, 5) if k == 1 or k * power <= most))
    return units, units * unit_m * scale
