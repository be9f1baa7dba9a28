"""The row table and the register of lots of a site, as their files are written from them."""

from __future__ import annotations

import datetime

import numpy as np

from ..core.layout.numbering import segment_code, segment_letter
from ..core.model.register import STATES
from ..formats.lots_csv import LotRegister
from ..formats.row_table_csv import RowTable
from .lot_lines import need_lines
from .planted import PlantingAnswer, lots_of_vines
from .planting_drawing import planting_drawing
from .survey import survey_view
from .tally import grouped
from .units import unit_length_m

_NO_NUMBER = -1
_UNITS = {"metre": "m", "foot": "ft", "US survey foot": "usft"}
_NOTES = (
    "Usable: delivered less rejected. Left: usable plants less vines the lot is assigned to; of a lot that has "
    "not come, ordered plants less vines.",
    "What is on record at the vines tells which lot stands where; this register tells what came.",
)


def row_table(answer: PlantingAnswer, unit: str = "m") -> RowTable:
    """A line a segment, plan after plan.

    Plants and lots are what stands there by the register, else what is assigned; where a segment has several
    each is told with its vines.
    """
    plans, found = answer.plans, answer.assigned
    n = sum(plan.n_segments for plan in plans)
    codes = [
        (plan.block.name, number, segment_letter(letter), segment_code(plan.block.name, number, letter))
        for plan in plans
        for number, letter in zip(
            plan.segments.number.tolist(), plan.segments.letter.tolist(), strict=True
        )
    ]  # fmt: skip
    block, row, letter, code = map(tuple, zip(*codes, strict=True)) if codes else ((),) * 4
    view = survey_view(answer.project)
    ends = np.concatenate([np.empty((0, 2, 2)), *(p.segment_ends_m for p in plans)])
    east_north = view.to_survey(ends.reshape(-1, 2)).reshape(-1, 2, 2) if n else ends
    segment = found.segment
    drawn = planting_drawing(answer, "plant")
    labels = ["" if e.role == "quiet" else e.label for e in drawn.legend]
    lot, names = lots_of_vines(found, answer.standing, answer.matching)
    planted = missing = dead = None
    if answer.standing is not None:
        place = answer.matching.place
        state = np.zeros(len(segment), np.uint8)
        state[place >= 0] = answer.standing.state[place[place >= 0]]
        stands = (state == STATES.index("planted")) | (state == STATES.index("replanted"))
        planted, missing, dead = (
            np.bincount(segment[mask], minlength=n)
            for mask in (stands, state == STATES.index("missing"), state == STATES.index("dead"))
        )
    first, last = _first_and_last(segment, found.index, n)
    return RowTable(
        block=block,
        row=np.array(row, np.int64),
        segment=letter,
        code=code,
        start=east_north[:, 0],
        far=east_north[:, 1],
        length_m=np.concatenate([np.empty(0), *(p.segments.length_m for p in plans)]),
        unit=unit,
        unit_m=unit_length_m(unit),
        survey_unit=_UNITS.get(view.grid.unit, "grid"),
        vines=np.bincount(segment, minlength=n),
        first_vine=first,
        last_vine=last,
        plants=_told(segment, drawn.vine_class, labels, n),
        lots=_told(segment, lot, list(names), n),
        trays=_trays(answer, segment, lot, names, n),
        planted=planted,
        missing=missing,
        dead=dead,
        sets=answer.set_of_segment,
    )


def _first_and_last(segment: np.ndarray, index: np.ndarray, n: int):
    """Least and greatest index of each segment; 0 where it has no vine."""
    first = np.full(n, np.iinfo(np.int32).max, np.int64)
    last = np.zeros(n, np.int64)
    np.minimum.at(first, segment, index)
    np.maximum.at(last, segment, index)
    return np.where(last > 0, first, 0), last


def _counts(segment: np.ndarray, value: np.ndarray, n_values: int):
    """How many vines of each value there are in each segment: segment, value, count; values below 0 left out."""
    said = value >= 0
    key = segment[said].astype(np.int64) * max(n_values, 1) + value[said]
    pairs, counts = np.unique(key, return_counts=True)
    return (*np.divmod(pairs, max(n_values, 1)), counts)


