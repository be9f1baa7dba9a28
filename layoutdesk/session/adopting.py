"""What adopting the measured ends of rows would change, told before it is done."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import numpy as np

from ..core.model import Project
from .tally import grouped

if TYPE_CHECKING:
    from .staked import StakedAnswer

_STAKED = "end staked"


def has_adopted(project: Project) -> bool:
    """Whether any row of a project stands on measured ends."""
    return any(o.what == _STAKED for block in project.blocks for o in block.overrides)


def looks_amiss(answer: StakedAnswer) -> str:
    """The mistake that measured points look like, in words; empty where they look like none."""
    wrong = (f for f in answer.findings if f.code == "staked-explained" and f.severity == "wrong")
    return next((f.message for f in wrong), "")


def adopting_words(project: Project, answer: StakedAnswer, unit: str = "m") -> str:
    """How many ends would move and how far, and what becomes of rows, their length and their vines.

    Raises
    ------
    InputProblem
        Where no end was measured near its place.
    """
    from .staked_edits import with_adopted
    from .staked_lines import shown_small
    from .stakeout import lay_project

    amiss = looks_amiss(answer)
    after = with_adopted(project, answer, "", datetime.date.min, although=amiss)
    before, plans = answer.hand.plans, lay_project(after)
    n_now, n_before = _ends(after), _ends(project)
    far = float(np.max(answer.residuals.distance_m, initial=0.0))
    said = [f"The points look like a mistake: {amiss}"] if amiss else []
    ends = f"{grouped(n_now)} row ends stand where they were measured then"
    if n_before:
        ends += f" ({grouped(n_before)} do now)"
    said += [
        f"{ends}; the farthest measured point is {shown_small(far, unit)} from the plan.",
        f"{_change('row segment', _count(before, 'n_segments'), _count(plans, 'n_segments'))}; "
        f"{_change('vine', _count(before, 'n_vines'), _count(plans, 'n_vines'))}.",
        "Vines, posts, water and take-off follow; ends that were not measured stay as they are laid. It can be undone, "
        "and taken back later.",
    ]
    return " ".join(said)


def _ends(project: Project) -> int:
    return sum(o.what == _STAKED for block in project.blocks for o in block.overrides)


def _count(plans, name: str) -> int:
    return sum(int(getattr(plan, name)) for plan in plans)


def _change(word: str, before: int, after: int) -> str:
    """How a count changes.

    Examples
    --------
    >>> _change("vine", 1200, 1198).replace("\\u202f", " "), _change("row segment", 40, 40)
    ('1 198 vines instead of 1 200', '40 row segments as before')
    """
    words = word if after == 1 else f"{word}s"
    if before == after:
        return f"{grouped(after)} {words} as before"
    return f"{grouped(after)} {words} instead of {grouped(before)}"
