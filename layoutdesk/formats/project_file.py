"""The project file: one GeoPackage that holds the decisions and shows the layout to any GIS."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

from ..core.layout.numbering import (
    INDEX_DIGITS,
    MARK_LETTER,
    mark_code,
    segment_code,
    segment_letter,
)
from ..core.model import InputProblem, Project, RowPlan
from ..core.model.rowplan import Special
from . import geopackage
from .as_planted_layer import add_as_planted
from .atomic import replacing
from .crs import frame_crs, survey_grid
from .document import document_of, project_from
from .register_tables import hold_records, read_register, write_register

_DOCUMENT = "layoutdesk_document"


def save_project(
    path, project: Project, plans: tuple[RowPlan, ...] = (), *, draft: bool = False
) -> None:
    """Write the project so that a crash at any instant leaves the old file or the new one whole.

    What is on record in the file at `path` stays: a project whose register does not begin with it is
    not written there.

    Parameters
    ----------
    path : path
    project : Project
    plans : tuple of RowPlan
        Rows, posts and vines to show in a GIS; they are not read back, the rules are.
    draft : bool
        A file that only this program reads, of work that is not saved yet: it has no layer of what was
        planted, and may go back behind what was on record in it.

    Raises
    ------
    InputProblem
        Where the place cannot be written, or records in the file there would be lost.
    """
    path = Path(path)
    if not path.parent.is_dir():
        raise InputProblem(f"{path.parent} is no folder: choose another place for the project.")
    with replacing(path) as stage:
        write_project(stage, project, plans, draft=draft)
        if not draft:
            hold_records(path, project)
        if open_project(stage) != project:
            raise InputProblem(f"{path} did not read back as it was written: save to another disk.")


def write_project(
    path, project: Project, plans: tuple[RowPlan, ...] = (), *, draft: bool = False
) -> None:
    """Write a project to a new file, with none of `save_project`'s care."""
    try:
        _write_tables(path, project, plans, draft)
    except sqlite3.OperationalError as problem:  # no room, no permission
        raise OSError(str(problem)) from problem


def _write_tables(path, project: Project, plans: tuple[RowPlan, ...], draft: bool) -> None:
    # The form the standard asks for; programs older than 2019 read no other.
    survey = survey_grid(project.site.frame, project.site.survey_crs)
    about = f"in the site frame, metres on the ground; staked out in {survey.statement}"
    db = geopackage.create(path, frame_crs(project.site.frame).to_wkt("WKT1_GDAL"))
    try:
        db.execute(f"CREATE TABLE {_DOCUMENT} (id INTEGER PRIMARY KEY, json TEXT NOT NULL)")
        text = json.dumps(document_of(project), ensure_ascii=False)
        db.execute(f"INSERT INTO {_DOCUMENT} VALUES (1, ?)", (text,))
        geopackage.add_shapes(
            db,
            "outlines",
            "POLYGON",
            f"Block outlines, {about}",
            [b.outline for b in project.blocks],
            {"block": "TEXT"},
            [(b.name,) for b in project.blocks],
        )
        geopackage.add_shapes(
            db,
            "exclusions",
            "GEOMETRY",
            f"Ground that no row enters, {about}",
            [e.shape for e in project.exclusions],
            {"name": "TEXT", "kind": "TEXT", "clearance_m": "DOUBLE"},
            [(e.name, e.kind, e.clearance_m) for e in project.exclusions],
        )
        _add_rows(db, plans, about)
        for which, table in enumerate(("end_posts", "line_posts", "anchors", "vines")):
            # Runs are counted through; single vines are put right behind them.
            regular = [replace(plan, special=_posts_alone(plan.special)) for plan in plans]
            runs = [_runs(plan, plan.marks()[which]) for plan in regular]
            digits = INDEX_DIGITS[table.removesuffix("s")]
            what = f"{table.replace('_', ' ').capitalize()}, {about}"
            geopackage.add_runs(db, table, what, digits, runs)
        for plan in plans:
            _put_vines_right(db, plan)
        if project.register is not None:
            write_register(db, project.register)
            if not draft:
                add_as_planted(db, project.register, about)
        db.execute("COMMIT")
    finally:
        db.close()


def _posts_alone(special: Special) -> Special:
    return Special(
        post_segment=special.post_segment,
        post_index=special.post_index,
        post_along_m=special.post_along_m,
    )


