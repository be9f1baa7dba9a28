"""The project file: opens as it was saved, opens in a GIS, and refuses what is no whole project."""

from __future__ import annotations

import datetime
import json
import os
import shutil
import sqlite3
import struct
from dataclasses import replace
from functools import cache

import geopandas
import numpy as np
import pyogrio
import pytest
import shapely
from pyproj import CRS, Transformer

from layoutdesk.core.model import (
    Alley,
    Block,
    EdgeWidth,
    Exclusion,
    Finding,
    InputProblem,
    Project,
    RowRules,
    Site,
    SiteFrame,
)
from layoutdesk.formats import atomic, geopackage, project_file
from layoutdesk.formats.crs import frame_crs, frame_to_survey
from layoutdesk.formats.document import VERSION, document_of
from layoutdesk.formats.project_file import is_project, open_project, revision_of, save_project
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.stakeout import lay_project

SAMPLES = {s.name: s for s in samples()}
LAYERS = ["outlines", "exclusions", "rows", "end_posts", "line_posts", "anchors", "vines"]
each_sample = pytest.mark.parametrize("name", SAMPLES)


@cache
def laid(name):
    project = open_sample(SAMPLES[name])
    return project, lay_project(project, check=False)


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    """Path of a sample's project file, written once."""
    folder = tmp_path_factory.mktemp("projects")

    @cache
    def path_of(name):
        path = folder / f"{name}.gpkg"
        save_project(path, *laid(name))
        return path

    return path_of


def bits(shape) -> bytes:
    return shapely.get_coordinates(shape, include_z=shape.has_z).tobytes()


def rich_project() -> Project:
    """One of everything a project can hold, with awkward values."""
    hole = [(10.1, 10.3), (20.7, 10.9), (20.2, 20.4)]
    outline = shapely.Polygon(
        [(0, 0), (60.1, 1e-300), (59.999999999999986, 150.3), (-0.0, 149.7)], [hole]
    )
    rules = RowRules(
        bearing_deg=1 / 3,
        row_spacing_m=8 * 0.3048,
        first_row_m="best",
        line_post_every=0,
        leftover="across",
        lattice="staggered",
        number_from="right",
        first_number=301,
        alleys=(Alley(30.0, 75.0, 6.0), Alley(0.1, 0.2, 4.0, 17.0)),
        alley_every_m=50.0,
    )
    frame = SiteFrame(-34.47043, 148.62046, 560.25, 6378137.0, 298.257222101, "EPSG:7844")
    findings = (
        Finding(
            "outline-repaired", "Ångström “quoted” \\ 'single' \t ☃", "corner 3", (1 / 3, -0.0)
        ),
        Finding("columns-assumed", "none", severity="note"),
        Finding("rows-short", wording="Shorter than {}, {} apart.", lengths_m=(15.0, 1 / 3)),
    )
    return Project(
        "Höhe & Söhne's “Block”",
        Site(frame, "EPSG:7855", frame_crs(frame).to_wkt(), "a file.zip", findings),
        (
            Block("B1", outline, rules, (EdgeWidth(0, 1, 12.5), EdgeWidth(1, 2, 0.0))),
            Block("Zweiter Ölberg №2", shapely.box(100, 0, 200, 90)),
        ),
        (
            Exclusion(shapely.Point(5, 5), 2.5, "Pole", "overhead line"),
            Exclusion(shapely.LineString([(0, 0), (5, 1 / 3), (9, 9)]), 0.0, "", "track"),
            Exclusion(
                shapely.MultiPolygon([shapely.box(0, 0, 1, 1), shapely.box(3, 3, 4, 4)]), 1000.0
            ),
            Exclusion(
                shapely.GeometryCollection([shapely.Point(1, 2), shapely.box(0, 0, 1, 1)]), 1.0
            ),
            Exclusion(shapely.MultiPoint([(1, 2), (3, 4)]), 1.0),
        ),
        datetime.date(2026, 2, 28),
    )


# ---------------------------------------------------------------------------------- save and open


