"""What is done for some parcels at once, in whichever process: values in, values out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import shapely

from ..core.compare.sweep import plans_at, sweep
from ..core.geometry.axes import angle_between_lines_deg
from ..core.model import Block, Candidate, Exclusion, Finding, InputProblem, RowRules, Study
from ..core.model.terrain import Terrain
from ..formats.frames import frame_at, onto_frame
from ..formats.reading.parcels import Parcel, outlines_of
from .parcels_near import NearShape
from .parcels_table import bearing_lines, best_lines, measures_written, needing

SUN_STEP_DEG = 0.1
"""Parcels within this of latitude and longitude share the sun's path, which hardly differs. [deg]"""

BEST_STEP_M = 0.1
"""How finely the best place of row 1 is looked for: at 180 bearings of thousands of parcels the
centimetre of a single layout would take hours. [m]"""

FINDINGS_OF_A_KIND = 20
"""Of each code so many are kept in words; all are counted."""


@dataclass(frozen=True)
class ParcelSettings:
    """All that results depend on beside the parcels.

    Attributes
    ----------
    bearings_deg : tuple of float
    rules : RowRules
        Its bearing is not asked.
    study : Study
        Limits, canopy and season.
    height_m : float
    sun : bool
    terrain : Terrain or None
    """

    bearings_deg: tuple[float, ...]
    rules: RowRules = field(default_factory=RowRules)
    study: Study = field(default_factory=Study)
    height_m: float = 0.0
    sun: bool = True
    terrain: Terrain | None = None

    @property
    def measures(self) -> tuple[str, ...]:
        """Names of the measures written, in order."""
        return measures_written(self.known)

    @property
    def known(self) -> tuple[str, ...]:
        """What measures may need that these settings give."""
        prices = self.study.prices
        given = {
            "sun": self.sun,
            "terrain": self.terrain is not None,
            "wind": self.study.wind_from_deg is not None,
            "prices": prices.end_assembly is not None and prices.line_post is not None,
        }
        return tuple(name for name, there in given.items() if there)


@dataclass(frozen=True)
class Refused:
    """A parcel that could not be compared, and why in one sentence."""

    parcel: str
    source: str
    name: str
    why: str


@dataclass(frozen=True)
class PartResult:
    """Of some parcels in order: lines of both tables, and what is to be said.

    Attributes
    ----------
    rows, best : bytes
        Lines of the table of bearings, and of that of best bearings.
    n_parcels, n_compared, n_rows, n_empty : int
        Given; compared; lines of bearings; those in which no row fits at any bearing.
    refused : tuple of Refused
    found : dict of int
        Count of each finding.
    told : tuple of (code, parcel, message)
        The first findings of each code.
    """

    rows: bytes = field(default=b"", repr=False)
    best: bytes = field(default=b"", repr=False)
    n_parcels: int = 0
    n_compared: int = 0
    n_rows: int = 0
    n_empty: int = 0
    refused: tuple[Refused, ...] = ()
    found: dict[str, int] = field(default_factory=dict)
    told: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class Task:
    """Parcels that are compared in one go, each with the exclusions that may reach it."""

    parcels: tuple[Parcel, ...]
    near: tuple[tuple[NearShape, ...], ...]

    def alone(self) -> list[Task]:
        """The same, a parcel each."""
        pairs = zip(self.parcels, self.near, strict=True)
        return [Task((parcel,), (near,)) for parcel, near in pairs]


def work_parcels(settings: ParcelSettings, task: Task) -> PartResult:
    """Compare some parcels; one that cannot be is refused and the others go on."""
    return joined(
        _of_parcel(settings, parcel, near)
        for parcel, near in zip(task.parcels, task.near, strict=True)
    )


def refused_task(task: Task, why: str) -> PartResult:
    """The result of parcels that are given up."""
    return joined(_refused(parcel, why) for parcel in task.parcels)


def joined(results: Iterable[PartResult]) -> PartResult:
    """Results one after another as one."""
    results = list(results)
    found: Counter = Counter()
    told: list[tuple[str, str, str]] = []
    kept: Counter = Counter()
    for result in results:
        found.update(result.found)
        for one in result.told:
            kept[one[0]] += 1
            if kept[one[0]] <= FINDINGS_OF_A_KIND:
                told.append(one)
    return PartResult(
        b"".join(r.rows for r in results),
        b"".join(r.best for r in results),
        sum(r.n_parcels for r in results),
        sum(r.n_compared for r in results),
        sum(r.n_rows for r in results),
        sum(r.n_empty for r in results),
        tuple(refused for r in results for refused in r.refused),
        dict(sorted(found.items())),
        tuple(told),
    )


def _refused(parcel: Parcel, why: str) -> PartResult:
    return PartResult(
        n_parcels=1, refused=(Refused(parcel.parcel, parcel.source, parcel.name, why),)
    )


def _of_parcel(settings: ParcelSettings, parcel: Parcel, near: tuple[NearShape, ...]) -> PartResult:
    try:
        return _compared(settings, parcel, near)
    except (InputProblem, ValueError) as problem:
        why = str(problem)
        if not isinstance(problem, InputProblem):
            why = f"It cannot be laid out by these rules ({why})."
        return _refused(parcel, why)
    except Exception as mistake:  # one parcel of thousands does not stop the rest
        return _refused(
            parcel,
            f"The program failed on it ({type(mistake).__name__}: {mistake}): lay it out by "
            "itself, and report this with the outline.",
        )


