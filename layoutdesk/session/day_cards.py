"""The day cards of a site, as their file is written from them."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np

from ..core.model.planting import CHECKS
from ..core.planting.day_cautions import WORK_CAUTIONS, clock
from ..core.planting.days import DayPlan, Run
from ..formats.day_cards_pdf import DayCard, DayCardSet, LotRow, RunRow, write_day_cards_pdf
from ..formats.pdf_pen import MARGIN_MM
from .day_lines import days_sentences
from .day_pictures import DayPictures
from .day_words import (
    LotOfDay,
    band_text,
    brought_text,
    hours_rows,
    lots_in_short,
    lots_of_day,
    rows_text,
    run_code,
    sets_in_short,
    setting_steps,
    vines_text,
    weekday_text,
    wetting_text,
)
from .planted import PlantingAnswer, planting_of
from .sheet import Paper, paper_named
from .stakeout import SLOPE_CAUTION
from .tally import grouped

NO_DAY = "No planting day is said yet: say when planting begins, and there is a card for every day."
NO_VINES = (
    "There is no vine left to plant: assign plants to rows first, or all of them stand already."
)
NOTES = (
    "Rows are planted in the order of block, number and segment. A row is finished before the next is begun; one "
    "that does not fit into a day any more is left for the next day where nine tenths of the day's vines are "
    "planted by then, else it is split at a vine. A day that was missed moves everything behind it.",
    "Trays are counted through the runs of a lot: what is left of an opened one goes on to the next row, or to the "
    "next day; keep its roots moist and shaded. They go to the row end that is nearer to the last ones.",
    "Rates, depths and the band of the graft union are common practice unless they were set for this site. Breaks "
    "are not counted.",
)


def paper_of(unit: str) -> Paper:
    """A4 upright, or Letter where people read feet."""
    return paper_named("A4" if unit == "m" else "Letter", landscape=False)


def day_cards(
    answer: PlantingAnswer, unit: str = "m", paper: Paper | None = None
) -> tuple[DayCard, ...]:
    """One card a day, in order; none where no day is planned.

    Parameters
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths for people.
    paper : Paper, optional
        Upright; A4 or Letter where it is left out.
    """
    if answer.days is None or not answer.days.days:
        return ()
    wide = (paper or paper_of(unit)).width_mm - 2 * MARGIN_MM
    maker = _CardMaker(answer, unit, wide)
    return tuple(maker.card(i) for i in range(len(answer.days.days)))


def day_card_set(
    answer: PlantingAnswer,
    unit: str = "m",
    day: datetime.date | None = None,
    paper: Paper | None = None,
) -> DayCardSet:
    """What day-cards.pdf is written from; it says so where no day is planned.

    Parameters
    ----------
    day : datetime.date, optional
        Printed on the cards; the project's own where it is left out.
    """
    from ..formats.project_file import plan_mark

    project, days = answer.project, answer.days
    day = day or project.day
    mark = f"Plan {plan_mark(project)}" + (f", {day.isoformat()}" if day else "")
    if days is None or not days.days:
        missing = NO_DAY if days is None else NO_VINES
        return DayCardSet(project.name, mark, day, (), (), (), (), missing)
    return DayCardSet(
        project.name,
        mark,
        day,
        days_sentences(answer),
        tuple(_glance(answer, i) for i in range(len(days.days))),
        (*(f"{f.severity.capitalize()}. {f.message}" for f in days.findings), *NOTES),
        day_cards(answer, unit, paper),
    )


def write_day_cards(path, answer: PlantingAnswer, unit: str = "m", day=None, progress=None) -> int:
    """Write day-cards.pdf; returns how many pages it has."""
    from .places import resource

    paper = paper_of(unit)
    found = day_card_set(answer, unit, day, paper)
    size_mm = (paper.width_mm, paper.height_mm)
    return write_day_cards_pdf(Path(path), found, size_mm, resource("fonts"), progress)


def _glance(answer: PlantingAnswer, at: int) -> tuple[str, ...]:
    day = answer.days.days[at]
    lots = lots_of_day(answer.assigned, day)
    trays = sum(one.trays for one in lots)
    return (
        f"{day.number}",
        weekday_text(day.day, short=True),
        rows_text(answer.plans, answer.days, at),
        lots_in_short(lots),
        grouped(day.vines),
        grouped(trays) if trays else "",
        f"{day.crew_hours:.1f}\u00a0h",
        sets_in_short(day.sets),
    )


def indices_text(index: np.ndarray) -> str:
    """Vines of a piece of row by their indices.

    Examples
    --------
    >>> indices_text(np.arange(1, 97)), indices_text(np.arange(9, 64, 9)), indices_text(np.array([9]))
    ('001–096', '009–063 by 9', '009')
    """
    first, last = int(index.min()), int(index.max())
    if len(index) == 1:
        return f"{first:03d}"
    steps = np.unique(np.diff(np.sort(index)))
    by = f" by {steps[0]}" if len(steps) == 1 and steps[0] > 1 else ""
    return f"{first:03d}–{last:03d}{by}"


class _CardMaker:
    def __init__(self, answer: PlantingAnswer, unit: str, wide_mm: float):
        self.answer, self.unit = answer, unit
        self.planting = planting_of(answer.project)
        self.pictures = DayPictures(answer, wide_mm, unit)
        water = answer.project.water
        self._first_l = None if water is None else water.demand.first_watering_l

    def card(self, at: int) -> DayCard:
        answer, planting, unit = self.answer, self.planting, self.unit
        day = answer.days.days[at]
        lots = lots_of_day(answer.assigned, day)
        lot_of = {(one.lot, one.plant): i for i, one in enumerate(lots)}
        grown = {planting.lots[one.lot].grown for one in lots if one.lot >= 0}
        return DayCard(
            title=f"Day {day.number} of {answer.days.days[-1].number}: {weekday_text(day.day)}",
            summary=self._summary(at, day),
            waits=day.waits,
            before=wetting_text(day),
            picture=self.pictures.picture(day, lot_of),
            lots=tuple(self._lot_row(one) for one in lots),
            ends=self._ends(day),
            runs=tuple(self._run_row(run, lot_of) for run in day.runs),
            hours=hours_rows(planting, day),
            steps=setting_steps(planting.setting, grown, self._first_l, unit),
            checks=self._checks(),
            cautions=(*WORK_CAUTIONS, SLOPE_CAUTION, self._heat(day)),
        )

    def _summary(self, at: int, day: DayPlan) -> str:
        crew = self.planting.crew
        rows = rows_text(self.answer.plans, self.answer.days, at)
        people = f"{crew.people}\u00a0{'person' if crew.people == 1 else 'people'}"
        return (
            f"Rows {rows}: {vines_text(day.vines)}. {people} from {clock(crew.starts_h)}, "
            f"{day.crew_hours:.1f}\u00a0h of work without breaks; daylight {day.light_h:.1f}\u00a0h."
        )

    def _lot_row(self, one: LotOfDay) -> LotRow:
        name = f"Lot {one.name}" if one.lot >= 0 else f"{one.name[0].upper()}{one.name[1:]}"
        plant = str(self.answer.assigned.plants[one.plant])
        return LotRow(name, plant, vines_text(one.vines), brought_text(self.planting, one))

    def _run_row(self, run: Run, lot_of) -> RunRow:
        lot = self.planting.lots[run.lot] if run.lot >= 0 else None
        wind = self.pictures.wind(run)
        if lot is None or not lot.tray:
            trays = f"plants, {wind}"
        elif run.trays:
            trays = f"{run.trays}, {wind}"
        else:
            trays = f"rest, {wind}"
        vines = indices_text(self.pictures.indices_of(run))
        code = run_code(self.answer.plans, run)
        return RunRow(code, vines, f"{run.vines}", lot_of[run.lot, run.plant], trays)

    def _ends(self, day: DayPlan) -> str:
        winds = list(dict.fromkeys(self.pictures.wind(r) for r in day.runs))
        text = (
            f"Trays go to the {winds[0]} end of every row, and it is planted from there."
            if len(winds) == 1
            else "Trays go to the end of the row that is named by its wind, and it is planted from there."
        )
        if any(not r.trays and r.lot >= 0 and self.planting.lots[r.lot].tray for r in day.runs):
            text += " Rest: what is left of the lot's opened tray is enough."
        if any(r.vines < r.last - r.first + 1 for r in day.runs):
            text += " By n: every nth vine from the first one named; those between are of another lot, or stand already."
        return text

    def _checks(self) -> tuple[str, ...]:
        band = band_text(self.planting.setting, self.unit)
        told = CHECKS | {"union_in_band": f"graft union {band} above the soil"}
        return tuple(f"{words[:1].upper()}{words[1:]}" for words in told.values())

    def _heat(self, day: DayPlan) -> str:
        hottest = self.planting.crew.hottest_c
        return (
            f"Above {hottest:.0f}\u00a0°C ({hottest * 1.8 + 32:.0f}\u00a0°F) no planting is advised; look at the "
            f"forecast for {weekday_text(day.day)} and the night after it: green shoots die in frost."
        )
