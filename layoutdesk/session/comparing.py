"""Comparisons as requests and answers, so that a window can ask and never wait."""

from __future__ import annotations

import operator
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..core.compare.beaten import beaten_by, best_of
from ..core.compare.catalogue import MEASURES
from ..core.compare.measures import ground_measures, measures_of
from ..core.compare.sun import SunPath, face_sun, sun_path
from ..core.compare.sweep import SWEPT, Sweep, plans_at, sweep
from ..core.geometry.axes import angle_between_lines_deg
from ..core.model import Block, Candidate, InputProblem, Project, RowPlan, Study
from ..core.terrain.surface import Surface, mean_gradient

_COARSE_STEP_M = 0.1
"""How finely the best place of row 1 is looked for at each bearing of a sweep, and in haste. [m]"""

_KEPT = 48
"""Candidates that stay laid after they were taken out: they may come back by an undo."""


def study_of(project: Project) -> Study:
    """What a project compares; the plan as it stands is there where nothing else is."""
    study = project.study or Study()
    return study if study.candidates else replace(study, candidates=(Candidate(),))


@dataclass(frozen=True, eq=False)
class CompareRequest:
    """Measure the candidates of a project's study, and all bearings where `sweep` asks for it.

    In haste the best place of row 1 is looked for less finely; all else is as ever.
    """

    revision: int
    project: Project
    surface: Surface | None = None
    sweep: bool = True
    haste: bool = False


@dataclass(frozen=True, eq=False)
class CandidateResult:
    """A candidate laid and measured; `problem` says why it cannot be."""

    candidate: Candidate
    plans: tuple[RowPlan, ...]
    values: dict[str, float]
    problem: str = ""


@dataclass(frozen=True, eq=False)
class CompareAnswer:
    """Candidates side by side.

    Attributes
    ----------
    best : dict of bool array, shape (c,)
        By measure: who has the best figure.
    beaten : int array, shape (c,)
        Who beats each candidate in the chosen measures; -1 for nobody.
    sweep : Sweep or None
        Counts and lengths over all bearings, spacings and clear widths being the base's.
    curves : dict of float array, shape (b,)
        Other measures over the same bearings.
    """

    revision: int
    project: Project
    study: Study
    results: tuple[CandidateResult, ...]
    best: dict[str, np.ndarray]
    beaten: np.ndarray
    sweep: Sweep | None = None
    curves: dict[str, np.ndarray] | None = None


@dataclass(frozen=True, eq=False)
class _Laid:
    """Plans of a candidate, or why there are none; `rough` where they were laid in haste."""

    plans: tuple[RowPlan, ...]
    problem: str
    rough: bool


@dataclass(frozen=True, eq=False)
class _Measured:
    """Figures with all they were counted from."""

    plans: tuple[RowPlan, ...]
    by: Study
    surface: Surface | None
    values: dict[str, float]
    ground: dict[str, float] | None = None


def graded_by(study: Study) -> Study:
    """What of a study grades are counted by: its machine and its limits."""
    return Study(
        grade_along_pct=study.grade_along_pct,
        grade_across_pct=study.grade_across_pct,
        machine_length_m=study.machine_length_m,
        machine_width_m=study.machine_width_m,
    )


class Comparer:
    """Answers comparisons; what did not change since the last one is kept."""

    def __init__(self):
        self._ground: tuple = ()
        self._laid: dict[Candidate, _Laid] = {}
        self._measured: dict[Candidate, _Measured] = {}
        self._swept: tuple | None = None
        self._curves: tuple | None = None

    def answer(
        self, request: CompareRequest, progress: Callable[[float], None] | None = None
    ) -> CompareAnswer:
        """Lay and measure every candidate.

        Parameters
        ----------
        progress : function of the share done, optional
            May raise to stop; what was laid and measured until then is kept.

        Raises
        ------
        InputProblem
            Where the study is about no block.
        """
        project = request.project
        study = study_of(project)
        blocks = study.blocks_of(project.blocks)
        if not blocks and project.blocks:
            raise InputProblem(
                "The study is about blocks that are gone: choose the blocks to compare."
            )
        if not blocks:
            raise InputProblem("There is no block to compare rows on: draw one or open an outline.")
        self._take_ground(blocks, project.exclusions)
        sun = site_sun(project, study)
        results, say = [], progress or (lambda share: None)
        share = 0.5 if request.sweep else 1.0
        for i, candidate in enumerate(study.candidates):
            say(share * i / len(study.candidates))
            results.append(self._result(candidate, blocks, request, study, sun))
        self._forget_others(len(study.candidates))
        values = table_of_values(results)
        chosen = [n for n in study.chosen if n in MEASURES and MEASURES[n].better]
        answer = CompareAnswer(
            request.revision,
            project,
            study,
            tuple(results),
            best_of(values),
            beaten_by(values, chosen),
        )
        if request.sweep:
            swept, curves = self._sweep(blocks, project, study, request.surface, sun, say)
            answer = replace(answer, sweep=swept, curves=curves)
        say(1.0)
        return answer

    def _take_ground(self, blocks: tuple[Block, ...], exclusions) -> None:
        ground = (*blocks, exclusions)
        same = len(ground) == len(self._ground) and all(map(operator.is_, ground, self._ground))
        if not same:
            self._ground, self._swept, self._curves = ground, None, None
            self._laid, self._measured = {}, {}

    def _forget_others(self, n_asked: int) -> None:
        for kept in (self._laid, self._measured):
            for candidate in list(kept)[: -max(n_asked, _KEPT)]:  # the newest stand last
                del kept[candidate]

    def _result(self, candidate, blocks, request, study, sun) -> CandidateResult:
        bare = replace(candidate, name="", note="")
        laid = self._laid.pop(bare, None)
        if laid is None or (laid.rough and not request.haste):
            laid = _laid(bare, blocks, request)
        self._laid[bare] = laid
        if laid.problem:
            return CandidateResult(candidate, (), {}, laid.problem)
        by = replace(study, candidates=(), base=0, chosen=())
        known = self._measured.pop(bare, None)
        if (
            known is None
            or known.plans is not laid.plans
            or known.surface is not request.surface
            or known.by != by
        ):
            surface = request.surface
            ground = None
            if (
                known is not None
                and known.plans is laid.plans
                and known.surface is surface
                and graded_by(known.by) == graded_by(by)
            ):
                ground = known.ground  # neither wind nor prices tilt the ground
            if ground is None and surface is not None:
                ground = ground_measures(laid.plans, study, surface)
            values = measures_of(laid.plans, study, surface, sun, ground)
            known = _Measured(laid.plans, by, surface, values, ground)
        self._measured[bare] = known
        return CandidateResult(candidate, known.plans, known.values)

    def _sweep(self, blocks, project, study, surface, sun, say) -> tuple[Sweep, dict]:
        base = replace(study.candidates[study.base], bearing_deg=None, name="", note="")
        asked = base, study.short_row_m
        if self._swept is None or self._swept[0] != asked:
            found = sweep(
                blocks,
                project.exclusions,
                base,
                short_row_m=study.short_row_m,
                best_step_m=_COARSE_STEP_M,
                progress=lambda share: say(0.5 + 0.4 * share),
            )
            self._swept = asked, found
        swept = self._swept[1]
        asked = base, replace(study, candidates=(), base=0, chosen=())
        known = self._curves
        if known is None or known[0] != asked or known[1] is not surface:
            self._curves = asked, surface, _curves(swept, blocks, base, study, surface, sun)
        return swept, self._curves[2]


