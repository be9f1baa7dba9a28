"""The plan sheet, read back from its pages: a true scale, every vine at its place, seams, coordinates, words."""

from __future__ import annotations

import datetime
import itertools
import math
import re
from dataclasses import replace

import numpy as np
import pdfplumber
import pytest
import shapely
from pyproj import Transformer
from scipy.spatial import cKDTree

from layoutdesk.core.model import Block, Exclusion, InputProblem, Project, RowRules, Site, SiteFrame
from layoutdesk.core.model.planting import Assignment, Lot, Part, Plant, Planting, TitleBlock
from layoutdesk.formats.crs import frame_crs
from layoutdesk.formats.pdf_pen import COLOURS
from layoutdesk.formats.plan_sheet_pdf import write_plan_sheet_pdf
from layoutdesk.formats.project_file import plan_mark
from layoutdesk.session.places import resource
from layoutdesk.session.plan_sheet import plan_sheet
from layoutdesk.session.planted import PlantingCounter, PlantingRequest
from layoutdesk.session.sheet_tiles import typed_scale
from layoutdesk.session.stakeout import lay_project
from layoutdesk.session.tally import grouped

PT = 72 / 25.4
TODAY = datetime.date(2027, 1, 10)
RULES = RowRules(bearing_deg=20.0, row_spacing_m=2.5, vine_spacing_m=1.5)
FIRST, SECOND, THIRD = Plant("Grüner Veltliner", "GV 3", "5BB"), Plant("Furmint"), Plant("Saperavi")
SMALL = (
    Block("B1", shapely.Polygon([(0, 0), (95, 0), (95, 60), (20, 90)]), RULES),
    Block("B2", shapely.Polygon([(110, 5), (150, 0), (155, 50), (115, 60)]), RULES),
)
WIDE = (Block("B1", shapely.Polygon([(0, 0), (290, 20), (310, 250), (30, 230)]), RULES),)
PLANTED = Planting(
    assignments=(
        Assignment((Part("B1"),), FIRST),
        Assignment((Part("B1", 1, 99, every_vine=9),), SECOND, use="pollinator"),
        Assignment((Part("B2"),), THIRD),
    ),
    title=TitleBlock(client="Hollow Lane Growers", revision="C", sheet_number="P-01"),
)


def project(blocks=SMALL, planting=PLANTED, crs="EPSG:32633") -> Project:
    pond = Exclusion(shapely.Point(60, 40).buffer(5), 3.0, "pond", "pond")
    site = Site(SiteFrame(48.2, 16.1, 90.0), crs, crs)
    return Project("Two Gums, süd", site, blocks, (pond,), planting=planting, day=TODAY)


def answered(known: Project):
    return PlantingCounter().answer(PlantingRequest(1, known, lay_project(known), TODAY))


def written(tmp_path, known, unit="m", paper=None, scale=None):
    """The sheet, and its pages as pdfplumber reads them."""
    sheet = plan_sheet(answered(known), unit, paper, scale)
    path = tmp_path / "plan-sheet.pdf"
    count = write_plan_sheet_pdf(path, sheet, resource("fonts"))
    pdf = pdfplumber.open(path)
    assert len(pdf.pages) == count
    return sheet, pdf.pages


def rgb(role: str) -> list[float]:
    return [int(COLOURS[role][i : i + 2], 16) / 255 for i in (1, 3, 5)]


def is_of(mark, role: str, width_mm: float) -> bool:
    colour = mark.get("stroking_color")
    close = np.size(colour) == 3 and np.allclose(colour, rgb(role), atol=0.003)
    return close and abs(mark["linewidth"] - width_mm * PT) < 0.01


def outlines_mm(page, corners: int) -> list[np.ndarray]:
    """Closed paths of so many corners in the ink and width of outlines. [mm]"""
    found = [c for c in page.curves if is_of(c, "ink", 0.3)]
    rings = [np.array(c["pts"]) / PT for c in found]
    rings = [r[:-1] if np.allclose(r[0], r[-1], atol=1e-3) else r for r in rings]
    return [r for r in rings if len(r) == corners]


def discs_mm(page) -> np.ndarray:
    """Vines that are drawn as discs: lines without length. [mm]"""
    ends = [np.array(m["pts"][:2]) / PT for m in page.lines if len(m["pts"]) == 2]
    short = [e[0] for e in ends if np.hypot(*(e[1] - e[0])) < 0.01]
    return np.array(short).reshape(-1, 2)


