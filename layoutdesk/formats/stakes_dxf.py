"""Stake-out drawing: DXF R2010 in the survey system, for any drawing or survey program."""

from __future__ import annotations

from .handoffset import Progress
from .points_dxf import Drawing
from .points_dxf_document import LABEL_M, LAYERS
from .points_dxf_records import TAG_PARTS
from .stake_chunks import handed_off
from .stakeset import StakeSet

__all__ = ["LABEL_M", "LAYERS", "write_stakes_dxf"]

_TAGS = {tag: TAG_PARTS[tag] for tag in ("CODE", "ROW", "SEGMENT", "INDEX")}


def write_stakes_dxf(path, stakes: StakeSet, *, progress: Progress | None = None) -> int:
    """Number of entities written, in the survey system and its unit.

    Outlines, exclusions, rows, a row label at both ends of every segment, a symbol with invisible
    attributes CODE, ROW, SEGMENT and INDEX for every post, anchor and vine, and a note with the
    statement on the survey system. Where the ground is known under every post, anchor and vine, their
    symbols stand at its height, in the survey unit; else the drawing is flat, for a z of 0 here and
    there would be taken for a height. Not atomic: the caller swaps the file in.

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
    raised = stakes.heights is not None and not stakes.n_without_height
    drawing = Drawing(
        handed_off(stakes), _TAGS, raised=raised, lines_raised=False, progress=progress
    )
    with open(path, "wb") as file:
        drawing.write(file)
        file.write(drawing.tail)
    return drawing.n_entities
