"""Whether a file still matches the plan: its seal, its marks, and every point in it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..core.model import InputProblem, PointChoice, Project
from ..core.model.handoff import POINT_KINDS
from ..formats.handoffset import HandOffSet, Placing
from ..formats.seal import Seal, SealRead
from .hand_off_set import hand_off_of, hand_off_set, order_mark
from .tally import grouped

SAME_M = 0.002
"""Points no farther apart are the same: coordinates are rounded to a millimetre or less. [m]"""
_TOLD = 1000
"""Points that are told by name."""


@dataclass(frozen=True)
class MovedLine:
    """One point that is not where the plan has it: how far, and which way from the file to the plan."""

    code: str
    distance: str
    direction: str
    key: str


@dataclass(frozen=True, eq=False)
class Verified:
    """What a file is worth against a plan.

    Attributes
    ----------
    path : Path
    found : SealRead or None
        The file's seal.
    n_points : int
        Points read from the file; 0 for a file of lines or words alone.
    n_moved, n_strange, n_missing : int
        Points that moved by more than SAME_M; of the file that the plan does not have; that belong into the
        file and are not in it.
    same_m : float
        Points no farther apart are the same: SAME_M, or what coordinates of few decimals leave open. [m]
    knows_missing : bool
        Whether it can be told what belongs into the file.
    moved_codes : tuple of str; moved_m : float array, shape (k, 2)
        The farthest of those that moved, and the step from file to plan in the site frame. [m]
    strange, missing : tuple of str
        The first of them.
    marks_agree : bool or None
        Whether the plan the file was written from is the plan as it is; None without a seal.
    words : tuple of str
        All of it in sentences.
    """

    path: Path
    found: SealRead | None
    n_points: int = 0
    n_moved: int = 0
    n_strange: int = 0
    n_missing: int = 0
    knows_missing: bool = True
    same_m: float = SAME_M
    moved_codes: tuple[str, ...] = ()
    moved_m: np.ndarray = dataclasses.field(default_factory=lambda: np.empty((0, 2)))
    strange: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    marks_agree: bool | None = None
    words: tuple[str, ...] = ()

    @property
    def matches(self) -> bool:
        """Whether the file can be staked as it is."""
        if self.found is not None and self.found.is_whole is False:
            return False
        if not self.n_points:
            return bool(self.marks_agree)
        return not (self.n_moved or self.n_strange or self.n_missing)


def verified(path, project: Project, plans=None, project_path=None) -> Verified:
    """Hold a file of a hand-off, or of a stake-out set, against a project.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or holds neither points nor a seal.
    """
    path = Path(path)
    if not path.is_file():
        raise InputProblem(f"{path.name} does not exist: check the name of the file.")
    found = _seal_in(path)
    hand = _everything(project, plans, project_path)
    seal = found.seal if found is not None else None
    result = Verified(path, found, marks_agree=None if seal is None else seal.plan == hand.plan)
    if _holds_no_points(path):
        if seal is None:
            raise InputProblem(
                f"{path.name} holds neither points nor a seal of this program: give a file of a hand-off."
            )
    else:
        result = _with_points(result, hand, project, seal)
    return dataclasses.replace(result, words=_words(result, hand))


def _seal_in(path: Path) -> SealRead | None:
    from ..formats.seal import read_seal

    if path.suffix.lower() == ".gpkg":
        from ..formats.points_gpkg import gpkg_seal

        return gpkg_seal(path)
    return read_seal(path)


def _holds_no_points(path: Path) -> bool:
    """Whether a file is of a kind that holds lines or words alone."""
    import zipfile

    if path.suffix.lower() == ".pdf":
        return True
    try:
        with zipfile.ZipFile(path) as archive:
            names = [n.upper() for n in archive.namelist()]
    except (zipfile.BadZipFile, OSError):
        return False
    return any("TASKDATA.XML" in n or "GUIDANCE" in n for n in names)


def _everything(project: Project, plans, project_path) -> HandOffSet:
    """The hand-off with every point of the plan in it."""
    said = hand_off_of(project)
    chosen = dataclasses.replace(said, points=PointChoice(kinds=POINT_KINDS[1:]))
    whole = dataclasses.replace(project, hand_off=chosen)
    hand = hand_off_set(whole, plans, project_path)
    from ..formats.project_file import revision_of

    return dataclasses.replace(hand, project=project, revision=revision_of(project))


def _placing_of(seal: Seal, hand: HandOffSet) -> Placing:
    """The coordinates a file was written in, by its seal; the project's own for longitude and latitude."""
    from ..formats import crs as systems

    if seal.coordinates == "wgs84":
        return hand.placing
    frame = hand.project.site.frame
    try:
        grid = systems.survey_grid(frame, seal.crs)
    except InputProblem:
        raise InputProblem(
            f"The file's coordinate system {seal.crs[:40]} cannot be used here: give a file of this project."
        ) from None
    return Placing(
        grid,
        seal.coordinates,
        seal.unit,
        seal.unit_m,
        np.array(seal.matrix).reshape(2, 3),
        tuple(seal.heights),
        systems.frame_to_survey(frame, seal.crs),
        systems.survey_to_frame(frame, seal.crs),
        "",
    )


