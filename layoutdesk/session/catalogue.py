"""Things that can be ordered: the program's generic list, the user's own, and lists as files."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from ..core.materials.units_of_sale import mass_kg_m, usual_unit
from ..core.model import InputProblem, Product, SaleUnit, Supply
from ..core.model.materials import PLANTS, SUPPLIERS, WIRE, Materials
from ..core.model.trellis import ITEMS
from ..core.water.parts import PARTS
from .places import resource
from .specification import shown_exactly

COLUMNS = (
    "item",
    "size",
    "name",
    "supplier",
    "sold_by",
    "holds",
    "price",
    "mass_kg",
    "per_pallet",
    "whole_pallets",
)
"""Of a list of own items; the last six may be left out or empty."""
_NEEDED = ("item", "name")
_MM_PER_INCH = 25.4
_MPA_PER_PSI = 6.894757293168e-3
"""Exact, and by definition of the pound-force (NIST SP 811, appendix B)."""
_ALIKE = 5e-4
"""Sizes that differ by no more, in parts of themselves, are one size: lists round them."""
_POST_SIZE = "its length in metres", "2.4"
_SIZES: dict[str, tuple[str, str]] = {
    # item: (what its size is, for example)
    **dict.fromkeys(("training_stakes", "line_posts", "end_posts", "brace_posts"), _POST_SIZE),
    WIRE: ("thickness in mm and strength in MPa", "2.5 x 1200"),
    "pipe_m": ("outer and inner width in mm", "63 x 55.4"),
    "reducers": ("both outer widths in mm, the wider first", "63 x 50"),
    "pipe_ends": ("the pipe's outer width in mm", "63"),
    "bridge_tube_m": ("inner width in mm", "13.6"),
    "emitters": ("flow of one in L/h", "2"),
}
"""What is not here has no size."""
_LENGTH_SIZED = ("training_stakes", "line_posts", "end_posts", "brace_posts", "braces")
_WIRE_ITEMS = ("fruiting_wire_m", "foliage_wire_m", "drip_wire_m", "tie_wire_m")
ORDERED_ITEMS = (
    *(i for i in ITEMS if i not in _WIRE_ITEMS and i != "drip_line_m"),
    WIRE,
    "drip_line_m",
    *PARTS,
    PLANTS,
)
"""Names of all items that can be ordered."""


@lru_cache(maxsize=1)
def catalogue() -> tuple[Supply, ...]:
    """The program's generic supplies, without makers and prices, every one for all sizes of its item."""
    said = json.loads(resource("catalogues", "supplies.json").read_text(encoding="utf-8"))
    return tuple(
        Supply(
            Product(s["item"]),
            s["name"],
            s["supplier"],
            SaleUnit(
                s["sold_by"], float(s["holds"]), None, s.get("mass_kg"), s.get("per_pallet", 0)
            ),
        )
        for s in said["items"]
    )


def supply_for(product: Product, materials: Materials) -> Supply:
    """How a product is ordered: the user's own of that size, their own of any size, else the generic one.

    It carries the product itself, size included, and a mass where the size tells it.
    """
    own = _best_of(materials.supplies, product)
    found = own or _best_of(catalogue(), product)
    if found is None:
        found = Supply(product, item_label(product.item), SUPPLIERS[0], usual_unit(product))
    sold = found.sold
    if own is None and product.item == WIRE and product.size:
        sold = usual_unit(product)
    each = mass_kg_m(product)
    if sold.mass_kg is None and each is not None:
        sold = replace(sold, mass_kg=each * sold.holds)
    return Supply(product, found.name, found.supplier, sold)


def _best_of(supplies: Iterable[Supply], product: Product) -> Supply | None:
    """The supply of this size, else that for all sizes of the item."""
    of_item = [s for s in supplies if s.product.item == product.item]
    exact = (s for s in of_item if same_product(s.product, product))
    return next(exact, None) or next((s for s in of_item if s.product.is_any), None)


