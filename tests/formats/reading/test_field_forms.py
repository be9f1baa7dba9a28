"""Filled forms as they come back: every spreadsheet's habits, people's ways to write, and damage."""

from __future__ import annotations

import datetime
import sqlite3

import numpy as np
import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.core.model.planting import CHECKS
from layoutdesk.formats.field_form import COLUMNS_OF, FORM_COLUMNS
from layoutdesk.formats.reading.day_cells import read_days
from layoutdesk.formats.reading.field_forms import (
    NOT_LOOKED_AT,
    RIGHT,
    UNREAD,
    WRONG,
    meanings_of,
    read_form,
)

DAY = datetime.date(2027, 4, 1)
FIRM = list(CHECKS).index("firm")
PLAIN = "code,date,firm,note\nB1-R012A-V034,2027-04-01,1,fine\nB1-R012A-V035,2027-04-01,0,\n"


def form(tmp_path, text: str | bytes, name="form.csv"):
    path = tmp_path / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_form(path)


def days(found):
    return [datetime.date.fromordinal(d) if d > 0 else None for d in found.days.ordinal.tolist()]


def of(column: str, *cells: str, tmp_path):
    """A form with one column beside the code, one line a cell."""
    lines = [f'B1-R001A-V{i:03d},"{cell}"' for i, cell in enumerate(cells, 1)]
    return form(tmp_path, "\n".join([f"code,{column}", *lines]))


@pytest.mark.parametrize(
    "data",
    [
        PLAIN.encode(),
        b"\xef\xbb\xbf" + PLAIN.encode(),
        PLAIN.encode("utf-16"),
        PLAIN.encode("utf-16-le"),
        PLAIN.encode("utf-16-be"),
        PLAIN.replace("\n", "\r\n").encode(),
        PLAIN.replace("\n", "\r").encode(),
        PLAIN.replace(",", ";").encode(),
        PLAIN.replace(",", "\t").encode(),
        PLAIN.replace(",", "|").encode(),
        ("sep=;\n" + PLAIN.replace(",", ";")).encode(),
        ("Inspection of block 1;;;\n\n" + PLAIN.replace(",", ";")).encode(),
        PLAIN.replace("code,date", "Code ,DATE").encode(),
        PLAIN.replace(",firm,", ',"Firm (1/0)",').encode(),
        ('"' + PLAIN.strip().replace(",", '","').replace("\n", '"\n"') + '"').encode(),
    ],
    ids=[
        "plain", "bom", "utf-16", "utf-16-le", "utf-16-be", "crlf", "cr", "semicolon", "tab", "bar", "sep",
        "title", "case", "unit", "quoted",
    ],
)  # fmt: skip
def test_one_form_reads_alike_through_every_spreadsheet(tmp_path, data):
    found = form(tmp_path, data)
    assert found.block == ["B1", "B1"]
    assert found.row.tolist() == [12, 12]
    assert found.letter.tolist() == [0, 0]
    assert found.vine.tolist() == [34, 35]
    assert days(found) == [DAY, DAY]
    assert found.checks[:, FIRM].tolist() == [RIGHT, WRONG]
    assert found.note == ["fine", ""]
    assert not found.why


def test_an_older_windows_encoding_is_read_and_told(tmp_path):
    found = form(tmp_path, "code;state;lot_planted\nB1-R1A-V1;planted;Grüner 7\n".encode("cp1252"))
    assert found.cells["lot_planted"] == ["Grüner 7"]
    assert "older Windows encoding" in found.remarks[0]


def test_columns_of_our_own_forms_are_known_by_their_names():
    for columns in COLUMNS_OF.values():
        assert meanings_of([c.name for c in columns]) == [c.meaning for c in columns]
    words = [CHECKS[c.name] for c in FORM_COLUMNS if c.name in CHECKS]
    assert meanings_of(words) == list(CHECKS)