def squares_mm(page, size_mm: float) -> np.ndarray:
    """Middles of small filled squares of one size. [mm]"""
    middles = [
        ((r["x0"] + r["x1"]) / 2 / PT, (r["top"] + r["bottom"]) / 2 / PT)
        for r in page.rects
        if r["fill"] and abs(r["width"] / PT - size_mm) < 0.02
    ]
    return np.array(middles).reshape(-1, 2)


def on_ground(sheet, tile, xy_mm) -> np.ndarray:
    """Places of a page in the site frame, by the frame's middle and the printed scale alone. [m]"""
    x, y, wide, high = sheet.frame
    return (xy_mm - (x + wide / 2, y + high / 2)) * (1, -1) * sheet.measure.ratio / 1000 + tile.centre_m  # fmt: skip


def bare(pages) -> str:
    """All words in the order they were drawn, without blanks."""
    return re.sub(r"\s+", "", "".join(c["text"] for page in pages for c in page.chars))


def is_slanted(char) -> bool:
    return abs(char["matrix"][1]) > 1e-6


def in_frame(sheet, xy_mm) -> np.ndarray:
    x, y, wide, high = sheet.frame
    inside = (xy_mm > (x, y)) & (xy_mm < (x + wide, y + high))
    return xy_mm[inside.all(axis=1)]


@pytest.mark.parametrize(
    ("unit", "paper", "scale", "ratio"),
    [
        ("m", "A3", "1:600", 600.0),
        ("m", "A1", "1:250", 250.0),
        ("ft", "Tabloid", "1 in = 50 ft", 600.0),
        ("usft", "Letter", "1\"=100'", 1200 * (1200 / 3937) / 0.3048),
    ],
)
def test_outlines_on_the_page_are_as_long_as_on_the_ground_over_the_scale(
    tmp_path, unit, paper, scale, ratio
):
    sheet, pages = written(tmp_path, project(), unit, paper, scale)
    assert sheet.measure.ratio == pytest.approx(ratio, rel=1e-12)
    assert sheet.measure.words in pages[0].extract_text()
    ground = shapely.get_coordinates(SMALL[0].outline)[:-1]
    best = min(
        (ring for ring in outlines_mm(pages[0], 4)),
        key=lambda ring: abs(np.ptp(ring[:, 0]) - 95 * 1000 / ratio),
    )
    wanted = sorted(np.hypot(*(a - b)) * 1000 / ratio for a, b in itertools.combinations(ground, 2))
    drawn = sorted(np.hypot(*(a - b)) for a, b in itertools.combinations(best, 2))
    assert drawn == pytest.approx(wanted, rel=1e-3)


def test_ticks_stand_where_the_survey_grid_has_the_coordinate_that_is_printed_beside_them(tmp_path):
    sheet, pages = written(tmp_path, project(), scale="1:750")
    to_utm = Transformer.from_crs(frame_crs(project().site.frame), 32633, always_xy=True)
    _, y, _, high = sheet.frame
    words = pages[0].extract_words(use_text_flow=False, extra_attrs=["upright"])
    told = 0
    for i, word in enumerate(words):
        if word["text"] != "E":
            continue
        figures = []
        for after in words[i + 1 : i + 4]:
            if abs(after["top"] - word["top"]) < 0.5 and re.fullmatch(r"\d+", after["text"]):
                figures.append(after)
        value = float("".join(f["text"] for f in figures))
        middle = (word["x0"] + figures[-1]["x1"]) / 2 / PT
        at_top = word["top"] / PT < y
        place = on_ground(sheet, sheet.tiles[0], np.array([[middle, y if at_top else y + high]]))
        easting = to_utm.transform(*place[0])[0]
        assert easting == pytest.approx(value, abs=0.1)  # 0.13 mm on paper: the middle of the words
        told += 1
    assert told >= 4


