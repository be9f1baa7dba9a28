"""Options that several commands share: what is opened, and the rules."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from ..core.model import CHOICES, InputProblem, RowRules
from ..session.asked_rules import OPTIONS, RULE_OPTIONS, Asked, asked_length_m

_RULES = {
    # option: what it means
    "bearing": "true, clockwise from north; or '17.4 grid', '6 magnetic' [along the longest edge]",
    "row-spacing": "between rows, at right angles",
    "vine-spacing": "between vines along the row",
    "headland": "clear at row ends",
    "side-margin": "clear along the sides",
    "side-angle": "edges at this angle or more to the rows are row ends",
    "first-row": "row 1, from the left extreme of the plantable area",
    "first-vine": "from the start end post to the first vine",
    "last-vine": "at least, from the last vine to the far end post",
    "min-row": "shorter rows are left out",
    "line-post-every": "vine spaces between line posts; 0 for none",
    "anchor": "from each end post outwards; 0 for none",
    "leftover": "where the length that is no whole vine space goes",
    "stretch-max": "most that 'stretch' may change the vine spacing, %%",
    "lattice": "with --leftover across",
    "alley-every": "alleys across the rows at this interval; 0 for none",
    "alley-width": "width of these alleys",
    "number-from": "side where row numbers begin",
    "first-number": "number of the first row",
}


class Parser(argparse.ArgumentParser):
    """Wrong usage is told as any other input problem."""

    def error(self, message):
        raise InputProblem(f"{message[0].upper()}{message[1:]} (see {self.prog} --help).")


def _usual(rule: str) -> str:
    if rule == "bearing_deg":
        return ""
    usual = getattr(RowRules(), rule)
    if not isinstance(usual, int | float):
        return f" [{usual}]"
    return f" [{usual:g}{' m' if rule.endswith('_m') else ''}]"


def _metavar(rule: str) -> str | None:
    if rule in CHOICES:
        return "|".join(CHOICES[rule])
    if rule.endswith("_m"):
        return "LENGTH|best" if rule == "first_row_m" else "LENGTH"
    return None if rule == "bearing_deg" else "N"


def add_rules(parser) -> None:
    """The rules, and the blocks they are for, as options of a command."""
    rules = parser.add_argument_group(
        "rules",
        "Lengths take units: 2.4, 2.4m, 8ft, 8ft6in, 8usft. In brackets what a new project has; "
        "a project keeps its own.",
    )
    for option in RULE_OPTIONS:
        rule = OPTIONS[option]
        text = f"{_RULES[option]}{_usual(rule)}"
        rules.add_argument(f"--{option}", metavar=_metavar(rule), help=text)
    rules.add_argument(
        "--start-corner", metavar="WORD", help="corner where rows and numbers begin: south-west"
    )
    rules.add_argument(
        "--alley",
        metavar="NUMBER=LENGTH",
        action="append",
        help="width of an alley set down in the window; 0 takes it out",
    )
    rules.add_argument(
        "--guide", metavar="FILE", help="rows follow the line in this file instead of a bearing"
    )
    rules.add_argument("--straight", action="store_true", help="rows follow no guide line any more")
    blocks = parser.add_argument_group("blocks")
    blocks.add_argument(
        "--block",
        metavar="NAME",
        action="append",
        help="the rules given are for this block, and those it shares them with; may be repeated "
        "[all blocks]",
    )
    blocks.add_argument("--share-rules", metavar="yes|no", help="whether these blocks share rules")
    blocks.add_argument(
        "--prefix",
        metavar="NAME",
        help="name of the block, with which its codes begin; several "
        "blocks get NAME1, NAME2 and so on",
    )


class _Exclude(argparse.Action):
    """--exclude FILE, and --clearance for the file before it."""

    def __call__(self, parser, namespace, value, option_string=None):
        files = list(namespace.exclude or [])
        if option_string == "--exclude":
            files.append((value, None))
        elif not files:
            parser.error("--clearance belongs after the --exclude it is for")
        else:
            files[-1] = (files[-1][0], value)
        namespace.exclude = files


def add_input(parser) -> None:
    """What is opened, and what its file does not say, as options of a command."""
    parser.add_argument("input", metavar="INPUT", help="an outline file or a project")
    parser.add_argument(
        "--crs", help="coordinate system of an outline that does not say: EPSG:nnnn"
    )
    parser.add_argument("--unit", help="unit of a drawing that does not say: m, ft, usft, mm")
    parser.add_argument("--survey-crs", metavar="EPSG:nnnn", help="system of the stake-out files")
    parser.add_argument("--height", metavar="LENGTH", help="ellipsoidal height of the site")
    parser.add_argument(
        "--exclude", metavar="FILE", action=_Exclude, help="keep rows out of these shapes"
    )
    parser.add_argument(
        "--clearance", metavar="LENGTH", action=_Exclude, help="for the --exclude before it"
    )
    parser.add_argument(
        "--keep-from",
        metavar="WHAT=LENGTH",
        action="append",
        help="clearance of the exclusions of a kind or name, such as pond=6; may be repeated",
    )


def with_kept_clear(project, options):
    """The project with the clearances asked for, for commands that take no rules."""
    from ..session.asked_rules import with_asked

    return with_asked(project, Asked({}, keep_from=tuple(options.keep_from or ())))


def asked_of(options) -> Asked:
    """What the options ask of the rules."""
    given = {option: getattr(options, option.replace("-", "_")) for option in RULE_OPTIONS}
    return Asked(
        {option: text for option, text in given.items() if text is not None},
        blocks=tuple(options.block or ()),
        keep_from=tuple(options.keep_from or ()),
        alleys=tuple(options.alley or ()),
        share_rules=options.share_rules,
        start_corner=options.start_corner,
        prefix=options.prefix,
        guide=options.guide,
        straight=options.straight,
        unit=options.unit,
    )


def _refuse_prose(path: str) -> None:
    """Text without two figures in any line was named as a list of corners by mistake."""
    from ..formats.reading.recognise import format_of

    path = Path(path)
    if not path.is_file() or format_of(path) != "csv":
        return
    with path.open("rb") as file:
        head = file.read(65_536)
    words = (re.split(rb"[\s,;]+", line) for line in head.splitlines())
    figures = (sum(bool(re.search(rb"\d", word)) for word in line) for line in words)
    if head.strip() and b"\0" not in head and max(figures) < 2:
        raise InputProblem(
            f"{path.name} is text but no list of corners: give one with two coordinates "
            "in each line, under a header such as easting,northing or lat,lon."
        )


def opened(options):
    """The project that INPUT holds, with what the options say of it.

    Raises
    ------
    InputProblem
    """
    from ..session.opening import open_any

    if not options.input.strip():
        raise InputProblem("INPUT is empty: give an outline file or a project.")
    for option in ("guide", "crs", "survey_crs", "unit"):
        text = getattr(options, option, None)  # not every command has a guide
        if text is not None and not text.strip():
            raise InputProblem(f"--{option.replace('_', '-')} is empty: give it or leave it out.")
    _refuse_prose(options.input)
    height_m = None if options.height is None else asked_length_m("height", options.height)
    if height_m is not None and not -500 <= height_m <= 9000:
        raise InputProblem(
            f"--height {options.height} is no height on this earth: give one from -500 to 9000 m, in "
            "metres or feet."
        )
    exclusions = [
        (path, None if text is None else asked_length_m("clearance", text))
        for path, text in options.exclude or ()
    ]
    for path, clearance_m in exclusions:
        if not path.strip():
            raise InputProblem("--exclude is empty: give a file.")
        if clearance_m is not None and not 0 <= clearance_m <= 1000:
            raise InputProblem(f"--clearance for {path}: {clearance_m:g} m is outside 0 to 1000 m.")
    return open_any(
        options.input,
        crs=options.crs,
        unit=options.unit,
        survey_crs=options.survey_crs,
        height_m=height_m,
        exclusions=exclusions,
    )


def given(options, names) -> dict:
    """Those of some options that were given, with their texts."""
    given = {o: getattr(options, o.replace("-", "_")) for o in names}
    return {o: said for o, said in given.items() if said is not None}


def refuse_empty(options, names) -> None:
    """InputProblem for the first of some options that was given without a text."""
    for option in names:
        text = getattr(options, option.replace("-", "_"))
        if text is not None and not text.strip():
            raise InputProblem(f"--{option} is empty: give it or leave it out.")


def refuse_outline(path: str) -> None:
    """InputProblem where INPUT is no project that --save could write into."""
    from ..formats.project_file import is_project

    if not is_project(path):
        raise InputProblem(
            f"--save: {path} is no project that could be written into: make one with layoutdesk lay INPUT "
            "--out DIR first."
        )


def who_says(options) -> str:
    """Who records; the user's own name where it is not said, empty where the system knows none."""
    if options.by is not None:
        return options.by.strip()
    import getpass

    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""


def add_option(group, option: str, takes: str, words: str, **more) -> None:
    """Add an option that takes a text to a group or parser."""
    group.add_argument(f"--{option}", metavar=takes, help=words.replace("%", "%%"), **more)


def add_grouped_options(parser, groups, meanings, words: str) -> None:
    """Add options that take a text, group by group; those of no group stand under the heading that names none."""
    taken = {o for options in groups.values() for o in options}
    for heading, options in groups.items():
        group = parser.add_argument_group(heading, words)
        for option in options or [o for o in meanings if o not in taken]:
            add_option(group, option, "TEXT", meanings[option])
