"""A pen on sheets of a PDF that counts millimetres from the left and the top."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

MARGIN_MM = 12.0
SMALLEST_PT = 6.5
"""Type smaller than this is not read on paper. [pt]"""
_PT = 72 / 25.4
"""Points a millimetre. Source: ISO 32000-1 (2008), 8.3.2.3: a unit of user space is 1/72 inch."""

COLOURS = {
    "ink": "#22302B",
    "soft": "#5F6963",
    "hairline": "#DAD2C0",
    "row": "#4B6F62",
    "accent": "#A33B2B",
    "better": "#2F6B52",
    "water": "#2A6A8E",
    "water fill": "#D5E4EA",
    "kept clear": "#EFE9DC",
    "exclusion": "#E2DCCB",
    "contour": "#9A8458",
    "contour words": "#6E5C36",
    "white": "#FFFFFF",
    # Shares of the mean flow, from little to much: warm, quiet at what is usual, blue.
    "share 0": "#A33B2B",
    "share 1": "#A85647",
    "share 2": "#AD7063",
    "share 3": "#B38B80",
    "share 4": "#BDC0B8",
    "share 5": "#829EA7",
    "share 6": "#2A6A8E",
}
_FACES = {
    "sans": ("LayoutDesk-Inter", "Inter-Regular.ttf"),
    "sans strong": ("LayoutDesk-Inter-SemiBold", "Inter-SemiBold.ttf"),
    "serif": ("LayoutDesk-SourceSerif", "SourceSerif4-Regular.ttf"),
    "serif strong": ("LayoutDesk-SourceSerif-SemiBold", "SourceSerif4-SemiBold.ttf"),
}


_MINUS = re.compile(r"(?<=[\s(])-(?=\d)")
_UNIT = re.compile(r"(?<=\d)[ \u202f](?=(?:%|°|mm|cm|m|ft|US ft|h|ppm|MJ|[A-Z]{3})(?![\w]))")


def kept_together(text: str) -> str:
    """A text whose figures keep to their units and their signs when it is broken into lines.

    Examples
    --------
    >>> kept_together("by 1.2 % (-5 cm)") == "by 1.2\u00a0% (−5\u00a0cm)"
    True
    """
    return _UNIT.sub("\u00a0", _MINUS.sub("−", text)).replace("\u202f", "\u00a0")


def _load_faces(fonts: Path) -> None:
    from reportlab.lib.fonts import addMapping
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in _FACES.values():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(fonts / file)))
    for family in ("sans", "serif"):
        plain, strong = _FACES[family][0], _FACES[f"{family} strong"][0]
        for bold, italic in ((0, 0), (0, 1), (1, 0), (1, 1)):
            addMapping(plain, bold, italic, strong if bold else plain)


class Pen:
    """Draws on the page in hand; places are (x, y) from the left and the top. [mm]"""

    def __init__(self, path, width_mm: float, height_mm: float, fonts: Path):
        from reportlab.pdfgen.canvas import Canvas

        _load_faces(fonts)
        self.width_mm, self.height_mm = width_mm, height_mm
        size = (width_mm * _PT, height_mm * _PT)
        plain = _FACES["sans"][0]  # else a typeface that is not embedded is named in the file
        self.canvas = Canvas(str(path), pagesize=size, invariant=1, initialFontName=plain)

    def named(self, title: str, subject: str) -> None:
        """Set what a reader shows of the document, and what language it is read aloud in."""
        from reportlab.pdfbase.pdfdoc import PDFString

        self.canvas.setTitle(title)
        self.canvas.setSubject(subject)
        self.canvas.setCreator("Layout Desk")
        self.canvas.setAuthor("Layout Desk")
        self.canvas.setViewerPreference("DisplayDocTitle", "true")
        self.canvas.setCatalogEntry("Lang", PDFString("en"))

    def sized(self, width_mm: float, height_mm: float) -> None:
        """Go on with pages of another size; called before anything is drawn on one."""
        self.width_mm, self.height_mm = width_mm, height_mm
        self.canvas.setPageSize((width_mm * _PT, height_mm * _PT))

    def end_page(self) -> None:
        self.canvas.showPage()

    def save(self, day) -> None:
        """Write the file; its date is that of the comparison, so that the same one is the same file."""
        import calendar

        stamp = self.canvas._doc._timeStamp
        stamp.YMDhms = (day.year, day.month, day.day, 0, 0, 0)
        stamp.t = calendar.timegm((*stamp.YMDhms, 0, 0, 0))
        self.canvas.save()

    def points(self, xy_mm) -> np.ndarray:
        """Places as the file has them, from the left and the bottom. [pt]"""
        return (np.asarray(xy_mm, dtype=float) * (1, -1) + (0, self.height_mm)) * _PT

    def text(self, x, y, text, face="sans", size=8.0, align="left", colour="ink") -> None:
        """A line of text whose foot stands at a place."""
        canvas = self.canvas
        canvas.setFillColor(COLOURS[colour])
        canvas.setFont(_FACES[face][0], size)
        draw = {
            "left": canvas.drawString,
            "right": canvas.drawRightString,
            "centre": canvas.drawCentredString,
        }[align]
        draw(*self.points((x, y)).tolist(), text)

    def text_turned(self, x, y, text, face, size, angle_deg, colour="ink", ground_mm=0.0) -> None:
        """A line of text with its middle at a place, turned to the left; on white where it has a ground."""
        canvas = self.canvas
        canvas.saveState()
        canvas.translate(*self.points((x, y)).tolist())
        canvas.rotate(angle_deg)
        if ground_mm:
            wide = (self.width_of_mm(text, face, size) + 2 * ground_mm) * _PT
            canvas.setFillColor(COLOURS["white"])
            canvas.rect(-wide / 2, -0.5 * size, wide, size, stroke=0, fill=1)
        canvas.setFillColor(COLOURS[colour])
        canvas.setFont(_FACES[face][0], size)
        canvas.drawCentredString(0, -0.36 * size, text)
        canvas.restoreState()

    def width_of_mm(self, text: str, face="sans", size=8.0) -> float:
        """How wide a line of text is. [mm]"""
        from reportlab.pdfbase.pdfmetrics import stringWidth

        return stringWidth(text, _FACES[face][0], size) / _PT

    def text_within(self, x, y, text, face, size, most_mm, colour="ink", align="left") -> None:
        """A line of text, set smaller and at last cut with an ellipsis where it is too wide."""
        while size > SMALLEST_PT and self.width_of_mm(text, face, size) > most_mm:
            size = max(size - 0.5, SMALLEST_PT)
        shown = text
        while len(shown) > 1 and self.width_of_mm(shown, face, size) > most_mm:
            shown = f"{shown.rstrip('…')[:-1]}…"
        self.text(x, y, shown, face, size, align, colour)

    def broken(self, text: str, face: str, size: float, wide_mm: float) -> list[str]:
        """A text as lines that are no wider."""
        from reportlab.lib.utils import simpleSplit

        return simpleSplit(kept_together(text), _FACES[face][0], size, wide_mm * _PT)

    def text_lines(self, x, y, texts, face, size, leading_mm, colour="ink") -> None:
        """Lines of text one under another, the first with its foot at a place."""
        for i, text in enumerate(texts):
            self.text(x, y + i * leading_mm, text, face, size, colour=colour)

    def marked(self, name: str) -> None:
        """Set a bookmark with a name at the page in hand."""
        self.canvas.bookmarkPage(name)
        self.canvas.addOutlineEntry(name, name, level=0)

    def line(self, x0, y0, x1, y1, colour="ink", width_mm=0.2, dash=()) -> None:
        self._stroke(colour, width_mm, dash)
        self.canvas.line(*self.points([(x0, y0), (x1, y1)]).ravel().tolist())

    def lines(self, ends_mm, colour: str, width_mm: float, dash=()) -> None:
        """Many straight pieces, (n, 2, 2), as one path."""
        self._stroke(colour, width_mm, dash)
        flat = self.points(ends_mm).reshape(-1, 4)
        if len(flat):
            self.canvas.lines(flat.tolist())

    def path(self, xy_mm, colour: str, width_mm: float, dash=()) -> None:
        """Places joined by a line, (n, 2)."""
        self._stroke(colour, width_mm, dash)
        self.canvas.drawPath(self._path([xy_mm], closed=False), stroke=1, fill=0)

    def area(self, rings_mm, fill: str | None, edge: str | None = None, width_mm=0.2, dash=()):
        """A polygon with its holes, filled, outlined, or both."""
        if fill:
            self.canvas.setFillColor(COLOURS[fill])
        if edge:
            self._stroke(edge, width_mm, dash)
        path = self._path(rings_mm, closed=True)
        self.canvas.drawPath(path, stroke=int(bool(edge)), fill=int(bool(fill)), fillMode=0)

    def dot(self, x, y, radius_mm, colour) -> None:
        self.canvas.setFillColor(COLOURS[colour])
        self.canvas.circle(*self.points((x, y)).tolist(), radius_mm * _PT, stroke=0, fill=1)

    def clipped(self, x, y, width_mm, height_mm) -> None:
        """Draw inside a rectangle alone, until `free`."""
        self.canvas.saveState()
        corners = [(x, y), (x + width_mm, y), (x + width_mm, y + height_mm), (x, y + height_mm)]
        self.canvas.clipPath(self._path([corners], closed=True), stroke=0, fill=0)

    def free(self) -> None:
        self.canvas.restoreState()

    def _stroke(self, colour: str, width_mm: float, dash=()) -> None:
        self.canvas.setStrokeColor(COLOURS[colour])
        self.canvas.setLineWidth(width_mm * _PT)
        self.canvas.setLineJoin(1)
        self.canvas.setDash([d * _PT for d in dash])

    def _path(self, rings_mm, closed: bool):
        path = self.canvas.beginPath()
        for ring in rings_mm:
            places = self.points(ring).tolist()
            if closed and len(places) > 1 and places[0] == places[-1]:
                places.pop()
            path.moveTo(*places[0])
            for place in places[1:]:
                path.lineTo(*place)
            if closed:
                path.close()
        return path


def _styles() -> dict:
    from reportlab.lib.colors import HexColor
    from reportlab.lib.styles import ParagraphStyle

    ink = HexColor(COLOURS["ink"])
    sans, serif, strong = _FACES["sans"][0], _FACES["serif"][0], _FACES["serif strong"][0]
    text = ParagraphStyle("text", fontName=sans, fontSize=8, leading=11, textColor=ink)
    return {
        "text": text,
        "rules": ParagraphStyle("rules", text, fontName=serif, fontSize=9.5, leading=13),
        "heading": ParagraphStyle("heading", text, fontName=strong, fontSize=11, leading=14),
        "group": ParagraphStyle("group", text, fontName=strong, fontSize=9, leading=12),
    }


_BEFORE_MM = {"text": 1.2, "rules": 1.2, "heading": 4.0, "group": 2.4}


def flowed(pen: Pen, parts, boxes) -> list:
    """Paragraphs set one after another into the boxes of as many pages as they need.

    Parameters
    ----------
    pen : Pen
    parts : list of (str, str)
        Marked-up text, and its style: "heading", "group", "rules" or "text".
    boxes : list of (x, y, width, height)
        Columns of every page. [mm]

    Returns
    -------
    list of functions
        Each draws one page.
    """
    from reportlab.platypus import Paragraph

    styles = _styles()
    placed: list[list] = [[]]
    column, used = 0, 0.0

    def next_column():
        nonlocal column, used
        column, used = column + 1, 0.0
        if column == len(boxes):
            column = 0
            placed.append([])

    for index, (text, style) in enumerate(parts):
        rest = [Paragraph(kept_together(text), styles[style])]
        if style in ("heading", "group") and index + 1 < len(
            parts
        ):  # never parted from what it is over
            _, high = Paragraph(*(parts[index + 1][0], styles[parts[index + 1][1]])).wrap(
                boxes[column][2] * _PT, 1e6
            )
            if used + min(high / _PT, 12.0) + 12.0 > boxes[column][3]:
                next_column()
        while rest:
            x, y, wide, most = boxes[column]
            before = _BEFORE_MM[style] if used else 0.0
            left = most - used - before
            pieces = rest[0].split(wide * _PT, left * _PT) if left > 4 else []
            if not pieces:
                if not used:
                    break
                next_column()
                continue
            piece, rest = pieces[0], pieces[1:]
            _, high = piece.wrap(wide * _PT, left * _PT)
            placed[-1].append((piece, x, y + used + before + high / _PT))
            used += before + high / _PT
            if rest:
                next_column()

    def page(of):
        def draw():
            for piece, x, foot in of:
                piece.drawOn(pen.canvas, *pen.points((x, foot)).tolist())

        return draw

    return [page(of) for of in placed if of]
