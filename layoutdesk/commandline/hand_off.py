"""layoutdesk hand-off, verify, as-staked: files for who stakes, and what became of them."""

from __future__ import annotations

import datetime
import json

from ..core.model import InputProblem
from .options import (
    add_grouped_options,
    add_input,
    add_option,
    given,
    opened,
    refuse_empty,
    refuse_outline,
    who_says,
    with_kept_clear,
)

_GROUPS: dict[str, tuple[str, ...]] = {
    # heading: options of its group; those of no other stand under the last
    "which points": ("points", "parts", "day", "vine-every", "order", "first-number"),
    "files and tables": ("formats", "columns", "header", "separator", "decimal-mark", "decimals",
                         "written-unit", "description", "split", "seal"),
    "coordinates": (),
    "asked of who stakes": ("tolerance", "vine-tolerance", "height-tolerance"),
}  # fmt: skip
_VERIFIED, _DIFFERS = 0, 1


def add_hand_off(commands) -> None:
    """The command that hands off, and its options."""
    from ..session.asked_hand_off import HAND_OFF_MEANINGS, LISTED_OPTIONS
    from ..session.asked_terrain import add_terrain_options

    parser = commands.add_parser(
        "hand-off",
        help="files for a surveyor, a crew or a machine, as they need them",
        epilog="layoutdesk hand-off grids TEXT looks survey grids up; layoutdesk verify tells whether a file still "
        "matches the plan; layoutdesk as-staked compares what was measured.",
    )
    add_input(parser)
    add_terrain_options(parser)
    words = "Without any of these what the project says is taken, else what is usual."
    add_grouped_options(parser, _GROUPS, HAND_OFF_MEANINGS, words)
    group = parser.add_argument_group("lists", "May be repeated.")
    for option, (takes, words) in LISTED_OPTIONS.items():
        add_option(group, option, takes, words, action="append")
    add_option(parser, "out", "DIR", "folder for the files, hand-off.pdf and hand-off.json")
    parser.add_argument(
        "--save", action="store_true", help="write what is asked for into the project INPUT too"
    )
    parser.add_argument(
        "--json", action="store_true", help="print hand-off.json instead of sentences and tables"
    )
    parser.set_defaults(run=hand_off)


def add_hand_off_grids(commands) -> None:
    """The command that looks survey grids up."""
    parser = commands.add_parser("hand-off grids", help="look survey grids up by name or code")
    parser.add_argument("text", metavar="TEXT", help="a code, or words of a name: 'mga 54'")
    parser.add_argument(
        "--project", metavar="PROJECT", help="a project, so that grids of its place come first"
    )
    parser.set_defaults(run=hand_off_grids)


def add_verify(commands) -> None:
    """The command that holds a file against the plan."""
    parser = commands.add_parser(
        "verify",
        help="tell whether a file still matches the plan, and what moved",
        epilog="Exit status 0 where it matches, 1 where it does not, 2 where it cannot be told.",
    )
    parser.add_argument("file", metavar="FILE", help="a file of a hand-off or a stake-out set")
    parser.add_argument("--project", metavar="PROJECT", required=True, help="the project file")
    parser.add_argument("--json", action="store_true", help="print it for programs")
    parser.set_defaults(run=verify)


def add_as_staked(commands) -> None:
    """The command that compares what was measured with the plan."""
    parser = commands.add_parser("as-staked", help="compare measured points with the plan")
    parser.add_argument(
        "file", metavar="FILE", help="measured points: CSV, text, LandXML, DXF, GeoPackage"
    )
    parser.add_argument("--project", metavar="PROJECT", required=True, help="the project file")
    reading = parser.add_argument_group("how the file is read", "Found out where it is left out.")
    add_option(
        reading,
        "columns",
        "LIST",
        "columns of a table: 'point, northing, easting, elevation, description'",
    )
    add_option(reading, "measured-unit", "m|ft|usft", "unit of its coordinates [the hand-off's]")
    add_option(reading, "match", "WAY", "by code, number or place")
    add_option(reading, "layer", "NAME", "of a file with several")
    deciding = parser.add_argument_group("what becomes of it", "The project file is written back.")
    deciding.add_argument("--accept", action="store_true", help="put on record that it will do")
    deciding.add_argument(
        "--adopt", action="store_true", help="have the rows run between the measured ends"
    )
    add_option(
        deciding, "although", "REASON", "why it is done although the points look like a mistake"
    )
    add_option(deciding, "by", "NAME", "who says so [the user's name]")
    add_option(deciding, "note", "TEXT", "remark that goes on record")
    add_option(
        parser,
        "out",
        "DIR",
        "folder for as-staked.csv, as-staked.pdf, as-staked.geojson and as-staked.json",
    )
    parser.add_argument("--json", action="store_true", help="print as-staked.json")
    parser.set_defaults(run=as_staked)


def add_as_staked_undo(commands) -> None:
    """The command that lays rows by the rules again."""
    parser = commands.add_parser(
        "as-staked undo", help="lay rows by the rules again, whatever ends were adopted"
    )
    parser.add_argument("project", metavar="PROJECT", help="the project file; it is written back")
    add_option(parser, "block", "NAME", "of this block alone")
    parser.set_defaults(run=as_staked_undo)


