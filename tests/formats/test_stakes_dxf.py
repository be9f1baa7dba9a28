"""The stake-out drawing, read back by two programs that share no code."""

import dataclasses
import math

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely

from layoutdesk import Block, Exclusion, InputProblem, RowRules
from layoutdesk.core.layout.numbering import mark_code, segment_letter
from layoutdesk.formats.stakes_dxf import LABEL_M, LAYERS, write_stakes_dxf
from tests.formats.test_stakes_csv import HIGH, LOW, METRES, POND, expected_marks, stakes_of
from tests.formats.test_stakes_geojson import RING

TREE = Exclusion(shapely.Point(20, 45), 4.0, "tree")
DITCH = Exclusion(shapely.LineString([(0, 20), (15, 25), (30, 20)]), 2.0, "ditch")
MARKS = ("end_post", "line_post", "anchor", "vine")


def written(path, stakes, **more):
    """The drawing by ezdxf, audited; the count that came back must be right."""
    count = write_stakes_dxf(path, stakes, **more)
    document = ezdxf.readfile(path)
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert count == len(document.modelspace())
    return document


def on_layer(document, layer, kind="*"):
    return list(document.modelspace().query(f'{kind}[layer=="{layer}"]'))


def by_gdal(path):
    pyogrio.set_gdal_config_options({"DXF_ENCODING": "UTF-8", "DXF_INLINE_BLOCKS": "FALSE"})
    try:
        return pyogrio.read_dataframe(path, layer="entities")
    finally:
        pyogrio.set_gdal_config_options({"DXF_ENCODING": None, "DXF_INLINE_BLOCKS": None})


def wanted_attributes(stakes):
    for block, row, letter, kind, index, xy in expected_marks(stakes):
        code = mark_code(block, row, letter, kind, index)
        yield kind, (code, str(row), segment_letter(letter), str(index)), xy


def test_every_mark_is_a_symbol_with_its_attributes_in_ezdxf(tmp_path):
    stakes = stakes_of(LOW, HIGH, exclusions=[POND])
    document = written(tmp_path / "s.dxf", stakes)
    wanted = list(wanted_attributes(stakes))
    inserts = list(document.modelspace().query("INSERT"))
    assert len(inserts) == len(wanted)
    placed = stakes.to_survey(np.array([xy for *_, xy in wanted]))
    for insert, (kind, values, _), (x, y) in zip(inserts, wanted, placed, strict=True):
        assert insert.dxf.name == insert.dxf.layer == kind.upper()
        assert insert.dxf.insert.distance((x, y)) < 0.8e-4
        assert [a.dxf.tag for a in insert.attribs] == ["CODE", "ROW", "SEGMENT", "INDEX"]
        assert tuple(a.dxf.text for a in insert.attribs) == values
        assert all(a.is_invisible and a.dxf.layer == insert.dxf.layer for a in insert.attribs)
    codes = {values[0] for _, values, _ in wanted}
    assert {"B2-R1000B-E1", "Unten-Süd-R003A-L03"} <= codes


def test_every_mark_is_a_point_with_its_attributes_in_gdal(tmp_path):
    stakes = stakes_of(LOW, HIGH, exclusions=[POND], east_north=(-30.0, 99_950.0))
    write_stakes_dxf(tmp_path / "s.dxf", stakes)
    table = by_gdal(tmp_path / "s.dxf")
    table = table[table.BlockName.isin([m.upper() for m in MARKS])]
    wanted = list(wanted_attributes(stakes))
    assert table.Layer.tolist() == [kind.upper() for kind, *_ in wanted]
    tags = ("CODE", "ROW", "SEGMENT", "INDEX")
    assert [tuple(v) for v in table.BlockAttributes] == [
        tuple(f"{tag} {value}" for tag, value in zip(tags, values, strict=True))
        for _, values, _ in wanted
    ]
    placed = stakes.to_survey(np.array([xy for *_, xy in wanted]))
    found = np.column_stack([table.geometry.x, table.geometry.y])
    np.testing.assert_allclose(found, placed, rtol=0, atol=0.51e-4)
    assert (found[:, 0] < 0).any()
    assert (found[:, 1] > 1e5).any()


def test_handles_are_unique_and_the_next_free_one_lies_beyond(tmp_path):
    path = tmp_path / "s.dxf"
    document = written(path, stakes_of(LOW, HIGH, exclusions=[POND]))
    lines = path.read_text(encoding="utf-8").split("\n")
    pairs = list(zip(lines[::2], lines[1::2], strict=False))
    seed = next(i for i, (_, value) in enumerate(pairs) if value == "$HANDSEED")
    handles = [value for code, value in pairs[seed + 2 :] if code.strip() == "5"]
    assert len(set(handles)) == len(handles) > 3000
    assert max(int(h, 16) for h in handles) < int(pairs[seed + 1][1], 16)
    space = document.modelspace()
    assert {e.dxf.owner for e in space} == {space.block_record_handle}
    for insert in space.query("INSERT"):
        assert {a.dxf.owner for a in insert.attribs} == {insert.dxf.handle}


