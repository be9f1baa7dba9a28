"""A site's planting as requests and answers, so that a window never waits."""

from __future__ import annotations

import datetime
import operator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..core.model import Finding, Planting, Project, Register, RowPlan
from ..core.model.findings import by_severity
from ..core.model.register import STATES
from ..core.model.water import Climate, Demand
from ..core.planting.assigned import Assigned, assigned
from ..core.planting.days import DaysPlan, plan_days
from ..core.planting.needs import LotUse, Need, lot_uses, needs, planting_findings
from ..core.planting.sampling import Sample, sampled
from ..core.planting.standing import Matching, Standing, matching, standing
from ..core.planting.survival import Result, Survival, inspection_result, survival
from ..core.planting.years import FirstYears, first_years
from ..core.terrain.surface import Surface
from .record_findings import record_findings
from .watering import WaterAnswer, WaterDesigner, WaterRequest


def planting_of(project: Project) -> Planting:
    """What a project says of its planting; the usual where it says nothing."""
    return project.planting or Planting()


def begins_of(project: Project) -> datetime.date | None:
    """The day planting begins, where anybody said: the planting day of the project's water."""
    return project.water.demand.planting if project.water is not None else None


@dataclass(frozen=True, eq=False)
class PlantingRequest:
    """Plan and follow the planting of `project` as laid in `plans`.

    `today` is the day that orders and delays are told by; sets that wet the ground are those of the drip
    system on `surface`, where a project says anything of water. Short paths of photos and scans are looked
    for in the folder `beside`.
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    today: datetime.date
    surface: Surface | None = None
    beside: Path | None = None


@dataclass(frozen=True, eq=False)
class PlantingAnswer:
    """Everything of a site's planting.

    What needs a planting day is None where none is said; what needs a register is None where nothing is
    recorded. `set_of_segment` is the number of the set that waters each segment over all plans, 0 for none;
    None where nothing is said of the drip system.
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    assigned: Assigned
    needs: tuple[Need, ...]
    uses: tuple[LotUse, ...]
    begins: datetime.date | None
    set_of_segment: np.ndarray | None
    days: DaysPlan | None
    sample: Sample
    matching: Matching | None
    standing: Standing | None
    result: Result | None
    survival: Survival | None
    years: FirstYears | None
    findings: tuple[Finding, ...]


class PlantingCounter:
    """Answers requests, keeping what did not change since the last one."""

    def __init__(self):
        self._assigned = self._matched = self._stood = self._watered = self._told = None

    def answer(self, request: PlantingRequest) -> PlantingAnswer:
        """Work everything out."""
        project, plans, planting = request.project, request.plans, planting_of(request.project)
        found = self._assigned_of(plans, planting)
        needed, uses, begins = needs(found, begins_of(project)), lot_uses(found), begins_of(project)
        latitude = project.site.frame.latitude_deg
        now, match = self._standing_of(project.register, plans)
        stands = _stands(found, now, match)
        sets = self._sets_of(request)
        days = None
        if begins is not None:
            days = plan_days(
                found,
                begins,
                latitude,
                done=stands,
                set_of_segment=sets,
                warm_c=project.water.climate.warm_c,
                planted_on=_days_of(now),
            )
        lot, names = lots_of_vines(found, now, match)
        if planting.assignments:  # where no plant is to stand nothing is inspected
            bare = found.plant < 0 if stands is None else (found.plant < 0) & ~stands
            lot = np.where(bare, -2, lot)
        sample = sampled(lot, names, found.segment, planting.inspecting)
        result = lost = None
        if now is not None:
            sizes = {name: p.size for name, p in zip(sample.lots, sample.plans, strict=True)}
            result, lost = self._told_of(now, planting, sizes)
        planted = planting_day(now) or begins
        years = None
        if planted is not None and len(found.plant):
            vines = int((found.plant >= 0).sum()) or len(found.plant)
            years = first_years(planting.years, planted, latitude, vines)
        findings = planting_findings(found, needed, uses, begins, request.today, stands)
        findings += attachment_findings(project, request.beside)
        if days is not None:
            findings += days.findings
        if now is not None:
            findings += changed_findings(project.register)
            findings += record_findings(project, found, match, now, result, lost)
        return PlantingAnswer(
            request.revision, project, plans, found, needed, uses, begins, sets, days, sample, match, now,
            result, lost, years, by_severity(findings),
        )  # fmt: skip

    def _assigned_of(self, plans, planting: Planting) -> Assigned:
        known = self._assigned
        said = (planting.assignments, planting.lots)
        same = known is not None and known[0] == said and _are(known[1].plans, plans)
        if not same:
            self._assigned = said, assigned(plans, planting)
        found = self._assigned[1]
        return found if found.planting is planting else replace(found, planting=planting)

    def _sets_of(self, request: PlantingRequest) -> np.ndarray | None:
        project = request.project
        if not _has_drip(project) or not any(p.n_vines for p in request.plans):
            return None
        # Neither climate nor demand changes a set.
        asked = (replace(project.water, demand=Demand(), climate=Climate()), request.surface)
        known = self._watered
        if known is None or known[0] != asked or not _are(known[1], request.plans):
            # One that remembered an earlier system would keep its sets in haste.
            found = WaterDesigner().answer(
                WaterRequest(request.revision, project, request.plans, request.surface, haste=True)
            )
            self._watered = asked, request.plans, sets_of_segments(found)
        return self._watered[2]

    def _told_of(self, now: Standing, planting: Planting, sizes: dict[str, int]):
        accept, spares = planting.inspecting.accept, planting.setting.spares_pct
        asked = (accept, spares, sizes)
        if self._told is None or self._told[0] is not now or self._told[1] != asked:
            told = inspection_result(now, accept, sizes), survival(now, spares)
            self._told = now, asked, told
        return self._told[2]

    def _standing_of(self, register: Register | None, plans):
        if register is None or not register.batches:
            return None, None
        if self._stood is None or self._stood.register != register:
            self._stood = standing(register)
        known = self._matched
        if known is None or known[0] != register or not _are(known[1], plans):
            self._matched = register, plans, matching(register, plans)
        return self._stood, self._matched[2]


