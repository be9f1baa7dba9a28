"""A lot in plain language, and what is typed of lots, tags and assignments in the window's cards."""

from __future__ import annotations

import datetime

from ..core.model import InputProblem, Lot, Plant, Project
from ..core.model.planting import GROWN
from .assigning import typed_parts, vines_of_text, with_assignment, with_swap
from .lot_edits import (
    read_lots_csv,
    read_tags_csv,
    refuse_unlikely,
    typed_lot,
    typed_tag,
    with_lot,
    with_tag,
)
from .planted import planting_of
from .quantities import Quantity, stepped, value_of
from .specification import Paragraph, Value
from .wording import listed

_QUANTITIES: dict[str, Quantity] = {
    "name": Quantity("name of the lot", "text"),
    "variety": Quantity("variety", "text"),
    "clone": Quantity("clone", "text", none="not said"),
    "rootstock": Quantity("rootstock", "text", none="not said"),
    "nursery": Quantity("nursery", "text", none="a nursery"),
    "grown": Quantity(
        "way plants were grown",
        "choice",
        choices=GROWN,
        meanings=("Green and growing, in a container", "Dormant, dug out of the nursery's ground"),
    ),
    "grafted": Quantity("day of grafting", "text", none="not said"),
    "potted": Quantity("day of potting", "text", none="not said"),
    "came": Quantity("day the lot came", "text", none="not said"),
    "tray": Quantity("plants in a tray or bundle", "whole", 0, 10_000, none="not said"),
    "ordered": Quantity("plants ordered", "whole", 0, 1e8),
    "delivered": Quantity("plants delivered", "whole", 0, 1e8),
    "rejected": Quantity("plants rejected", "whole", 0, 1e8),
    "references": Quantity("certificates and tests", "text", none="none"),
    "attachments": Quantity("photos and scans", "text", none="none"),
}
LOT_NAMES: dict[str, str] = {f"lot.{key}": q.name for key, q in _QUANTITIES.items()}
"""Plain names of the values of a lot, by their key in its paragraph."""


def lot_paragraph(project: Project, name: str, unit: str = "m") -> Paragraph:
    """A lot's description, with everything in it to be changed in place."""
    lot = planting_of(project).lot(name)
    if lot is None:
        return ()

    def value(key: str) -> Value:
        return value_of(f"lot.{key}", _QUANTITIES[key], (("", _shown(lot, key)),), unit)

    bundle = "a tray" if lot.grown == "potted" else "a bundle"
    return (
        (
            "Lot ", value("name"), " is ", value("variety"), ", clone ", value("clone"), ", on ",
            value("rootstock"), ", ", value("grown"), ", from ", value("nursery"), ".",
        ),
        ("It was grafted ", value("grafted"), " and potted ", value("potted"), "; ", value("tray"), f" make {bundle}."),
        (
            value("ordered"), " plants were ordered; ", value("delivered"), " came ", value("came"),
            ", of which ", value("rejected"), " were rejected.",
        ),
        ("Certificates and tests: ", value("references"), ". Photos and scans: ", value("attachments"), "."),
    )  # fmt: skip


def _shown(lot: Lot, key: str):
    if key in ("variety", "clone", "rootstock"):
        return getattr(lot.plant, key) or None
    said = getattr(lot, key)
    if key == "attachments":
        return "; ".join(said) or None
    if key == "tray":
        return said or None
    if isinstance(said, datetime.date):
        return said.isoformat()
    return None if said == "" else said


def with_typed_lot(
    project: Project, name: str, key: str, text: str, today: datetime.date
) -> Project:
    """The project with one value of a lot as typed in its paragraph."""
    field = key.removeprefix("lot.")
    nothing = _QUANTITIES[field].none
    return typed_lot(project, name, field, "" if text.strip() == nothing else text, today)


def with_stepped_lot(project: Project, name: str, key: str, steps: float) -> Project:
    """The project with one figure or choice of a lot moved by so many steps."""
    field = key.removeprefix("lot.")
    lot = planting_of(project).lot(name)
    quantity = _QUANTITIES[field]
    if lot is None or quantity.kind == "text":
        return project
    moved = stepped(quantity, getattr(lot, field), steps)
    return typed_lot(project, name, field, str(moved))


