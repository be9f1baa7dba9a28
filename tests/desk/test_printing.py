"""The plan on paper: to scale, whole, with nothing over another."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from layoutdesk.core.model import InputProblem
from layoutdesk.desk import printing
from layoutdesk.desk.look import LAMP, PAPER
from layoutdesk.desk.sheet_text import PER_MM, columns_of
from layoutdesk.desk.telling import NoticeCard
from layoutdesk.session.drawing import drawing_of
from layoutdesk.session.layouts import Layouter, LayoutRequest
from layoutdesk.session.samples import open_sample
from layoutdesk.session.sheet import PAPERS, best_paper, paper_named, sheet_of
from layoutdesk.session.survey import survey_view
from tests.desk.hands import filed, notices, sample_named

DOTS_PER_MM = 8.0
SITES = ("field_with_pond", "slope_two_blocks", "bench_in_feet", "curved_terrace")


@cache
def shown(name):
    """What printing reads of a window, for a sample site."""
    project = open_sample(sample_named(name))
    survey = survey_view(project)
    answer = Layouter().answer(LayoutRequest(1, project))
    return SimpleNamespace(answer=answer, survey=survey, unit=survey.people_unit, theme=LAMP)


def sheet_named(name, paper="A4", landscape=True):
    window = shown(name)
    paper = paper_named(paper, landscape)
    return sheet_of(window.answer.project, window.answer, window.survey, window.unit, paper)


def painted(sheet, name, page=0) -> QImage:
    paper = sheet.paper
    image = QImage(
        round(paper.width_mm * DOTS_PER_MM),
        round(paper.height_mm * DOTS_PER_MM),
        QImage.Format.Format_RGB32,
    )
    image.fill(QColor("white"))
    painter = QPainter(image)
    drawing = drawing_of(shown(name).answer)
    printing.paint_sheet(painter, DOTS_PER_MM, sheet, drawing, lambda: None, page_only=page)
    painter.end()
    return image


def pixels(image: QImage) -> np.ndarray:
    """(height, width, 3), red first."""
    flat = np.frombuffer(image.constBits(), dtype=np.uint8)
    rows = flat.reshape(image.height(), image.bytesPerLine())[:, : 4 * image.width()]
    return rows.reshape(image.height(), image.width(), 4)[:, :, 2::-1].astype(int)


def dark(rgb: np.ndarray) -> np.ndarray:
    """Where ink is: darker than rows, hatches and hairlines."""
    return rgb.sum(axis=2) < 260


@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_outline_corners_lie_apart_on_paper_as_the_scale_says(paper):
    sheet = sheet_named("slope_two_blocks", paper)
    ink = dark(pixels(painted(sheet, "slope_two_blocks")))
    plan = sheet.plan
    ink = ink[:, : round((plan.x_mm + plan.width_mm - 1) * DOTS_PER_MM)]
    west, east = (b.outline for b in shown("slope_two_blocks").answer.project.blocks)
    corners = np.array(
        [min(shapely.get_coordinates(west).tolist()), max(shapely.get_coordinates(east).tolist())]
    )
    found = []
    for x, y in (sheet.place_mm(corners) * DOTS_PER_MM).tolist():
        # the outermost ink on the corner's own side, looked for within 1 mm
        rows, columns = np.nonzero(ink[round(y) - 8 : round(y) + 9, round(x) - 8 : round(x) + 9])
        assert len(rows), "no outline is painted at the corner"
        found.append((round(x) - 8 + columns.mean(), round(y) - 8 + rows.mean()))
    apart_mm = np.linalg.norm(np.subtract(*found)) / DOTS_PER_MM
    ground_m = np.linalg.norm(np.subtract(*corners))
    assert apart_mm * sheet.scale.ratio / 1000 == pytest.approx(ground_m, rel=5e-3)


def test_every_row_is_on_the_paper_where_it_belongs():
    name = "field_with_pond"
    sheet = sheet_named(name, "A3")
    rgb = pixels(painted(sheet, name))
    ends = drawing_of(shown(name).answer).rows_within((-1e6, -1e6, 1e6, 1e6))
    middles = (sheet.place_mm(ends.mean(axis=1)) * DOTS_PER_MM).round().astype(int)
    near = np.array([rgb[y - 2 : y + 3, x - 2 : x + 3].sum(axis=2).min() for x, y in middles])
    assert (near < 600).all(), f"{(near >= 600).sum()} rows are not painted"


def test_the_sheet_is_white_in_the_paper_colours_even_where_the_window_is_dark():
    rgb = pixels(painted(sheet_named("field_with_pond"), "field_with_pond"))
    assert (rgb[:40] == 255).all()
    assert (rgb == 255).all(axis=2).mean() > 0.7
    water, night = (QColor(t.water_fill).getRgb()[:3] for t in (PAPER, LAMP))
    assert (rgb == water).all(axis=2).sum() > 500
    assert not (rgb == night).all(axis=2).any()


@pytest.mark.parametrize("landscape", [True, False], ids=["lying", "upright"])
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", SITES)
def test_text_fits_its_columns(name, paper, landscape):
    sheet = sheet_named(name, paper, landscape)
    columns = columns_of(sheet)
    for i, column in enumerate(columns):
        first = i < len(sheet.first_columns)
        box = sheet.first_columns[i] if first else sheet.later_columns[0]
        assert sum(line.height for line in column) <= box.height_mm * PER_MM + 1e-6
        assert max(line.width for line in column) <= box.width_mm * PER_MM + 1e-6
        assert not column[-1].with_next, "a heading stands at a column's foot, away from its text"


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_nothing_is_painted_in_margins_or_between_plan_and_text(name, paper):
    sheet = sheet_named(name, paper)
    rgb = pixels(painted(sheet, name))
    margin = round(10 * DOTS_PER_MM)
    for strip in (rgb[:margin], rgb[-margin:], rgb[:, :margin], rgb[:, -margin:]):
        assert (strip == 255).all()
    left = sheet.first_columns[0].x_mm
    top = round(sheet.plan.y_mm * DOTS_PER_MM)
    between = rgb[top:, round((left - 5) * DOTS_PER_MM) : round((left - 0.5) * DOTS_PER_MM)]
    assert (between == 255).all()


@pytest.mark.parametrize("wide_mm", [150.0, 80.0, 55.0])
def test_a_legend_of_every_sign_keeps_inside_its_room(wide_mm):
    from layoutdesk.desk import sheet_plan

    posts = [(mark, mark) for mark in ("row", "end post", "line post", "anchor")]
    image = QImage(1600, 240, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    painter.scale(2, 2)
    room = QRectF(20, 20, wide_mm * PER_MM, 12.5 * PER_MM)
    sheet_plan._paint_legend(painter, room, [*posts, *sheet_plan._SIGNS])
    painter.end()
    rows, columns = np.nonzero((pixels(image) != 255).any(axis=2))
    assert rows.min() / 2 >= room.top()
    assert rows.max() / 2 <= room.bottom() + 1
    assert columns.max() / 2 <= room.right()


@pytest.mark.parametrize("landscape", [True, False])
def test_a_long_title_keeps_clear_of_the_revision_and_the_plan(landscape):
    title = "The lower terrace above the old quarry road, west of the second gate, " * 3
    sheet = replace(sheet_named("field_with_pond", "A4", landscape), title=title.strip())
    rgb = pixels(painted(sheet, "field_with_pond"))
    said = pixels(painted(replace(sheet, title=""), "field_with_pond"))
    rows, columns = np.nonzero((rgb != said).any(axis=2))
    right_of_title = columns.max() / DOTS_PER_MM
    assert right_of_title < sheet.paper.width_mm - 12 - 40
    assert rows.max() / DOTS_PER_MM < sheet.plan.y_mm - 6


def test_one_column_that_does_not_hold_the_text_makes_a_second_page():
    sheet = sheet_named("slope_two_blocks")
    assert len(columns_of(sheet)) > len(sheet.first_columns)
    last = pixels(painted(sheet, "slope_two_blocks", page=1))
    box = sheet.later_columns[0]
    x, y = round(box.x_mm * DOTS_PER_MM), round(box.y_mm * DOTS_PER_MM)
    assert dark(last[y : y + 400, x : x + round(box.width_mm * DOTS_PER_MM)]).sum() > 200


def page_count(data: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", data))


@pytest.mark.parametrize(
    ("name", "paper", "pages"),
    [("field_with_pond", "A4", 2), ("field_with_pond", "A3", 1), ("slope_two_blocks", "A4", 2)],
)
def test_a_pdf_has_the_paper_and_the_pages_it_needs(tmp_path, name, paper, pages):
    path = tmp_path / "plan.pdf"
    assert printing.write_pdf(path, shown(name), paper_named(paper)) == pages
    data = path.read_bytes()
    assert data.startswith(b"%PDF")
    assert page_count(data) == pages
    box = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", data)
    size_mm = [float(n) * 25.4 / 72 for n in box.groups()]
    wide, high = paper_named(paper).width_mm, paper_named(paper).height_mm
    assert size_mm == pytest.approx([wide, high], abs=0.5)


def test_text_in_a_pdf_can_be_copied_as_it_reads(tmp_path):
    path = tmp_path / "plan.pdf"
    printing.write_pdf(path, shown("field_with_pond"), paper_named("A4"))
    maps = re.findall(rb"begincmap(.*?)endcmap", path.read_bytes(), re.DOTALL)
    signs = {chr(int(code, 16)) for found in maps for code in re.findall(rb"<(\w{4})>", found)}
    assert set("0123456789−°:.-/()") <= signs
    for found in maps:  # a glyph that stands for no sign is mapped to nothing
        listed = re.search(rb"\[(.*?)\]", found, re.DOTALL)[1].split()
        assert b"<0000>" not in listed


def test_a_folder_that_is_not_there_is_said_and_nothing_is_left(tmp_path):
    with pytest.raises(InputProblem, match="choose another folder"):
        printing.write_pdf(tmp_path / "gone" / "plan.pdf", shown("field_with_pond"))
    assert not list(tmp_path.iterdir())


def test_a_printer_gets_the_sheet_on_the_paper_it_is_set_to(application, tmp_path):
    support = pytest.importorskip("PySide6.QtPrintSupport")
    printer = support.QPrinter(support.QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(support.QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    printer.setPageLayout(printing._layout_of(paper_named("A3")))
    window = shown("field_with_pond")
    assert printing.print_on(printer, window, window.answer) == 1
    data = (tmp_path / "printed.pdf").read_bytes()
    assert page_count(data) == 1


# in the window


@pytest.fixture
def no_printer(monkeypatch):
    support = pytest.importorskip("PySide6.QtPrintSupport")
    monkeypatch.setattr(support.QPrinterInfo, "availablePrinterNames", staticmethod(list))


def offered(window) -> NoticeCard:
    return next(c for c in window.findChildren(NoticeCard) if c.isVisible())


def test_with_no_printer_a_pdf_is_offered_with_the_scale_on_each_paper(
    desk, no_printer, asked, tmp_path
):
    desk.actions_by_id["print"].trigger()
    card = offered(desk)
    words = [b.text() for b in card.buttons]
    assert "No printer" in card.text()
    scale = sheet_of(
        desk.answer.project,
        desk.answer,
        desk.survey,
        desk.unit,
        best_paper(desk.answer.project, "A3"),
    ).scale.words
    assert f"A3, {scale}" in words
    asked.path = str(tmp_path / "plan")
    card.buttons[words.index(f"A3, {scale}")].click()
    assert (tmp_path / "plan.pdf").read_bytes().startswith(b"%PDF")
    assert "plan.pdf" in desk.work.text()
    assert asked.starts[-1].name == f"{desk.document.project.name}.pdf"
    desk.filing._quiet.stop()


def test_leaving_the_file_dialog_writes_nothing(desk, no_printer, asked, tmp_path):
    desk.actions_by_id["print"].trigger()
    asked.path = ""
    offered(desk).buttons[0].click()
    assert asked.starts
    assert not list(tmp_path.glob("*.pdf"))
    assert not notices(desk)


def test_a_folder_that_cannot_be_written_is_told_in_a_notice(desk, no_printer, asked, tmp_path):
    desk.actions_by_id["print"].trigger()
    asked.path = str(tmp_path / "gone" / "plan.pdf")
    offered(desk).buttons[0].click()
    assert "choose another folder" in notices(desk)[0]


def test_an_edit_that_is_not_laid_out_yet_is_printed_as_it_is(
    desk, no_printer, asked, monkeypatch, tmp_path
):
    wrote = []
    monkeypatch.setattr(
        printing, "write_pdf", lambda path, window, paper, answer: wrote.append(answer) or 1
    )
    desk.actions_by_id["print"].trigger()
    card = offered(desk)
    desk.rules.turn(77.0)
    asked.path = str(tmp_path / "plan.pdf")
    card.buttons[0].click()
    filed(desk)
    assert wrote[0].settled
    assert wrote[0].plans[0].rules.bearing_deg == 77.0
    desk.filing._quiet.stop()


def test_printing_with_a_printer_asks_which_and_prints_turned_as_it_suits(desk, monkeypatch):
    support = pytest.importorskip("PySide6.QtPrintSupport")
    names = staticmethod(lambda: ["Office"])
    monkeypatch.setattr(support.QPrinterInfo, "availablePrinterNames", names)
    asked_for = []

    class Dialog:
        def __init__(self, printer, parent):
            asked_for.append(printer.pageLayout().orientation())

        def exec(self):
            return 1

        def deleteLater(self):
            pass

    monkeypatch.setattr(support, "QPrintDialog", Dialog)
    printed = []
    monkeypatch.setattr(
        printing, "print_on", lambda printer, window, answer: printed.append(answer) or 2
    )
    desk.actions_by_id["print"].trigger()
    best = best_paper(desk.answer.project, "A4")
    assert asked_for == [printing._layout_of(best).orientation()]
    assert printed == [desk.answer]
    assert desk.work.text() == "2 pages sent to the printer"
    desk.filing._quiet.stop()


def test_where_printers_cannot_be_reached_that_is_said_and_a_pdf_offered(desk, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "PySide6.QtPrintSupport", None)
    desk.actions_by_id["print"].trigger()
    assert "Printers cannot be reached" in notices(desk)[0]