def _has_drip(project: Project) -> bool:
    """Whether anybody said anything of the drip system: no set is named that nobody planned."""
    water = project.water
    if water is None:
        return False
    source = water.source
    return bool(water.drips) or not source.is_assumed or source.place_m is not None


def attachment_findings(project: Project, beside: Path | None) -> tuple[Finding, ...]:
    """Photos and scans of lots that are not where the project says."""
    from .lot_edits import missing_attachments

    told = missing_attachments(project, beside)
    return tuple(Finding("attachment-missing", text) for text in told)


def changed_findings(register: Register | None) -> tuple[Finding, ...]:
    """Whether entries of a register were changed by something else than this program."""
    if register is None or register.broken_at is None:
        return ()
    entry = register.batches[register.broken_at]
    told = f", {entry.recorded[:10]}" if entry.recorded else ""
    return (
        Finding(
            "register-changed",
            f"Entry {register.broken_at + 1} of the register{told}, or one before it, is not as it was recorded: "
            "the file was changed by something else. Compare it with an older copy of the project.",
            f"entry {register.broken_at + 1}",
        ),
    )


def sets_of_segments(found: WaterAnswer) -> np.ndarray:
    """Number of the set that waters each segment over all plans, 0 for none, shape (s,)."""
    design = found.design
    numbers = np.array([0, *(s.number for s in design.sets)])
    lateral = design.lines.vine_lateral
    of_vine = np.where(lateral >= 0, numbers[design.set_of_lateral[lateral] + 1], 0)
    counts = np.concatenate([p.vines_of_segment for p in found.plans])
    first = np.cumsum(counts) - counts
    return np.where(counts > 0, of_vine[np.minimum(first, len(of_vine) - 1)], 0)


def _are(these, those) -> bool:
    return len(these) == len(those) and all(map(operator.is_, these, those))


def _stands(found: Assigned, now: Standing | None, match: Matching | None) -> np.ndarray | None:
    """Which vines of the plans have been planted, and need no day any more; None where none was."""
    if now is None:
        return None
    stands = np.zeros(len(found.plant), bool)
    known = match.place >= 0
    stands[known] = now.state[match.place[known]] != STATES.index("not planted")
    return stands


def lots_of_vines(found: Assigned, now: Standing | None, match: Matching | None):
    """Lot of each vine, as planted where that is on record, and the names of all lots."""
    names = [lot.name for lot in found.planting.lots]
    lot = found.lot.astype(np.int32)
    if now is None or not len(now.register.lots):
        return lot, tuple(names)
    number = {name.casefold(): i for i, name in enumerate(names)}
    of_register = np.empty(len(now.register.lots), np.int32)
    for i, known in enumerate(now.register.lots):
        of_register[i] = number.setdefault(known.name.casefold(), len(names))
        if of_register[i] == len(names):
            names.append(known.name)
    known = match.place >= 0
    planted = now.lot[match.place[known]]
    lot[known] = np.where(planted >= 0, of_register[planted], lot[known])
    return lot, tuple(names)


def _days_of(now: Standing | None) -> tuple[datetime.date, ...]:
    """Days on which something was planted, in order."""
    if now is None:
        return ()
    days = np.unique(now.planted[now.planted > 0])
    return tuple(datetime.date.fromordinal(int(day)) for day in days)


def planting_day(now: Standing | None) -> datetime.date | None:
    """The day most of what stands was planted on; None where nothing was."""
    if now is None:
        return None
    days = now.planted[now.planted > 0]
    if not len(days):
        return None
    days, counts = np.unique(days, return_counts=True)
    return datetime.date.fromordinal(int(days[counts.argmax()]))
