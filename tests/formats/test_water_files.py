"""The files of a drip system, read back by readers that are not ours; the network solved by EPANET."""

from __future__ import annotations

import csv
import datetime
import json
from dataclasses import replace

import numpy as np
import pdfplumber
import pytest
import shapely

from layoutdesk.core.model import Block, InputProblem, Project, RowRules, Site, SiteFrame, Water
from layoutdesk.core.model.water import Drip, Source
from layoutdesk.core.water.emitters import KPA_PER_M
from layoutdesk.formats.crs import frame_to_survey
from layoutdesk.session import water_files
from layoutdesk.session.stakeout import lay_project
from layoutdesk.session.water_files import FILES, write_water_file, write_water_set
from layoutdesk.session.watering import WaterDesigner, WaterRequest

DAY = datetime.date(2031, 5, 6)
RULES = RowRules(bearing_deg=20.0, row_spacing_m=2.5, vine_spacing_m=1.5)
CORNER = shapely.Polygon([(0, 0), (110, 0), (110, 80), (30, 110)])
FIELD = shapely.box(150, 0, 200, 70)
USUAL = (Drip(),)
CLOSE = 1e-4
"""0.01 %, so that EPANET's other gravity (0.08 % of losses) would show; 0.05 % is what is promised."""


class Plane:
    """Ground that rises to the north and a little to the east."""

    spacing_m = 1.0
    bounds_m = (-500.0, -500.0, 500.0, 500.0)

    def __init__(self, rise: float):
        self.rise = rise

    def heights_m(self, xy_m):
        x, y = np.asarray(xy_m).T
        return 300.0 + self.rise * y + 0.01 * x


def answered(drips=USUAL, *, rise=None, source=None, names=("B1", "B2"), rules=RULES, haste=False):
    """The drip system of one or two blocks, each with its own drip."""
    outlines = (CORNER, FIELD)[: len(drips)]
    blocks = tuple(Block(n, o, rules) for n, o in zip(names, outlines, strict=False))
    known = Water(
        tuple((b.name, d) for b, d in zip(blocks, drips, strict=True)), source or Source()
    )
    site = Site(SiteFrame(-34.5, 138.7, 90.0), "EPSG:32754", "EPSG:32754")
    project = Project("Two Gums", site, blocks, water=known)
    surface = None if rise is None else Plane(rise)
    request = WaterRequest(0, project, lay_project(project), surface, haste)
    return WaterDesigner().answer(request)


def table(path) -> list[dict]:
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def solved(path) -> dict[str, tuple[float, float, float]]:
    """Pressure [m], flow [L/h] and head [m] of every node, by EPANET's C toolkit."""
    from epanet import toolkit

    project = toolkit.createproject()
    try:
        toolkit.open(project, str(path), str(path.with_suffix(".rpt")), "")
        toolkit.solveH(project)
        nodes = range(1, toolkit.getcount(project, toolkit.NODECOUNT) + 1)
        of = (toolkit.PRESSURE, toolkit.DEMAND, toolkit.HEAD)
        found = {
            toolkit.getnodeid(project, i): [toolkit.getnodevalue(project, i, w) for w in of]
            for i in nodes
        }
        toolkit.close(project)
    finally:
        toolkit.deleteproject(project)
    return {name: (p, 60 * q, h) for name, (p, q, h) in found.items()}


@pytest.fixture(scope="module")
def answer():
    drips = (Drip(exponent=0.5, tube_mm=9.0, sets=2), Drip(emitters_per_vine=2))
    return answered(drips, rise=0.03)


@pytest.fixture(scope="module")
def folder(tmp_path_factory, answer):
    path = tmp_path_factory.mktemp("watered")
    write_water_set(path, answer, day=DAY)
    return path


def test_every_vine_stands_in_the_table_with_its_pressure_and_flow(folder, answer):
    rows, design = table(folder / "emitters.csv"), answer.design
    assert list(rows[0]) == ["code", "lateral", "pressure_kpa", "flow_l_h"]
    assert len(rows) == len({r["code"] for r in rows}) == sum(p.n_vines for p in answer.plans)
    assert all(r["code"].startswith(f"{r['lateral']}-V") for r in rows)
    kpa = [float(r["pressure_kpa"]) for r in rows]
    np.testing.assert_allclose(kpa, design.vine_head_m * KPA_PER_M, atol=6e-4)
    flow = [float(r["flow_l_h"]) for r in rows]
    np.testing.assert_allclose(flow, design.vine_flow_l_h, atol=6e-5)


