"""Special rows and vines, and curved rows, in every file of the set, read back by other readers."""

import csv
import datetime
import json
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.model import Guide, Override, RowRules
from layoutdesk.formats.document import VERSION, document_of, project_from
from layoutdesk.formats.project_file import open_project
from layoutdesk.session.opening import at_height, project_from_outline
from layoutdesk.session.stakeout import lay_project, stake_set, write_stake_set

RULES = RowRules(bearing_deg=20.0, row_spacing_m=2.5, leftover="far end")


@pytest.fixture(scope="module")
def project(tmp_path_factory):
    """A block with one of every override, and one whose rows follow an arc."""
    path = tmp_path_factory.mktemp("site") / "outline.geojson"
    rings = [
        [(e, n), (e + 120, n + 10), (e + 115, n + 170), (e + 8, n + 158), (e, n)]
        for e, n in ((500_000, 6_100_000), (500_200, 6_100_000))
    ]
    features = [
        {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [r]}}
        for r in rings
    ]
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32754"}}
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": features}))
    project = project_from_outline(path, height_m=90.0, rules=RULES, day=datetime.date(2026, 5, 1))
    plan, _ = lay_project(project)
    vines = plan.vines.xy_m[plan.vines.segment == 10]
    along = np.array([np.sin(np.radians(20)), np.cos(np.radians(20))])
    middle = plan.segment_ends_m[14].mean(axis=0)
    line = plan.segments.line
    overrides = (
        Override("vine left out", int(line[10]), *vines[4].tolist()),
        Override("vine added", int(line[10]), *(vines[-1] + 0.4 * along).tolist()),
        Override("vine added", int(line[10]), *(vines[7] + 0.7 * along).tolist()),
        Override("row left out", int(line[14]), *middle.tolist()),
        Override("end moved", int(line[16]), *(plan.segment_ends_m[16, 1] - 5 * along).tolist()),
    )
    x, y = project.blocks[1].outline.centroid.coords[0]
    guide = Guide(((x - 80, y - 40), (x, y), (x + 80, y - 20)))
    blocks = (
        replace(project.blocks[0], overrides=overrides),
        replace(project.blocks[1], guide=guide),
    )
    return replace(project, blocks=blocks)


@pytest.fixture(scope="module")
def written(project, tmp_path_factory):
    folder = tmp_path_factory.mktemp("set")
    stakes = stake_set(project)
    write_stake_set(folder, stakes)
    return stakes, folder


def codes_of(plans):
    """Code and place of every mark, made one by one."""
    from layoutdesk.core.layout.numbering import mark_code

    found = {}
    for plan in plans:
        s = plan.segments
        for marks in plan.marks():
            for i, k, xy in zip(marks.segment, marks.index, marks.xy_m, strict=True):
                number, letter = int(s.number[i]), int(s.letter[i])
                found[mark_code(plan.block.name, number, letter, marks.kind, int(k))] = xy
    return found


def test_every_code_is_there_once_and_the_left_out_one_is_not(written):
    stakes, folder = written
    wanted = codes_of(stakes.plans)
    with (folder / "stakes.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len({r["description"] for r in rows}) == len(wanted)
    assert {r["description"] for r in rows} == set(wanted)
    plan = stakes.plans[0]
    row = int(plan.segments.number[10])
    assert f"B1-R{row:03d}A-V005" not in wanted
    assert f"B1-R{row:03d}A-V{plan.segments.n_vines[10] + 2:03d}" in wanted
    places = np.array([wanted[r["description"]] for r in rows])
    grid = np.array([(float(r["easting"]), float(r["northing"])) for r in rows])
    assert np.abs(stakes.to_survey(places) - grid).max() < 1e-4


def test_the_table_of_vines_in_the_project_has_the_same_codes_and_places(written):
    import pyogrio

    stakes, folder = written
    wanted = codes_of(stakes.plans)
    table = pyogrio.read_dataframe(folder / "project.gpkg", layer="vines")
    vines = {code: xy for code, xy in wanted.items() if "-V" in code}
    assert dict(zip(table.code, table.idx, strict=True)) == {
        code: int(code.rsplit("V", 1)[1]) for code in vines
    }
    read = np.array([(p.x, p.y) for p in table.geometry])
    assert np.abs(read - np.array([vines[c] for c in table.code])).max() < 1e-9
    rows = pyogrio.read_dataframe(folder / "project.gpkg", layer="rows")
    assert rows.vines.sum() == sum(p.n_vines for p in stakes.plans)


def test_curved_rows_are_curves_in_every_file(written):
    import ezdxf
    import pyogrio

    stakes, folder = written
    curved = stakes.plans[1]
    rows = pyogrio.read_dataframe(folder / "project.gpkg", layer="rows")
    lengths = rows[rows.block == "B2"].geometry.length.to_numpy()
    assert np.allclose(lengths, curved.segments.length_m, atol=1e-6)
    collection = json.loads((folder / "stakes.geojson").read_text())
    lines = [
        f
        for f in collection["features"]
        if f["properties"]["kind"] == "row" and f["properties"]["block"] == "B2"
    ]
    assert len(lines) == curved.n_segments
    assert min(len(f["geometry"]["coordinates"]) for f in lines) > 2
    drawing = ezdxf.readfile(folder / "stakes.dxf")
    polylines = drawing.modelspace().query('LWPOLYLINE[layer=="ROW"]')
    assert len(polylines) == curved.n_segments
    assert len(drawing.modelspace().query('LINE[layer=="ROW"]')) == stakes.plans[0].n_segments
    assert not drawing.audit().errors


def test_the_project_reads_back_with_all_that_is_special(written, project):
    _, folder = written
    again = open_project(folder / "project.gpkg")
    assert again == project
    for a, b in zip(lay_project(again), lay_project(project), strict=True):
        assert np.array_equal(a.vines.xy_m, b.vines.xy_m)


def test_a_document_of_the_version_before_still_opens(project):
    plain = replace(
        project, blocks=tuple(replace(b, overrides=(), guide=None) for b in project.blocks)
    )
    document = document_of(plain) | {"version": 1}
    assert VERSION == 6
    del document["backdrop"], document["terrain"], document["study"]
    for block in document["blocks"]:
        for fresh in ("overrides", "guide", "common"):
            del block[fresh]
    outlines = [b.outline for b in plain.blocks]
    assert project_from(document, outlines, []) == plain


def test_another_height_keeps_what_is_special_on_its_vine(project):
    higher = at_height(project, 1500.0)
    before, after = lay_project(project)[0], lay_project(higher)[0]
    assert after.special.gap_index.tolist() == before.special.gap_index.tolist()
    assert not after.unfit
    assert shapely.area(higher.blocks[0].outline) > shapely.area(project.blocks[0].outline)


def test_the_crew_is_told_of_every_exception_by_code(written):
    stakes, folder = written
    plan = stakes.plans[0]
    about = " ".join((folder / "about.txt").read_text(encoding="utf-8").split())
    ten, out = int(plan.segments.number[10]), int(plan.left_out.number[0])
    n = int(plan.segments.n_vines[10])
    assert f"Rows left out: B1-R{out:03d}A." in about
    assert f"Vines left out: B1-R{ten:03d}A-V005." in about
    assert f"Vines added: B1-R{ten:03d}A-V{n + 1:03d}, B1-R{ten:03d}A-V{n + 2:03d}." in about
    assert "Row ends set by hand: 1." in about
