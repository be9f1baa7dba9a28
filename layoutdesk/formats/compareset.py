"""What a comparison's files are written from: candidates, their measures, and all that is said of them."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, field

import numpy as np

from ..core.compare.catalogue import GROUP_TITLES, MEASURES
from ..core.model import Candidate, Finding, Project, RowPlan, Study
from ..core.model.study import CHANGES
from .stakeset import SurveyGrid


@dataclass(frozen=True, eq=False)
class Line:
    """One line of the table in people's units.

    Attributes
    ----------
    name : str
        Of the measure, or of the rule.
    label, unit : str
        As people read them.
    better : str
        "more", "less", or empty.
    decimals : int
    values : float array, shape (c,)
        One a candidate, NaN where not known.
    best : bool array, shape (c,)
    curve : float array, shape (b,), or None
        Over all bearings of the set's curves.
    definition : str
    """

    name: str
    label: str
    unit: str
    better: str
    decimals: int
    values: np.ndarray
    best: np.ndarray
    curve: np.ndarray | None = None
    definition: str = ""

    @property
    def heading(self) -> str:
        """Label and unit."""
        return f"{self.label}, {self.unit}" if self.unit else self.label


@dataclass(frozen=True, eq=False)
class CompareSet:
    """Everything the files of a comparison are written from.

    Attributes
    ----------
    project, study
    names : tuple of str
        What each candidate is called, shape (c,).
    candidates : tuple of Candidate
    plans : tuple of tuple of RowPlan
        One a block and candidate; empty for a candidate that cannot be laid.
    problems : tuple of str
        Why a candidate cannot be laid; empty where it can.
    values : dict of float array, shape (c,)
        Every measure of the catalogue, SI, NaN where not known.
    best : dict of bool array, shape (c,)
    beaten : int array, shape (c,)
        Which candidate beats each in every chosen measure; -1 for none.
    bearings_deg : float array, shape (b,)
        Of the curves; empty where there are none. [deg]
    curves : dict of float array, shape (b,)
        Measures over these bearings, SI.
    rules, lines : tuple of Line
        The table for people: what was changed, and what was measured.
    survey : SurveyGrid
    revision : str
    day : datetime.date or None
    terrain : dict or None
        Path, unit, datum and statement of the heights used.
    sun : dict
        Place, canopy and season the sun's measures are counted by.
    findings : tuple of Finding
    cautions : tuple of str
    paragraphs : tuple of (str, str)
        Headings with the base's rules in words.
    notes : tuple of str
        What is to be known to read the table: what is compared with what.
    unit : str
        Of lengths for people.
    contours : tuple of float array, shape (n, 3)
        Lines of equal height under the plans, each place [m] with the height in people's unit.
    contour_words : str
        What they are.
    differs : str
        What sets the candidates apart, in a sentence or two; one of the notes.
    """

    project: Project
    study: Study
    names: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    plans: tuple[tuple[RowPlan, ...], ...]
    problems: tuple[str, ...]
    values: dict[str, np.ndarray]
    best: dict[str, np.ndarray]
    beaten: np.ndarray
    bearings_deg: np.ndarray
    curves: dict[str, np.ndarray]
    rules: tuple[Line, ...]
    lines: tuple[Line, ...]
    survey: SurveyGrid
    revision: str
    day: datetime.date | None = None
    terrain: dict | None = None
    sun: dict = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()
    paragraphs: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    unit: str = "m"
    contours: tuple[np.ndarray, ...] = ()
    contour_words: str = ""
    differs: str = ""

    def __len__(self) -> int:
        return len(self.names)

    @property
    def statement(self) -> str:
        """One line every file carries: what was compared, from which heights, in which state."""
        heights = self.terrain["statement"] if self.terrain else "terrain is not known"
        return f"{self.project.name}; {len(self)} candidates; {heights}; revision {self.revision}"

    @property
    def beaten_words(self) -> str:
        """What it is to be beaten; empty where no candidate is."""
        if not (np.asarray(self.beaten) >= 0).any():
            return ""
        chosen = [line.label for line in self.lines if line.name in self.study.chosen]
        named = f" ({', '.join(t[0].lower() + t[1:] for t in chosen)})" if chosen else ""
        return (
            "Beaten: another candidate is at least as good in every chosen measure"
            f"{named} and better in one of them."
        )


def grouped_lines(compare: CompareSet) -> list[tuple[str, tuple[Line, ...]]]:
    """The table under its headings: rules, then measures by subject; none without a line."""
    groups = [("Rules", tuple(compare.rules))]
    for needs, title in GROUP_TITLES.items():
        groups.append((title, tuple(x for x in compare.lines if MEASURES[x.name].needs == needs)))
    return [(title, lines) for title, lines in groups if lines]


COLUMNS = ("name", *CHANGES, *MEASURES, "beaten_by", "note", "problem")
"""Of compare.csv, in their order; in compare.json the same names are used."""


def plain_number(name: str, value: float):
    """A measure as a number of its kind; None where it is not known.

    Examples
    --------
    >>> plain_number("vines", 1200.0), plain_number("mean_row_m", 101.5), plain_number("vines", float("nan"))
    (1200, 101.5, None)
    """
    value = float(value)
    if not math.isfinite(value):
        return None
    measure = MEASURES[name]
    return round(value) if not measure.unit and not measure.decimals else value


def shown_number(value: float, decimals: int, signed: bool = False) -> str:
    """A figure with narrow spaces between thousands; a dash where it is not known.

    Examples
    --------
    >>> shown_number(23495.0, 0).replace("\\u202f", " "), shown_number(-1.25, 1, signed=True)
    ('23 495', '−1.2')
    """
    if not np.isfinite(value):
        return "–"
    text = f"{abs(value):,.{decimals}f}".replace(",", "\u202f")
    zero = not text.strip("0.\u202f")
    sign = "" if zero else "−" if value < 0 else "+" if signed else ""
    return f"{sign}{text}"


def used_rules(plan: RowPlan) -> dict:
    """The rules a candidate may change, as they were used in one block; no bearing in curved rows."""
    used = {rule: getattr(plan.rules, rule) for rule in CHANGES}
    used["first_row_m"] = plan.first_row_m
    if plan.course is not None or plan.block.guide is not None:
        used["bearing_deg"] = None
    return used


def records(compare: CompareSet) -> list[dict]:
    """Every candidate with its rules as used and its measures, by the names of COLUMNS.

    Rules are those of the first block. What is not known is None.
    """
    found = []
    for i, candidate in enumerate(compare.candidates):
        plans = compare.plans[i]
        used = used_rules(plans[0]) if plans else {r: candidate.changes.get(r) for r in CHANGES}
        beaten = int(compare.beaten[i])
        found.append(
            {
                "name": compare.names[i],
                **used,
                **{m: plain_number(m, compare.values[m][i]) for m in MEASURES},
                "beaten_by": compare.names[beaten] if beaten >= 0 else None,
                "note": candidate.note,
                "problem": compare.problems[i],
            }
        )
    return found


def drawn_lines(compare: CompareSet, most: int) -> list[Line]:
    """Lines worth a curve: those that change over bearings, the chosen ones before the others."""
    known = [
        line
        for line in compare.lines
        if line.curve is not None
        and np.isfinite(line.curve).sum() > 1
        and np.nanmax(line.curve) > np.nanmin(line.curve)
    ]
    order = ("vines", *compare.study.chosen, *_WORTH_SEEING)
    place = {name: i for i, name in reversed(list(enumerate(order)))}
    ranked = sorted(known, key=lambda line: place.get(line.name, len(order)))
    return ranked[:most]


_WORTH_SEEING = (
    "grade_along_p95_pct",
    "grade_across_p95_pct",
    "sun_hot_mj_m2",
    "sun_share_pct",
    "sun_afternoon_mj_m2",
    "mean_row_m",
    "short_rows",
    "end_posts",
    "posts_cost",
)


def about_sections(compare: CompareSet) -> list[tuple[str, tuple[str, ...]]]:
    """What every reader of the table must know, under headings; no heading without words."""
    grid = compare.survey
    terrain = (
        (compare.terrain["statement"],)
        if compare.terrain
        else (
            "Heights of the ground are not known: grades are left out, and sun is that of level ground.",
        )
    )
    found = tuple(
        f"{f.severity.capitalize()}. {f'{f.where}: ' if f.where and f.where not in f.message else ''}"
        f"{f.message}"
        for f in compare.findings
    )
    told = tuple(
        f"{name}: {' '.join(w for w in (problem, c.note) if w)}"
        for name, problem, c in zip(
            compare.names, compare.problems, compare.candidates, strict=True
        )
        if problem or c.note
    )
    beaten = (compare.beaten_words,) if compare.beaten_words else ()
    sections = [
        ("What is compared", (compare.statement, *compare.notes, *beaten)),
        ("Notes of candidates", told),
        *((heading, tuple(text.split("\n"))) for heading, text in compare.paragraphs),
        ("Terrain", terrain),
        ("Sun", (compare.sun["statement"],) if compare.sun.get("statement") else ()),
        (
            "Lengths and bearings",
            (
                "Lengths are on the ground, in plan; bearings are true, clockwise from north.",
                f"Survey grid: {grid.statement}.",
            ),
        ),
        ("Findings", found),
        ("Cautions", compare.cautions),
    ]
    return [(heading, texts) for heading, texts in sections if texts]
