"""Water that soil takes up, as litres for a vine."""

from __future__ import annotations

import numpy as np

from ..model.water import SOILS, Demand


def litres_over_area(depth_mm, area_m2):
    """Volume of a depth of water over an area: a millimetre on a square metre is a litre. [L]

    >>> litres_over_area(3.0, 3.6)
    10.8
    """
    return depth_mm * area_m2


def wetting_litres(demand: Demand, row_spacing_m, vine_spacing_m):
    """What one vine's share of the strip takes up before planting, as water to be given. [L]

    The strip runs along the row, `wet_width_m` wide but no wider than rows are apart, and
    `wet_depth_m` deep; its soil lacks a share of the water it can hold for plants (between field
    capacity and wilting point). Emitters wet bulbs, not a strip: between distant emitters the ground
    stays drier, and beneath them water goes deeper. Dig, and look.

    Parameters
    ----------
    row_spacing_m, vine_spacing_m : float array of one shape, or float
        [m]

    Examples
    --------
    Loam holds 155 mm in a metre (see `SOILS`): half of it, 0.6 m deep and wide, at 1.5 m.

    >>> round(float(wetting_litres(Demand(efficiency_pct=100), 2.4, 1.5)), 2)
    41.85
    """
    width = np.minimum(demand.wet_width_m, row_spacing_m)
    lacking_mm = SOILS[demand.soil] * demand.wet_depth_m * demand.dry_share_pct / 100
    return litres_over_area(lacking_mm, width * vine_spacing_m) / (demand.efficiency_pct / 100)
