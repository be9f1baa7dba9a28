"""layoutdesk materials: what a project takes and what is ordered, without a window."""

from __future__ import annotations

import datetime
from pathlib import Path

from ..core.model import InputProblem
from .options import add_input, opened, with_kept_clear


def add_materials(commands) -> None:
    """The command and its options."""
    from ..session.asked_terrain import add_terrain_options

    parser = commands.add_parser(
        "materials", help="count and order what stands in the rows, without a window"
    )
    add_input(parser)
    add_terrain_options(parser)
    parser.add_argument(
        "--out", metavar="DIR", help="folder for takeoff.csv, takeoff.xlsx and orders.pdf"
    )
    parser.add_argument(
        "--json", action="store_true", help="print the take-off as JSON instead of a table"
    )
    parser.add_argument(
        "--against", metavar="PROJECT", help="tell the differences from this project's take-off"
    )
    parser.add_argument(
        "--supplies", metavar="FILE.csv", help="own items with units of sale and prices"
    )
    parser.add_argument(
        "--template", metavar="FILE.csv", help="write the items as such a file, to be filled in"
    )
    parser.add_argument(
        "--no-water", action="store_true", help="leave out pipes and fittings of the drip system"
    )
    parser.set_defaults(run=materials)


_EMPTY = {
    "out": "give the folder the take-off goes to",
    "against": "give a project",
    "supplies": "give a CSV file",
    "template": "give the name of a CSV file",
}


def materials(options) -> int:
    """Count, print, and write the set where a folder is given; the exit status."""
    from ..session.asked_take_off import taken_off
    from ..session.asked_terrain import with_asked_terrain
    from ..session.take_off_files import FILES, write_take_off_set
    from ..session.take_off_set import take_off_set
    from ..session.terrain import terrain_of

    for option, words in _EMPTY.items():
        text = getattr(options, option)
        if text is not None and not text.strip():
            raise InputProblem(f"--{option} is empty: {words}, or leave it out.")
    project = with_kept_clear(with_asked_terrain(opened(options), options), options)
    if options.terrain is not None:
        terrain_of(project)  # what is asked for and cannot be read is refused
    taken = taken_off(
        project,
        options.input,
        supplies=options.supplies,
        against=options.against,
        with_water=not options.no_water,
    )
    day = datetime.date.today()
    if options.template is not None:
        if options.out is not None and Path(options.template).name in FILES:
            raise InputProblem(
                f"--template {options.template} has the name of a file of the take-off: choose another."
            )
        _write_template(options.template, taken.answer)
    if options.out is not None:
        found = write_take_off_set(options.out, taken.answer, taken.unit, day=day, **taken.said)
    else:
        found = take_off_set(taken.answer, taken.unit, day, **taken.said)
    if options.json:
        from ..formats.takeoff_json import take_off_json

        print(take_off_json(found), end="")
        return 0
    from ..session.take_off_text import take_off_text

    print(take_off_text(found))
    for told in found.found:
        print(f"  {told}")
    if options.out is not None:
        print(f"Written to {options.out}: takeoff.csv, takeoff.xlsx, orders.pdf")
    if options.template is not None:
        print(f"Items to be filled in: {options.template}")
    return 0


def _write_template(path: str, answer) -> None:
    from ..formats.atomic import replacing
    from ..session.catalogue import supplies_template

    with replacing(Path(path)) as stage:
        stage.write_text(supplies_template(answer), encoding="utf-8")
