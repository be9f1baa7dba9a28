"""What is asked for on the command line, for parcels that are no project and never become one."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import shapely

from ..core.model import Block, Exclusion, InputProblem, Project, RowRules, Site, SiteFrame
from ..core.model.study import Study
from .asked_rules import Asked, with_asked
from .asked_study import AskedStudy, with_asked_study


@dataclass(frozen=True)
class AskedParcels:
    """Rules, bearings and study of all parcels."""

    rules: RowRules
    bearings_deg: tuple[float, ...]
    study: Study


_FOR_ONE_SITE = {
    # what a request holds, and the option that gives it: all mean one block or one place
    "blocks": "--block",
    "alleys": "--alley",
    "share_rules": "--share-rules",
    "start_corner": "--start-corner",
    "prefix": "--prefix",
    "guide": "--guide",
    "straight": "--straight",
}


_WITHOUT_COLUMN = ("chosen", "base")
"""Options of a study that no column of the tables comes from."""


def asked_for_parcels(asked: Asked, study: AskedStudy) -> AskedParcels:
    """The rules, bearings and limits that are asked for.

    Raises
    ------
    InputProblem
        One sentence that names the option.
    """
    for name, option in _FOR_ONE_SITE.items():
        if getattr(asked, name):
            raise InputProblem(
                f"{option} is for one site and means nothing for parcels: leave it out."
            )
    for option in _WITHOUT_COLUMN:
        if option in (study.values or {}):
            raise InputProblem(
                f"--{option} is for a comparison of one site and means nothing for parcels: leave it out."
            )
    if "bearing" in asked.rules:
        raise InputProblem(
            "--bearing gives one bearing: give those to compare with --sweep or --bearings."
        )
    if study.candidates:
        raise InputProblem(
            "--candidate is for one site: compare parcels by other spacings in a run of their own."
        )
    if study.bearings is None and study.sweep is None:
        raise InputProblem("Nothing is said to compare: give --sweep 1 or --bearings 0,45,90.")
    wind = (study.values or {}).get("wind-from")
    for option, text in (("bearings", study.bearings), ("wind-from", wind)):
        if re.search(r"grid|mag", text or "", re.IGNORECASE):
            raise InputProblem(
                f"--{option} {text!r}: parcels have no one grid or declination, so give it true."
            )
    project = with_asked(stand_in(), Asked(asked.rules))
    project = with_asked_study(project, study)
    bearings = tuple(c.bearing_deg for c in project.study.candidates)
    return AskedParcels(project.blocks[0].rules, bearings, project.study)


def with_clearances(exclusions: tuple[Exclusion, ...], keep_from: tuple[str, ...]):
    """The exclusions, in their order, with the clearances asked for by kind or name.

    Raises
    ------
    InputProblem
    """
    return with_asked(stand_in(exclusions), Asked(keep_from=keep_from)).exclusions


def stand_in(exclusions: tuple[Exclusion, ...] = ()) -> Project:
    """A project of one block, in which rules are asked for as in any other."""
    site = Site(SiteFrame(0.0, 0.0), "EPSG:4326", "EPSG:32631")
    return Project("parcels", site, (Block("B1", shapely.box(0, 0, 100, 100)),), exclusions)


def asked_processes(text: str | None, there: int) -> int:
    """How many processes: as many as there are processors where none is given.

    Raises
    ------
    InputProblem
    """
    if text is None:
        return max(there, 1)
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if number not in range(1, 1025):
        raise InputProblem(
            f"--processes {text!r} is no number of processes: give one from 1 to 1024."
        )
    return int(number)
