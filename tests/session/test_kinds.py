"""Kinds of exclusion and the clearances they begin with."""

from __future__ import annotations

import pytest
import shapely

from layoutdesk import Exclusion, InputProblem
from layoutdesk.core.layout import checks
from layoutdesk.session import drawing
from layoutdesk.session.kinds import (
    KINDS,
    KindDefaults,
    caution_for,
    defaults_from,
    defaults_text,
)


def test_what_can_hurt_someone_goes_by_the_words_that_checks_and_plan_look_for():
    assert set(checks.DANGERS) == set(drawing.DANGERS) <= set(KINDS)
    assert {"pond", "watercourse"} <= set(drawing.WATERS)
    for kind in (*checks.DANGERS, "well", "watercourse"):
        assert caution_for(kind).endswith(".")
    assert caution_for("tree") == caution_for("haystack") == ""


def test_every_kind_begins_with_a_clearance_an_exclusion_can_have():
    for name, kind in KINDS.items():
        assert Exclusion(shapely.Point(0, 0), kind.clearance_m, kind=name).clearance_m > 0
        assert kind.form in ("point", "line", "polygon")


def test_changed_defaults_come_back_from_the_settings_and_only_they_are_kept():
    changed = KindDefaults().changed_to("tree", 6).changed_to("well", 30.5)
    assert defaults_from(defaults_text(changed)) == changed
    assert (changed["tree"], changed["well"], changed["pole"]) == (6.0, 30.5, 2.0)
    assert "pole" not in defaults_text(changed)
    assert list(changed) == list(KINDS)
    back = changed.changed_to("tree", KINDS["tree"].clearance_m)
    assert "tree" not in defaults_text(back)
    assert defaults_text(KindDefaults()) == ""
    assert defaults_from(" ") == KindDefaults()


@pytest.mark.parametrize(
    "text",
    [
        "tree=6",
        "[6]",
        '{"tree": -1}',
        '{"tree": 1001}',
        '{"tree": NaN}',
        '{"tree": "6"}',
        '{"tree": true}',
        '{"haystack": 6}',
    ],
)
def test_settings_that_cannot_be_used_are_refused_in_a_sentence(text):
    with pytest.raises(InputProblem, match=r"\.$|m\.$"):
        defaults_from(text)
