"""layoutdesk compare over many outlines: every bearing of every parcel, into tables."""

from __future__ import annotations

import json
import os
import sys

from ..core.model import InputProblem
from .options import asked_of
from .progress import Progress

_TOLD = 5
"""Refused parcels that are told on the screen; all are in the file of facts."""


def add_parcel_options(parser) -> None:
    """Options of `compare` for a layer, a file or a folder of many parcels."""
    parcels = parser.add_argument_group(
        "many parcels",
        "A folder of outline files, or with --parcels one file: every parcel is compared for itself, "
        "into parcels.csv, parcels_best.csv and parcels.json of --out. A run that was stopped goes on "
        "when the same command is given again.",
    )
    parcels.add_argument(
        "--parcels", action="store_true", help="INPUT holds many parcels [a folder does]"
    )
    parcels.add_argument("--layer", metavar="NAME", help="layer of the parcels, in a GeoPackage")
    parcels.add_argument("--id", metavar="FIELD", help="field that tells parcels apart [by number]")
    parcels.add_argument(
        "--processes", metavar="N", help="processes that work at a time [one a processor]"
    )
    parcels.add_argument(
        "--scheduler", metavar="ADDRESS", help="work on the Dask cluster of this scheduler"
    )
    parcels.add_argument(
        "--anew", action="store_true", help="drop a run with other options that was not finished"
    )
    parcels.add_argument(
        "--progress", action="store_true", help="tell the progress where no one watches, too"
    )


def compare_parcels(options) -> int:
    """Compare all parcels and write their tables; the exit status."""
    from ..session.parcels import compare_parcels as compare

    request = _request(options)
    progress = Progress("parcels", options.progress)
    going = None

    def show(now) -> None:
        nonlocal going
        going = now
        progress.show(now.done, now.expected, now.ended)

    try:
        facts = compare(request, show)
    except KeyboardInterrupt:
        progress.clear()
        done = f"{going.done:,} parcels" if going else "no parcel"
        print(
            f"layoutdesk: stopped with {done} done, which are kept: give the same command again to go on.",
            file=sys.stderr,
        )
        return 130
    except BaseException:
        progress.clear()
        raise
    if options.json:
        print(json.dumps(facts, ensure_ascii=False, indent=2))
        return 0
    _tell(facts, going.taken_up, options.out)
    return 0


def _tell(facts: dict, taken_up: int, out: str) -> None:
    count = facts["counts"]
    kept = f" ({taken_up:,} of them kept from the run before)" if taken_up else ""
    print(
        f"{count['compared']:,} parcels{kept} at {count['bearings']} bearings: {count['rows']:,} rows."
    )
    if count["without_rows"]:
        print(f"  wrong: no row fits in {count['without_rows']:,} of them.")
    for one in facts["refused"][:_TOLD]:
        print(f"  wrong: {one['parcel']} was left out: {one['why']}")
    if count["refused"] > _TOLD:
        print(f"  wrong: {count['refused'] - _TOLD:,} more were left out; see parcels.json.")
    for one in facts["findings"]["of_files"]:
        print(f"  {one['severity']}: {one['message']}")
    print(f"Written to {out}: parcels.csv, parcels_best.csv, parcels.json")


def _request(options):
    from ..session.asked_rules import asked_length_m
    from ..session.asked_terrain import with_asked_terrain
    from ..session.parcels import ParcelsRequest
    from ..session.parcels_asked import asked_for_parcels, asked_processes, stand_in
    from ..session.parcels_work import ParcelSettings
    from .compare import asked_study_of

    if not options.input.strip():
        raise InputProblem("INPUT is empty: give a file or a folder of parcels.")
    if options.out is None or not options.out.strip():
        raise InputProblem("--out is missing: give the folder the tables of the parcels go to.")
    for option in ("layer", "id", "crs", "unit", "scheduler"):
        value = getattr(options, option)
        if value is not None and not value.strip():
            raise InputProblem(f"--{option} is empty: give it or leave it out.")
    if options.survey_crs is not None:
        raise InputProblem("--survey-crs is for stake-out and means nothing here: leave it out.")
    height_m = 0.0 if options.height is None else asked_length_m("height", options.height)
    if not -500 <= height_m <= 9000:
        raise InputProblem(
            f"--height {options.height} is no height on this earth: give one from -500 to 9000 m, in "
            "metres or feet."
        )
    exclusions = []
    for path, text in options.exclude or ():
        clearance_m = None if text is None else asked_length_m("clearance", text)
        if not path.strip():
            raise InputProblem("--exclude is empty: give a file.")
        if clearance_m is not None and not 0 <= clearance_m <= 1000:
            raise InputProblem(f"--clearance for {path}: {clearance_m:g} m is outside 0 to 1000 m.")
        exclusions.append((path, clearance_m))
    asked = asked_of(options)
    found = asked_for_parcels(asked, asked_study_of(options))
    terrain = with_asked_terrain(stand_in(), options).terrain
    settings = ParcelSettings(
        found.bearings_deg, found.rules, found.study, height_m, terrain=terrain
    )
    return ParcelsRequest(
        options.input,
        options.out,
        settings,
        options.layer,
        options.id,
        options.crs,
        options.unit,
        tuple(exclusions),
        asked.keep_from,
        asked_processes(options.processes, os.cpu_count() or 1),
        options.scheduler,
        options.anew,
    )