def test_vines_beyond_a_bridged_gap_are_on_the_lateral_of_the_first_segment(tmp_path):
    rules = replace(RULES, alley_every_m=50.0, alley_width_m=6.0)
    found = answered((Drip(bridge_m=10.0),), rules=rules)
    write_water_set(tmp_path, found, day=DAY)
    rows = table(tmp_path / "emitters.csv")
    beyond = [r for r in rows if "B-V" in r["code"]]
    assert beyond
    assert all(r["lateral"] == r["code"].split("-V")[0][:-1] + "A" for r in beyond)
    laterals = {r["lateral"]: r for r in table(tmp_path / "laterals.csv")}
    one = laterals[beyond[0]["lateral"]]
    assert (one["from_segment"], one["to_segment"] >= "B") == ("A", True)


def test_laterals_and_sets_add_up_to_the_vines(folder, answer):
    vines, laterals, sets = (table(folder / f"{n}.csv") for n in ("emitters", "laterals", "sets"))
    of_lateral: dict[str, float] = {}
    for r in vines:
        of_lateral[r["lateral"]] = of_lateral.get(r["lateral"], 0.0) + float(r["flow_l_h"])
    assert of_lateral == pytest.approx(
        {r["lateral"]: float(r["flow_l_h"]) for r in laterals}, abs=0.02
    )
    assert len(sets) == 3
    for one in sets:
        mine = [r for r in laterals if r["set"] == one["set"]]
        assert len(mine) == int(one["laterals"])
        assert sum(int(r["vines"]) for r in mine) == int(one["vines"])
        total = sum(float(r["flow_l_h"]) for r in mine) / 1000
        assert total == pytest.approx(float(one["flow_m3_h"]), rel=1e-4)
    lines = answer.design.lines
    site = answer.project.site
    wanted = frame_to_survey(site.frame, site.survey_crs)(lines.inlet_xy_m)
    found = [(float(r["inlet_easting"]), float(r["inlet_northing"])) for r in laterals]
    np.testing.assert_allclose(found, wanted, atol=1e-3)


@pytest.mark.parametrize(
    ("drips", "rise"),
    [
        ((Drip(exponent=0.5),), None),
        ((Drip(exponent=0.5, tube_mm=9.0, sets=2), Drip(exponent=0.5, fed="middle")), 0.03),
        ((Drip(exponent=0.05), Drip(exponent=0.05, emitters_per_vine=2)), 0.02),
        ((Drip(exponent=0.5), Drip(exponent=0.05)), -0.02),
        ((Drip(exponent=0.0),), 0.01),
        ((Drip(exponent=0.5, law="hazen-williams", barb_loss=2.0),), 0.02),
        ((Drip(exponent=1.0, fed="far end"),), 0.01),
    ],
    ids=["level", "slope", "compensating", "two exponents", "fully", "hazen", "laminar"],
)
def test_epanet_finds_the_pressure_and_flow_of_every_vine(tmp_path, drips, rise):
    found = answered(drips, rise=rise)
    write_water_set(tmp_path, found, day=DAY)
    nodes = solved(tmp_path / "network.inp")
    rows = table(tmp_path / "emitters.csv")
    ours = np.array([(float(r["pressure_kpa"]) / KPA_PER_M, float(r["flow_l_h"])) for r in rows])
    theirs = np.array([nodes[r["code"]][:2] for r in rows])
    np.testing.assert_allclose(theirs, ours, rtol=CLOSE)
    for one in found.design.sets:
        # the source gives the set's flow, and has left for its valve what the design says
        assert -nodes[f"SOURCE-{one.number}"][1] / 1000 == pytest.approx(one.flow_m3_h, rel=CLOSE)
        before = nodes[f"SET{one.number}-M{len(one.main.xy_m) - 1}"][0]
        spare = one.available_head_m - one.source_head_m
        assert before - one.head_m == pytest.approx(spare, abs=0.005)


def test_epanet_finds_what_emitters_in_the_line_give(tmp_path):
    found = answered((Drip(exponent=0.5, inline_m=0.5, emitter_l_h=1.0),), rise=0.02)
    write_water_file(tmp_path / "n.inp", found)
    nodes = solved(tmp_path / "n.inp")
    flow = found.design.flow
    theirs = [v[:2] for name, v in nodes.items() if "-D" in name]
    ours = np.column_stack([flow.head_m, flow.flow_l_h])
    # the nodes stand in the file as outlets do in the design
    np.testing.assert_allclose(theirs, ours, rtol=CLOSE)


