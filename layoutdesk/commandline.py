"""The command line: headless use of session and core, and the way into the window."""

from __future__ import annotations

import argparse
import io
import json
import signal
import sys
from dataclasses import replace

from . import __version__
from .core.model import LEFTOVERS, InputProblem, RowRules

_LENGTHS = {
    # option: (rule, help)
    "row-spacing": ("row_spacing_m", "between rows, at right angles"),
    "vine-spacing": ("vine_spacing_m", "between vines along the row"),
    "headland": ("headland_m", "clear at row ends"),
    "side-margin": ("side_margin_m", "clear along the sides"),
    "first-vine": ("first_vine_m", "from the start end post to the first vine"),
    "last-vine": ("last_vine_m", "at least, from the last vine to the far end post"),
    "min-row": ("min_row_m", "shorter rows are left out"),
    "anchor": ("anchor_m", "from each end post outwards; 0 for none"),
    "alley-every": ("alley_every_m", "alleys across the rows at this interval; 0 for none"),
    "alley-width": ("alley_width_m", "width of these alleys"),
}
_NUMBERS = {
    "line-post-every": ("line_post_every", int, "vine spaces between line posts; 0 for none"),
    "first-number": ("first_number", int, "number of the first row"),
    "stretch-max": (
        "stretch_max_pct",
        float,
        "most that 'stretch' may change the vine spacing, %%",
    ),
    "side-angle": ("side_angle_deg", float, "edges at this angle or more to the rows are row ends"),
}
_WORDS = {
    "leftover": ("leftover", LEFTOVERS, "where the length that is no whole vine space goes"),
    "lattice": ("lattice", ("square", "staggered"), "with --leftover across"),
    "number-from": ("number_from", ("left", "right"), "side where row numbers begin"),
}


class _Parser(argparse.ArgumentParser):
    def error(self, message):
        raise InputProblem(f"{message[0].upper()}{message[1:]} (see {self.prog} --help).")


def _add_rules(parser) -> None:
    rules = parser.add_argument_group(
        "rules",
        "Lengths take units: 2.4, 2.4m, 8ft, 8ft6in, 8usft. In brackets what a new project has; "
        "a project keeps its own.",
    )

    def with_usual(text: str, rule: str, unit: str = "") -> str:
        usual = getattr(RowRules(), rule)
        return (
            f"{text} [{usual:g}{unit}]" if isinstance(usual, int | float) else f"{text} [{usual}]"
        )

    rules.add_argument(
        "--bearing",
        help="true, clockwise from north; or '17.4 grid', '6 magnetic' [along the longest edge]",
    )
    for option, (rule, text) in _LENGTHS.items():
        rules.add_argument(f"--{option}", metavar="LENGTH", help=with_usual(text, rule, " m"))
    rules.add_argument(
        "--first-row",
        metavar="LENGTH|best",
        help=with_usual("row 1, from the left extreme of the plantable area", "first_row_m", " m"),
    )
    for option, (rule, _, text) in _NUMBERS.items():
        rules.add_argument(f"--{option}", metavar="N", help=with_usual(text, rule))
    for option, (rule, words, text) in _WORDS.items():
        rules.add_argument(f"--{option}", metavar="|".join(words), help=with_usual(text, rule))


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


def _rule_changes(options, project) -> dict:
    """What the options change in the rules of every block."""
    from .session.units import bearing_parts, length_m

    changes = {}
    for option, (rule, _) in _LENGTHS.items():
        text = getattr(options, option.replace("-", "_"))
        if text is not None:
            changes[rule] = _named(option, length_m, text)
    if options.first_row is not None:
        best = options.first_row.strip().lower() == "best"
        changes["first_row_m"] = (
            "best" if best else _named("first-row", length_m, options.first_row)
        )
    for option, (rule, kind, _) in _NUMBERS.items():
        text = getattr(options, option.replace("-", "_"))
        if text is not None:
            changes[rule] = _named(option, kind, text)
    for option, (rule, words, _) in _WORDS.items():
        text = getattr(options, option.replace("-", "_"))
        if text is not None:
            word = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
            if word not in words:
                raise InputProblem(
                    f"--{option} {text!r} is not known: use one of {', '.join(words)}."
                )
            changes[rule] = word
    if options.bearing is not None:
        degrees, convention = bearing_parts(options.bearing)
        if convention != "true":
            from .formats.bearings import north_offsets
            from .formats.crs import survey_grid

            grid = survey_grid(project.site.frame, project.site.survey_crs)
            offsets = north_offsets(project.site.frame, grid.convergence_deg, project.day)
            if convention == "magnetic" and offsets.declination_deg is None:
                raise InputProblem(
                    f"--bearing {options.bearing!r}: no magnetic model holds for {project.day}; give "
                    "a true or grid bearing."
                )
            degrees = offsets.true_from(convention, degrees)
        changes["bearing_deg"] = degrees
    return changes


def _named(option: str, read, text: str):
    try:
        return read(text)
    except InputProblem as problem:
        raise InputProblem(f"--{option}: {problem}") from None
    except ValueError:
        raise InputProblem(f"--{option} {text!r} is no number: give one like 4.") from None


def changed_rules(project, changes: dict):
    """The project with the same rules changed in every block."""
    if not changes:
        return project
    chosen = tuple(f for f in project.site.findings if f.code != "bearing-chosen")
    if "bearing_deg" in changes:
        project = replace(project, site=replace(project.site, findings=chosen))
    try:
        blocks = tuple(replace(b, rules=replace(b.rules, **changes)) for b in project.blocks)
    except ValueError as problem:
        name, _, rest = str(problem).partition(": ")
        option = {rule: o for o, (rule, *_) in (_LENGTHS | _NUMBERS | _WORDS).items()}
        option |= {"bearing_deg": "bearing", "first_row_m": "first-row"}
        unit = {"m": " m", "deg": " degrees", "pct": " %"}.get(name.rpartition("_")[2], "")
        raise InputProblem(f"--{option.get(name, name)}: {rest}{unit}.") from None
    return replace(project, blocks=blocks)


def _lay(options) -> int:
    from .session.opening import open_any
    from .session.stakeout import stake_set, write_stake_set
    from .session.units import length_m

    if not options.out:
        raise InputProblem("--out is empty: give the folder the stake-out set goes to.")
    height = _named("height", length_m, options.height) if options.height is not None else None
    exclusions = [
        (path, None if text is None else _named("clearance", length_m, text))
        for path, text in options.exclude or ()
    ]
    for path, clearance_m in exclusions:
        if clearance_m is not None and not 0 <= clearance_m <= 1000:
            raise InputProblem(f"--clearance for {path}: {clearance_m:g} m is outside 0 to 1000 m.")
    if height is not None and not -500 <= height <= 9000:
        raise InputProblem(
            f"--height {height:g} m is no height on this earth: give metres or feet."
        )
    project = open_any(
        options.input,
        crs=options.crs,
        unit=options.unit,
        survey_crs=options.survey_crs,
        height_m=height,
        exclusions=exclusions,
    )
    project = changed_rules(project, _rule_changes(options, project))
    stakes = stake_set(project)
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
