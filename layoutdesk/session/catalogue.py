"""Things that can be ordered: the program's generic list, the user's own, and lists as files."""

from __future__ import annotations

import csv
import io
import json
from functools import lru_cache
from pathlib import Path

from ..core.materials.units_of_sale import usual_unit
from ..core.model import InputProblem, Product, SaleUnit, Supply
from ..core.model.materials import SUPPLIERS, WIRE, Materials
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
_LENGTH_SIZED = ("training_stakes", "line_posts", "end_posts", "brace_posts", "braces")
_WIRE_ITEMS = ("fruiting_wire_m", "foliage_wire_m", "drip_wire_m", "tie_wire_m")
ORDERED_ITEMS = (
    *(i for i in ITEMS if i not in _WIRE_ITEMS and i != "drip_line_m"),
    WIRE,
    "drip_line_m",
    *PARTS,
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

    It carries the product itself, size included.
    """
    for known in (materials.supplies, catalogue()):
        for wanted in (product, Product(product.item)):
            for supply in known:
                if supply.product == wanted:
                    is_generic = known is not materials.supplies
                    sold = supply.sold
                    if is_generic and product.item == WIRE and product.size:
                        sold = usual_unit(product)
                    return Supply(product, supply.name, supply.supplier, sold)
    return Supply(product, item_label(product.item), SUPPLIERS[0], usual_unit(product))


def is_own(product: Product, materials: Materials) -> bool:
    """Whether the user says how a product is sold."""
    return any(s.product in (product, Product(product.item)) for s in materials.supplies)


def item_label(item: str) -> str:
    """What an item is called."""
    if item == WIRE:
        return "Wire"
    return (ITEMS.get(item) or PARTS[item])[0]


def size_words(product: Product, unit: str = "m") -> str:
    """What tells a product from others of its name; empty where nothing does.

    Examples
    --------
    >>> size_words(Product("line_posts", (2.4,))), size_words(Product("wire", (2.5, 1200.0)))
    ('2.4 m', '2.5 mm, 1,200 MPa')
    >>> size_words(Product("pipe_m", (63.0, 58.2)))
    '63 × 58.2 mm'
    """
    if not product.size:
        return ""
    if product.item == WIRE:
        diameter, strength = product.size
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
        text = path.read_text(encoding="cp1252")
    except OSError as problem:
        raise InputProblem(
            f"{path.name} cannot be read ({problem.strerror or problem}): give another list of items."
        ) from None
    first = text.partition("\n")[0]
    mark = max(",;\t", key=first.count)
    rows = csv.DictReader(io.StringIO(text), delimiter=mark)
    names = [(n or "").strip().lower() for n in rows.fieldnames or ()]
    missing = [n for n in _NEEDED if n not in names]
    if missing:
        raise InputProblem(
            f"{path.name} has no column {missing[0]}: its first line must name the columns, such as "
            f"{','.join(COLUMNS)}."
        )
    rows.fieldnames = names
    found = []
    for row in rows:
        cells = {k: (v or "").strip() for k, v in row.items() if k in COLUMNS and v is not None}
        if any(cells.values()):
            found.append(_supply_of(cells, f"{path.name}, line {rows.line_num}", mark))
    if not found:
        raise InputProblem(f"{path.name} holds no item: fill in a line or more below the first.")
    return tuple(found)


def _supply_of(cells: dict[str, str], where: str, mark: str) -> Supply:
    item = cells.get("item", "").lower()
    if item not in ORDERED_ITEMS:
        raise InputProblem(
            f"{where}: {cells.get('item', '')!r} is no item: write one of {', '.join(ORDERED_ITEMS)}."
        )
    size_text = cells.get("size", "")
    parts = size_text.replace("×", "x").replace("/", "x").split("x") if size_text else []
    product = Product(item, tuple(_number(p, where, "size", mark) for p in parts))
    generic = supply_for(product, Materials())
    supplier = cells.get("supplier", "").lower() or generic.supplier
    if supplier not in SUPPLIERS:
        raise InputProblem(
            f"{where}: {cells['supplier']!r} is no kind of supplier: write one of {', '.join(SUPPLIERS)}."
        )

    def figure(column: str, usual):
        text = cells.get(column, "")
        return _number(text, where, column, mark) if text else usual

    sold = generic.sold
    per_pallet = figure("per_pallet", sold.per_pallet)
    try:
        unit = SaleUnit(
            cells.get("sold_by", "") or sold.name,
            figure("holds", sold.holds),
            figure("price", None),
            figure("mass_kg", sold.mass_kg),
            int(per_pallet) if per_pallet == int(per_pallet) else per_pallet,
            cells.get("whole_pallets", "").lower() in ("yes", "y", "true", "1", "x"),
        )
    except ValueError as problem:
        name, _, told = str(problem).partition(": ")
        raise InputProblem(f"{where}: {name}, {told}: change it.") from None
    return Supply(product, cells.get("name", "") or generic.name, supplier, unit)


def _number(text: str, where: str, column: str, mark: str) -> float:
    plain = text.strip().replace("\u202f", "").replace(" ", "")
    if mark != ",":
        plain = plain.replace(",", ".")
    try:
        return float(plain)
    except ValueError:
        raise InputProblem(
            f"{where}: {text.strip()!r} in the column {column} is no number: write it like 12.50."
        ) from None


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
                " x ".join(f"{s:g}" for s in product.size),
                csv_cell(supply.name),
                supply.supplier,
                csv_cell(sold.name),
                f"{sold.holds:g}" if product.item != WIRE else f"{sold.holds:.2f}",
                "" if sold.price is None else f"{sold.price:g}",
                "" if sold.mass_kg is None else f"{sold.mass_kg:g}",
                sold.per_pallet or "",
                "yes" if sold.whole_pallets else "",
            )
        )
    return out.getvalue()
