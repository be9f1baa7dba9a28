"""Kinds of exclusion: what they are called, how they are drawn, what clearance they begin with.

The clearances are common practice, wide enough to work a tractor past, and no law. They are where a
person begins, not what is allowed: for a well, a watercourse, an overhead line or a buried service
the local rules and the owner of the line govern, and often ask for more.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from ..core.model import InputProblem

MOST_CLEARANCE_M = 1000.0


@dataclass(frozen=True)
class Kind:
    """One kind of exclusion.

    Attributes
    ----------
    name : str
        Plain words, as they stand in `Exclusion.kind`.
    form : "point", "line" or "polygon"
        How it is usually drawn; any other form serves too.
    clearance_m : float
        What it begins with, from the shape as drawn: common practice. [m]
    caution : str
        What to heed where it can hurt someone, and whom to ask; else "".
    """

    name: str
    form: Literal["point", "line", "polygon"]
    clearance_m: float
    caution: str = ""


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind(
            "well",
            "point",
            15.0,
            "Sprays, fuel and manure near a well can make its drinkers ill. Local rules set the "
            "distance, often a greater one: ask the water authority.",
        ),
        Kind("pole", "point", 2.0),
        Kind("tree", "point", 5.0),
        Kind(
            "watercourse",
            "line",
            10.0,
            "Banks give way under machines, and sprays carry into the water. Local rules set the "
            "distance, from the top of the bank or the water's edge: ask the water authority.",
        ),
        Kind(
            "pond",
            "polygon",
            5.0,
            "Banks give way under machines. Local rules may ask for more where sprays are used.",
        ),
        Kind("track", "line", 3.0),  # from its middle
        Kind(
            "building",
            "polygon",
            5.0,
            "Sprays drift to people. Local rules may ask for more beside dwellings and schools.",
        ),
        Kind(
            "overhead line",
            "line",
            10.0,
            "Posts, pipes and augers that come near a live line kill. Its owner sets the distance, "
            "by its voltage and sag: ask before any work beside it.",
        ),
        Kind(
            "buried service",
            "line",
            3.0,
            "A post driven into a cable or a gas pipe kills. Have it located before any post is "
            "driven, and keep the distance its owner sets; private lines are not marked.",
        ),
    )
}
"""Every kind by its name, in the order they are offered. Lengths in metres, common practice."""


@dataclass(frozen=True, eq=False)
class KindDefaults(Mapping):
    """The clearance each kind begins with, those a user changed among them. [m]

    Examples
    --------
    >>> defaults = KindDefaults().changed_to("tree", 6.0)
    >>> defaults["tree"], defaults["pole"]
    (6.0, 2.0)
    """

    own: tuple[tuple[str, float], ...] = ()

    def __getitem__(self, kind: str) -> float:
        return dict(self.own)[kind] if kind in dict(self.own) else KINDS[kind].clearance_m

    def __iter__(self) -> Iterator[str]:
        return iter(KINDS)

    def __len__(self) -> int:
        return len(KINDS)

    def __hash__(self) -> int:
        return hash(tuple(self.items()))

    def changed_to(self, kind: str, clearance_m: float) -> KindDefaults:
        """The defaults with one of another width; one equal to KINDS is no longer the user's own.

        Raises
        ------
        InputProblem
            Where there is no such kind, or the clearance is no length from 0 to 1000 m.
        """
        if kind not in KINDS:
            raise InputProblem(f"There is no kind {kind!r}: choose one of {', '.join(KINDS)}.")
        others = {k: m for k, m in self.own if k != kind}
        clearance_m = checked_clearance_m(clearance_m, f"The clearance of {kind}")
        if clearance_m != KINDS[kind].clearance_m:
            others[kind] = clearance_m
        return KindDefaults(tuple((k, others[k]) for k in KINDS if k in others))


def checked_clearance_m(value, words: str = "The clearance") -> float:
    """A clearance that can be used. [m]

    Raises
    ------
    InputProblem
        Where it is no number from 0 to 1000.
    """
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not (number and math.isfinite(value) and 0 <= value <= MOST_CLEARANCE_M):
        raise InputProblem(f"{words} is {value!r}: it must lie between 0 and 1000 m.")
    return float(value)


def defaults_text(defaults: KindDefaults) -> str:
    """What the user changed, as text for the settings; "" where nothing is changed.

    Examples
    --------
    >>> defaults_text(KindDefaults().changed_to("tree", 6))
    '{"tree": 6.0}'
    """
    return json.dumps(dict(defaults.own)) if defaults.own else ""


def defaults_from(text: str) -> KindDefaults:
    """The defaults that `defaults_text` wrote; an empty text is those of KINDS.

    Raises
    ------
    InputProblem
        Where the text is no such text, or names a kind or a clearance that cannot be used.
    """
    if not text.strip():
        return KindDefaults()
    try:
        said = json.loads(text)
    except ValueError:
        said = None
    if not isinstance(said, dict):
        raise InputProblem("The settings' clearances cannot be read: set them again.")
    defaults = KindDefaults()
    for kind, clearance_m in said.items():
        defaults = defaults.changed_to(kind, clearance_m)
    return defaults


def caution_for(kind: str) -> str:
    """What to heed near an exclusion of a kind; "" where nothing is known to hurt anyone."""
    return KINDS[kind].caution if kind in KINDS else ""