def same_product(one: Product, other: Product) -> bool:
    """Whether two products are the same but for how exactly their size is written.

    Examples
    --------
    >>> same_product(Product("line_posts", (2.4384,)), Product("line_posts", (2.438,)))
    True
    """
    return (
        one.item == other.item
        and one.words.casefold() == other.words.casefold()
        and len(one.size) == len(other.size)
        and all(
            math.isclose(a, b, rel_tol=_ALIKE) for a, b in zip(one.size, other.size, strict=True)
        )
    )


def is_own(product: Product, materials: Materials) -> bool:
    """Whether the user says how a product is sold."""
    return _best_of(materials.supplies, product) is not None


def item_label(item: str) -> str:
    """What an item is called."""
    if item == WIRE:
        return "Wire"
    if item == PLANTS:
        return "Grafted plants"
    return (ITEMS.get(item) or PARTS[item])[0]


def size_words(product: Product, unit: str = "m") -> str:
    """What tells a product from others of its name; empty where nothing does.

    Examples
    --------
    >>> size_words(Product("line_posts", (2.4,))), size_words(Product("wire", (2.5, 1200.0)))
    ('2.4 m', '2.5 mm, 1,200 MPa')
    >>> size_words(Product("pipe_m", (63.0, 58.2)))
    '63 × 58.2 mm'
    >>> size_words(Product("wire", (2.5, 1200.0)), "ft")
    '0.098 in, 174,045 psi'
    >>> size_words(Product("plants", (), "Saperavi, on 5BB"))
    'Saperavi, on 5BB'
    """
    if product.words:
        return product.words
    if not product.size:
        return ""
    if product.item == WIRE:
        diameter, strength = product.size
        if unit != "m":
            psi = strength / _MPA_PER_PSI
            return f"{diameter / _MM_PER_INCH:.3f} in, {psi:,.0f} psi"
        return f"{diameter:g} mm, {strength:,.0f} MPa"
    if product.item in _LENGTH_SIZED:
        return " × ".join(shown_exactly(s, unit) for s in product.size)
    label = "L/h" if product.item == "emitters" else "mm"
    return f"{' × '.join(f'{s:g}' for s in product.size)} {label}"


