"""From a plan to order lines: counted, with spares, by the user's own items or the catalogue's."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import Block, RowRules
from layoutdesk.core.materials.takeoff import COUNTING_RULE
from layoutdesk.core.model import (
    InputProblem,
    Materials,
    Product,
    Project,
    SaleUnit,
    Site,
    SiteFrame,
    Supply,
    Trellis,
    Wire,
)
from layoutdesk.core.model.materials import SUPPLIERS, WIRE
from layoutdesk.core.model.trellis import ITEMS
from layoutdesk.core.water.parts import PARTS, Part
from layoutdesk.session.catalogue import (
    ORDERED_ITEMS,
    catalogue,
    supplies_template,
    supply_for,
    user_supplies_from,
)
from layoutdesk.session.material_edits import (
    typed_supply,
    with_own_supply,
    with_settled,
    without_own_supply,
)
from layoutdesk.session.stakeout import lay_project
from layoutdesk.session.take_off_lines import take_off_lines, totals_text
from layoutdesk.session.taking_off import TakeOffCounter, TakeOffRequest

SITE = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
RULES = RowRules(bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.25)
PROJECT = Project("Plain", SITE, (Block("B1", shapely.box(0, 0, 100, 150), RULES),))


def answer(project=PROJECT, parts=(), counter=None, plans=None):
    plans = plans or lay_project(project, check=False)
    return (counter or TakeOffCounter()).answer(TakeOffRequest(0, project, plans, None, parts))


def line_of(found, item):
    return next(x for x in found.lines if x.supply.product.item == item)


def replace_rules(project, **changes):
    blocks = tuple(replace(b, rules=replace(b.rules, **changes)) for b in project.blocks)
    return replace(project, blocks=blocks)


def test_without_a_trellis_the_usual_one_is_counted():
    found = answer()
    (plan,) = found.plans
    assert found.take_off.trellises == (Trellis(),)
    assert line_of(found, "training_stakes").order.need.counted == plan.n_vines
    assert line_of(found, "end_posts").order.need.counted == 2 * plan.n_segments
    # one order line a product, every item of the take-off in one of them
    assert len({x.supply.product for x in found.lines}) == len(found.lines)


def test_anchors_follow_the_kind_of_end_and_not_what_is_staked():
    unstaked = answer(replace_rules(PROJECT, anchor_m=0.0))
    assert unstaked.take_off.of("anchors") == 2 * unstaked.plans[0].n_segments
    assert "anchors-not-staked" in {f.code for f in unstaked.findings}
    braced = replace(PROJECT, materials=Materials((("B1", Trellis(ends="braced inside")),)))
    found = answer(braced)
    assert found.take_off.of("anchors") == 0
    assert "anchors-not-used" in {f.code for f in found.findings}


def test_own_items_go_before_the_catalogue_by_size_first():
    own = (
        Supply(
            Product("line_posts"), "Any post", "posts and anchors", SaleUnit("bundle", 20, 90.0)
        ),
        Supply(
            Product("line_posts", (2.4,)), "Post of 2.4", "posts and anchors", SaleUnit("each", 1)
        ),
    )
    materials = Materials(supplies=own)
    assert supply_for(Product("line_posts", (2.4,)), materials).name == "Post of 2.4"
    assert supply_for(Product("line_posts", (2.7,)), materials).name == "Any post"
    assert supply_for(Product("line_posts", (2.7,)), Materials()).name == "Line post"
    found = answer(replace(PROJECT, materials=Materials(supplies=own[:1], currency="EUR")))
    order = line_of(found, "line_posts").order
    assert order.units == int(np.ceil((order.need.counted + order.need.spares) / 20))
    assert order.price == 90.0 * order.units


def test_the_catalogue_has_everything_that_is_ordered_without_makers_or_prices():
    known = {s.product.item for s in catalogue()}
    assert known == set(ORDERED_ITEMS)
    assert set(PARTS) <= known
    assert all(s.sold.price is None and s.supplier in SUPPLIERS for s in catalogue())


def test_wire_too_long_for_its_rolls_is_told():
    short = Supply(Product(WIRE), "Short roll", "wire and fastenings", SaleUnit("roll", 40.0))
    found = answer(replace(PROJECT, materials=Materials(supplies=(short,))))
    assert "wire-over-joined" in {f.code for f in found.findings}
    assert "wire-over-joined" not in {f.code for f in answer().findings}


def test_parts_of_the_drip_system_are_ordered_by_size_with_spares():
    parts = (
        Part("B1", Product("pipe_m", (50.0, 44.0)), 130.0, "m"),
        Part("", Product("pipe_m", (50.0, 44.0)), 70.5, "m"),
        Part("", Product("pipe_m", (63.0, 55.4)), 20.0, "m"),
        Part("B1", Product("valves"), 3.0, "each"),
    )
    found = answer(parts=parts)
    pipes = [x for x in found.lines if x.supply.product.item == "pipe_m"]
    assert [x.order.need.counted for x in pipes] == [200.5, 20.0]
    assert pipes[0].order.need.spares == pytest.approx(0.03 * 200.5)
    assert line_of(found, "valves").order.units == 3
    assert found.lines[-1].supply.product.item == "valves"


def test_what_changed_since_it_was_settled_is_told():
    project = with_settled(PROJECT, answer(), datetime.date(2031, 5, 1))
    assert {x.change for x in answer(project).lines} == {0.0}
    wider = replace_rules(project, row_spacing_m=3.0)
    found = answer(wider)
    stakes = line_of(found, "training_stakes")
    was = dict(dict(project.materials.settled.amounts)["B1"])["training_stakes"]
    assert stakes.change == stakes.order.need.counted - was < 0
    lines = {x.key: x for x in take_off_lines(found)}
    assert lines["training_stakes 1.8"].change.startswith("−")


def test_what_is_not_needed_any_more_is_told_too():
    project = with_settled(PROJECT, answer())
    braced = Materials((("B1", Trellis(ends="braced inside")),), settled=project.materials.settled)
    found = answer(replace(project, materials=braced))
    lines = {x.key: x for x in take_off_lines(found)}
    anchors = answer().take_off.of("anchors")
    assert lines["anchors"].ordered == "no longer needed"
    assert lines["anchors"].change == f"−{anchors:.0f}"


def test_parts_that_were_settled_are_told_by_size_too():
    parts = (Part("", Product("pipe_m", (50.0, 44.0)), 80.0, "m"),)
    project = with_settled(PROJECT, answer(parts=parts))
    more = (Part("", Product("pipe_m", (50.0, 44.0)), 95.0, "m"),)
    assert line_of(answer(project, parts=more), "pipe_m").change == pytest.approx(15.0)


def test_a_size_of_many_digits_is_still_the_settled_one():
    drop = Product("emitters", (0.53 * 3.785411784,))
    project = with_settled(PROJECT, answer(parts=(Part("B1", drop, 400.0, "each"),)))
    found = answer(project, parts=(Part("B1", drop, 410.0, "each"),))
    assert line_of(found, "emitters").change == 10.0
    assert found.gone == ()


def test_lines_of_chosen_segments_add_up_to_the_whole():
    found = answer()
    n = len(found.take_off.block)
    half = np.arange(n) < n // 2
    first, rest = (
        {x.key: x.amount for x in take_off_lines(found, chosen=c)} for c in (half, ~half)
    )
    whole = {x.key: x for x in take_off_lines(found)}
    assert set(first) == set(whole)

    def figure(text):
        return float(text.split("\u00a0")[0].split(" m")[0].replace("\u202f", ""))

    for key, line in whole.items():
        assert figure(first[key]) + figure(rest[key]) == pytest.approx(
            figure(line.amount), abs=1.01
        )
    assert all(x.ordered == "" for x in take_off_lines(found, chosen=half))


def test_below_the_list_stands_how_it_was_counted():
    told = totals_text(answer())
    assert COUNTING_RULE in told
    assert any("theoretical density" in t for t in told)
    assert any("No price is known yet" in t for t in told)
    own = Supply(Product("shelters"), "S", "stakes and shelters", SaleUnit("each", 1, 2.0))
    priced = totals_text(
        answer(replace(PROJECT, materials=Materials(supplies=(own,), currency="EUR")))
    )
    assert priced[0].startswith("Price ")
    assert "EUR" in priced[0]
    assert "no price yet" in priced[0]


def test_lengths_on_the_ground_are_measured_once(monkeypatch):
    from layoutdesk.session import taking_off

    calls = []
    whole = taking_off.ground_lengths
    monkeypatch.setattr(taking_off, "ground_lengths", lambda *a: calls.append(a) or whole(*a))
    counter, plans = TakeOffCounter(), lay_project(PROJECT, check=False)
    answer(counter=counter, plans=plans)
    changed = replace(PROJECT, materials=Materials((("B1", Trellis(wrap_m=1.0)),)))
    answer(changed, counter=counter, plans=plans)
    assert len(calls) == 1
    answer(counter=counter)
    assert len(calls) == 2


def test_the_item_list_is_read_back_with_prices_filled_in(tmp_path):
    found = answer()
    path = tmp_path / "items.csv"
    lines = supplies_template(found).splitlines()
    head = lines[0].split(",")
    at = head.index("price")
    filled = [lines[0]]
    for line in lines[1:]:
        cells = line.split(",")
        # names of some items have a comma of their own and are quoted
        cells[len(cells) - (len(head) - at)] = "12.5"
        filled.append(",".join(cells))
    path.write_text("\n".join(filled), encoding="utf-8")
    own = user_supplies_from(path)
    assert {s.product for s in own} == {x.supply.product for x in found.lines}
    assert {s.sold.price for s in own} == {12.5}
    again = answer(replace(PROJECT, materials=Materials(supplies=own)))
    assert [x.order.units for x in again.lines] == [x.order.units for x in found.lines]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("item;name;price\nline_posts;Post;12,50\n", None),
        ("item,name\n", "holds no item"),
        ("thing,name\nx,y\n", "has no column item"),
        ("item,name\nladders,L\n", "line 2: 'ladders' is no item"),
        ("item,name,holds\nshelters,S,many\n", "line 2: 'many' in the column holds is no number"),
        ("item,name,holds\nshelters,S,0\n", "line 2: holds"),
        ("item,name,supplier\nshelters,S,me\n", "line 2: 'me' is no kind of supplier"),
    ],
)
def test_lists_of_items_are_read_or_refused_by_line(tmp_path, text, said):
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    if said is None:
        (supply,) = user_supplies_from(path)
        assert supply.sold.price == 12.5
        assert supply.supplier == "posts and anchors"
        return
    with pytest.raises(InputProblem) as problem:
        user_supplies_from(path)
    assert said in str(problem.value)


def test_an_own_item_is_typed_kept_and_given_back():
    generic = supply_for(Product("drip_line_m"), Materials())
    own = typed_supply(
        generic, name="Heavy line", sold_by="coil", holds="400", price="310.50", counted_in_m=True
    )
    assert own.sold == SaleUnit("coil", 400.0, 310.5)
    project = with_own_supply(PROJECT, own)
    assert line_of(answer(project), "drip_line_m").supply.name == "Heavy line"
    assert without_own_supply(project, own.product).materials.supplies == ()
    with pytest.raises(InputProblem, match="Price"):
        typed_supply(generic, name="", sold_by="", holds="", price="dear")


def test_two_wire_sizes_are_two_products_and_one_size_is_one():
    thick = replace(Trellis(), drip_wire=Wire(2.5, 1200.0, 500.0))
    found = answer(replace(PROJECT, materials=Materials((("B1", thick),))))
    wires = [x for x in found.lines if x.supply.product.item == WIRE]
    assert {x.supply.product.size for x in wires} == {(2.0, 1200.0), (2.5, 1200.0), (4.0, 600.0)}
    lengths = sum(float(found.take_off.of(i)) for i in ITEMS if "wire_m" in i)
    assert sum(x.order.need.counted for x in wires) == pytest.approx(lengths)


def test_own_items_of_a_size_that_nothing_has_are_told():
    own = (
        Supply(
            Product("line_posts", (9.9,)), "Post", "posts and anchors", SaleUnit("each", 1, 5.0)
        ),
        Supply(Product("shelters"), "Shelter", "stakes and shelters", SaleUnit("each", 1, 2.0)),
    )
    (told,) = (
        f
        for f in answer(replace(PROJECT, materials=Materials(supplies=own))).findings
        if f.code == "own-items-unused"
    )
    assert "Post (9.9 m)" in told.message
    assert "Shelter" not in told.message