@each_sample
def test_a_saved_sample_opens_as_the_identical_project(saved, name):
    project, _ = laid(name)
    opened = open_project(saved(name))
    assert opened == project
    for a, b in zip(
        opened.blocks + opened.exclusions, project.blocks + project.exclusions, strict=True
    ):
        shape = "outline" if isinstance(a, Block) else "shape"
        assert bits(getattr(a, shape)) == bits(getattr(b, shape))
    assert revision_of(opened) == revision_of(project)


def test_everything_a_project_can_hold_comes_back(tmp_path):
    project = rich_project()
    save_project(tmp_path / "x.gpkg", project)
    opened = open_project(tmp_path / "x.gpkg")
    assert opened == project
    assert bits(opened.blocks[0].outline) == bits(project.blocks[0].outline)
    assert opened.blocks[0].outline.exterior.coords[3] == (-0.0, 149.7)
    assert [type(v) for v in vars(opened.blocks[0].rules).values()] == [
        type(v) for v in vars(project.blocks[0].rules).values()
    ]
    assert [e.shape.geom_type for e in opened.exclusions] == [
        e.shape.geom_type for e in project.exclusions
    ]


def test_a_project_without_exclusions_rows_or_day_comes_back(tmp_path):
    project = replace(rich_project(), exclusions=(), day=None, blocks=())
    save_project(tmp_path / "x.gpkg", project)
    assert open_project(tmp_path / "x.gpkg") == project


def test_saving_over_a_project_and_moving_it_changes_nothing(saved, tmp_path):
    path = tmp_path / "a #1 50%?.gpkg"
    save_project(path, rich_project())
    project, plans = laid("curved_terrace")
    save_project(path, project, plans)
    (tmp_path / "ü").mkdir()
    moved = path.rename(tmp_path / "ü" / "b.gpkg")
    assert open_project(moved) == project
    assert is_project(moved)


def test_a_project_laid_from_its_file_has_the_same_vines(saved):
    _project, plans = laid("field_with_pond")
    for a, b in zip(
        lay_project(open_project(saved("field_with_pond")), check=False), plans, strict=True
    ):
        assert np.array_equal(a.vines.xy_m, b.vines.xy_m)


def test_opening_writes_nothing(saved, tmp_path):
    path = tmp_path / "x.gpkg"
    shutil.copy(saved("curved_terrace"), path)
    path.chmod(0o444)
    before = path.read_bytes()
    open_project(path)
    assert [p.name for p in tmp_path.iterdir()] == ["x.gpkg"]
    assert path.read_bytes() == before


def test_revisions_tell_projects_apart():
    project = rich_project()
    moved = replace(
        project.blocks[0], outline=shapely.transform(project.blocks[0].outline, lambda q: q + 1e-12)
    )
    others = [
        project,
        replace(project, name="other"),
        project.with_block(moved),
        replace(project, exclusions=project.exclusions[1:]),
        project.with_block(replace(project.blocks[0], rules=RowRules())),
    ]
    assert len({revision_of(p) for p in others}) == len(others)


# ------------------------------------------------------------------------------------ in a GIS


@each_sample
def test_a_gis_finds_all_layers_with_their_counts(saved, name):
    project, plans = laid(name)
    path = saved(name)
    assert [
        layer for layer, _ in pyogrio.list_layers(path) if layer != "layoutdesk_document"
    ] == LAYERS
    counts = {layer: pyogrio.read_info(path, layer=layer)["features"] for layer in LAYERS}
    assert counts == {
        "outlines": len(project.blocks),
        "exclusions": len(project.exclusions),
        "rows": sum(p.n_segments for p in plans),
        **{k: sum(len(getattr(p, k)) for p in plans) for k in LAYERS[3:]},
    }


@each_sample
def test_a_gis_puts_vines_where_the_survey_grid_has_them(saved, name):
    project, plans = laid(name)
    vines = geopandas.read_file(saved(name), layer="vines")
    survey = CRS.from_user_input(project.site.survey_crs)
    found = vines.to_crs(survey).get_coordinates().to_numpy()
    wanted = frame_to_survey(project.site.frame, project.site.survey_crs)(
        np.concatenate([p.vines.xy_m for p in plans])
    )
    unit_m = survey.axis_info[0].unit_conversion_factor
    assert np.abs(found - wanted).max() * unit_m < 1e-6


