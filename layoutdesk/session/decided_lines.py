"""What was decided of measured points before, as it stands on record."""

from __future__ import annotations

from dataclasses import dataclass

from ..core.model import Project
from ..core.staking.looking_like import small_length
from .hand_off_set import hand_off_of
from .staked_files import check_words
from .tally import grouped
from .units import unit_length_m


@dataclass(frozen=True)
class DecidedLine:
    """One file of measured points that was accepted or adopted."""

    day: str
    verdict: str
    file: str
    points: str
    rms: str
    by: str
    key: str
    told: str


def decided_lines(project: Project, unit: str = "m") -> tuple[DecidedLine, ...]:
    """What was decided, the latest first."""
    lines = []
    checks = hand_off_of(project).checks
    for i, check in reversed(list(enumerate(checks))):
        rms = small_length(check.rms_m, unit_length_m(unit))
        day, n = check.day.isoformat(), grouped(check.n_points)
        told = check_words(check, unit)
        lines.append(DecidedLine(day, check.verdict, check.file, n, rms, check.by, str(i), told))
    return tuple(lines)
