"""Printing the plan: a sheet as vectors on any paint device, a PDF, a printer."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QMarginsF, QSaveFile, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter, QPdfWriter

from ..core.model import InputProblem
from ..session.drawing import Drawing, drawing_of
from ..session.sheet import PAPERS, Paper, Sheet, best_paper, scale_on, sheet_of
from . import choosing
from .sheet_plan import paint_frame, paint_strip
from .sheet_text import UNIT_MM, columns_of, paint_column, paint_head

_DOTS_PER_INCH = 1200
_OFFERED = ("A4", "A3", "Letter", "Tabloid")


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


def sheet_on(window, paper: Paper) -> Sheet:
    """The sheet of what a window shows."""
    answer = window.answer
    today = datetime.date.today()
    return sheet_of(answer.project, answer, window.survey, window.unit, paper, day=today)


def write_pdf(path: Path, window, paper: Paper | None = None) -> int:
    """Write the plan a window shows as a PDF, whole or not at all; returns how many pages it has.

    Raises
    ------
    InputProblem
        Where the file cannot be written there.
    """
    paper = paper or best_paper(window.answer.project, "A4", window.unit)
    sheet = sheet_on(window, paper)
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
    pages = paint_sheet(
        painter, _DOTS_PER_INCH / 25.4, sheet, drawing_of(window.answer), writer.newPage
    )
    if not painter.end() or not file.commit():
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
    window.filing.take_typing()
    _when_settled(window, lambda: _print_settled(window))


def _when_settled(window, then: Callable[[], None]) -> None:
    """Go on at once, or as soon as the document has been laid out with all its findings."""
    answer, project = window.answer, window.document.project
    if answer is not None and answer.settled and answer.project == project:
        then()
        return
    window.filing.say("The layout is still being worked out: print again in a moment.")


def _print_settled(window) -> None:
    try:
        best_paper(window.answer.project, "A4", window.unit)
    except InputProblem as problem:
        window.filing.complain(problem)
        return
    try:
        from PySide6.QtPrintSupport import QPrinterInfo
    except ImportError as problem:
        offer_pdf(window, f"Printing is not available here ({problem}); a PDF can be written. ")
        return
    if QPrinterInfo.availablePrinterNames():
        _ask_printer(window)
    else:
        offer_pdf(window, "No printer is set up here; a PDF prints anywhere. ")


def offer_pdf(window, sentence: str = "") -> None:
    """Offer to write a PDF, with the papers and the scale the plan gets on each of them."""
    project, unit = window.answer.project, window.unit

    def answer(name: str):
        paper = best_paper(project, name, unit)
        return f"{name}, {scale_on(project, paper, unit).words}", lambda: ask_pdf(window, paper)

    window.filing.tell(
        f"{sentence}Which paper?",
        "Print the plan",
        (*map(answer, _OFFERED), ("Close", lambda: None)),
    )


def ask_pdf(window, paper: Paper) -> None:
    """Ask where to, and write the PDF there."""
    folder = choosing.usual_folder(str(window.settings.value("folder", "")))
    name = "".join("-" if c in '\\/:*?"<>|' else c for c in window.answer.project.name)
    path = choosing.chosen_path(
        window, "Write the plan as a PDF", folder / f"{name}.pdf", "PDF (*.pdf)", what="save"
    )
    if path is None:
        return
    path = path if path.suffix.lower() == ".pdf" else path.with_name(f"{path.name}.pdf")
    try:
        pages = write_pdf(path, window, paper)
    except InputProblem as problem:
        window.filing.complain(problem)
        return
    window.settings.setValue("folder", str(path.parent))
    window.filing.say(f"{pages} page{'s' * (pages != 1)} written to {path.name}")


def _ask_printer(window) -> None:
    """Let a printer be chosen, and print on the paper it holds."""
    from PySide6.QtPrintSupport import QPrintDialog, QPrinter

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setDocName(window.answer.project.name)
    size = printer.pageLayout().pageSize().name()
    name = next((n for n in PAPERS if size.startswith(n)), "A4")
    printer.setPageOrientation(
        _layout_of(best_paper(window.answer.project, name, window.unit)).orientation()
    )
    dialog = QPrintDialog(printer, window)
    agreed = dialog.exec()
    dialog.deleteLater()
    if agreed:
        try:
            print_on(printer, window)
        except InputProblem as problem:
            window.filing.complain(problem)


def print_on(printer, window) -> int:
    """Print on a printer's paper as it lies; returns how many pages it took.

    Raises
    ------
    InputProblem
        Where the printer takes nothing.
    """
    printer.setFullPage(True)  # the sheet's own margins are wider than any printer's
    full = printer.pageLayout().fullRect(QPageLayout.Unit.Millimeter)
    name = printer.pageLayout().pageSize().name().split(" ")[0]
    sheet = sheet_on(window, Paper(name, full.width(), full.height()))
    painter = QPainter()
    if not painter.begin(printer):
        raise InputProblem("The printer takes nothing: see that it is on, or write a PDF.")
    dots_per_mm = printer.resolution() / 25.4
    pages = paint_sheet(painter, dots_per_mm, sheet, drawing_of(window.answer), printer.newPage)
    painter.end()
    window.filing.say(f"{pages} page{'s' * (pages != 1)} sent to the printer")
    return pages
