"""The files of the first years, read back by readers that are not ours, and their formulas reckoned anew."""

from __future__ import annotations

import datetime
from dataclasses import replace
from types import SimpleNamespace

import openpyxl
import pdfplumber
import pytest
import shapely
from pdfminer.pdftypes import resolve1

from layoutdesk.core.model import Block, Project, RowRules, Site, SiteFrame
from layoutdesk.core.model.planting import Crew, Planting, Years
from layoutdesk.core.planting.years import first_years
from layoutdesk.formats.first_years_pdf import write_first_years_pdf
from layoutdesk.formats.first_years_xlsx import write_first_years_xlsx
from layoutdesk.session.first_year_lines import (
    crop_lines,
    duty_lines,
    first_years_set,
    labour_lines,
)
from layoutdesk.session.places import resource
from tests.formats.test_take_off_files import Reckoned

DAY = datetime.date(2027, 2, 1)
PLANTED = datetime.date(2027, 4, 20)
A4 = (210.0, 297.0)
VINES = 23495
SETTINGS = Years(per_h=(("tying", 150.0),))
SITE = Site(SiteFrame(48.3, 16.0, 200.0), "EPSG:32633", "EPSG:32633")
PROJECT = Project("Under the Old Mill", SITE, (Block("B1", shapely.box(0, 0, 90, 90), RowRules()),))


def answer(years=SETTINGS, planted=PLANTED, latitude=48.3, vines=VINES):
    """What the files need of an answer."""
    planting = Planting(years=years, crew=Crew(hours_a_day=7.5))
    found = first_years(years, planted, latitude, vines) if planted and vines else None
    return SimpleNamespace(project=replace(PROJECT, planting=planting), years=found, begins=planted)


def workbook(path, unit="m", **said):
    write_first_years_xlsx(path / "y.xlsx", first_years_set(answer(**said), unit, DAY))
    return path / "y.xlsx"


def at(book, sheet: str, words: str, column: str) -> str:
    """Cell of a column in the row that has these words in one of its first two cells."""
    (row,) = (r[0].row for r in book[sheet].iter_rows() if words in {c.value for c in r[:2]})
    return f"{column}{row}"


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_every_formula_gives_the_figure_that_stands_in_its_cell(tmp_path, unit):
    path = workbook(tmp_path, unit)
    reckoned, shown = Reckoned(path), openpyxl.load_workbook(path, data_only=True)
    seen = []
    for sheet, place in reckoned.formulas():
        wanted = shown[sheet][place].value
        assert reckoned(sheet, place) == pytest.approx(wanted, rel=1e-9, abs=1e-9), (sheet, place)
        seen.append(sheet)
    assert set(seen) == {"Calendar", "Crop by year", "Labour"}
    years = answer().years
    assert seen.count("Calendar") == sum(d.task != "milestone" for d in years.duties)
    assert seen.count("Crop by year") == 3 * len(years.crops)


def test_workbook_shows_what_was_reckoned(tmp_path):
    book = openpyxl.load_workbook(workbook(tmp_path), data_only=True)
    years = answer().years
    rows = list(book["Calendar"].iter_rows(min_row=5, values_only=True))
    assert [(r[0].date(), r[1].date(), r[2], r[4]) for r in rows] == [
        (d.begins, d.ends, d.year, d.title) for d in years.duties
    ]
    # 23,495 vines of 2.5 kg, of which 35 % are expected: reckoned by hand.
    crop = list(book["Crop by year"].iter_rows(min_row=5, max_row=9, values_only=True))
    assert [r[5] for r in crop] == pytest.approx([0, 2936.875, 20558.125, 41116.25, 58737.5])
    assert crop[2][6] == pytest.approx(20.558125)
    assert crop[2][7] == "third leaf: the first small crop"
    assert crop[1][7] == "second harvest"
    total = book["Labour"][at(book, "Labour", "All years", "E")].value
    assert total == pytest.approx(sum(h for *_, h in years.labour))
    assert total == pytest.approx(sum(r[6] or 0 for r in rows))


def test_a_rate_typed_into_the_workbook_moves_calendar_and_labour(tmp_path):
    reckoned = Reckoned(workbook(tmp_path))
    rate = at(reckoned.book, "Assumptions", "Tie the trunk to the stake", "B")
    assert reckoned("Assumptions", rate) == 150.0
    reckoned.typed("Assumptions", rate, 75.0)
    other = answer(replace(SETTINGS, per_h=(("tying", 75.0),))).years
    total = at(reckoned.book, "Labour", "All years", "E")
    assert reckoned("Labour", total) == pytest.approx(sum(h for *_, h in other.labour))
    days = reckoned("Labour", total.replace("E", "F"))
    assert days == pytest.approx(sum(h for *_, h in other.labour) / 7.5)
    in_calendar = sum(reckoned(*f) for f in reckoned.formulas() if f[0] == "Calendar")
    assert in_calendar == pytest.approx(sum(d.hours for d in other.duties))


def test_vines_and_shares_typed_into_the_workbook_give_the_program_s_crop(tmp_path):
    reckoned = Reckoned(workbook(tmp_path, "ft"))
    book = reckoned.book
    reckoned.typed("Assumptions", at(book, "Assumptions", "Vines", "B"), 1000)
    share = at(book, "Assumptions", "Crop of year 3, of a mature one", "B")
    reckoned.typed("Assumptions", share, 40.0)
    other = answer(replace(SETTINGS, shares_pct=(0, 5, 40, 70, 100)), vines=1000).years
    # A pound is 0.45359237 kg and a US ton 2,000 lb: NIST SP 811 (2008), appendix B.
    pounds = [reckoned("Crop by year", f"F{r}") for r in range(5, 10)]
    assert pounds == pytest.approx([c.crop_kg / 0.45359237 for c in other.crops])
    assert reckoned("Crop by year", "G7") == pytest.approx(1000 * 2.5 * 0.4 / 907.18474)
    total = at(book, "Labour", "All years", "E")
    assert reckoned("Labour", total) == pytest.approx(sum(h for *_, h in other.labour))


