"""The drawing of a hand-off, flat and on the ground, read back by two programs that share no code."""

import dataclasses
from collections import Counter

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely

from layoutdesk import Block, Exclusion, InputProblem, RowRules
from layoutdesk.core.model import Guide
from layoutdesk.core.model.handoff import PointChoice
from layoutdesk.formats.points_dxf import write_points_dxf
from layoutdesk.formats.points_dxf_document import NO_HEIGHT
from layoutdesk.formats.points_dxf_raised import STEP_M
from layoutdesk.formats.seal import read_seal
from tests.formats.point_hands import EVERYTHING, HIGH, LOW, POND, SEAL, hand_of, slope, told
from tests.formats.test_stakes_dxf import DITCH, TREE, by_gdal, on_layer

BENT = Block(
    "Bent",
    shapely.box(-60, -70, 60, 70),
    RowRules(bearing_deg=0, row_spacing_m=20, leftover="far end"),
    guide=Guide(((0.0, -80.0), (25.0, 0.0), (0.0, 80.0))),
)
OWN = {"outline": "OUTLINE_CORNER", "exclusion": "EXCLUSION_CORNER"}
TAGS = ("CODE", "ROW", "SEGMENT", "INDEX", "POINT")


def written(path, hand, **more):
    """The drawing by ezdxf, audited; count and seal must be right."""
    count = write_points_dxf(path, hand, SEAL, **more)
    document = ezdxf.readfile(path)
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert count == len(document.modelspace())
    assert read_seal(path).is_whole
    return document


def wanted_symbols(hand):
    """Layer, attributes and place of every point, by its code."""
    placed = hand.placing.placed(hand.points.all().xy_m)
    return {
        w["code"]: (
            OWN.get(w["kind"], w["kind"].upper()),
            (w["code"], w["row"], w["segment"], w["index"], w["number"]),
            xy,
        )
        for w, xy in zip(told(hand), placed.tolist(), strict=True)
    }


def ground(en, hand):
    """Height of the ground at a place in written coordinates."""
    return slope(np.atleast_2d(en) - hand.placing.to_grid(np.zeros((1, 2))))


def test_every_point_is_a_symbol_with_its_attributes_in_ezdxf(tmp_path):
    hand = hand_of(EVERYTHING, exclusions=(POND, TREE))
    document = written(tmp_path / "p.dxf", hand)
    inserts = list(document.modelspace().query("INSERT"))
    wanted = wanted_symbols(hand)
    assert len(inserts) == len(wanted) == len(hand.points)
    for insert in inserts:
        assert tuple(a.dxf.tag for a in insert.attribs) == TAGS
        layer, values, xy = wanted[insert.attribs[0].dxf.text]
        assert insert.dxf.layer == insert.dxf.name == layer
        assert tuple(a.dxf.text for a in insert.attribs) == values
        assert insert.dxf.insert.distance((*xy, 0)) < 0.8e-4
    assert {"K1", "95", "B2-C003", "pond-C001"} <= {w.split("|")[0] for w in wanted}
    control = document.blocks.get("CONTROL")
    assert len(control.query("ATTDEF")) == len(TAGS)


def test_every_point_is_a_point_in_gdal_too(tmp_path):
    hand = hand_of(EVERYTHING, heights=slope, description="{feature} {row}{segment}")
    write_points_dxf(tmp_path / "p.dxf", hand, SEAL, raised=True)
    table = by_gdal(tmp_path / "p.dxf")
    table = table[table.BlockName.notna()]
    wanted = wanted_symbols(hand)
    assert len(table) == len(wanted)
    xyz = shapely.get_coordinates(table.geometry.values, include_z=True)
    found = [dict(a.split(" ", 1) for a in row) for row in table.BlockAttributes]
    where = np.array([wanted[f["CODE"]][2] for f in found])
    np.testing.assert_allclose(xyz[:, :2], where, rtol=0, atol=0.51e-4)
    z = ground(where, hand)
    np.testing.assert_allclose(xyz[:, 2], np.nan_to_num(z), rtol=0, atol=0.51e-4)
    layers = [wanted[f["CODE"]][0] for f in found]
    ends = [NO_HEIGHT if unknown else "" for unknown in np.isnan(z)]
    assert table.Layer.tolist() == [a + b for a, b in zip(layers, ends, strict=True)]
    post = next(f for f in found if f["CODE"] == "Unten-Süd-R003A-E1")
    assert post["DESCRIPTION"] == "end post 3A"