def test_what_the_source_cannot_bring_shows_in_epanet_and_is_told(tmp_path):
    weak = Source(curve=((0.0, 20.0), (30.0, 14.0)), is_assumed=False)
    found = answered((Drip(exponent=0.5, sets=1),), source=weak)
    (one,) = found.design.sets
    assert not one.is_served
    write_water_set(tmp_path, found, day=DAY)
    nodes = solved(tmp_path / "network.inp")
    assert nodes["SET1-OUT"][0] < one.head_m - 1.0
    told = json.loads((tmp_path / "water.json").read_text(encoding="utf-8"))
    assert told["sets"][0]["served"] is False
    assert any("set 1 asks" in n for n in told["notes"])


def test_vines_too_high_for_the_pressure_draw_no_air_in_epanet(tmp_path):
    drip = Drip(exponent=0.5, head_m=4.0, fed="start end", sets=1)
    found = answered((drip,), rise=0.08, source=Source(curve=((0.0, 90.0), (40.0, 80.0))))
    dry = found.design.vine_flow_l_h <= 0
    assert dry.any()
    assert not dry.all()
    write_water_set(tmp_path, found, day=DAY)
    nodes = solved(tmp_path / "network.inp")
    flows = [nodes[r["code"]][1] for r in table(tmp_path / "emitters.csv")]
    np.testing.assert_allclose(flows, found.design.vine_flow_l_h, atol=2e-3)


def test_blocks_with_names_that_epanet_cannot_read_have_others_there(tmp_path):
    found = answered((Drip(exponent=0.5),) * 2, names=("Großer Hang; Süd oben", "B1"))
    write_water_set(tmp_path, found, day=DAY)
    text = (tmp_path / "network.inp").read_bytes()
    assert text.isascii()
    assert b"Block Grosser Hang; Sud oben is called B1 here." in text
    assert b"Block B1 is called B2 here." in text
    nodes = solved(tmp_path / "network.inp")
    vines = [n for n in nodes if "-V" in n]
    assert len(vines) == sum(p.n_vines for p in found.plans)
    assert {n.split("-R")[0] for n in vines} == {"B1", "B2"}


def test_json_tells_the_design_in_si(folder, answer):
    told = json.loads((folder / "water.json").read_text(encoding="utf-8"))
    design, judgement = answer.design, answer.judgement
    assert told["uniformity"]["eu_pct"] == pytest.approx(judgement.eu_pct, abs=1e-3)
    assert told["uniformity"]["du_class"] == judgement.du_class
    assert told["source"]["flow_m3_h"] == pytest.approx(
        max(s.source_flow_m3_h for s in design.sets), abs=1e-4
    )
    assert told["source"]["head_m"] == pytest.approx(
        max(s.source_head_m for s in design.sets), abs=1e-4
    )
    assert told["laterals"]["count"] == len(design.lines.laterals)
    hours = np.array([s["weekly_h"] for s in told["sets"]]).T
    np.testing.assert_allclose(hours, answer.run_times.hours, atol=6e-4)
    assert [f["code"] for f in told["findings"]] == [f.code for f in answer.findings]
    pipe_m = sum(p["length_m"] for s in told["sets"] for p in s["submains"])
    listed = sum(p["amount"] for p in told["parts"] if p["item"] == "pipe_m" and p["block"])
    assert pipe_m == pytest.approx(listed, abs=0.01)
    assert told["source"]["is_assumed"]
    assert any("source" in a.lower() for a in told["assumed"])


def pages_of(path) -> list[str]:
    with pdfplumber.open(path) as pdf:
        return [" ".join((p.extract_text() or "").split()) for p in pdf.pages]


def test_the_sheet_says_what_is_to_be_known(folder, answer):
    pages = pages_of(folder / "irrigation.pdf")
    text = " ".join(pages)
    for words in (
        *("Plan of the whole site", "Sets and uniformity", "Run times", "Pipes and fittings"),
        *("Cautions", "licensed irrigation designer", "buried services", "backflow"),
        *("Week by week", "Year 3", "Merriam and Keller", "2031-05-06", "Two Gums"),
        *("What the source gives is assumed", "Evapotranspiration is assumed"),
    ):
        assert words in text, words
    for sentence in answer.judgement.sentences:
        assert sentence[:40] in text
    assert all(f"page {i} of {len(pages)}" in p for i, p in enumerate(pages, 1))


