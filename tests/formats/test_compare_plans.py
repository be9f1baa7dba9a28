"""The plans of a comparison on paper: as large as a round scale allows, and with rows that can be told apart."""

from __future__ import annotations

import datetime
import math
import re

import numpy as np
import pdfplumber
import pytest
import shapely

from layoutdesk.core.model import Block, Candidate, Project, Site, SiteFrame, Study
from layoutdesk.session.compare_files import write_compare_file
from layoutdesk.session.compare_set import compare_set
from layoutdesk.session.compare_sheet import compare_paper
from layoutdesk.session.comparing import Comparer, CompareRequest

DAY = datetime.date(2031, 5, 6)
ROW_COLOUR = (0x4B / 255, 0x6F / 255, 0x62 / 255)


def answer_on(outlines, *candidates):
    blocks = tuple(Block(f"B{i}", outline) for i, outline in enumerate(outlines, 1))
    site = Site(SiteFrame(-34.5, 138.7, 90.0), "EPSG:32754", "EPSG:32754")
    project = Project("Two Gums", site, blocks, study=Study(candidates=candidates))
    return Comparer().answer(CompareRequest(0, project, None, sweep=False))


def first_page(answer, folder):
    """The page of plans, and its words."""
    write_compare_file(folder / "plans.pdf", answer, day=DAY)
    with pdfplumber.open(folder / "plans.pdf") as pdf:
        page = pdf.pages[0]
        return page, " ".join(page.extract_text().split())


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


@pytest.mark.parametrize("size_m", [40.0, 600.0, 2000.0])
def test_rows_on_paper_never_stand_so_close_that_they_run_together(tmp_path, size_m):
    outline = shapely.box(0, 0, size_m, size_m)
    answer = answer_on([outline], Candidate(0.0), Candidate(0.0, row_spacing_m=3.0))
    page, text = first_page(answer, tmp_path)
    rows = rows_on_page(page)
    said = re.search(r"One row in (\d+) drawn", text)
    away = np.unique(np.round([away for _, away in rows], 3))
    assert len(away) > 10
    assert np.diff(away).min() >= 0.899
    assert (said is None) == (size_m == 40.0)


SIZES = ((1, 1), (2, 1), (1, 6), (6, 1), (5, 4))
"""Of outlines, in hundreds of metres east and north."""


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 8])
@pytest.mark.parametrize("size", SIZES)
def test_plans_are_as_large_as_the_next_round_scale_allows(count, size):
    outline = shapely.box(0, 0, 100.0 * size[0], 100.0 * size[1])
    bearings = [Candidate(float(b)) for b in range(count)]
    paper = compare_paper(compare_set(answer_on([outline], *bearings)))
    on_paper = [100_000.0 * s / paper.ratio for s in size]
    for x, y, wide, high in paper.tiles:
        assert on_paper[0] < wide
        assert on_paper[1] < high
        assert 11.99 <= x < x + wide <= paper.width_mm - 11.99
        assert y + high <= paper.height_mm - 11.99
    for number, one in enumerate(paper.tiles):
        for other in (*paper.tiles[:number], paper.strip):
            assert not shapely.box(*box_of(one)).overlaps(shapely.box(*box_of(other)))
    # Usual scales are no farther apart than 3 : 2, 1 : 5000 and 1 : 7500; the rest is for heads.
    usual = {1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 7.5}
    assert paper.ratio / 10 ** math.floor(math.log10(paper.ratio)) in usual
    upright, lying = (
        fits(count, size, *sorted((paper.width_mm, paper.height_mm), reverse=r)) for r in (0, 1)
    )
    assert paper.ratio <= 1.5 * 1.1 * min(upright, lying)


def box_of(tile):
    return tile[0], tile[1], tile[0] + tile[2], tile[1] + tile[3]


def fits(count, size, wide_mm, high_mm) -> float:
    """The largest scale, round or not, with 12 mm margins, 36 mm for words, and 18 mm over a plan."""
    return min(
        max(
            100_000.0 * size[0] * columns / (wide_mm - 24 - 7 * columns),
            100_000.0
            * size[1]
            * -(-count // columns)
            / max(high_mm - 24 - 36 - 18 * -(-count // columns), 1.0),
        )
        for columns in range(1, count + 1)
    )


def test_blocks_far_apart_are_drawn_side_by_side_and_it_is_said(tmp_path):
    near, far = shapely.box(0, 0, 200, 150), shapely.box(3000, 2500, 3180, 2800)
    answer = answer_on([near, far], Candidate(0.0), Candidate(90.0))
    page, text = first_page(answer, tmp_path)
    ratio = float(re.search(r"1 : (\d+)", text)[1])
    sizes = [(float(r["width"]), float(r["height"])) for r in page.rects]
    assert "nearer to one another than they lie" in text
    assert ratio <= 5000
    for wide, high in ((200, 150), (180, 300)):
        wanted = [x / ratio * 1000 / 25.4 * 72 for x in (wide, high)]
        assert sum(s == pytest.approx(wanted, rel=1e-3) for s in sizes) == 2
    assert {"B1", "B2"} <= set(text.split())
