"""Lots and the tag ledger: every field as typed, what is refused and why, and what a ledger never loses."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import pytest

from layoutdesk.core.model import InputProblem, Lot, Plant, Planting, Tag
from layoutdesk.core.planting.needs import contradictions
from layoutdesk.session.assigning import vines_of_text, with_assignment
from layoutdesk.session.lot_edits import (
    missing_attachments,
    read_lots_csv,
    read_tags_csv,
    typed_lot,
    typed_tag,
    with_all_tags_recorded,
    with_lot,
    with_struck_tag,
    with_tag,
    without_lot,
)
from layoutdesk.session.lot_words import (
    LOT_NAMES,
    lot_paragraph,
    with_assignment_texts,
    with_lots_of_file,
    with_new_lot,
    with_stepped_lot,
    with_swap_texts,
    with_tags_of_file,
    with_typed_lot,
)
from layoutdesk.session.places import sample_sites
from layoutdesk.session.recording import with_planted
from layoutdesk.session.specification import Value
from tests.core.planting.planted_rows import PLANS
from tests.session.planted_project import LOTS, PROJECT, RED, TODAY, WHITE, lots_at

NOW = "2027-03-01T10:00:00+01:00"
APRIL = datetime.date(2026, 4, 2)


def lot_of(project, name="27-A") -> Lot:
    return project.planting.lot(name)


@pytest.mark.parametrize(
    ("key", "text", "field", "value"),
    [
        ("name", "27-Z", "name", "27-Z"),
        ("variety", " Rkatsiteli ", "plant", replace(WHITE, variety="Rkatsiteli")),
        ("clone", "", "plant", replace(WHITE, clone="")),
        ("rootstock", "SO4", "plant", replace(WHITE, rootstock="SO4")),
        ("nursery", "by the river", "nursery", "by the river"),
        ("grown", "Bare root", "grown", "bare root"),
        ("grafted", "2 April 2026", "grafted", APRIL),
        ("grafted", "2026-04-02", "grafted", APRIL),
        ("potted", "", "potted", None),
        ("came", "2027-03-01", "came", TODAY),
        ("tray", "50", "tray", 50),
        ("tray", "", "tray", 0),
        ("ordered", "1 200", "ordered", 1200),
        ("ordered", "1\u202f200", "ordered", 1200),
        ("delivered", "580", "delivered", 580),
        ("rejected", "12", "rejected", 12),
        ("references", "passport 7", "references", "passport 7"),
        ("attachments", "a.jpg; scans/b.pdf ;", "attachments", ("a.jpg", "scans/b.pdf")),
    ],
)
def test_everything_of_a_lot_can_be_typed(key, text, field, value):
    project = typed_lot(PROJECT, "27-a", key, text, TODAY)
    assert getattr(project.planting.lots[0], field) == value
    assert project.planting.lots[1:] == LOTS[1:]


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("name", "27-b", "There is a lot 27-B already"),
        ("name", "", "Name of the lot"),
        ("name", "a; b", "Name of the lot"),
        ("name", "n" * 25, "Name of the lot"),
        ("variety", "", "needs a variety"),
        ("grown", "in water", "choose one of potted, bare root"),
        ("came", "2027-03-02", "is still to come"),
        ("came", "soon", "is no day"),
        ("rejected", "601", "601 rejected of 600"),
        ("ordered", "-3", "Plants ordered"),
        ("ordered", "many", "Plants ordered"),
        ("ordered", "12.5", "Plants ordered"),
    ],
)
def test_what_cannot_be_of_a_lot_is_refused_in_a_sentence(key, text, said):
    with pytest.raises(InputProblem, match=re.escape(said)):
        typed_lot(PROJECT, "27-A", key, text, TODAY)


def test_grafting_comes_before_potting_and_delivery():
    project = typed_lot(PROJECT, "27-A", "grafted", "2026-04-02", TODAY)
    for key in ("potted", "came"):
        assert typed_lot(project, "27-A", key, "2026-04-03", TODAY)
        with pytest.raises(InputProblem, match="is after the"):
            typed_lot(project, "27-A", key, "2026-04-01", TODAY)


def test_a_lot_that_is_renamed_keeps_its_assignments_and_tags():
    project = with_assignment(PROJECT, PROJECT_PARTS, WHITE, "27-A")
    project = with_tag(project, Tag("27-a", "x"))
    before = lots_at(project)
    project = typed_lot(project, "27-A", "name", "28-A", TODAY)
    assert [n.replace("28-A", "27-A") for n in lots_at(project)] == before
    assert project.planting.tags[0].lot == "28-A"


def test_a_plant_that_is_corrected_is_corrected_where_the_lot_is_assigned():
    project = with_assignment(PROJECT, PROJECT_PARTS, WHITE, "27-A")
    project = typed_lot(project, "27-A", "clone", "F 9", TODAY)
    assert project.planting.assignments[0].plant == replace(WHITE, clone="F 9")


def test_what_is_on_record_keeps_its_name_and_stays():
    project = with_assignment(PROJECT, PROJECT_PARTS, WHITE, "27-A")
    vines = vines_of_text(project, PLANS, "B1-R002A-V001..V002")
    project = with_planted(project, PLANS, vines, TODAY, by="R.", when=NOW)
    # Nothing is assigned of it any more, and it stays all the same.
    project = replace(project, planting=replace(project.planting, assignments=()))
    with pytest.raises(InputProblem, match="is on record under its name"):
        typed_lot(project, "27-A", "name", "28-A", TODAY)
    with pytest.raises(InputProblem, match="are on record: it stays"):
        without_lot(project, "27-A")
    assert len(without_lot(project, "27-B").planting.lots) == 2


def test_a_lot_that_is_assigned_or_in_the_ledger_stays():
    with pytest.raises(InputProblem, match="is assigned to vines"):
        without_lot(with_assignment(PROJECT, PROJECT_PARTS, WHITE, "27-A"), "27-A")
    with pytest.raises(InputProblem, match="are in the ledger"):
        without_lot(with_tag(PROJECT, Tag("27-A", "x")), "27-A")
    with pytest.raises(InputProblem, match="There is no lot '29'; there are 27-A, 27-B and 27-C"):
        without_lot(PROJECT, "29")
    assert [k.name for k in without_lot(PROJECT, "27-a").planting.lots] == ["27-B", "27-C"]


def test_a_tag_is_kept_as_read():
    texts = {"lot": "27-a", "text": "F5/5BB  2/26", "variety": "Furmint", "grafted": "2 apr 2026", "plants": "30", "by": "R."}  # fmt: skip
    tag = typed_tag(PROJECT, texts, TODAY)
    assert tag == Tag("27-A", "F5/5BB 2/26", "Furmint", grafted=APRIL, plants=30, recorded=TODAY, by="R.")  # fmt: skip
    with pytest.raises(InputProblem, match="copy what stands on it"):
        typed_tag(PROJECT, {"lot": "27-A", "plants": "3"}, TODAY)
    with pytest.raises(InputProblem, match="There is no lot"):
        typed_tag(PROJECT, {"text": "x"}, TODAY)
    alone = replace(PROJECT, planting=Planting(lots=LOTS[:1]))
    assert typed_tag(alone, {"text": "x"}, TODAY).lot == "27-A"


def test_a_tag_is_struck_with_a_reason_and_stays_in_the_ledger():
    project = with_tag(with_tag(PROJECT, Tag("27-A", "x")), Tag("27-A", "y"))
    with pytest.raises(InputProblem, match="with a reason"):
        with_struck_tag(project, 0, " ")
    tags = with_struck_tag(project, 0, "of last year").planting.tags
    assert [(t.text, t.struck) for t in tags] == [("x", "of last year"), ("y", "")]


def test_tags_are_said_to_be_all_recorded_once_plants_came():
    with pytest.raises(InputProblem, match="Nothing of lot 27-C has come yet"):
        with_all_tags_recorded(PROJECT, "27-C")
    project = with_all_tags_recorded(PROJECT, "27-B")
    assert lot_of(project, "27-B").tags_recorded
    assert not lot_of(with_all_tags_recorded(project, "27-B", False), "27-B").tags_recorded


def test_photos_that_are_gone_are_told_and_not_refused(tmp_path):
    (tmp_path / "there.jpg").write_bytes(b"x")
    project = typed_lot(PROJECT, "27-A", "attachments", "there.jpg; gone.jpg", TODAY)
    (told,) = missing_attachments(project, tmp_path)
    assert "27-A" in told
    assert "gone.jpg" in told


def test_a_paragraph_shows_everything_and_what_it_shows_can_be_typed_back():
    full = Lot(
        "27-A", WHITE, "by the river", "bare root", APRIL, None, TODAY, 25, 6100, 5900, 4, "passport 7", ("a.jpg",)
    )  # fmt: skip
    project = with_lot(PROJECT, full)
    paragraph = lot_paragraph(project, "27-a")
    values = [piece for sentence in paragraph for piece in sentence if isinstance(piece, Value)]
    assert {v.rule for v in values} == set(LOT_NAMES)
    for value in values:
        typed = with_typed_lot(project, "27-A", value.rule, value.text, TODAY)
        assert typed.planting == project.planting, value.rule
    assert lot_paragraph(project, "99") == ()


def test_figures_and_choices_of_a_lot_are_stepped_and_texts_are_not():
    assert lot_of(with_stepped_lot(PROJECT, "27-A", "lot.ordered", 3)).ordered > 600
    assert lot_of(with_stepped_lot(PROJECT, "27-A", "lot.grown", 1)).grown == "bare root"
    assert with_stepped_lot(PROJECT, "27-A", "lot.nursery", 1) is PROJECT
    assert with_stepped_lot(PROJECT, "27-A", "lot.clone", 1) is PROJECT


def test_a_new_lot_is_typed_once():
    texts = {"name": " 28-D ", "variety": "Saperavi", "rootstock": "SO4", "ordered": "1 500"}
    project = with_new_lot(PROJECT, texts, TODAY)
    assert project.planting.lots[-1] == Lot("28-D", RED, ordered=1500)
    for wrong, said in (
        (texts | {"name": "27-a"}, "There is a lot 27-a already"),
        (texts | {"variety": " "}, "needs a name and a variety"),
        (texts | {"name": "a: b"}, "without ; and :"),
    ):
        with pytest.raises(InputProblem, match=re.escape(said)):
            with_new_lot(PROJECT, wrong, TODAY)


def test_cards_assign_lots_or_plants_and_swap():
    project = with_assignment_texts(PROJECT, {"what": "27-b", "parts": "B1 row 1", "use": ""})
    assert project.planting.assignments[0].lot == "27-B"
    project = with_assignment_texts(
        project, {"what": "Aligoté; ; 41B", "parts": "Old Mill", "use": "Trial"}
    )
    assert project.planting.assignments[1].plant == Plant("Aligoté", "", "41B")
    assert project.planting.assignments[1].use == "trial"
    swap = {"parts": "B1-R001A-V002", "lot": "27-A", "reason": "broken"}
    assert lots_at(with_swap_texts(project, PLANS, swap, TODAY))[1] == "27-A"
    with pytest.raises(InputProblem, match="type a lot or a plant"):
        with_assignment_texts(PROJECT, {"what": " ", "parts": "B1", "use": ""})


def test_a_table_changes_what_it_says_of_known_lots_and_adds_others(tmp_path):
    path = tmp_path / "lots.csv"
    path.write_text("name;variety;came;delivered\n27-a;Furmint;1.3.2027;610\n28-E;Saperavi;;\n")
    project, told = with_lots_of_file(PROJECT, path, TODAY)
    assert told == ()
    assert lot_of(project) == replace(LOTS[0], came=TODAY, delivered=610)
    assert project.planting.lots[-1] == Lot("28-E", Plant("Saperavi"))


def test_lots_of_a_table_are_held_to_what_can_be_typed(tmp_path):
    path = tmp_path / "lots.csv"
    path.write_text(
        "name,variety,grafted,came\na;b,Furmint,,\nlate,Furmint,,2027-03-02\n"
        "old,Furmint,2027-02-01,2027-01-01\nfit,Furmint,,\n"
    )
    found = read_lots_csv(path, PROJECT, TODAY)
    assert [lot.name for lot in found.lots] == ["fit"]
    assert len(found.problems) == 3
    assert "is still to come" in found.problems[1]


def test_the_same_table_of_tags_is_taken_once(tmp_path):
    path = tmp_path / "tags.csv"
    path.write_text("lot,text,plants\n27-A,F5,3\n27-A,F5,3\n27-B,S,1\n27-Q,S,1\n")
    project, told = with_tags_of_file(PROJECT, path, TODAY)
    assert [(t.lot, t.plants, t.recorded) for t in project.planting.tags] == [
        ("27-A", 3, TODAY), ("27-A", 3, TODAY), ("27-B", 1, TODAY),
    ]  # fmt: skip
    assert len(told) == 1
    assert "no lot '27-Q'" in told[0]
    found = read_tags_csv(path, project, TODAY)
    assert found.tags == ()
    assert "3 lines say what is in the ledger already" in found.problems[-1]


def test_the_sample_lots_fit_the_field_and_one_of_them_is_mixed_as_its_page_says():
    folder = sample_sites()["field_with_pond"]
    bare = replace(PROJECT, planting=None)
    project, told = with_lots_of_file(bare, folder / "lots.csv", TODAY)
    project, more = with_tags_of_file(project, folder / "tags.csv", TODAY)
    assert told + more == ()
    lots, tags = project.planting.lots, project.planting.tags
    assert sum(lot.usable or lot.ordered for lot in lots) >= FIELD_VINES
    mixed = {t.lot for t in tags for lot in lots if lot.name == t.lot and contradictions(t, lot)}
    assert mixed == {"25-C"}


FIELD_VINES = 26_248
"""Vines of that site by its own rules; the start of the read-me lays 30 fewer."""
PROJECT_PARTS = with_assignment_texts(
    PROJECT, {"what": "27-A", "parts": "B1 rows 2-3", "use": ""}
).planting.assignments[0].parts  # fmt: skip
