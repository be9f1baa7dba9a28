"""What candidates are measured by, as a paragraph: words, typing, steps, and what is refused."""

from __future__ import annotations

import pytest

from layoutdesk.core.model import InputProblem, Prices, Season, Study
from layoutdesk.core.model.study import Canopy
from layoutdesk.session.specification import Value, as_text
from layoutdesk.session.study_words import NAMES, stepped, study_paragraph, with_typed


def values(study=None, latitude=45.0, unit="m", blocks=()) -> dict[str, Value]:
    paragraph = study_paragraph(study or Study(), latitude, unit, blocks)
    return {p.rule: p for sentence in paragraph for p in sentence if isinstance(p, Value)}


def test_the_season_follows_the_hemisphere_until_it_is_chosen():
    north, south = values(latitude=45.0), values(latitude=-34.0)
    assert (north["season.first_month"].text, north["season.last_month"].text) == (
        "April",
        "October",
    )
    assert (south["season.first_month"].text, south["season.last_month"].text) == (
        "October",
        "April",
    )
    study = with_typed(Study(), "season.first_month", "May")
    assert values(study, latitude=-34.0)["season.first_month"].text == "May"
    assert values(study, latitude=-34.0)["season.last_month"].text == "April"


def test_blocks_are_chosen_only_where_there_are_several():
    assert "blocks" not in values(blocks=("B1",))
    choice = values(blocks=("B1", "B2"))["blocks"]
    assert choice.text == "all blocks"
    assert choice.choices == ("all blocks", "B1", "B2")
    study = with_typed(Study(), "blocks", "B2")
    assert study.blocks == ("B2",)
    assert with_typed(study, "blocks", "all blocks").blocks == ()


def test_every_value_can_be_typed_as_it_is_shown():
    study = Study(
        canopy=Canopy(2.15, 0.75, 0.35),
        season=Season(3, 9, 12.5, 16.25),
        prices=Prices(1234.5, 12.0, "AUD"),
        short_row_m=52.5,
        wind_from_deg=225.5,
    )
    for unit in ("m", "ft", "usft"):
        for key, value in values(study, unit=unit, blocks=("B1", "B2")).items():
            again = with_typed(study, key, value.text, unit)
            assert values(again, unit=unit, blocks=("B1", "B2"))[key].text == value.text, key


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("canopy.height_m", "high"),
        ("canopy.height_m", "60"),
        ("canopy.foot_m", "2.5"),
        ("season.hot_from_h", "18"),
        ("season.hot_from_h", "noon"),
        ("season.hot_to_h", "13:75"),
        ("short_row_m", "-1"),
        ("grade_along_pct", "steep"),
        ("grade_across_pct", "300"),
        ("wind_from_deg", "everywhere"),
        ("prices.end_assembly", "much"),
        ("prices.end_assembly", "-4"),
        ("prices.line_post", "$ 4 AUD"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(key, text):
    with pytest.raises(InputProblem) as refused:
        with_typed(Study(), key, text)
    sentence = str(refused.value)
    assert sentence.endswith(".")
    assert ". " not in sentence


@pytest.mark.parametrize("text", ["none", "not said", "", "–"])
def test_a_price_and_a_wind_can_be_taken_back(text):
    study = Study(prices=Prices(10.0, 2.0, "NZD"), wind_from_deg=90.0)
    assert with_typed(study, "prices.end_assembly", text).prices == Prices(None, 2.0, "NZD")
    assert with_typed(study, "wind_from_deg", text).wind_from_deg is None


@pytest.mark.parametrize(
    ("text", "amount", "currency"),
    [
        ("38", 38.0, ""),
        ("38.50 AUD", 38.5, "AUD"),
        ("€38,50", 38.5, "€"),
        ("1 200 CHF", 1200, "CHF"),
    ],
)
def test_a_price_may_name_its_currency_on_either_side(text, amount, currency):
    prices = with_typed(Study(), "prices.end_assembly", text).prices
    assert (prices.end_assembly, prices.currency) == (amount, currency)


def test_a_wind_typed_from_grid_north_is_stored_as_true():
    study = with_typed(Study(), "wind_from_deg", "359 grid", true_from=lambda _, d: d + 2.0)
    assert study.wind_from_deg == 1.0


def test_steps_land_on_round_figures_and_stay_within_limits():
    study = with_typed(Study(), "canopy.height_m", "2.03")
    assert stepped(study, "canopy.height_m", 1, 45.0).canopy.height_m == pytest.approx(2.1)
    assert stepped(study, "canopy.height_m", 999, 45.0).canopy.height_m == 6.0
    assert stepped(Study(), "wind_from_deg", -1, 45.0).wind_from_deg == 355.0
    assert stepped(Study(), "season.first_month", -4, 45.0).season.first_month == 12
    feet = stepped(Study(), "short_row_m", 1, 45.0, "ft").short_row_m / 0.3048
    assert feet == pytest.approx(160.0)  # 147.6 ft go to whole tens
    blocks = stepped(Study(), "blocks", 1, 45.0, "m", ("B1", "B2")).blocks
    assert blocks == ("B1",)


def test_the_paragraph_reads_as_plain_language():
    study = Study(prices=Prices(38.5, None, "AUD"), wind_from_deg=225.0)
    text = as_text(study_paragraph(study, -34.0))
    assert "The season is October to April; the hottest hours are 13 to 17 by the sun." in text
    assert "Rows under 45 m are short." in text
    assert "225.0°" in text
    assert "38.50 AUD, a line post not said." in text
    assert set(NAMES) == set(values(study, blocks=("B1", "B2")))


@pytest.mark.parametrize(("text", "degrees"), [("NW", 315.0), ("sse", 157.5), ("N", 0.0)])
def test_a_wind_is_named_by_a_point_of_the_compass_too(text, degrees):
    assert with_typed(Study(), "wind_from_deg", text).wind_from_deg == degrees
