"""Edits of a project's study, each from project to project; and candidates as people type them."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from ..core.layout.clearances import alley_along
from ..core.model import Block, Candidate, InputProblem, Project, RowRules, Study
from .comparing import study_of
from .rule_scope import with_rules
from .rule_typing import with_typed
from .rule_words import NAMES
from .units import bearing_parts

MOST_CANDIDATES = 24
"""More than these cannot be read side by side."""


def with_study(project: Project, change: Callable[[Study], Study]) -> Project:
    """The project with its study changed."""
    return replace(project, study=change(study_of(project)))


def with_candidate(project: Project, candidate: Candidate) -> Project:
    """The project with one candidate more, behind the others.

    Raises
    ------
    InputProblem
        Where one like it is there, or there are too many.
    """
    study = study_of(project)
    if any(c.changes == candidate.changes for c in study.candidates):
        raise InputProblem("A candidate like it is there already: change its bearing or a spacing.")
    if len(study.candidates) >= MOST_CANDIDATES:
        raise InputProblem(
            f"There are {MOST_CANDIDATES} candidates already: take one out before another is added."
        )
    return replace(project, study=replace(study, candidates=(*study.candidates, candidate)))


def without_candidate(project: Project, index: int) -> Project:
    """The project with a candidate less; the base stays the same one, or becomes the first.

    Raises
    ------
    InputProblem
        Where it is the only one.
    """
    study = study_of(project)
    if len(study.candidates) == 1:
        raise InputProblem("The only candidate stays: add another before it is taken out.")
    left = study.candidates[:index] + study.candidates[index + 1 :]
    base = 0 if index == study.base else study.base - (index < study.base)
    return replace(project, study=replace(study, candidates=left, base=base))


def _changed(project: Project, index: int, **changes) -> Project:
    study = study_of(project)
    candidates = list(study.candidates)
    candidates[index] = replace(candidates[index], **changes)
    return replace(project, study=replace(study, candidates=tuple(candidates)))


def with_note(project: Project, index: int, note: str) -> Project:
    """The project with a note on a candidate."""
    return _changed(project, index, note=note)


def with_name(project: Project, index: int, name: str) -> Project:
    """The project with a name for a candidate, in one line; empty for what its rows say."""
    return _changed(project, index, name=" ".join(name.split()))


def with_base(project: Project, index: int) -> Project:
    """The project with another candidate that differences are told from."""
    return with_study(project, lambda study: replace(study, base=index))


def with_adopted(project: Project, index: int) -> Project:
    """The project with its blocks laid as a candidate would have them.

    Blocks that share their rules go on sharing them. A bearing of its own makes rows straight.
    Single exceptions stay, and are found unfit where they mean nothing any more. The comparison
    stays what it was: see `_as_compared`.

    Raises
    ------
    InputProblem
        Where the candidate is the plan as it stands, or runs along an alley of a block.
    """
    study = study_of(project)
    candidate = study.candidates[index]
    if not candidate.changes:
        raise InputProblem("This is the plan as it stands: there is nothing to adopt.")
    stood = study.blocks_of(project.blocks)
    names = tuple(b.name for b in stood)
    if candidate.bearing_deg is not None:
        for name in names:
            project = project.with_block(replace(project.block(name), guide=None))
    adopted = with_rules(project, names, candidate.rules_of)
    if candidate.bearing_deg is not None:
        for block in adopted.blocks:
            if block.rules.bearing_deg == candidate.bearing_deg and block.guide is None:
                _refuse_alley_along(block)
    return replace(adopted, study=_as_compared(study, index, stood))


def keeps_the_old_plan(project: Project, index: int) -> bool:
    """Whether the plan as it stands can stay in the comparison when a candidate is adopted."""
    study = study_of(project)
    blocks = study.blocks_of(project.blocks)
    return _stood(study.candidates[index], blocks) is not None


def _stood(adopted: Candidate, blocks: tuple[Block, ...]) -> dict | None:
    """What the blocks have of the rules that an adoption changes; None where no one figure tells it."""
    if adopted.bearing_deg is not None and any(b.guide is not None for b in blocks):
        return None
    found = {}
    for rule in adopted.changes:
        values = {getattr(b.rules, rule) for b in blocks}
        if len(values) != 1:
            return None
        found[rule] = values.pop()
    return found


def _as_compared(study: Study, index: int, blocks: tuple[Block, ...]) -> Study:
    """The study whose candidates lay the same rows after an adoption as they did before.

    What others left to the blocks is written into them, so that no figure changes under the hand
    that chose by it. The plan as it stood becomes a candidate, and the adopted one the plan as it
    stands. Where blocks differ in what is changed, or were curved, one candidate cannot tell how
    they lay: then all stay as they are.
    """
    adopted = study.candidates[index]
    stood = _stood(adopted, blocks)
    if stood is None:
        return study

    def kept(i: int, candidate: Candidate) -> Candidate:
        if i == index:
            return Candidate(name=candidate.name, note=candidate.note)
        return replace(candidate, **{**stood, **candidate.changes})

    several = tuple(kept(i, c) for i, c in enumerate(study.candidates))
    return replace(study, candidates=several)


def _refuse_alley_along(block: Block) -> None:
    if alley_along(block.rules, block.rules.bearing_deg):
        raise InputProblem(
            f"{block.name} cannot be laid so: one of its alleys runs along the rows. Take that alley "
            "out, or turn it, before this is adopted."
        )


_WORDS = {
    # what begins a part of a typed candidate: the rule it sets
    "bearing": "bearing_deg",
    "rows": "row_spacing_m",
    "row spacing": "row_spacing_m",
    "vines": "vine_spacing_m",
    "vine spacing": "vine_spacing_m",
    "headland": "headland_m",
    "headlands": "headland_m",
    "side": "side_margin_m",
    "sides": "side_margin_m",
    "side margin": "side_margin_m",
    "first row": "first_row_m",
    "first": "first_row_m",
}
_NAMED = "|".join(sorted(_WORDS, key=len, reverse=True))
_PART = re.compile(rf"({_NAMED})\s+(?:at\s+)?(.+)", re.IGNORECASE)
_TURNED = re.compile(rf"(.*\d.*?)\s+({_NAMED})", re.IGNORECASE)
_BOTH = re.compile(r"(.+?)\s*(?:[x×*]|\bby\b)\s*(.+)", re.IGNORECASE)
_UNIT = re.compile(r"[\d.,]+\s*((?:US\s+)?[A-Za-z]+|[^\d.,\s])")  # behind the first number
_NUMBER = re.compile(r"[-+]?[\d.]+\s*°?")
_LENGTH = re.compile(r"[\d.,]+\s*(?:mm|cm|m|in|us\s*ft|ft)", re.IGNORECASE)


def candidate_of(text: str, unit: str = "m", true_from: Callable | None = None) -> Candidate:
    """A candidate as typed: 96; 96 grid; 96; 2.2 x 1.2; 45, rows 2.2, headland 9, first row best.

    Parts stand between semicolons, or commas with a space behind. What a candidate's own words say
    can be typed again: 2.20 m rows, first row at 0.30 m. In 8 x 5 ft both are feet.

    Parameters
    ----------
    unit : str
        Of bare lengths.
    true_from : function of (convention, degrees), optional
        Turns grid and magnetic bearings into true ones.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.

    Examples
    --------
    >>> candidate_of("96; 2.2 x 1.2").changes
    {'bearing_deg': 96.0, 'row_spacing_m': 2.2, 'vine_spacing_m': 1.2}
    >>> candidate_of("rows 2.2m, 9 m headland, first row best").changes
    {'row_spacing_m': 2.2, 'headland_m': 9.0, 'first_row_m': 'best'}
    """
    parts = [p.strip() for p in re.split(r";|,\s+", text.strip()) if p.strip()]
    if not parts:
        raise InputProblem("A candidate is missing: type a bearing, such as 96, or 96; 2.2 x 1.2.")
    changes: dict = {}
    for part in parts:
        for rule, wanted in _read(part):
            if rule in changes:
                raise InputProblem(f"{NAMES[rule].capitalize()} is given twice: give it once.")
            rules = with_typed(RowRules(), rule, wanted, unit, true_from)
            changes[rule] = getattr(rules, rule)
    return Candidate(**changes)


def _read(part: str):
    """Rules and their texts in one part of a typed candidate."""
    both = _BOTH.fullmatch(re.sub(r"^(row spacing|rows)\s+", "", part, flags=re.IGNORECASE))
    if both:
        units = [_UNIT.match(text.strip()) for text in both.groups()]
        told = next((u[1] for u in units if u), "")  # said once, it is meant for both
        texts = [t if u else f"{t}{told}" for t, u in zip(both.groups(), units, strict=True)]
        return list(zip(("row_spacing_m", "vine_spacing_m"), texts, strict=True))
    word = _PART.fullmatch(part)
    if word:
        return [(_WORDS[word[1].lower()], word[2])]
    turned = _TURNED.fullmatch(part)
    if turned:
        return [(_WORDS[turned[2].lower()], turned[1])]
    if _LENGTH.fullmatch(part):
        raise InputProblem(f"{part!r} is a length: say of what, such as headland {part}.")
    try:
        bearing_parts(part)
    except InputProblem as problem:
        if _NUMBER.fullmatch(part):
            raise InputProblem(f"Bearing: {problem}") from None
        raise InputProblem(
            f"{part!r} cannot be read: type a bearing such as 96, 96 grid or N84°W, spacings such as "
            "2.2 x 1.2, or rows, vines, headland, sides or first row with a value, with semicolons in "
            "between."
        ) from None
    return [("bearing_deg", part)]
