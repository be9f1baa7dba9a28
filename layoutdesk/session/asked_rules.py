"""Rule changes asked for in words on the command line, and the project they make."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

from ..core.model import CHOICES, InputProblem, Project, RowRules
from .rule_typing import typed_length_m

OPTIONS: dict[str, str] = {
    "bearing": "bearing_deg",
    "row-spacing": "row_spacing_m",
    "vine-spacing": "vine_spacing_m",
    "headland": "headland_m",
    "side-margin": "side_margin_m",
    "side-angle": "side_angle_deg",
    "first-row": "first_row_m",
    "first-vine": "first_vine_m",
    "last-vine": "last_vine_m",
    "min-row": "min_row_m",
    "line-post-every": "line_post_every",
    "anchor": "anchor_m",
    "leftover": "leftover",
    "stretch-max": "stretch_max_pct",
    "lattice": "lattice",
    "alley-every": "alley_every_m",
    "alley-width": "alley_width_m",
    "number-from": "number_from",
    "first-number": "first_number",
    "start-corner": "start_corner",
    "prefix": "block_name",
    "share-rules": "common",
    "keep-from": "clearance",
    "alley": "alley",
}
"""Every option that gives a value of the paragraph, with the first word of that value's rule."""

RULE_OPTIONS = tuple(o for o, rule in OPTIONS.items() if rule in RowRules.__dataclass_fields__)
"""Those that set one field of RowRules."""

_WHOLE = ("line_post_every", "first_number")
_FARTHEST_GUIDE_M = 2000.0
_YES_NO = {"yes": True, "no": False}
_UNIT_WORDS = frozenset(
    [
        "m",
        "metre",
        "metres",
        "meter",
        "meters",
        "cm",
        "centimetre",
        "centimetres",
        "mm",
        "millimetre",
        "millimetres",
        "km",
        "kilometre",
        "kilometres",
        "ft",
        "foot",
        "feet",
        "in",
        "inch",
        "inches",
        "yd",
        "yard",
        "yards",
        "usft",
        "ftus",
        "survey_foot",
    ]
)


@dataclass(frozen=True)
class Asked:
    """What is asked for, as typed.

    Attributes
    ----------
    rules : mapping of str to str
        Text by option, of RULE_OPTIONS.
    blocks : tuple of str
        The only blocks the rules are for; empty for all.
    keep_from, alleys : tuple of str
        WHAT=LENGTH: exclusions by kind or name; alleys set down in place by their number.
    share_rules, start_corner, prefix : str or None
    guide : path or None
        A file with the line that rows follow.
    straight : bool
        Whether rows no longer follow a guide line.
    unit : str or None
        Of a guide in a drawing that does not say its own.
    """

    rules: Mapping[str, str] = field(default_factory=dict)
    blocks: tuple[str, ...] = ()
    keep_from: tuple[str, ...] = ()
    alleys: tuple[str, ...] = ()
    share_rules: str | None = None
    start_corner: str | None = None
    prefix: str | None = None
    guide: str | None = None
    straight: bool = False
    unit: str | None = None


def with_asked(project: Project, asked: Asked) -> Project:
    """The project with all that is asked for.

    Blocks that share their rules go on sharing them, so what is asked for one of them reaches all.

    Raises
    ------
    InputProblem
        One sentence that names the option.
    """
    from .row_edits import with_guide, without_guide
    from .rule_scope import with_common, with_typed_value

    _refuse_contradictions(asked)
    names = chosen_names(project, asked.blocks)
    for text in asked.keep_from:
        project = _with_kept_from(project, text)
    if asked.share_rules is not None:
        shared = _yes(asked.share_rules)
        for name in names:
            project = with_common(project, name, shared)
    for name in names if asked.straight else ():
        project = without_guide(project, name)
    project = with_changed_rules(project, names, rule_changes(asked.rules, project))
    if asked.alleys:
        project = _with_alleys(project, names, asked.alleys)
    if asked.guide is not None:
        places, findings = guide_places(project, asked.guide, asked.unit)
        for name in names:
            _refuse_far_guide(project, name, places, asked.guide)
            with of_option("guide"):
                project = with_guide(project, name, places)
        known = project.site.findings
        site = replace(project.site, findings=known + tuple(f for f in findings if f not in known))
        project = replace(project, site=site)
    if asked.start_corner is not None:
        with of_option("start-corner"):
            project = with_typed_value(project, names, "start_corner", asked.start_corner)
    if asked.prefix is not None:
        with of_option("prefix"):
            project = _with_prefix(project, names, asked.prefix.strip())
    return project


