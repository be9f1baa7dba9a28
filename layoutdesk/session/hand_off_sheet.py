"""The hand-off sheet in words: what is in each file, where its coordinates stand, what to check, what to mind."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..core.model.findings import SEVERITIES
from ..core.model.handoff import CONTACTS, POINT_KINDS
from ..formats.handoffset import HandOffSet
from ..formats.handoffsheet import HandOffSheet, SheetPart, SheetTable
from .check_line_words import Checked, check_rows, checked_lines, shown_degrees
from .control_lines import control_lines
from .coordinate_effect import effect_words
from .day_cards import paper_of
from .hand_off_lines import WrittenFile
from .hand_off_numbers import (
    convergence_words,
    declination_words,
    factor_words,
    system_facts,
    unit_words,
    worked_bearing_words,
    worked_line,
    worked_line_words,
)
from .hand_off_set import seal_of
from .hand_off_sheet_plan import check_plan
from .point_words import KIND_WORDS
from .staked_lines import shown_small
from .stakeout import CAUTIONS
from .tally import grouped
from .wording import listed

_CHECKSUM_DIGITS = 12
_MOST_FINDINGS = 30
_MACHINE_CAUTION = (
    "Guidance lines steer machines: the operator is responsible, keeps people clear and turns steering off at row "
    "ends. Posts, anchors, poles and wires are not in the lines. Check the first pass against staked row ends."
)
_STAKE_CAUTION = (
    "Check two row ends by an independent measurement before anything is driven into the ground."
)


def hand_off_sheet(hand: HandOffSet, files: Sequence[WrittenFile], unit: str = "m") -> HandOffSheet:
    """The sheet of a hand-off.

    Parameters
    ----------
    hand : HandOffSet
    files : sequence of WrittenFile
        Those that were written; the sheet itself and the list of files are named beside them.
    unit : str
        Of lengths for people; A4 for metres, Letter for feet.
    """
    checked = checked_lines(hand)
    paper = paper_of(unit)
    parts = (
        *_amiss(hand),
        _files(files),
        _coordinates(hand),
        *_control(hand, unit),
        *_worked(hand, checked),
        *_checks(hand, checked, unit),
        _asked(hand, unit),
        _codes(hand),
        _verify(),
        SheetPart("Cautions", tuple(("", words) for words in _cautions(hand))),
        _contacts(hand),
    )
    return HandOffSheet(
        hand.project.name,
        hand.revision,
        hand.day,
        (paper.width_mm, paper.height_mm),
        _first(hand),
        tuple(parts),
        check_plan(hand, checked, unit),
        tuple(plan.block for plan in hand.plans),
        hand.project.exclusions,
        seal_of(hand),
    )


def _first(hand: HandOffSet) -> str:
    placing = hand.placing
    code = placing.grid.crs if len(placing.grid.crs) < 40 else "own definition"
    return (
        f"{placing.coordinates.capitalize()} coordinates of {placing.grid.name} ({code}) by the {placing.unit}, of "
        f"plan {hand.plan}, revision {hand.revision}."
    )


def _amiss(hand: HandOffSet) -> tuple[SheetPart, ...]:
    """Findings that are more than notes, where there are any."""
    some = [f for f in hand.findings if SEVERITIES.index(f.severity) > SEVERITIES.index("note")]
    if not some:
        return ()
    facts = [
        (f.severity.capitalize(), f"{f.where}: {f.message}" if _names_more(f) else f.message)
        for f in some[:_MOST_FINDINGS]
    ]
    more = len(some) - _MOST_FINDINGS
    if more > 0:
        facts.append(("", f"And {more} more: all of them stand in hand-off.json."))
    return (SheetPart("To be settled or known before staking", tuple(facts)),)


def _names_more(finding) -> bool:
    return bool(finding.where) and finding.where not in finding.message


def _files(files: Sequence[WrittenFile]) -> SheetPart:
    systems = list(dict.fromkeys(f.system for f in files))
    marks = {system: chr(ord("a") + i) for i, system in enumerate(systems)}
    rows = tuple(
        (
            f.name,
            f.holds,
            marks[f.system],
            grouped(f.n_points) if f.n_points else "",
            _size(f.size_bytes),
            f.checksum[:_CHECKSUM_DIGITS],
        )
        for f in files
    )
    titles = (
        *(("File", "left"), ("What is in it", "left"), ("System", "left")),
        *(("Points", "right"), ("Size", "right"), ("SHA-256 begins", "left")),
    )
    under = (
        *(f"System {mark}: {system}." for system, mark in marks.items()),
        "hand-off.json lists all files with their whole checksums.",
    )
    return SheetPart("Files", table=SheetTable(titles, 1, rows, under))


def _size(n_bytes: int) -> str:
    """A size as file managers show it, by thousands.

    Examples
    --------
    >>> _size(812), _size(48_120), _size(7_340_000)
    ('812 B', '48.1 kB', '7.3 MB')
    """
    for step, name in ((1e9, "GB"), (1e6, "MB"), (1e3, "kB")):
        if n_bytes >= step:
            return f"{n_bytes / step:.1f} {name}"
    return f"{n_bytes} B"


def _coordinates(hand: HandOffSet) -> SheetPart:
    placing, grid = hand.placing, hand.placing.grid
    code = grid.crs if len(grid.crs) < 40 else "own definition"
    known = system_facts(hand)
    outlines = np.concatenate([np.array(plan.block.outline.exterior.coords) for plan in hand.plans])
    farthest = float(np.abs(placing.placed(outlines[:, :2])).max())
    datum = hand.hand.vertical_datum.strip()
    levels = (
        f"{datum}, in words alone: nothing is shifted by it."
        if datum
        else "Not stated: ask before levels are used."
    )
    heights = f"{hand.heights_said}." if hand.heights_said else "None: elevations are left empty."
    return SheetPart(
        "Coordinates",
        (
            ("System", f"{grid.name} ({code})."),
            ("Area of use", known.area),
            ("Datum", known.datum),
            ("Vertical datum", levels),
            ("Heights", heights),
            ("Unit", unit_words(placing, farthest)),
            ("Grid or ground", effect_words(hand)),
            ("In one line", f"{placing.statement}."),
            ("Longitude and latitude", f"On WGS 84; datum shift {hand.wgs84_shift}."),
        ),
    )


def _control(hand: HandOffSet, unit: str) -> tuple[SheetPart, ...]:
    """Control points with what was measured and how it fits."""
    lines = control_lines(hand.project, unit)
    if not lines:
        return ()
    rows = tuple(
        (
            line.name,
            line.known,
            line.measured,
            ", ".join(t for t in (line.plan, line.height and f"{line.height} up") if t),
        )
        for line in lines
    )
    titles = (
        *(("Point", "left"), ("Known: easting, northing, elevation", "left")),
        *(("Measured", "left"), ("Measured less fitted", "right")),
    )
    used = hand.placing.coordinates == "calibrated"
    under = (
        f"By the {hand.placing.grid.unit}, on the survey grid; the check plan shows them by name.",
        "Written coordinates are calibrated on them."
        if used
        else "Written coordinates are not calibrated on them.",
    )
    return (SheetPart("Control points", table=SheetTable(titles, 1, rows, under)),)


def _worked(hand: HandOffSet, checked: tuple[Checked, ...]) -> tuple[SheetPart, ...]:
    line = worked_line(checked)
    lengths, norths = [("Combined factor", factor_words(hand))], []
    norths.append(("Convergence", convergence_words(hand)))
    if line is not None:
        lengths.append(("Worked line", worked_line_words(hand, line)))
        norths.append(("Worked bearing", worked_bearing_words(hand, line)))
    norths.append(("Declination", declination_words(hand)))
    return (
        SheetPart("From ground to grid", tuple(lengths)),
        SheetPart("Norths", tuple(norths)),
    )


def _checks(hand: HandOffSet, checked: tuple[Checked, ...], unit: str) -> tuple[SheetPart, ...]:
    if not checked:
        return ()
    own = hand.placing.coordinates != "grid"
    rows = tuple(
        (
            str(i),
            f"{row.name}, {row.what}",
            row.ground,
            row.grid,
            *((row.written,) if own else ()),
            shown_degrees(c.grid_deg),
            shown_degrees(c.true_deg),
        )
        for i, (row, c) in enumerate(zip(check_rows(hand, unit), checked, strict=True), 1)
    )
    titles = (
        *(("No.", "left"), ("From and to end post", "left"), ("On the ground", "right")),
        *(("On the grid", "right"), *((("As written", "right"),) if own else ())),
        *(("Grid bearing", "right"), ("True bearing", "right")),
    )
    kinds = set(hand.points.counts)
    under = [
        "Straight lines between end posts, level, at the height used for the site; numbered on the check plan. A tape "
        "or an instrument set to ground shows the length on the ground. A long row has half the length of the block's "
        "longest at least.",
    ]
    if "end_post" not in kinds:
        under.append(
            "End posts are not among the points of these files: add row ends to stake them."
        )
    table = SheetTable(titles, 1, rows, tuple(under))
    return (SheetPart("Check distances and bearings", table=table),)


def _asked(hand: HandOffSet, unit: str) -> SheetPart:
    said = hand.hand
    posts, vines, heights = (
        shown_small(v, unit)
        for v in (said.tolerance_m, said.vine_tolerance_m, said.height_tolerance_m)
    )
    usual = "3 cm and 5 cm" if unit == "m" else "1 in and 2 in"
    return SheetPart(
        "Asked of who stakes",
        (
            (
                "Tolerance",
                f"Posts within {posts} of the plan in position, vines within {vines}, heights within {heights} "
                f"({usual} are common practice).",
            ),
            (
                "Bring back",
                "Measured points with their codes or numbers, as a table, LandXML, drawing or GeoPackage, in the "
                "coordinates of this sheet.",
            ),
        ),
    )


def _codes(hand: HandOffSet) -> SheetPart:
    table, choice = hand.hand.table, hand.hand.points
    counts = hand.points.counts
    facts = [
        (
            "Codes",
            "B1-R012A-V034 is block B1, row 12, segment A, vine 34 from the start end. E is an end post (1 at the "
            "start end, 2 at the far end), L a line post, A an anchor, C a corner.",
        ),
        (
            "Points",
            ", ".join(f"{grouped(n)} {KIND_WORDS[k]}" for k, n in counts.items()) or "None.",
        ),
        (
            "Numbers",
            f"From {choice.first_number}, {choice.order}; good for this revision and choice of points alone.",
        ),
        ("Columns", f"{listed(table.columns)}."),
    ]
    if table.description != "{code}":
        facts.append(("Descriptions", f"{table.description}."))
    if "{feature}" in table.description:
        own = [f"{table.feature(k)} for {KIND_WORDS[k]}" for k in POINT_KINDS if k in counts]
        facts.append(("Your codes", f"{listed(own)}." if own else "None."))
    return SheetPart("Points, numbers and codes", tuple(facts))


def _verify() -> SheetPart:
    return SheetPart(
        "Is a file still that of the plan?",
        (
            (
                "With the program",
                "layoutdesk verify FILE --project PROJECT tells whether the file is unchanged, whether the plan is, "
                "and which points moved.",
            ),
            (
                "Without it",
                "Compare the first digits of the file's SHA-256 with those above, and the revision in the file with "
                "the one on this sheet. A file that was opened and saved again has another checksum.",
            ),
        ),
    )


def _cautions(hand: HandOffSet) -> tuple[str, ...]:
    steering = {"lines", "taskdata"} & set(hand.hand.formats)
    return (*CAUTIONS, _STAKE_CAUTION, *((_MACHINE_CAUTION,) if steering else ()))


def _contacts(hand: HandOffSet) -> SheetPart:
    said = dict(hand.hand.contacts)
    told = tuple((c.capitalize(), said[c].strip()) for c in CONTACTS if said.get(c, "").strip())
    left = tuple(
        f"{c.capitalize()}: name and telephone" for c in CONTACTS if not said.get(c, "").strip()
    )
    return SheetPart("Whom to ask", told, fields=left)
