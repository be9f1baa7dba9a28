"""Grafted plants in the take-off: what has yet to be ordered, by when, and in every file of it."""

from __future__ import annotations

import csv
import datetime
import json
from dataclasses import replace

import openpyxl
import pdfplumber
import pytest

from layoutdesk.core.model import (
    Assignment,
    Lot,
    Materials,
    Part,
    Plant,
    Planting,
    Product,
    SaleUnit,
    Supply,
)
from layoutdesk.core.model.materials import PLANTS
from layoutdesk.core.model.water import Demand, Water
from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.catalogue import supplies_template, user_supplies_from
from layoutdesk.session.material_edits import with_own_supplies, with_settled
from layoutdesk.session.take_off_files import write_take_off_file, write_take_off_set
from layoutdesk.session.take_off_lines import take_off_lines
from layoutdesk.session.taking_off import TakeOffCounter, TakeOffRequest
from tests.core.planting.planted_rows import PLANS
from tests.session.test_part_words import project

WHITE, RED = Plant("Furmint", "F 5", "5BB"), Plant("Saperavi", "", "SO4")
BEGINS = datetime.date(2027, 5, 10)
PLANTING = Planting(
    lots=(Lot("27-A", WHITE, tray=25, ordered=300, delivered=280, rejected=5),),
    assignments=(
        Assignment((Part("B1"),), WHITE, "27-A"),
        Assignment((Part("Old Mill"), Part("B1", every_vine=9)), RED, use="pollinator"),
    ),
)
PROJECT = replace(
    project("B1", "Old Mill"), planting=PLANTING, water=Water(demand=Demand(planting=BEGINS))
)
PRODUCTS = {plant: Product(PLANTS, (), str(plant)) for plant in (WHITE, RED)}


def answered(one=PROJECT, counter=None):
    one = replace(one, blocks=tuple(plan.block for plan in PLANS))
    return (counter or TakeOffCounter()).answer(TakeOffRequest(0, one, PLANS))


def lines_of(answer) -> dict:
    return {
        line.supply.product: line for line in answer.lines if line.supply.product.item == PLANTS
    }


def counted() -> dict[Plant, dict[str, int]]:
    """Vines of each plant by block, read vine by vine."""
    every_ninth = sum(int(i) % 9 == 1 for i in PLANS[0].vines.index)
    rest = PLANS[0].n_vines - every_ninth
    return {WHITE: {"B1": rest}, RED: {"B1": every_ninth, "Old Mill": PLANS[1].n_vines}}


