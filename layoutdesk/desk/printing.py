"""Printing the plan: a sheet as vectors on any paint device, a PDF, a printer."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QMarginsF, QSaveFile, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter, QPdfWriter

from ..core.model import InputProblem
from ..session.drawing import Drawing, drawing_of
from ..session.layouts import LayoutAnswer, Layouter, LayoutRequest
from ..session.sheet import PAPERS, Paper, Sheet, best_paper, scale_on, sheet_of
from . import choosing
from .sheet_plan import paint_frame, paint_strip
from .sheet_text import UNIT_MM, columns_of, paint_column, paint_head

_DOTS_PER_INCH = 1200
_OFFERED = ("A4", "A3", "Letter", "Tabloid")
"""Papers a PDF is offered on."""


def paint_sheet(
    painter: QPainter,
    dots_per_mm: float,
    sheet: Sheet,
    drawing: Drawing,
    new_page: Callable[[], object],
    page_only: int | None = None,
) -> int:
    """Paint a sheet from the left and top of the paper; returns how many pages it has.

    Parameters
    ----------
    painter : QPainter
        Active, on a device of the paper's size.
    dots_per_mm : float
        Of the device.
    sheet : Sheet
    drawing : Drawing
    new_page : function
        Called between pages.
    page_only : int, optional
        Paint that page alone, counted from 0, and call no `new_page`.
    """
    columns = columns_of(sheet)
    n_first = len(sheet.first_columns)
    n_later = len(sheet.later_columns)
    n_pages = 1 + max(0, -(-(len(columns) - n_first) // n_later))
    for page in range(n_pages) if page_only is None else (page_only,):
        if page and page_only is None:
            new_page()
        painter.save()
        painter.scale(dots_per_mm * UNIT_MM, dots_per_mm * UNIT_MM)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        paint_head(painter, sheet, page, n_pages)
        if page == 0:
            paint_frame(painter, sheet, drawing)
            paint_strip(painter, sheet, drawing)
            boxes, lines = sheet.first_columns, columns[:n_first]
        else:
            begin = n_first + (page - 1) * n_later
            boxes, lines = sheet.later_columns, columns[begin : begin + n_later]
        for box, column in zip(boxes, lines, strict=False):
            paint_column(painter, box, column)
        painter.restore()
    return n_pages


def sheet_on(window, paper: Paper, answer: LayoutAnswer) -> Sheet:
    """The sheet of a layout, in the unit a window shows."""
    today = datetime.date.today()
    return sheet_of(answer.project, answer, window.survey, window.unit, paper, day=today)


def write_pdf(
    path: Path, window, paper: Paper | None = None, answer: LayoutAnswer | None = None
) -> int:
    """Write the plan a window shows as a PDF, whole or not at all; returns how many pages it has.

    Parameters
    ----------
    path : Path
    window : DeskWindow
    paper : Paper, optional
        A4 as it suits the site where it is left out.
    answer : LayoutAnswer, optional
        A settled one; the window's where it is left out.

    Raises
    ------
    InputProblem
        Where the file cannot be written there, or there is no block.
    """
    answer = answer or window.answer
    paper = paper or best_paper(answer.project, "A4", window.unit)
    sheet = sheet_on(window, paper, answer)
    problem = InputProblem(f"{path} cannot be written: choose another folder or free the disk.")
    file = QSaveFile(str(path))
    if not file.open(QSaveFile.OpenModeFlag.WriteOnly):
        raise problem
    writer = QPdfWriter(file)
    writer.setResolution(_DOTS_PER_INCH)
    writer.setTitle(sheet.title)
    writer.setCreator("Layout Desk")
    writer.setPageLayout(_layout_of(paper))
    painter = QPainter(writer)
    if not painter.isActive():
        raise problem
    dots_per_mm = _DOTS_PER_INCH / 25.4
    try:
        pages = paint_sheet(painter, dots_per_mm, sheet, drawing_of(answer), writer.newPage)
    finally:  # a device that goes away under its painter takes the program with it
        whole = painter.end()
    if not whole or not file.commit():
        raise problem
    return pages


def _layout_of(paper: Paper) -> QPageLayout:
    """The paper lying or upright, with no margins: the sheet has its own."""
    wide, high = sorted((paper.width_mm, paper.height_mm))
    size = QPageSize(QSizeF(wide, high), QPageSize.Unit.Millimeter, paper.name)
    ways = QPageLayout.Orientation
    way = ways.Landscape if paper.landscape else ways.Portrait
    return QPageLayout(size, way, QMarginsF(0, 0, 0, 0), QPageLayout.Unit.Millimeter)


def print_plan(window) -> None:
    """Print the plan a window shows, or offer a PDF of it where there is no printer."""
    _when_settled(window, lambda answer: _print(window, answer))


def _when_settled(window, then: Callable[[LayoutAnswer], None]) -> None:
    """Go on with the whole layout of the document: at once where it is shown, else laid anew."""
    if window.document is None:
        return
    window.filing.take_typing()
    answer, project, path = window.answer, window.document.project, window.document.path

    def go_on(answer: LayoutAnswer) -> None:
        try:
            then(answer)
        except InputProblem as problem:
            window.filing.complain(problem)

    if answer is not None and answer.settled and answer.answers(project, path):
        go_on(answer)
        return
    request = LayoutRequest(window.document.revision, project, path=path)
    window.filing.run(
        lambda say: Layouter().answer(request), "Laying out", go_on, window.filing.complain
    )


def _print(window, answer: LayoutAnswer) -> None:
    try:
        from PySide6.QtPrintSupport import QPrinterInfo
    except ImportError as problem:
        offer_pdf(window, answer, f"Printers cannot be reached ({problem}); a PDF can be written.")
        return
    if QPrinterInfo.availablePrinterNames():
        _ask_printer(window, answer)
    else:
        offer_pdf(window, answer, "No printer is set up here; a PDF prints anywhere.")


def offer_pdf(window, answer: LayoutAnswer, sentence: str) -> None:
    """Offer to write a PDF, with the papers and the scale the plan gets on each of them."""

    def choice(name: str):
        paper = best_paper(answer.project, name, window.unit)
        scale = scale_on(answer.project, paper, window.unit)
        return f"{name}, {scale.words.split(' (')[0]}", lambda: ask_pdf(window, paper)

    choices = tuple(map(choice, _OFFERED))
    window.filing.tell(f"{sentence} On which paper?", "Print the plan", choices)


def ask_pdf(window, paper: Paper) -> None:
    """Ask where to, and write the plan there as it is by then."""
    folder = choosing.usual_folder(str(window.settings.value("folder", "")))
    name = re.sub(r'[\\/:*?"<>|]', "-", window.document.project.name)
    path = choosing.chosen_path(
        window, "Write the plan as a PDF", folder / f"{name}.pdf", "PDF (*.pdf)", what="save"
    )
    if path is None:
        return
    path = path if path.suffix.lower() == ".pdf" else path.with_name(f"{path.name}.pdf")

    def write(answer: LayoutAnswer) -> None:
        pages = write_pdf(path, window, paper, answer)
        window.settings.setValue("folder", str(path.parent))
        window.filing.say(f"{_pages(pages)} written to {path.name}")

    _when_settled(window, write)


def _pages(count: int) -> str:
    return f"{count} page{'s' * (count != 1)}"


def _ask_printer(window, answer: LayoutAnswer) -> None:
    """Let a printer be chosen, and print on the paper it is set to."""
    from PySide6.QtPrintSupport import QPrintDialog, QPrinter

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setDocName(answer.project.name)
    size = printer.pageLayout().pageSize().name()
    name = next((n for n in PAPERS if size.startswith(n)), "A4")
    best = _layout_of(best_paper(answer.project, name, window.unit))
    printer.setPageOrientation(best.orientation())
    dialog = QPrintDialog(printer, window)
    agreed = dialog.exec()
    dialog.deleteLater()
    if agreed:
        pages = print_on(printer, window, answer)
        window.filing.say(f"{_pages(pages)} sent to the printer")


def print_on(printer, window, answer: LayoutAnswer) -> int:
    """Print on a printer's paper as it lies; returns how many pages it took.

    Raises
    ------
    InputProblem
        Where the printer takes nothing, or there is no block.
    """
    printer.setFullPage(True)  # the sheet's own margins are wider than any printer's
    full = printer.pageLayout().fullRect(QPageLayout.Unit.Millimeter)
    name = printer.pageLayout().pageSize().name().split(" ")[0]
    sheet = sheet_on(window, Paper(name, full.width(), full.height()), answer)
    painter = QPainter()
    if not painter.begin(printer):
        raise InputProblem("The printer takes nothing: see that it is on, or write a PDF.")
    dots_per_mm = printer.resolution() / 25.4
    try:
        return paint_sheet(painter, dots_per_mm, sheet, drawing_of(answer), printer.newPage)
    finally:
        painter.end()
