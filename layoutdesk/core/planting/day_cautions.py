"""What is to be minded on days of planting: light, heat, season, the work itself.

Months that stand for a season and temperatures that stand for a day are common practice; a forecast and whoever is
there decide.
"""

from __future__ import annotations

from ..model.findings import Finding
from ..model.planting import Crew
from .assigned import Assigned
from .day_waits import day_text, days_said, grouped, many, month_text

TROPIC_DEG = 23.5
"""Nearer to the equator months tell nothing of frost and rest. [deg]"""
USUAL_MONTHS: dict[str, tuple[tuple[int, ...], str]] = {
    # how it was grown: usual months in the north, and why. Common practice; six months on in the south.
    "potted": ((4, 5, 6, 7, 8, 9), "green plants are killed by late frost, and must root before winter"),
    "bare root": ((2, 3, 4, 5), "dormant plants go in before their buds open, in late winter and spring"),
}  # fmt: skip
WORK_CAUTIONS = (
    "Heat: water, shade and rest at hand; the employer's and local rules say when work stops.",
    "Lifting and bending all day: trays are carried by two or wheeled, and tasks change hands.",
    "Spades, augers and cutters: gloves, boots and eye protection, and room between people; stakes and wire ends "
    "at eye height are capped or marked.",
    "Before holes are dug or drilled, buried services are located; private lines are not marked.",
)
"""Told on every card; common practice."""


def day_findings(
    found: Assigned, days, latitude_deg: float, warm_c, without_set: int, cut_off: int
) -> tuple[Finding, ...]:
    """Everything but what days wait for.

    Parameters
    ----------
    found : Assigned
    days : tuple of DayPlan
    latitude_deg : float
    warm_c : tuple of 12 floats, or empty
        Mean daily greatest temperature of each month. [°C]
    without_set : int
        Vines of rows that no set is known to water.
    cut_off : int
        Vines that there are to plant where the days are not all of them; else 0.
    """
    if not days:
        return ()
    crew = found.planting.crew
    findings = [
        *_cut_off(days, cut_off),
        *_dark(days, crew),
        *_hot(days, crew, warm_c),
        *_season(found, days, latitude_deg),
    ]
    if without_set:
        findings.append(
            Finding(
                "wetting-unknown",
                f"{many(without_set, 'vine')} to plant {'stands' if without_set == 1 else 'stand'} in rows of "
                "which no set is known: have their ground wetted the day before.",
            )
        )
    findings.append(
        Finding(
            "planting-work",
            "Planting is heavy outdoor work: heat, lifting, tools and buried services. The employer's and local "
            f"rules govern; above {_warmth(crew.hottest_c)} no planting is advised (common practice).",
        )
    )
    return tuple(findings)


def _cut_off(days, whole: int):
    planned = sum(d.vines for d in days)
    if planned < whole:
        yield Finding(
            "planting-too-long",
            f"This crew plants {grouped(planned)} of {many(whole, 'vine')} in {len(days):,} days of work: no more "
            "days are planned. Give it more people or higher rates.",
        )


def _dark(days, crew: Crew):
    dark = [d for d in days if is_dark(crew.starts_h, d.crew_hours, d.light_h)]
    if dark:
        shortest = min(dark, key=lambda d: d.light_h)
        yield Finding(
            "planting-dark",
            f"{days_said([d.number for d in dark])}: work from {clock(crew.starts_h)} to "
            f"{clock(crew.starts_h + shortest.crew_hours)} is longer than daylight, which is "
            f"{shortest.light_h:.1f} h on {day_text(shortest.day)}, about {clock(12 - shortest.light_h / 2)} to "
            f"{clock(12 + shortest.light_h / 2)} with the sun highest at 12:00. Your clock may differ from the sun "
            "by an hour or two, and breaks are not counted.",
        )


def is_dark(starts_h: float, hours: float, light_h: float) -> bool:
    """Whether work begins before sunrise or ends after sunset, the sun being highest at 12:00.

    Not for a clock: time zone and summer time move the sun's noon by an hour or two.

    Examples
    --------
    >>> is_dark(7.0, 8.0, 12.0), is_dark(7.0, 8.0, 9.0)
    (False, True)
    """
    return starts_h < 12 - light_h / 2 - 1e-9 or starts_h + hours > 12 + light_h / 2 + 1e-9


def _hot(days, crew: Crew, warm_c):
    if len(warm_c) != 12:
        return
    hot = [d for d in days if warm_c[d.day.month - 1] > crew.hottest_c]
    if hot:
        warmest = max((warm_c[d.day.month - 1], d.day.month) for d in hot)
        yield Finding(
            "planting-hot",
            f"{days_said([d.number for d in hot])}: afternoons of {month_text(warmest[1])} are "
            f"{_warmth(warmest[0])} on the average, above the {_warmth(crew.hottest_c)} up to which planting is "
            "advised: begin at sunrise and stop before noon, or plant at another time of year.",
        )


def _warmth(celsius: float) -> str:
    return f"{celsius:.0f} °C ({celsius * 1.8 + 32:.0f} °F)"


def _season(found: Assigned, days, latitude_deg: float):
    if abs(latitude_deg) < TROPIC_DEG:
        return
    lots = found.planting.lots
    for grown, (months, why) in USUAL_MONTHS.items():
        months = tuple(usual_month(m, latitude_deg) for m in months)
        odd = [
            d
            for d in days
            if d.day.month not in months
            and any(r.lot >= 0 and lots[r.lot].grown == grown for r in d.runs)
        ]
        if odd:
            yield Finding(
                "planting-season",
                f"{days_said([d.number for d in odd])}, from {day_text(odd[0].day)}: {_PLANTS[grown]} are usually "
                f"set from {month_text(months[0])} to {month_text(months[-1])} here (common practice): {why}.",
            )


_PLANTS = {"potted": "potted plants", "bare root": "dormant plants with bare roots"}


def usual_month(month: int, latitude_deg: float) -> int:
    """A month of the north where it is, six months on in the south."""
    return month if latitude_deg >= 0 else (month + 5) % 12 + 1


def clock(hours: float) -> str:
    """A time of day.

    Examples
    --------
    >>> clock(7.0), clock(16.5), clock(25.0)
    ('07:00', '16:30', '01:00 the next day')
    """
    minutes = round(hours * 60)
    over = " the next day" if minutes >= 24 * 60 else ""
    minutes %= 24 * 60
    return f"{minutes // 60:02d}:{minutes % 60:02d}{over}"
