"""The files of a comparison, read back by readers that are not ours."""

from __future__ import annotations

import csv
import datetime
import json
import math
import re

import numpy as np
import openpyxl
import pdfplumber
import pytest
import shapely
from pdfminer.pdftypes import resolve1

from layoutdesk.core.compare.catalogue import GROUP_TITLES, MEASURES
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import (
    Block,
    Candidate,
    Exclusion,
    InputProblem,
    Project,
    RowRules,
    Site,
    SiteFrame,
    Study,
)
from layoutdesk.formats.compareset import COLUMNS
from layoutdesk.session import compare_files
from layoutdesk.session.compare_files import write_compare_file, write_compare_set
from layoutdesk.session.comparing import Comparer, CompareRequest

DAY = datetime.date(2031, 5, 6)
KNOWN_EDGE_M = 300.0
"""Between the corners (300, 160) and (60, 340): 240 by 180, sides 4 and 3 of a triangle of 5."""
ROW_COLOUR = (0x4B / 255, 0x6F / 255, 0x62 / 255)
CANDIDATES = (
    Candidate(0.0),
    Candidate(90.0, note="=1+1"),
    Candidate(96.0, row_spacing_m=2.2, vine_spacing_m=1.2, name="close & low"),
)


def project_with(*candidates, base=0) -> Project:
    outline = shapely.Polygon([(10, 0), (300, 0), (300, 160), (60, 340)])
    block = Block("B1", outline, RowRules(bearing_deg=20.0))
    pond = Exclusion(shapely.Point(180, 120).buffer(20), 5.0, kind="pond")
    site = Site(SiteFrame(-34.5, 138.7, 90.0), "EPSG:32754", "EPSG:32754")
    study = Study(candidates=tuple(candidates), base=base, short_row_m=60.0)
    return Project("Two Gums", site, (block,), (pond,), study=study)


@pytest.fixture(scope="module")
def answer():
    return Comparer().answer(CompareRequest(0, project_with(*CANDIDATES, base=1), None))


@pytest.fixture(scope="module")
def folder(tmp_path_factory, answer):
    path = tmp_path_factory.mktemp("compared")
    write_compare_set(path, answer, day=DAY)
    return path


@pytest.fixture(scope="module")
def facts(folder) -> dict:
    return json.loads((folder / "compare.json").read_text(encoding="utf-8"))


def test_every_candidate_has_the_counts_of_its_own_layout(facts, answer):
    block, exclusions = answer.project.blocks[0], answer.project.exclusions
    for candidate, found in zip(CANDIDATES, facts["candidates"], strict=True):
        plan = lay_rows(candidate.block_of(block), None, exclusions)
        assert found["vines"] == plan.n_vines
        assert found["rows"] == plan.n_rows
        assert found["segments"] == plan.n_segments
        assert found["end_posts"] == len(plan.end_posts)
        assert found["row_length_m"] == pytest.approx(plan.row_length_m, abs=1e-6)
        assert found["bearing_deg"] == candidate.bearing_deg
        assert found["first_row_m"] == plan.first_row_m
        assert found["blocks"][0]["vines"] == plan.n_vines
    assert facts["candidates"][2]["row_spacing_m"] == 2.2


def test_json_says_what_it_counts_by_and_leaves_out_what_is_not_known(facts):
    assert facts["base"] == 1
    assert facts["revision"] in facts["statement"]
    assert set(facts["measures"]) == set(MEASURES)
    assert facts["measures"]["short_rows"]["better"] == "less"
    assert facts["limits"]["short_row_m"] == 60.0
    assert facts["terrain"] is None
    for candidate in facts["candidates"]:
        assert "grade_along_max_pct" not in candidate
        assert "posts_cost" not in candidate
    most = max(c["vines"] for c in facts["candidates"])
    assert [facts["candidates"][i]["vines"] for i in facts["best"]["vines"]] == [most]
    assert facts["sun"]["months"] == [10, 11, 12, 1, 2, 3, 4]
    assert len(facts["curves"]["vines"]) == len(facts["curves"]["bearing_deg"])


