"""The files of a take-off, read back by readers that are not ours, and their formulas reckoned anew."""

from __future__ import annotations

import csv
import datetime
import json
import math
import re
from dataclasses import replace

import openpyxl
import pdfplumber
import pytest
import shapely
from pdfminer.pdftypes import resolve1

from layoutdesk.core.layout.numbering import segment_code
from layoutdesk.core.materials.takeoff import COLUMN, COUNTING_RULE
from layoutdesk.core.model import (
    Block,
    InputProblem,
    Materials,
    Product,
    Project,
    RowRules,
    SaleUnit,
    SettledTakeOff,
    Site,
    SiteFrame,
    Supply,
)
from layoutdesk.core.model.trellis import Trellis
from layoutdesk.core.water.parts import Part
from layoutdesk.session import take_off_files
from layoutdesk.session.stakeout import lay_project
from layoutdesk.session.take_off_files import write_take_off_file, write_take_off_set
from layoutdesk.session.taking_off import TakeOffCounter, TakeOffRequest

DAY = datetime.date(2031, 5, 6)
OWN = (
    Supply(
        Product("line_posts"),
        "Line post & cap",
        "posts and anchors",
        SaleUnit("bundle", 25, 180.0, 210.0, 4),
    ),
    Supply(
        Product("shelters"),
        "Shelter",
        "stakes and shelters",
        SaleUnit("bundle", 50, 30.0, 2.0, 8, True),
    ),
)


def project_with(trellis: Trellis, settled: SettledTakeOff | None = None, **materials) -> Project:
    """Two blocks, of which the second has a trellis of its own."""
    corner = shapely.Polygon([(0, 0), (130, 0), (130, 90), (30, 120)])
    blocks = (
        Block("B1", corner, RowRules(bearing_deg=20.0)),
        Block("B2", shapely.box(200, 0, 260, 80), RowRules(bearing_deg=0.0, row_spacing_m=2.2)),
    )
    site = Site(SiteFrame(-34.5, 138.7, 90.0), "EPSG:32754", "EPSG:32754")
    known = Materials((("B1", trellis), ("B2", OTHER)), OWN, "EUR", settled=settled, **materials)
    return Project("Two Gums", site, blocks, (), materials=known)


OTHER = Trellis(ends="braced inside", line_post_length_m=2.6, spares_pct={"shelters": 3})
SETTLED = SettledTakeOff(
    datetime.date(2031, 1, 2),
    (("B1", (("line_posts", 100.0), ("anchors", 300.0))), ("Gone", (("anchors", 10.0),))),
)


PARTS = (
    Part("B1", Product("emitters", (2.0,)), 1313.0, "each"),
    Part("B2", Product("emitters", (2.0,)), 471.0, "each"),
    Part("B1", Product("pipe_m", (63.0, 58.2)), 100.5, "m"),
    Part("", Product("pipe_m", (63.0, 58.2)), 60.25, "m"),
    Part("", Product("filters"), 1.0, "each"),
)


def counted(project: Project):
    request = TakeOffRequest(0, project, lay_project(project), parts=PARTS)
    return TakeOffCounter().answer(request)


@pytest.fixture(scope="module")
def answer():
    return counted(project_with(Trellis(), SETTLED))


@pytest.fixture(scope="module")
def folder(tmp_path_factory, answer):
    path = tmp_path_factory.mktemp("taken")
    write_take_off_set(path, answer, day=DAY)
    return path