def _compared(settings: ParcelSettings, parcel: Parcel, near: tuple[NearShape, ...]) -> PartResult:
    shapes, findings = outlines_of(parcel)
    xy = shapely.get_coordinates([s.geometry for s in shapes])
    frame = frame_at(parcel.crs, xy, settings.height_m)
    move = onto_frame(frame)

    def moved(geometry, crs):
        there = shapely.transform(geometry, lambda xy: move(crs, xy))
        if not np.isfinite(shapely.get_coordinates(there)).all():
            raise InputProblem(
                f"{parcel.where[0].upper()}{parcel.where[1:]} has corners outside its coordinate "
                "system: check it, or give another with --crs EPSG:nnnn."
            )
        return there

    blocks = tuple(
        Block(f"B{k}", moved(s.geometry, parcel.crs), settings.rules)
        for k, s in enumerate(shapes, 1)
    )
    exclusions = tuple(
        Exclusion(moved(shapely.from_wkb(n.wkb), n.crs), n.clearance_m, n.name, n.kind)
        for n in near
    )
    bearings = np.array(settings.bearings_deg)
    swept = sweep(
        blocks,
        exclusions,
        Candidate(),
        bearings,
        settings.study.short_row_m,
        best_step_m=BEST_STEP_M,
    )
    values = swept.values | _by_study(settings, swept.values)
    surface = None
    if settings.terrain is not None:
        surface, said = _surface(settings.terrain, frame, blocks, parcel.crs)
        findings = [*findings, *said]
        values |= _on_terrain(settings, blocks, exclusions, surface, swept.first_row_m)
    if settings.sun:
        values |= _in_sun(settings, frame, blocks, surface)
    who = (parcel.parcel, parcel.source, parcel.name)
    measures = settings.measures
    spacing = (settings.rules.row_spacing_m, settings.rules.vine_spacing_m)
    if not swept.values["segments"].any():
        findings = [*findings, Finding("no-rows", "No row fits at any bearing.")]
    return PartResult(
        bearing_lines(who, bearings, spacing, swept.first_row_m, values, measures),
        best_lines(who, bearings, values, measures),
        1,
        1,
        len(bearings),
        int(not swept.values["segments"].any()),
        (),
        dict(sorted(Counter(f.code for f in findings).items())),
        tuple((f.code, parcel.parcel, f.message) for f in findings),
    )


@lru_cache(maxsize=1024)
def _level_sun(
    settings: ParcelSettings, latitude_deg: float, longitude_deg: float
) -> dict[str, np.ndarray]:
    """Of level ground about a place; the same for all parcels there."""
    return _sun(settings, latitude_deg, longitude_deg, (0.0, 0.0))


def _sun(settings: ParcelSettings, latitude_deg, longitude_deg, gradient) -> dict[str, np.ndarray]:
    from ..core.compare.sun import face_sun, sun_path

    study, spacing = settings.study, settings.rules.row_spacing_m
    bearings = np.array(settings.bearings_deg)
    if study.canopy.width_m >= spacing:  # a hedge that fills the rows has no faces
        return {name: np.full(len(bearings), np.nan) for name in needing("sun")}
    path = sun_path(latitude_deg, longitude_deg, study.season, settings.height_m)
    return face_sun(path, bearings, spacing, study.canopy, study.season, gradient)


def _in_sun(settings: ParcelSettings, frame, blocks, surface) -> dict[str, np.ndarray]:
    """Measures of the sun over bearings; on each part's own slope where it is known."""
    place = tuple(
        round(round(degrees / SUN_STEP_DEG) * SUN_STEP_DEG, 6) + 0.0
        for degrees in (frame.latitude_deg, frame.longitude_deg)
    )
    if surface is None:
        return _level_sun(settings, *place)
    from ..core.terrain.surface import mean_gradient

    areas = np.array([b.outline.area for b in blocks])
    each = [_sun(settings, *place, mean_gradient(surface, b.outline)) for b in blocks]
    shares = areas / areas.sum()
    return {n: sum(s * e[n] for s, e in zip(shares, each, strict=True)) for n in each[0]}


def _by_study(settings: ParcelSettings, values: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Angle to the wind and cost of posts, where the study says what they need."""
    found = {}
    if "wind" in settings.known:
        wind = settings.study.wind_from_deg
        found["wind_angle_deg"] = angle_between_lines_deg(np.array(settings.bearings_deg), wind)
    if "prices" in settings.known:
        prices = settings.study.prices
        ends = prices.end_assembly * values["end_posts"]
        found["posts_cost"] = ends + prices.line_post * values["line_posts"]
    return found


def _surface(terrain: Terrain, frame, blocks, crs: str):
    """The ground of a parcel, None where its heights are not known, and what is said of them."""
    from ..formats.terrain import read_terrain

    bounds = shapely.total_bounds([b.outline for b in blocks])
    try:
        read = read_terrain(terrain, frame, tuple(bounds.tolist()), crs)
    except InputProblem as problem:
        return None, [Finding("terrain-unread", str(problem))]
    return read.surface, list(read.findings)


def _on_terrain(settings, blocks, exclusions, surface, first_row_m) -> dict[str, np.ndarray]:
    """Measures that need heights, over bearings: rows are laid at each, for their places count."""
    from ..core.compare.measures import measures_of

    names, bearings = needing("terrain"), settings.bearings_deg
    table = np.full((len(names), len(bearings)), np.nan)
    best = settings.rules.first_row_m == "best" and len(blocks) == 1
    for k, bearing in enumerate(bearings if surface is not None else ()):
        first = float(first_row_m[k]) if best else None
        candidate = Candidate(bearing_deg=bearing, first_row_m=first)
        plans = plans_at(blocks, exclusions, candidate, check=False, best_step_m=BEST_STEP_M)
        found = measures_of(plans, settings.study, surface)
        table[:, k] = [found.get(name, np.nan) for name in names]
    return dict(zip(names, table, strict=True))


def ready() -> str:
    """The version at work in a process that takes tasks."""
    from .. import __version__

    return __version__
