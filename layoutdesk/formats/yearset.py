"""What the files of the first years are written from."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field

from ..core.model import Project
from ..core.planting.years import FirstYears
from .takeoffset import PeopleUnits

KG_PER_TONNE = 1000.0
KG_PER_US_TON = 907.18474
"""2,000 lb of 0.45359237 kg, exact (NIST SP 811, appendix B). [kg]"""


@dataclass(frozen=True)
class DutyRow:
    """Something to do in a year, all its rounds together, in people's words.

    Attributes
    ----------
    year : int
    when : str
        Days of all rounds.
    what, words : str
    hours : str
        Of all rounds; empty for a milestone.
    """

    year: int
    when: str
    what: str
    words: str
    hours: str


@dataclass(frozen=True)
class CropRow:
    """A harvest in people's units; `counted` says which ways of counting name it."""

    when: str
    leaf: str
    number: str
    share: str
    crop: str
    counted: str


@dataclass(frozen=True, eq=False)
class FirstYearsSet:
    """Everything the files of the first years are written from.

    Attributes
    ----------
    project : Project
    years : FirstYears or None
        None where no planting day is said.
    units : PeopleUnits
    revision : str
    day : datetime.date or None
    missing : str
        Why there are no years; empty where there are.
    summary : str
        How many vines are planted when, and until when this goes.
    duty_rows : tuple of DutyRow
    how : dict
        Words of every duty, by its name.
    crop_rows : tuple of CropRow
    year_titles : tuple of str
        One for each growing year.
    decided : tuple of str
        What the user set, in words.
    notes, counting, cautions : tuple of str
    task_names : dict
        Task in words, by task.
    hours_a_day : float
        Of the crew; only to tell hours as days. [h]
    """

    project: Project
    years: FirstYears | None
    units: PeopleUnits
    revision: str
    day: datetime.date | None = None
    missing: str = ""
    summary: str = ""
    duty_rows: tuple[DutyRow, ...] = ()
    how: dict[str, str] = field(default_factory=dict)
    crop_rows: tuple[CropRow, ...] = ()
    year_titles: tuple[str, ...] = ()
    decided: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    counting: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    task_names: dict[str, str] = field(default_factory=dict)
    hours_a_day: float = 8.0

    @property
    def said_of(self) -> str:
        """Revision, and the day where one is given."""
        return f"Revision {self.revision}" + (f", {self.day.isoformat()}" if self.day else "")

    @property
    def heavy(self) -> tuple[str, float]:
        """Unit of a whole crop: its name, and what one is. [kg]"""
        return ("t", KG_PER_TONNE) if self.units.unit == "m" else ("US tons", KG_PER_US_TON)

    @property
    def about_sections(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """What every reader must know, under headings."""
        return (
            ("Cautions", self.cautions),
            ("What was decided", self.decided),
            ("Two ways of counting to the first small crop", self.counting),
            ("How it is meant", self.notes),
        )
