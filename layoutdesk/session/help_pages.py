"""The pages of the help, in reading order: most are files, some are made from the program's tables."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from ..core.model.findings import FINDINGS, SEVERITIES
from .kinds import KINDS
from .places import resource

ORDER = (
    "first-layout",
    "outlines",
    "ground",
    "kinds",
    "rules",
    "rows",
    "selecting",
    "numbering",
    "comparing",
    "materials",
    "water",
    "planting",
    "plan",
    "backdrop",
    "heights",
    "files",
    "keys",
    "stake-out",
    "hand-off",
    "as-staked",
    "findings",
    "cautions",
    "words",
)
"""Every page, in reading order."""

Keys = Iterable[tuple[str, str]]
"""What an action is called and its shortcut; the window knows them."""

_SEVERITY_WORDS = {
    "wrong": ("■ Wrong", "Mend these first."),
    "caution": ("▲ Caution", "Look at these before you stake."),
    "note": ("● Note", "Said so that nobody is surprised."),
}


def pages() -> list[tuple[str, str]]:
    """Id and title of every page, in reading order.

    Examples
    --------
    >>> pages()[0]
    ('first-layout', 'A first layout, step by step')
    """
    return [(name, title(name)) for name in ORDER]


def title(name: str) -> str:
    """A page's title: its first line."""
    return page(name).partition("\n")[0].removeprefix("# ")


def page(name: str, keys: Keys = ()) -> str:
    """A page as Markdown; links in it are file names of other pages, such as `rules.md`.

    Parameters
    ----------
    name : str
        One of `ORDER`.
    keys : iterable of (str, str)
        For the page "keys".

    Raises
    ------
    KeyError
        Where there is no such page.
    """
    if name not in ORDER:
        raise KeyError(f"there is no page {name!r} in the help; there are {', '.join(ORDER)}")
    if name == "findings":
        return _findings_page()
    if name == "kinds":
        return _kinds_page()
    if name == "keys":
        return _keys_page(keys)
    return _file(name)


def page_of_link(link: str) -> str | None:
    """The page a link goes to, None where it goes to none.

    Examples
    --------
    >>> page_of_link("rules.md"), page_of_link("https://example.org")
    ('rules', None)
    """
    name = link.removesuffix(".md")
    return name if name != link and name in ORDER else None


def pages_with(words: str, keys: Keys = ()) -> list[str]:
    """Ids of the pages that hold all of the words, or parts of words; all pages where none is given.

    Examples
    --------
    >>> pages_with("tape pulling datum")
    ['stake-out']
    """
    wanted, keys = words.casefold().split(), tuple(keys)
    return [name for name in ORDER if all(word in page(name, keys).casefold() for word in wanted)]


@lru_cache(maxsize=len(ORDER))
def _file(name: str) -> str:
    return resource("help", f"{name}.md").read_text(encoding="utf-8")


def _findings_page() -> str:
    lines = [
        "# Findings",
        "",
        "A finding is something about your data that you should know. The work goes on. Findings are "
        "listed beside the plan, the worst first; *Go there* shows the place where there is one. The "
        "codes are those in `summary.json`. A finding can be graver than its kind is here where the "
        "case asks for it.",
    ]
    for severity in reversed(SEVERITIES):
        heading, words = _SEVERITY_WORDS[severity]
        lines += ["", f"## {heading}", "", words, "", "| Meaning | Code |", "|---|---|"]
        lines += [
            f"| {meaning} | `{code}` |"
            for code, (found_as, meaning) in FINDINGS.items()
            if found_as == severity
        ]
    return "\n".join(lines) + "\n"


def _kinds_page() -> str:
    lines = [
        "# Kinds of exclusions",
        "",
        "An exclusion that is drawn begins with the clearance of its kind, told here from the shape as "
        "drawn. *Common practice:* these figures are wide enough to work a tractor past. They are no "
        "law and no safe distance. Local rules and whoever owns the line or the water govern, and "
        "often ask for more.",
        "",
        "| Kind | Begins with |",
        "|---|---|",
        *(f"| {kind.name} | {kind.clearance_m:g} m |" for kind in KINDS.values()),
        "",
        "Type another clearance in the card or in the paragraph. *Ground, Keep this clearance for its "
        "kind* lets new ones of the kind in hand begin with the clearance that one has. Anything else "
        "is of the kind *other* and begins with 0. How to draw one is told under "
        "[the ground](ground.md).",
        "",
        "## What to heed",
        "",
        *(
            f"- **{kind.name.capitalize()}.** {kind.caution}"
            for kind in KINDS.values()
            if kind.caution
        ),
    ]
    return "\n".join(lines) + "\n"


