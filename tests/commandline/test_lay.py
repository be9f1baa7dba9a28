"""What `lay` writes and says."""

from __future__ import annotations

import json
import re

import geopandas
import pyogrio
import pytest

from tests.commandline.laying import (
    FILES,
    KINDS,
    SAMPLES,
    each_sample,
    entities,
    features,
    lay,
    table,
)

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")


@each_sample
def test_samples_laid_by_options_have_their_printed_figures(set_of, name):
    out, summary = set_of(name)
    assert sorted(p.name for p in out.iterdir()) == FILES
    expected = SAMPLES[name].expected
    for key in (
        "rows",
        "segments",
        "vines",
        "end_posts",
        "line_posts",
        "anchors",
        "dropped_segments",
    ):
        assert summary[key] == expected[key]
    assert summary["row_length_m"] == pytest.approx(expected["row_length_m"], abs=0.006)
    assert summary["survey"]["crs"] == expected["survey_crs"]


@each_sample
def test_counts_agree_in_all_files(set_of, name):
    out, summary = set_of(name)
    wanted = {kind: summary[f"{kind}s"] for kind in KINDS}
    described = [row["description"] for row in table(out)]
    assert {k: sum(f"-{letter}" in d for d in described) for k, letter in KINDS.items()} == wanted
    kinds = [f["properties"]["kind"] for f in features(out)]
    assert {k: kinds.count(k) for k in KINDS} == wanted
    assert kinds.count("row") == summary["segments"]
    assert kinds.count("outline") == len(summary["blocks"])
    assert set(kinds) == {*KINDS, "row", "outline"}
    path = out / "project.gpkg"
    layers = {k: pyogrio.read_info(path, layer=f"{k}s")["features"] for k in KINDS}
    assert layers == wanted
    drawn = entities(out)
    assert drawn.count(b"\nINSERT\n") == sum(wanted.values())
    assert {k: drawn.count(b"\n2\n%b\n" % k.upper().encode()) for k in KINDS} == wanted


@each_sample
def test_the_table_keeps_its_header_and_forms(set_of, name):
    out, _ = set_of(name)
    lines = (out / "stakes.csv").read_bytes().split(b"\n")
    assert lines[0] == b"point,northing,easting,elevation,description"
    assert lines[-1] == b""
    line = re.compile(
        rb"\d+,-?\d+\.\d{4},-?\d+\.\d{4},,B\d+-R\d{3,}[A-Z]+-(V\d{3,}|L\d{2,}|E[12]|A[12])"
    )
    assert all(line.fullmatch(each) for each in lines[1:-1])
    points = [int(each.split(b",", 1)[0]) for each in lines[1:-1]]
    assert points == list(range(1, len(points) + 1))


@each_sample
def test_codes_are_unique_and_the_same_everywhere(set_of, name):
    out, _ = set_of(name)
    described = [row["description"] for row in table(out)]
    assert len(set(described)) == len(described)
    marked = [f["properties"] for f in features(out) if f["properties"]["kind"] in KINDS]
    assert {p["code"] for p in marked} == set(described)
    for p in marked[:: len(marked) // 500]:
        letter = KINDS[p["kind"]]
        digits = {"V": 3, "L": 2}.get(letter, 1)
        code = f"{p['block']}-R{p['row']:03d}{p['segment']}-{letter}{p['index']:0{digits}d}"
        assert p["code"] == code
    layers = (geopandas.read_file(out / "project.gpkg", layer=f"{k}s") for k in KINDS)
    assert {code for layer in layers for code in layer["code"]} == set(described)


@each_sample
def test_each_feature_has_the_promised_properties_and_nine_decimals(set_of, name):
    out, _ = set_of(name)
    for feature in features(out)[::97]:
        assert {"kind", "block", "row", "segment", "index", "code"} <= set(feature["properties"])
    text = (out / "stakes.geojson").read_text(encoding="utf-8")
    points = re.findall(r'"Point","coordinates":\[(-?[\d.]+),(-?[\d.]+)\]', text)
    assert max(len(v.partition(".")[2]) for pair in points for v in pair) == 9


@each_sample
def test_the_json_summary_has_the_promised_keys(set_of, name):
    _, summary = set_of(name)
    assert {
        "rows", "segments", "vines", "end_posts", "line_posts", "anchors", "row_length_m", "outline_m2",
        "plantable_m2", "bearing_deg", "first_row_m", "dropped_segments", "frame", "survey", "findings",
    } <= set(summary)  # fmt: skip
    assert {"crs", "unit", "combined_factor", "convergence_deg"} <= set(summary["survey"])
    assert {"definition", "height_m"} <= set(summary["frame"])


def test_json_prints_the_summary_and_nothing_else(outline, tmp_path, capsys):
    summary = lay(outline, tmp_path, "--json")
    captured = capsys.readouterr()
    assert json.loads(captured.out) == summary
    assert captured.err == ""


def test_people_are_told_counts_survey_findings_and_files(outline, tmp_path, capsys):
    summary = lay(outline, tmp_path / "out")
    said = capsys.readouterr().out
    assert f"{summary['vines']:,} vines in {summary['rows']:,} rows" in said
    assert "WGS 84 / UTM zone 54S (EPSG:32754); unit metre" in said
    for finding in summary["findings"]:
        assert finding["message"] in said
    for name in FILES:
        assert name in said