def test_crosses_are_turned_and_stretched_as_the_grid_is(tmp_path):
    # EPSG:32633 at 16.1° E is east of its middle meridian 15° E: by sin φ tan Δλ grid north lies 0.82° east of
    # true north (first term of the series; J. P. Snyder, Map Projections: A Working Manual, USGS, 1987).
    _, pages = written(tmp_path, project(), scale="1:750")
    arms = [
        np.array(line["pts"]) / PT
        for line in pages[0].lines
        if is_of(line, "soft", 0.15)
        and abs(np.hypot(*np.ptp(line["pts"], axis=0)) / PT - 5.0) < 0.01
    ]
    upright = [a for a in arms if abs(np.ptp(a[:, 1])) > 4]
    assert len(upright) >= 6
    turn = [math.degrees(math.atan2(*((a[np.argmin(a[:, 1])] - a[np.argmax(a[:, 1])]) * (1, -1)))) for a in upright]  # fmt: skip
    convergence = math.degrees(math.sin(math.radians(48.2)) * math.tan(math.radians(1.1)))
    assert turn == pytest.approx([convergence] * len(turn), abs=0.02)
    middles = np.array([a.mean(axis=0) for a in upright])
    apart = np.sort(cKDTree(middles).query(middles, k=2)[0][:, 1])
    scale = 0.9996 * (1 + 0.5 * (math.radians(1.1) * math.cos(math.radians(48.2))) ** 2)
    height = 6_378_137 / (6_378_137 + 90)
    ground_mm = 50 / (scale * height) * 1000 / 750
    assert apart == pytest.approx([ground_mm] * len(apart), rel=1e-3)


def test_every_vine_is_drawn_at_its_place_on_some_sheet_and_no_other_is(tmp_path):
    known = project(WIDE, Planting(), "EPSG:32633")
    sheet, pages = written(tmp_path, known, paper="A3", scale="1:500")
    assert len(sheet.tiles) > 2
    drawn = [
        on_ground(sheet, tile, in_frame(sheet, discs_mm(page)))
        for tile, page in zip(sheet.tiles, pages[1:], strict=False)
    ]
    vines = sheet.plans[0].vines.xy_m
    away, which = cKDTree(vines).query(np.concatenate(drawn))
    assert away.max() < 0.02  # 0.04 mm on paper
    assert len(np.unique(which)) == len(vines)


def test_what_two_sheets_show_alike_is_alike_and_each_tells_the_others_number(tmp_path):
    sheet, pages = written(tmp_path, project(WIDE, Planting()), paper="A3", scale="1:500")
    shown = {t.number: p for t, p in zip(sheet.tiles, pages[1:], strict=False)}
    seams = [(t, n) for t in sheet.tiles for side, n in t.neighbours.items() if side == "right"]
    assert seams
    for tile, number in seams:
        other = sheet.tiles[number - 1]
        left = on_ground(sheet, tile, in_frame(sheet, discs_mm(shown[tile.number])))
        right = on_ground(sheet, other, in_frame(sheet, discs_mm(shown[number])))
        x0, y0, x1, y1 = shapely.box(*tile.bounds_m).intersection(shapely.box(*other.bounds_m)).bounds  # fmt: skip
        inner = np.array([x0 + 0.1, y0 + 0.1]), np.array([x1 - 0.1, y1 - 0.1])
        mine = left[((left > inner[0]) & (left < inner[1])).all(axis=1)]
        theirs = right[((right > inner[0]) & (right < inner[1])).all(axis=1)]
        assert len(mine) == len(theirs) > 20
        assert cKDTree(theirs).query(mine)[0].max() < 0.01
        assert 10 <= (x1 - x0) * 1000 / 500 <= 20
        turned = "".join(c["text"] for c in shown[tile.number].chars if is_slanted(c))
        assert f"sheet {number}" in turned
        assert f"sheet {tile.number} of {len(sheet.tiles)}" in shown[tile.number].extract_text()


def test_the_index_map_shows_every_sheet_where_it_lies(tmp_path):
    sheet, pages = written(tmp_path, project(WIDE), paper="A4")
    index = pages[0]
    text = index.extract_text()
    assert f"index of {len(sheet.tiles)} sheets" in text
    assert sheet.index_measure.words in text
    _, _, wide, _ = sheet.frame
    frames = [r for r in [*index.rects, *index.curves] if is_of(r, "accent", 0.3)]
    shown = [r for r in frames if r["width"] / PT > 10]
    assert len(shown) == len(sheet.tiles)
    assert shown[0]["width"] / PT == pytest.approx(
        wide * sheet.measure.ratio / sheet.index_measure.ratio, rel=1e-3
    )


def test_plants_are_told_apart_by_form_and_by_letters_behind_row_numbers(tmp_path):
    sheet, pages = written(tmp_path, project(), scale="1:750")
    counts = np.bincount(sheet.vine_class, minlength=3)
    labels = [mark.label for mark in sheet.marks]
    at = [labels.index(str(p)) for p in (FIRST, SECOND, THIRD)]
    discs = in_frame(sheet, discs_mm(pages[0]))
    # the first is drawn as discs, the third as discs with white ones on them, the second as squares
    assert len(discs) == counts[at[0]] + 2 * counts[at[2]]
    squares = in_frame(sheet, squares_mm(pages[0], 0.88 * 0.62 * sheet.vine_mm))
    assert len(squares) == counts[at[1]]
    text = pages[0].extract_text().replace("\u202f", " ")
    for i, letter in zip(at, "abc", strict=True):
        assert f"{letter} {labels[i]}: {grouped(counts[i])}".replace("\u202f", " ") in text
    turned = "".join(c["text"] for c in pages[0].chars if is_slanted(c))
    assert re.search(r"\d+[AB]? a b", turned)
    assert re.search(r"\d+ c", turned)


