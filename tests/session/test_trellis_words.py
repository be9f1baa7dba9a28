"""The trellis as a paragraph: every value shown, typed and stepped, and refused in one sentence."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.model import (
    Block,
    FoliageWire,
    InputProblem,
    Materials,
    Project,
    Site,
    SiteFrame,
    Trellis,
)
from layoutdesk.core.model.trellis import ITEMS
from layoutdesk.session.specification import Value, as_text
from layoutdesk.session.trellis_words import (
    trellis_paragraph,
    with_stepped_trellis,
    with_typed_trellis,
)

BLOCKS = (Block("B1", shapely.box(0, 0, 90, 90)), Block("B2", shapely.box(100, 0, 190, 90)))
PROJECT = Project("Two", Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832"), BLOCKS)
BOTH = ("B1", "B2")


def values(project, names=("B1",), unit="m") -> dict[str, Value]:
    paragraph = trellis_paragraph(project.materials or Materials(), names, unit)
    return {p.rule: p for sentence in paragraph for p in sentence if isinstance(p, Value)}


def typed(key, text, project=PROJECT, names=("B1",), unit="m") -> Trellis:
    return with_typed_trellis(project, names, key, text, unit).materials.trellis_of("B1")


def test_the_usual_trellis_reads_as_plain_language():
    said = as_text(trellis_paragraph(Materials(), ("B1",)))
    assert "training stake 1.80 m long, 0.45 m of it in the ground" in said
    assert "Row ends are tied back to an anchor; the end post stands at 90°" in said
    assert "The fruiting wire hangs at 0.90 m." in said
    assert "1.20 m, a pair; 1.50 m, a pair; 1.80 m, single" in said
    assert "2.5 mm thick, breaks at 1200 MPa and is drawn to 1100 N" in said
    assert "each wire has 1 tensioner and at most 1 join." in said
    assert "Staples on each post: one a wire;" in said


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("ends", ["tied back", "braced inside", "slanted brace"])
def test_every_value_is_read_back_as_it_is_shown(unit, ends):
    trellis = Trellis(ends=ends, end_post_length_m=3.2)
    project = replace(PROJECT, materials=Materials((("B1", trellis),), currency="CHF"))
    for key, value in values(project, unit=unit).items():
        again = with_typed_trellis(project, ("B1",), key, value.text, unit)
        assert values(again, unit=unit)[key].text == value.text, key


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_every_figure_can_be_stepped(unit):
    project = replace(PROJECT, materials=Materials((("B1", Trellis(end_post_length_m=3.5)),)))
    before = values(project, unit=unit)
    for key, value in before.items():
        if value.choices or not value.step:
            continue
        moved = {
            values(with_stepped_trellis(project, ("B1",), key, by, unit), unit=unit)[key].text
            for by in (1, -1)
        }
        assert moved - {value.text}, key


def test_every_spare_can_be_reached():
    assert {f"spare.{item}" for item in ITEMS} <= set(values(PROJECT))
    assert typed("spare.shelters", "4").spare_pct("shelters") == 4
    assert typed("spare.shelters", "4").spare_pct("staples") == Trellis().spare_pct("staples")


def test_foliage_wires_are_added_changed_and_taken_away():
    more = typed("foliage.add", "one more")
    assert more.foliage_wires[:-1] == Trellis().foliage_wires
    assert 1.8 < more.height_m <= more.line_post_length_m - more.line_post_driven_m + 1e-9
    fewer = typed("foliage.1.height_m", "none")
    assert [w.height_m for w in fewer.foliage_wires] == [1.2, 1.8]
    assert typed("foliage.2.paired", "a pair").foliage_wires[2] == FoliageWire(1.8, True)
    assert typed("foliage.0.height_m", "4ft").foliage_wires[0].height_m == pytest.approx(1.2192)


def test_one_more_wire_is_refused_where_the_posts_end():
    low = replace(Trellis(), line_post_length_m=2.42)
    project = replace(PROJECT, materials=Materials((("B1", low),)))
    with pytest.raises(InputProblem, match="the posts end where the highest wire is"):
        typed("foliage.add", "one more", project)
    leaning = replace(Trellis(), end_angle_deg=70.0, line_post_length_m=3.0)
    project = replace(PROJECT, materials=Materials((("B1", leaning),)))
    # end posts lean: 2 m of them reach 2 · sin 70° = 1.879 m
    assert typed("foliage.add", "one more", project).height_m == 1.879


def test_rows_without_stakes_are_said_and_take_no_clips_at_them():
    project = with_typed_trellis(PROJECT, ("B1",), "stake_length_m", "none")
    assert project.materials.trellis_of("B1").stake_length_m == 0.0
    said = as_text(trellis_paragraph(project.materials, ("B1",)))
    assert said.startswith("Each vine has no training stake, but 1 shelter.")
    assert {"stake_driven_m", "stake_clips_per_vine"}.isdisjoint(values(project))
    again = with_stepped_trellis(project, ("B1",), "stake_length_m", 1)
    assert again.materials.trellis_of("B1").stake_length_m == pytest.approx(1.85)


def test_a_drip_wire_is_told_where_there_is_no_drip_line():
    project = with_typed_trellis(PROJECT, ("B1",), "drip_line", "no drip line")
    assert {"drip_wire_height_m", "drip_clips_per_vine"} <= set(values(project))
    project = with_typed_trellis(project, ("B1",), "drip_wire_height_m", "none")
    assert "drip_clips_per_vine" not in values(project)
    assert project.materials.trellis_of("B1").n_wires == Trellis().n_wires - 1


def test_an_end_shows_what_its_kind_uses():
    assert "brace_angle_deg" not in values(PROJECT)
    slanted = with_typed_trellis(PROJECT, ("B1",), "ends", "held by a slanted brace")
    assert {"brace_angle_deg", "tie_height_m"} <= set(values(slanted))
    inside = with_typed_trellis(PROJECT, ("B1",), "ends", "braced inside")
    assert "brace_span_m" in values(inside)
    told = {values(p)["ends"].text for p in (slanted, inside)}
    assert told == {"held by a slanted brace", "braced inside the row"}


def test_an_edit_of_all_blocks_keeps_what_else_they_have():
    project = with_typed_trellis(PROJECT, ("B2",), "line_post_length_m", "2.6")
    assert values(project, BOTH)["line_post_length_m"].differs
    project = with_typed_trellis(project, BOTH, "shelters_per_vine", "2")
    first, second = (project.materials.trellis_of(n) for n in BOTH)
    assert (first.shelters_per_vine, second.shelters_per_vine) == (2, 2)
    assert (first.line_post_length_m, second.line_post_length_m) == (2.5, 2.6)


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("foliage.2.height_m", "2.3", "Height of foliage wire 3: the line posts would end below"),
        ("end_post_driven_m", "1.9", "Depth of end posts: the end posts would end below"),
        ("stake_driven_m", "1.8", "Depth of training stakes: the stake would be all in the ground"),
        ("tie_height_m", "2.4", "Height of the tie: the tie would be above the end post's top"),
        ("fruiting_wire.diameter_mm", "25", "Thickness of the fruiting wire must lie between"),
        ("currency", "Crowns and shillings", "Currency: 12 letters are the most"),
        ("joins_allowed", "some", "Joins in a wire: 'some' is no number"),
        ("ends", "glued", "How row ends hold: choose one of"),
    ],
)
def test_what_cannot_stand_is_refused_in_one_sentence(key, text, said):
    with pytest.raises(InputProblem) as problem:
        typed(key, text)
    assert str(problem.value).startswith(said)
    assert str(problem.value).count(". ") == 0


def test_a_step_that_cannot_stand_changes_nothing():
    project = replace(PROJECT, materials=Materials((("B1", Trellis()),)))
    moved = with_stepped_trellis(project, ("B1",), "line_post_driven_m", 40)
    assert moved.materials.trellis_of("B1") == Trellis()


def test_conditions_and_currency_are_those_of_the_site():
    project = with_typed_trellis(PROJECT, ("B1",), "currency", "AUD")
    project = with_typed_trellis(project, ("B2",), "conditions.colder_k", "40")
    assert project.materials.currency == "AUD"
    assert project.materials.conditions.colder_k == 40
    assert project.materials.trellises == ()


def test_a_site_in_feet_begins_with_a_trellis_in_round_feet_still_told_as_the_usual(tmp_path):
    from layoutdesk.session.opening import open_any, with_round_rules
    from layoutdesk.session.stakeout import lay_project
    from layoutdesk.session.taking_off import TakeOffCounter, TakeOffRequest

    corners = "easting,northing\n1200000,600000\n1201200,600000\n1201200,601000\n1200000,601000\n"
    path = tmp_path / "bench.csv"
    path.write_text(corners, encoding="utf-8")
    project = with_round_rules(open_any(path, crs="EPSG:2927"))  # in US survey feet
    said = as_text(trellis_paragraph(project.materials, (project.blocks[0].name,), "usft"))
    assert "training stake 6.0 US ft long" in said
    assert "fruiting wire hangs at 3.0 US ft" in said
    plans = lay_project(project, check=False)
    found = TakeOffCounter().answer(TakeOffRequest(0, project, plans))
    assert "trellis-usual" in {f.code for f in found.findings}