def _refuse_contradictions(asked: Asked) -> None:
    if asked.guide is not None and asked.straight:
        raise InputProblem("--guide and --straight contradict each other: give one of them.")
    if asked.guide is not None and "bearing" in asked.rules:
        raise InputProblem("--guide says which way the rows run: leave out --bearing.")
    if asked.guide is not None and asked.share_rules is not None and _yes(asked.share_rules):
        raise InputProblem(
            "--guide makes rows of a block its own: leave it out or give --share-rules no."
        )
    if asked.start_corner is not None and "number-from" in asked.rules:
        raise InputProblem("--start-corner says where numbers begin: leave out --number-from.")


def _yes(text: str) -> bool:
    if text.strip().lower() not in _YES_NO:
        raise InputProblem(f"--share-rules {text!r} is not known: use yes or no.")
    return _YES_NO[text.strip().lower()]


def chosen_names(project: Project, asked: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the blocks asked for, in the project's order; upper and lower case are one."""
    there = {b.name.casefold(): b.name for b in project.blocks}
    for text in asked:
        if text.strip().casefold() not in there:
            raise InputProblem(
                f"--block {text!r} is not there: the blocks are {', '.join(there.values())}."
            )
    wanted = {text.strip().casefold() for text in asked} or set(there)
    return tuple(name for key, name in there.items() if key in wanted)


@contextmanager
def of_option(option: str):
    """Problems inside are told with the option they come from."""
    try:
        yield
    except InputProblem as problem:
        raise InputProblem(f"--{option}: {problem}") from None
    except ValueError as problem:  # rules that contradict each other are met when rows are laid
        raise InputProblem(f"--{option}: the rows cannot be laid out ({problem}).") from None


def asked_length_m(option: str, text: str) -> float:
    """A length given to an option; a bare number is metres. [m]

    Raises
    ------
    InputProblem
        Where it is no length, or has a unit that nobody measures vineyards in.

    Examples
    --------
    >>> asked_length_m("headland", "8ft"), asked_length_m("height", "1e3")
    (2.4384, 1000.0)
    """
    with of_option(option):
        if re.fullmatch(r"\s*[+-]?(\d+(\.\d*)?|\.\d+)[eE][+-]?\d+\s*", text):
            return float(text)
        bare = text.replace("US ft", "usft")
        for word in re.findall(r"[\d.]\s*([^\W\d]+)", bare):
            if word.lower() not in _UNIT_WORDS:
                raise InputProblem(
                    f"{word!r} is no unit of length known here: use m, cm, mm, km, ft, in, yd or usft."
                )
        return typed_length_m(text)


def rule_changes(texts: Mapping[str, str], project: Project) -> dict:
    """Fields of RowRules with their new values, from texts by option.

    Raises
    ------
    InputProblem
        Where a text cannot be read; limits are seen by `with_changed_rules`.
    """
    return {OPTIONS[o]: _read(o, OPTIONS[o], text, project) for o, text in texts.items()}


def _read(option: str, rule: str, text: str, project: Project):
    if rule == "bearing_deg":
        return asked_bearing_deg(option, text, project)
    if rule in CHOICES:
        word = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
        if word not in CHOICES[rule]:
            raise InputProblem(
                f"--{option} {text!r} is not known: use one of {', '.join(CHOICES[rule])}."
            )
        return word
    if rule == "first_row_m" and text.strip().lower() == "best":
        return "best"
    if rule.endswith("_m"):
        return asked_length_m(option, text)
    try:
        return int(text) if rule in _WHOLE else float(text)
    except ValueError:
        raise InputProblem(f"--{option} {text!r} is no number: give one like 4.") from None


def asked_bearing_deg(option: str, text: str, project: Project) -> float:
    """A bearing given to an option, true, grid or magnetic, as a true one. [deg]

    Raises
    ------
    InputProblem
        Where it is no bearing, or magnetic at a time no model holds for.
    """
    from .units import bearing_parts

    degrees, convention = bearing_parts(text)
    if convention == "true":
        return degrees
    from ..formats.bearings import north_offsets
    from ..formats.crs import survey_grid

    grid = survey_grid(project.site.frame, project.site.survey_crs)
    offsets = north_offsets(project.site.frame, grid.convergence_deg, project.day)
    if convention == "magnetic" and offsets.declination_deg is None:
        raise InputProblem(
            f"--{option} {text!r}: no magnetic model holds for {project.day}; give "
            "a true or grid bearing."
        )
    return offsets.true_from(convention, degrees)


def with_changed_rules(project: Project, names: tuple[str, ...], changes: dict) -> Project:
    """The project with the same rules changed in some blocks and those that share theirs.

    Raises
    ------
    InputProblem
        Where a value is outside its limits, or a bearing is for rows that follow a line.
    """
    from .rule_scope import names_edited, with_rules

    if not changes:
        return project
    edited = names_edited(project, names)
    if "bearing_deg" in changes:
        curved = [n for n in edited if project.block(n).guide is not None]
        if curved:
            raise InputProblem(
                f"--bearing turns no row of {curved[0]}, which follow a drawn line: add --straight, "
                "or name other blocks with --block."
            )
        kept = tuple(
            f for f in project.site.findings if f.code != "bearing-chosen" or f.where not in edited
        )
        project = replace(project, site=replace(project.site, findings=kept))
    try:
        return with_rules(project, names, lambda rules: replace(rules, **changes))
    except ValueError as problem:
        name, _, rest = str(problem).partition(": ")
        option = {rule: option for option, rule in OPTIONS.items()}.get(name, name)
        unit = {"m": " m", "deg": " degrees", "pct": " %"}.get(name.rpartition("_")[2], "")
        raise InputProblem(f"--{option}: {rest}{unit}.") from None


def _parted(option: str, text: str, like: str) -> tuple[str, str]:
    what, sign, length = text.rpartition("=")
    if not sign or not what.strip():
        raise InputProblem(f"--{option} {text!r} cannot be read: write it like {like}.")
    return what.strip(), length


def _with_kept_from(project: Project, text: str) -> Project:
    from .exclusions import MOST_M, kept_from

    what, length = _parted("keep-from", text, "pond=6")
    if not project.exclusions:
        raise InputProblem(
            f"--keep-from {text!r}: there is no exclusion; give one with --exclude FILE."
        )
    clearance_m = asked_length_m("keep-from", length)
    if not 0 <= clearance_m <= MOST_M:
        raise InputProblem(f"--keep-from {text!r}: {clearance_m:g} m is outside 0 to {MOST_M:g} m.")
    groups = kept_from(project.exclusions)
    wanted = what.casefold()
    which = {i for k in groups if k.words.casefold() == wanted for i in k.which}
    if not which:
        bare = (re.sub(r"^(the|\d+) ", "", k.words).casefold() for k in groups)
        which = {i for k, word in zip(groups, bare, strict=True) if word == wanted for i in k.which}
        which |= {
            i
            for i, e in enumerate(project.exclusions)
            if wanted in (e.kind.casefold(), e.name.casefold())
        }
    if not which:
        raise InputProblem(
            f"--keep-from {what!r} is not there: rows are kept from "
            f"{', '.join(dict.fromkeys(k.words for k in groups))}."
        )
    return replace(
        project,
        exclusions=tuple(
            replace(e, clearance_m=clearance_m) if i in which else e
            for i, e in enumerate(project.exclusions)
        ),
    )


def _with_alleys(project: Project, names: tuple[str, ...], texts: tuple[str, ...]) -> Project:
    from .alley_text import MOST_M
    from .rule_scope import with_rules

    widths: dict[int, float] = {}
    most = max(len(project.block(name).rules.alleys) for name in names)
    for text in texts:
        number, length = _parted("alley", text, "1=4")
        if not number.isdecimal() or not 1 <= int(number) <= most:
            there = f"they are numbered 1 to {most}" if most else "none is set down"
            raise InputProblem(f"--alley {text!r}: there is no alley {number} in place; {there}.")
        width_m = asked_length_m("alley", length)
        if not 0 <= width_m <= MOST_M:
            raise InputProblem(
                f"--alley {text!r}: {width_m:g} m is outside 0, which takes it out, to {MOST_M:g} m."
            )
        widths[int(number) - 1] = width_m

    def change(rules):
        now = ((a, widths.get(i, a.width_m)) for i, a in enumerate(rules.alleys))
        return replace(rules, alleys=tuple(replace(a, width_m=w) for a, w in now if w))

    return with_rules(project, names, change)


def guide_places(project: Project, path, unit: str | None = None):
    """Corners of the one line in a file, (n, 2) in the site frame, and what was found reading it. [m]

    A file that holds only points, such as a list of corners, is a line through them in their order.

    Raises
    ------
    InputProblem
        Where the file cannot be read or does not hold one line.
    """
    import numpy as np
    import shapely

    from ..core.model import Finding
    from ..formats import crs as systems
    from ..formats.reading import read_exclusions
    from .ground_edits import drawn

    with of_option("guide"):
        read = read_exclusions(path, unit=unit, site_crs=project.site.source_crs)
        forms = [s.geometry.geom_type for s in read.shapes]
        if len(forms) != 1 and set(forms) != {"Point"}:
            raise InputProblem(
                f"{read.source} holds {len(forms)} shapes: give a file with one line."
            )
        if forms[0] not in ("LineString", "Point"):
            raise InputProblem(
                f"{read.source} holds an area and no line: give a file with one line."
            )
        xy = shapely.get_coordinates([s.geometry for s in read.shapes])
        xy = systems.to_frame(read.crs, project.site.frame)(xy)
        if not np.isfinite(xy).all():
            raise InputProblem(
                f"{read.source} has corners outside its coordinate system: check it."
            )
        places = shapely.get_coordinates(drawn(xy, "line"))
    findings = list(read.findings)
    shift = systems.shift_onto(project.site.frame, read.crs)
    if shift is not None:
        said = f"{read.source} is on another datum than the outline. Shift used: {shift}."
        findings.append(Finding("datum-shift", said, read.source, severity="caution"))
    return places, tuple(findings)


def _refuse_far_guide(project: Project, name: str, places, path) -> None:
    """A line in a wrong system would turn rows without anybody's notice."""
    import shapely

    away_m = shapely.distance(project.block(name).outline, shapely.linestrings(places))
    if away_m > _FARTHEST_GUIDE_M:
        raise InputProblem(
            f"--guide {path} lies {away_m / 1000:,.1f} km from {name}: check its coordinate system."
        )


def _with_prefix(project: Project, names: tuple[str, ...], prefix: str) -> Project:
    """One block of that name, or several of it with 1, 2, … behind."""
    from .ground_edits import next_name, renamed

    if len(names) == 1:
        return renamed(project, names[0], prefix)
    held = []
    for name in names:  # free names first: a wanted one may be that of a block still to come
        held.append(next_name(project))
        project = renamed(project, name, held[-1])
    for number, name in enumerate(held, 1):
        project = renamed(project, name, f"{prefix}{number}")
    return project
