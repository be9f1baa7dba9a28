"""Own items: found by size, read from lists, typed; and masses that a size tells."""

from __future__ import annotations

import pytest

from layoutdesk.core.model import InputProblem, Materials, Product, SaleUnit, Supply
from layoutdesk.core.model.materials import WIRE
from layoutdesk.session.catalogue import is_own, supply_for, user_supplies_from
from layoutdesk.session.material_edits import typed_supply
from layoutdesk.session.supply_words import supply_texts

THICK = Product(WIRE, (2.5, 1200.0))


def read(tmp_path, text):
    path = tmp_path / "own.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return user_supplies_from(path)


def as_typed(generic, unit="m", **changes):
    """The fields as they are shown, some of them typed over."""
    texts = supply_texts(generic, True, unit) | changes
    return typed_supply(generic, **texts, unit=unit, counted_in_m=True)


def test_a_size_that_a_list_rounds_is_found(tmp_path):
    own = read(tmp_path, "item,size,name,price\nline_posts,2.234,Post,9\nline_posts,2.4,Long,11\n")
    materials = Materials(supplies=own)
    # 7.33 ft is 2.234184 m
    assert supply_for(Product("line_posts", (7.33 * 0.3048,)), materials).sold.price == 9
    assert supply_for(Product("line_posts", (2.4,)), materials).sold.price == 11
    assert not is_own(Product("line_posts", (2.41,)), materials)


def test_a_roll_told_by_its_mass_has_the_length_of_so_much_steel(tmp_path):
    by_mass, by_length = read(
        tmp_path, "item,size,name,holds,mass_kg\nwire,2.5x1200,A,,25\nwire,4 × 600,B,253,\n"
    )
    # 25 kg of 2.5 mm: 649 m, and of 4.0 mm: 253 m (π/4 · d² · 7,850 kg/m³)
    assert by_mass.sold.holds == pytest.approx(649, abs=0.5)
    materials = Materials(supplies=(by_length,))
    assert supply_for(Product(WIRE, (4.0, 600.0)), materials).sold.mass_kg == pytest.approx(
        25, abs=0.05
    )


def test_wire_of_every_size_weighs_what_each_size_weighs():
    coil = Supply(Product(WIRE), "Coil", "wire and fastenings", SaleUnit("coil", 500.0))
    masses = [
        supply_for(Product(WIRE, (d, 1200.0)), Materials(supplies=(coil,))).sold.mass_kg
        for d in (2.0, 4.0)
    ]
    assert masses == pytest.approx([12.33, 49.32], abs=0.01)


def test_a_length_of_pipe_weighs_by_its_wall():
    sold = supply_for(Product("pipe_m", (63.0, 55.4)), Materials()).sold
    # 6 m of a ring of 706.6 mm² at 950 kg/m³
    assert sold.mass_kg == pytest.approx(6 * 706.6e-6 * 950, rel=1e-3)


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_a_price_alone_leaves_the_roll_as_it_was(unit):
    generic = supply_for(THICK, Materials())
    own = as_typed(generic, unit, price="88")
    assert (own.sold.holds, own.sold.mass_kg, own.sold.price) == (
        generic.sold.holds,
        generic.sold.mass_kg,
        88.0,
    )


def test_of_a_roll_of_wire_mass_follows_length_and_length_mass():
    generic = supply_for(THICK, Materials())
    longer = as_typed(generic, holds="1000 m").sold
    assert longer.mass_kg == pytest.approx(1000 * 25 / generic.sold.holds)
    heavier = as_typed(generic, mass="50").sold
    assert heavier.holds == pytest.approx(2 * generic.sold.holds)
    both = as_typed(generic, holds="640 m", mass="24.8").sold
    assert (both.holds, both.mass_kg) == (640.0, 24.8)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("item,size,name\nwire,2.5,W\n", "line 2: '2.5' is no size of wire: write thickness"),
        ("item,size,name\nshelters,0.6,S\n", "line 2: shelters has no size"),
        ("item,name,price\nshelters,S,inf\n", "line 2: 'inf' in the column price is no number"),
        ("item,name,per_pallet\nshelters,S,nan\n", "line 2: 'nan' in the column per_pallet"),
        ("item,name,price\nwire,W,80\n", "line 2: how many metres of wire one holds is not said"),
        (b"item,name\nshelters,\x81\x00\n" + b'"' + b"x" * 200_000, "line"),
        (b"\x81\x8d" * 50, "has no column item"),
    ],
)
def test_what_a_list_cannot_mean_is_refused_by_line(tmp_path, text, said):
    with pytest.raises(InputProblem) as problem:
        read(tmp_path, text)
    assert str(problem.value).startswith("own.csv")
    assert said in str(problem.value)


def test_a_list_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(InputProblem, match="cannot be read"):
        user_supplies_from(tmp_path / "gone.csv")
