"""The clearances of exclusions as a sentence with values, and the edits those values make."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..core.model import Exclusion, InputProblem, Project
from .rule_typing import stepped_figure, typed_length_m
from .rule_words import step_of
from .specification import Value, shown_exactly, shown_length
from .units import unit_length_m

RULE = "clearance"
MOST_M = 1000.0
_AT_MOST = 6


@dataclass(frozen=True)
class Kept:
    """Exclusions that are alike: what they are called, their clearance, which they are."""

    words: str
    clearance_m: float
    which: tuple[int, ...]

    @property
    def rule(self) -> str:
        """Names the value in the paragraph."""
        return " ".join([RULE, *map(str, self.which)])


def kept_from(exclusions: tuple[Exclusion, ...]) -> list[Kept]:
    """Exclusions of one kind and clearance together, in the order they come.

    Examples
    --------
    >>> import shapely
    >>> poles = [Exclusion(shapely.Point(i, 0), 2.0, kind="pole") for i in range(3)]
    >>> [k.words for k in kept_from((Exclusion(shapely.Point(0, 9), 5.0, kind="pond"), *poles))]
    ['the pond', '3 poles']
    """
    groups: dict[tuple[str, float], list[int]] = {}
    for i, e in enumerate(exclusions):
        groups.setdefault((e.kind or e.name, e.clearance_m), []).append(i)
    kinds = [kind for kind, _ in groups]
    found = []
    for (kind, clearance_m), which in groups.items():
        one = exclusions[which[0]]
        if len(which) > 1:
            words = f"{len(which)} {kind or 'shape'}s"
        elif one.name and kinds.count(kind) > 1:
            words = one.name
        else:
            words = f"the {one.kind}" if one.kind else one.name or "the exclusion"
        found.append(Kept(words, clearance_m, tuple(which)))
    return found


def clearance_sentence(
    exclusions: tuple[Exclusion, ...], unit: str = "m"
) -> tuple[str | Value, ...]:
    """What is kept clear of, as a sentence of the specification; empty without exclusions.

    Examples
    --------
    >>> import shapely
    >>> parts = clearance_sentence((Exclusion(shapely.Point(0, 0), 5.0, kind="pond"),))
    >>> "".join(p.text if isinstance(p, Value) else p for p in parts)
    'Keep 5.0 m from the pond.'
    """
    kept = kept_from(exclusions)
    if not kept:
        return ()
    shown, parts = kept[:_AT_MOST], ["Keep "]
    for i, k in enumerate(shown):
        if i:
            last = i == len(shown) - 1 and len(kept) == len(shown)
            parts.append(" and " if last else ", ")
        text, step = shown_exactly(k.clearance_m, unit), step_of(RULE, unit)
        parts += [Value(k.rule, text, f"clearance of {k.words}", step), f" from {k.words}"]
    rest = sum(len(k.which) for k in kept[_AT_MOST:])
    parts.append(f", and as their files say from {rest} more." if rest else ".")
    return tuple(parts)


def is_clearance(rule: str) -> bool:
    """Whether a value of the paragraph is a clearance and no rule of a block."""
    return rule.split(" ")[0] == RULE


def _which(rule: str) -> tuple[int, ...]:
    return tuple(map(int, rule.split(" ")[1:]))


def clearance_name(project: Project, rule: str) -> str:
    """What a clearance is called, for undo."""
    which = _which(rule)
    words = next((k.words for k in kept_from(project.exclusions) if k.which == which), "exclusions")
    return f"clearance of {words}"


def typed_clearance_m(text: str, unit: str) -> float:
    """A clearance as typed. [m]

    Raises
    ------
    InputProblem
        Where it is no length, or too long.
    """
    metres = typed_length_m(text, unit)
    if not 0 <= metres <= MOST_M:
        raise InputProblem(
            f"A clearance must lie between {shown_length(0, unit)} and {shown_length(MOST_M, unit)}."
        )
    return metres


def stepped_clearance_m(project: Project, rule: str, steps: float, unit: str) -> float:
    """A clearance moved by so many steps, to whole steps, held inside its limits. [m]"""
    size = unit_length_m(unit)
    now = project.exclusions[_which(rule)[0]].clearance_m / size
    return min(max(stepped_figure(now, steps, step_of(RULE, unit)) * size, 0.0), MOST_M)


def with_clearance(project: Project, rule: str, clearance_m: float) -> Project:
    """The project with the clearance of the exclusions a value stands for."""
    which = set(_which(rule))
    return replace(
        project,
        exclusions=tuple(
            replace(e, clearance_m=clearance_m) if i in which else e
            for i, e in enumerate(project.exclusions)
        ),
    )
