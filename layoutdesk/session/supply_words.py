"""How something is sold, as texts to be read and typed."""

from __future__ import annotations

from ..core.model import Supply
from .quantities import Quantity, shown
from .specification import shown_exactly
from .tally import grouped

_MASS = Quantity("mass", "mass")
_FIELDS = {
    # how a refusal begins: the field it is about
    "name": "name",
    "what one holds": "holds",
    "price": "price",
    "mass": "mass",
}


def supply_texts(supply: Supply, counted_in_m: bool, unit: str = "m") -> dict[str, str]:
    """A supply as texts by field: name, sold_by, holds, price, mass; empty where it is not known.

    Examples
    --------
    >>> from layoutdesk.core.model import Product, SaleUnit
    >>> sold = SaleUnit("roll", 300.0, 96.5, 12.0)
    >>> supply_texts(Supply(Product("drip_line_m"), "Drip line", "water", sold), True)["holds"]
    '300.0 m'
    >>> supply_texts(Supply(Product("drip_line_m"), "Drip line", "water", sold), True)["price"]
    '96.50'
    """
    sold = supply.sold
    return {
        "name": supply.name,
        "sold_by": sold.name,
        "holds": shown_exactly(sold.holds, unit) if counted_in_m else f"{sold.holds:g}",
        "price": "" if sold.price is None else grouped(sold.price, 2),
        "mass": "" if sold.mass_kg is None else shown(_MASS, sold.mass_kg, unit),
    }


def field_refused(sentence: str) -> str:
    """Which field a refusal of a typed supply is about.

    Examples
    --------
    >>> field_refused("Price: 'dear' is no number: write it like 12.50."), field_refused("Hm.")
    ('price', 'name')
    """
    said = sentence.lower()
    return next((field for begin, field in _FIELDS.items() if said.startswith(begin)), "name")