def with_new_lot(project: Project, texts: dict[str, str], today: datetime.date) -> Project:
    """The project with one more lot as typed.

    Raises
    ------
    InputProblem
        Where it has no name or variety, or the name is taken.
    """
    name, variety = (" ".join(texts[key].split()) for key in ("name", "variety"))
    if not name or not variety:
        raise InputProblem("A lot needs a name and a variety: type both.")
    if planting_of(project).lot(name) is not None:
        raise InputProblem(f"There is a lot {name} already: give this one another name.")
    lot = Lot(name, Plant(variety))
    refuse_unlikely(lot)
    project = with_lot(project, lot)
    for key in ("clone", "rootstock", "nursery", "ordered"):
        if texts.get(key, "").strip():
            project = typed_lot(project, name, key, texts[key], today)
    return project


def with_tag_texts(project: Project, texts: dict[str, str], today: datetime.date) -> Project:
    """The project with one more tag in its ledger, as typed; see `typed_tag`."""
    return with_tag(project, typed_tag(project, texts, today))


def with_lots_of_file(project: Project, path, today: datetime.date):
    """The project with the lots of a table, and sentences about lines that were not taken."""
    found = read_lots_csv(path, project, today)
    _refuse_if_nothing_taken(found.lots, found.problems)
    for lot in found.lots:
        project = with_lot(project, lot)
    return project, tuple(found.problems)


def _refuse_if_nothing_taken(taken, problems) -> None:
    """Refuse a table of which no line can be used, with the first reason."""
    reasons = [told for told in problems if "not taken" in told]
    if not taken and reasons:
        more = f", nor was any of the other {len(reasons) - 1}" if len(reasons) > 1 else ""
        raise InputProblem(f"{reasons[0].rstrip('.')}{more}.")


def with_tags_of_file(project: Project, path, today: datetime.date):
    """The project with the tags of a table, and sentences about lines that were not taken."""
    found = read_tags_csv(path, project, today)
    _refuse_if_nothing_taken(found.tags, found.problems)
    for tag in found.tags:
        project = with_tag(project, tag)
    return project, tuple(found.problems)


def with_assignment_texts(project: Project, texts: dict[str, str]) -> Project:
    """The project with a lot, or a plant, assigned to parts as typed."""
    what, use = texts["what"].strip(), texts["use"].strip().lower() or "crop"
    if not what:
        raise InputProblem("Nothing is said of what stands there: type a lot or a plant.")
    parts = typed_parts(texts["parts"], project)
    lot = planting_of(project).lot(what)
    if lot is not None:
        return with_assignment(project, parts, lot.plant, lot.name, use)
    return with_assignment(project, parts, _typed_plant(project, what), "", use)


def _typed_plant(project: Project, text: str) -> Plant:
    """A plant as typed: variety; clone; rootstock, or the variety alone of one that is known.

    Where there are lots a single word that is none of them is refused: it may be a lot's name with a slip.
    """
    if ";" in text:
        variety, clone, rootstock = (*(t.strip() for t in text.split(";")), "", "")[:3]
        return Plant(variety, clone, rootstock)
    planting = planting_of(project)
    known = dict.fromkeys(p.plant for p in (*planting.lots, *planting.assignments))
    fits = [p for p in known if p.variety.casefold() == text.casefold()]
    if len(fits) == 1 or not planting.lots:
        return fits[0] if fits else Plant(text)
    if fits:
        raise InputProblem(
            f"{text} may be {listed([str(p) for p in fits], 'or')}: write which, as variety; clone; rootstock."
        )
    lots = listed([lot.name for lot in planting.lots])
    raise InputProblem(
        f"There is no lot and no variety {text!r}; the lots are {lots}. Write a new plant as variety; clone; rootstock."
    )


def with_swap_texts(
    project: Project, plans, texts: dict[str, str], today: datetime.date
) -> Project:
    """The project with another lot than assigned where it says, and the reason."""
    vines = vines_of_text(project, plans, texts["parts"])
    return with_swap(project, plans, vines, texts["lot"].strip(), texts["reason"], today)