@pytest.mark.parametrize(
    "text",
    [
        "B1-R012A-V034", "b1-r12a-v34", "B1 R12A V34", "B1_R012A_V034", "B1–R012A–V034", " B1-R012A-V034 ",
        "B1-R12 A-V34", "B1 row 12A vine 34", "'B1-R012A-V034", "B1-R0012A-V0034", "B1.R012A.V034",
    ],
)  # fmt: skip
def test_codes_are_read_as_people_write_them(tmp_path, text):
    found = form(tmp_path, f"code,firm\n{text},1\n")
    named = (found.block[0], int(found.row[0]), int(found.letter[0]), int(found.vine[0]))
    assert named == ("B1", 12, 0, 34)
    assert not found.why


def test_blocks_with_names_of_their_own_and_segments_far_in_the_alphabet(tmp_path):
    found = form(tmp_path, "code,firm\nOld Mill-R003AB-V007,1\nRiver R5-R012V-V001,1\nB1-R7-V2,1\n")
    assert found.block == ["OLD MILL", "RIVER R5", "B1"]
    assert found.letter.tolist() == [27, 21, -1]


@pytest.mark.parametrize(
    "text", ["B1-R012A", "B1-R012A-L03", "12", "V034", "=SUM(A1)", "B1-RxA-V1"]
)
def test_what_is_no_code_of_a_vine_says_so_and_the_next_line_is_read(tmp_path, text):
    found = form(tmp_path, f"code,firm\n{text},1\nB1-R001A-V001,1\n")
    assert list(found.why) == [0]
    assert "no code of a vine" in found.why[0]
    assert found.vine.tolist() == [-1, 1]


def test_vines_are_known_without_a_code_by_block_row_segment_and_number(tmp_path):
    found = form(tmp_path, "Block;Row;Segment;Vine;Firm\nB1;12;a;34;yes\n;3,0;;4;no\nB1;x;A;1;1\n")
    assert found.block[:2] == ["B1", ""]
    assert found.row[:2].tolist() == [12, 3]
    assert found.letter[:2].tolist() == [0, -1]
    assert found.vine[:2].tolist() == [34, 4]
    assert found.code[0] == "B1-R12a-V34"
    assert "no vine is named" in found.why[2]


def test_codes_that_were_sorted_apart_from_their_lines_are_found_out(tmp_path):
    found = form(tmp_path, "code,row,vine,firm\nB1-R001A-V002,1,1,1\nB1-R001A-V002,1,2,1\n")
    assert "name two vines" in found.why[0]
    assert 1 not in found.why


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2027-04-01", DAY), ("2027/4/1", DAY), ("20270401", DAY), ("1.4.2027", DAY), ("01.04.2027", DAY),
        ("2027-04-01T08:30:00Z", DAY), ("2027-04-01 08:30", DAY), ("1 April 2027", DAY), ("1-Apr-2027", DAY),
        ("April 1, 2027", DAY), ("46478", DAY), ("46478.354", DAY), ("46478,5", DAY), ("1st Apr. 2027", DAY),
        ("4/4/2027", datetime.date(2027, 4, 4)), ("29.2.2028", datetime.date(2028, 2, 29)),
    ],
)  # fmt: skip
def test_days_are_read_in_every_habit(tmp_path, text, day):
    # 46478: a spreadsheet counts days from 1 January 1900 as 1, and has a 29 February 1900 (ECMA-376)
    assert days(of("firm,date", f'1","{text}', tmp_path=tmp_path)) == [day]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("29.2.2027", "no day of the calendar"), ("1/4/27", "a year of two figures"),
        ("1-Apr-27", "a year of two figures"), ("soon", "is no day"), ("2027-13-01", "no day of the calendar"),
        ("123", "is no day"), ("1/4/2027", "can be 1 April or 4 January, and no other line tells which"),
    ],
)  # fmt: skip
def test_days_that_mean_nothing_or_two_things_say_so(tmp_path, text, words):
    found = of("firm,date", f'1","{text}', tmp_path=tmp_path)
    assert days(found) == [None]
    assert words in found.why[0]