def test_chosen_rows_alone_are_drawn_with_their_labels(tmp_path):
    n = sum(p.n_segments for p in hand_of(blocks=(LOW, BENT)).plans)
    some = np.zeros(n, bool)
    some[[0, 2, n - 2]] = True
    hand = hand_of(blocks=(LOW, BENT), segments=some)
    document = written(tmp_path / "p.dxf", hand)
    rows, labels = on_layer(document, "ROW"), on_layer(document, "ROW_LABEL")
    assert Counter(e.dxftype() for e in rows) == {"LINE": 2, "LWPOLYLINE": 1}
    numbers = [str(r) for r in hand.points.owners.row[:n][some].tolist()]
    assert Counter(e.dxf.text for e in labels) == dict.fromkeys(numbers, 2)
    bent = next(e for e in rows if e.dxftype() == "LWPOLYLINE")
    line = shapely.LineString([p[:2] for p in bent.get_points()])
    last = hand.plans[1].shapes[hand.plans[1].n_segments - 2]
    placed = shapely.transform(last, hand.placing.placed)
    assert line.hausdorff_distance(placed) < 1e-4
    assert len(on_layer(document, "OUTLINE")) == 2


@pytest.mark.parametrize("blocks", [(LOW, HIGH), (BENT,)])
def test_rows_and_outlines_of_a_raised_drawing_run_on_the_ground(tmp_path, blocks):
    hand = hand_of(EVERYTHING, blocks=blocks, exclusions=(POND, TREE, DITCH), heights=slope)
    document = written(tmp_path / "p.dxf", hand, raised=True)
    lines = list(document.modelspace().query("POLYLINE"))
    drawn = Counter(e.dxf.layer.removesuffix(NO_HEIGHT) for e in lines)
    n_rows = int((hand.lines.kind == 0).sum())
    assert drawn == {"ROW": n_rows, "OUTLINE": len(blocks), "EXCLUSION": 2}
    assert all(e.is_3d_polyline for e in lines)
    for line in lines:
        xyz = np.array([tuple(v.dxf.location) for v in line.vertices])
        z = ground(xyz[:, :2], hand)
        if line.dxf.layer.endswith(NO_HEIGHT):
            assert np.isnan(z).any()
            assert (xyz[:, 2] == 0).all()
        else:
            np.testing.assert_allclose(xyz[:, 2], z, rtol=0, atol=1e-4)
        ends = np.vstack([xyz, xyz[:1]]) if line.is_closed else xyz
        assert np.hypot(*np.diff(ends[:, :2], axis=0).T).max() < STEP_M + 1e-3
    closed = Counter(e.dxf.layer.removesuffix(NO_HEIGHT) for e in lines if e.is_closed)
    assert closed == {"OUTLINE": len(blocks), "EXCLUSION": 1}  # the pond; the ditch is open
    (tree,) = document.modelspace().query("POINT")
    assert tree.dxf.layer == "EXCLUSION"
    assert tree.dxf.location.z == pytest.approx(float(slope(np.array([[20.0, 45.0]]))[0]), abs=1e-4)
    labels = on_layer(document, "ROW_LABEL")
    assert labels
    assert all(e.dxf.insert.z > 100 for e in labels)


def test_what_has_no_height_is_counted_in_the_note(tmp_path):
    hand = hand_of(heights=slope)
    document = written(tmp_path / "p.dxf", hand, raised=True)
    n = int(np.isnan(slope(hand.points.all().xy_m)).sum())
    (note,) = on_layer(document, "NOTE")
    assert f"{n} of {len(hand.points)} points have no known height" in note.plain_text()
    assert hand.statement in note.plain_text()
    symbols = document.modelspace().query("INSERT")
    assert sum(e.dxf.layer.endswith(NO_HEIGHT) for e in symbols) == n > 0