@each_sample
def test_rows_and_posts_carry_their_codes(saved, name):
    _, plans = laid(name)
    rows = geopandas.read_file(saved(name), layer="rows")
    assert rows["code"].is_unique
    assert np.allclose(rows.length, rows["length_m"], rtol=0, atol=1e-9)
    assert rows["vines"].sum() == sum(p.n_vines for p in plans)
    vines = geopandas.read_file(saved(name), layer="vines")
    assert vines["code"].is_unique
    last = vines.iloc[-1]
    assert last["code"] == f"{last['block']}-R{last['row']:03d}{last['segment']}-V{last['idx']:03d}"
    assert vines.groupby(["block", "row", "segment"])["idx"].max().sum() == len(vines)
    posts = geopandas.read_file(saved(name), layer="end_posts")
    first = rows.iloc[0]
    ends = posts[posts["code"].str.startswith(f"{first['code']}-E")].geometry
    assert [p.coords[0] for p in ends] == list(first.geometry.coords)


def test_outlines_and_exclusions_are_read_with_their_attributes(saved):
    project, _ = laid("field_with_pond")
    outlines = geopandas.read_file(saved("field_with_pond"), layer="outlines")
    assert outlines["block"].tolist() == [b.name for b in project.blocks]
    assert all(shapely.equals_exact(outlines.geometry, [b.outline for b in project.blocks], 0))
    exclusions = geopandas.read_file(saved("field_with_pond"), layer="exclusions")
    assert exclusions["clearance_m"].tolist() == [e.clearance_m for e in project.exclusions]
    assert exclusions["kind"].tolist() == [e.kind for e in project.exclusions]
    assert all(shapely.equals_exact(exclusions.geometry, [e.shape for e in project.exclusions], 0))


@each_sample
def test_the_site_frame_is_written_in_the_form_every_gis_reads(saved, name):
    """The standard's definition column is WKT of OGC 01-009; programs from before 2019 read no other."""
    project, _ = laid(name)
    with sqlite3.connect(saved(name)) as db:
        query = "SELECT definition FROM gpkg_spatial_ref_sys WHERE srs_id = ?"
        ((text,),) = db.execute(query, (geopackage.FRAME_SRS_ID,))
    assert text.startswith('PROJCS["Site frame"')
    xy = np.array([[0.0, 0.0], [-1500.0, 1500.0], [1500.0, -700.0]])
    frame = frame_crs(project.site.frame)
    as_read = Transformer.from_crs(CRS.from_wkt(text), frame, always_xy=True)
    assert np.abs(np.column_stack(as_read.transform(*xy.T)) - xy).max() < 1e-8