@pytest.mark.parametrize(
    ("cells", "read"),
    [
        (["1/4/2027", "13/4/2027"], ["2027-04-01", "2027-04-13"]),
        (["4/1/2027", "4/13/2027"], ["2027-04-01", "2027-04-13"]),
        (["1-4-2027", "2027-04-09", "31-12-2026"], ["2027-04-01", "2027-04-09", "2026-12-31"]),
        (["1/4/2027", "13/4/2027", "4/13/2027"], [None, "2027-04-13", "2027-04-13"]),
    ],
)
def test_the_whole_column_decides_the_order_of_day_and_month(cells, read):
    found = read_days(cells)
    shown = [str(datetime.date.fromordinal(d)) if d > 0 else None for d in found.ordinal.tolist()]
    assert shown == read


def test_the_order_that_was_taken_is_told_of_the_form(tmp_path):
    found = of("firm,date", '1","1/4/2027', '1","13/4/2027', tmp_path=tmp_path)
    assert "Days are read day first" in found.remarks[-1]


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        *((t, RIGHT) for t in ("1", "yes", "Y", "TRUE", "✓", "ok", "OK.", "1.0", "1,0", " 1 ")),
        *((t, WRONG) for t in ("0", "no", "N", "False", "not ok", "0,0")),
        *((t, NOT_LOOKED_AT) for t in ("", "-", "n/a", " ")),
        *((t, UNREAD) for t in ("2", "maybe", "10")),
    ],
)
def test_cells_of_checks_are_yes_no_or_not_looked_at(tmp_path, text, meaning):
    found = of("firm", text, tmp_path=tmp_path)
    # an empty check leaves a line with a code alone
    assert found.checks[0, FIRM] == meaning
    assert (0 in found.why) == (meaning == UNREAD)


@pytest.mark.parametrize(
    ("others", "meaning"), [(["0"], RIGHT), (["1"], WRONG), (["1", "0"], UNREAD), ([""], UNREAD)]
)
def test_a_cross_is_a_tick_or_the_opposite_as_other_cells_show(tmp_path, others, meaning):
    found = of("firm", "x", *others, tmp_path=tmp_path)
    assert found.checks[0, FIRM] == meaning
    assert ("can be a tick or a cross" in found.why.get(0, "")) == (meaning == UNREAD)
    assert any("A cross is read as" in words for words in found.remarks) == (meaning != UNREAD)


def test_a_word_for_reworked_that_is_no_yes_is_told(tmp_path):
    found = of("reworked", "x", "", "tomorrow", tmp_path=tmp_path)
    assert list(found.why) == [2]


@pytest.mark.parametrize(
    ("text", "state"),
    [("Planted", "planted"), ("DEAD ", "dead"), ("planted again", "replanted"), ("gap", "missing"),
     ("not_planted", "not planted"), ("", ""), ("sick", None)],
)  # fmt: skip
def test_states_are_read_by_their_words(tmp_path, text, state):
    found = of("state", text, tmp_path=tmp_path)
    assert found.state == [state]
    assert (0 in found.why) == (state is None)


def test_columns_in_any_order_and_unknown_ones_are_kept_as_notes(tmp_path):
    found = form(tmp_path, "Firm,Weather,Remarks,CODE,Soil\n1,windy,stake split,B1-R1A-V1,wet\n")
    assert found.note == ["stake split; Weather: windy; Soil: wet"]
    assert "kept as notes: Weather, Soil" in found.remarks[0]


def test_a_comma_in_a_cell_without_quotation_marks_is_told_and_nothing_is_lost(tmp_path):
    found = form(tmp_path, "code,firm,note\nB1-R1A-V1,1,loose, wet\nB1-R1A-V2,1,\n")
    assert "4 cells under 3 names" in found.why[0]
    assert found.rows[0] == ["B1-R1A-V1", "1", "loose,wet"]
    assert 1 not in found.why


def test_an_open_quotation_mark_swallows_no_lines(tmp_path):
    lines = ['B1-R1A-V1,1,"loose', "B1-R1A-V2,0,", 'B1-R1A-V3,1,"', "B1-R1A-V4,1,"]
    found = form(tmp_path, "\n".join(["code,firm,note", *lines]))
    assert found.line.tolist() == [2, 3, 4, 5]
    assert found.vine[[1, 3]].tolist() == [2, 4]
    assert list(found.why) == [0, 2]