@pytest.fixture(scope="module")
def table(folder) -> list[dict]:
    with (folder / "takeoff.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


class Reckoned:
    """A workbook whose formulas are reckoned by us: the few functions that it may use.

    A blank is not a number, as ISNUMBER and SUM take it.
    """

    def __init__(self, path):
        self.book = openpyxl.load_workbook(path)
        self.known: dict = {}

    def __call__(self, sheet: str, at: str):
        if (sheet, at) not in self.known:
            value = self.book[sheet][at].value
            if isinstance(value, str) and value.startswith("="):
                value = self._result(sheet, value[1:])
            self.known[sheet, at] = math.nan if value is None else value
        return self.known[sheet, at]

    def typed(self, sheet: str, at: str, value) -> None:
        """What a person types into a cell."""
        self.book[sheet][at].value = value
        self.known.clear()

    def formulas(self):
        for sheet in self.book:
            for row in sheet.iter_rows():
                for cell in row:
                    if isinstance(cell.value, str) and cell.value.startswith("="):
                        yield sheet.title, cell.coordinate

    def _result(self, sheet: str, formula: str):
        def reference(found):
            where, first, last = found[1] or sheet, found[2], found[3]
            first, last = (x and x.replace("$", "") for x in (first, last))
            return f"cells({where!r},{first!r},{last!r})" if last else f"cell({where!r},{first!r})"

        parts = re.split(r'("[^"]*")', formula)
        pattern = r"(?:(\w+)!)?(\$?[A-Z]{1,3}\$?\d+)(?::(\$?[A-Z]{1,3}\$?\d+))?"
        parts[::2] = [re.sub(pattern, reference, p) for p in parts[::2]]
        return eval("".join(parts), {"__builtins__": {}}, self._functions())

    def _functions(self) -> dict:
        def cells(sheet, first, last):
            rows = self.book[sheet][f"{first}:{last}"]
            return [self(sheet, c.coordinate) for row in rows for c in row]

        def number(value) -> bool:
            return isinstance(value, int | float) and not math.isnan(value)

        def flat(values):
            return [x for v in values for x in (v if isinstance(v, list) else [v]) if number(x)]

        def rounded_up(value, digits):
            assert digits == 0
            return math.nan if math.isnan(value) else math.copysign(math.ceil(abs(value)), value)

        return {
            "cell": self.__call__,
            "cells": cells,
            "SUM": lambda *values: math.fsum(flat(values)),
            "MAX": lambda *values: max(flat(values)),
            "ROUNDUP": rounded_up,
            "ABS": abs,
            "N": lambda value: value if number(value) else 0,
            "ISNUMBER": number,
            "IF": lambda asked, yes, no: yes if asked else no,
            "COUNTIF": lambda values, _: sum(not number(v) for v in values),
        }


def line_of(sheet, words: str) -> int:
    """Row on the sheet Orders of the line that is called so, and has this size."""
    name, _, size = words.partition(", ")
    (row,) = (
        r[0].row
        for r in sheet.iter_rows(min_row=5)
        if name in str(r[0].value) and (not size or size in str(r[1].value))
    )
    return row


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_every_formula_gives_the_figure_that_stands_in_its_cell(answer, tmp_path, unit):
    write_take_off_file(tmp_path / "t.xlsx", answer, unit, DAY)
    reckoned = Reckoned(tmp_path / "t.xlsx")
    shown = openpyxl.load_workbook(tmp_path / "t.xlsx", data_only=True)
    seen = set()
    for sheet, at in reckoned.formulas():
        wanted, found = shown[sheet][at].value, reckoned(sheet, at)
        if isinstance(wanted, str) or wanted is None:
            assert found == (wanted or ""), (sheet, at)
        else:
            assert found == pytest.approx(wanted, rel=1e-9, abs=1e-6), (sheet, at)
        seen.add(sheet)
    per_area = "Per hectare" if unit == "m" else "Per acre"
    assert seen == {"Orders", "Site", per_area, "Blocks", "Counts", "Changes"}


def test_workbook_shows_the_orders_of_the_take_off(folder, answer):
    sheet = openpyxl.load_workbook(folder / "takeoff.xlsx", data_only=True)["Orders"]
    wanted = [
        (line.order.need.counted, line.order.need.spares, line.order.units) for line in answer.lines
    ]
    found = [
        (r[3].value, r[5].value, r[8].value)
        for r in sheet.iter_rows(min_row=5)
        if isinstance(r[8].value, int | float)
    ]
    assert len(found) == len(wanted)
    for one, other in zip(sorted(found), sorted(wanted), strict=True):
        assert one == pytest.approx(other)


def test_spares_typed_into_the_workbook_order_what_the_program_would(answer, tmp_path):
    write_take_off_file(tmp_path / "t.xlsx", answer, day=DAY)
    reckoned = Reckoned(tmp_path / "t.xlsx")
    row = line_of(reckoned.book["Orders"], "Anchor")
    reckoned.typed("Orders", f"E{row}", 9.0)
    other = counted(project_with(Trellis(spares_pct={"anchors": 9})))
    (line,) = (x for x in other.lines if x.order.need.product.item == "anchors")
    (before,) = (x for x in answer.lines if x.order.need.product.item == "anchors")
    assert line.order.need.spares > before.order.need.spares
    assert reckoned("Orders", f"F{row}") == line.order.need.spares
    assert reckoned("Orders", f"I{row}") == line.order.units


def test_a_row_changed_in_the_workbook_changes_block_site_and_order(answer, tmp_path):
    write_take_off_file(tmp_path / "t.xlsx", answer, day=DAY)
    reckoned = Reckoned(tmp_path / "t.xlsx")
    heads = {c.value: c.column_letter for c in reckoned.book["Rows"][4]}
    at = f"{heads['Anchors']}5"
    row = line_of(reckoned.book["Orders"], "Anchor")
    site = next(r[0].row for r in reckoned.book["Site"] if r[0].value == "Anchors")
    before = reckoned("Site", f"C{site}"), reckoned("Orders", f"D{row}")
    reckoned.typed("Rows", at, reckoned("Rows", at) + 7)
    assert (reckoned("Site", f"C{site}"), reckoned("Orders", f"D{row}")) == (
        before[0] + 7,
        before[1] + 7,
    )


def test_rolls_of_another_length_are_not_taken_for_those_that_were_cut(folder):
    reckoned = Reckoned(folder / "takeoff.xlsx")
    sheet = reckoned.book["Orders"]
    row = line_of(sheet, "ire, 2.5 mm")
    cut = reckoned(
        "Cuts",
        next(
            f"G{r[0].row}"
            for r in reckoned.book["Cuts"].iter_rows(min_row=5)
            if "2.5 mm" in f"{r[0].value} {r[1].value}"
        ),
    )
    assert reckoned("Orders", f"I{row}") >= cut
    assert reckoned("Orders", f"R{row}").startswith("As cut")
    reckoned.typed("Orders", f"G{row}", 50000.0)
    assert reckoned("Orders", f"I{row}") == 1
    assert "another length" in reckoned("Orders", f"R{row}")


def test_roll_plan_uses_every_roll_and_overfills_none(folder, answer):
    book = openpyxl.load_workbook(folder / "takeoff.xlsx", data_only=True)
    rolls: dict = {}
    for wire, roll, *_, pieces, length, _ in book["Roll plan"].iter_rows(
        min_row=5, values_only=True
    ):
        rolls.setdefault(wire, {}).setdefault(roll, 0.0)
        rolls[wire][roll] += pieces * length
    cut = [line.order for line in answer.lines if line.order.cutting is not None]
    assert sorted(map(len, rolls.values())) == sorted(o.cutting.n_rolls for o in cut)
    assert sorted(sum(r.values()) for r in rolls.values()) == pytest.approx(
        sorted(float(o.cutting.piece_m.sum()) for o in cut)
    )
    for line in answer.lines:
        if line.order.cutting is not None:
            (used,) = (
                r
                for r in rolls.values()
                if sum(r.values()) == pytest.approx(float(line.order.cutting.piece_m.sum()))
            )
            assert max(used.values()) <= line.order.cutting.roll_m + 1e-6


def test_csv_levels_add_up(table, answer):
    take_off = answer.take_off
    for item in ("line_posts", "fruiting_wire_m", "shelters"):
        mine = [r for r in table if r["item"] == item and r["level"] != "order"]
        at = {
            level: math.fsum(float(r["amount"]) for r in mine if r["level"] == level)
            for level in ("row", "block", "site", "per_hectare")
        }
        assert at["row"] == pytest.approx(at["site"], abs=0.05)
        assert at["block"] == pytest.approx(at["site"], abs=0.01)
        assert at["site"] == pytest.approx(take_off.of(item), abs=1e-3)
        hectares = take_off.outline_m2.sum() / 1e4
        assert at["per_hectare"] == pytest.approx(at["site"] / hectares, abs=1e-3)
    assert len([r for r in table if r["level"] == "order"]) == len(answer.lines)
    assert all(r["counted_by"].startswith("geometry, row by row") for r in table)


def test_csv_has_the_drip_system_s_parts_by_block_and_site(table):
    pipe = {
        (r["level"], r["block"]): (float(r["amount"]), r["size"])
        for r in table
        if r["item"] == "pipe_m"
    }
    assert pipe["block", "B1"] == (100.5, "63x58.2 mm")
    assert pipe["site", ""] == pipe["order", ""] == (160.75, "63x58.2 mm")


def test_csv_names_row_and_segments_and_size_as_programs_want_them(table, answer):
    plan = answer.plans[0]
    first = next(r for r in table if r["level"] == "row" and r["item"] == "line_posts")
    assert (first["block"], first["row"]) == ("B1", str(plan.segments.number[0]))
    assert first["segments"].split()[0] == "A"
    assert first["size"] == "2.5 m"
    sizes = {
        r["block"]: r["size"] for r in table if (r["level"], r["item"]) == ("block", "line_posts")
    }
    assert sizes == {"B1": "2.5 m", "B2": "2.6 m"}
    (site,) = (r for r in table if (r["level"], r["item"]) == ("site", "line_posts"))
    assert site["size"] == ""  # of two sizes


def test_json_has_the_orders_with_proof_of_their_rolls(answer, tmp_path):
    write_take_off_file(tmp_path / "t.json", answer, day=DAY)
    facts = json.loads((tmp_path / "t.json").read_text(encoding="utf-8"))
    assert facts["counting_rule"] == COUNTING_RULE
    assert facts["statement"] == answer.take_off.statement
    assert facts["items"]["anchors"] == answer.take_off.of("anchors")
    assert [b["block"] for b in facts["blocks"]] == ["B1", "B2"]
    for fact, line in zip(facts["orders"], answer.lines, strict=True):
        assert fact["order"] == line.order.units
        assert (fact["price"] is None) == (line.order.sold.price is None)
        if "cutting" in fact:
            assert fact["cutting"]["fewest_rolls"] <= fact["cutting"]["rolls"] <= fact["order"]
    assert facts["totals"]["price"] == sum(
        line.order.price for line in answer.lines if line.order.price is not None
    )
    assert facts["totals"]["lines_without_price"] == sum(
        line.order.sold.price is None for line in answer.lines
    )


def test_changes_tell_what_is_more_and_what_is_gone(folder, answer):
    reckoned = Reckoned(folder / "takeoff.xlsx")
    sheet = reckoned.book["Changes"]
    assert "2031-01-02" in sheet["A2"].value
    found = {
        (r[0].value, r[1].value): reckoned("Changes", f"F{r[0].row}")
        for r in sheet.iter_rows(min_row=5)
    }
    posts = answer.take_off.per_block[0, COLUMN["line_posts"]]
    assert found["B1", "Line posts"] == posts - 100
    assert found["Gone", "Anchors"] == -10
    assert found["B2", "Line posts"] == answer.take_off.per_block[1, COLUMN["line_posts"]]


def test_without_a_settled_take_off_there_is_no_sheet_of_changes(tmp_path):
    write_take_off_file(tmp_path / "t.xlsx", counted(project_with(Trellis())), day=DAY)
    names = openpyxl.load_workbook(tmp_path / "t.xlsx").sheetnames
    assert "Changes" not in names
    assert names[:2] == ["Orders", "Site"]


def pages_of(path) -> list[str]:
    with pdfplumber.open(path) as pdf:
        return [" ".join(p.extract_text().split()) for p in pdf.pages]


def test_every_order_list_starts_its_page_and_says_what_it_is_counted_by(folder, answer):
    texts = pages_of(folder / "orders.pdf")
    kinds = dict.fromkeys(line.supply.supplier for line in answer.lines)
    begin = [t for t in texts if re.search(r"Order list: .*, list \d of \d", t[:80])]
    assert len(begin) >= len(kinds) == 4
    for n, text in enumerate(begin, 1):
        assert f"list {n} of {len(kinds)}" in text
        assert f"page {texts.index(text) + 1} of {len(texts)}" in text
        for said in (
            COUNTING_RULE[:40],
            "2031-05-06",
            "Signature",
            "recoils",
            "theoretical density",
        ):
            assert said in text, said
    (wire,) = (t for t in begin if "list: wire" in t)
    assert wire.count("no way of cutting takes fewer") == len(
        [x for x in answer.lines if x.order.cutting is not None]
    )


def test_pdf_has_a_wire_length_for_every_piece_of_row(folder, answer):
    whole = " ".join(pages_of(folder / "orders.pdf"))
    for block, plan in zip(("B1", "B2"), answer.plans, strict=True):
        s, wrap = plan.segments, 0.5  # of the usual trellis, at each end
        for number, letter, length in zip(s.number, s.letter, s.length_m, strict=True):
            code = segment_code(block, int(number), int(letter))
            assert f"{code} {length:.2f} {length + 2 * wrap:.2f}" in whole


def test_pdf_embeds_its_typefaces_and_keeps_its_text_on_the_page_and_apart(folder):
    margin = 12 / 25.4 * 72
    with pdfplumber.open(folder / "orders.pdf") as pdf:
        assert (pdf.doc.catalog["Lang"], len(list(pdf.doc.get_outlines()))) == (b"en", 6)
        for page in pdf.pages:
            for font in resolve1(page.page_obj.resources["Font"]).values():
                assert "FontFile2" in resolve1(resolve1(font)["FontDescriptor"])
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


def test_names_of_any_length_stay_whole_on_paper(answer, tmp_path):
    name = "Long" * 40
    supply = replace(answer.lines[0].supply, name=f"Stake {name}")
    lines = (replace(answer.lines[0], supply=supply), *answer.lines[1:])
    long = replace(answer, lines=lines, project=replace(answer.project, name=f"{name} {name}"))
    write_take_off_file(tmp_path / "t.pdf", long, day=DAY)
    with pdfplumber.open(tmp_path / "t.pdf") as pdf:
        text = "".join("".join(c["text"] for c in p.chars) for p in pdf.pages)
        assert max(c["x1"] for p in pdf.pages for c in p.chars) <= pdf.pages[0].width - 33
    assert "…" not in text
    assert text.count("Long") >= 40 * (2 * len(pdf.pages) + 1)


def test_feet_are_read_with_pounds_and_acres_on_letter_and_programs_get_metres(answer, tmp_path):
    write_take_off_set(tmp_path, answer, "ft", day=DAY)
    with pdfplumber.open(tmp_path / "orders.pdf") as pdf:
        # ANSI/ASME Y14.1, size A: 8.5 by 11 in
        assert (pdf.pages[0].width, pdf.pages[0].height) == pytest.approx((612, 792))
        text = " ".join(pdf.pages[0].extract_text().split())
    assert re.search(r"Mass, .*\blb\b", text)
    book = openpyxl.load_workbook(tmp_path / "takeoff.xlsx", data_only=True)
    row = next(r for r in book["Site"].iter_rows(values_only=True) if r[0] == "Fruiting wire")
    assert row[1] == "ft"
    assert row[2] == pytest.approx(answer.take_off.of("fruiting_wire_m") / 0.3048)
    assert "Per acre" in book.sheetnames
    with (tmp_path / "takeoff.csv").open(newline="", encoding="utf-8") as file:
        (site,) = (
            r
            for r in csv.DictReader(file)
            if (r["level"], r["item"]) == ("site", "fruiting_wire_m")
        )
    assert float(site["amount"]) == pytest.approx(answer.take_off.of("fruiting_wire_m"), abs=1e-3)


def test_the_same_take_off_gives_the_same_files(folder, answer, tmp_path):
    write_take_off_set(tmp_path, answer, day=DAY)
    for name in take_off_files.FILES:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_a_set_that_cannot_be_finished_leaves_what_was_there(answer, tmp_path, monkeypatch):
    write_take_off_set(tmp_path, answer, day=DAY)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}

    def full(path, found):
        path.write_bytes(b"%PDF")
        raise OSError(28, "No space left on device")

    monkeypatch.setitem(take_off_files._WRITERS, ".pdf", full)
    with pytest.raises(InputProblem, match="no space left"):
        write_take_off_set(tmp_path, answer, day=DAY)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_a_name_that_says_no_format_is_refused(answer, tmp_path):
    with pytest.raises(InputProblem, match=r"plan\.docx says no format"):
        write_take_off_file(tmp_path / "plan.docx", answer, day=DAY)
    assert not list(tmp_path.iterdir())
