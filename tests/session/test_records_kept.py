"""What was recorded at vines: undone until it is saved, kept from then on, and found under new names."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from layoutdesk import lay_rows
from layoutdesk.core.model import Block, Lot, Plant, Project, RowRules, Site, SiteFrame
from layoutdesk.core.planting.on_record import place_on_record
from layoutdesk.core.planting.standing import matching, recorded
from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.document import Document
from layoutdesk.session.ground_edits import renamed, split, without_shape
from layoutdesk.session.journal import Journal
from layoutdesk.session.reshaping import ShapeId

A = Lot("A7", Plant("Saperavi"))
WHO = {"by": "N. N.", "when": "2027-09-01T10:00:00+10:00", "source": "window", "revision": ""}
FILE = Path("x.gpkg")


@pytest.fixture
def project() -> Project:
    site = Site(SiteFrame(-34.5, 138.7), "EPSG:7844", "EPSG:7854")
    return Project("Test", site, (Block("B1", shapely.box(0, 0, 60, 90), RowRules()),))


def laid(project: Project):
    return [lay_rows(block, None, ()) for block in project.blocks]


def planting(first: int, last: int):
    """An edit that records vines as planted."""

    def change(project: Project) -> Project:
        vines = np.arange(first, last)
        plans = laid(project)
        register = recorded(project.register, plans, vines, "planted", None, lots=A, **WHO)
        return replace(project, register=register)

    return change


def narrower(project: Project) -> Project:
    block = project.blocks[0]
    return project.with_block(replace(block, rules=replace(block.rules, min_row_m=11.0)))


def entries(document: Document) -> int:
    register = document.project.register
    return 0 if register is None else len(register.batches)


def test_a_record_can_be_undone_and_done_again_until_it_is_saved(project):
    document = Document(project)
    document.edit("Planted", planting(0, 5))
    there = document.project
    document.undo()
    assert document.project is project
    document.redo()
    assert document.project is there


def test_a_saved_record_stays_when_everything_is_undone(project):
    document = Document(project)
    document.edit("Planted", planting(0, 5))
    document.edit("Shortest row", narrower)
    document.edit("Planted", planting(5, 9))
    document.mark_saved(FILE, document.project)
    saved = document.project.register
    assert document.undo_label == "Shortest row"
    while document.undo_label:
        document.undo()
    assert document.project == replace(project, register=saved)
    assert document.is_dirty  # the rule was saved, and is not what it was then
    document.redo()
    assert not document.is_dirty
    assert document.redo_label is None


def test_what_was_undone_before_the_save_can_still_be_done_again(project):
    document = Document(project)
    document.edit("Planted", planting(0, 5))
    document.edit("Planted", planting(5, 9))
    document.undo()
    document.mark_saved(FILE, document.project)
    assert (document.undo_label, document.redo_label) == (None, "Planted")
    document.redo()
    assert entries(document) == 2
    document.undo()
    assert entries(document) == 1


def test_undoing_while_a_save_runs_brings_the_saved_record_back(project):
    document = Document(project)
    document.edit("Planted", planting(0, 5))
    being_saved, revision = document.project, document.revision
    document.undo()
    document.mark_saved(FILE, being_saved)
    assert document.project.register == being_saved.register
    assert not document.is_dirty
    assert document.revision > revision
    assert (document.undo_label, document.redo_label) == (None, None)


def test_recording_while_a_save_runs_loses_nothing(project):
    document = Document(project)
    document.edit("Planted", planting(0, 5))
    being_saved = document.project
    document.edit("Planted", planting(5, 9))
    document.mark_saved(FILE, being_saved)
    assert (entries(document), document.is_dirty) == (2, True)
    document.undo()
    assert (entries(document), document.is_dirty) == (1, False)
    assert document.undo_label is None


def test_saving_after_undoing_a_saved_record_is_not_refused(project, tmp_path):
    document = Document(project)
    document.edit("Planted", planting(0, 5))
    for _ in range(2):
        save_project(tmp_path / "x.gpkg", document.project)
        document.mark_saved(tmp_path / "x.gpkg", document.project)
        document.undo()
    assert len(open_project(tmp_path / "x.gpkg").register.batches) == 1


def test_the_journal_follows_a_record_that_is_undone(project, tmp_path):
    journal = Journal(tmp_path, delay_s=0.0, threaded=False)
    document = Document(project, FILE, saved=True)
    journal.keep(document)
    document.edit("Planted", planting(0, 5))
    document.edit("Shortest row", narrower)
    document.undo()
    document.undo()
    document.edit("Shortest row", narrower)
    assert journal.problem is None
    (kept,) = tmp_path.glob("*.gpkg")
    assert open_project(kept) == document.project
    journal.close()


def test_a_block_renamed_is_found_under_both_names(project):
    project = renamed(planting(0, 50)(project), "B1", "North")
    assert project.register.batches[-1].renamed == (("B1", "North"),)
    assert place_on_record(project.register, "North-R001A-V003") == 2
    assert place_on_record(project.register, "B1-R001A-V003") == 2
    assert (matching(project.register, laid(project)).place[:50] == np.arange(50)).all()


def test_a_rename_that_was_saved_and_undone_does_not_lose_the_vines(project):
    document = Document(project)
    document.edit("Planted", planting(0, 50))
    document.edit("Rename", lambda p: renamed(p, "B1", "North"))
    document.mark_saved(FILE, document.project)
    document.undo()
    assert document.project.blocks[0].name == "B1"
    assert (matching(document.project.register, laid(document.project)).place[:50] >= 0).all()
    document.edit("Rename", lambda p: renamed(p, "B1", "South"))
    assert place_on_record(document.project.register, "South-R001A-V003") == 2


def test_renaming_a_block_with_nothing_on_record_is_no_entry(project):
    other = Block("B2", shapely.box(100, 0, 160, 90), RowRules())
    project = planting(0, 50)(replace(project, blocks=(*project.blocks, other)))
    assert renamed(project, "B2", "South").register == project.register


def test_splitting_and_removing_blocks_leave_the_register_as_it_is(project):
    project = planting(0, 50)(project)
    parts = split(project, "B1", [(30.0, -10.0), (30.0, 100.0)])
    assert parts.register is project.register
    gone = without_shape(parts, ShapeId("block", "B1"))
    assert gone.register is project.register
    assert place_on_record(gone.register, "B1-R001A-V003") == 2