def _with_points(
    result: Verified, hand: HandOffSet, project: Project, seal: Seal | None
) -> Verified:
    from ..core.staking.matching import matched
    from ..formats.reading.measured import read_measured

    placing = hand.placing if seal is None else _placing_of(seal, hand)
    measured = read_measured(result.path, placing, frame=project.site.frame).measured
    points, table = hand.points.all(), hand.hand.table
    pairs = matched(
        hand.points,
        placing.placed(points.xy_m) * placing.unit_m,
        measured,
        template=table.description,
        features=table.features,
    )
    from_file = placing.back(measured.en_m[pairs.measured] / placing.unit_m)
    step = points.xy_m[pairs.planned] - from_file
    distance = np.hypot(*step.T)
    same_m = _same_m(measured.en_m / placing.unit_m, placing.unit_m)
    moved = np.flatnonzero(distance > same_m)
    moved = moved[np.argsort(-distance[moved], kind="stable")]
    expected = _expected(hand, project, seal, points, pairs.planned)
    there = np.zeros(len(points), bool)
    there[pairs.planned] = True
    missing = np.flatnonzero(expected & ~there) if expected is not None else np.empty(0, np.intp)
    strange = _strange(points, placing, measured, pairs.strange)
    names = (
        measured.description[i] or measured.name[i] or f"line {measured.line[i]}"
        for i in strange[:_TOLD].tolist()
    )
    return dataclasses.replace(
        result,
        n_points=len(measured) - len(pairs.strange) + len(strange),
        n_moved=len(moved),
        same_m=same_m,
        n_strange=len(strange),
        n_missing=len(missing),
        knows_missing=expected is not None,
        moved_codes=_codes(hand, points, pairs.planned[moved[:_TOLD]]),
        moved_m=step[moved[:_TOLD]],
        strange=tuple(names),
        missing=_codes(hand, points, missing[:_TOLD]),
    )


def _same_m(written: np.ndarray, unit_m: float) -> float:
    """How far the rounding of a file's coordinates may move a point, SAME_M at least. [m]"""
    for decimals in range(3):
        scaled = written * 10.0**decimals
        if len(written) and np.abs(scaled - np.rint(scaled)).max() < 1e-6:
            return max(SAME_M, 0.71 * 10.0**-decimals * unit_m + SAME_M)
    return SAME_M


def _strange(points, placing: Placing, measured, which: np.ndarray) -> np.ndarray:
    """Points of a file that are none of the plan, without those drawn where one of the plan's is: ends of routes,
    exclusions that are a single place."""
    if not len(which):
        return which
    from scipy.spatial import cKDTree

    from ..core.layout.numbering import place_of_code

    places = placing.back(measured.en_m[which] / placing.unit_m)
    away, _ = cKDTree(points.xy_m).query(places)
    drawn = np.array([place_of_code(measured.description[i]) is None for i in which.tolist()])
    return which[~(drawn & (away <= SAME_M))]


def _codes(hand: HandOffSet, points, which) -> tuple[str, ...]:
    fields = (points.owner[which], points.kind[which], points.index[which])
    return tuple(hand.points.code(*p) for p in zip(*(f.tolist() for f in fields), strict=True))


def _expected(hand: HandOffSet, project: Project, seal: Seal | None, points, there):
    """Which points belong into the file, bool; None where that is not known.

    A file of the choice that the project still has is to hold that choice; one without a seal all of every kind
    it holds.
    """
    if seal is None:
        return np.isin(points.kind, np.unique(points.kind[there]))
    if seal.order != order_mark(hand_off_of(project)):
        return None
    own = hand_off_set(project, hand.plans).points.all()
    return np.isin(_keys(points), _keys(own))


