"""layoutdesk planting: lots, days, sheets and years of a site, and what is on record at every vine."""

from __future__ import annotations

import datetime

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
    "the crew and its days": ("begins", "people", "hours", "starts", "weekdays-off", "days-off", "missed",
                              "hottest"),
    "how vines are set": ("hole-depth", "union", "spares", "potted-weeks", "bare-root-months"),
    "inspection": ("tolerated", "confidence", "accept", "seed", "inspectors"),
    "first years": (),
}  # fmt: skip
_RECORDED: dict[str, str] = {
    # option: the event it records
    "planted": "planted",
    "replanted": "replanted",
    "missing": "missing",
    "dead": "dead",
    "alive": "alive",
    "checked": "checked",
    "reworked": "reworked",
    "mistake": "void",
}
_MEANINGS = {
    "planted": "as planted, with the lot that is assigned or --lot",
    "replanted": "as planted again after a loss",
    "missing": "as missing",
    "dead": "as dead, with --cause",
    "alive": "as seen alive",
    "checked": "as inspected: all right, or --faults",
    "reworked": "as put right after an inspection",
    "mistake": "what is on record of them as a mistake, with --note",
}
_ONLY_FOR = {
    # option: events it says something of
    "lot": ("planted", "replanted"),
    "although": ("planted", "replanted"),
    "cause": ("missing", "dead"),
    "faults": ("checked",),
}


def add_planting(commands) -> None:
    """The command that plans, and its options."""
    from ..session.asked_planting import LISTED_OPTIONS, PLANTING_MEANINGS
    from ..session.asked_terrain import add_terrain_options

    parser = commands.add_parser(
        "planting",
        help="lots, planting days, inspection and first years, without a window",
        epilog="layoutdesk planting read, record and tell keep the record of what was planted; a project that is "
        "called read is given as ./read.",
    )
    add_input(parser)
    add_terrain_options(parser)
    words = "Without any of these what the project says is taken, else common practice."
    add_grouped_options(parser, _GROUPS, PLANTING_MEANINGS, words)
    group = parser.add_argument_group(
        "lots, tags, assignments",
        "May be repeated; taken in by the order in which they stand here.",
    )
    for option, (takes, words) in LISTED_OPTIONS.items():
        add_option(group, option, takes, words, action="append")
    files = parser.add_argument_group("files")
    add_option(
        files,
        "out",
        "DIR",
        "folder for plan-sheet.pdf, row-table.csv, lots.csv, day-cards.pdf, inspection.csv, calendar.ics, "
        "first-years.xlsx and planting.json, with lots, inspection and years as PDF and the inspection as "
        "points for a GIS or a phone",
    )
    add_option(files, "paper", "NAME", "of the plan sheet: A4, A3 …, Letter, Tabloid")
    add_option(
        files,
        "scale",
        "1:N",
        "of the plan sheet: 1:500, '1 in = 50 ft', or fit for all of it on one sheet",
    )
    files.add_argument(
        "--again",
        action="store_true",
        help="inspect what was put right or is still faulty, no new sample",
    )
    add_option(
        files,
        "planted-form",
        "PARTS",
        "write as-planted.csv and as-planted.gpkg for these vines too",
    )
    parser.add_argument(
        "--save", action="store_true", help="write what is asked for into the project INPUT too"
    )
    parser.add_argument(
        "--json", action="store_true", help="print planting.json instead of sentences and tables"
    )
    add_option(parser, "by", "NAME", "who reads the tags that are given [the user's name]")
    parser.set_defaults(run=planting)


