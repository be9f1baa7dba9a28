"""Several figures in one value of a paragraph: months, or years."""

from __future__ import annotations

import re

from ..core.model import InputProblem
from .quantities import Quantity, typed


def listed_figures(values, quantity: Quantity, unit: str = "m") -> str:
    """Figures with one unit behind them all.

    Examples
    --------
    >>> listed_figures((4.0, 3.25), Quantity("rain", "depth"))
    '4, 3.25 mm'
    """
    size, label = (1.0, "mm") if unit == "m" else (25.4, "in")
    if quantity.kind == "share":
        size, label = 1.0, "%"
    decimals = 2 if size == 1.0 else 3
    texts = (f"{round(v / size, decimals):g}" for v in values)
    return f"{', '.join(texts)} {label}"


def typed_figures(text: str, quantity: Quantity, unit: str, n: int | None = None) -> tuple:
    """Figures of a list: parted by commas with spaces, spaces, or semicolons; one unit at its end."""
    wanted = text.strip().replace("−", "-")
    label = re.search(
        r"(mm|cm|in|\"|%)(?:\s*(?:a|per|/)\s*(?:day|month|d))?\s*$", wanted, re.IGNORECASE
    )
    bare = wanted[: label.start()] if label else wanted
    texts = [t for t in _split_list(bare) if t]
    name = quantity.name[:1].upper() + quantity.name[1:]
    if n is not None and len(texts) != n:
        raise InputProblem(
            f"{name}: {len(texts)} figures were typed, and a year has {n} months: write {n} of them, January "
            "first."
        )
    suffix = f" {label[1]}" if label else ""
    return tuple(typed(quantity, t if not t[-1].isdigit() else t + suffix, unit) for t in texts)


def _split_list(bare: str) -> list[str]:
    if ";" in bare:
        return [t.strip() for t in bare.split(";")]
    if re.search(r",\s", bare) or not re.search(r"\s", bare.strip()):
        return [t.strip() for t in bare.strip().rstrip(",").split(",")]
    return bare.split()
