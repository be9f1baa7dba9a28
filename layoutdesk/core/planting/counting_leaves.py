"""Two ways of counting to the first small crop, and which harvest each means.

A harvest ends every season of leaves, so the second harvest after planting is that of the second leaf: a year
before the third. Both ways are common practice, the second harvest being the good case.
"""

from __future__ import annotations

from ..model.planting import COUNTINGS, Years
from .growing_seasons import Seasons, months_later

_LEAF_OF = {"third leaf": 3, "second harvest": 2}


def first_small_leaf(counting: str) -> int:
    """Season of leaves that the first small crop is picked in.

    Examples
    --------
    >>> [first_small_leaf(c) for c in COUNTINGS]
    [3, 2]
    """
    return _LEAF_OF[counting]


def counting_words(years: Years, seasons: Seasons) -> tuple[str, ...]:
    """Both ways in words, which harvest each means here and for the other planting season, and the one set."""
    third, second = (_harvest(seasons, first_small_leaf(c)) for c in COUNTINGS)
    leaf = first_small_leaf(years.counting)
    used = _harvest(seasons, leaf)
    words = [
        f"By leaves: the first season of leaves after planting is the first leaf, here {_leaf(seasons)}; "
        f"the third leaf is picked in {third}.",
        f"By harvests: the harvest that ends the first season of leaves is the first, so the second is in "
        f"{second}, a year earlier; only vines that did well bear then.",
    ]
    if not seasons.is_tropical:
        words.append(_both_plantings(seasons))
    words.append(
        f"Counted here by the {years.counting}: the first small crop is expected in {used}. Both ways "
        "are common practice."
    )
    shares = years.shares_pct
    if leaf > len(shares):
        words.append("The ramp of the crop ends before it.")
    elif shares[leaf - 1] == 0:
        words.append("The ramp of the crop expects nothing in that year yet.")
    elif any(shares[: leaf - 1]):
        before = next(i for i, share in enumerate(shares, 1) if share)
        words.append(
            f"The ramp of the crop has {shares[before - 1]:g} % in {_harvest(seasons, before)} already: "
            "left on only where vines are strong."
        )
    return tuple(words)


def _harvest(seasons: Seasons, leaf: int) -> str:
    return seasons.called(seasons.day(leaf, (9, 15)))


def _leaf(seasons: Seasons) -> str:
    """The first season of leaves as the calendar has it, over two years in the south."""
    if seasons.is_tropical:
        return "the twelve months from planting"
    year = seasons.first_budbreak.year
    return f"{year}–{(year + 1) % 100:02d}" if seasons.is_south else f"{year}"


def _both_plantings(seasons: Seasons) -> str:
    """What a planting in spring and one in the autumn after it come to."""
    spring = Seasons(months_later(seasons.first_budbreak, 1), seasons.latitude_deg)
    autumn = Seasons(months_later(seasons.first_budbreak, 7), seasons.latitude_deg)
    told = [
        f"planted in {s.called(s.planted)}, the second harvest is in {_harvest(s, 2)} and the third leaf in "
        f"{_harvest(s, 3)}"
        for s in (spring, autumn)
    ]
    return f"{'; '.join(told)}.".replace("planted", "Planted", 1)