def add_planting_read(commands) -> None:
    """The command that reads filled forms."""
    parser = commands.add_parser("planting read", help="merge filled forms into a project's record")
    parser.add_argument("project", metavar="PROJECT", help="the project file; it is written back")
    parser.add_argument("forms", metavar="FORM", nargs="+", help="filled forms, CSV or GeoPackage")
    _add_who(parser, "who reads the forms in [the user's name]")
    add_option(parser, "day", "DAY", "for lines that say none (2027-04-05)")
    add_option(
        parser, "although", "REASON", "why lots were planted before all their tags were recorded"
    )
    add_option(
        parser,
        "leftover",
        "FILE.csv",
        "write lines that were not taken here, to correct and read again",
    )
    parser.add_argument(
        "--dry-run", action="store_true", help="say what would be taken and write nothing"
    )
    parser.set_defaults(run=planting_read)


def add_planting_record(commands) -> None:
    """The command that records something of vines."""
    parser = commands.add_parser("planting record", help="put something of vines on record")
    parser.add_argument("project", metavar="PROJECT", help="the project file; it is written back")
    which = parser.add_argument_group(
        "what", "One of these, with vines like 'B1 rows 3-5; B1-R012A-V034'."
    )
    for option in _RECORDED:
        add_option(which, option, "PARTS", _MEANINGS[option])
    add_option(parser, "lot", "NAME", "the lot that was planted [as assigned]")
    add_option(parser, "cause", "TEXT", "of a loss: frost, drought, animals …")
    add_option(parser, "faults", "TEXT", "what was wrong: 'container off; firm' [nothing]")
    add_option(parser, "day", "DAY", "when it was so [today]")
    add_option(parser, "note", "TEXT", "remark, or what the mistake was")
    add_option(
        parser, "although", "REASON", "why a lot was planted before all its tags were recorded"
    )
    _add_who(parser, "who says so [the user's name]")
    parser.set_defaults(run=planting_record)


def add_planting_tell(commands) -> None:
    """The command that tells what is on record of vines."""
    parser = commands.add_parser("planting tell", help="tell everything on record of vines")
    parser.add_argument("project", metavar="PROJECT", help="the project file")
    parser.add_argument(
        "codes",
        metavar="CODE",
        nargs="+",
        help="a vine, B1-R012A-V034, or a row, B1-R012 or B1-R012A",
    )
    parser.set_defaults(run=planting_tell)


def _add_who(parser, words: str) -> None:
    add_option(parser, "by", "NAME", words)


def planting(options) -> int:
    """Plan, print, and write the set where a folder is given; the exit status."""
    from ..session.asked_planting import LISTED_OPTIONS, PLANTING_OPTIONS, AskedPlanting
    from ..session.asked_terrain import with_asked_terrain
    from ..session.planting_counted import counted_planting, save_into
    from ..session.planting_files import write_planting_set, written_words
    from ..session.terrain import terrain_of

    refuse_empty(options, ("out", "paper", "scale", "planted-form", "by"))
    sheet = _asked_sheet(options)
    if options.save:
        refuse_outline(options.input)
    project = with_kept_clear(with_asked_terrain(opened(options), options), options)
    if options.terrain is not None:
        terrain_of(project)  # what is asked for and cannot be read is refused
    asked = AskedPlanting(given(options, PLANTING_OPTIONS), given(options, LISTED_OPTIONS))
    today = datetime.date.today()
    found = counted_planting(project, options.input, asked, today=today, by=who_says(options))
    answer = found.answer
    form_vines = _form_vines(options, answer)
    names: tuple[str, ...] = ()
    if options.out is not None:
        which = "again" if options.again else "sample"
        names = write_planting_set(
            options.out, answer, found.unit, day=today, notes=found.notes, which=which,
            form_vines=form_vines, **sheet,
        )  # fmt: skip
    if options.save:
        save_into(options.input, answer.project, answer.plans)
    if options.json:
        from ..formats.planting_json import planting_json
        from ..session.planting_set import planting_set

        print(planting_json(planting_set(answer, found.unit, today, notes=found.notes)), end="")
        return 0
    from ..session.planting_text import findings_text, planting_text

    print(planting_text(answer, found.unit, found.notes))
    for line in findings_text(answer, found.unit):
        print(f"  {line}")
    if names:
        print(written_words(options.out, names))
    if options.save:
        print(f"Saved into {options.input}")
    return 0


