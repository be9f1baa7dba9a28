"""Forms to be filled in the field: which vines they hold, in which order, and as which file they are written."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from ..core.model import InputProblem, RowPlan
from ..core.planting.again import to_inspect_again
from ..formats.field_form import FormLines
from .planted import PlantingAnswer, lots_of_vines

WHICH: dict[str, str] = {
    # which vines: what they are
    "sample": "vines drawn for inspection",
    "again": "vines with faults, and those put right that nobody has looked at since",
}
ENDINGS = (".csv", ".gpkg")


def vines_to_inspect(answer: PlantingAnswer, which: str = "sample") -> np.ndarray:
    """Vines by one of WHICH, counted as in `Assigned`, rising."""
    if which not in WHICH:
        raise ValueError(f"which: {which!r} is none of {', '.join(WHICH)}")
    if which == "sample":
        return answer.sample.vines if answer.sample is not None else np.empty(0, np.int64)
    if answer.standing is None:
        return np.empty(0, np.int64)
    wanted = answer.standing.faults > 0
    wanted[to_inspect_again(answer.standing)] = True
    place = answer.matching.place
    return np.flatnonzero((place >= 0) & wanted[np.maximum(place, 0)])


def inspection_form(
    answer: PlantingAnswer, which: str = "sample", sheet: int | None = None
) -> FormLines:
    """The inspection form, sheet by sheet as the vines are walked by.

    Parameters
    ----------
    answer : PlantingAnswer
    which : str
        Of WHICH.
    sheet : int, optional
        Of one inspector alone, 0 first.
    """
    if which != "sample" or answer.sample is None:
        return form_lines(answer, _walked(answer, vines_to_inspect(answer, which)))
    sample = answer.sample
    several = int(sample.sheet.max(initial=0)) + 1
    chosen = range(several) if sheet is None else (sheet,)
    parts = [_walked(answer, sample.vines[sample.sheet == k]) for k in chosen]
    vines = np.concatenate(parts) if parts else np.empty(0, np.int64)
    if several == 1:
        return form_lines(answer, vines)
    person = np.repeat(list(chosen), [len(part) for part in parts])
    people = tuple(f"Inspector {k + 1}" for k in range(several))
    return form_lines(answer, vines, person=person, people=people)


def planted_form(answer: PlantingAnswer, vines=None) -> FormLines:
    """The as-planted form of some vines, counted as in `Assigned`; of all of them where none are named."""
    vines = np.arange(len(answer.assigned.segment)) if vines is None else np.asarray(vines)
    return form_lines(answer, _walked(answer, vines), assigned_lots=True)


def _walked(answer: PlantingAnswer, vines: np.ndarray) -> np.ndarray:
    return vines[np.argsort(walked_at(answer.assigned.segment, answer.plans, vines))]


def walked_at(segment: np.ndarray, plans: Sequence[RowPlan], vines: np.ndarray) -> np.ndarray:
    """Turn of each vine when rows are walked up and down by turns, those without one of them passed by.

    Parameters
    ----------
    segment : int array
        Of every vine, through all plans.
    plans : sequence of RowPlan
    vines : int array, shape (k,)

    Returns
    -------
    int array, shape (k,)
    """
    if not len(vines):
        return np.empty(0, np.int64)
    counts = [p.n_segments for p in plans]
    plan = np.repeat(np.arange(len(plans)), counts)
    number = np.concatenate([p.segments.number for p in plans])
    mine = segment[vines]
    row = plan[mine].astype(np.int64) * (int(number.max()) + 1) + number[mine]
    _, turn = np.unique(row, return_inverse=True)
    turn = turn.reshape(-1)
    along = np.where(turn % 2, -vines, vines)
    walked = np.empty(len(vines), np.int64)
    walked[np.lexsort((along, turn))] = np.arange(len(vines))
    return walked


def form_lines(
    answer: PlantingAnswer,
    vines: np.ndarray,
    *,
    person: np.ndarray | None = None,
    people: tuple[str, ...] = (),
    assigned_lots: bool = False,
) -> FormLines:
    """Lines of a form for vines in the order they are given; lots as planted where that is on record."""
    from ..formats.crs import frame_to_wgs84
    from ..formats.project_file import plan_mark

    found, plans = answer.assigned, answer.plans
    if assigned_lots:
        lot, lots = found.lot, tuple(one.name for one in found.planting.lots)
    else:
        lot, lots = lots_of_vines(found, answer.standing, answer.matching)
    used, segment = np.unique(found.segment[vines], return_inverse=True)
    blocks = np.repeat(np.arange(len(plans)), [p.n_segments for p in plans])[used]
    number = np.concatenate([np.empty(0, int), *(p.segments.number for p in plans)])[used]
    letter = np.concatenate([np.empty(0, int), *(p.segments.letter for p in plans)])[used]
    xy_m = np.concatenate([np.empty((0, 2)), *(p.vines.xy_m for p in plans)])[vines]
    to_wgs84 = frame_to_wgs84(answer.project.site.frame)[0]
    degrees = to_wgs84(xy_m) if len(vines) else np.empty((0, 2))
    return FormLines(
        plan=plan_mark(answer.project),
        block=tuple(plans[b].block.name for b in blocks.tolist()),
        number=number.astype(np.int64),
        letter=letter.astype(np.int64),
        segment=segment.reshape(-1),
        index=found.index[vines].astype(np.int64),
        lot=lot[vines].astype(np.int64),
        lots=lots,
        lon_lat_deg=np.where(np.isfinite(degrees), degrees, np.nan),
        person=person,
        people=people,
    )


def write_form(path, lines: FormLines, kind: str, when: datetime.datetime | None = None) -> int:
    """Write a form whole or not at all, by the ending of its name; returns how many vines it has.

    Parameters
    ----------
    path : path
        Ending in one of ENDINGS.
    lines : FormLines
    kind : str
        "inspection" or "as_planted".
    when : datetime.datetime, optional
        Now, with its offset: what a GeoPackage says of itself. The beginning of 2000 where it is left out.

    Raises
    ------
    InputProblem
        Where the ending is another, or the file cannot be written.
    """
    from ..formats.atomic import replacing
    from ..formats.field_form import write_form_csv
    from ..formats.field_form_gpkg import write_form_gpkg

    path = Path(path)
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise InputProblem(f"{path.name} is no form: end its name with {' or '.join(ENDINGS)}.")
    when = when or datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)
    with replacing(path) as stage:
        if ending == ".csv":
            return write_form_csv(stage, lines, kind)
        return write_form_gpkg(stage, lines, kind, when)
