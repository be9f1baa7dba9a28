"""The document: its history is of identical values, and dirty means not the value saved."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk.core.model import Block, Project, RowRules, Site, SiteFrame
from layoutdesk.session.document import Document


def a_project(spacing_m: float = 2.4) -> Project:
    site = Site(SiteFrame(-34.5, 138.7), "EPSG:7844", "EPSG:7854")
    block = Block("B1", shapely.box(0, 0, 100, 50), RowRules(row_spacing_m=spacing_m))
    return Project("Test", site, (block,))


def spaced(spacing_m: float):
    """An edit that sets the row spacing."""

    def change(project: Project) -> Project:
        block = project.blocks[0]
        rules = replace(block.rules, row_spacing_m=spacing_m)
        return project.with_block(replace(block, rules=rules))

    return change


def spacing_of(document: Document) -> float:
    return document.project.blocks[0].rules.row_spacing_m


def test_undo_and_redo_give_back_the_very_values():
    document = Document(a_project())
    values = [document.project]
    for spacing in (2.5, 2.6, 2.7):
        document.edit("row spacing", spaced(spacing))
        values.append(document.project)
    for value in values[-2::-1]:
        document.undo()
        assert document.project is value
    assert document.undo_label is None
    document.undo()
    assert document.project is values[0]
    for value in values[1:]:
        document.redo()
        assert document.project is value
    assert document.redo_label is None
    document.redo()
    assert document.project is values[-1]


@given(
    st.lists(st.one_of(st.sampled_from(["undo", "redo", "settle"]), st.integers(1, 5)), max_size=25)
)
def test_undoing_everything_gives_back_the_first_project(steps):
    first = a_project()
    document = Document(first)
    for step in steps:
        if isinstance(step, str):
            getattr(document, step)()
        else:
            document.edit("row spacing", spaced(2 + step / 10), merge="scrub")
    while document.undo_label:
        document.undo()
    assert document.project == first


def test_labels_say_what_undo_and_redo_would_do():
    document = Document(a_project())
    document.edit("row spacing", spaced(2.5))
    document.edit("wider rows", spaced(3.0))
    assert (document.undo_label, document.redo_label) == ("wider rows", None)
    document.undo()
    assert (document.undo_label, document.redo_label) == ("row spacing", "wider rows")


def test_an_edit_that_changes_nothing_is_no_step_and_keeps_redo():
    document = Document(a_project())
    document.edit("row spacing", spaced(2.5))
    document.undo()
    heard, revision = [], document.revision
    document.listen(lambda: heard.append(1))
    assert document.edit("row spacing", spaced(2.4)) is False
    assert (heard, document.revision, document.redo_label) == ([], revision, "row spacing")


def test_a_new_edit_clears_redo():
    document = Document(a_project())
    document.edit("row spacing", spaced(2.5))
    document.undo()
    assert document.edit("row spacing", spaced(3.0)) is True
    assert document.redo_label is None
    document.redo()
    assert spacing_of(document) == 3.0


def test_an_edit_that_fails_leaves_everything_as_it_was():
    first = a_project()
    document = Document(first)
    document.edit("row spacing", spaced(2.5))
    document.undo()
    with pytest.raises(ValueError, match="row_spacing_m"):
        document.edit("row spacing", spaced(99.0))
    assert document.project is first
    assert (document.undo_label, document.redo_label) == (None, "row spacing")


def test_edits_of_one_gesture_are_one_step():
    first = a_project()
    document = Document(first)
    for spacing in (2.5, 2.6, 2.7):
        document.edit("row spacing", spaced(spacing), merge="row_spacing_m")
    document.undo()
    assert document.project is first
    document.redo()
    assert spacing_of(document) == 2.7


def test_after_settling_the_same_gesture_is_a_new_step():
    document = Document(a_project())
    document.edit("row spacing", spaced(2.5), merge="row_spacing_m")
    document.settle()
    document.edit("row spacing", spaced(2.6), merge="row_spacing_m")
    document.undo()
    assert spacing_of(document) == 2.5


@pytest.mark.parametrize("between", ["other gesture", "plain edit", "undo", "save"])
def test_what_comes_between_ends_a_gesture(between):
    document = Document(a_project())
    document.edit("row spacing", spaced(2.5), merge="row_spacing_m")
    if between == "other gesture":
        document.edit("row spacing", spaced(2.55), merge="another")
    elif between == "plain edit":
        document.edit("row spacing", spaced(2.55))
    elif between == "undo":
        document.edit("row spacing", spaced(2.55), merge="another")
        document.undo()
    else:
        document.mark_saved(Path("x.gpkg"), document.project)
    stood = spacing_of(document)
    document.edit("row spacing", spaced(2.6), merge="row_spacing_m")
    document.undo()
    assert spacing_of(document) == stood


def test_scrubbing_back_to_the_start_leaves_no_step():
    first = a_project()
    document = Document(first, saved=True)
    document.edit("row spacing", spaced(2.5), merge="row_spacing_m")
    document.edit("row spacing", spaced(2.4), merge="row_spacing_m")
    assert document.project == first
    assert (document.undo_label, document.redo_label) == (None, None)
    assert not document.is_dirty
    document.edit("row spacing", spaced(2.6), merge="row_spacing_m")
    document.undo()
    assert document.project == first


def test_scrubbing_back_takes_no_earlier_step_with_it():
    document = Document(a_project())
    document.edit("row spacing", spaced(3.0))
    document.edit("row spacing", spaced(2.5), merge="row_spacing_m")
    document.edit("row spacing", spaced(3.0), merge="row_spacing_m")
    document.undo()
    assert spacing_of(document) == 2.4


def test_two_plain_edits_there_and_back_are_two_steps():
    document = Document(a_project())
    document.edit("wider", spaced(3.0))
    document.edit("narrower", spaced(2.4))
    assert document.undo_label == "narrower"
    document.undo()
    assert spacing_of(document) == 3.0


def test_a_new_project_is_dirty_until_saved():
    document = Document(a_project())
    assert document.is_dirty
    document.mark_saved(Path("x.gpkg"), document.project)
    assert not document.is_dirty
    assert document.path == Path("x.gpkg")


def test_dirty_is_about_the_value_not_about_the_history():
    document = Document(a_project(), Path("x.gpkg"), saved=True)
    document.edit("row spacing", spaced(2.5))
    assert document.is_dirty
    document.undo()
    assert not document.is_dirty
    document.redo()
    document.mark_saved(document.path, document.project)
    assert not document.is_dirty
    document.undo()
    assert document.is_dirty
    document.edit("row spacing", spaced(2.5))
    assert not document.is_dirty


def test_a_save_that_ends_after_another_edit_leaves_the_document_dirty():
    document = Document(a_project(), saved=True)
    document.edit("row spacing", spaced(2.5))
    being_written = document.project
    document.edit("row spacing", spaced(2.6))
    document.mark_saved(Path("x.gpkg"), being_written)
    assert document.is_dirty
    document.undo()
    assert not document.is_dirty


def test_listeners_hear_every_change_and_see_it_done():
    document = Document(a_project())
    heard = []
    document.listen(
        lambda: heard.append(
            (document.revision - document.first_revision, spacing_of(document), document.is_dirty)
        )
    )
    document.edit("row spacing", spaced(2.5))
    document.undo()
    document.redo()
    document.mark_saved(Path("x.gpkg"), document.project)
    assert heard == [(1, 2.5, True), (2, 2.4, True), (3, 2.5, True), (3, 2.5, False)]


def test_every_change_of_the_project_has_a_revision_of_its_own():
    document = Document(a_project())
    seen = [document.revision]
    for step in (
        lambda: document.edit("a", spaced(2.5), merge="m"),
        lambda: document.edit("a", spaced(2.6), merge="m"),
        lambda: document.edit("a", spaced(2.4), merge="m"),
        lambda: document.edit("a", spaced(2.7)),
        document.undo,
        document.redo,
    ):
        step()
        seen.append(document.revision)
    assert seen == sorted(set(seen))


def test_what_is_withdrawn_can_be_done_again():
    document = Document(a_project(), saved=True)
    document.edit("wider", spaced(2.5))
    stood = document.project
    document.edit("row spacing", spaced(2.6), merge="row_spacing_m")
    document.edit("row spacing", spaced(2.7), merge="row_spacing_m")
    heard, revision = [], document.revision
    document.listen(lambda: heard.append(spacing_of(document)))
    assert document.withdraw() is True
    assert document.project is stood
    assert (document.undo_label, document.redo_label) == ("wider", "row spacing")
    assert (heard, document.revision) == ([2.5], revision + 1)
    document.redo()
    assert spacing_of(document) == 2.7


@pytest.mark.parametrize("settled_by", ["settle", "plain edit", "save", "undo and redo"])
def test_what_is_settled_is_not_withdrawn(settled_by):
    document = Document(a_project())
    document.edit("row spacing", spaced(2.6), merge="row_spacing_m")
    if settled_by == "settle":
        document.settle()
    elif settled_by == "plain edit":
        document.edit("typed", spaced(2.7))
    elif settled_by == "save":
        document.mark_saved(Path("x.gpkg"), document.project)
    else:
        document.undo()
        document.redo()
    stood = document.project
    assert document.withdraw() is False
    assert document.project is stood


def test_withdrawing_goes_back_to_the_value_last_settled_and_no_further():
    document = Document(a_project())
    document.edit("row spacing", spaced(2.5), merge="row_spacing_m")
    document.settle()
    document.edit("row spacing", spaced(2.6), merge="row_spacing_m")
    document.withdraw()
    document.withdraw()
    assert spacing_of(document) == 2.5
    document.undo()
    assert spacing_of(document) == 2.4


def test_only_the_gesture_that_is_named_is_withdrawn():
    document = Document(a_project())
    document.edit("row spacing", spaced(2.5), merge="scrub row spacing")
    assert document.withdraw("scrub bearing") is False
    assert spacing_of(document) == 2.5
    assert document.withdraw("scrub row spacing") is True


def test_withdrawing_nothing_keeps_project_and_redo():
    document = Document(a_project())
    document.edit("wider", spaced(2.5))
    document.edit("wider", spaced(2.6))
    document.undo()
    revision = document.revision
    document.withdraw()
    assert (spacing_of(document), document.redo_label, document.revision) == (
        2.5,
        "wider",
        revision,
    )


def test_after_withdrawing_the_same_gesture_begins_anew():
    document = Document(a_project())
    document.edit("row spacing", spaced(2.5), merge="row_spacing_m")
    document.withdraw()
    document.edit("row spacing", spaced(2.6), merge="row_spacing_m")
    assert document.redo_label is None
    document.undo()
    assert (spacing_of(document), document.undo_label) == (2.4, None)
