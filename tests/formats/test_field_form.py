"""Forms as files: what other programs read in them, and what comes back of cells nobody can foresee."""

from __future__ import annotations

import csv
import datetime
import sqlite3
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model.planting import CHECKS
from layoutdesk.formats.field_form import (
    COLUMNS_OF,
    FORM_COLUMNS,
    PLANTED_COLUMNS,
    STATE_CHOICES,
    FormLines,
    write_form_csv,
)
from layoutdesk.formats.field_form_gpkg import write_form_gpkg
from layoutdesk.formats.reading.field_forms import FORM_STATES, meanings_of, read_form

WHEN = datetime.datetime(2027, 4, 5, 9, 30, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))
LINES = FormLines(
    plan="0123456789",
    block=("B1", 'Old "Mill", süd', "=B3"),
    number=np.array([12, 3, 1000]),
    letter=np.array([0, 27, 1]),
    segment=np.array([0, 0, 1, 2]),
    index=np.array([1, 34, 1200, 7]),
    lot=np.array([0, 1, -1, 0]),
    lots=("27-A", "+1; rot, weiß"),
    lon_lat_deg=np.array([[16.1, 48.2], [-170.123456789, -0.5], [np.nan, np.nan], [0, 0]]),
)
CODES = ["B1-R012A-V001", "B1-R012A-V034", 'Old "Mill", süd-R003AB-V1200', "=B3-R1000B-V007"]
KINDS = sorted(COLUMNS_OF)


def rows_of(path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file, strict=True))


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_is_known_to_the_reader_by_its_name(kind):
    columns = COLUMNS_OF[kind]
    assert meanings_of([c.name for c in columns]) == [c.meaning for c in columns]


def test_a_form_asks_for_every_check_and_state():
    assert [c.name for c in FORM_COLUMNS if c.kind == "check"] == [*CHECKS, "reworked"]
    assert set(STATE_CHOICES) == set(FORM_STATES)
    assert {c.name for c in PLANTED_COLUMNS} >= {"lot", "lot_planted", "state", "cause", "date"}


@pytest.mark.parametrize("kind", KINDS)
def test_a_table_is_read_by_another_program_cell_by_cell(tmp_path, kind):
    path = tmp_path / "form.csv"
    assert write_form_csv(path, LINES, kind) == 4
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbfcode,block,")
    assert data.count(b"\r\n") == data.count(b"\n") == 5
    rows = rows_of(path)
    # What a spreadsheet would reckon out is marked as text.
    assert [r["code"] for r in rows] == [*CODES[:3], f"'{CODES[3]}"]
    assert [r["block"] for r in rows] == ["B1", "B1", 'Old "Mill", süd', "'=B3"]
    assert [(r["row"], r["segment"], r["vine"]) for r in rows] == [
        ("12", "A", "1"), ("12", "A", "34"), ("3", "AB", "1200"), ("1000", "B", "7"),
    ]  # fmt: skip
    assert [r["lot"] for r in rows] == ["27-A", "'+1; rot, weiß", "", "27-A"]
    assert {r["plan"] for r in rows} == {"0123456789"}
    assert [(r["lon"], r["lat"]) for r in rows[:3]] == [
        ("16.10000000", "48.20000000"), ("-170.12345679", "-0.50000000"), ("", ""),
    ]  # fmt: skip
    for column in COLUMNS_OF[kind]:
        if column.is_filled:
            assert {r[column.name] for r in rows} == {""}


@pytest.mark.parametrize("ending", ["csv", "gpkg"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_form_comes_back_with_the_vines_it_went_out_with(tmp_path, kind, ending):
    path = tmp_path / f"form.{ending}"
    if ending == "csv":
        write_form_csv(path, LINES, kind)
    else:
        write_form_gpkg(path, LINES, kind, WHEN)
    found = read_form(path)
    assert not found.why
    assert found.row.tolist() == [12, 12, 3, 1000]
    assert found.letter.tolist() == [0, 0, 27, 1]
    assert found.vine.tolist() == [1, 34, 1200, 7]
    assert found.cells["lot"] == ["27-A", "+1; rot, weiß", "", "27-A"]
    assert found.cells["plan"] == ["0123456789"] * 4
    places = found.places[[0, 1, 3]]
    assert places == pytest.approx(LINES.lon_lat_deg[[0, 1, 3]], abs=6e-9)
    assert (found.checks == -1).all()
    assert found.days.ordinal.tolist() == [0] * 4


def test_inspectors_stand_in_their_lines(tmp_path):
    path = tmp_path / "form.csv"
    people = {"person": np.array([0, 1, 1, -1]), "people": ("Inspector 1", "Inspector 2")}
    write_form_csv(path, replace(LINES, **people), "inspection")
    said = [r["inspector"] for r in rows_of(path)]
    assert said == ["Inspector 1", "Inspector 2", "Inspector 2", ""]


def test_a_form_without_vines_is_its_head_alone(tmp_path):
    path = tmp_path / "form.csv"
    assert write_form_csv(path, LINES.taken([]), "inspection") == 0
    assert rows_of(path) == []
    assert write_form_gpkg(tmp_path / "form.gpkg", LINES.taken([]), "inspection", WHEN) == 0


def test_points_open_in_another_program_with_cells_to_fill(tmp_path):
    import geopandas

    path = tmp_path / "form.gpkg"
    write_form_gpkg(path, LINES, "inspection", WHEN)
    frame = geopandas.read_file(path, layer="inspection")
    assert frame.crs.to_epsg() == 4326
    assert frame["code"].tolist() == CODES
    assert (frame.geometry.x[1], frame.geometry.y[1]) == pytest.approx((-170.123456789, -0.5))
    assert frame.geometry.isna().tolist() == [False, False, True, False]
    for item in CHECKS:
        assert frame[item].isna().all()


def test_the_choices_of_a_cell_are_told_to_programs_that_know_them(tmp_path):
    path = tmp_path / "form.gpkg"
    write_form_gpkg(path, LINES, "as_planted", WHEN)
    db = sqlite3.connect(path)
    kind = db.execute(
        "SELECT constraint_name FROM gpkg_data_columns WHERE column_name = 'state'"
    ).fetchone()
    offered = db.execute(
        "SELECT value FROM gpkg_data_column_constraints WHERE constraint_name = ?", kind
    )
    assert {row[0] for row in offered} == set(STATE_CHOICES)
    assert db.execute("SELECT last_change FROM gpkg_contents").fetchall() == [
        ("2027-04-05T07:30:00.000Z",)
    ]
    db.close()


@pytest.mark.parametrize("kind", KINDS)
def test_the_geopackage_validator_of_gdal_finds_nothing(tmp_path, kind):
    """validate_gpkg of gdal-utils, where somebody has it: it needs GDAL's own Python package."""
    validate_gpkg = pytest.importorskip("osgeo_utils.samples.validate_gpkg")
    path = tmp_path / "form.gpkg"
    write_form_gpkg(path, LINES, kind, WHEN)
    assert validate_gpkg.check(str(path), abort_at_first_error=False) == []