def test_csv_has_the_figures_of_the_json_as_plain_numbers(folder, facts):
    with (folder / "compare.csv").open(newline="", encoding="utf-8") as file:
        header, *rows = csv.reader(file)
    assert tuple(header) == COLUMNS
    assert len(rows) == len(CANDIDATES)
    for row, candidate in zip(rows, facts["candidates"], strict=True):
        cells = dict(zip(header, row, strict=True))
        for name in (*MEASURES, "bearing_deg", "row_spacing_m", "first_row_m"):
            known = candidate.get(name)
            assert cells[name] == ("" if known is None else str(known)), name
    assert rows[1][header.index("note")] == "'=1+1"  # no formula in a spreadsheet


def test_xlsx_marks_the_best_and_counts_differences_from_the_base_it_names(folder, facts):
    sheet = openpyxl.load_workbook(folder / "compare.xlsx")["Candidates"]
    shown = openpyxl.load_workbook(folder / "compare.xlsx", data_only=True)["Candidates"]
    labels = [c.value for c in sheet["A"]]
    row = labels.index("Vines") + 1
    again = labels.index("Vines", row) + 1
    vines = [c["vines"] for c in facts["candidates"]]
    assert [sheet.cell(row, 4 + i).value for i in range(3)] == vines
    bold = [i for i in range(3) if sheet.cell(row, 4 + i).font.bold]
    assert bold == facts["best"]["vines"]
    assert sheet["B4"].value == 2  # the base, counted from one
    for i in range(3):
        own = f"{'DEF'[i]}{row}"
        assert sheet.cell(again, 4 + i).value == (
            f"=IF(AND(ISNUMBER({own}),ISNUMBER(INDEX($D{row}:$F{row},1,$B$4))),"
            f'{own}-INDEX($D{row}:$F{row},1,$B$4),"")'
        )
        assert shown.cell(again, 4 + i).value == vines[i] - vines[1]
    assert "=1+1" in [c.value for line in shown.iter_rows() for c in line]  # a note stays a note


def test_xlsx_has_definitions_curves_with_a_chart_and_what_it_is_about(folder, facts):
    book = openpyxl.load_workbook(folder / "compare.xlsx")
    assert book.sheetnames == ["Candidates", "Definitions", "Curves", "About"]
    definitions = {r[3].value: r[4].value for r in book["Definitions"].iter_rows(min_row=2)}
    assert definitions["end_posts"] == MEASURES["end_posts"].definition
    curves = book["Curves"]
    assert curves.max_row == 1 + len(facts["curves"]["bearing_deg"])
    assert len(curves._charts) >= 3
    about = " ".join(c.value or "" for c in book["About"]["A"])
    assert facts["revision"] in about
    assert "buried services" in about


def on_page_pt(page) -> list[float]:
    """Lengths of all pieces of the paths on a page. [pt]"""
    lengths = []
    for curve in page.curves:
        points = np.array(curve["pts"])
        lengths += np.hypot(*np.diff(points, axis=0).T).tolist()
    return lengths


def test_pdf_draws_a_known_edge_at_the_scale_it_states(folder):
    with pdfplumber.open(folder / "compare.pdf") as pdf:
        page = pdf.pages[0]
        ratio = float(re.search(r"1 : (\d+)", page.extract_text())[1])
        wanted = KNOWN_EDGE_M / ratio * 1000 / 25.4 * 72
        close = [x for x in on_page_pt(page) if math.isclose(x, wanted, rel_tol=1e-3)]
        assert len(close) == len(CANDIDATES)  # once in every plan, all at one scale
        named = re.search(r"(A\d) printed at its full size", page.extract_text())[1]
        # ISO 216 (2007): A4 is 210 by 297 mm, A3 297 by 420
        size = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}[named]
        on_paper = sorted(float(x) / 72 * 25.4 for x in (page.width, page.height))
        assert on_paper == pytest.approx(size, abs=0.01)


def rows_on_page(page) -> list[tuple[float, float]]:
    """Length and distance from the page's corner of every line in the colour of rows, but arrows. [mm]"""
    found = []
    for line in page.lines:
        (x0, y0), (x1, y1) = line["pts"]
        length = math.hypot(x1 - x0, y1 - y0)
        thin = line["linewidth"] < 0.3 / 25.4 * 72
        if thin and line["stroking_color"] == pytest.approx(ROW_COLOUR, abs=2e-3):
            away = abs((x1 - x0) * y0 - (y1 - y0) * x0) / length
            found.append((length / 72 * 25.4, away / 72 * 25.4))
    return found


