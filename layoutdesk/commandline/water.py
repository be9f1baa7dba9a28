"""layoutdesk water: a drip system for every vine, in figures, files and as a network for EPANET."""

from __future__ import annotations

import datetime

from ..core.model import InputProblem
from .options import add_input, opened, with_kept_clear

_GROUPS: dict[str, tuple[str, ...]] = {
    # heading: the first option of its group; groups run on to the next one's first
    "emitters and drip lines": ("emitter", "emitter-head", "exponent", "cv", "least-head",
                                "greatest-head", "emitters", "inline", "barb-loss", "tube", "fed",
                                "bridge", "friction"),
    "sets, source and pipes": ("head", "variation", "sets", "source-at", "source-level",
                               "source-curve", "source-losses", "source-hours", "pipe-speed", "pipes"),
    "climate and demand": (),
}  # fmt: skip
"""Options under each heading, those of no other under the last."""


def add_water(commands) -> None:
    """The command and its options."""
    from ..session.asked_terrain import add_terrain_options
    from ..session.asked_water import WATER_MEANINGS, WATER_OPTIONS

    parser = commands.add_parser("water", help="design and judge a drip system, without a window")
    add_input(parser)
    add_terrain_options(parser)
    taken = {o for options in _GROUPS.values() for o in options}
    for heading, options in _GROUPS.items():
        group = parser.add_argument_group(
            heading, "Without any of these what the project says is taken, else the usual."
        )
        mine = [o for o in options if o in WATER_OPTIONS]
        mine = mine if options else [o for o in WATER_OPTIONS if o not in taken]
        for option in mine:
            words = WATER_MEANINGS[option].replace("%", "%%")
            group.add_argument(f"--{option}", metavar=_METAVARS.get(option, "TEXT"), help=words)
    parser.add_argument(
        "--block",
        metavar="NAME",
        action="append",
        help="emitters, drip lines and sets asked for are for this block; may be repeated [all blocks]",
    )
    parser.add_argument(
        "--out",
        metavar="DIR",
        help="folder for emitters.csv, laterals.csv, sets.csv, network.inp, irrigation.pdf and "
        "water.json",
    )
    parser.add_argument(
        "--json", action="store_true", help="print water.json instead of sentences and a table"
    )
    parser.set_defaults(run=water)


_METAVARS = {
    **dict.fromkeys(("head", "emitter-head", "least-head", "greatest-head", "source-losses"), "PRESSURE"),
    **dict.fromkeys(("inline", "bridge", "source-level", "wet-depth", "wet-width"), "LENGTH"),
    **dict.fromkeys(("exponent", "cv", "emitters", "barb-loss", "sets", "crop-coefficient"), "N"),
    **dict.fromkeys(("variation", "dry-share", "efficiency", "rain-used", "days-a-week"), "N"),
    "climate": "FILE",
    "emitter": "FLOW",
    "source-curve": "Q:H,Q:H",
}  # fmt: skip


def water(options) -> int:
    """Design, print, and write the set where a folder is given; the exit status."""
    from ..session.asked_terrain import with_asked_terrain
    from ..session.asked_water import WATER_OPTIONS
    from ..session.terrain import terrain_of
    from ..session.water_files import FILES, write_water_set
    from ..session.water_set import water_set
    from ..session.watered import watered

    if options.out is not None and not options.out.strip():
        raise InputProblem("--out is empty: give the folder the files go to, or leave it out.")
    project = with_kept_clear(with_asked_terrain(opened(options), options), options)
    if options.terrain is not None:
        terrain_of(project)  # what is asked for and cannot be read is refused
    given = {o: getattr(options, o.replace("-", "_")) for o in WATER_OPTIONS}
    values = {o: text for o, text in given.items() if text is not None}
    found = watered(project, options.input, values, options.block)
    day = datetime.date.today()
    if options.out is not None:
        told = write_water_set(options.out, found.answer, found.unit, day=day, **found.said)
    else:
        told = water_set(found.answer, found.unit, day, **found.said)
    if options.json:
        from ..formats.water_json import water_json

        print(water_json(told), end="")
        return 0
    from ..session.water_text import water_text

    print(water_text(told))
    for line in told.found:
        print(f"  {line}")
    if options.out is not None:
        *first, last = FILES
        print(f"Written to {options.out}: {', '.join(first)} and {last}")
    return 0
