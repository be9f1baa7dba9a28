"""Values of a paragraph: shown, typed and stepped in people's units, whatever is kept inside."""

from __future__ import annotations

import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.session.quantities import Quantity, shown, stepped, typed, value_of

PRESSURE = Quantity("pressure behind a valve", "head", 1, 120)
TUBE = Quantity("drip line", "thickness", 4, 60)
EMITTERS = Quantity("emitters a vine", "whole", 1, 8)
LAW = Quantity("friction", "choice", choices=("one", "other"), meanings=("", ""))


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        # a bar is 100 kPa and a metre of water 9.80665 kPa, by definition
        ("1.5 bar", 150 / 9.80665),
        ("150 kPa", 150 / 9.80665),
        ("1.5", 150 / 9.80665),
        ("15 m", 15.0),
        # a psi is 6.894757 kPa: NIST SP 811, appendix B
        ("20psi", 20 * 6.894757293168 / 9.80665),
        ("1,5 bar", 150 / 9.80665),
    ],
)
def test_a_pressure_is_read_in_the_units_people_write(text, metres):
    assert typed(PRESSURE, text) == pytest.approx(metres, rel=1e-9)


def test_a_bare_number_is_in_the_unit_on_show():
    assert typed(PRESSURE, "20", "ft") == pytest.approx(typed(PRESSURE, "20 psi"), rel=1e-12)
    assert typed(TUBE, "0.5", "ft") == pytest.approx(12.7)
    # a US gallon is 3.785411784 L: NIST SP 811, appendix B
    assert typed(Quantity("flow", "drop_flow", 0, 100), "1 gph") == pytest.approx(3.785411784)
    assert typed(Quantity("flow", "flow", 0, 500), "100 gpm") == pytest.approx(22.712, abs=1e-3)


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize(
    ("quantity", "value"),
    [(PRESSURE, 15.0), (TUBE, 13.6), (EMITTERS, 2), (Quantity("angle", "angle", 0, 90), 60.0)],
)
def test_what_is_shown_is_read_back_as_nearly_the_same(quantity, value, unit):
    again = typed(quantity, shown(quantity, value, unit), unit)
    assert again == pytest.approx(value, rel=5e-3)
    assert shown(quantity, again, unit) == shown(quantity, value, unit)


@pytest.mark.parametrize(
    ("quantity", "text", "said"),
    [
        (PRESSURE, "500 bar", "Pressure behind a valve must lie between 0.10 bar and 11.77 bar."),
        (PRESSURE, "much", "Pressure behind a valve: 'much' is no number"),
        (PRESSURE, "3 apples", "Pressure behind a valve: 'apples' is no unit for it"),
        (EMITTERS, "1.5", "Emitters a vine: '1.5' is no whole number."),
        (LAW, "third", "Friction: choose one of one, other."),
        (TUBE, "", "Drip line: '' is no number"),
    ],
)
def test_what_cannot_be_taken_is_said_in_one_sentence(quantity, text, said):
    with pytest.raises(InputProblem) as problem:
        typed(quantity, text)
    assert str(problem.value).startswith(said)


def test_steps_land_on_round_figures_and_stay_within_limits():
    assert stepped(TUBE, 13.57, 1) == pytest.approx(13.7)
    assert stepped(TUBE, 59.9, 50) == 60
    assert stepped(EMITTERS, 1, -3) == 1
    assert stepped(LAW, "other", 1) == "one"
    assert shown(PRESSURE, stepped(PRESSURE, 15.0, 1)) == "1.60 bar"


def test_a_value_of_blocks_that_differ_shows_both():
    value = value_of("tube_mm", TUBE, (("B1", 13.6), ("B2", 16.0)))
    assert value.text == "13.6 mm / 16.0 mm"
    assert value.differs


@pytest.mark.parametrize(
    "text", ["2 (", '2 "', "8/", "2 # x", "2 mm/0", "2 mm*9**9**9", "9" * 400, "1e400", "2 m/s/0"]
)
@pytest.mark.parametrize(
    "kind", ["velocity", "flow", "force", "thickness", "head", "whole", "share"]
)
def test_whatever_is_typed_is_taken_or_refused(kind, text):
    try:
        typed(Quantity("value", kind, 0, 1e6), text)
    except InputProblem as problem:
        assert str(problem).startswith("Value")


def test_a_comma_that_may_mark_thousands_is_asked_about():
    with pytest.raises(InputProblem, match="can be read in two ways"):
        typed(Quantity("tension", "force", 0, 1e5), "1,100 N")
    assert typed(Quantity("tension", "force", 0, 1e5), "1,5 kN") == pytest.approx(1500)