def test_pdf_draws_every_row_or_says_which_it_leaves_out(folder, answer):
    with pdfplumber.open(folder / "compare.pdf") as pdf:
        page = pdf.pages[0]
        ratio = float(re.search(r"1 : (\d+)", page.extract_text())[1])
        every = re.search(r"One row in (\d+) drawn", page.extract_text())
        drawn = rows_on_page(page)
    every = int(every[1]) if every else 1
    plans = [p for r in answer.results for p in r.plans]
    wanted = [p.segments.length_m[p.segments.line % every == 0] for p in plans]
    assert len(drawn) == sum(map(len, wanted)) > 100
    length_m = sum(length for length, _ in drawn) * ratio / 1000
    assert length_m == pytest.approx(sum(x.sum() for x in wanted), rel=1e-4)


def test_pdf_embeds_its_typefaces_and_no_other(folder):
    names = set()
    with pdfplumber.open(folder / "compare.pdf") as pdf:
        for page in pdf.pages:
            for font in resolve1(page.page_obj.resources["Font"]).values():
                font = resolve1(font)
                names.add(font["BaseFont"].name.partition("+")[2])
                assert "FontFile2" in resolve1(font["FontDescriptor"])
    assert names == {
        "Inter-Regular",
        "Inter-SemiBold",
        "SourceSerif4-Regular",
        "SourceSerif4-SemiBold",
    }


def test_pdf_says_everything_in_words(folder, facts):
    with pdfplumber.open(folder / "compare.pdf") as pdf:
        texts = [p.extract_text() for p in pdf.pages]
    count = len(texts)
    for number, text in enumerate(texts, 1):
        assert f"page {number} of {count}" in text
        assert f"Revision {facts['revision']}, 2031-05-06" in text
    assert "000.0°" in texts[0]
    assert "close & low" in texts[0]
    assert "True north" in texts[0]
    whole = " ".join(" ".join(texts).split())
    for said in ("difference from the base", "buried services", "Rows run at", "combined factor"):
        assert said in whole
    vines = f"{facts['candidates'][0]['vines']:,}".replace(",", "\u202f")
    assert vines in whole.replace(" ", "\u202f")


def test_of_many_candidates_the_pdf_draws_some_and_says_so(tmp_path):
    swept = [Candidate(float(b)) for b in range(0, 180, 15)]
    answer = Comparer().answer(CompareRequest(0, project_with(*swept, base=3), None))
    write_compare_set(tmp_path, answer, day=DAY)
    with pdfplumber.open(tmp_path / "compare.pdf") as pdf:
        heads = [
            w["text"] for w in pdf.pages[0].extract_words(extra_attrs=["size"]) if w["size"] > 11
        ]
        second = pdf.pages[1].extract_text()
    drawn = [w for w in heads if re.fullmatch(r"\d{3}\.0°", w)]
    assert 2 <= len(drawn) <= 6
    assert "045.0°" in drawn  # the base
    assert f"{12 - len(drawn)} more candidates" in second


def test_the_same_comparison_gives_the_same_files(folder, answer, tmp_path):
    write_compare_set(tmp_path, answer, day=DAY)
    for name in compare_files.FILES:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_feet_get_a_scale_of_feet_an_inch_and_files_for_programs_stay_metric(answer, tmp_path):
    found = write_compare_set(tmp_path, answer, unit="ft", day=DAY)
    with pdfplumber.open(tmp_path / "compare.pdf") as pdf:
        assert re.search(r"1 in = \d+ ft", pdf.pages[0].extract_text())
    sheet = openpyxl.load_workbook(tmp_path / "compare.xlsx")["Candidates"]
    (row,) = (r for r in sheet.iter_rows(max_row=20) if r[0].value == "Row length")
    assert row[1].value == "ft"
    length_m = found["candidates"][0]["row_length_m"]
    assert row[3].value == pytest.approx(length_m / 0.3048)
    assert found["candidates"][0]["row_length_m"] == pytest.approx(
        answer.results[0].plans[0].row_length_m
    )


