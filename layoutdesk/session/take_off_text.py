"""A take-off as plain text, for a terminal: what is ordered from whom, and what that is counted by."""

from __future__ import annotations

from ..formats.compareset import shown_number
from ..formats.takeoffset import TakeOffSet, item_name, item_unit, many, sold_words, total_said
from .compare_text import aligned

_CHANGES_AT_MOST = 40


def take_off_text(found: TakeOffSet) -> str:
    """Order lists one under another, totals, cutting, changes, and the counting rule."""
    units = found.units
    rows = [
        ["", "counted", "spares", "order", f"mass, {units.mass}", f"price {found.currency}".strip()]
    ]
    for supplier, lines in found.lists:
        rows.append([supplier.capitalize(), "", "", "", "", ""])
        for line in lines:
            order = line.order
            mass = "" if order.mass_kg is None else shown_number(order.mass_kg / units.mass_kg, 0)
            rows.append(
                [
                    f"  {line.told}",
                    _amount(found, order.need.counted, line.unit),
                    _amount(found, order.need.spares, line.unit),
                    sold_words(line, units),
                    mass,
                    "" if order.price is None else shown_number(order.price, 2),
                ]
            )
    text = aligned(rows)
    mass_kg, missing = found.mass_kg
    beside = f", without {many(missing, 'line')} that have none" if missing else ""
    text += ["", f"Mass together: {shown_number(mass_kg / units.mass_kg, 0)} {units.mass}{beside}."]
    price = total_said(found.orders, found.currency)
    text.append(f"Price together: {price}." if price else "No prices are known.")
    text += [f"{line.told}: {line.note}" for line in found.noted]
    text += _changes(found)
    text += [found.counting_rule, *found.notes, found.statement, found.density[0]]
    if found.terrain:
        text.append(f"Terrain: {found.terrain}")
    return "\n".join(text).translate(_PLAIN)


_PLAIN = str.maketrans({"\u202f": ",", "\u00a0": " ", "−": "-", "–": "-", "×": "x", "³": "3"})
"""Signs that not every terminal has."""


def _amount(found: TakeOffSet, value: float, unit: str) -> str:
    text = shown_number(found.units.amount(value, unit), 0)
    return f"{text} {found.units.length}" if unit == "m" else text


def _changes(found: TakeOffSet) -> list[str]:
    """Differences of the whole site, item by item."""
    if not found.changed_from:
        return []
    by_item: dict[str, float] = {}
    for change in found.changes:
        by_item[change.item] = by_item.get(change.item, 0.0) + change.now - change.before
    told = [
        f"{item_name(item)} {_signed(found, more, item_unit(item))}"
        for item, more in by_item.items()
        if abs(more) > 5e-4
    ]
    if not told:
        return [f"Compared with {found.changed_from}: nothing has changed."]
    return [f"Compared with {found.changed_from}: {', '.join(told[:_CHANGES_AT_MOST])}."]


def _signed(found: TakeOffSet, value: float, unit: str) -> str:
    text = shown_number(found.units.amount(value, unit), 0, signed=True)
    return f"{text} {found.units.length}" if unit == "m" else text
