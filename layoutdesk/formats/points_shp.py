"""Points and lines of a hand-off as Shapefiles in a zip."""

from __future__ import annotations

import tempfile
import zipfile
from pathlib import Path

from .handoffset import HandOffSet, Progress
from .points_layers import Layers, crs_of, grid_placing
from .seal import Seal, seal_archive

NAMES = ("number", "code", "descr", "kind", "block", "row", "segment", "idx", "elevation")
"""No name of a column is longer than the 10 letters a Shapefile has."""
MOST_POINTS = 30_000_000
"""A point takes 28 bytes of geometry and some 60 of text of the 2 GB a file may have."""
_SHARE = 0.8


def write_points_shp(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of points written; rows, outlines and exclusions have files of their own in the zip.

    Coordinates are in the grid's own unit; ground and calibrated ones come without a definition of a system
    (no .prj). An elevation that is not known is empty. Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    hand : HandOffSet
    seal : Seal
    progress : function of the share done, optional
        May raise to cancel.

    Sources
    -------
    ESRI Shapefile Technical Description, 1998: one kind of shape a file. Limits of the tables beside them
    (10 letters a name, 254 bytes a text) are those of dBASE III (from memory).
    """
    from dataclasses import replace

    placing = grid_placing(hand.placing)
    layers, crs, path = Layers(hand, placing, NAMES), crs_of(placing), Path(path)
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=".layoutdesk-shp-") as folder:
        stage = Path(folder)

        def inside(share: float) -> None:
            progress(_SHARE * share)

        n = layers.write_points(
            stage / "points.shp", "ESRI Shapefile", crs, inside if progress else None
        )
        layers.write_lines(lambda layer: stage / f"{layer}.shp", "ESRI Shapefile", crs)
        parts = sorted(p for p in stage.iterdir() if p.is_file())
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            for i, part in enumerate(parts):
                if progress:
                    progress(_SHARE + (1 - _SHARE) * i / len(parts))
                archive.write(part, part.name)
    seal_archive(path, replace(seal, unit=placing.unit, unit_m=placing.unit_m), hand.statement)
    return n
