"""Guidance lines as task data for machine terminals.

Source: ISO 11783-10:2015, Tractors and machinery for agriculture and forestry, part 10, task controller and
management information system data interchange; the names of elements and attributes and their values by its schema
version 4.3. That a terminal looks for TASKDATA/TASKDATA.XML, and that swath widths stand in millimetres on the line
string, is from memory.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
import zipfile

import numpy as np
import shapely

from .. import __version__
from ..core.staking.steering import SteeringLines
from .guidance_lines import STEERING_CAUTION, block_lines
from .handoffset import HandOffSet, Progress
from .point_stream import DEGREE_DECIMALS, on_wgs84
from .seal import Seal, seal_archive

MEMBER = "TASKDATA/TASKDATA.XML"
_LONGEST = 32
_BOUNDARY, _EXTERIOR, _INTERIOR, _PATTERN = "1", "1", "2", "5"
_OTHER, _A, _B, _POINT = "2", "6", "7", "9"
_AB, _CURVE = "1", "3"
_BOTH, _NO_MORE, _DESKTOP = "1", "4", "16"


def write_guidance_taskdata(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of guidance patterns written.

    A block is a part field with its boundary and one guidance group. Straight parallel rows are two patterns, the
    middle path and the middle row, to be repeated so many times to either side, rows left out between others
    included; bent or measured rows are a pattern each, not to be repeated. Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    hand : HandOffSet
    seal : Seal
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a place is none on WGS 84.
    """
    root = ET.Element(
        "ISO11783_TaskData",
        VersionMajor="4",
        VersionMinor="3",
        ManagementSoftwareManufacturer="Layout Desk",
        ManagementSoftwareVersion=__version__,
        DataTransferOrigin="1",
    )
    name = _short(hand.project.name)
    ET.SubElement(root, "CTR", A="CTR1", B=name)
    ET.SubElement(root, "FRM", A="FRM1", B=name, I="CTR1")
    found, n = block_lines(hand), 0
    for number, (i, lines) in enumerate(found, 1):
        block = hand.plans[i].block
        field = ET.SubElement(
            root, "PFD", A=f"PFD{number}", C=_short(block.name), D=str(round(block.outline.area)),
            E="CTR1", F="FRM1",
        )  # fmt: skip
        _add_boundary(field, hand, block.outline)
        group = ET.SubElement(field, "GGP", A=f"GGP{number}", B=_short(block.name))
        n = _add_patterns(group, hand, lines, hand.plans[i].rules.row_spacing_m, n)
        if progress:
            progress(number / len(found))
    ET.indent(root)
    text = ET.tostring(root, encoding="UTF-8", xml_declaration=True)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(MEMBER, text)
    seal_archive(path, seal, f"{hand.statement}\n{STEERING_CAUTION}")
    return n


def _add_boundary(field, hand: HandOffSet, outline) -> None:
    parts = shapely.get_parts(outline).tolist()
    for part in parts:
        polygon = ET.SubElement(field, "PLN", A=_BOUNDARY)
        for k, ring in enumerate(shapely.get_rings(part).tolist()):
            line = ET.SubElement(polygon, "LSG", A=_INTERIOR if k else _EXTERIOR)
            _add_places(line, on_wgs84(hand, shapely.get_coordinates(ring)), _OTHER, _OTHER, _OTHER)


def _add_patterns(group, hand: HandOffSet, lines: SteeringLines, spacing_m: float, n: int) -> int:
    for kind in ("path", "row"):
        which = [i for i, k in enumerate(lines.kind) if k == kind]
        if not which:
            continue
        if lines.is_parallel:
            n += 1
            middle = which[len(which) // 2]
            steps = [lines.steps[i] for i in which]
            every = math.gcd(*steps) or 1  # every other row is handed off: swaths of two rows
            left = lines.steps[middle] // every
            _add_pattern(
                group, hand, n, f"{group.get('B')} {kind}s", lines.places_m[middle], every * spacing_m,
                E=_BOTH, F=_BOTH, N=str(left), O=str(steps[-1] // every - left),
            )  # fmt: skip
            continue
        for i in which:
            n += 1
            _add_pattern(
                group, hand, n, lines.name[i], lines.places_m[i], spacing_m, E=_NO_MORE, F=_NO_MORE
            )
    return n


def _add_pattern(
    group, hand, n: int, name: str, places: np.ndarray, spacing_m: float, **more
) -> None:
    bent = len(places) > 2
    said = {"A": f"GPN{n}", "B": _short(name), "C": _CURVE if bent else _AB, "I": _DESKTOP, **more}
    pattern = ET.SubElement(group, "GPN", said)
    line = ET.SubElement(pattern, "LSG", A=_PATTERN, C=str(round(1000 * spacing_m)))
    _add_places(line, on_wgs84(hand, places), _A, _POINT, _B)


def _add_places(line, degrees: np.ndarray, first: str, middle: str, last: str) -> None:
    for i, (x, y) in enumerate(degrees.tolist()):
        kind = first if i == 0 else last if i == len(degrees) - 1 else middle
        ET.SubElement(
            line, "PNT", A=kind, C=f"{y:.{DEGREE_DECIMALS}f}", D=f"{x:.{DEGREE_DECIMALS}f}"
        )


def _short(text: str) -> str:
    """A name no longer than the standard's 32 letters."""
    told = "".join(c for c in text if c.isprintable()).strip() or "site"
    return told[:_LONGEST]