def test_no_row_number_lies_over_a_vine(tmp_path):
    sheet, pages = written(tmp_path, project(), scale="1:750")
    vines = in_frame(sheet, discs_mm(pages[0]))
    x, _, wide, _ = sheet.frame
    inside = [
        c
        for c in pages[0].chars
        if is_slanted(c) and x < c["x0"] / PT and c["x1"] / PT < x + wide and c["text"].strip()
    ]
    assert len(inside) > 100
    for c in inside:
        box = np.array([(c["x0"], c["top"]), (c["x1"], c["bottom"])]) / PT
        assert not ((vines > box[0]) & (vines < box[1])).all(axis=1).any()


def test_a_sheet_carries_its_marks_cautions_decisions_and_a_title_block_to_fill(tmp_path):
    known = project()
    _, pages = written(tmp_path, known)
    first, everything = bare(pages[:1]), bare(pages)
    for words in (
        f"Plan {plan_mark(known)}, revision C, 2027-01-10",
        *("Hollow Lane Growers", "P-01, 1 of 1", "Checked by", "Remarks", "1 : 750, A3"),
        *("True north", "buried services located", "containers are off"),
        "Rows run at 020.0° true, 2.50 m apart, with a vine every 1.50 m",
    ):
        assert re.sub(r"\s+", "", words) in first, words
    for words in (
        "The graft union stays 5.5 cm to 8 cm above the soil",
        "WGS 84 / UTM zone 33N (EPSG:32633); unit metre",
        "Convergence +0.82",
        "B1-R002A",  # the row table is behind the plan
    ):
        assert re.sub(r"\s+", "", words) in everything, words


def test_type_is_embedded_and_nothing_runs_off_a_page(tmp_path):
    long = "A site with a name so long that it takes more than one line beside any plan"
    known = replace(project(WIDE), name=long)
    for paper in ("A4", "Letter", "A2"):
        sheet, pages = written(tmp_path, known, paper=paper)
        for page in pages:
            assert (page.width, page.height) == pytest.approx((sheet.width_mm * PT, sheet.height_mm * PT), abs=0.01)  # fmt: skip
            chars = [c for c in page.chars if c["text"].strip()]
            assert all(re.match(r"[A-Z]{6}\+", c["fontname"]) for c in chars)
            assert min(c["x0"] for c in chars) >= 11.5 * PT
            assert max(c["x1"] for c in chars) <= page.width - 11.5 * PT
            assert max(c["bottom"] for c in chars) <= page.height - 10 * PT


def test_words_beside_the_plan_stay_clear_of_the_title_block(tmp_path):
    sheet, pages = written(tmp_path, project(WIDE), paper="A4")
    for page in pages[: 1 + len(sheet.tiles)]:
        column = [c for c in page.chars if c["x0"] / PT > sheet.column[0] - 1 and c["text"].strip()]
        feet = sorted({round(c["bottom"], 1) for c in column})
        assert min(np.diff(feet)) > 0.4 or len(feet) < 2
        block = [w for w in page.extract_words() if w["text"] == "For"]
        top = max(w["top"] for w in block)
        above = [c["bottom"] for c in column if c["bottom"] < top]
        assert top - max(above) > 1.5


def test_the_usual_scale_is_one_sheet_where_vines_can_be_read_and_else_1_to_500():
    one = plan_sheet(answered(project()))
    assert (len(one.tiles), one.measure.ratio) == (1, 750.0)
    many = plan_sheet(answered(project(WIDE)))
    assert many.measure.ratio == 500.0
    assert 1 < len(many.tiles) <= 24
    assert plan_sheet(answered(project(WIDE)), "ft").paper == "Tabloid"
    feet = plan_sheet(answered(project(WIDE)), "ft", "Letter")
    assert (feet.measure.ratio, feet.measure.words) == (480.0, "1 in = 40 ft (1 : 480)")
    whole = plan_sheet(answered(project(WIDE)), scale="fit")
    assert len(whole.tiles) == 1
    assert whole.index is None


