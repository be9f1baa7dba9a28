"""The command line: headless use of session and core, and the way into the window."""

from __future__ import annotations

import argparse
import io
import json
import re
import signal
import sys
from pathlib import Path

from . import __version__
from .core.model import CHOICES, InputProblem, RowRules
from .session.asked_rules import OPTIONS, RULE_OPTIONS, Asked, asked_length_m, with_asked

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


class _Parser(argparse.ArgumentParser):
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


def _add_rules(parser) -> None:
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


def _add_input(parser) -> None:
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


def _command_parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="layoutdesk",
        description="Lay out, stake and follow a vineyard block.",
        epilog="layoutdesk [PROJECT_OR_OUTLINE] opens the window.",
    )
    parser.add_argument("--version", action="version", version=f"Layout Desk {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)
    lay = commands.add_parser("lay", help="lay rows and write the stake-out set, without a window")
    _add_input(lay)
    lay.add_argument("--out", metavar="DIR", required=True, help="folder for the stake-out set")
    lay.add_argument("--json", action="store_true", help="print the summary as JSON")
    _add_rules(lay)
    return parser


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
    from .formats.reading.recognise import format_of

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


def _lay(options) -> int:
    from .session.opening import open_any
    from .session.stakeout import stake_set, write_stake_set

    if not options.out.strip():
        raise InputProblem("--out is empty: give the folder the stake-out set goes to.")
    if not options.input.strip():
        raise InputProblem("INPUT is empty: give an outline file or a project.")
    for option in ("guide", "crs", "survey_crs", "unit"):
        if getattr(options, option) is not None and not getattr(options, option).strip():
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
    project = open_any(
        options.input,
        crs=options.crs,
        unit=options.unit,
        survey_crs=options.survey_crs,
        height_m=height_m,
        exclusions=exclusions,
    )
    stakes = stake_set(with_asked(project, asked_of(options)))
    summary = write_stake_set(options.out, stakes)
    if options.json:
        print(json.dumps(summary, indent=2))
        return 0
    print(
        f"{summary['vines']:,} vines in {summary['rows']:,} rows ({summary['segments']:,} segments, "
        f"{summary['row_length_m']:,.1f} m), {summary['end_posts']:,} end posts, "
        f"{summary['line_posts']:,} line posts, {summary['anchors']:,} anchors."
    )
    print(f"Survey: {stakes.statement}")
    for finding in stakes.findings:
        print(f"  {finding.severity}: {finding.message}")
    print(
        f"Written to {options.out}: stakes.csv, stakes.geojson, stakes.dxf, project.gpkg, summary.json, about.txt"
    )
    return 0


def _stopped(signum, frame):
    raise KeyboardInterrupt


def main(argv: list[str] | None = None) -> int:
    """Run the program; the exit status is 0 when done, 2 for bad input or usage."""
    argv = list(sys.argv[1:] if argv is None else argv)
    if isinstance(sys.stdout, io.TextIOWrapper):  # a console that lacks a degree sign still works
        sys.stdout.reconfigure(errors="backslashreplace")
    signal.signal(signal.SIGTERM, _stopped)  # so that nothing half-written is left
    try:
        if not argv or not (argv[0] == "lay" or argv[0].startswith("-")):
            if len(argv) > 1:
                raise InputProblem(
                    f"{argv[0]!r} is no command and {argv[1]!r} cannot follow a file: use layoutdesk "
                    "FILE for the window or layoutdesk lay FILE --out DIR (see layoutdesk --help)."
                )
            if argv and not argv[0].strip():
                raise InputProblem(
                    "The name of the file is empty: give an outline file or a project, or none."
                )
            from .desk.start import open_window

            return open_window(argv[0] if argv else None)
        options = _command_parser().parse_args(argv)
        if options.command is None:
            raise InputProblem(
                "A command is missing: layoutdesk lay, or layoutdesk FILE for the window."
            )
        return _lay(options)
    except InputProblem as problem:
        print(f"layoutdesk: {problem}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        return 0
    except OSError as problem:
        where = problem.filename if problem.filename is not None else argv[-1]
        reason = problem.strerror or problem
        print(f"layoutdesk: {where} cannot be used ({reason}): give another.", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("layoutdesk: stopped; what was there before is unchanged.", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(main())
