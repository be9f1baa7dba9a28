"""Paper and scale of a sheet, as asked for in words."""

from __future__ import annotations

import re

from ..core.model import InputProblem
from .sheet import PAPERS, SheetScale
from .units import length_m

LARGEST, SMALLEST = 10.0, 1e6
"""Scales 1 : n that anybody draws a block to."""
_RATIO = re.compile(r"(?:1\s*:\s*)?(\d[\d ,.']*)")
_ON_PAPER = re.compile(r"(.+?)\s*(?:=|to)\s*(.+)")


def asked_paper(text: str) -> str:
    """A paper by its name, upper and lower case alike.

    Raises
    ------
    InputProblem

    Examples
    --------
    >>> asked_paper("a3")
    'A3'
    """
    wanted = text.strip().casefold()
    found = next((name for name in PAPERS if name.casefold() == wanted), None)
    if found is None:
        raise InputProblem(f"{text.strip()!r} is no paper known here: use {', '.join(PAPERS)}.")
    return found


def asked_scale(text: str) -> SheetScale:
    """A scale as people say it: "1:500", "500", "1in=50ft", "1 cm to 5 m".

    Raises
    ------
    InputProblem

    Examples
    --------
    >>> asked_scale("1:500"), asked_scale("1in = 50ft").words
    (SheetScale(ratio=500.0, words='1 : 500'), '1in = 50ft (1 : 600)')
    """
    plain = " ".join(text.replace("′", "'").replace("″", '"').split())
    bare, parted = _RATIO.fullmatch(plain), _ON_PAPER.fullmatch(plain)
    like = "write it like 1:500 or 1in=50ft."
    if bare:
        ratio = float(re.sub(r"[ ,']", "", bare[1]).rstrip("."))
        words = f"1 : {ratio:g}" if ratio < 1e6 else f"1 : {ratio:.0f}"
    elif parted:
        try:
            paper_m, ground_m = length_m(parted[1]), length_m(parted[2])
        except InputProblem:
            raise InputProblem(f"{text.strip()!r} is no scale: {like}") from None
        if not paper_m > 0:
            raise InputProblem(f"{text.strip()!r} is no scale: {like}")
        ratio = round(ground_m / paper_m, 9)
        words = f"{plain} (1 : {ratio:.0f})"
    else:
        raise InputProblem(f"{text.strip()!r} is no scale: {like}")
    if not LARGEST <= ratio <= SMALLEST:
        raise InputProblem(
            f"A scale of 1 : {ratio:g} is none for a block: give one from 1 : {LARGEST:g} to 1 : {SMALLEST:.0f}."
        )
    return SheetScale(ratio, words)