def test_all_ground_known_leaves_no_layer_for_the_rest(tmp_path):
    hand = hand_of(heights=lambda xy: np.full(len(xy), 55.0))
    document = written(tmp_path / "p.dxf", hand, raised=True)
    assert not [x for x in document.layers if x.dxf.name.endswith(NO_HEIGHT)]
    assert {e.dxf.insert.z for e in document.modelspace().query("INSERT")} == {55.0}


def test_a_drawing_is_flat_unless_heights_are_asked_for_and_known(tmp_path):
    for raised, heights in ((False, slope), (True, None)):
        hand = hand_of(EVERYTHING, heights=heights)
        document = written(tmp_path / "p.dxf", hand, raised=raised)
        assert {e.dxf.insert.z for e in document.modelspace().query("INSERT")} == {0.0}
        assert not document.modelspace().query("POLYLINE")
        (note,) = on_layer(document, "NOTE")
        assert ("drawing is flat" in note.plain_text()) == raised


def test_coordinates_and_heights_are_in_the_written_unit(tmp_path):
    hand = hand_of(EVERYTHING, heights=slope)
    feet = dataclasses.replace(hand.placing, unit="foot", unit_m=0.3048)
    hand = dataclasses.replace(hand, placing=feet)
    document = written(tmp_path / "p.dxf", hand, raised=True)
    assert document.header["$INSUNITS"] == 2
    for insert in document.modelspace().query("INSERT[layer=='VINE']")[:50]:
        x, y, z = np.array(tuple(insert.dxf.insert)) * 0.3048
        assert z == pytest.approx(float(ground((x, y), hand_of())[0]), abs=1e-4)
    ditch = pyogrio.read_dataframe(tmp_path / "p.dxf", layer="entities", where="Layer='ROW'")
    assert len(ditch) > 0


def test_handles_are_unique_and_owners_are_there(tmp_path):
    path = tmp_path / "p.dxf"
    hand = hand_of(EVERYTHING, exclusions=(POND, TREE), heights=slope)
    document = written(path, hand, raised=True)
    lines = path.read_text(encoding="utf-8").split("\n")
    pairs = list(zip(lines[::2], lines[1::2], strict=False))
    seed = next(i for i, (_, value) in enumerate(pairs) if value == "$HANDSEED")
    handles = [value for code, value in pairs[seed + 2 :] if code.strip() == "5"]
    assert len(set(handles)) == len(handles)
    assert max(int(h, 16) for h in handles) < int(pairs[seed + 1][1], 16)
    for line in document.modelspace().query("POLYLINE"):
        assert {v.dxf.owner for v in line.vertices} == {line.dxf.handle}
    assert pairs[-1] == ("  0", "EOF")
    assert pairs[-2][0] == "999"


def test_symbols_of_points_that_stand_in_no_row_come_with_them(tmp_path):
    plain = written(tmp_path / "p.dxf", hand_of(PointChoice(kinds=("vine",))))
    assert "CONTROL" not in plain.blocks
    far = (("K9", 9_000.0, 9_000.0),)
    hand = hand_of(PointChoice(kinds=("control",)), control=far)
    document = written(tmp_path / "p.dxf", hand)
    (insert,) = document.modelspace().query("INSERT")
    assert insert.dxf.layer == "CONTROL"
    assert document.header["$EXTMAX"][0] >= insert.dxf.insert.x


@pytest.mark.parametrize("raised", [False, True])
def test_no_points_are_still_a_drawing(tmp_path, raised):
    hand = hand_of(PointChoice(kinds=()), exclusions=(), heights=slope)
    document = written(tmp_path / "p.dxf", hand, raised=raised)
    assert not document.modelspace().query("INSERT")


def test_progress_rises_to_one_and_may_cancel(tmp_path):
    shares = []
    written(tmp_path / "p.dxf", hand_of(EVERYTHING), progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_points_dxf(tmp_path / "p.dxf", hand_of(), SEAL, progress=stop)


def test_a_site_outside_the_survey_system_is_refused_in_a_sentence(tmp_path):
    hand = hand_of(exclusions=(Exclusion(POND.shape, 1.0),))
    placing = dataclasses.replace(hand.placing, to_grid=lambda xy: xy * np.nan)
    with pytest.raises(InputProblem, match="outside the survey system"):
        write_points_dxf(tmp_path / "p.dxf", dataclasses.replace(hand, placing=placing), SEAL)
