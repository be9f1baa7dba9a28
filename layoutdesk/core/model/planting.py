"""What a project says of its planting: lots and their tags, which stands where, crew, checks, first years."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, replace

from .limits import hold_whole, hold_within

GROWN = ("potted", "bare root")
"""How a plant was grown: potted and green, or dormant with bare roots."""
USES = ("crop", "buffer", "pollinator", "trial")
"""What vines of an assignment are for."""
COUNTINGS = ("third leaf", "second harvest")
"""How people count to the first small crop: the third season of leaves, the planting season being the first,
or the second harvest after planting. Both are common practice; the calendar says which year each means."""


@dataclass(frozen=True)
class Plant:
    """One kind of grafted plant; what it is ordered by.

    Examples
    --------
    >>> str(Plant("Grüner Veltliner", "GV 3", "5BB")), str(Plant("Saperavi"))
    ('Grüner Veltliner, clone GV 3, on 5BB', 'Saperavi')
    """

    variety: str
    clone: str = ""
    rootstock: str = ""

    def __str__(self) -> str:
        clone = f", clone {self.clone}" if self.clone else ""
        stock = f", on {self.rootstock}" if self.rootstock else ""
        return f"{self.variety}{clone}{stock}"


@dataclass(frozen=True)
class Lot:
    """One delivery of one plant.

    Attributes
    ----------
    name : str
        Short and unique in the project.
    plant : Plant
    nursery : str
        In the user's words.
    grown : str
        Of GROWN.
    grafted, potted, came : datetime.date or None
        Days of grafting, of potting, and of delivery.
    tray : int
        Plants in a tray, or in a bundle of dormant ones; 0 where nobody said.
    ordered, delivered, rejected : int
        Plants; delivered counts the rejected too.
    references : str
        Certificates and tests, in words.
    attachments : tuple of str
        Paths of photos and scans.
    tags_recorded : bool
        Whether all tags of the lot are said to be in the ledger; its planting waits for that.
    """

    name: str
    plant: Plant
    nursery: str = ""
    grown: str = "potted"
    grafted: datetime.date | None = None
    potted: datetime.date | None = None
    came: datetime.date | None = None
    tray: int = 0
    ordered: int = 0
    delivered: int = 0
    rejected: int = 0
    references: str = ""
    attachments: tuple[str, ...] = ()
    tags_recorded: bool = False

    def __post_init__(self):
        if not self.name.strip():
            raise ValueError("name: a lot needs one")
        if self.grown not in GROWN:
            raise ValueError(f"grown: {self.grown!r} is none of {', '.join(GROWN)}")
        hold_within(self, dict.fromkeys(("tray", "ordered", "delivered", "rejected"), (0, 1e8)))
        hold_whole(self, ("tray", "ordered", "delivered", "rejected"))
        if self.rejected > self.delivered:
            raise ValueError(
                f"rejected: {self.rejected} of {self.delivered} that were delivered are too many"
            )

    @property
    def usable(self) -> int:
        """Plants that came and can be planted."""
        return self.delivered - self.rejected


@dataclass(frozen=True)
class Tag:
    """What plant tags of a lot say, typed in before they come off; only ever added to.

    Attributes
    ----------
    lot : str
    text : str
        As it stands on the tag.
    variety, clone, rootstock : str
        As the tag has them; empty where it does not say.
    grafted, potted : datetime.date or None
    plants : int
        How many plants carried this very tag.
    recorded : datetime.date or None
    by : str
        Who read it.
    struck : str
        Why it does not count; empty for those that do.
    """

    lot: str
    text: str = ""
    variety: str = ""
    clone: str = ""
    rootstock: str = ""
    grafted: datetime.date | None = None
    potted: datetime.date | None = None
    plants: int = 1
    recorded: datetime.date | None = None
    by: str = ""
    struck: str = ""

    def __post_init__(self):
        hold_within(self, {"plants": (1, 1e8)})
        hold_whole(self, ("plants",))


@dataclass(frozen=True)
class Part:
    """Vines of a block by row and place: all of it, rows, a segment, or some of a segment's vines.

    Attributes
    ----------
    block : str
    first_row, last_row : int
        Row numbers, both in it; every row there is where they are None.
    letter : str
        Of one segment of each of these rows; empty for all of them.
    first_vine, last_vine : int
        Indices in each segment, both in it; to the end where the last is None.
    every_row, every_vine : int
        Of these rows, and of these vines, every nth, the first in it.
    """

    block: str
    first_row: int | None = None
    last_row: int | None = None
    letter: str = ""
    first_vine: int = 1
    last_vine: int | None = None
    every_row: int = 1
    every_vine: int = 1

    def __post_init__(self):
        if (self.first_row is None) != (self.last_row is None):
            raise ValueError("first_row, last_row: both are said or none")
        if self.first_vine < 1 or self.every_row < 1 or self.every_vine < 1:
            raise ValueError("first_vine, every_row, every_vine: 1 is the least")


@dataclass(frozen=True)
class Assignment:
    """Which plant, and of which lot, stands where; a later one goes before an earlier one.

    Attributes
    ----------
    parts : tuple of Part
    plant : Plant
    lot : str
        Its name; empty while nobody said from which delivery.
    use : str
        Of USES.
    reason : str
        Of a swap: why another lot than assigned was planted; empty for what was planned.
    day : datetime.date or None
        Of a swap.
    """

    parts: tuple[Part, ...]
    plant: Plant
    lot: str = ""
    use: str = "crop"
    reason: str = ""
    day: datetime.date | None = None

    def __post_init__(self):
        if self.use not in USES:
            raise ValueError(f"use: {self.use!r} is none of {', '.join(USES)}")


SETTING_LIMITS: dict[str, tuple[float, float]] = {
    "hole_depth_m": (0.1, 1.5),
    "union_low_m": (0.0, 0.3),
    "union_high_m": (0.01, 0.5),
    "spares_pct": (0.0, 50.0),
    "potted_weeks": (1.0, 104.0),
    "bare_root_months": (1.0, 48.0),
}


@dataclass(frozen=True)
class Setting:
    """How a vine is set, and how long before it must be ordered. Usual values are common practice.

    Attributes
    ----------
    hole_depth_m : float
        A nursery's guide asks for 12 to 18 in for a potted vine. [m]
    union_low_m, union_high_m : float
        Band of the graft union above the soil: three to four fingers. [m]
    spares_pct : float
        Plants ordered beyond what is counted. [%]
    potted_weeks : float
        From grafting to a potted plant that can be planted. [weeks]
    bare_root_months : float
        From the order to a dormant plant. [months]
    """

    hole_depth_m: float = 0.4
    union_low_m: float = 0.055
    union_high_m: float = 0.08
    spares_pct: float = 2.0
    potted_weeks: float = 16.0
    bare_root_months: float = 16.0

    def __post_init__(self):
        hold_within(self, SETTING_LIMITS)
        if self.union_low_m >= self.union_high_m:
            raise ValueError(
                f"union_low_m: {self.union_low_m!r} is not below {self.union_high_m!r}"
            )


TASKS: dict[str, str] = {
    # task: what is done, in the order it is done at each vine
    "holes": "dig the holes",
    "setting": "take plants out of their containers and set them",
    "firming": "fill and firm",
    "shelter": "put the shelter on and the drip tube in",
    "checking": "check tag and container",
}

CREW_LIMITS: dict[str, tuple[float, float]] = {
    "people": (1, 1000),
    "hours_a_day": (0.5, 16.0),
    "starts_h": (0.0, 23.0),
    **{f"{task}_per_h": (1.0, 5000.0) for task in TASKS},
    "hottest_c": (15.0, 60.0),
}


@dataclass(frozen=True)
class Crew:
    """Who plants, how fast, and when. Usual rates are common practice: 30 vines a person and hour in all.

    Attributes
    ----------
    people : int
    hours_a_day : float
        Of work. [h]
    starts_h : float
        Time of day that work begins. [h]
    holes_per_h, setting_per_h, firming_per_h, shelter_per_h, checking_per_h : float
        Vines that one person does in an hour of that task alone.
    weekdays_off : tuple of int
        0 Monday … 6 Sunday.
    days_off : tuple of datetime.date
    missed : tuple of datetime.date
        Days that were planned and did not come about: what was planned for them moves on.
    hottest_c : float
        No planting is advised above it. [°C]
    """

    people: int = 8
    hours_a_day: float = 8.0
    starts_h: float = 7.0
    holes_per_h: float = 120.0
    setting_per_h: float = 100.0
    firming_per_h: float = 200.0
    shelter_per_h: float = 150.0
    checking_per_h: float = 300.0
    weekdays_off: tuple[int, ...] = (5, 6)
    days_off: tuple[datetime.date, ...] = ()
    missed: tuple[datetime.date, ...] = ()
    hottest_c: float = 32.0

    def __post_init__(self):
        hold_within(self, CREW_LIMITS)
        hold_whole(self, ("people",))
        if not all(0 <= d <= 6 for d in self.weekdays_off) or len(set(self.weekdays_off)) > 6:
            raise ValueError("weekdays_off: one day of the week is left to work at least")


CHECKS: dict[str, str] = {
    # item: what is right, as it stands on the sheet; the order is that of the bits of `faults`
    "container_off": "container off",
    "tag_off": "tag recorded and off",
    "union_in_band": "graft union within its band above the soil",
    "trunk_at_stake": "trunk against the stake and upright",
    "firm": "firm in the soil",
    "roots_whole": "roots whole",
    "shelter_set": "shelter set",
    "tube_in": "drip tube inside and dripping",
}

INSPECTING_LIMITS: dict[str, tuple[float, float]] = {
    "tolerated_pct": (0.01, 50.0),
    "confidence_pct": (50.0, 99.99),
    "accept": (0, 100),
    "seed": (0, 2**31 - 1),
    "inspectors": (1, 100),
}


@dataclass(frozen=True)
class Inspecting:
    """How many vines of a lot are looked at, and how many faulty ones are too many.

    Attributes
    ----------
    tolerated_pct, confidence_pct : float
        A lot with more than this share of faulty vines is found out with at least this confidence. [%]
    accept : int
        Faulty vines in a sample that are still accepted.
    seed : int
        Vines are drawn with it, so that anybody draws the same.
    inspectors : int
        The sample is parted into as many sheets.
    """

    tolerated_pct: float = 5.0
    confidence_pct: float = 95.0
    accept: int = 0
    seed: int = 1
    inspectors: int = 1

    def __post_init__(self):
        hold_within(self, INSPECTING_LIMITS)
        hold_whole(self, ("accept", "seed", "inspectors"))


YEARS_LIMITS: dict[str, tuple[float, float]] = {
    "tie_days": (1.0, 60.0),
    "mature_kg_vine": (0.0, 50.0),
    "union_check_m": (0.0, 0.5),
}

YEAR_TASKS: dict[str, tuple[str, float]] = {
    # task: what is done, vines a person and hour (common practice)
    "shelters": ("check shelters, stakes and drip tubes", 200.0),
    "count": ("count what stands and what failed", 400.0),
    "pruning": ("prune to two buds", 60.0),
    "training": ("choose one shoot and lead it up the stake", 60.0),
    "tying": ("tie the trunk to the stake", 120.0),
    "shelters_off": ("take the shelters off", 150.0),
    "union": ("check that the graft union is clear of the soil", 200.0),
    "foliage": ("move the foliage wires and tuck shoots in", 100.0),
    "wood": ("lay canes or cordons down on the fruiting wire", 40.0),
    "picking": ("pick the crop", 20.0),
}


@dataclass(frozen=True)
class Years:
    """The first years after planting. Usual values are common practice.

    Attributes
    ----------
    counting : str
        Of COUNTINGS: how people count to the first small crop.
    form : str
        "cane" or "cordon".
    tie_days : float
        Between two rounds of tying while the trunk grows. [days]
    shares_pct : tuple of float
        Expected crop, of a mature one, year after year from the planting year. [%]
    mature_kg_vine : float
        [kg]
    union_check_m : float
        Least height of the graft union above the soil in years to come. [m]
    per_h : tuple of (str, float)
        Vines a person does in an hour, by task of YEAR_TASKS, where others than the usual.
    """

    counting: str = "third leaf"
    form: str = "cane"
    tie_days: float = 10.0
    shares_pct: tuple[float, ...] = (0.0, 5.0, 35.0, 70.0, 100.0)
    mature_kg_vine: float = 2.5
    union_check_m: float = 0.05
    per_h: tuple[tuple[str, float], ...] = ()

    def __post_init__(self):
        hold_within(self, YEARS_LIMITS)
        if self.counting not in COUNTINGS:
            raise ValueError(f"counting: {self.counting!r} is none of {', '.join(COUNTINGS)}")
        if self.form not in ("cane", "cordon"):
            raise ValueError(f"form: {self.form!r} is neither cane nor cordon")
        shares = tuple(float(s) for s in self.shares_pct)
        if (
            not shares
            or len(shares) > 12
            or not all(math.isfinite(s) and 0 <= s <= 200 for s in shares)
        ):
            raise ValueError("shares_pct: 1 to 12 years of 0 to 200 % each")
        object.__setattr__(self, "shares_pct", shares)
        unknown = [task for task, _ in self.per_h if task not in YEAR_TASKS]
        if unknown:
            raise ValueError(f"per_h: {unknown[0]!r} is no task of the first years")

    def rate_per_h(self, task: str) -> float:
        """Vines a person does in an hour."""
        return dict(self.per_h).get(task, YEAR_TASKS[task][1])


@dataclass(frozen=True)
class TitleBlock:
    """What the user puts into the title block of the sheets."""

    client: str = ""
    address: str = ""
    drawn_by: str = ""
    checked_by: str = ""
    sheet_number: str = ""
    revision: str = ""
    remarks: str = ""


@dataclass(frozen=True)
class Planting:
    """Everything a project says of its planting. The day it begins is `Demand.planting` of its water.

    Attributes
    ----------
    lots : tuple of Lot
    tags : tuple of Tag
    assignments : tuple of Assignment
        In the order they were made; where several are about a vine the last one holds.
    setting : Setting
    crew : Crew
    inspecting : Inspecting
    years : Years
    title : TitleBlock
    """

    lots: tuple[Lot, ...] = ()
    tags: tuple[Tag, ...] = ()
    assignments: tuple[Assignment, ...] = ()
    setting: Setting = Setting()
    crew: Crew = Crew()
    inspecting: Inspecting = Inspecting()
    years: Years = Years()
    title: TitleBlock = TitleBlock()

    def lot(self, name: str) -> Lot | None:
        """The lot of that name, upper and lower case alike."""
        wanted = name.strip().casefold()
        return next((lot for lot in self.lots if lot.name.casefold() == wanted), None)

    def with_lot(self, lot: Lot) -> Planting:
        """The same with a lot exchanged, or put behind the others."""
        if self.lot(lot.name) is None:
            return replace(self, lots=(*self.lots, lot))
        same = lot.name.casefold()
        lots = tuple(lot if known.name.casefold() == same else known for known in self.lots)
        return replace(self, lots=lots)