def test_plants_are_ordered_by_what_is_neither_there_nor_on_order():
    lines = lines_of(answered())
    vines = {plant: sum(by.values()) for plant, by in counted().items()}
    red = lines[PRODUCTS[RED]]
    assert (red.order.need.counted, red.supply.supplier) == (vines[RED], "nursery")
    assert red.order.units == vines[RED] + red.order.need.spares  # nobody says a tray: one by one
    assert red.plant.note().startswith("Order potted plants by 18 January 2027 or dormant plants")
    white = lines[PRODUCTS[WHITE]]
    short = vines[WHITE] + -(-vines[WHITE] * 2 // 100) - 275
    assert white.order.need.counted + white.order.need.spares == short
    assert (white.supply.sold.name, white.order.units) == ("tray", -(-short // 25))
    assert "275 are there, 0 on order" in white.plant.note()
    assert "dormant" not in white.plant.note()  # its lot is potted
    late = red.plant.note(datetime.date(2026, 9, 1))
    assert "Order potted plants by 18 January 2027, by" in late
    assert "past for dormant plants with bare roots (10 January 2026)" in late


def test_nothing_is_ordered_of_what_is_all_there_nor_where_nothing_is_assigned():
    enough = replace(PLANTING, lots=(replace(PLANTING.lots[0], delivered=900),))
    assert set(lines_of(answered(replace(PROJECT, planting=enough)))) == {PRODUCTS[RED]}
    for none in (None, replace(PLANTING, assignments=())):
        answer = answered(replace(PROJECT, planting=none))
        assert lines_of(answer) == {}
        assert answer.plants == ()


def test_the_counter_follows_the_planting_it_is_asked_for():
    counter = TakeOffCounter()
    before = lines_of(answered(counter=counter))[PRODUCTS[RED]]
    fewer = replace(PLANTING, assignments=PLANTING.assignments[:1])
    assert PRODUCTS[RED] not in lines_of(answered(replace(PROJECT, planting=fewer), counter))
    later = replace(PROJECT, water=Water(demand=Demand(planting=BEGINS + datetime.timedelta(7))))
    after = lines_of(answered(later, counter))[PRODUCTS[RED]]
    assert dict(after.plant.order_by)["potted"] - dict(before.plant.order_by)["potted"] == (
        datetime.timedelta(7)
    )


def test_prices_come_from_the_users_own_list_by_plant(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text(
        "item,size,name,sold_by,holds,price\n"
        'plants,"saperavi, on SO4",Grafted vine,bundle,50,95\n'
        "plants,,Any vine,each,1,2.5\n",
        encoding="utf-8",
    )
    one = with_own_supplies(PROJECT, user_supplies_from(path))
    one = replace(one, planting=replace(PLANTING, lots=()))
    lines = lines_of(answered(one))
    red, white = lines[PRODUCTS[RED]].order, lines[PRODUCTS[WHITE]].order
    assert (red.sold.name, red.price) == ("bundle", 95 * red.units)
    assert white.price == 2.5 * white.units
    # The same list, written out and read back, and kept in the project's file.
    path.write_text(supplies_template(answered(one)), encoding="utf-8")
    again = {s.product: s for s in user_supplies_from(path) if s.product.item == PLANTS}
    assert again[PRODUCTS[RED]].sold == red.sold
    save_project(tmp_path / "kept.gpkg", one)
    kept = open_project(tmp_path / "kept.gpkg")
    assert kept.materials.supplies == one.materials.supplies


def test_a_settled_take_off_tells_how_many_more_vines_take_a_plant():
    one = with_settled(PROJECT, answered())
    assert lines_of(answered(one))[PRODUCTS[WHITE]].change == 0
    came = replace(PLANTING, lots=(replace(PLANTING.lots[0], delivered=300),))
    assert lines_of(answered(replace(one, planting=came)))[PRODUCTS[WHITE]].change == 0
    more = replace(
        PLANTING, assignments=(*PLANTING.assignments, Assignment((Part("Old Mill"),), WHITE))
    )
    answer = answered(replace(one, planting=more))
    assert lines_of(answer)[PRODUCTS[WHITE]].change == PLANS[1].n_vines
    none = answered(replace(one, planting=replace(PLANTING, assignments=PLANTING.assignments[:1])))
    assert dict(none.gone)[PRODUCTS[RED]] == sum(counted()[RED].values())


def test_the_windows_list_has_plants_with_what_selected_rows_take_of_them():
    answer = answered()
    lines = {line.product: line for line in take_off_lines(answer)}
    line = lines[PRODUCTS[RED]]
    assert (line.group, line.label) == ("Plants", "Grafted plant, Saperavi, on SO4")
    assert "by 18 January 2027" in line.meaning
    chosen = answer.take_off.block == 1
    alone = {x.product: x for x in take_off_lines(answer, chosen=chosen)}
    assert alone[PRODUCTS[RED]].amount == str(PLANS[1].n_vines)
    assert PRODUCTS[WHITE] not in alone


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plants")
    write_take_off_set(folder, answered(), day=datetime.date(2026, 9, 1))
    write_take_off_file(folder / "takeoff.json", answered(), day=datetime.date(2026, 9, 1))
    return folder


def test_the_table_for_programs_has_plants_by_block_and_the_days_to_order(written):
    with (written / "takeoff.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["item"] == PLANTS]
    by_block = {
        (row["size"], row["block"]): int(row["amount"]) for row in rows if row["level"] == "block"
    }
    assert by_block == {
        (str(plant), block): n for plant, by in counted().items() for block, n in by.items()
    }
    sites = {row["size"]: int(row["amount"]) for row in rows if row["level"] == "site"}
    assert sites == {str(plant): sum(by.values()) for plant, by in counted().items()}
    days = {
        row["size"]: (row["order_potted_by"], row["order_bare_root_by"])
        for row in rows
        if row["level"] == "order"
    }
    assert days == {str(RED): ("2027-01-18", "2026-01-10"), str(WHITE): ("2027-01-18", "")}


def test_the_facts_for_programs_have_plants_and_the_days_to_order(written):
    facts = json.loads((written / "takeoff.json").read_text(encoding="utf-8"))
    told = {(p["plant"], p["block"]): p["vines"] for p in facts["plants"]}
    assert sum(told.values()) == PLANS[0].n_vines + PLANS[1].n_vines
    orders = {o["plant"]: o for o in facts["orders"] if o["item"] == PLANTS}
    assert orders[str(WHITE)]["order_by"] == {"potted": "2027-01-18"}


def test_the_nursery_has_a_sheet_and_a_page_of_its_own(written):
    sheet = openpyxl.load_workbook(written / "takeoff.xlsx", data_only=True)["Orders"]
    rows = [[cell.value for cell in row] for row in sheet.iter_rows()]
    line = next(row for row in rows if row[:2] == ["Grafted plant", str(RED)])
    vines = sum(counted()[RED].values())
    assert line[3] == vines
    assert line[8] == vines + -(-vines * 2 // 100)
    assert "by 18 January 2027" in line[-1]
    with pdfplumber.open(written / "orders.pdf") as pdf:
        pages = [page.extract_text() for page in pdf.pages]
    page = next(text for text in pages if "Order list: nursery" in text)
    assert "How many, and by when" in page
    assert "How wire comes from the rolls" not in page
    assert "18 January 2027" in " ".join(page.split())
    assert not any("Saperavi" in text for text in pages if text is not page)


def test_own_items_of_a_plant_that_is_all_there_are_not_told_as_unused():
    supply = Supply(PRODUCTS[WHITE], "Vine", "nursery", SaleUnit("tray", 25, 60.0))
    enough = replace(PLANTING, lots=(replace(PLANTING.lots[0], delivered=900),))
    one = replace(PROJECT, planting=enough, materials=Materials(supplies=(supply,)))
    assert "own-items-unused" not in {f.code for f in answered(one).findings}
