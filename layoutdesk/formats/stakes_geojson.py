"""Stake-out as GeoJSON: outlines, rows, posts, anchors and vines on WGS 84.

Source: RFC 7946, The GeoJSON Format, IETF 2016.
"""

from __future__ import annotations

from .handoffset import Progress
from .points_geojson import write_plain_geojson
from .stake_chunks import handed_off
from .stakeset import StakeSet


def write_stakes_geojson(path, stakes: StakeSet, *, progress: Progress | None = None) -> int:
    """Number of features written, in longitude and latitude on WGS 84.

    Per block: its outline, the rows, then end posts, line posts, anchors and vines. The statement
    on the survey system and the datum shift used stand in the foreign member `layoutdesk`.
    Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    stakes : StakeSet
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place on WGS 84.
    """
    return write_plain_geojson(path, handed_off(stakes), progress=progress)