def test_a_note_of_several_lines_stays_one_cell_and_lines_are_counted_on(tmp_path):
    found = form(tmp_path, 'code,firm,note\nB1-R1A-V1,1,"loose,\nwet"\n\nB1-R1A-V2,1,\n')
    assert found.line.tolist() == [2, 5]
    assert found.note[0] == "loose,\nwet"


def test_short_lines_and_blank_ones_are_no_trouble(tmp_path):
    found = form(tmp_path, "code,firm,note\nB1-R1A-V1,1\n,,\n;\n\nB1-R1A-V2\n")
    assert found.checks[:, FIRM].tolist() == [RIGHT, NOT_LOOKED_AT, NOT_LOOKED_AT]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"\r\n\r\n", "is empty"),
        (b"PK\x03\x04rest", "a workbook or archive; save its table as CSV"),
        (b"%PDF-1.7", "a PDF"),
        (bytes(range(256)) * 20, "no text file"),
        (b"a,b\n1,2\n", "no line that names its columns"),
        (b"firm,date\n1,2027-04-01\n", "no column that names vines"),
        (b"code,date\nB1-R1A-V1,2027-04-01\n", "no column that says what was seen"),
    ],
)
def test_files_that_are_no_form_are_refused_with_one_sentence(tmp_path, data, words):
    with pytest.raises(InputProblem, match=words):
        form(tmp_path, data)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(InputProblem, match="away.csv cannot be read"):
        read_form(tmp_path / "away.csv")


def geopackage(tmp_path, rows, crs="EPSG:4326", columns=("code", "date", "firm", "weather")):
    """A GeoPackage as another program writes it."""
    import geopandas

    path = tmp_path / "form.gpkg"
    x = [16.0 + 1e-5 * i for i in range(len(rows))]
    points = geopandas.points_from_xy(x, [48.3] * len(rows))
    table = {name: [row[k] for row in rows] for k, name in enumerate(columns)}
    frame = geopandas.GeoDataFrame(table, geometry=points, crs=crs)
    frame.to_file(path, layer="seen", driver="GPKG")
    return path


def test_a_geopackage_that_another_program_wrote_reads_like_the_table(tmp_path):
    rows = [("B1-R012A-V034", DAY, True, "dry"), ("b1-r12a-v35", DAY, False, None)]
    found = read_form(geopackage(tmp_path, rows))
    assert found.vine.tolist() == [34, 35]
    assert days(found) == [DAY, DAY]
    assert found.checks[:, FIRM].tolist() == [RIGHT, WRONG]
    assert found.note == ["weather: dry", ""]
    assert found.places_in == "EPSG:4326"
    assert found.places == pytest.approx(np.array([[16.0, 48.3], [16.00001, 48.3]]))


def test_numbers_and_nothing_in_a_geopackage_are_read_as_cells(tmp_path):
    columns = ("block", "row", "segment", "vine", "firm")
    found = read_form(geopackage(tmp_path, [("B1", 3.0, "A", 4, 1.0)], columns=columns))
    assert (found.row[0], found.vine[0], found.checks[0, FIRM]) == (3, 4, RIGHT)
    again = read_form(geopackage(tmp_path, [("B1", 3.0, "A", 4, None)], columns=columns))
    assert again.checks[0, FIRM] == NOT_LOOKED_AT


def test_a_geopackage_without_a_form_and_a_damaged_one_are_refused(tmp_path):
    with pytest.raises(InputProblem, match="holds no form"):
        read_form(geopackage(tmp_path, [("x",)], columns=("name",)))
    path = tmp_path / "broken.gpkg"
    path.write_bytes(
        geopackage(tmp_path, [("B1-R1A-V1", 1)], columns=("code", "firm")).read_bytes()[:5000]
    )
    with pytest.raises(InputProblem, match="broken.gpkg"):
        read_form(path)


def test_a_project_is_no_form(tmp_path):
    with sqlite3.connect(tmp_path / "site.gpkg") as db:
        db.execute("CREATE TABLE layoutdesk_document (json TEXT)")
    db.close()
    with pytest.raises(InputProblem, match="is a project and no form"):
        read_form(tmp_path / "site.gpkg")
