"""The water of a project in plain language: what is shown, typed, stepped, chosen, and refused."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.model import Block, InputProblem, Project, Site, SiteFrame, Water
from layoutdesk.core.model.water import Climate, Demand, Drip, Source
from layoutdesk.session.asked_water import WATER_MEANINGS, WATER_OPTIONS, with_asked_water
from layoutdesk.session.specification import Value, as_text
from layoutdesk.session.water_words import (
    WATER_NAMES,
    demand_paragraph,
    source_paragraph,
    water_paragraph,
    with_stepped_water,
    with_typed_water,
)

BLOCKS = tuple(Block(f"B{i}", shapely.box(100 * i, 0, 100 * i + 60, 160)) for i in (1, 2))
PROJECT = Project("Wet", Site(SiteFrame(-35.0, 138.9), "EPSG:32754", "EPSG:32754"), BLOCKS)
BOTH = ("B1", "B2")
BAR_M = 100 / 9.80665
"""A bar is 100 kPa and a metre of water 9.80665 kPa, by definition."""


def typed(key, text, project=PROJECT, names=BOTH, unit="m") -> Project:
    return with_typed_water(project, names, key, text, unit)


def drip(project, name="B1") -> Drip:
    return project.water.drip_of(name)


def values(project=PROJECT, names=BOTH, unit="m") -> dict[str, Value]:
    water = project.water or Water()
    paragraphs = (
        water_paragraph(project, names, unit),
        source_paragraph(water, unit),
        demand_paragraph(water, project.site.frame.latitude_deg, unit),
    )
    return {
        part.rule: part
        for paragraph in paragraphs
        for sentence in paragraph
        for part in sentence
        if isinstance(part, Value)
    }


SPECIAL = replace(
    PROJECT,
    water=Water(
        drips=(
            ("B1", Drip(2.3, 8.0, 0.46, 0.035, 6.0, 25.0, 2, None, 17.6, 1.0, "hazen-williams")),
            ("B2", Drip(inline_m=0.6, fed="line", line_m=((0.0, 0.0), (9.0, 0.0)), sets=3)),
        ),
        source=Source((3.0, 4.0), 212.5, ((0.0, 61.0), (12.5, 48.25), (30.0, 20.0)), 5.5, 1.2, 9.5),
        climate=Climate(tuple(1 + 0.25 * i for i in range(12)), (31.5,) * 12, "Airfield, 20 years"),
        demand=Demand("clay", 0.75, 0.9, 35.0, 12.5, datetime.date(2028, 9, 3), (4.0, 12.5), 0.015),
    ),
)


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("project", [PROJECT, SPECIAL])
@pytest.mark.parametrize("name", BOTH)
def test_every_value_can_be_typed_as_it_is_shown(project, name, unit):
    before = values(project, (name,), unit)
    for key, value in before.items():
        again = with_typed_water(project, (name,), key, value.text, unit)
        assert values(again, (name,), unit)[key].text == value.text, key
        assert value.name == WATER_NAMES[key]


def test_a_blocks_value_is_its_own_and_differences_are_shown():
    project = typed("tube_mm", "16", names=("B2",))
    assert drip(project, "B1") == Drip()
    assert drip(project, "B2") == Drip(tube_mm=16.0)
    value = values(project)["tube_mm"]
    assert value.differs
    assert value.each == (("B1", "13.6 mm"), ("B2", "16.0 mm"))
    both = typed("tube_mm", "20", project)
    assert {drip(both, name).tube_mm for name in BOTH} == {20.0}


def test_a_tube_may_be_typed_by_what_it_is_sold_as():
    # What tubes are called by and their inner width: core.water.drips (common practice).
    assert drip(typed("tube_mm", "20 mm tube")).tube_mm == 17.6
    assert drip(typed("tube_mm", "20 mm")).tube_mm == 20.0  # the sentence says "inside"


def test_a_kind_of_emitter_is_its_exponent():
    # 0 to 0.1 compensating, 0.5 turbulent, 1 laminar: Keller and Bliesner 1990 (from memory)
    for kind, exponent in (("pressure-compensating", 0.05), ("turbulent", 0.5), ("laminar", 1.0)):
        project = typed("emitter_kind", kind)
        assert drip(project).exponent == exponent
        assert values(project)["emitter_kind"].chosen == kind
    assert values(typed("exponent", "0.46"))["emitter_kind"].text == "turbulent"


def test_emitters_may_come_in_the_line_and_the_sentence_follows():
    project = typed("emitter_way", "in the drip line")
    assert drip(project).inline_m == 0.5
    assert "are 0.50 m apart" in as_text(water_paragraph(project, BOTH))
    assert "emitters_per_vine" not in values(project)
    back = typed("emitter_way", "at the vines", project)
    assert drip(back).inline_m is None
    feet = typed("emitter_way", "in the drip line", unit="ft")
    assert drip(feet).inline_m == pytest.approx(1.5 * 0.3048)


@pytest.mark.parametrize(
    ("text", "cv"), [("5 %", 0.05), ("5", 0.05), ("0.03", 0.03), ("0,5%", 0.005)]
)
def test_variation_is_read_as_makers_print_it(text, cv):
    assert drip(typed("cv", text)).cv == pytest.approx(cv)


def test_a_line_is_offered_and_taken_only_where_one_was_drawn():
    assert "a line across the rows" not in values()["fed"].choices
    with pytest.raises(InputProblem, match="draw the submain first"):
        typed("fed", "a line across the rows")
    assert "a line across the rows" in values(SPECIAL, ("B2",))["fed"].choices
    seen = set()
    project = PROJECT
    for _ in range(4):
        project = with_stepped_water(project, ("B1",), "fed", 1)
        seen.add(drip(project).fed)
    assert seen == {"higher end", "start end", "far end", "middle"}


def test_steps_start_from_what_each_block_has():
    project = with_stepped_water(SPECIAL, BOTH, "tube_mm", 2)
    assert (drip(project, "B1").tube_mm, drip(project, "B2").tube_mm) == (17.8, 13.8)
    project = with_stepped_water(PROJECT, BOTH, "head_m", 1)
    assert drip(project).head_m == pytest.approx(1.6 * BAR_M)
    assert drip(with_stepped_water(PROJECT, BOTH, "sets", 1)).sets == 1
    held = with_stepped_water(PROJECT, BOTH, "least_head_m", 1000)
    assert drip(held).least_head_m < drip(held).greatest_head_m


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_every_value_can_be_stepped(unit):
    for project in (PROJECT, SPECIAL):
        for key in WATER_NAMES:
            for steps in (-3, 1, 500):
                moved = with_stepped_water(project, BOTH, key, steps, unit)
                assert values(moved, unit=unit)


def test_what_the_source_gives_is_assumed_until_it_is_typed():
    shown = as_text(source_paragraph(Water()))
    assert "assumed is a head of 50 m at 0 m³/h, 40 m at 40 m³/h" in shown
    elsewhere = typed("source.losses_m", "0.5 bar")
    assert elsewhere.water.source.is_assumed  # what is lost in filters is not what the source gives
    known = typed("source.curve", "50 m at 0 m³/h, 40 m at 40 m³/h")
    assert known.water.source.curve == Source().curve
    assert not known.water.source.is_assumed
    assert "assumed" not in as_text(source_paragraph(known.water))


@pytest.mark.parametrize(
    ("text", "unit", "curve"),
    [
        ("0:50,20:40", "m", ((0, 50), (20, 40))),
        ("40 m at 20 m³/h; 50 m at 0", "m", ((0, 50), (20, 40))),
        ("50 @ 0, 4 bar @ 5 l/s", "m", ((0, 50), (18, 4 * BAR_M))),
        ("48,5 at 0; 40,25 at 12,5", "m", ((0, 48.5), (12.5, 40.25))),
        ("35 m at 12 m3/h", "m", ((0, 35), (12, 35))),
        ("0:50,10:45,20:40", "m", ((0, 50), (10, 45), (20, 40))),
        # 1 gpm is 0.2271247 m³/h and 1 psi 6.894757 kPa: NIST SP 811, appendix B
        ("100 ft at 0, 30 psi at 50", "ft", ((0, 30.48), (11.356, 21.092))),
    ],
)
def test_a_source_is_read_in_the_ways_people_write_it(text, unit, curve):
    found = typed("source.curve", text, unit=unit).water.source.curve
    assert len(found) == len(curve)
    for pair, wanted in zip(found, curve, strict=True):
        assert pair == pytest.approx(wanted, abs=2e-3)


def test_the_source_can_be_placed_by_survey_coordinates():
    from layoutdesk.session.typed_places import survey_transforms

    east, north = survey_transforms(PROJECT)[0]([(40.0, -25.0)])[0]
    place = typed("source.place_m", f"E {east:.3f} N {north:.3f}").water.source.place_m
    assert place == pytest.approx((40.0, -25.0), abs=1e-2)
    assert typed("source.place_m", "corner", SPECIAL).water.source.place_m is None


def test_pipes_are_pairs_of_outer_and_inner_width():
    pipes = typed("pipes_mm", "63/55.4, 50/44 mm").water.pipes_mm
    assert pipes == ((50.0, 44.0), (63.0, 55.4))
    inches = typed("pipes_mm", "1.9/1.72", unit="ft").water.pipes_mm
    assert inches[0] == pytest.approx((48.26, 43.688))


def test_a_year_is_typed_as_twelve_figures_or_month_by_month():
    months = "4.1, 3.8, 3.2, 2.1, 1.4, 1.1, 1.2, 1.7, 2.4, 3.1, 3.7, 4.2"
    climate = typed("climate.et0", months).water.climate
    assert climate.et0_mm_day[:3] == (4.1, 3.8, 3.2)
    assert typed("climate.et0", months.replace(",", "")).water.climate == climate
    commas = months.replace(",", ";").replace(".", ",")
    assert typed("climate.et0", commas + " mm a day").water.climate == climate
    inches = typed("climate.et0", ", ".join(["0.1"] * 12), unit="ft").water.climate
    assert inches.et0_mm_day == pytest.approx((2.54,) * 12)
    changed = typed("climate.et0_7", "1.5", typed("climate.et0", months)).water.climate
    assert changed.et0_mm_day == (*climate.et0_mm_day[:6], 1.5, *climate.et0_mm_day[7:])


def test_one_month_leaves_the_others_assumed_and_says_so():
    climate = typed("climate.et0_1", "8").water.climate
    assert climate.et0_mm_day[0] == 8.0
    assert len(climate.et0_mm_day) == 12
    assert "others assumed" in climate.source


def test_figures_over_a_files_are_told_in_its_source():
    climate = typed("climate.rain_3", "12", SPECIAL).water.climate
    assert climate.source == "Airfield, 20 years; some figures typed in"
    again = typed("climate.rain_4", "12", replace(SPECIAL, water=Water(climate=climate)))
    assert again.water.climate.source == climate.source


def test_years_and_planting():
    project = typed("demand.shaded_pct", "5 %, 20 %, 35 %, 40 %")
    assert project.water.demand.shaded_pct == (5.0, 20.0, 35.0, 40.0)
    assert typed("demand.shaded_5", "45").water.demand.shaded_pct == (5.0, 15.0, 30.0, 30.0, 45.0)
    assert "1 October" in values()["demand.planting"].text  # spring, south of the equator
    for text in ("2027-09-15", "15 September 2027", "15 sep 2027", "September 15, 2027"):
        assert typed("demand.planting", text).water.demand.planting == datetime.date(2027, 9, 15)
    later = with_stepped_water(typed("demand.planting", "2027-09-30"), BOTH, "demand.planting", 1)
    assert later.water.demand.planting == datetime.date(2027, 10, 1)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("tube_mm", "wide"),
        ("tube_mm", "200"),
        ("tube_mm", "99 mm tube"),
        ("head_m", "50 bar"),
        ("emitters_per_vine", "1.5"),
        ("emitter_kind", "leaky"),
        ("least_head_m", "5 bar"),
        ("greatest_head_m", "0.2 bar"),
        ("cv", "80 %"),
        ("sets", "0"),
        ("law", "by feeling"),
        ("source.curve", ""),
        ("source.curve", "much"),
        ("source.curve", "40 m at 0, 50 m at 20"),
        ("source.curve", "40 m at 5, 30 m at 5"),
        ("source.curve", "40 m at 0"),
        ("source.curve", "-3:50, 5:40"),
        ("source.place_m", "its place on the plan"),
        ("source.place_m", "E 12 N 34"),
        ("source.hours_a_day", "30"),
        ("pipes_mm", "40"),
        ("pipes_mm", "40/44"),
        ("pipes_mm", "wide/narrow"),
        ("climate.et0", "4, 5, 6"),
        ("climate.et0", ", ".join(["40"] * 12)),
        ("climate.rain_2", "-4"),
        ("demand.soil", "concrete"),
        ("demand.planting", "30 February 2027"),
        ("demand.planting", "soon"),
        ("demand.shaded_pct", "130"),
        ("demand.shaded_pct", ""),
        ("demand.days_a_week", "9"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(key, text):
    with pytest.raises(InputProblem) as refused:
        typed(key, text)
    sentence = str(refused.value)
    assert sentence.endswith(".")
    assert ". " not in sentence


def test_the_command_line_takes_every_value_by_an_option():
    assert set(WATER_MEANINGS) == set(WATER_OPTIONS)
    asked = {
        "tube": "20mm",
        "head": "12m",
        "emitter": "4",
        "exponent": "0.5",
        "fed": "far end",
        "sets": "3",
        "source-curve": "0:50,20:40",
        "soil": "sandy loam",
        "friction": "hazen-williams",
        "least-head": "4.5 bar",
        "greatest-head": "6 bar",
    }
    project = with_asked_water(PROJECT, asked, ("B2",))
    wanted = Drip(
        4.0,
        exponent=0.5,
        least_head_m=drip(project, "B2").least_head_m,
        greatest_head_m=drip(project, "B2").greatest_head_m,
        tube_mm=17.6,  # a tube that is sold as 20 mm: common practice
        law="hazen-williams",
        fed="far end",
        head_m=12.0,
        sets=3,
    )
    assert drip(project, "B2") == wanted
    assert drip(project, "B2").least_head_m == pytest.approx(4.5 * BAR_M)
    assert drip(project, "B1") == Drip()
    assert project.water.demand.soil == "sandy loam"
    assert not project.water.source.is_assumed
    assert drip(with_asked_water(PROJECT, {"tube": "20mm inside"})).tube_mm == 20.0


@pytest.mark.parametrize(
    ("option", "text"),
    [("tube", "wide"), ("fed", "above"), ("fed", "line"), ("head", ""), ("climate", "gone.csv")],
)
def test_an_option_that_cannot_be_is_named(option, text):
    with pytest.raises(InputProblem, match=f"^--{option}"):
        with_asked_water(PROJECT, {option: text})
