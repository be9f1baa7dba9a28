"""The row table and the register of lots, read back: places, plants, counts, trays, tags, and formulas disarmed."""

from __future__ import annotations

import csv
import datetime
import re
from dataclasses import replace

import numpy as np
import pdfplumber
import pytest
from pyproj import Transformer

from layoutdesk.core.layout.numbering import segment_code
from layoutdesk.core.model.planting import Assignment, Part, Tag
from layoutdesk.formats.crs import frame_crs
from layoutdesk.formats.lots_csv import LOTS_COLUMNS, write_lots_csv
from layoutdesk.formats.lots_pdf import write_lots_pdf
from layoutdesk.formats.row_table_csv import write_row_table_csv
from layoutdesk.session.lot_edits import read_lots_csv, read_tags_csv
from layoutdesk.session.places import resource
from layoutdesk.session.planted import PlantingCounter, PlantingRequest
from layoutdesk.session.recording import with_loss, with_planted, with_replanted
from layoutdesk.session.row_table import lot_register, row_table
from tests.session.planted_cases import (
    DAY,
    FIRST,
    LATER,
    OTHER,
    PLANS,
    PROJECT,
    SAID,
    TODAY,
    vines_of_row,
)


def answered(project=PROJECT, plans=PLANS):
    return PlantingCounter().answer(PlantingRequest(1, project, plans, TODAY))


def table_of(tmp_path, answer, unit="m") -> list[dict]:
    path = tmp_path / "row-table.csv"
    write_row_table_csv(path, row_table(answer, unit))
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def with_planting(**said):
    return replace(PROJECT, planting=replace(PROJECT.planting, **said))


def test_a_line_a_segment_has_its_end_posts_in_the_survey_grid_and_its_length_on_the_ground(
    tmp_path,
):
    lines = table_of(tmp_path, answered())
    assert len(lines) == sum(p.n_segments for p in PLANS)
    to_utm = Transformer.from_crs(frame_crs(PROJECT.site.frame), 32633, always_xy=True)
    at = 0
    for plan in PLANS:
        s = plan.segments
        for i in range(plan.n_segments):
            line, ends = lines[at], plan.segment_ends_m[i]
            code = segment_code(plan.block.name, int(s.number[i]), int(s.letter[i]))
            assert line["code"] == code
            assert (line["block"], int(line["row"]), line["segment"]) == (plan.block.name, s.number[i], "A")  # fmt: skip
            east, north = to_utm.transform(*ends.T)
            told = [float(line[f"{end}_{axis}_m"]) for axis in ("easting", "northing") for end in ("start", "far")]  # fmt: skip
            assert told == pytest.approx([*east, *north], abs=6e-4)
            assert float(line["length_m"]) == pytest.approx(np.hypot(*(ends[1] - ends[0])), abs=6e-3)  # fmt: skip
            assert int(line["vines"]) == plan.vines_of_segment[i]
            assert (line["first_vine"], line["last_vine"]) == ("1", str(plan.vines_of_segment[i]))
            at += 1


def test_feet_have_a_column_of_their_own_and_metres_stay(tmp_path):
    line = table_of(tmp_path, answered(), "ft")[0]
    assert float(line["length_ft"]) * 0.3048 == pytest.approx(float(line["length_m"]), abs=6e-3)
    assert "length_ft" not in table_of(tmp_path, answered())[0]


