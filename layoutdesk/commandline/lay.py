"""layoutdesk lay: rows laid and their stake-out set written, without a window."""

from __future__ import annotations

import json

from ..core.model import InputProblem
from ..session.asked_rules import with_asked
from .options import add_input, add_rules, asked_of, opened


def add_lay(commands) -> None:
    """The command and its options."""
    from ..session.asked_terrain import add_terrain_options

    parser = commands.add_parser(
        "lay", help="lay rows and write the stake-out set, without a window"
    )
    add_input(parser)
    parser.add_argument("--out", metavar="DIR", required=True, help="folder for the stake-out set")
    parser.add_argument("--json", action="store_true", help="print the summary as JSON")
    add_terrain_options(parser)
    add_rules(parser)
    parser.set_defaults(run=lay)


def lay(options) -> int:
    """Lay rows and write their set; the exit status."""
    from ..session.asked_terrain import with_asked_terrain
    from ..session.stakeout import stake_set, write_stake_set
    from ..session.terrain import terrain_of

    if not options.out.strip():
        raise InputProblem("--out is empty: give the folder the stake-out set goes to.")
    project = with_asked_terrain(opened(options), options)
    if options.terrain is not None:
        terrain_of(project)  # what is asked for and cannot be read is refused
    stakes = stake_set(with_asked(project, asked_of(options)), project_path=options.input)
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