def user_supplies_from(path) -> tuple[Supply, ...]:
    """Own items from a table (CSV) with the columns of COLUMNS, in any order.

    Raises
    ------
    InputProblem
        Where it cannot be read; the file and the line are named.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        text = path.read_text(encoding="cp1252", errors="replace")
    except OSError as problem:
        raise InputProblem(
            f"{path.name} cannot be read ({problem.strerror or problem}): give another list of items."
        ) from None
    first = text.partition("\n")[0]
    mark = max(",;\t", key=first.count)
    rows = csv.DictReader(io.StringIO(text), delimiter=mark)
    names = _names_of(rows, path.name)
    missing = [n for n in _NEEDED if n not in names]
    if missing:
        raise InputProblem(
            f"{path.name} has no column {missing[0]}: its first line must name the columns, such as "
            f"{', '.join(COLUMNS)}."
        )
    rows.fieldnames = names
    found = []
    for row in _rows_of(rows, path.name):
        cells = {k: (v or "").strip() for k, v in row.items() if k in COLUMNS and v is not None}
        if any(cells.values()):
            found.append(_supply_of(cells, f"{path.name}, line {rows.line_num}", mark))
    if not found:
        raise InputProblem(f"{path.name} holds no item: fill in a line or more below the first.")
    return tuple(found)


def _names_of(rows: csv.DictReader, name: str) -> list[str]:
    try:
        return [(n or "").strip().lower() for n in rows.fieldnames or ()]
    except csv.Error:
        raise _no_table(rows, name) from None


def _rows_of(rows: csv.DictReader, name: str):
    """All rows of a list, and a refusal where they cannot be told apart."""
    try:
        yield from rows
    except csv.Error:
        raise _no_table(rows, name) from None


def _no_table(rows: csv.DictReader, name: str) -> InputProblem:
    return InputProblem(
        f"{name}, line {rows.line_num + 1}: it is no line of a table: save the list as CSV again."
    )


def _supply_of(cells: dict[str, str], where: str, mark: str) -> Supply:
    item = cells.get("item", "").lower()
    if item not in ORDERED_ITEMS:
        raise InputProblem(
            f"{where}: {cells.get('item', '')!r} is no item: write one of {', '.join(ORDERED_ITEMS)}."
        )
    size = cells.get("size", "")
    if item == PLANTS:
        product = Product(item, (), size)
    else:
        product = Product(item, _size_of(item, size, where, mark))
    generic = supply_for(product, Materials())
    supplier = cells.get("supplier", "").lower() or generic.supplier
    if supplier not in SUPPLIERS:
        raise InputProblem(
            f"{where}: {cells['supplier']!r} is no kind of supplier: write one of {', '.join(SUPPLIERS)}."
        )

    def figure(column: str, usual):
        text = cells.get(column, "")
        return _number(text, where, column, mark) if text else usual

    sold, mass = generic.sold, figure("mass_kg", None)
    holds = figure("holds", None)
    if holds is None and item == WIRE and not product.size:
        raise InputProblem(
            f"{where}: how many metres of wire one holds is not said: fill in the column holds."
        )
    if holds is None:
        each = mass_kg_m(product)
        # A roll of wire is told by its mass as often as by its length.
        holds = mass / each if mass and each and item == WIRE else sold.holds
        mass = sold.mass_kg if mass is None else mass
    per_pallet = figure("per_pallet", sold.per_pallet)
    try:
        unit = SaleUnit(
            cells.get("sold_by", "") or sold.name,
            holds,
            figure("price", None),
            mass,
            int(per_pallet) if per_pallet == int(per_pallet) else per_pallet,
            cells.get("whole_pallets", "").lower() in ("yes", "y", "true", "1", "x"),
        )
    except ValueError as problem:
        name, _, told = str(problem).partition(": ")
        raise InputProblem(f"{where}: {name}, {told}: change it.") from None
    return Supply(product, cells.get("name", "") or generic.name, supplier, unit)


def _number(text: str, where: str, column: str, mark: str) -> float:
    plain = text
    for mark_of_thousands in ("\u202f", "\u00a0", " "):
        plain = plain.replace(mark_of_thousands, "")
    if mark != ",":
        plain = plain.replace(",", ".")
    try:
        figure = float(plain)
    except ValueError:
        figure = math.nan
    if not math.isfinite(figure):
        raise InputProblem(
            f"{where}: {text.strip()!r} in the column {column} is no number: write it like 12.50."
        )
    return figure


def _size_of(item: str, text: str, where: str, mark: str) -> tuple[float, ...]:
    """A size as written, with as many figures as the item's has; empty for every size."""
    if not text:
        return ()
    if item not in _SIZES:
        raise InputProblem(f"{where}: {item} has no size: leave that column empty.")
    what, example = _SIZES[item]
    parts = text.lower().replace("×", "x").replace("/", "x").split("x")
    if len(parts) != example.count("x") + 1:
        raise InputProblem(
            f"{where}: {text!r} is no size of {item}: write {what}, like {example}, or leave it empty for "
            "every size."
        )
    return tuple(_number(p, where, "size", mark) for p in parts)


def supplies_template(answer) -> str:
    """All products of a take-off as a table (CSV) to be filled in and read back with prices."""
    from ..formats.csv_cells import csv_cell

    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for line in answer.lines:
        supply = line.supply
        product, sold = supply.product, supply.sold
        rows.writerow(
            (
                product.item,
                csv_cell(product.words) or " x ".join(f"{s:.10g}" for s in product.size),
                csv_cell(supply.name),
                supply.supplier,
                csv_cell(sold.name),
                f"{sold.holds:g}" if product.item != WIRE else f"{sold.holds:.2f}",
                "" if sold.price is None else f"{sold.price:g}",
                "" if sold.mass_kg is None else f"{sold.mass_kg:.6g}",
                sold.per_pallet or "",
                "yes" if sold.whole_pallets else "",
            )
        )
    return out.getvalue()