def _asked_sheet(options) -> dict:
    from ..session.asked_planting import asked_paper, asked_scale
    from ..session.asked_rules import of_option

    said = {}
    for name, read in (("paper", asked_paper), ("scale", asked_scale)):
        text = getattr(options, name)
        if text is not None:
            with of_option(name):
                said[name] = read(text)
    for name in ("paper", "scale", "planted-form"):
        if getattr(options, name.replace("-", "_")) is not None and options.out is None:
            raise InputProblem(f"--{name} is for files: give --out DIR too.")
    if options.again and options.out is None:
        raise InputProblem("--again is for files: give --out DIR too.")
    return said


def _form_vines(options, answer):
    if options.planted_form is None:
        return None
    from ..session.asked_rules import of_option
    from ..session.assigning import vines_of_text

    with of_option("planted-form"):
        return vines_of_text(answer.project, answer.plans, options.planted_form)


def planting_read(options) -> int:
    """Merge forms, print what became of every line, save; the exit status."""
    from ..session.asked_rules import of_option
    from ..session.demand_words import typed_day
    from ..session.planting_counted import read_forms_into

    refuse_empty(options, ("by", "day", "although", "leftover"))
    day = None
    if options.day is not None:
        with of_option("day"):
            day = typed_day(options.day, "day")
    merged = read_forms_into(
        options.project,
        options.forms,
        by=who_says(options),
        when=datetime.datetime.now().astimezone(),
        although=options.although or "",
        day=day,
        dry_run=options.dry_run,
        leftover=options.leftover,
    )
    for line in merged.lines:
        print(line)
    counts = merged.counts
    print(
        ", ".join(f"{n:,} {outcome}" for outcome, n in counts.items() if n)
        or "No line says anything."
    )
    left = counts.get("clash", 0) + counts.get("not read", 0)
    if options.leftover is not None:
        if left:
            print(f"Lines to correct and read again: {options.leftover}")
        else:
            print(f"No line is left over: {options.leftover} is not written.")
    if left and not counts.get("taken", 0) and not counts.get("same", 0):
        raise InputProblem(
            "Nothing of these forms could be used: correct the lines as they say and read them again."
        )
    if counts.get("taken", 0):
        print(
            "Nothing is written: this was a dry run."
            if options.dry_run
            else f"Saved into {options.project}"
        )
    return 0


def planting_record(options) -> int:
    """Record one event of vines and save; the exit status."""
    from ..session.planting_counted import record_into

    refuse_empty(options, (*_RECORDED, *_ONLY_FOR, "day", "note", "by"))
    given = [option for option in _RECORDED if getattr(options, option) is not None]
    if len(given) != 1:
        every = ", ".join(f"--{option}" for option in _RECORDED)
        raise InputProblem(
            f"--{given[0]} and --{given[1]} are two things: record them one after the other."
            if given
            else f"Nothing is said that could be recorded: give one of {every} with the vines it is about."
        )
    (option,) = given
    event = _RECORDED[option]
    for other, events in _ONLY_FOR.items():
        if getattr(options, other) is not None and event not in events:
            raise InputProblem(f"--{other} says nothing of --{option}: leave it out.")
    when = datetime.datetime.now().astimezone()
    texts = {
        "parts": getattr(options, option),
        "day": when.date().isoformat() if options.day is None else options.day,
        "by": who_says(options),
        **{name: getattr(options, name) or "" for name in ("note", *_ONLY_FOR)},
    }
    _, vines = record_into(options.project, event, texts, when)
    print(f"On record: {vines:,} {'vine' if vines == 1 else 'vines'}, {option}.")
    print(f"Saved into {options.project}")
    return 0


def planting_tell(options) -> int:
    """Print everything on record of vines; the exit status."""
    from ..session.planting_counted import told_of

    for line in told_of(options.project, options.codes):
        print(line)
    return 0
