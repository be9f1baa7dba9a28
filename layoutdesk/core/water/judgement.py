"""What is to be said of a drip system: classes, worst stretches, sentences, findings."""

from __future__ import annotations

from dataclasses import dataclass

from ..model import Finding
from .design import WaterDesign


@dataclass(frozen=True)
class Class:
    """A class of uniformity by a standard: its name, the least value that is in it, and the source."""

    name: str
    least_pct: float
    source: str


@dataclass(frozen=True)
class Stretch:
    """Vines next to each other in one lateral that get markedly less (or more) than the average.

    `share_pct` is their mean flow, of the block's; `from_vine` to `to_vine` are their numbers in the
    segment, `n_vines` how many they are.
    """

    block: str
    row: int
    letter: str
    from_vine: int
    to_vine: int
    n_vines: int
    at_tail: bool
    share_pct: float
    place: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Judgement:
    """Judged set by set and as a whole.

    Attributes
    ----------
    sentences : tuple of str
        Plain language, the most pressing first.
    eu_pct, du_pct : float
        Over all vines of the site. [%]
    eu_class, du_class : str
    eu_target_pct : (float, float)
        What is usual for design on ground like this.
    worst : tuple of Stretch
    """

    sentences: tuple[str, ...]
    eu_pct: float
    du_pct: float
    eu_class: str
    du_class: str
    eu_target_pct: tuple[float, float]
    worst: tuple[Stretch, ...]


def judged(design: WaterDesign, plans) -> Judgement:
    """Judge a design."""
    raise NotImplementedError


def water_findings(design: WaterDesign, plans) -> tuple[Finding, ...]:
    """Everything about a drip system that its user should look at."""
    raise NotImplementedError
