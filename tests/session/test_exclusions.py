"""Clearances as a sentence with values, and the edits these make."""

from __future__ import annotations

import pytest
import shapely

from layoutdesk import Block, Exclusion, InputProblem, Project, Site, SiteFrame
from layoutdesk.session.exclusions import (
    clearance_name,
    clearance_sentence,
    kept_from,
    stepped_clearance_m,
    typed_clearance_m,
    with_clearance,
)
from layoutdesk.session.specification import Value

PROJECT = Project(
    "x",
    Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832"),
    (Block("B1", shapely.box(0, 0, 100, 100)),),
    (
        Exclusion(shapely.Point(20, 20).buffer(5), 5.0, "Lower pond", "pond"),
        Exclusion(shapely.LineString([(0, 50), (100, 60)]), 8.0, "", "overhead line"),
        Exclusion(shapely.Point(70, 20), 2.0, "P1", "pole"),
        Exclusion(shapely.Point(75, 20), 2.0, "P2", "pole"),
        Exclusion(shapely.Point(90, 90), 3.0, "Old oak"),
    ),
)


def told(parts) -> str:
    return "".join(p.text if isinstance(p, Value) else p for p in parts)


def test_what_is_alike_is_told_together():
    assert told(clearance_sentence(PROJECT.exclusions)) == (
        "Keep 5.0 m from the pond, 8.0 m from the overhead line, 2.0 m from 2 poles and 3.0 m "
        "from the Old oak."
    ).replace("the Old oak", "Old oak")
    assert clearance_sentence(()) == ()


def test_two_of_a_kind_with_their_own_clearances_go_by_their_names():
    parted = with_clearance(PROJECT, "clearance 2", 1.0)
    assert [k.words for k in kept_from(parted.exclusions)][2:4] == ["P1", "P2"]


def test_a_clearance_is_set_for_all_it_stands_for_and_nothing_else():
    poles = kept_from(PROJECT.exclusions)[2]
    changed = with_clearance(PROJECT, poles.rule, 4.5)
    assert [e.clearance_m for e in changed.exclusions] == [5.0, 8.0, 4.5, 4.5, 3.0]
    assert [e.shape for e in changed.exclusions] == [e.shape for e in PROJECT.exclusions]
    assert clearance_name(PROJECT, poles.rule) == "clearance of 2 poles"


def test_steps_land_on_whole_halves_of_the_unit_shown_and_stay_inside():
    assert stepped_clearance_m(PROJECT, "clearance 0", 1, "m") == 5.5
    assert stepped_clearance_m(PROJECT, "clearance 0", 1, "ft") == pytest.approx(17.0 * 0.3048)
    assert stepped_clearance_m(PROJECT, "clearance 0", -99, "m") == 0.0


def test_what_is_typed_is_a_length_or_refused_in_a_sentence():
    assert typed_clearance_m("10 ft", "m") == pytest.approx(3.048)
    for text in ("wide", "-1", "2 km"):
        with pytest.raises(InputProblem):
            typed_clearance_m(text, "m")


def test_many_kinds_do_not_make_an_endless_sentence():
    many = tuple(Exclusion(shapely.Point(i, 0), 1.0 + i, f"T{i}", "tree") for i in range(20))
    sentence = told(clearance_sentence(many))
    assert sentence.count(" from ") == 7
    assert sentence.endswith("from 14 more.")
