"""The files of an as-staked check say the same to people and programs, and readers that are not ours open them."""

from __future__ import annotations

import csv
import datetime
import json

import numpy as np
import pdfplumber
import pyogrio.raw
import pytest
import shapely
from geojson_validator import validate_structure

from layoutdesk.core.model import InputProblem
from layoutdesk.core.model.handoff import StakedCheck
from layoutdesk.session.staked import StakedRequest, as_staked
from layoutdesk.session.staked_files import FILES, staked_json, write_staked, write_staked_file
from tests.staked_project import Staked, project

DAY = datetime.date(2027, 3, 9)
CHECK = StakedCheck(datetime.date(2027, 3, 1), "A. Crew", "first.csv", "0" * 12, 12, 0.02, 0.05, "accepted", "p1", "Wind.")  # fmt: skip


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """(site, measured coordinates, which points, answer, folder of files)."""
    site = Staked(project(checks=(CHECK,)))
    which = site.of_kind("end_post", "anchor")
    en = site.noisy(0.012)
    en[which[7]] += (0.31, -0.2)
    folder = tmp_path_factory.mktemp("staked")
    path = site.csv(folder / "back.csv", en, which)
    path.write_text(path.read_text() + "=1+1,5339100.0,581700.0,@gate\n")
    answer = as_staked(StakedRequest(0, site.project, site.plans, path))
    names = write_staked(folder / "out", answer, day=DAY)
    assert names == FILES
    return site, en, which, answer, folder / "out"


def test_the_table_has_every_pair_with_both_places_and_what_is_off(written):
    site, en, which, _answer, folder = written
    with (folder / "as-staked.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    pairs = [r for r in rows if r["code"]]
    by_code = {r["code"]: r for r in pairs}
    assert list(by_code) == sorted(by_code, key=[site.code[i] for i in which].index)
    assert len(pairs) == len(which)
    for i in which.tolist():
        row = by_code[site.code[i]]
        assert float(row["planned_easting"]) == pytest.approx(site.en[i, 0], abs=6e-5)
        assert float(row["measured_northing"]) == pytest.approx(en[i, 1], abs=1.1e-4)
        off = np.hypot(float(row["along_m"]), float(row["across_m"]))
        assert float(row["distance_m"]) == pytest.approx(off, abs=2e-4)
        over = float(row["distance_m"]) - float(row["tolerance_m"])
        assert row["verdict"] == ("beyond" if over > 0 else "within") or abs(over) < 1e-4  # rounded
        assert row["unit"] == "metre"
        assert row["height_m"] == ""
    strange = [r for r in rows if not r["code"]]
    assert len(strange) == 1
    assert strange[0]["verdict"] == "no point of the plan"
    assert strange[0]["measured_as"] == "'=1+1"  # no formula in a spreadsheet


def test_the_map_layer_is_valid_and_lies_where_points_were_measured(written):
    site, en, which, answer, folder = written
    path = folder / "as-staked.geojson"
    said = json.loads(path.read_text(encoding="utf-8"))
    assert not validate_structure(said)
    assert said["layoutdesk"]["revision"] == answer.hand.revision
    meta, _, shapes, columns = pyogrio.raw.read(path)
    fields = dict(zip(meta["fields"], columns, strict=True))
    degrees = shapely.get_coordinates(shapely.from_wkb(shapes))
    expected = site.hand.to_wgs84(site.placing.back(en[which]))
    assert fields["code"].tolist() == [site.code[i] for i in which]
    assert np.abs(degrees - expected).max() < 2e-9
    assert (fields["verdict"] == "beyond").sum() == len(answer.worst)
    assert set(fields["kind"]) == {"end_post", "anchor"}
    assert said["features"][0]["properties"]["height_m"] is None


def test_programs_get_every_figure(written):
    site, _, which, answer, folder = written
    text = (folder / "as-staked.json").read_text(encoding="utf-8")
    assert text == staked_json(answer, day=DAY)
    said = json.loads(text)
    distance = answer.residuals.distance_m
    assert said["counts"] == {
        "measured": len(which) + 1,
        "matched": len(which),
        "beyond_tolerance": int((distance > 0.03).sum()),
        "strange": 1,
        "measured_again": 0,
        "not_measured": 0,
    }
    assert said["figures"]["rms_m"] == pytest.approx(np.sqrt(np.mean(distance**2)), abs=1e-6)
    assert said["worst"][0]["code"] == site.code[which[7]]
    assert said["explanations"][0]["code"] == "point-off"
    assert said["plan"] == answer.hand.plan
    assert said["file_sha256_begins"] == answer.checksum
    assert said["checks"][0]["by"] == "A. Crew"
    assert sum(said["histogram"]["count"]) == len(which)
    assert set(said["by_kind"]) == {"end_post", "anchor"}


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_the_sheet_says_it_in_words_and_draws_arrows_to_scale(written, tmp_path, unit):
    site, _, which, answer, _ = written
    write_staked_file(tmp_path / "a.pdf", answer, unit, DAY)
    with pdfplumber.open(tmp_path / "a.pdf") as pdf:
        words = [page.extract_text() for page in pdf.pages]
        first = " ".join(words[0].split())
        assert "stand farther off than asked for" in first
        assert site.code[which[7]] in first
        assert "2027-03-09" in first
        assert "A. Crew accepted first.csv" in first
        assert "one-call" in first
        map_page = next(p for p in pdf.pages if "True north" in p.extract_text())
        scale = float(map_page.extract_text().split("1 : ")[1].split()[0].strip("()"))
        times = float(map_page.extract_text().split("drawn ")[1].split()[0])
        pairs = answer.residuals
        farthest = float(pairs.distance_m.max()) * times * 1000 / scale  # mm on the paper
        lengths = [
            np.hypot(line["x1"] - line["x0"], line["bottom"] - line["top"]) * 25.4 / 72
            for line in map_page.lines
        ]
        assert min(abs(length - farthest) for length in lengths) < 0.02
        assert any(f"{site.code[which[7]]}" in w for w in words[2:])
        for page in pdf.pages:
            for char in page.chars:
                assert char["x0"] >= 0
                assert char["x1"] <= page.width


def test_single_files_are_written_by_their_ending_or_refused(written, tmp_path):
    *_, answer, folder = written
    for name in FILES:
        end = name.rpartition(".")[2]
        path = tmp_path / f"own name.{end}"
        write_staked_file(path, answer, day=DAY)
        assert path.read_bytes() == (folder / name).read_bytes()
    with pytest.raises(InputProblem, match="format"):
        write_staked_file(tmp_path / "own.docx", answer)


def test_a_cancelled_report_leaves_nothing_behind(written, tmp_path):
    *_, answer, _ = written

    def stop(share, what):
        if share > 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_staked(tmp_path / "out", answer, progress=stop)
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").iterdir())