def _laid(candidate: Candidate, blocks, request: CompareRequest) -> _Laid:
    rough = request.haste and any(candidate.rules_of(b.rules).first_row_m == "best" for b in blocks)
    how = {"best_step_m": _COARSE_STEP_M} if rough else {}
    try:
        plans = plans_at(blocks, request.project.exclusions, candidate, check=False, **how)
    except ValueError as problem:
        return _Laid((), f"It cannot be laid: {str(problem).partition(': ')[2]}.", rough)
    return _Laid(plans, "", rough)


def site_sun(project: Project, study: Study) -> SunPath:
    """The sun of the season at a project's site."""
    frame = project.site.frame
    return sun_path(frame.latitude_deg, frame.longitude_deg, study.season, frame.height_m)


def table_of_values(results) -> dict[str, np.ndarray]:
    """Every measure that some candidate has, (c,) by name, NaN where one has it not."""
    names = [n for n in MEASURES if any(n in r.values for r in results)]
    return {n: np.array([r.values.get(n, np.nan) for r in results]) for n in names}


def _curves(swept: Sweep, blocks, base: Candidate, study: Study, surface, sun) -> dict:
    """Sun and wind over all bearings, blocks weighted by the length of their rows."""
    bearings = swept.bearings_deg
    rules = [base.rules_of(b.rules) for b in blocks]
    curves: dict[str, np.ndarray] = {}
    if all(study.canopy.width_m < r.row_spacing_m for r in rules):
        weight = np.array(
            [b.outline.area / r.row_spacing_m for b, r in zip(blocks, rules, strict=True)]
        )
        for share, block, rule in zip(weight / weight.sum(), blocks, rules, strict=True):
            gradient = (0.0, 0.0) if surface is None else mean_gradient(surface, block.outline)
            found = face_sun(
                sun, bearings, rule.row_spacing_m, study.canopy, study.season, gradient
            )
            for name, values in found.items():
                curves[name] = curves.get(name, 0.0) + share * values
    if study.wind_from_deg is not None:
        curves["wind_angle_deg"] = angle_between_lines_deg(bearings, study.wind_from_deg)
    return curves


def terrain_curves(
    project: Project,
    surface: Surface,
    bearings_deg,
    progress: Callable[[float], None] | None = None,
) -> dict[str, np.ndarray]:
    """Every other measure over bearings, from full layouts at each of them: what a sweep cannot count.

    Dear: about as many layouts as bearings. `progress` may raise to stop.
    """
    study = study_of(project)
    blocks = study.blocks_of(project.blocks)
    base = study.candidates[study.base]
    names = [n for n, m in MEASURES.items() if n not in SWEPT and m.needs in ("", "terrain")]
    curves = {name: np.full(len(bearings_deg), np.nan) for name in names}
    for k, bearing in enumerate(np.asarray(bearings_deg, dtype=float).tolist()):
        if progress is not None:
            progress(k / len(bearings_deg))
        candidate = replace(base, bearing_deg=bearing)
        try:
            plans = plans_at(
                blocks, project.exclusions, candidate, check=False, best_step_m=_COARSE_STEP_M
            )
        except ValueError:
            continue
        found = measures_of(plans, study, surface)
        for name in names:
            curves[name][k] = found.get(name, np.nan)
    return curves