def hand_off(options) -> int:
    """Make a hand-off ready, print what it holds, write it where a folder is given; the exit status."""
    from ..session.asked_hand_off import (
        HAND_OFF_OPTIONS,
        LISTED_OPTIONS,
        AskedHandOff,
        with_asked_hand_off,
    )
    from ..session.asked_terrain import with_asked_terrain
    from ..session.hand_off_files import hand_off_facts, write_hand_off, written_words
    from ..session.hand_off_text import findings_text, hand_off_text
    from ..session.handing_off import HandOffRequest, hand_off_answer
    from ..session.planting_counted import save_into
    from ..session.stakeout import lay_project
    from ..session.survey import survey_view
    from ..session.terrain import terrain_of

    refuse_empty(options, ("out",))
    if options.save:
        refuse_outline(options.input)
    project = with_kept_clear(with_asked_terrain(opened(options), options), options)
    if options.terrain is not None:
        terrain_of(project)  # what is asked for and cannot be read is refused
    unit = survey_view(project).people_unit
    asked = AskedHandOff(given(options, HAND_OFF_OPTIONS), given(options, LISTED_OPTIONS))
    project, notes = with_asked_hand_off(project, asked, unit)
    plans = lay_project(project)
    answer = hand_off_answer(
        HandOffRequest(0, project, plans, options.input, datetime.date.today(), unit)
    )
    names = ()
    if options.out is not None:
        names = write_hand_off(options.out, answer.hand, unit)
    if options.save:
        save_into(options.input, project, plans)
    if options.json:
        print(json.dumps(hand_off_facts(answer.hand), ensure_ascii=False, indent=2))
        return 0
    print(hand_off_text(answer, notes))
    for line in findings_text(answer.findings, unit):
        print(f"  {line}")
    if names:
        print(written_words(options.out, names))
    if options.save:
        print(f"Saved into {options.input}")
    return 0


def hand_off_grids(options) -> int:
    """Print survey grids that fit some words; the exit status."""
    from ..session.planting_counted import opened_project
    from ..session.survey import grids_named

    project = None if options.project is None else opened_project(options.project)[0]
    offers = grids_named(options.text, project)
    if not offers:
        raise InputProblem(
            f"No survey grid fits {options.text!r}: give a code, or fewer words of its name."
        )
    for offer in offers:
        print(offer.words)
    return 0


def verify(options) -> int:
    """Hold a file against the plan and say what moved; 0 where it matches, 1 where not."""
    from ..session.planting_counted import opened_project
    from ..session.planting_text import plain
    from ..session.verifying import moved_lines, verified, verified_facts

    project, plans = opened_project(options.project)
    found = verified(options.file, project, plans, options.project)
    if options.json:
        print(json.dumps(verified_facts(found), ensure_ascii=False, indent=2))
    else:
        for line in found.words:
            print(plain(line))
        for line in moved_lines(found)[:20]:
            print(plain(f"  {line.code}: {line.distance} to {line.direction}"))
    return _VERIFIED if found.matches else _DIFFERS


def as_staked(options) -> int:
    """Compare measured points with the plan, print, write and record; the exit status."""
    from ..session.hand_off_text import findings_text, staked_text
    from ..session.planting_counted import opened_project, save_into
    from ..session.staked import StakedRequest, as_staked
    from ..session.staked_edits import with_accepted, with_adopted
    from ..session.staked_files import staked_json, write_staked
    from ..session.stakeout import lay_project
    from ..session.survey import survey_view

    refuse_empty(options, ("out", "columns", "measured-unit", "match", "layer", "although", "by"))
    if options.accept and options.adopt:
        raise InputProblem("--accept and --adopt cannot go together: give one.")
    project, plans = opened_project(options.project)
    unit, today = survey_view(project).people_unit, datetime.date.today()
    answer = as_staked(
        StakedRequest(
            0,
            project,
            plans,
            options.file,
            options.columns or "",
            _unit(options.measured_unit),
            _way(options.match),
            options.layer or "",
            options.project,
        )
    )
    told = ""
    if options.accept or options.adopt:
        decide = with_adopted if options.adopt else with_accepted
        more = {"although": options.although or ""} if options.adopt else {}
        project = decide(
            answer.request.project, answer, who_says(options), today, options.note or "", **more
        )
    if options.out is not None:
        names = write_staked(options.out, answer, unit, day=today)
        told = f"Written to {options.out}: {', '.join(names)}"
    if options.accept or options.adopt:
        save_into(options.project, project, lay_project(project, check=False))
    if options.json:
        print(staked_json(answer, unit, today), end="")
        return 0
    print(staked_text(answer, unit))
    for line in findings_text(answer.findings, unit):
        print(f"  {line}")
    if told:
        print(told)
    if options.accept or options.adopt:
        print(f"Saved into {options.project}: {'adopted' if options.adopt else 'accepted'}")
    return 0


def as_staked_undo(options) -> int:
    """Take adopted ends back and save; the exit status."""
    from ..session.planting_counted import opened_project, save_into
    from ..session.staked_edits import without_adopted
    from ..session.stakeout import lay_project

    project, _ = opened_project(options.project)
    changed = without_adopted(project, options.block or "")
    if changed is project:
        raise InputProblem("No row end was adopted there: nothing is to be taken back.")
    save_into(options.project, changed, lay_project(changed, check=False))
    print(f"Saved into {options.project}: rows are laid by the rules again")
    return 0


def _unit(text: str | None) -> str:
    units = {"m": "metre", "ft": "foot", "usft": "US survey foot"}
    if text is None:
        return ""
    if text.strip().lower() not in units:
        raise InputProblem(f"--measured-unit {text!r} is none of m, ft, usft: give one.")
    return units[text.strip().lower()]


def _way(text: str | None) -> str:
    from ..core.staking.matching import WAYS

    if text is None:
        return ""
    if text.strip().lower() not in WAYS:
        raise InputProblem(f"--match {text!r} is none of {', '.join(WAYS)}: give one.")
    return text.strip().lower()