HAND_KEYS: dict[str, tuple[tuple[str, str], ...]] = {
    "On the plan": (
        ("Move", "arrow keys"),
        ("Zoom", "wheel"),
        ("Drag from anywhere", "hold Space, or the middle button"),
        ("Put back what is being pulled", "Escape"),
        ("Turn the rows by 5°, by 0.01°", "Shift, Ctrl while pulling the grip"),
    ),
    "While setting places": (
        ("Set a place", "click"),
        ("Pointer by keyboard, in long steps, in short ones", "arrow keys, Shift, Ctrl"),
        ("Set a place there", "Enter"),
        ("Type a place", "a digit, N or E"),
        ("Do not snap", "hold Alt"),
        ("Take a place back", "Backspace"),
        ("End a line or an area", "Enter, or a double click"),
        ("Give up", "Escape"),
    ),
    "On a shape in hand": (
        ("Nudge the corner by 0.1 m, 1 m, 1 cm", "arrow keys, Shift, Ctrl"),
        ("Put a corner on an edge", "double click"),
        ("Put a corner midway", "Insert"),
        ("Take the corner out", "Delete"),
        ("Let go of the corner, then of the shape", "Escape"),
    ),
    "On rows": (
        ("Take one more in, or let one go", "Ctrl and click"),
        ("Select in a box", "Shift and drag"),
        ("Leave out; take an alley away", "Delete"),
        ("Let go of everything", "Escape"),
    ),
    "On a value": (
        ("One step, ten steps", "Up and Down, Page Up and Page Down"),
        ("Step", "wheel, or drag sideways"),
        ("Take what was typed", "Enter or Tab"),
        ("Back to what was last settled", "Escape"),
        ("Open the list of a choice", "Space or Enter"),
    ),
    "On the row strip": (
        ("From row to row", "Left and Right"),
        ("To the first, to the last", "Home and End"),
        ("Select up to there", "Shift with these, or Shift and click"),
        ("Select one more", "Ctrl and click"),
        ("Go there", "Enter, or a double click"),
        ("Copy as a table", "`Ctrl+C`"),
        ("Let go", "Escape"),
    ),
    "On the comparison": (
        ("Move all plans", "arrow keys on a plan"),
        ("Take a candidate out", "Delete on its plan"),
        ("Tick a measure", "Space on its line"),
        ("Copy the table", "`Ctrl+C`"),
        ("Cursor on the curves by 1°, by 10°", "Left and Right, with Shift"),
        ("Add a candidate there", "Enter, or a click"),
    ),
    "On drip water": (
        ("From vine to vine, over to the next row", "Shift and arrow keys on the plan"),
        ("Take the set of that vine in hand", "Enter, or a click"),
        ("From set to set", "Up and Down in the table"),
        ("Show the set on the plan", "Enter there, or a double click"),
        ("From week to week", "Left and Right in the run times"),
        ("Copy the sets as a table", "`Ctrl+C`"),
        ("Let go", "Escape"),
    ),
    "On the hand-off": (
        ("From point to point, and see it on the plan", "Up and Down in a list"),
        ("Go there", "Enter in a list, or a double click"),
        ("Take the point there in hand", "click on the plan"),
        ("Tick a file", "Space on it"),
        ("From bar to bar of the distances", "Left and Right, Home and End"),
        ("Select rows in a box", "Shift and drag"),
        ("Copy a list as a table", "`Ctrl+C`"),
        ("Let go", "Escape"),
    ),
    "On the findings": (
        ("From one to the next", "Up and Down"),
        ("Go there, or open the fold", "Enter"),
        ("Copy its words", "`Ctrl+C`"),
    ),
    "In the help": (("Back and forward", "`Alt+Left` and `Alt+Right`"), ("Close", "Escape")),
}
"""What keys and the hand do where no menu tells it, place by place."""


def _keys_page(keys: Keys) -> str:
    lines = [
        "# Keys",
        "",
        "First the keys of the menus; `Ctrl+K` finds any action by its name and tells its key. Below them "
        "is what keys do on [the plan](plan.md) and in its cards. Tab goes from card to card.",
        "",
        "| Action | Key |",
        "|---|---|",
        *(f"| {what} | `{key}` |" for what, key in keys),
    ]
    for place, told in HAND_KEYS.items():
        lines += ["", f"## {place}", "", "| To | Press |", "|---|---|"]
        lines += [f"| {what} | {key} |" for what, key in told]
    return "\n".join(lines) + "\n"