@pytest.mark.parametrize(("unit", "width_pt"), [("m", 595.3), ("ft", 612.0)])
def test_the_plan_is_to_scale_and_nothing_runs_off_the_page(answer, tmp_path, unit, width_pt):
    write_water_file(tmp_path / "i.pdf", answer, unit, DAY)
    with pdfplumber.open(tmp_path / "i.pdf") as pdf:
        plan, *others = pdf.pages
        ratio = float(plan.extract_text().split("1 : ")[1].split()[0].rstrip(")"))
        assert {round(float(p.width), 1) for p in others} == {width_pt}
        # the second block's outline, 50 by 70 m
        sides = (50.0, 70.0)
        wanted = [s / ratio / 0.0254 * 72 for s in sides]
        shapes = [*plan.rects, *plan.curves]
        assert any(
            abs(float(c["width"]) - wanted[0]) < 0.05 and abs(float(c["height"]) - wanted[1]) < 0.05
            for c in shapes
        )
        for page in pdf.pages:
            for c in page.chars:
                assert 20 < c["x0"] < c["x1"] < float(page.width) - 20
                assert 20 < c["top"] < c["bottom"] < float(page.height) - 20


def test_every_line_of_text_on_the_sheet_has_room_of_its_own(folder):
    with pdfplumber.open(folder / "irrigation.pdf") as pdf:
        for page in pdf.pages[1:]:
            words = page.extract_words(x_tolerance=1, y_tolerance=1)
            boxes = np.array([(w["x0"], w["top"], w["x1"], w["bottom"]) for w in words])
            for i, (x0, top, x1, foot) in enumerate(boxes.tolist()):
                others = np.delete(boxes, i, axis=0)
                wide = np.minimum(x1, others[:, 2]) - np.maximum(x0, others[:, 0])
                high = np.minimum(foot, others[:, 3]) - np.maximum(top, others[:, 1])
                over = (wide > 0.6) & (high > 0.35 * (foot - top))
                assert not over.any(), (page.page_number, words[i]["text"])


def test_a_set_is_written_whole_or_not_at_all(answer, tmp_path, monkeypatch):
    write_water_set(tmp_path, answer, day=DAY)
    before = {n: (tmp_path / n).read_bytes() for n in FILES}
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(FILES)

    def fails(path, found):
        path.write_text("half")
        raise RuntimeError

    monkeypatch.setitem(water_files._WRITERS, "water.json", fails)
    with pytest.raises(RuntimeError):
        write_water_set(tmp_path, answered(), day=DAY)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_the_same_system_gives_the_same_files(folder, answer, tmp_path):
    write_water_set(tmp_path, answer, day=DAY)
    for name in FILES:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_one_file_is_written_by_the_end_of_its_name(folder, answer, tmp_path):
    for name, as_in in (
        ("Two Gums, emitters.csv", "emitters.csv"),
        ("my laterals.csv", "laterals.csv"),
        ("sets.csv", "sets.csv"),
        ("x.INP", "network.inp"),
        ("y.json", "water.json"),
    ):
        write_water_file(tmp_path / name, answer, "m", DAY)
        assert (tmp_path / name).read_bytes() == (folder / as_in).read_bytes()
    with pytest.raises(InputProblem, match=r"says no format"):
        write_water_file(tmp_path / "z.docx", answer)


def test_an_answer_in_haste_is_completed_before_it_is_written(tmp_path):
    quick = answered(haste=True)
    assert quick.parts == ()
    write_water_file(tmp_path / "w.json", quick, "m", DAY)
    told = json.loads((tmp_path / "w.json").read_text(encoding="utf-8"))
    assert {"valves", "pipe_m"} <= {p["item"] for p in told["parts"]}


def test_where_no_vine_stands_nothing_is_written(tmp_path):
    project = answered().project
    tiny = replace(project, blocks=(Block("B1", shapely.box(0, 0, 9, 9), RULES),))
    empty = WaterDesigner().answer(WaterRequest(0, tiny, lay_project(tiny)))
    with pytest.raises(InputProblem, match="no vine to water"):
        write_water_set(tmp_path / "x", empty)
    assert not (tmp_path / "x").exists()