def test_both_files_say_plainly_that_no_planting_day_is_known(tmp_path):
    found = first_years_set(answer(planted=None), "m", DAY)
    write_first_years_xlsx(tmp_path / "y.xlsx", found)
    assert write_first_years_pdf(tmp_path / "y.pdf", found, A4, resource("fonts")) == 1
    (sheet,) = openpyxl.load_workbook(tmp_path / "y.xlsx").worksheets
    assert "No planting day is said yet" in sheet["A2"].value
    with pdfplumber.open(tmp_path / "y.pdf") as pdf:
        assert "No planting day is said yet" in pdf.pages[0].extract_text()
    assert "no vine to plant" in first_years_set(answer(vines=0), "m", DAY).missing
    assert not duty_lines(answer(planted=None))


CASES = {
    "usual": {},
    "many years": {
        "years": Years(
            counting="second harvest",
            form="cordon",
            tie_days=1,
            shares_pct=(0, 0, 20, 45, 70, 85, 95, 100, 105, 110, 110, 200),
        ),
        "planted": datetime.date(2028, 3, 10),
        "latitude": -35.0,
        "vines": 1_400_000,
    },
    "tropics": {"years": Years(shares_pct=(0,)), "latitude": -9.0, "vines": 1},
}


@pytest.mark.parametrize("unit", ["m", "ft"])
@pytest.mark.parametrize("case", CASES)
def test_pages_keep_their_text_inside_and_apart(tmp_path, case, unit):
    found = first_years_set(answer(**CASES[case]), unit, DAY)
    pages = write_first_years_pdf(tmp_path / "y.pdf", found, A4, resource("fonts"))
    margin = 12 / 25.4 * 72
    with pdfplumber.open(tmp_path / "y.pdf") as pdf:
        assert len(pdf.pages) == pages
        for page in pdf.pages:
            for font in resolve1(page.page_obj.resources["Font"]).values():
                assert "FontFile2" in resolve1(resolve1(font)["FontDescriptor"])
            assert "…" not in page.extract_text()
            for char in page.chars:
                assert char["size"] >= 6.5
                assert margin - 1 <= char["x0"]
                assert char["x1"] <= page.width - margin + 1
                assert char["bottom"] <= page.height - margin + 3
            words = page.extract_words(x_tolerance=1.5)
            for i, one in enumerate(words):
                for other in words[i + 1 :]:
                    across = min(one["x1"], other["x1"]) - max(one["x0"], other["x0"])
                    down = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
                    assert across < 0.5 or down < 1.5, (one["text"], other["text"])


def test_pdf_tells_every_duty_both_countings_and_cautions(tmp_path):
    found = first_years_set(answer(), "m", DAY)
    write_first_years_pdf(tmp_path / "y.pdf", found, A4, resource("fonts"))
    with pdfplumber.open(tmp_path / "y.pdf") as pdf:
        whole = " ".join(" ".join(p.extract_text() for p in pdf.pages).split())
        first = pdf.pages[0].extract_text()
    for duty in answer().years.duties:
        assert duty.what in whole
    for said in ("third leaf is picked in autumn 2029", "second is in autumn 2028", "20.6 t"):
        assert said in " ".join(first.split())
    for said in ("the label and the law come first", "25 to 30 years", "common practice"):
        assert said in whole


def test_bars_of_the_crop_are_as_high_as_their_shares(tmp_path):
    found = first_years_set(answer(), "m", DAY)
    write_first_years_pdf(tmp_path / "y.pdf", found, A4, resource("fonts"))
    with pdfplumber.open(tmp_path / "y.pdf") as pdf:
        page = pdf.pages[0]
        (heading,) = page.search("The crop to expect")
        shapes = [s for s in (*page.rects, *page.curves) if s["top"] > heading["bottom"]]
        high = [s["height"] for s in sorted(shapes, key=lambda s: s["x0"]) if s["fill"]]
    assert [h / max(high) for h in high] == pytest.approx([0.05, 0.35, 0.7, 1.0], abs=1e-3)


def test_lines_for_the_window_have_people_s_units_and_know_today():
    lines = duty_lines(answer(), "ft", datetime.date(2028, 1, 20))
    assert [x.flag for x in lines if x.what == "Prune to two buds"] == ["now"]
    assert lines[0].flag == "past"
    assert lines[-1].flag == ""
    (union,) = {x.words for x in lines if "graft union" in x.what}
    assert "2.0\u00a0in" in union
    assert "cm" not in union
    crops = crop_lines(answer(), "ft")
    # 58,737.5 kg over 907.18474 kg
    assert crops[-1].crop == "64.7\u00a0US tons"
    labour = labour_lines(answer())
    assert [x.hours for x in labour if not x.task and x.year == 1] == ["1\u202f273\u00a0h"]


def test_the_same_years_give_the_same_files(tmp_path):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        found = first_years_set(answer(), "m", DAY)
        write_first_years_xlsx(tmp_path / folder / "y.xlsx", found)
        write_first_years_pdf(tmp_path / folder / "y.pdf", found, A4, resource("fonts"))
    for name in ("y.xlsx", "y.pdf"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