def test_plants_lots_and_trays_are_told_row_by_row_and_mixed_rows_with_their_numbers(tmp_path):
    mixed = Assignment((Part("B1", 1, 1, every_vine=9),), OTHER, "27-B", "pollinator")
    planting = PROJECT.planting
    lots = (replace(FIRST, tray=25), replace(planting.lots[1], tray=10), planting.lots[2])
    answer = answered(with_planting(lots=lots, assignments=(*planting.assignments, mixed)))
    lines = {line["code"]: line for line in table_of(tmp_path, answer)}
    row = next(line for code, line in lines.items() if code.startswith("B1-R001"))
    n = int(row["vines"])
    others = len(range(1, n + 1, 9))
    assert row["plants"] == f"{FIRST.plant}: {n - others}; {OTHER}: {others}"
    assert row["lots"] == f"27-A: {n - others}; 27-B: {others}"
    assert int(row["trays_alone"]) == -(-(n - others) // 25) + -(-others // 10)
    whole = next(line for code, line in lines.items() if code.startswith("B1-R002"))
    assert (whole["plants"], whole["lots"]) == (str(FIRST.plant), "27-A")
    untold = next(line for code, line in lines.items() if code.startswith("Old Mill-R004"))
    assert (untold["lots"], untold["trays_alone"]) == ("27-C", "")
    bare = next(line for code, line in lines.items() if code.startswith("Old Mill-R005"))
    assert (bare["plants"], bare["lots"], bare["trays_alone"]) == ("", "", "")


def test_what_is_on_record_is_counted_and_what_stands_there_goes_before_what_was_assigned(tmp_path):
    lines = table_of(tmp_path, answered())
    assert {line["planted"] for line in lines} == {""}
    row = vines_of_row(2)
    known = with_planted(PROJECT, PLANS, row, DAY, **SAID)
    known = with_loss(known, PLANS, row[:3], "dead", "frost", LATER, **SAID)
    known = with_loss(known, PLANS, row[3:5], "missing", "", LATER, **SAID)
    known = with_replanted(known, PLANS, row[:1], LATER, lot="27-B", **SAID)
    lines = {line["code"]: line for line in table_of(tmp_path, answered(known))}
    line, n = lines["B1-R002A"], len(row)
    assert [int(line[k]) for k in ("planted", "missing", "dead")] == [n - 4, 2, 2]
    assert line["lots"] == f"27-A: {n - 1}; 27-B: 1"
    assert [int(lines["B1-R001A"][k]) for k in ("planted", "missing", "dead")] == [0, 0, 0]


def test_sets_stand_beside_rows_where_water_is_known(tmp_path):
    answer = answered()
    n = sum(p.n_segments for p in PLANS)
    answer = replace(answer, set_of_segment=np.array([0, *range(1, n)]))
    assert [line["set"] for line in table_of(tmp_path, answer)] == ["", *map(str, range(1, n))]


TAGS = (
    Tag("27-B", "SAP 27", "Saperavi", "", "SO4", plants=20, recorded=TODAY, by="Mara"),
    Tag("27-A", "=GV/3", "Grüner Veltliner", "GV 3", "5BB", grafted=datetime.date(2026, 12, 1), recorded=TODAY),
    Tag("27-A", "smudged", "", "", "", struck="cannot be read"),
)  # fmt: skip


def test_the_register_of_lots_reads_back_as_it_was_written_tags_and_all(tmp_path):
    lots = (replace(FIRST, nursery="north, field", references="Test 27/113; virus free", tray=25, rejected=12,
                    ordered=390, attachments=("a.jpg",)), *PROJECT.planting.lots[1:])  # fmt: skip
    known = with_planting(lots=lots, tags=TAGS)
    path = tmp_path / "lots.csv"
    assert write_lots_csv(path, lot_register(answered(known))) == len(lots) + len(TAGS)
    found = read_lots_csv(path)
    assert found.problems == ()
    assert found.lots == lots
    tags = read_tags_csv(path, replace(known, planting=replace(known.planting, tags=())))
    assert tags.problems == ()
    by_lot = sorted(TAGS, key=lambda t: t.lot)
    assert [(t.lot, t.text.lstrip("'"), t.plants, t.struck) for t in tags.tags] == [
        (t.lot, t.text, t.plants, t.struck) for t in by_lot
    ]
    text = path.read_text(encoding="utf-8")
    assert text.startswith(",".join(LOTS_COLUMNS))
    assert "'=GV/3" in text  # no spreadsheet takes it for a formula


def test_the_register_tells_what_is_left_and_what_stands(tmp_path):
    row = vines_of_row(2)
    known = with_planted(with_planting(tags=TAGS), PLANS, row, DAY, **SAID)
    known = with_loss(known, PLANS, row[:3], "dead", "frost", LATER, **SAID)
    write_lots_csv(tmp_path / "lots.csv", lot_register(answered(known)))
    with open(tmp_path / "lots.csv", newline="", encoding="utf-8") as file:
        lines = {line["name"]: line for line in csv.DictReader(file) if line["line"] == "lot"}
    first = lines["27-A"]
    assert int(first["assigned_vines"]) == PLANS[0].n_vines
    assert int(first["left"]) == 400 - PLANS[0].n_vines
    assert int(first["standing_vines"]) == len(row) - 3
    assert (first["tags"], first["all_tags_recorded"]) == ("1", "yes")
    assert lines["27-C"]["all_tags_recorded"] == "no"


def test_a_lot_that_is_on_record_alone_is_still_told(tmp_path):
    known = with_planted(PROJECT, PLANS, vines_of_row(2), DAY, **SAID)
    gone = replace(known, planting=replace(known.planting, lots=known.planting.lots[1:]))
    register = lot_register(answered(gone))
    assert register.others == (("27-A", str(FIRST.plant), len(vines_of_row(2))),)
    write_lots_pdf(tmp_path / "lots.pdf", register, resource("fonts"))
    with pdfplumber.open(tmp_path / "lots.pdf") as pdf:
        text = " ".join(page.extract_text() for page in pdf.pages)
    assert "On record at the vines, and in no list of lots any more" in text


def test_lots_on_paper_have_all_tags_embedded_type_and_stay_on_the_page(tmp_path):
    many = tuple(replace(TAGS[0], text=f"SAP 27 number {i}") for i in range(120))
    known = with_planting(tags=(*many, *TAGS))
    path = tmp_path / "lots.pdf"
    count = write_lots_pdf(path, lot_register(answered(known)), resource("fonts"))
    with pdfplumber.open(path) as pdf:
        assert len(pdf.pages) == count > 2
        text = " ".join(page.extract_text() for page in pdf.pages)
        chars = [c for page in pdf.pages for c in page.chars]
        right, foot = float(pdf.pages[0].width), float(pdf.pages[0].height)
    for i in range(120):
        assert f"SAP 27 number {i}" in text
    assert "smudged (does not count: cannot be read)" in text
    assert all(re.match(r"[A-Z]{6}\+", c["fontname"]) for c in chars)
    assert max(c["x1"] for c in chars) < right - 33
    assert max(c["bottom"] for c in chars) < foot - 28


def test_without_lots_the_register_says_what_to_do(tmp_path):
    none = replace(PROJECT, planting=None)
    write_lots_pdf(tmp_path / "lots.pdf", lot_register(answered(none)), resource("fonts"))
    with pdfplumber.open(tmp_path / "lots.pdf") as pdf:
        assert "No lot is in the register yet" in pdf.pages[0].extract_text()
    assert write_lots_csv(tmp_path / "lots.csv", lot_register(answered(none))) == 0