def _put_vines_right(db, plan: RowPlan) -> None:
    """Take out the vines that are left out and put in those that are added."""
    s, special, block = plan.segments, plan.special, plan.block.name

    def code(segment: int, index: int) -> str:
        return mark_code(block, int(s.number[segment]), int(s.letter[segment]), "vine", index)

    gaps = zip(special.gap_segment.tolist(), special.gap_index.tolist(), strict=True)
    db.executemany("DELETE FROM vines WHERE code = ?", [(code(*gap),) for gap in gaps])
    segments = special.added_segment
    if not len(segments):
        return
    blobs = geopackage.point_table(plan.places(segments, special.added_along_m))
    before = np.searchsorted(segments, segments)  # added ones of the same segment that come first
    index = s.n_vines[segments] + np.arange(len(segments)) - before + 1
    db.executemany(
        "INSERT INTO vines VALUES (NULL,?,?,?,?,?,?)",
        [
            (
                blob.tobytes(),
                block,
                int(s.number[i]),
                segment_letter(int(s.letter[i])),
                k,
                code(i, k),
            )
            for blob, i, k in zip(blobs, segments.tolist(), index.tolist(), strict=True)
        ],
    )


def _add_rows(db, plans, about: str) -> None:
    shapes, rows = [], []
    for plan in plans:
        s = plan.segments
        shapes += list(plan.shapes)
        for number, letter, length, vines in zip(
            s.number.tolist(),
            s.letter.tolist(),
            s.length_m.tolist(),
            plan.vines_of_segment.tolist(),
            strict=True,
        ):
            code = segment_code(plan.block.name, number, letter)
            rows.append((plan.block.name, number, segment_letter(letter), length, vines, code))
    columns = {"block": "TEXT", "row": "INTEGER", "segment": "TEXT"}
    columns |= {"length_m": "DOUBLE", "vines": "INTEGER", "code": "TEXT"}
    geopackage.add_shapes(db, "rows", "LINESTRING", f"Row segments, {about}", shapes, columns, rows)


def _runs(plan: RowPlan, marks):
    """Marks of one kind as runs, one a segment: places, counts and each run's labels."""
    s, block = plan.segments, plan.block.name
    labels = [
        (
            block,
            number,
            segment_letter(letter),
            f"{segment_code(block, number, letter)}-{MARK_LETTER[marks.kind]}",
        )
        for number, letter in zip(s.number.tolist(), s.letter.tolist(), strict=True)
    ]
    return marks.xy_m, marks.count, labels


def open_project(path) -> Project:
    """The project in a file.

    Raises
    ------
    InputProblem
        Where there is none, or a newer program wrote it.
    """
    path = Path(path)
    if not path.is_file():
        raise InputProblem(f"{path.name} does not exist: check the name of the project file.")
    try:
        uri = path.resolve().as_uri() + "?mode=ro"
        with contextlib.closing(sqlite3.connect(uri, uri=True)) as db:
            text = db.execute(f"SELECT json FROM {_DOCUMENT} WHERE id = 1").fetchone()[0]
            outlines = geopackage.read_shapes(db, "outlines")
            exclusions = geopackage.read_shapes(db, "exclusions")
            register = read_register(db)
        return replace(project_from(json.loads(text), outlines, exclusions), register=register)
    except (
        sqlite3.Error,
        TypeError,
        KeyError,
        ValueError,
        IndexError,
        shapely.errors.ShapelyError,
    ):
        raise InputProblem(
            f"{path.name} is no whole Layout Desk project: open another copy of it."
        ) from None


def is_project(path) -> bool:
    """Whether a file is a Layout Desk project: a SQLite file with the document table.

    False for anything else: other files, folders, a missing path. The file is opened read-only
    and nothing is written beside it.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            if stream.read(16) != b"SQLite format 3\x00":
                return False
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
        try:
            found = connection.execute(
                "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (_DOCUMENT,)
            ).fetchone()
        finally:
            connection.close()
    except (OSError, sqlite3.Error, ValueError):
        return False
    return found is not None


def revision_of(project: Project) -> str:
    """Short mark of a project's state: equal projects have equal marks."""
    said = document_of(project)
    if project.register is not None:
        said["register"] = project.register.mark
    return _mark(project, said)


_PLANNED = ("site", "blocks", "exclusions")
"""Parts of the document that rows and vines follow from."""


def plan_mark(project: Project) -> str:
    """Short mark of outlines, rules and exclusions: equal plans have equal marks, whatever is recorded."""
    document = document_of(project)
    # A letter in front: no spreadsheet takes it for a number.
    return "p" + _mark(project, {name: document[name] for name in _PLANNED})


def _mark(project: Project, said: dict) -> str:
    import hashlib

    digest = hashlib.sha256(json.dumps(said, sort_keys=True).encode())
    shapes = [b.outline for b in project.blocks] + [e.shape for e in project.exclusions]
    for wkb in shapely.to_wkb(np.array(shapes, dtype=object)):
        digest.update(wkb)
    return digest.hexdigest()[:10]
