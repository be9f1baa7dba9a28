"""The comparison as it is read: candidates and their table in words and figures.

Columns follow the study as it is now; what was not counted yet is shown as such.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..core.compare.catalogue import GROUP_TITLES, MEASURES, Measure
from ..core.model import Project
from ..core.model.study import Candidate, Study
from .candidate_words import candidate_about, candidate_names, candidate_title
from .measure_words import measure_heading, measure_text

NOT_COUNTED = "…"
NOT_KNOWN = "–"
_MINUS = "−"


@dataclass(frozen=True)
class Column:
    """One candidate as its small plan says it.

    Attributes
    ----------
    title : str
        Its name, else how its rows run.
    called : str
        The same where it stands alone, and what else it changes where others have its title too.
    about : str
        What else it changes, or that it is the plan as it stands.
    beaten_by : str
        What a candidate is called that is at least as good in every chosen measure and better in one.
    better_in : tuple of str
        Measures not chosen in which it is nevertheless better than that one.
    note, problem : str
        `problem` says why it cannot be laid.
    bearings_deg : tuple of float
        How its straight rows run, each bearing once. [deg]
    result : int or None
        Its place in the answer, None where it was not counted yet.
    in_use : bool
        Whether it is the plan as it stands.
    """

    title: str
    called: str = ""
    about: str = ""
    beaten_by: str = ""
    better_in: tuple[str, ...] = ()
    note: str = ""
    problem: str = ""
    bearings_deg: tuple[float, ...] = ()
    result: int | None = None
    in_use: bool = False


@dataclass(frozen=True)
class Cell:
    """One figure: its text, its difference from the base, and whether it is best in its line."""

    text: str
    difference: str = ""
    best: bool = False


@dataclass(frozen=True)
class Line:
    """One measure over all columns."""

    name: str
    heading: str
    meaning: str
    can_beat: bool
    chosen: bool
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Group:
    """Lines of one subject; where nothing is known, what to say for it to be known."""

    title: str
    lines: tuple[Line, ...]
    missing: str = ""


_MISSING = {
    "": "",
    "terrain": "Heights are not known: give them with Ground, Heights of the ground.",
    "sun": "Nothing is known of the sun here.",
    "wind": "Say at the left, under Measured by, where it comes from.",
    "prices": "Say at the left, under Measured by, what posts and ends cost.",
}
"""What is said under a heading of which nothing is known."""


def columns_of(project: Project, study: Study, answer, unit: str = "m") -> tuple[Column, ...]:
    """Every candidate of a study, with what an answer, or None, knows of it."""
    blocks = study.blocks_of(project.blocks)
    found = {r.candidate: i for i, r in enumerate(answer.results)} if answer else {}
    titles = [candidate_title(c, blocks) for c in study.candidates]
    names = candidate_names(study.candidates, blocks, unit)
    called = [
        title if titles.count(title) == 1 else name
        for title, name in zip(titles, names, strict=True)
    ]
    told = dict(zip(study.candidates, called, strict=True))
    columns = []
    for candidate, title, alone in zip(study.candidates, titles, called, strict=True):
        i = found.get(candidate, found.get(_alike(candidate, found)))
        beaten_by, problem, better_in = "", "", ()
        if i is not None:
            problem = answer.results[i].problem
            by = int(answer.beaten[i])
            if by >= 0:
                better_in = _better_in(answer, i, by)
                winner = answer.results[by].candidate
                winner = _alike(winner, study.candidates) or winner
                beaten_by = told.get(winner, candidate_title(winner, blocks))
        bearings = (candidate.bearing_deg,)
        if candidate.bearing_deg is None:
            bearings = dict.fromkeys(b.rules.bearing_deg for b in blocks if b.guide is None)
        columns.append(
            Column(
                title,
                alone,
                candidate_about(candidate, unit),
                beaten_by,
                better_in,
                candidate.note,
                problem,
                tuple(bearings),
                i,
                not candidate.changes,
            )
        )
    return tuple(columns)


def _better_in(answer, i: int, by: int) -> tuple[str, ...]:
    """Labels of the measures in which the i-th candidate is better than the one that beats it."""
    labels = []
    for measure in MEASURES.values():
        mine, its = (_figure(answer.results[k], measure.name) for k in (i, by))
        ahead = round(mine - its, measure.decimals) if math.isfinite(mine - its) else 0.0
        if measure.better and (ahead > 0) == (measure.better == "more") and ahead:
            labels.append(measure.label)
    return tuple(labels)


def _alike(candidate: Candidate, found) -> Candidate | None:
    """The one of them that lays the same rows: a name or note changes no figure."""
    return next((c for c in found if c.changes == candidate.changes), None)


def table_of(
    study: Study, columns: tuple[Column, ...], answer, unit: str = "m", unread: str = ""
) -> tuple[Group, ...]:
    """The table: groups of lines, one line a measure, one cell a column.

    A group of which nothing is known says what is missing; until there is an answer all are whole.
    `unread` is why heights that the project has could not be read.
    """
    groups = []
    for needs, title in GROUP_TITLES.items():
        missing = _MISSING[needs]
        measures = [m for m in MEASURES.values() if m.needs == needs]
        if answer is not None:
            counted = [m for m in measures if _is_known(m, answer)]
            waiting = not any(c.result is not None for c in columns)
            measures = counted if not waiting else measures
        elif needs not in ("", "sun"):
            measures = []
        lines = tuple(_line(m, study, columns, answer, unit) for m in measures)
        missing = unread or missing if needs == "terrain" else missing
        if lines or answer is not None:
            groups.append(Group(title, lines, "" if lines else missing))
    return tuple(groups)


def _is_known(measure: Measure, answer) -> bool:
    return any(math.isfinite(_figure(r, measure.name)) for r in answer.results)


def _figure(result, name: str) -> float:
    value = result.values.get(name, math.nan)
    return math.nan if value is None else float(value)


def _line(measure: Measure, study: Study, columns, answer, unit: str) -> Line:
    base = columns[study.base].result if columns else None
    standing = _figure(answer.results[base], measure.name) if base is not None else math.nan
    best = answer.best.get(measure.name) if answer else None
    if sum(c.result is not None for c in columns) < 2:
        best = None  # of one, nothing is best
    cells = []
    for c, column in enumerate(columns):
        if column.result is None:
            cells.append(Cell(NOT_COUNTED))
            continue
        value = _figure(answer.results[column.result], measure.name)
        if not math.isfinite(value):
            cells.append(Cell(NOT_KNOWN))
            continue
        difference = ""
        if c != study.base and math.isfinite(standing):
            difference = _difference(measure, value, standing, unit, study)
        is_best = best is not None and bool(best[column.result])
        text = measure_text(measure.name, value, unit)
        cells.append(Cell(text, difference, is_best))
    better = {"more": " More is better.", "less": " Less is better."}.get(measure.better, "")
    return Line(
        measure.name,
        measure_heading(measure.name, unit, study),
        measure.definition + better,
        bool(measure.better),
        measure.name in study.chosen,
        tuple(cells),
    )


def _difference(measure: Measure, value: float, base: float, unit: str, study: Study) -> str:
    shown = measure_text(measure.name, abs(value - base), unit)
    if not any(ch in "123456789" for ch in shown):
        return ""
    return f"{'+' if value > base else _MINUS}{shown}"


def cell_in_words(group: Line, cell: Cell, column: Column, base: str) -> str:
    """One cell as it is read aloud.

    Examples
    --------
    >>> line = Line("vines", "Vines", "", True, True, ())
    >>> cell_in_words(line, Cell("23 703", "+208", True), Column("096.0°"), "018.0°")
    'Vines at 096.0°: 23 703, best, +208 from 018.0°'
    """
    said = {NOT_COUNTED: "being counted", NOT_KNOWN: "not known"}.get(cell.text, cell.text)
    text = f"{group.heading} at {column.called or column.title}: {said}"
    text += ", best" if cell.best else ""
    return text + (f", {cell.difference} from {base}" if cell.difference else "")


def as_text(groups: tuple[Group, ...], columns: tuple[Column, ...]) -> str:
    """The table as tab-separated lines, to be pasted into a sheet; figures without differences."""
    lines = ["\t".join(["", *(c.called or c.title for c in columns)])]
    for group in groups:
        for line in group.lines:
            cells = [c.text.replace("\u202f", "") for c in line.cells]
            lines.append("\t".join([line.heading, *cells]))
    beaten = [c.beaten_by for c in columns]
    if any(beaten):
        lines.append("\t".join(["Beaten by", *beaten]))
    notes = [" ".join(c.note.split()) for c in columns]
    if any(notes):
        lines.append("\t".join(["Note", *notes]))
    return "\n".join(lines) + "\n"


@dataclass(frozen=True, eq=False)
class Curve:
    """One measure over all bearings, with the figures at its foot and its top in words.

    Attributes
    ----------
    name, heading : str
    share : float array, shape (b,)
        0 at the lowest figure, 1 at the highest; a level one lies half way.
    lowest, highest : str
    span : str
        From the lowest to the highest, of the larger: curves of any height fill the picture.
    values : float array, shape (b,)
        SI.
    unit : str
        Of lengths in words.
    """

    name: str
    heading: str
    share: np.ndarray
    lowest: str
    highest: str
    span: str
    values: np.ndarray
    unit: str

    def text_at(self, i: int) -> str:
        """The figure at the i-th bearing, in words."""
        value = float(self.values[i])
        return measure_text(self.name, value, self.unit) if math.isfinite(value) else NOT_KNOWN


def _span(low: float, high: float) -> str:
    """How far two figures are apart, of the larger.

    Examples
    --------
    >>> _span(26_235, 27_014), _span(5.0, 5.001), _span(0.0, 0.0)
    ('3\u202f%', 'under 1\u202f%', '0\u202f%')
    """
    largest = max(abs(low), abs(high))
    share = 100 * (high - low) / largest if largest else 0.0
    return "under 1\u202f%" if 0 < share < 1 else f"{share:.0f}\u202f%"


def swept_values(answer) -> dict[str, np.ndarray]:
    """Every measure known over all bearings, in the order of the table."""
    if answer is None or answer.sweep is None:
        return {}
    known = {**answer.sweep.values, **answer.curves}
    return {m: known[m] for m in MEASURES if m in known and np.isfinite(known[m]).any()}


def curves_of(answer, names, study: Study, unit: str = "m") -> tuple[Curve, ...]:
    """The curves of some measures, each on its own scale from its lowest to its highest figure."""
    known = swept_values(answer)
    curves = []
    for name in known:
        if name not in names:
            continue
        values = np.asarray(known[name], dtype=float)
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        share = (values - low) / (high - low) if high > low else np.full(len(values), 0.5)
        curves.append(
            Curve(
                name,
                measure_heading(name, unit, study),
                share,
                measure_text(name, low, unit),
                measure_text(name, high, unit),
                _span(low, high),
                values,
                unit,
            )
        )
    return tuple(curves)