def _keys(points) -> np.ndarray:
    owner = points.owner.astype(np.int64) << 36
    return owner + (points.kind.astype(np.int64) << 32) + points.index


def _words(found: Verified, hand: HandOffSet) -> tuple[str, ...]:
    name, told = found.path.name, []
    seal = found.found
    if seal is None:
        told.append(
            f"{name} has no seal: whether it was changed since it was written cannot be told."
        )
    else:
        when = seal.seal.day
        if seal.is_whole is None:
            told.append(f"{name} was written on {when}; its checksum is told by its own reader.")
        elif seal.is_whole:
            told.append(f"{name} is as it was written on {when}: its checksum agrees.")
        else:
            told.append(f"{name} was changed since it was written on {when}: do not stake from it.")
        told.append(_of_which_plan(seal.seal, hand))
    if found.n_points:
        told.append(_moved_words(found))
        if found.n_strange:
            told.append(
                f"{_points(found.n_strange)} of the file {_are(found.n_strange)} not in the plan: "
                f"{_some(found.strange, found.n_strange)}."
            )
        if found.n_missing:
            told.append(
                f"{_points(found.n_missing)} of the plan {_are(found.n_missing)} not in the file: "
                f"{_some(found.missing, found.n_missing)}."
            )
        elif not found.knows_missing:
            told.append(
                "The project hands off another choice of points now, so that it is not told what the file lacks."
            )
    else:
        told.append("It holds no points to compare: its marks alone were looked at.")
    told.append(
        "It matches the plan." if found.matches else "It does not match the plan: hand off again."
    )
    return tuple(told)


def _of_which_plan(seal: Seal, hand: HandOffSet) -> str:
    if seal.revision == hand.revision:
        return f"It is of the project as it is, revision {seal.revision}."
    same = (
        "the rows are laid as they were then"
        if seal.plan == hand.plan
        else "rows were laid anew since"
    )
    return f"It is of revision {seal.revision} of {seal.project}; the project is at {hand.revision} now, and {same}."


def _moved_words(found: Verified) -> str:
    if not found.n_moved:
        n = found.n_points - found.n_strange
        return f"{_points(n).capitalize()} stand{'s' if n == 1 else ''} where the plan has {'it' if n == 1 else 'them'}."
    far = float(np.hypot(*found.moved_m[0]))
    return (
        f"{_points(found.n_moved)} of {grouped(found.n_points)} moved by more than {found.same_m * 1000:.0f} mm, the "
        f"farthest {found.moved_codes[0]} by {far:.3f} m."
    )


def _points(n: int) -> str:
    return "1 point" if n == 1 else f"{grouped(n)} points"


def _are(n: int) -> str:
    return "is" if n == 1 else "are"


def _some(names: tuple[str, ...], n: int) -> str:
    more = f" and {grouped(n - 5)} more" if n > 5 else ""
    return ", ".join(names[:5]) + more


def moved_lines(found: Verified, unit: str = "m") -> tuple[MovedLine, ...]:
    """Points that moved, the farthest first."""
    from ..core.geometry.axes import bearing_of
    from .specification import shown_bearing, shown_length

    lines = []
    for code, (x, y) in zip(found.moved_codes, found.moved_m.tolist(), strict=True):
        distance, way = float(np.hypot(x, y)), float(bearing_of(x, y))
        lines.append(
            MovedLine(code, shown_length(distance, unit, 3), shown_bearing(round(way, 1)), code)
        )
    return tuple(lines)


def verified_facts(found: Verified) -> dict:
    """The same for programs."""
    seal = found.found
    return {
        "file": found.path.name,
        "matches": found.matches,
        "sealed": seal is not None,
        "whole": seal.is_whole if seal is not None else None,
        "revision": seal.seal.revision if seal is not None else None,
        "plan_agrees": found.marks_agree,
        "points": found.n_points,
        "moved": found.n_moved,
        "strange": found.n_strange,
        "missing": found.n_missing if found.knows_missing else None,
        "farthest": [
            {"code": code, "east_m": x, "north_m": y}
            for code, (x, y) in zip(found.moved_codes, found.moved_m.tolist(), strict=True)
        ],
        "words": list(found.words),
    }