def test_a_set_that_cannot_be_finished_leaves_what_was_there(answer, tmp_path, monkeypatch):
    write_compare_set(tmp_path, answer, day=DAY)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}

    def full(path, compare, unit):
        path.write_bytes(b"%PDF")
        raise OSError(28, "No space left on device")

    monkeypatch.setitem(compare_files._WRITERS, ".pdf", full)
    with pytest.raises(InputProblem, match="no space left"):
        write_compare_set(tmp_path, answer, day=DAY)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_one_file_alone_is_told_by_the_end_of_its_name(folder, answer, tmp_path):
    write_compare_file(tmp_path / "Plan A.CSV", answer, day=DAY)
    assert (tmp_path / "Plan A.CSV").read_bytes() == (folder / "compare.csv").read_bytes()
    with pytest.raises(InputProblem, match=r"plan\.docx says no format"):
        write_compare_file(tmp_path / "plan.docx", answer, day=DAY)
    assert [p.name for p in tmp_path.iterdir()] == ["Plan A.CSV"]


def test_table_names_its_groups_and_nothing_is_too_small_or_off_the_page(folder):
    with pdfplumber.open(folder / "compare.pdf") as pdf:
        table = pdf.pages[1].extract_text().splitlines()
        for page in pdf.pages:
            for char in page.chars:
                assert char["size"] >= 6.5 - 1e-6
                assert char["x0"] >= 12 / 25.4 * 72 - 1
                assert char["x1"] <= page.width - 12 / 25.4 * 72 + 1
                assert char["bottom"] <= page.height - 12 / 25.4 * 72 + 3
    assert [t for t in table if t in ("Rules", *GROUP_TITLES.values())] == [
        "Rules",
        "Rows",
        "Sun on the hedge",
    ]


def test_pdf_says_who_is_beaten_and_what_that_means(folder, answer):
    beaten = [i for i, b in enumerate(answer.beaten.tolist()) if b >= 0]
    assert beaten
    with pdfplumber.open(folder / "compare.pdf") as pdf:
        first, second = (" ".join(p.extract_text().split()) for p in pdf.pages[:2])
        whole = " ".join(" ".join(p.extract_text() for p in pdf.pages).split())
    assert first.count("beaten by") == len(beaten)
    assert "at least as good in every chosen measure (vines, mean row" in second
    assert "090.0°: =1+1" in whole  # a note is told in full


def test_pdf_can_be_found_one_s_way_in(folder):
    with pdfplumber.open(folder / "compare.pdf") as pdf:
        outlines = [title for _, title, *_ in pdf.doc.get_outlines()]
        catalog = pdf.doc.catalog
        assert not any(page.images for page in pdf.pages)
    assert outlines[:3] == ["Plans", "Table", "Curves over all bearings"]
    assert catalog["Lang"] == b"en"


def test_xlsx_lets_the_base_be_chosen_and_prints_on_the_paper_of_its_unit(folder, answer, tmp_path):
    sheet = openpyxl.load_workbook(folder / "compare.xlsx")["Candidates"]
    (rule,) = sheet.data_validations.dataValidation
    assert (rule.type, str(rule.sqref), rule.formula1) == ("list", "B4", "$D$5:$F$5")
    assert [c.value for c in sheet["D5:F5"][0]] == [1, 2, 3]
    assert sheet["C4"].value == "=INDEX($D$6:$F$6,1,$B$4)"
    assert sheet.freeze_panes == "D7"
    assert sheet.print_title_rows == "$5:$6"
    assert int(sheet.page_setup.paperSize) == 9  # A4, ECMA-376 part 1 (2016), 18.3.1.63
    write_compare_file(tmp_path / "feet.xlsx", answer, unit="ft", day=DAY)
    sheet = openpyxl.load_workbook(tmp_path / "feet.xlsx")["Candidates"]
    assert int(sheet.page_setup.paperSize) == 1  # Letter


def test_xlsx_charts_say_what_their_axes_are(folder):
    book = openpyxl.load_workbook(folder / "compare.xlsx")
    for chart in book["Curves"]._charts:
        titles = [
            "".join(run.t for p in axis.title.tx.rich.p for run in p.r or ())
            for axis in (chart.x_axis, chart.y_axis)
        ]
        assert titles[0] == "Bearing of the rows, true, deg"
        assert titles[1]
        assert chart.y_axis.scaling.min < chart.y_axis.scaling.max
