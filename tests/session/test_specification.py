"""The paragraph of a block's rules: each value can be read, typed back and stepped."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.model import CHOICES, LEFTOVERS, LIMITS, InputProblem, RowRules
from layoutdesk.formats.bearings import NorthOffsets
from layoutdesk.session.rule_typing import starting_rules, stepped, with_typed
from layoutdesk.session.rule_words import MEANINGS, NONE_WORDS
from layoutdesk.session.specification import (
    NAMES,
    Value,
    as_text,
    choice_text,
    shown_bearing,
    specification,
)
from layoutdesk.session.units import unit_length_m

UNITS = ("m", "ft", "usft")


def values_of(rules: RowRules, unit: str = "m") -> dict[str, Value]:
    return {
        part.rule: part
        for sentence in specification(rules, unit)
        for part in sentence
        if isinstance(part, Value)
    }


def rule_values_of(rules: RowRules, unit: str = "m") -> dict[str, Value]:
    """Those that are a field of the rules by themselves."""
    return {rule: v for rule, v in values_of(rules, unit).items() if rule != "start_corner"}


ODD = RowRules(
    bearing_deg=352.125,
    row_spacing_m=2.45,
    vine_spacing_m=1.35,
    headland_m=7.5,
    side_margin_m=3.25,
    first_row_m=0.35,
    first_vine_m=0.85,
    last_vine_m=0.45,
    min_row_m=22.0,
    line_post_every=5,
    anchor_m=1.1,
    leftover="stretch",
    stretch_max_pct=2.5,
    number_from="right",
    first_number=301,
)


def test_the_paragraph_in_plain_words():
    assert as_text(specification(RowRules(bearing_deg=18))) == (
        "Rows run at 018.0° true, 2.40 m apart, with a vine every 1.50 m.\n"
        "Leave 8.0 m clear at row ends and 3.00 m along the sides; edges at 30° or more to the rows "
        "are row ends. The leftmost row stands at the edge of the plantable ground.\n"
        "A line post stands every 4 vines; anchors sit 1.20 m beyond the end posts. The first vine "
        "stands 1.00 m from its end post and the last at least 0.50 m. What is left over goes to the "
        "far end.\n"
        "Rows shorter than 15.0 m are left out. No alleys cross the rows at intervals.\n"
        "Numbering begins in the south-west corner, with row 1."
    )


def test_what_there_is_none_of_reads_naturally_and_can_still_be_changed():
    rules = RowRules(line_post_every=0, anchor_m=0, min_row_m=0)
    text = as_text(specification(rules))
    assert "No line posts stand in the rows; no anchors stand beyond the end posts." in text
    assert "No row is left out for being short. No alleys cross the rows" in text
    for rule in NONE_WORDS:
        shown = values_of(replace(rules, first_row_m=0))[rule].text
        some = replace(rules, **{rule: 5})
        assert getattr(with_typed(some, rule, shown), rule) == 0
        assert getattr(with_typed(some, rule, "none"), rule) == 0
        assert getattr(with_typed(rules, rule, "5"), rule) == 5


def test_alleys_at_an_interval_are_told_with_both_figures():
    rules = with_typed(RowRules(), "alley_every_m", "80")
    assert "An alley 6.0 m wide crosses the rows every 80.0 m." in as_text(specification(rules))


def test_every_rule_a_person_can_name_is_in_some_paragraph():
    shown = set()
    for leftover in LEFTOVERS:
        shown |= set(values_of(RowRules(leftover=leftover, alley_every_m=80)))
    told_by_the_corner, of_several_blocks = {"number_from"}, {"block_name", "common"}
    assert shown == set(NAMES) - told_by_the_corner - of_several_blocks
    not_named = {f.name for f in fields(RowRules)} - set(NAMES)
    assert not_named == {"alleys"}


def test_round_feet_are_shown_round_and_metres_as_they_are():
    shown = {rule: v.text for rule, v in rule_values_of(starting_rules("ft"), "ft").items()}
    lengths = [text for text in shown.values() if text.endswith(" ft")]
    assert len(lengths) == 8
    assert all(float(text.removesuffix(" ft")) % 0.5 == 0 for text in lengths)
    assert {len(text.removesuffix(" ft").split(".")[1]) for text in lengths} == {1}
    assert values_of(RowRules(), "ft")["headland_m"].text == "26.247 ft"
    assert starting_rules("m") == RowRules()


def test_blocks_that_differ_show_both_or_that_they_differ():
    a, b, c = (RowRules(bearing_deg=d) for d in (101.9, 117.9, 5))
    two = specification(a, blocks=(("B1", a), ("B2", b), ("B3", a)))
    three = specification(a, blocks=(("B1", a), ("B2", b), ("B3", c)))
    assert two[0][1].text == "101.9° / 117.9°"
    assert three[0][1].text == "differs"
    assert three[0][1].each == (("B1", "101.9°"), ("B2", "117.9°"), ("B3", "005.0°"))
    assert [v.differs for v in (two[0][1], three[0][1], three[0][3])] == [True, True, False]
    assert two[0][3].text == "2.40 m"


def test_blocks_whose_leftovers_differ_have_neither_stretch_nor_lattice():
    blocks = tuple((f"B{i}", RowRules(leftover=w)) for i, w in enumerate(("stretch", "across")))
    text = as_text(specification(blocks[0][1], blocks=blocks))
    assert "What is left over goes to stretch / across." in text
    assert "lattice" not in text


@pytest.mark.parametrize("leftover", LEFTOVERS)
def test_values_that_metres_show_whole_come_back_as_they_were(leftover):
    rules = replace(ODD, leftover=leftover, lattice="staggered")
    back = RowRules(
        lattice="staggered", leftover=leftover, stretch_max_pct=2.5, number_from="right"
    )
    for rule, value in rule_values_of(rules).items():
        back = with_typed(back, rule, value.text)
    assert back == rules


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("leftover", LEFTOVERS)
def test_every_value_typed_as_shown_shows_the_same(unit, leftover):
    rules = replace(ODD, leftover=leftover)
    for rule, value in rule_values_of(rules, unit).items():
        typed = with_typed(rules, rule, value.text, unit)
        assert values_of(typed, unit)[rule].text == value.text
        if rule.endswith("_m"):
            half = 0.005 * unit_length_m(unit)
            assert getattr(typed, rule) == pytest.approx(getattr(rules, rule), abs=half + 1e-12)
        else:
            assert typed == rules


def test_feet_survive_the_way_through_metres():
    rules = with_typed(RowRules(), "row_spacing_m", "8", "ft")
    assert rules.row_spacing_m == 2.4384
    assert values_of(rules, "ft")["row_spacing_m"].text == "8.0 ft"
    rules = with_typed(RowRules(), "row_spacing_m", "8", "usft")
    assert rules.row_spacing_m == 9600 / 3937
    assert values_of(rules, "usft")["row_spacing_m"].text == "8.0 US ft"


@pytest.mark.parametrize("unit", UNITS)
def test_a_typed_unit_beats_the_unit_on_show(unit):
    assert with_typed(RowRules(), "headland_m", "30ft", unit).headland_m == 30 * 0.3048
    assert with_typed(RowRules(), "headland_m", "9 m", unit).headland_m == 9.0


@pytest.mark.parametrize(
    ("rule", "text", "value"),
    [
        ("bearing_deg", "018.5°", 18.5),
        ("bearing_deg", "N10W", 350.0),
        ("first_row_m", "best", "best"),
        ("first_row_m", "The best place", "best"),
        ("first_row_m", "0", 0.0),
        ("line_post_every", " 6 ", 6),
        ("line_post_every", "0", 0),
        ("first_number", "101", 101),
        ("leftover", "the far end", "far end"),
        ("leftover", "far end", "far end"),
        ("leftover", "both ends", "both ends"),
        ("leftover", "stretch", "stretch"),
        ("leftover", "across", "across"),
        ("lattice", "staggered", "staggered"),
        ("number_from", "right", "right"),
        ("stretch_max_pct", "2.5 %", 2.5),
        ("stretch_max_pct", "2,5", 2.5),
        ("side_margin_m", "3,25", 3.25),
    ],
)
def test_values_people_type(rule, text, value):
    assert getattr(with_typed(RowRules(), rule, text), rule) == value


def test_the_first_row_best_is_shown_and_typed_back():
    rules = RowRules(first_row_m="best")
    assert "The leftmost row stands where most vines fit." in as_text(specification(rules))
    assert with_typed(RowRules(), "first_row_m", values_of(rules)["first_row_m"].text) == rules


def test_grid_and_magnetic_bearings_become_true_ones():
    norths = NorthOffsets(convergence_deg=1.25, declination_deg=-8.0)

    def bearing(text):
        return with_typed(RowRules(), "bearing_deg", text, true_from=norths.true_from).bearing_deg

    assert bearing("17.5 grid") == 18.75
    assert bearing("359.5 grid") == 0.75
    assert bearing("18 magnetic") == 10.0
    assert bearing("3 mag") == 355.0
    assert bearing("18 true") == 18.0


def test_a_magnetic_bearing_on_a_day_without_a_model_is_refused_in_one_sentence():
    norths = NorthOffsets(1.25, None)
    with pytest.raises(InputProblem) as refused:
        with_typed(RowRules(), "bearing_deg", "18 magnetic", true_from=norths.true_from)
    assert str(refused.value) == "Bearing: no magnetic declination is known for this date."


def test_without_norths_only_true_bearings_are_taken():
    with pytest.raises(InputProblem, match="^Bearing: type a true bearing here.$"):
        with_typed(RowRules(), "bearing_deg", "18 grid")


@pytest.mark.parametrize(
    ("rule", "text", "unit", "sentence"),
    [
        ("row_spacing_m", "30", "m", "Row spacing must lie between 0.50 m and 20.00 m."),
        ("row_spacing_m", "0.4", "m", "Row spacing must lie between 0.50 m and 20.00 m."),
        ("row_spacing_m", "70", "ft", "Row spacing must lie between 1.64 ft and 65.62 ft."),
        ("row_spacing_m", "70", "usft", "Row spacing must lie between 1.64 US ft and 65.62 US ft."),
        ("headland_m", "-1", "m", "Headland must lie between 0.00 m and 200.00 m."),
        ("first_row_m", "-1", "m", "First row must lie between 0.00 m and 1000.00 m."),
        ("line_post_every", "101", "m", "Line posts must lie between 0 and 100."),
        ("line_post_every", "4.5", "m", "Line posts: '4.5' is no whole number."),
        ("line_post_every", "", "m", "Line posts: '' is no whole number."),
        ("first_number", "-1", "m", "First number must lie between 0 and 100000."),
        ("stretch_max_pct", "60 %", "m", "Stretch must lie between 0 and 50."),
        ("stretch_max_pct", "nan", "m", "Stretch must lie between 0 and 50."),
        ("stretch_max_pct", "some", "m", "Stretch: 'some' is no number."),
        ("leftover", "x", "m", "Leftover: choose one of far end, both ends, stretch, across."),
        ("number_from", "", "m", "Numbering side: choose one of left, right."),
    ],
)
def test_what_cannot_be_is_refused_with_the_bounds_in_the_unit_on_show(rule, text, unit, sentence):
    with pytest.raises(InputProblem) as refused:
        with_typed(RowRules(), rule, text, unit)
    assert str(refused.value) == sentence


@settings(deadline=None)  # the units library is loaded by the first odd unit
@given(
    st.sampled_from(sorted(set(NAMES) - {"start_corner", "block_name", "common"})),
    st.text(max_size=8),
    st.sampled_from(UNITS),
)
def test_any_text_gives_rules_or_one_sentence(rule, text, unit):
    try:
        with_typed(RowRules(), rule, text, unit)
    except InputProblem as problem:
        assert str(problem).endswith(".")


@pytest.mark.parametrize(
    ("rule", "unit", "before", "steps", "shown"),
    [
        ("row_spacing_m", "m", 2.4, 1, "2.45 m"),
        ("row_spacing_m", "m", 2.4384, 1, "2.50 m"),
        ("row_spacing_m", "ft", 2.4384, 1, "8.25 ft"),
        ("row_spacing_m", "ft", 2.4, 1, "8.0 ft"),
        ("row_spacing_m", "usft", 2.4384, -1, "7.75 US ft"),
        ("headland_m", "m", 8.2, 1, "8.5 m"),
        ("headland_m", "ft", 9.144, -3, "27.0 ft"),
        ("side_margin_m", "m", 3.0, 1, "3.25 m"),
        ("min_row_m", "m", 15.4, -1, "14.0 m"),
        ("bearing_deg", "m", 359.6, 1, "000.0°"),
        ("bearing_deg", "m", 359.8, 1, "000.5°"),
        ("bearing_deg", "m", 0.0, -1, "359.5°"),
        ("line_post_every", "m", 4, 2, "6"),
        ("line_post_every", "m", 1, -1, "No line posts"),
        ("side_angle_deg", "m", 30.0, 1, "31°"),
        ("alley_width_m", "ft", 6.0, 1, "21.0 ft"),
        ("min_row_m", "ft", 15.24, 1, "55.0 ft"),
        ("stretch_max_pct", "m", 5.0, -1, "4.5 %"),
        ("first_row_m", "m", "best", 1, "0.05 m"),
    ],
)
def test_steps_land_on_round_figures_in_the_unit_on_show(rule, unit, before, steps, shown):
    rules = replace(RowRules(leftover="stretch", alley_every_m=60), **{rule: before})
    assert values_of(stepped(rules, rule, steps, unit), unit)[rule].text == shown


RULES = sorted(set(NAMES) & set(LIMITS) | set(CHOICES))
STEPPED = sorted(set(RULES) - set(CHOICES) - {"bearing_deg"})


@given(st.sampled_from(STEPPED), st.floats(0, 1), st.integers(-400, 400), st.sampled_from(UNITS))
def test_steps_stay_inside_the_limits_and_on_whole_steps(rule, share, steps, unit):
    low, high = LIMITS[rule]
    start = low + share * (high - low)
    whole = rule in ("line_post_every", "first_number")
    rules = replace(RowRules(), **{rule: round(start) if whole else start})
    moved = getattr(stepped(rules, rule, steps, unit), rule)
    assert low <= moved <= high
    assert isinstance(moved, int) == whole
    if low < moved < high:
        shown = values_of(RowRules(leftover="stretch", alley_every_m=80), unit)
        step = shown[rule].step
        count = moved / (unit_length_m(unit) if rule.endswith("_m") else 1.0) / step
        assert count == pytest.approx(round(count), abs=1e-4)  # shown to six decimals


def test_steps_go_round_the_choices():
    rules = RowRules()
    for leftover in (*LEFTOVERS[1:], LEFTOVERS[0]):
        rules = stepped(rules, "leftover", 1)
        assert rules.leftover == leftover
    assert stepped(rules, "leftover", -1).leftover == LEFTOVERS[-1]


@given(st.floats(0, 360, exclude_max=True))
def test_a_shown_bearing_is_typed_back_to_a_ten_thousandth(degrees):
    text = shown_bearing(degrees)
    assert len(text.split(".")[0]) == 3
    back = with_typed(RowRules(), "bearing_deg", text).bearing_deg
    assert abs((back - degrees + 180) % 360 - 180) <= 0.5e-4 + 1e-9


def test_choices_are_offered_as_the_paragraph_says_them():
    value = values_of(RowRules())["leftover"]
    assert value.choices == LEFTOVERS
    assert [choice_text("leftover", c) for c in value.choices] == [
        "the far end",
        "both ends",
        "stretch",
        "across",
    ]


def test_every_choice_tells_its_meaning_and_which_is_chosen():
    values = values_of(RowRules(leftover="across", lattice="staggered", bearing_deg=18))
    for rule in ("leftover", "lattice", "start_corner"):
        assert all(values[rule].meanings), rule
        assert values[rule].chosen in values[rule].choices
    assert values["leftover"].chosen == "across"
    assert values["start_corner"].chosen == "south-west"
    assert set(MEANINGS["leftover"]) == set(LEFTOVERS)