def test_the_file_keeps_the_rules_of_the_standard(saved):
    """Requirements of OGC 12-128r18 that readers rely on."""
    path = saved("field_with_pond")
    head = path.read_bytes()[:100]
    assert head[:16] == b"SQLite format 3\x00"
    assert struct.unpack(">I", head[68:72])[0] == 0x47504B47  # R2, "GPKG"
    assert struct.unpack(">I", head[60:64])[0] == 10301
    with sqlite3.connect(path) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]  # R6
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []  # R7
        systems = {i for (i,) in db.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")}
        assert {-1, 0, 4326} <= systems  # R11
        for table, *box in db.execute(
            "SELECT table_name, min_x, min_y, max_x, max_y FROM gpkg_contents"
        ):
            read = pyogrio.read_dataframe(path, layer=table)
            assert read.total_bounds.tolist() == pytest.approx(box, abs=0)
        for table, kind in db.execute(
            "SELECT table_name, geometry_type_name FROM gpkg_geometry_columns"
        ):
            (blob,) = db.execute(f'SELECT geom FROM "{table}"').fetchone()
            assert blob[:2] == b"GP"  # R19
            if kind in ("POLYGON", "LINESTRING"):
                low_x, low_y, high_x, high_y = shapely.from_wkb(blob[40:]).bounds
                assert struct.unpack("<4d", blob[8:40]) == (low_x, high_x, low_y, high_y)
            assert struct.unpack("<i", blob[4:8])[0] == geopackage.FRAME_SRS_ID
            assert kind in ("POLYGON", "GEOMETRY", "LINESTRING", "POINT")


# ------------------------------------------------------------------------------ what is refused


def edited(path, change):
    """A saved project whose document went through `change`."""
    save_project(path, rich_project())
    with sqlite3.connect(path) as db:
        text = json.dumps(change(document_of(rich_project())))
        db.execute("UPDATE layoutdesk_document SET json = ?", (text,))
    return path


def refused(path) -> str:
    with pytest.raises(InputProblem) as problem:
        open_project(path)
    sentence = str(problem.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    return sentence


def test_a_newer_document_is_refused_with_what_to_do(tmp_path):
    path = edited(tmp_path / "x.gpkg", lambda d: d | {"version": VERSION + 1, "site": "other"})
    assert refused(path) == (
        f"The project was saved by a newer program (document version {VERSION + 1}; this one reads up "
        f"to {VERSION}): update Layout Desk to open it."
    )


NOT_WHOLE = "x.gpkg is no whole Layout Desk project: open another copy of it."


@pytest.mark.parametrize(
    "change",
    [
        lambda d: {},
        lambda d: [],
        lambda d: "text",
        lambda d: None,
        lambda d: d | {"version": None},
        lambda d: d | {"version": "1"},
        lambda d: d | {"version": 0},
        lambda d: {k: v for k, v in d.items() if k != "site"},
        lambda d: d | {"site": {}},
        lambda d: d | {"blocks": [d["blocks"][0], {}]},
        lambda d: d | {"day": "yesterday"},
        lambda d: d | {"blocks": [d["blocks"][0], d["blocks"][1] | {"name": ""}]},
        lambda d: (
            d | {"blocks": [b | {"rules": b["rules"] | {"row_spacing_m": -1}} for b in d["blocks"]]}
        ),
        lambda d: d | {"blocks": [b | {"rules": b["rules"] | {"unheard": 1}} for b in d["blocks"]]},
    ],
)
def test_a_document_with_parts_missing_is_refused(tmp_path, change):
    assert refused(edited(tmp_path / "x.gpkg", change)) == NOT_WHOLE


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE layoutdesk_document SET json = '{\"version\": 1'",
        "UPDATE layoutdesk_document SET json = x'ff00'",
        "DELETE FROM layoutdesk_document",
        "DROP TABLE layoutdesk_document",
        "DROP TABLE outlines",
        "UPDATE outlines SET geom = NULL",
        "UPDATE outlines SET geom = x'4750'",
        "UPDATE outlines SET geom = 'text'",
        "UPDATE outlines SET geom = substr(geom, 1, 60)",
        "UPDATE outlines SET geom = (SELECT geom FROM exclusions LIMIT 1)",
    ],
)
def test_a_damaged_table_is_refused(tmp_path, statement):
    save_project(tmp_path / "x.gpkg", rich_project())
    with sqlite3.connect(tmp_path / "x.gpkg") as db:
        db.execute(statement)
    assert refused(tmp_path / "x.gpkg") == NOT_WHOLE


@pytest.mark.parametrize("table", ["outlines", "exclusions"])
def test_shapes_another_program_took_away_are_said(tmp_path, table):
    save_project(tmp_path / "x.gpkg", rich_project())
    with sqlite3.connect(tmp_path / "x.gpkg") as db:
        db.execute(f"DELETE FROM {table} WHERE fid = 1")
    assert "another program added or removed some" in refused(tmp_path / "x.gpkg")


@pytest.mark.parametrize("share", [0.0, 0.01, 0.3, 0.6, 0.9])
def test_a_truncated_file_is_refused(tmp_path, share):
    save_project(tmp_path / "y.gpkg", rich_project())
    whole = (tmp_path / "y.gpkg").read_bytes()
    (tmp_path / "x.gpkg").write_bytes(whole[: int(share * len(whole))])
    assert refused(tmp_path / "x.gpkg") == NOT_WHOLE


