"""Planting asked for in words on the command line, and the project it makes."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ..core.model import InputProblem, Project, RowPlan
from ..core.model.planting import TASKS, USES, YEAR_TASKS
from .asked_rules import of_option
from .planted import planting_of
from .planting_words import TITLE_FIELDS, with_title_texts, with_typed_planting
from .setting_words import with_union_band
from .wording import listed

UNION = "union"
PLANTING_OPTIONS: dict[str, str] = {
    # option: the value of the paragraphs that it gives
    "begins": "begins",
    "people": "crew.people",
    "hours": "crew.hours_a_day",
    "starts": "crew.starts_h",
    "weekdays-off": "crew.weekdays_off",
    "days-off": "crew.days_off",
    "missed": "crew.missed",
    "hottest": "crew.hottest_c",
    "hole-depth": "setting.hole_depth_m",
    UNION: "setting.union_low_m",
    "spares": "setting.spares_pct",
    "potted-weeks": "setting.potted_weeks",
    "bare-root-months": "setting.bare_root_months",
    "tolerated": "inspecting.tolerated_pct",
    "confidence": "inspecting.confidence_pct",
    "accept": "inspecting.accept",
    "seed": "inspecting.seed",
    "inspectors": "inspecting.inspectors",
    "counting": "years.counting",
    "form": "years.form",
    "tie-days": "years.tie_days",
    "crop-shares": "years.shares_pct",
    "mature-crop": "years.mature_kg_vine",
    "union-clear": "years.union_check_m",
}
"""Every option that gives a value of the planting, in the order they are taken in."""

PLANTING_MEANINGS: dict[str, str] = {
    "begins": "day planting begins (2027-04-05 or '5 April 2027'); not said for none",
    "people": "people who plant",
    "hours": "hours of work a day",
    "starts": "time of day work begins (07:00)",
    "weekdays-off": "days off in every week ('Saturday, Sunday'; none)",
    "days-off": "other days off ('2027-04-05, 2027-04-12 to 2027-04-16'; none)",
    "missed": "days that were planned and did not come about; the rest moves on",
    "hottest": "temperature above which nobody plants (32C, 90F)",
    "hole-depth": "depth of a hole (40cm, 16in)",
    UNION: "band of the graft union above the soil ('5.5 to 8 cm', '2 to 3 in')",
    "spares": "per cent of plants ordered beyond the vines",
    "potted-weeks": "weeks from grafting to a potted plant that can be planted",
    "bare-root-months": "months from the order to a dormant plant",
    "tolerated": "per cent of faulty vines: a lot with more is to be found out",
    "confidence": "per cent of confidence with which it is",
    "accept": "faulty vines accepted in the sample of a lot",
    "seed": "whole number that vines are drawn with",
    "inspectors": "number of inspectors, with a sheet each",
    "counting": "way to count to the first small crop: 'third leaf' or 'second harvest'",
    "form": "form vines are raised to: cane or cordon",
    "tie-days": "days between rounds of tying",
    "crop-shares": "per cent of a mature crop, year after year: 0,5,35,70,100",
    "mature-crop": "crop of a mature vine (2.5kg, 5.5lb)",
    "union-clear": "least height of the graft union above the soil in years to come",
}
"""What each option takes, for the help of a command."""

LISTED_OPTIONS: dict[str, tuple[str, str]] = {
    # option that may be repeated: (what it takes, its meaning)
    "rate": (
        "TASK=N",
        f"vines a person does in an hour of one task: {', '.join((*TASKS, *YEAR_TASKS))}",
    ),
    "title": ("FIELD=TEXT", f"of the title block: {', '.join(f for f, _ in TITLE_FIELDS)}"),
    "remove-lot": ("NAME", "take a lot out that was neither assigned nor planted"),
    "lots": ("FILE.csv", "read lots from a table"),
    "lot": (
        "'NAME; VARIETY; CLONE; ROOTSTOCK; FIELD=TEXT…'",
        "add a lot, or change what is said of one: nursery, grown, grafted, potted, came, tray, ordered, "
        "delivered, rejected, references, attachments, tags=all",
    ),
    "tags": ("FILE.csv", "read tags from a table"),
    "tag": (
        "'LOT; TEXT; FIELD=TEXT…'",
        "put what a tag says on record: variety, clone, rootstock, grafted, potted, plants, recorded, by",
    ),
    "strike-tag": (
        "'N: REASON'",
        "say that a tag of the ledger does not count, by its number in planting.json, 1 first",
    ),
    "unassign": (
        "N",
        "take an assignment back, by its number in the list that is printed, 1 first",
    ),
    "assign": (
        "'LOT: PARTS'",
        "assign a lot, or 'VARIETY; CLONE; ROOTSTOCK: PARTS', to rows or vines ('B1 rows 3-30 every 9'); "
        f"'LOT (USE): PARTS' for {', '.join(USES[1:])}",
    ),
    "fill": ("'LOT: CODE'", "fill rows with a lot from a vine on, until it is used up"),
    "swap": ("'LOT: PARTS: REASON'", "another lot than was assigned, with the reason"),
}
"""Options that may be repeated, in the order they are taken in."""

_LOT_HEAD = ("variety", "clone", "rootstock")
_LOT_FIELDS = (
    *("variety", "clone", "rootstock", "nursery", "grown", "grafted", "potted", "came", "tray"),
    *("ordered", "delivered", "rejected", "references", "attachments"),
)
_DELIVERED_FIRST = ("ordered", "delivered")
"""Are taken in before what is part of them."""
_TAG_FIELDS = ("variety", "clone", "rootstock", "grafted", "potted", "plants", "recorded", "by")
_YES_NO = {"all": True, "yes": True, "no": False}


@dataclass(frozen=True)
class AskedPlanting:
    """What is asked for, as typed.

    Attributes
    ----------
    values : mapping of str to str
        Text by option, of PLANTING_OPTIONS.
    listed : mapping of str to sequence of str
        Texts by option, of LISTED_OPTIONS.
    """

    values: Mapping[str, str]
    listed: Mapping[str, Sequence[str]]


def with_asked_planting(
    project: Project,
    plans: Sequence[RowPlan],
    asked: AskedPlanting,
    today: datetime.date,
    by: str = "",
) -> tuple[Project, tuple[str, ...]]:
    """The project with all of its planting that is asked for, and what is to be told of files that were read.

    Bare numbers are centimetres, kilograms and degrees Celsius. `by` is who reads tags.

    Raises
    ------
    InputProblem
        One sentence that names the option.
    """
    for option in (*asked.values, *asked.listed):
        if option not in PLANTING_OPTIONS and option not in LISTED_OPTIONS:
            raise ValueError(f"asked: {option!r} is no option of planting")
    for option in PLANTING_OPTIONS:
        if option in asked.values:
            text = asked.values[option]
            with of_option(option):
                project = _with_value(project, option, _said(text))
    told: list[str] = []
    taking = {
        "rate": _with_rate,
        "title": _with_title,
        "remove-lot": _without_lot,
        "lots": lambda p, text: _with_lots(p, text, today, told),
        "lot": lambda p, text: _with_lot(p, text, today),
        "tags": lambda p, text: _with_tags(p, text, today, told),
        "tag": lambda p, text: _with_tag(p, text, today, by),
        "strike-tag": _with_struck_tag,
        "assign": lambda p, text: _with_assignment(p, plans, text),
        "fill": lambda p, text: _with_filled(p, plans, text),
        "swap": lambda p, text: _with_swap(p, plans, text, today),
    }
    for option in LISTED_OPTIONS:
        texts = asked.listed.get(option, ())
        with of_option(option):
            if option == "unassign":
                project = _without_assignments(project, texts)
                continue
            for text in texts:
                project = taking[option](project, _said(text))
    return project, tuple(told)


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
    from .sheet import PAPERS

    wanted = text.strip().casefold()
    found = next((name for name in PAPERS if name.casefold() == wanted), None)
    if found is None:
        raise InputProblem(f"{text.strip()!r} is no paper known here: use {', '.join(PAPERS)}.")
    return found


def asked_scale(text: str) -> str:
    """A scale of the plan sheet, as it was typed.

    Raises
    ------
    InputProblem
        Where it is none.
    """
    from .sheet_tiles import typed_scale

    typed_scale(text)
    return text


def _said(text: str) -> str:
    if not text.strip():
        raise InputProblem("nothing is said: give it or leave it out.")
    return text.strip()


def _with_value(project: Project, option: str, text: str) -> Project:
    if option == UNION:
        planting = planting_of(project)
        setting = with_union_band(planting.setting, text)
        return replace(project, planting=replace(planting, setting=setting))
    return with_typed_planting(project, PLANTING_OPTIONS[option], text)


def _with_rate(project: Project, text: str) -> Project:
    task, rate = _parted(text, "=", "holes=100")
    plain = task.lower().replace("-", "_").replace(" ", "_")
    if plain in TASKS:
        return with_typed_planting(project, f"crew.{plain}_per_h", rate)
    if plain in YEAR_TASKS:
        return with_typed_planting(project, f"years.{plain}_per_h", rate)
    raise InputProblem(f"{task!r} is no task: use one of {', '.join((*TASKS, *YEAR_TASKS))}.")


def _with_title(project: Project, text: str) -> Project:
    field, said = _parted(text, "=", "client=Two Gums Farm")
    plain = field.lower().replace("-", "_").replace(" ", "_")
    if plain not in dict(TITLE_FIELDS):
        raise InputProblem(
            f"{field!r} is no field of the title block: use one of {', '.join(f for f, _ in TITLE_FIELDS)}."
        )
    return with_title_texts(project, {plain: said})


def _without_lot(project: Project, text: str) -> Project:
    from .lot_edits import without_lot

    return without_lot(project, text)


def _with_lots(project: Project, path: str, today, told: list[str]) -> Project:
    from .lot_words import with_lots_of_file

    found, sentences = with_lots_of_file(project, path, today)
    told += sentences
    return found


def _with_tags(project: Project, path: str, today, told: list[str]) -> Project:
    from .lot_words import with_tags_of_file

    found, sentences = with_tags_of_file(project, path, today)
    told += sentences
    return found


def _with_lot(project: Project, text: str, today: datetime.date) -> Project:
    from .lot_edits import typed_lot, with_all_tags_recorded
    from .lot_words import with_new_lot

    head, fields = _fields(text, ("name", *_LOT_HEAD), (*_LOT_FIELDS, "tags"))
    name, tags = head.pop("name"), fields.pop("tags", None)
    said = head | fields
    if planting_of(project).lot(name) is None:
        project = with_new_lot(project, {"name": name, "variety": said.pop("variety", "")}, today)
    for field in sorted(said, key=lambda f: f not in _DELIVERED_FIRST):
        project = typed_lot(project, name, field, said[field], today)
    if tags is None:
        return project
    if tags.lower() not in _YES_NO:
        raise InputProblem(
            f"tags={tags} is not known: write tags=all once all are recorded, or tags=no."
        )
    return with_all_tags_recorded(project, name, _YES_NO[tags.lower()])


def _with_tag(project: Project, text: str, today: datetime.date, by: str) -> Project:
    from .lot_edits import typed_tag, with_tag

    head, fields = _fields(text, ("lot", "text"), _TAG_FIELDS)
    return with_tag(project, typed_tag(project, {"by": by} | head | fields, today))


def _with_struck_tag(project: Project, text: str) -> Project:
    from .lot_edits import with_struck_tag

    number, reason = _parted(text, ":", "3: misread")
    there = len(planting_of(project).tags)
    if not number.isdecimal() or not 1 <= int(number) <= there:
        known = f"they are 1 to {there}" if there else "there is none"
        raise InputProblem(f"{number!r} is no number of a tag: {known}.")
    return with_struck_tag(project, int(number) - 1, reason)


def _without_assignments(project: Project, texts: Sequence[str]) -> Project:
    from .assigning import without_assignment

    there = len(planting_of(project).assignments)
    numbers = set()
    for text in texts:
        said = _said(text)
        if not said.isdecimal() or not 1 <= int(said) <= there:
            known = f"they are 1 to {there}" if there else "there is none"
            raise InputProblem(f"{said!r} is no number of an assignment: {known}.")
        numbers.add(int(said))
    for number in sorted(numbers, reverse=True):
        project = without_assignment(project, number - 1)
    return project


def _with_assignment(project: Project, plans, text: str) -> Project:
    from .assigning import vines_of_text
    from .lot_words import with_assignment_texts

    what, parts = _what_and_parts(project, text, "27-A: B1 rows 1-12")
    use, bare = "crop", what
    if what.endswith(")") and "(" in what and planting_of(project).lot(what) is None:
        bare, _, said = what[:-1].rpartition("(")
        use = said.strip().lower()
        if use not in USES:
            raise InputProblem(f"{use!r} is no use of vines: write one of {listed(USES, 'or')}.")
    vines_of_text(project, plans, parts)  # refused where none stands there
    return with_assignment_texts(project, {"what": bare.strip(), "parts": parts, "use": use})


def _with_filled(project: Project, plans, text: str) -> Project:
    from .assigning import ORDERS, filled_from

    lot, code = _what_and_parts(project, text, "27-A: B1-R001A-V001")
    order = next((o for o in ORDERS[1:] if code.lower().endswith(o)), ORDERS[0])
    code = code[: -len(order)].rstrip(" ,") if code.lower().endswith(order) else code
    return filled_from(project, plans, lot, code, order)


def _with_swap(project: Project, plans, text: str, today: datetime.date) -> Project:
    from .lot_words import with_swap_texts

    like = "27-B: B1 rows 3-4: 27-A came short"
    lot, rest = _what_and_parts(project, text, like)
    parts, reason = _parted(rest, ":", like)
    texts = {"lot": lot, "parts": parts, "reason": reason}
    return with_swap_texts(project, plans, texts, today)


def _what_and_parts(project: Project, text: str, like: str) -> tuple[str, str]:
    """What stands before the colon and behind it; names of lots may hold one themselves."""
    for lot in planting_of(project).lots:
        bare, name = text.casefold(), lot.name.casefold()
        if ":" in name and bare.startswith(name) and bare[len(name) :].lstrip()[:1] in (":", "("):
            head, _, rest = text[len(name) :].partition(":")
            return (text[: len(name)] + head).strip(), rest.strip()
    return _parted(text, ":", like)


def _parted(text: str, sign: str, like: str) -> tuple[str, str]:
    head, found, rest = text.partition(sign)
    if not found or not head.strip() or not rest.strip():
        raise InputProblem(f"{text!r} cannot be read: write it like '{like}'.")
    return head.strip(), rest.strip()


def _fields(text: str, heads: tuple[str, ...], names: tuple[str, ...]):
    """Texts of a list by their place, then by their names; what is left empty by its place is not said."""
    head: dict[str, str] = {}
    fields: dict[str, str] = {}
    for i, piece in enumerate(text.split(";")):
        name, sign, said = (part.strip() for part in piece.partition("="))
        plain = name.lower().replace("-", "_").replace(" ", "_")
        if sign and plain in names:
            fields[plain] = said
        elif i < len(heads) and not fields and not sign:
            if piece.strip():
                head[heads[i]] = piece.strip()
        elif piece.strip():
            raise InputProblem(
                f"{piece.strip()!r} is not known: write what it is of before it, like {names[-1]}=…, of "
                f"{', '.join(names)}."
            )
    if heads[0] not in head:
        raise InputProblem(f"{text!r} names no lot: begin with its name.")
    return head, fields