def test_a_drawing_changed_and_saved_by_another_program_keeps_everything(tmp_path):
    document = written(tmp_path / "s.dxf", stakes_of(LOW))
    n_before = len(document.modelspace())
    document.modelspace().add_point((0, 0))
    document.saveas(tmp_path / "again.dxf")
    again = ezdxf.readfile(tmp_path / "again.dxf")
    assert not again.audit().errors
    assert len(again.modelspace()) == n_before + 1


@pytest.mark.parametrize(
    ("unit", "unit_m", "number", "metric"),
    [
        ("metre", 1.0, 6, 1),
        ("foot", 0.3048, 2, 0),
        ("US survey foot", 1200 / 3937, 21, 0),
        ("US survey foot", 0.304800609601219, 21, 0),
        ("British foot (Sears 1922)", 0.304799471538676, 0, 1),
    ],
)
def test_the_header_names_the_unit_and_sizes_follow_it(tmp_path, unit, unit_m, number, metric):
    survey = dataclasses.replace(METRES, unit=unit, unit_m=unit_m)
    stakes = stakes_of(LOW, survey=survey)
    document = written(tmp_path / "s.dxf", stakes)
    assert document.dxfversion == "AC1024"
    assert document.header["$INSUNITS"] == number
    assert document.header["$MEASUREMENT"] == metric
    assert on_layer(document, "ROW_LABEL")[0].dxf.height * unit_m == pytest.approx(LABEL_M)
    circle = document.blocks.get("VINE").query("CIRCLE")[0]
    assert circle.dxf.radius * unit_m == pytest.approx(0.08)
    line = on_layer(document, "ROW")[0]
    length = line.dxf.start.distance(line.dxf.end) * unit_m
    assert length == pytest.approx(stakes.plans[0].segments.length_m[0], abs=2e-4)


def test_the_statement_is_in_a_note_below_the_drawing_and_in_the_properties(tmp_path):
    survey = dataclasses.replace(METRES, name=r"Own {grid} \ two")
    stakes = stakes_of(LOW, survey=survey)
    document = written(tmp_path / "s.dxf", stakes)
    (note,) = on_layer(document, "NOTE")
    assert note.plain_text() == stakes.statement
    assert note.dxf.insert.y < min(e.dxf.start.y for e in on_layer(document, "ROW"))
    assert stakes.statement in [value for _, value in document.header.custom_vars]


def test_outlines_with_holes_and_exclusions_of_all_kinds_are_drawn(tmp_path):
    stakes = stakes_of(LOW, RING, exclusions=[POND, TREE, DITCH])
    document = written(tmp_path / "s.dxf", stakes)
    outlines = on_layer(document, "OUTLINE")
    assert len(outlines) == 3
    assert all(e.dxftype() == "LWPOLYLINE" and e.closed for e in outlines)
    rings = [LOW.outline.exterior, RING.outline.exterior, *RING.outline.interiors]
    for drawn, ring in zip(outlines, rings, strict=True):
        corners = stakes.to_survey(shapely.get_coordinates(ring)[:-1])
        np.testing.assert_allclose([p[:2] for p in drawn.get_points()], corners, atol=1e-6)
    pond, tree, ditch = on_layer(document, "EXCLUSION")
    assert pond.closed
    assert tree.dxftype() == "POINT"
    assert len(ditch) == 3
    assert not ditch.closed


def test_rows_are_lines_from_the_start_end_post_to_the_far_one(tmp_path):
    stakes = stakes_of(HIGH, exclusions=[POND])
    lines = on_layer(written(tmp_path / "s.dxf", stakes), "ROW")
    ends = stakes.to_survey(stakes.plans[0].segment_ends_m.reshape(-1, 2)).reshape(-1, 2, 2)
    found = [[tuple(e.dxf.start)[:2], tuple(e.dxf.end)[:2]] for e in lines]
    np.testing.assert_allclose(found, ends, atol=0.51e-4, rtol=0)