@pytest.mark.parametrize(
    "content",
    [b"", b"garbage" * 1000, b"SQLite format 3\x00", b"SQLite format 3\x00" + b"\xff" * 4096],
)
def test_garbage_is_refused_and_no_project(tmp_path, content):
    (tmp_path / "x.gpkg").write_bytes(content)
    assert refused(tmp_path / "x.gpkg") == NOT_WHOLE
    assert not is_project(tmp_path / "x.gpkg")


def test_another_programs_geopackage_is_refused_and_no_project():
    path = SAMPLES["bench_in_feet"].outline
    assert refused(path) == "outline.gpkg is no whole Layout Desk project: open another copy of it."
    assert not is_project(path)


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    assert "does not exist" in refused(tmp_path / "none.gpkg")
    assert tmp_path.name in refused(tmp_path)


# -------------------------------------------------------------------------- a save that goes wrong


class Stop(BaseException):
    """Stands for a signal."""


@pytest.fixture
def there(tmp_path):
    """A folder with a saved project in it."""
    save_project(tmp_path / "x.gpkg", rich_project())
    return tmp_path


def still_there(folder) -> bool:
    names = [p.name for p in folder.iterdir()]
    return names == ["x.gpkg"] and open_project(folder / "x.gpkg") == rich_project()


IO, FULL = OSError(5, "Input/output error"), sqlite3.OperationalError("database or disk is full")


@pytest.mark.parametrize(
    ("owner", "function", "trouble"),
    [
        *(
            (geopackage, f, t)
            for f in ("create", "add_shapes", "add_runs")
            for t in (IO, FULL, Stop())
        ),
        *((atomic, "flush_to_disk", t) for t in (IO, Stop())),
        *((atomic.os, "replace", t) for t in (IO, Stop())),
    ],
    ids=lambda v: getattr(v, "__name__", repr(v)),
)
def test_trouble_at_any_step_leaves_the_old_project(there, monkeypatch, owner, function, trouble):
    def broken(*args, **how):
        raise trouble

    with monkeypatch.context() as patch:
        patch.setattr(owner, function, broken)
        with pytest.raises((InputProblem, Stop)) as raised:
            save_project(there / "x.gpkg", *laid("curved_terrace"))
    if raised.type is InputProblem:
        assert "cannot be written" in str(raised.value)
    assert still_there(there)


def test_a_save_that_does_not_read_back_leaves_the_old_project(there, monkeypatch):
    project, plans = laid("curved_terrace")
    monkeypatch.setattr(
        project_file, "document_of", lambda p: document_of(replace(p, name="other"))
    )
    with pytest.raises(InputProblem, match="did not read back as it was written"):
        save_project(there / "x.gpkg", project, plans)
    monkeypatch.undo()
    assert still_there(there)


def test_places_that_cannot_be_written_are_one_sentence(there):
    project = rich_project()
    with pytest.raises(
        InputProblem, match=r"is no folder: choose another place for the project\.$"
    ):
        save_project(there / "x.gpkg" / "y.gpkg", project)
    with pytest.raises(InputProblem, match=r"is no folder"):
        save_project(there / "none" / "y.gpkg", project)
    (there / "folder.gpkg").mkdir()
    with pytest.raises(InputProblem, match=r"folder\.gpkg cannot be written \(is a directory\)"):
        save_project(there / "folder.gpkg", project)
    (there / "folder.gpkg").rmdir()
    if os.path.isdir("/proc/self"):  # where not even root may write
        with pytest.raises(InputProblem, match=r"^/proc/y\.gpkg cannot be written \(.+\): choose"):
            save_project("/proc/y.gpkg", project)
    assert still_there(there)


@pytest.mark.skipif(os.name != "posix", reason="limits as on POSIX")
def test_a_disk_without_room_is_one_sentence_and_leaves_the_old_project(there):
    """A limit on file size is met as a full disk is."""
    import resource

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, before[1]))
    try:
        with pytest.raises(
            InputProblem, match=r"x\.gpkg cannot be written \(.+\): choose another place"
        ):
            save_project(there / "x.gpkg", *laid("curved_terrace"))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert still_there(there)
