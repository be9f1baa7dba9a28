"""What is to be done in each growing year: on which days, in which words, and for how long.

Days are those of a temperate season, mirrored in the south: common practice.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ..model.planting import Years
from .counting_leaves import first_small_leaf
from .growing_seasons import BUDBREAK, LEAF_FALL, Seasons, months_later

MILESTONE = "milestone"
FIRST_CHECK_DAYS = 14
"""From planting to the first look at shelters, stakes and tubes; common practice. [days]"""

WINDOWS: dict[str, tuple[tuple[int, int], tuple[int, int]]] = {
    # what: month and day it begins and ends in the north; south of the equator six months later.
    # All common practice.
    "growing": (BUDBREAK, (10, 28)),
    "union": (BUDBREAK, (4, 28)),
    "count": ((9, 1), (9, 28)),
    "count again": ((4, 20), (5, 20)),
    "pruning": ((1, 15), (3, 15)),
    "replanting": ((5, 1), (6, 15)),
    "training": ((4, 25), (5, 25)),
    "tying": ((5, 10), (7, 28)),
    "wire": ((7, 1), (8, 28)),
    "shelters off": ((8, 15), (9, 15)),
    "wood": ((1, 15), (3, 25)),
    "foliage 1": ((5, 20), (6, 10)),
    "foliage 2": ((7, 1), (7, 20)),
    "picking": ((9, 1), (10, 15)),
}


@dataclass(frozen=True)
class Duty:
    """Something to do.

    Attributes
    ----------
    task : str
        Of YEAR_TASKS, or MILESTONE.
    title, words : str
    begins, ends : datetime.date
        First and last day.
    year : int
        Growing year from planting, 1 for the first.
    season : str
        In words, of its first day.
    hours : float
        Person-hours for all vines.
    is_common_practice : bool
        Whether the day is a usual one with no printed source.
    number, rounds : int
        Which round of how many of this task in the year; of milestones their number within the year.
    work_share : float
        Of the work on every vine: less than 1 where a crop is small.
    """

    task: str
    title: str
    words: str
    begins: datetime.date
    ends: datetime.date
    year: int
    season: str
    hours: float
    is_common_practice: bool = True
    number: int = 1
    rounds: int = 1
    work_share: float = 1.0

    @property
    def name(self) -> str:
        """What it is known by when its day moves: task, year and number."""
        return f"{self.task} {self.year}.{self.number}"

    @property
    def what(self) -> str:
        """The title without its round, the same for all of them."""
        return self.title.removesuffix(f", round {self.number} of {self.rounds}")


_DAY = datetime.timedelta(days=1)

_PICKING = {
    -1: "Pick what strong vines carry",
    0: "Pick the first small crop",
    1: "Pick the crop",
}
"""Before the year that the first small crop is expected in, in it, and after it."""
_DORMANT = " Vines that were planted dormant are cut to two buds before they break, where the nursery did not."


@dataclass(frozen=True)
class DutyPlan:
    """Makes the duties of growing years.

    Attributes
    ----------
    years : Years
    seasons : Seasons
    vines : int
    """

    years: Years
    seasons: Seasons
    vines: int

    def duties_of(self, year: int) -> list[Duty]:
        """Everything of one growing year; what would have begun before the planting day begins on it."""
        of = {1: self._first_year, 2: self._second_year}.get(year, self._later_year)
        planted = self.seasons.planted
        return [d if d.begins >= planted else self._moved(d, planted) for d in of(year)]

    def window(self, year: int, name: str) -> tuple[datetime.date, datetime.date]:
        """First and last day of WINDOWS in a growing year."""
        first, last = (self.seasons.day(year, at) for at in WINDOWS[name])
        return first, last

    def _moved(self, duty: Duty, begins: datetime.date) -> Duty:
        return replace(duty, begins=begins, season=self.seasons.called(begins))

    def _duty(self, task, year, days, title, words, number=1, rounds=1, work_share=1.0) -> Duty:
        first, last = days
        rate = self.years.rate_per_h(task) if task != MILESTONE else 0.0
        return Duty(
            task,
            title,
            words,
            first,
            last,
            year,
            self.seasons.called(first),
            work_share * self.vines / rate if rate else 0.0,
            True,
            number,
            rounds,
            work_share,
        )

    def _first_year(self, year: int) -> Iterator[Duty]:
        yield self._duty(
            MILESTONE,
            year,
            self.window(year, "growing"),
            "Let shoots grow",
            "Shoots may grow freely in this season; one or several makes no difference yet. Water and a weed-free "
            f"strip matter more.{_DORMANT if self.seasons.is_dormant else ''}",
        )
        yield from self._shelter_checks(year)
        if self.seasons.is_dormant:
            yield self._duty(
                "count",
                year,
                self.window(year, "count again"),
                "Count after the first budbreak",
                "What was planted in the rest and does not break bud has failed: record it, and plant the gaps in "
                "this season where plants can be had.",
                2,
            )
        first, last = self.window(year, "count")
        settled = self.seasons.planted + FIRST_CHECK_DAYS * _DAY
        yield self._duty(
            "count",
            year,
            (max(first, settled), last),
            "Count what stands",
            "Each position: alive, missing, or dead and of what. Record it by row and lot, so that plants for the "
            "gaps can be ordered in time.",
        )
        yield self._duty(
            "pruning",
            year,
            self.window(year, "pruning"),
            "Prune to two buds",
            f"{self._rest('first')}: keep the best-placed, upright shoot, cut it back to two buds, and take all else "
            "off. Where late frost is usual, prune late. Clean blades between vines.",
        )
        yield from self._picking(year)

    def _second_year(self, year: int) -> Iterator[Duty]:
        yield self._union(year)
        yield self._duty(
            "count",
            year,
            self.window(year, "count again"),
            "Count again after budbreak",
            "What did not break bud failed over the rest: record it with its cause where it can be seen.",
        )
        yield self._duty(
            MILESTONE,
            year,
            self.window(year, "replanting"),
            "Replant the gaps",
            "The next season to plant in: same variety, clone and rootstock, from the order by lot, "
            "with a shelter and tube again. Plants must have been ordered by then.",
            1,
        )
        yield self._duty(
            "training",
            year,
            self.window(year, "training"),
            "Choose one shoot and lead it up the stake",
            "The strongest upright shoot becomes the trunk, straight up the stake; the others come off, one spare may "
            "stay until it is safe from frost and wind.",
        )
        yield from self._ties(year)
        yield self._duty(
            MILESTONE,
            year,
            self.window(year, "wire"),
            "The trunk reaches the fruiting wire",
            "Top it just below or at the wire once it is well past it. A vine that did not reach it is "
            "cut back to two buds in the next rest and trained again.",
            2,
        )
        yield self._duty(
            "shelters_off",
            year,
            self.window(year, "shelters off"),
            "Take the shelters off",
            "Early enough for the trunk to harden before the rest. See that no tie strangles it; the drip "
            "tube goes back to the wire or is taken up.",
        )
        yield from self._picking(year)
        yield self._wood(year)

    def _later_year(self, year: int) -> Iterator[Duty]:
        yield self._union(year)
        for number in (1, 2):
            yield self._duty(
                "foliage",
                year,
                self.window(year, f"foliage {number}"),
                f"Move the foliage wires, round {number} of 2",
                "Lift the wires with the shoots and tuck in what hangs out, while shoots are soft enough "
                "not to break.",
                number,
                2,
            )
        yield from self._picking(year)
        yield self._wood(year)

    def _shelter_checks(self, year: int) -> Iterator[Duty]:
        """Two weeks after planting, then monthly while the first leaves are on."""
        planted = self.seasons.planted
        days = [planted + FIRST_CHECK_DAYS * _DAY]
        first, last = (self.seasons.day(1, at) for at in (BUDBREAK, LEAF_FALL))
        monthly = (months_later(planted, n) for n in range(1, 24))
        days += [d for d in monthly if first <= d < last]
        for number, day in enumerate(days, 1):
            yield self._duty(
                "shelters",
                year,
                (day, day + 6 * _DAY),
                f"Check shelters, stakes and drip tubes, round {number} of {len(days)}",
                "Shelter upright and closed at the soil, no weeds or wasps in it, vine against its stake and not "
                "strangled, tube inside and dripping.",
                number,
                len(days),
            )

    def _ties(self, year: int) -> Iterator[Duty]:
        """One round every so many days while the trunk grows."""
        first, last = self.window(year, "tying")
        apart = max(round(self.years.tie_days), 1)
        days = [first + n * apart * _DAY for n in range((last - first).days // apart + 1)]
        for number, day in enumerate(days, 1):
            yield self._duty(
                "tying",
                year,
                (day, day + min(apart - 1, 3) * _DAY),
                f"Tie the trunk, round {number} of {len(days)}",
                f"About every {apart} days while it grows: straight, loose enough to thicken. Side shoots low down "
                "come off.",
                number,
                len(days),
            )

    def _union(self, year: int) -> Duty:
        cm = self.years.union_check_m * 100
        return self._duty(
            "union",
            year,
            self.window(year, "union"),
            "Check that the graft union is clear of the soil",
            f"At least {cm:.3g} cm above it; 10 to 13 cm on a ten-year-old vine is safe (common practice). Draw soil "
            "away, also what was hilled up against cold, and cut roots that grow above the union.",
        )

    def _picking(self, year: int) -> Iterator[Duty]:
        shares = self.years.shares_pct
        if year > len(shares):
            return
        days, share = self.window(year, "picking"), shares[year - 1]
        first = first_small_leaf(self.years.counting)
        if share == 0:
            yield self._duty(
                MILESTONE,
                year,
                days,
                "No crop yet",
                "Bunches that show come off early, so that the vine grows roots and wood instead.",
                3,
            )
            return
        yield self._duty(
            "picking",
            year,
            days,
            _PICKING[(year > first) - (year < first)],
            f"{share:g} % of a mature crop is expected. Only what the vine carries easily stays on; the rest is "
            "thinned early."
            if share < 100
            else f"{share:g} % of a mature crop is expected.",
            work_share=share / 100,
        )

    def _wood(self, year: int) -> Duty:
        """What is done in the rest after a season, once trunks are at the wire."""
        rest, form = self._rest(), self.years.form
        if form == "cordon" and year > 2:
            words = f"{rest}: prune spurs along the cordon to two buds each; cut late where frost is usual."
            return self._duty(
                "pruning", year, self.window(year, "pruning"), "Prune spurs to two buds", words
            )
        if form == "cordon":
            title, words = (
                "Lay the cordon down on the fruiting wire",
                f"{rest}: bend ripe wood along the wire as far as it is pencil-thick and tie it; what is "
                "missing to the next vine follows a year later.",
            )
        else:
            title, words = (
                "Lay canes down on the fruiting wire" if year == 2 else "Prune and lay new canes",
                f"{rest}: ripe canes near the head are laid along the wire and tied, with a spur of "
                "two buds for the next; weak vines get a short cane or none.",
            )
        return self._duty("wood", year, self.window(year, "wood"), title, words)

    def _rest(self, which: str = "") -> str:
        """Winter, or the rest that growers give vines where there is none."""
        if self.seasons.is_tropical:
            return f"In the {which} rest" if which else "In the rest"
        return f"In the {which} winter" if which else "In winter"
