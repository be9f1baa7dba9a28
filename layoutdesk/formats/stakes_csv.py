"""Stake-out points as a table: point, northing, easting, elevation, description."""

from __future__ import annotations

from .handoffset import Progress
from .points_csv import write_points_table
from .stake_chunks import handed_off
from .stakeset import StakeSet


def write_stakes_csv(path, stakes: StakeSet, *, progress: Progress | None = None) -> int:
    """Number of points written, in the survey system and its unit.

    Per block: end posts, line posts, anchors, vines. The elevation is in the same unit, and empty
    where the height of the ground is not known. Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    stakes : StakeSet
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place in the survey system.
    """
    return write_points_table(path, handed_off(stakes), progress=progress)