def test_a_large_site_takes_a_smaller_scale_and_says_so_and_rows_stand_for_vines(tmp_path):
    rules = replace(RULES, row_spacing_m=2.0, vine_spacing_m=1.0)
    blocks = tuple(
        Block(f"B{i}", shapely.box(500 * (i % 3), 500 * (i // 3), 500 * (i % 3) + 480, 500 * (i // 3) + 480), rules)
        for i in range(9)
    )  # fmt: skip
    known = replace(project(blocks), exclusions=())
    sheet, pages = written(tmp_path, known, paper="A4")
    assert sheet.measure.ratio > 500
    assert len(sheet.tiles) <= 24
    text = re.sub(r"\s+", " ", pages[1].extract_text())
    assert "At 1 : 500 it would take more than 24 sheets" in text
    assert "rows are drawn, in the dashes of their plants" in text
    assert not len(in_frame(sheet, discs_mm(pages[1])))
    assert (tmp_path / "plan-sheet.pdf").stat().st_size < 6e6
    assert sheet.rows is None
    assert "are too many to print" in " ".join(p.extract_text() for p in pages[-3:])


@pytest.mark.parametrize(
    ("text", "ratio"),
    [("1:500", 500), ("1 : 1250", 1250), ("1/2000", 2000), ("750", 750), ("1:2 500", 2500), ("1:2,500", 2500),
     ('1"=50\'', 600), ("1 in = 40 ft", 480), ("1in=100ft", 1200), ("20 ft/in", 240)],
)  # fmt: skip
def test_scales_are_read_as_people_write_them(text, ratio):
    assert typed_scale(text, "ft").ratio == pytest.approx(ratio)


@pytest.mark.parametrize(
    "text", ["", "1:0", "1:9", "half", "1:-500", "500:1", "1:999999", "1 in = ft"]
)
def test_what_is_no_scale_is_refused_in_one_sentence(text):
    with pytest.raises(InputProblem, match=r"is no scale of a plan"):
        typed_scale(text)


def test_a_scale_that_needs_hundreds_of_sheets_is_refused_before_anything_is_made():
    known = project((Block("B1", shapely.box(0, 0, 900, 900), RULES),), Planting())
    with pytest.raises(InputProblem, match=r"needs more than 200 sheets"):
        plan_sheet(answered(known), paper="A4", scale="1:50")


def test_the_same_plan_is_the_same_file(tmp_path):
    files = []
    for name in ("a.pdf", "b.pdf"):
        write_plan_sheet_pdf(tmp_path / name, plan_sheet(answered(project())), resource("fonts"))
        files.append((tmp_path / name).read_bytes())
    assert files[0] == files[1]


def test_missing_and_dead_vines_are_crossed_out_and_counted(tmp_path):
    from layoutdesk.session.recording import with_loss, with_planted

    lots = tuple(Lot(f"27-{i}", p, delivered=2000, tags_recorded=True) for i, p in enumerate((FIRST, SECOND, THIRD)))  # fmt: skip
    known = project()
    given = tuple(replace(a, lot=lot.name) for a, lot in zip(PLANTED.assignments, lots, strict=True))  # fmt: skip
    known = replace(known, planting=replace(PLANTED, lots=lots, assignments=given))
    plans = lay_project(known)
    said = {"by": "Mara", "when": "2027-06-20T09:30:00+02:00"}
    day = datetime.date(2027, 4, 5)
    lost = np.array([3, 40, 77])
    known = with_planted(known, plans, np.arange(200), day, **said)
    known = with_loss(known, plans, lost, "dead", "frost", day + datetime.timedelta(30), **said)
    sheet, pages = written(tmp_path, known, scale="1:750")
    assert np.flatnonzero(sheet.lost).tolist() == lost.tolist()
    assert "Missingordeadbytheregister:3" in bare(pages[:1])
    places = sheet.plans[0].vines.xy_m[lost]
    crosses = [
        on_ground(sheet, sheet.tiles[0], np.array(line["pts"]).mean(axis=0)[None] / PT)[0]
        for line in pages[0].lines
        if np.allclose(line["stroking_color"], rgb("accent"), atol=0.003) and len(line["pts"]) == 2
        if np.hypot(*np.ptp(line["pts"], axis=0)) > 1
    ]
    away = cKDTree(np.array(crosses)).query(places)[0]
    assert away.max() < 0.03


def test_a_project_without_a_block_is_told_what_to_do():
    answer = answered(project())
    bare = replace(answer, project=replace(answer.project, blocks=()), plans=())
    with pytest.raises(InputProblem, match="has no block to print"):
        plan_sheet(bare)
