"""The planting of a project in plain language: what is shown, typed, stepped, chosen, and refused."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from layoutdesk.core.model import InputProblem, Planting, Water
from layoutdesk.core.model.planting import (
    TASKS,
    YEAR_TASKS,
    Crew,
    Inspecting,
    Setting,
    TitleBlock,
    Years,
)
from layoutdesk.core.model.water import Demand
from layoutdesk.session.planting_words import (
    PLANTING_NAMES,
    TITLE_FIELDS,
    crew_paragraph,
    inspecting_paragraph,
    setting_paragraph,
    title_paragraph,
    title_texts,
    with_missed_day,
    with_stepped_planting,
    with_title_texts,
    with_typed_planting,
    years_paragraph,
)
from layoutdesk.session.specification import Value, as_text
from tests.session.planted_cases import PROJECT

DAY = datetime.date
PARAGRAPHS = (
    setting_paragraph,
    crew_paragraph,
    inspecting_paragraph,
    years_paragraph,
    title_paragraph,
)
SPECIAL = replace(
    PROJECT,
    water=Water(demand=Demand(planting=DAY(2027, 4, 5))),
    planting=Planting(
        setting=Setting(0.33, 0.05, 0.127, 3.5, 14.0, 18.0),
        crew=Crew(
            1, 7.5, 5.75, 90.0, 80.5, 150.0, 130.0, 250.0, (6,),
            tuple(DAY(2027, 4, d) for d in (5, 6, 7, 12)), (DAY(2027, 4, 8),), 28.5,
        ),
        inspecting=Inspecting(6.5, 99.0, 1, 20270405, 3),
        years=Years("second harvest", "cordon", 12.0, (0.0, 10.0, 50.0), 3.25, 0.1, (("tying", 90.0),)),
        title=TitleBlock("Two Gums Farm", "Hill Road 3", "M. T.", "", "7 of 9", "B", "for the crew"),
    ),
)  # fmt: skip


def values(project, unit="m") -> dict[str, Value]:
    return {
        part.rule: part
        for paragraph in PARAGRAPHS
        for sentence in paragraph(project, unit)
        for part in sentence
        if isinstance(part, Value)
    }


def typed(key, text, project=PROJECT, unit="m"):
    return with_typed_planting(project, key, text, unit)


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("project", [PROJECT, SPECIAL], ids=["usual", "special"])
def test_every_value_can_be_typed_as_it_is_shown(project, unit):
    before = values(project, unit)
    assert set(before) == set(PLANTING_NAMES)
    for key, value in before.items():
        again = typed(key, value.text, project, unit)
        assert values(again, unit)[key].text == value.text, key
        assert value.name.startswith(PLANTING_NAMES[key])


def test_what_is_typed_as_shown_in_metric_changes_nothing():
    for key, value in values(SPECIAL).items():
        assert typed(key, value.text, SPECIAL) == SPECIAL, key


def test_the_day_planting_begins_is_the_planting_day_of_the_water():
    assert PROJECT.water is None
    project = typed("begins", "April 5, 2027")
    assert project.water == Water(demand=Demand(planting=DAY(2027, 4, 5)))
    assert "Planting begins on 5 April 2027." in as_text(crew_paragraph(project))
    later = with_stepped_planting(project, "begins", 2)
    assert later.water.demand.planting == DAY(2027, 4, 7)
    assert typed("begins", "not said", project).water.demand.planting is None
    assert with_stepped_planting(PROJECT, "begins", 1) == PROJECT  # from no day there is no step


def test_common_practice_is_said_until_somebody_says_otherwise():
    usual = values(PROJECT)
    assert "common practice" in usual["crew.holes_per_h"].name
    assert "common practice" in as_text(setting_paragraph(PROJECT))
    own = PROJECT
    for key in PLANTING_NAMES:
        if key.startswith(("setting.", "crew.", "inspecting.", "years.")) and usual[key].step:
            own = with_stepped_planting(own, key, 1)
    assert not [k for k, v in values(own).items() if "common practice" in v.name]
    for paragraph in PARAGRAPHS:
        assert "common practice" not in as_text(paragraph(own))


@pytest.mark.parametrize(
    ("key", "text", "unit", "wanted"),
    [
        ("setting.hole_depth_m", "18 in", "m", 0.4572),
        ("setting.hole_depth_m", "15", "ft", 0.381),
        ("setting.union_high_m", "9", "m", 0.09),
        ("setting.union_high_m", "0.1 m", "m", 0.1),
        ("crew.starts_h", "6:30", "m", 6.5),
        ("crew.starts_h", "6 am", "m", 6.0),
        ("crew.starts_h", "1:15 pm", "m", 13.25),
        ("crew.starts_h", "07.45", "m", 7.75),
        ("crew.weekdays_off", "Sun", "m", (6,)),
        ("crew.weekdays_off", "Friday, saturday", "m", (4, 5)),
        ("crew.weekdays_off", "weekends", "m", (5, 6)),
        ("crew.weekdays_off", "none", "m", ()),
        ("crew.days_off", "2027-04-05, 2027-04-06", "m", (DAY(2027, 4, 5), DAY(2027, 4, 6))),
        ("crew.days_off", "6 April 2027 and April 5, 2027", "m", (DAY(2027, 4, 5), DAY(2027, 4, 6))),
        ("crew.days_off", "2027-04-30..2027-05-01", "m", (DAY(2027, 4, 30), DAY(2027, 5, 1))),
        ("crew.days_off", "none", "m", ()),
        ("crew.hottest_c", "86", "ft", 30.0),
        ("crew.hottest_c", "30", "m", 30.0),
        ("crew.hottest_c", "95 °F", "m", 35.0),
        ("years.shares_pct", "0; 12,5; 60", "m", (0.0, 12.5, 60.0)),
        ("years.mature_kg_vine", "2", "ft", 0.90718474),  # 2 lb, NIST SP 811
        ("years.counting", "Third-leaf", "m", "third leaf"),
        ("title.client", "  Two\nGums ", "m", "Two Gums"),
    ],
)  # fmt: skip
def test_values_are_read_in_the_ways_people_write_them(key, text, unit, wanted):
    part, _, field = key.partition(".")
    found = getattr(getattr(typed(key, text, SPECIAL, unit).planting, part), field)
    if isinstance(wanted, float):
        wanted = pytest.approx(wanted)
    assert found == wanted


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("begins", "soon"),
        ("begins", "31 April 2027"),
        ("setting.hole_depth_m", "deep"),
        ("setting.hole_depth_m", "4 m"),
        ("setting.union_low_m", "12 cm"),
        ("setting.union_high_m", "2 cm"),
        ("setting.spares_pct", "-1"),
        ("crew.people", "0"),
        ("crew.people", "2.5"),
        ("crew.hours_a_day", "25"),
        ("crew.starts_h", "noon"),
        ("crew.starts_h", "25:00"),
        ("crew.starts_h", "7:75"),
        ("crew.starts_h", "13 pm"),
        ("crew.weekdays_off", "Fri, Someday"),
        ("crew.weekdays_off", "S"),
        ("crew.weekdays_off", "mon tue wed thu fri sat sun"),
        ("crew.days_off", "2027-04-05, tomorrow"),
        ("crew.days_off", "2027-04-05 to 2027-04-01"),
        ("crew.days_off", "2027-04-05 to none"),
        ("crew.days_off", "1990-01-01 to 2027-04-01"),
        ("crew.hottest_c", "hot"),
        ("crew.hottest_c", "90"),
        ("inspecting.tolerated_pct", "0"),
        ("inspecting.confidence_pct", "100"),
        ("inspecting.seed", "1.5"),
        ("years.counting", "by feeling"),
        ("years.form", "goblet"),
        ("years.shares_pct", ""),
        ("years.shares_pct", ", ".join(["10"] * 13)),
        ("years.shares_pct", "0, 300"),
        ("years.pruning_per_h", "none"),
        ("title.remarks", "x" * 301),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(key, text):
    with pytest.raises(InputProblem) as refused:
        typed(key, text)
    sentence = str(refused.value)
    assert sentence.endswith(".")
    assert ". " not in sentence.replace("\u202f", "")


def test_steps_stay_inside_limits_and_the_band_keeps_its_ends_in_order():
    project = PROJECT
    for _ in range(30):
        project = with_stepped_planting(project, "setting.union_low_m", 1)
    setting = project.planting.setting
    assert setting.union_low_m < setting.union_high_m == Setting().union_high_m
    assert with_stepped_planting(PROJECT, "crew.people", -99).planting.crew.people == 1
    assert with_stepped_planting(PROJECT, "crew.starts_h", -99).planting.crew.starts_h == 0.0
    turned = with_stepped_planting(PROJECT, "years.counting", 1)
    assert turned.planting.years.counting == "second harvest"


def test_the_rate_of_all_tasks_together_is_told():
    # 1/120 + 1/100 + 1/200 + 1/150 + 1/300 h a vine are 1/30 h: 8 people plant 1,920 in 8 h
    text = as_text(crew_paragraph(PROJECT)).replace("\u202f", " ")
    assert "about 30 vines an hour" in text
    assert "1 920 a day" in text
    slower = typed("crew.holes_per_h", "20")
    assert "about 13 vines an hour" in as_text(crew_paragraph(slower))


def test_rates_of_the_first_years_are_kept_where_they_are_not_the_usual_ones():
    project = typed("years.tying_per_h", "95")
    assert project.planting.years.per_h == (("tying", 95.0),)
    assert project.planting.years.rate_per_h("tying") == 95.0
    back = typed("years.tying_per_h", f"{YEAR_TASKS['tying'][1]:g}", project)
    assert back.planting.years.per_h == ()


def test_a_missed_day_is_added_to_those_before():
    project = with_missed_day(with_missed_day(PROJECT, DAY(2027, 4, 7)), DAY(2027, 4, 6))
    assert project.planting.crew.missed == (DAY(2027, 4, 6), DAY(2027, 4, 7))


def test_the_title_block_is_typed_field_by_field():
    project = with_title_texts(PROJECT, {"client": "Two Gums", "remarks": "first draft"})
    assert title_texts(project) == {
        **{field: "" for field, _ in TITLE_FIELDS}, "client": "Two Gums", "remarks": "first draft",
    }  # fmt: skip
    assert typed("title.client", "left open", project).planting.title.client == ""


def test_every_rate_has_a_value_of_its_own():
    assert {f"crew.{task}_per_h" for task in TASKS} <= set(PLANTING_NAMES)
    assert {f"years.{task}_per_h" for task in YEAR_TASKS} <= set(PLANTING_NAMES)
