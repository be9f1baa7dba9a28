"""The pages of the help, in reading order: most are files, two are made from the program's tables."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from ..core.model.findings import FINDINGS, SEVERITIES
from .places import resource

ORDER = (
    "first-layout",
    "outlines",
    "rules",
    "plan",
    "keys",
    "stake-out",
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
    >>> pages_with("tape grid datum")
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


def _keys_page(keys: Keys) -> str:
    lines = [
        "# Keys",
        "",
        "These are the keys of the menus. `Ctrl+K` finds an action by its name and tells its key. What "
        "keys do on the plan, on a value and on the row strip is told with [the plan](plan.md).",
        "",
        "| Action | Key |",
        "|---|---|",
        *(f"| {what} | `{key}` |" for what, key in keys),
    ]
    return "\n".join(lines) + "\n"
