"""layoutdesk compare: ways for the rows to run, side by side in figures and on one sheet."""

from __future__ import annotations

import datetime
from pathlib import Path

from ..core.model import InputProblem
from ..session.asked_rules import chosen_names, with_asked
from ..session.asked_study import STUDY_OPTIONS, AskedStudy, usual_text, with_asked_study
from .options import add_input, add_rules, asked_of, opened

_STUDY = {
    # option: (value, what it means)
    "short-row": ("LENGTH", "shorter segments count as short rows"),
    "limit-along": ("N", "metres of row steeper along the row than this are counted, %%"),
    "limit-across": ("N", "metres of row with more side tilt than this are counted, %%"),
    "machine-length": ("LENGTH", "between axles: grades along are told over it"),
    "machine-width": ("LENGTH", "between wheels: side tilt is told over it"),
    "canopy-height": ("LENGTH", "top of the grown hedge above the ground"),
    "canopy-foot": ("LENGTH", "where its leaves begin"),
    "canopy-width": ("LENGTH", "how thick it is"),
    "season": ("M-M", "first and last month: 4-10 [of the hemisphere]"),
    "wind-from": ("DEG", "where the prevailing wind comes from"),
    "end-price": ("N", "an end assembly"),
    "line-post-price": ("N", "a line post"),
    "currency": ("WORD", "of the prices"),
    "chosen": ("NAMES", "measures in which one may beat another: vines,short_rows"),
    "base": ("WHICH", "differences are from it: a bearing, a name, or #2 for the second"),
}


def add_compare(commands) -> None:
    """The command and its options."""
    from ..session.asked_terrain import add_terrain_options
    from .parcels import add_parcel_options

    parser = commands.add_parser(
        "compare", help="compare ways for the rows to run, without a window"
    )
    add_input(parser)
    what = parser.add_argument_group(
        "what is compared", "Without any of these the study of a project is taken."
    )
    what.add_argument("--bearings", metavar="DEG,DEG", help="such as 0,45,90")
    what.add_argument(
        "--sweep", metavar="STEP", help="bearings from 0 to 180, so many degrees apart"
    )
    what.add_argument(
        "--candidate",
        metavar="TEXT",
        action="append",
        help="one with spacings of its own: '96; 2.2 x 1.2'; may be repeated",
    )
    by = parser.add_argument_group("what it is measured by")
    for option in STUDY_OPTIONS:
        metavar, words = _STUDY[option]
        by.add_argument(f"--{option}", metavar=metavar, help=f"{words}{usual_text(option)}")
    add_terrain_options(parser)
    parser.add_argument(
        "--out", metavar="DIR", help="folder for compare.json, .csv, .xlsx and .pdf"
    )
    parser.add_argument("--json", action="store_true", help="print compare.json instead of a table")
    parser.add_argument("--explain", action="store_true", help="print what each measure is")
    add_parcel_options(parser)
    add_rules(parser)
    parser.set_defaults(run=compare)


def asked_study_of(options, blocks: tuple[str, ...] = ()) -> AskedStudy:
    """What the options ask of the study."""
    given = {option: getattr(options, option.replace("-", "_")) for option in STUDY_OPTIONS}
    return AskedStudy(
        options.bearings,
        options.sweep,
        tuple(options.candidate or ()),
        {option: text for option, text in given.items() if text is not None},
        blocks,
        options.bearing is not None,
    )


def compare(options) -> int:
    """Compare, print, and write the set where a folder is given; the exit status."""
    if options.parcels or (options.input.strip() and Path(options.input).is_dir()):
        from .parcels import compare_parcels

        return compare_parcels(options)
    _refuse_parcel_options(options)
    from ..session.asked_terrain import with_asked_terrain
    from ..session.compare_files import write_compare_set
    from ..session.compare_set import compare_set
    from ..session.compare_text import comparison_text
    from ..session.comparing import Comparer, CompareRequest
    from ..session.survey import survey_view
    from ..session.terrain import terrain_of

    if options.out is not None and not options.out.strip():
        raise InputProblem(
            "--out is empty: give the folder the comparison goes to, or leave it out."
        )
    project = with_asked_terrain(opened(options), options)
    names = chosen_names(project, tuple(options.block or ())) if options.block else ()
    places = [i for i, b in enumerate(project.blocks) if b.name in names]
    project = with_asked(project, asked_of(options))  # which may give blocks another name
    blocks = tuple(project.blocks[i].name for i in places)
    project = with_asked_study(project, asked_study_of(options, blocks))
    terrain = terrain_of(project, options.input)
    surface = None if terrain is None else terrain.surface
    answer = Comparer().answer(CompareRequest(0, project, surface))
    _refuse_none(answer)
    unit, day = survey_view(project).people_unit, datetime.date.today()
    if options.out is not None:
        write_compare_set(options.out, answer, terrain, unit, day=day)
    found = compare_set(answer, terrain, unit, day)
    if options.json:
        from ..formats.compare_json import compare_text

        print(compare_text(found), end="")
        return 0
    print(comparison_text(found, options.explain))
    for finding in found.findings:
        print(f"  {finding.severity}: {finding.message}")
    if options.out is not None:
        print(f"Written to {options.out}: compare.json, compare.csv, compare.xlsx, compare.pdf")
    return 0


def _refuse_parcel_options(options) -> None:
    """What only many parcels can have."""
    for option in ("layer", "id", "processes", "scheduler", "anew", "progress"):
        if getattr(options, option):
            raise InputProblem(
                f"--{option} is for many parcels: add --parcels, or leave --{option} out."
            )


def _refuse_none(answer) -> None:
    """Where not one candidate can be laid the first one's reason is told."""
    problems = [r.problem for r in answer.results]
    if problems and all(problems):
        reason = problems[0].removeprefix("It cannot be laid: ")
        raise InputProblem(f"No candidate can be laid: {reason}")
