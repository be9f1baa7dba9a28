"""The stake-out set as points and lines of a hand-off, and the codes of its marks."""

from __future__ import annotations

import datetime

import numpy as np

from ..core.layout.numbering import MARK_LETTER, segment_code
from ..core.model import RowPlan
from ..core.model.handoff import HandOff, PointChoice, PointTable
from ..core.staking.lines import plan_lines
from ..core.staking.points import point_set
from .handoffset import HandOffSet, Placing
from .stakeset import StakeSet

_ALWAYS = HandOff(
    PointChoice(("end_post", "line_post", "anchor", "vine"), order="by kind"),
    PointTable(decimals=4, is_sealed=False),
)
"""What the stake-out set holds and how, whatever a project says of its hand-off."""


def handed_off(stakes: StakeSet) -> HandOffSet:
    """The stake-out set as a hand-off: all posts, anchors and vines, on the survey grid.

    It has no mark of the plan and no day: its files tell neither.
    """
    survey = stakes.survey
    placing = Placing(
        survey,
        "grid",
        survey.unit,
        survey.unit_m,
        np.eye(2, 3),
        (0.0,) * 5,
        stakes.to_survey,
        _no_way_back,
        survey.statement,
    )
    return HandOffSet(
        stakes.project,
        stakes.plans,
        _ALWAYS,
        placing,
        point_set(stakes.plans, (), _ALWAYS.points),
        plan_lines(stakes.plans, stakes.project.exclusions),
        stakes.to_wgs84,
        stakes.wgs84_shift,
        stakes.revision,
        "",
        datetime.date.min,
        stakes.findings,
        stakes.heights,
        stakes.heights_said,
    )


def _no_way_back(en: np.ndarray) -> np.ndarray:
    raise ValueError("en: a stake-out set has no way back from the survey system")


def segment_codes(plan: RowPlan, name: str) -> list[bytes]:
    """Code of every segment, such as B1-R012A, in UTF-8.

    `name` is the block's, as the file writes it; what is no character becomes a question mark.
    """
    s = plan.segments
    pairs = zip(s.number.tolist(), s.letter.tolist(), strict=True)
    known = name.encode("utf-8", "replace").decode()
    return [segment_code(known, number, letter).encode() for number, letter in pairs]


def mark_infix(kind: str) -> bytes:
    """What stands between a segment's code and the index of a mark, such as -V."""
    return f"-{MARK_LETTER[kind]}".encode()


def clean(text: str) -> str:
    """A text in one line: control characters become spaces."""
    if text.isprintable():
        return text
    return "".join(c if c >= " " and c != "\x7f" else " " for c in text)