@pytest.mark.parametrize("bearing_deg", [0, 30, 90, 150, 180, 270, 333])
def test_row_labels_stand_beyond_both_ends_upright_and_clear_of_the_row(tmp_path, bearing_deg):
    rules = RowRules(bearing_deg=bearing_deg, anchor_m=1.2)
    stakes = stakes_of(Block("B1", shapely.box(0, 0, 60, 60), rules))
    document = written(tmp_path / "s.dxf", stakes)
    s = stakes.plans[0].segments
    labels = on_layer(document, "ROW_LABEL")
    assert [e.dxf.text for e in labels] == [str(n) for n in s.number.tolist()] * 2
    ends = stakes.to_survey(stakes.plans[0].segment_ends_m.reshape(-1, 2)).reshape(-1, 2, 2)
    for i, label in enumerate(labels):
        far, segment = divmod(i, len(s))
        post, other = ends[segment][far], ends[segment][1 - far]
        outward = (post - other) / np.hypot(*(post - other))
        _, spot, _ = label.get_placement()
        beyond = np.array([spot.x, spot.y]) - post
        assert np.hypot(*beyond) == pytest.approx(beyond @ outward, abs=1e-3)  # on the row's line
        assert 1.2 < beyond @ outward < 1.2 + 2 * LABEL_M
        assert -90 < label.dxf.rotation <= 90
        turn = math.radians(label.dxf.rotation)
        reading = np.array([math.cos(turn), math.sin(turn)])
        # The text begins at its spot where it reads away from the row, and ends there where not.
        assert label.dxf.halign == (0 if reading @ outward > 0 else 2)
        assert label.dxf.valign == 2
        assert abs(reading @ outward) == pytest.approx(1, abs=1e-6)


def test_labels_of_narrow_rows_do_not_touch(tmp_path):
    rules = dataclasses.replace(LOW.rules, row_spacing_m=1.0)
    document = written(tmp_path / "s.dxf", stakes_of(dataclasses.replace(LOW, rules=rules)))
    assert max(e.dxf.height for e in on_layer(document, "ROW_LABEL")) < 0.7


def test_extents_hold_everything_drawn(tmp_path):
    stakes = stakes_of(LOW, exclusions=[Exclusion(shapely.box(100, 200, 110, 210), 1.0)])
    document = written(tmp_path / "s.dxf", stakes)
    low, high = (np.array(document.header[v])[:2] for v in ("$EXTMIN", "$EXTMAX"))
    points = [i.dxf.insert for i in document.modelspace().query("INSERT MTEXT TEXT")]
    points += [p for e in document.modelspace().query("LWPOLYLINE") for p in e.get_points()]
    points = np.array([tuple(p)[:2] for p in points])
    assert (points >= low).all()
    assert (points <= high).all()
    assert (high - low < [130, 250]).all()


def test_layers_are_those_promised_and_attributes_lie_on_their_symbols_layer(tmp_path):
    document = written(tmp_path / "s.dxf", stakes_of(LOW, exclusions=[TREE]))
    assert set(LAYERS) <= {layer.dxf.name for layer in document.layers}
    assert len({layer.rgb for layer in document.layers if layer.dxf.name in LAYERS}) >= 7
    for kind in MARKS:
        attributes = document.blocks.get(kind.upper()).query("ATTDEF")
        assert {a.dxf.layer for a in attributes} == {kind.upper()}
        assert all(a.is_invisible for a in attributes)
    assert {e.dxf.layer for e in document.modelspace()} <= set(LAYERS)


def test_a_vine_beyond_the_9999th_of_its_row_keeps_all_its_digits(tmp_path):
    rules = RowRules(bearing_deg=0, vine_spacing_m=0.2, side_margin_m=1.0, row_spacing_m=3.0)
    stakes = stakes_of(Block("北 Long", shapely.box(0, 0, 4, 2100), rules))
    write_stakes_dxf(tmp_path / "s.dxf", stakes)
    last = by_gdal(tmp_path / "s.dxf").BlockAttributes.iloc[-1]
    count = stakes.plans[0].n_vines
    assert count > 9_999
    assert list(last) == [f"CODE 北 Long-R001A-V{count}", "ROW 1", "SEGMENT A", f"INDEX {count}"]


def test_a_control_character_in_a_name_cannot_break_the_drawing(tmp_path):
    stakes = stakes_of(dataclasses.replace(LOW, name="a\tb\x00c"))
    document = written(tmp_path / "s.dxf", stakes)
    assert document.modelspace().query("INSERT")[-1].attribs[0].dxf.text.startswith("a b c-R")


@pytest.mark.parametrize("blocks", [(), (Block("Tiny", shapely.box(0, 0, 5, 5)),)])
def test_a_project_without_rows_is_still_a_drawing(tmp_path, blocks):
    document = written(tmp_path / "s.dxf", stakes_of(*blocks))
    assert len(document.modelspace()) == len(blocks) + 1


def test_progress_rises_to_one_and_may_cancel(tmp_path):
    shares = []
    write_stakes_dxf(tmp_path / "s.dxf", stakes_of(LOW, HIGH), progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_stakes_dxf(tmp_path / "s.dxf", stakes_of(LOW), progress=stop)


def test_a_site_outside_the_survey_system_is_refused_in_a_sentence(tmp_path):
    stakes = dataclasses.replace(stakes_of(LOW), to_survey=lambda xy: xy * np.nan)
    with pytest.raises(InputProblem, match="outside the survey system"):
        write_stakes_dxf(tmp_path / "s.dxf", stakes)
