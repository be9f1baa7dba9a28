"""Hours between sunrise and sunset.

`core.water` has the same equations for evapotranspiration; neither part of the core may lean on the other, and a
test holds the two together.
"""

from __future__ import annotations

import datetime
import math


def daylight_h(latitude_deg: float, day: datetime.date) -> float:
    """Hours N between sunrise and sunset on level ground. [h]

    For a sun that is a point and air that bends no light: some minutes more are light enough to work by, and
    hills take some away. Beyond the polar circles 0 or 24 where the sun stays below or above.

    Parameters
    ----------
    latitude_deg : float
        Positive north.
    day : datetime.date

    Sources
    -------
    Allen, Pereira, Raes and Smith, Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, 1998:
    eq. 24 (declination), 25 (hour angle at sunset), 34 (daylight hours); its example 9 has 11.7 h at 20° S on
    3 September.

    Examples
    --------
    >>> round(daylight_h(-20.0, datetime.date(2027, 9, 3)), 1)
    11.7
    """
    turn = 2 * math.pi * day.timetuple().tm_yday / 365
    declination = 0.409 * math.sin(turn - 1.39)
    tangents = -math.tan(math.radians(latitude_deg)) * math.tan(declination)
    return 24 / math.pi * math.acos(min(max(tangents, -1.0), 1.0))