def _told(segment: np.ndarray, value: np.ndarray, labels: list[str], n: int) -> tuple[str, ...]:
    """What is in each segment, in words: one label, or several with their vines, the most first."""
    total = np.bincount(segment, minlength=n)
    texts: list[list[tuple[int, str]]] = [[] for _ in range(n)]
    for s, v, count in zip(
        *(a.tolist() for a in _counts(segment, value, len(labels))), strict=True
    ):
        if labels[v]:
            texts[s].append((-count, labels[v]))
    words = []
    for s, mine in enumerate(texts):
        if len(mine) == 1 and -mine[0][0] == total[s]:
            words.append(mine[0][1])
        else:
            words.append("; ".join(f"{label}: {-count}" for count, label in sorted(mine)))
    return tuple(words)


def _trays(answer: PlantingAnswer, segment: np.ndarray, lot: np.ndarray, names, n: int):
    """Trays or bundles each segment's plants fill, lot by lot, opened ones counted."""
    known = {a.name.casefold(): a.tray for a in answer.assigned.planting.lots}
    size = np.array([known.get(name.casefold(), 0) for name in names] or [0])
    s, v, count = _counts(segment, lot, len(names))
    trays = np.bincount(s, weights=-(-count // np.maximum(size[v], 1)), minlength=n)
    untold = np.bincount(s[size[v] == 0], minlength=n) > 0
    none = np.bincount(s, minlength=n) == 0
    return np.where(untold | none, _NO_NUMBER, trays).astype(np.int64)


def lot_register(
    answer: PlantingAnswer, unit: str = "m", day: datetime.date | None = None
) -> LotRegister:
    """All lots with what came, what is assigned and what is left, their tags, and what is needed.

    Parameters
    ----------
    day : datetime.date, optional
        Printed on it; the project's own where it is left out.
    """
    from .sheet import paper_named

    planting = answer.assigned.planting
    standing, others = _standing(answer)
    paper = paper_named("A4" if unit == "m" else "Letter", landscape=False)
    vines, lots = len(answer.assigned.plant), len(planting.lots)
    summary = (
        f"{grouped(lots)} {'lot' if lots == 1 else 'lots'}, "
        f"{grouped(sum(use.lot.usable for use in answer.uses))} plants that came and can be planted, "
        f"for {grouped(vines)} {'vine' if vines == 1 else 'vines'}; "
        f"{grouped(int((answer.assigned.lot >= 0).sum()))} of them have a lot."
    )
    needed = tuple(
        (n.plant, grouped(need.vines), grouped(need.spares), n.usable, n.on_order, n.short, n.surplus, n.order_by)
        for n, need in zip(need_lines(answer), answer.needs, strict=True)
    )  # fmt: skip
    day = day or answer.project.day
    return LotRegister(
        name=answer.project.name,
        said_of=said_of(answer, day),
        day=day,
        upright_mm=(paper.width_mm, paper.height_mm),
        uses=answer.uses,
        standing=standing,
        others=others,
        tags=planting.tags,
        needs=needed,
        summary=(summary,),
        notes=_NOTES,
    )


def said_of(answer: PlantingAnswer, day: datetime.date | None) -> str:
    """Plan mark, the user's revision and the day, as they stand at the head of a sheet."""
    from ..formats.project_file import plan_mark

    revision = answer.assigned.planting.title.revision
    texts = [f"Plan {plan_mark(answer.project)}", revision and f"revision {revision}"]
    return ", ".join(t for t in (*texts, day and day.isoformat()) if t)


def _standing(answer: PlantingAnswer):
    """Vines that stand of each lot by the register, and lots that are on record alone."""
    now = answer.standing
    if now is None:
        return None, ()
    stands = np.isin(now.state, [STATES.index("planted"), STATES.index("replanted")])
    known = now.register.lots
    counts = np.bincount(now.lot[stands & (now.lot >= 0)], minlength=len(known)).tolist()
    by_name = {lot.name.casefold(): n for lot, n in zip(known, counts, strict=True)}
    listed = {use.lot.name.casefold() for use in answer.uses}
    others = tuple(
        (lot.name, str(lot.plant), n)
        for lot, n in zip(known, counts, strict=True)
        if lot.name.casefold() not in listed
    )
    return tuple(by_name.get(use.lot.name.casefold(), 0) for use in answer.uses), others
