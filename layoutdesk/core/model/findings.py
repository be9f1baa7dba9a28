"""Findings and input problems: how the program speaks of things that are not as they should be.

A *finding* is about the user's data: it is listed, shown at its place, and work goes on.
An *input problem* stops the work at hand: one sentence that says what is wrong, where, and
what to do. Anything else that goes wrong is a programming mistake and raises as usual.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

SEVERITIES = ("note", "caution", "wrong")
"""`note`: said so that nobody is surprised. `caution`: look before you stake. `wrong`: mend it first."""

FINDINGS: dict[str, tuple[str, str]] = {
    # code: (severity, meaning for the help page)
    "outline-repaired": ("caution", "An outline crossed or touched itself and was rebuilt."),
    "outline-part-dropped": ("caution", "A sliver or an empty part of an outline was left out."),
    "vertices-removed": ("note", "Doubled corners were taken out of an outline."),
    "ring-closed": ("note", "An outline was not closed and has been closed."),
    "winding-turned": ("note", "A ring ran the wrong way round and was turned."),
    "height-dropped": ("note", "Heights or measures on the outline's corners are not used."),
    "corner-dropped": ("wrong", "A corner without a usable number was left out."),
    "shapes-skipped": ("note", "Shapes that are no outline (points, lines, empty) were skipped."),
    "parts-merged": ("note", "Parts that touch or overlap were joined into one block."),
    "arc-flattened": ("note", "Arcs were turned into short straight edges within a stated error."),
    "gap-closed": ("caution", "Loose lines were joined end to end into an outline."),
    "old-crs-member": ("note", "An old-style crs entry in a GeoJSON file was obeyed."),
    "crs-given": ("note", "The coordinate system was given by the user, not by the file."),
    "crs-assumed": ("note", "Latitudes and longitudes without a named datum were taken as WGS 84."),
    "unit-given": ("caution", "The unit given by the user differs from the one the file states."),
    "unit-unused": ("note", "A unit was given for a file whose coordinate system has its own."),
    "antimeridian-joined": ("note", "Longitudes run on past 180° so that a shape is in one piece."),
    "layers-read": ("note", "Shapes were read from several layers or files of one source."),
    "parcel-id-twice": (
        "caution",
        "Two parcels have the same id; the later got its number behind.",
    ),
    "columns-assumed": ("caution", "A corner list has no header; its columns were guessed."),
    "clearance-unread": ("caution", "A clearance in a file is no number and is not used."),
    "drawing-recovered": ("caution", "A damaged drawing was read as far as possible."),
    "unit-scaled": (
        "note",
        "The drawing's unit differs from the coordinate system's; it was scaled.",
    ),
    "axes-swapped": ("caution", "Latitude and longitude look swapped."),
    "size-unlikely": ("caution", "The outline is unusually small or large; the unit may be wrong."),
    "text-decoded": ("note", "Text was read in an older Windows encoding."),
    "height-assumed": ("note", "The site's height is not known; 0 m is used."),
    "survey-crs-chosen": ("note", "No survey coordinate system was named; one was chosen."),
    "datum-shift": ("note", "GeoJSON is WGS 84; the shift from the survey datum and its accuracy."),
    "datum-not-shifted": ("caution", "The survey grid stands on another datum than the outline."),
    "grid-not-ground": ("note", "Distances on the survey grid differ from those on the ground."),
    "grid-unsuitable": ("caution", "The survey grid is far from its area of use or not conformal."),
    "bearing-chosen": ("note", "No bearing was given; rows follow the longest edge."),
    "rows-short": ("note", "Pieces of row shorter than the least row length were left out."),
    "rows-without-vines": ("caution", "Rows too short for a vine between their end posts."),
    "no-rows": ("wrong", "No row fits the block with these rules."),
    "anchor-outside": ("wrong", "An anchor would stand outside the outline."),
    "anchor-in-exclusion": ("wrong", "An anchor would stand inside an exclusion."),
    "override-moved": ("note", "What was set for one row stands in another row line now."),
    "override-unfit": ("caution", "What was set for one row, post or vine no longer fits."),
    "end-outside": ("wrong", "An end post that was moved would stand outside the outline."),
    "guide-folded": ("caution", "Rows inside the bend of the guide line were cut short."),
    "guide-tight": ("caution", "The guide line bends more tightly than machines can follow."),
    "backdrop-unread": ("note", "The picture under the plan could not be read."),
    "terrain-unit-assumed": (
        "caution",
        "A file of heights does not say its unit, or says another.",
    ),
    "terrain-datum-unknown": ("note", "Nobody says what the heights of the ground count from."),
    "terrain-crs-assumed": ("note", "A file of heights names no coordinate system."),
    "terrain-reduced": ("note", "Heights were read from a part of a file, or at a coarser step."),
    "terrain-points-dropped": (
        "caution",
        "Points of height without a usable number were left out.",
    ),
    "terrain-flat-triangles": ("note", "Contours leave level triangles on ridges and in hollows."),
    "terrain-unread": ("caution", "The heights of the ground could not be read."),
    "terrain-outside": ("caution", "Some rows lie outside the heights of the ground."),
    "terrain-no-data": ("caution", "Some rows lie where the heights of the ground have holes."),
    "own-items-unused": ("note", "Own items stand for nothing that is taken off."),
    "trellis-usual": ("note", "Nobody described the trellis of a block; the usual one is counted."),
    "anchors-not-staked": ("caution", "Rows are tied back, but the rules stake no anchors."),
    "anchors-not-used": ("note", "Anchors are staked that the ends of the rows do not take."),
    "anchor-beyond-headland": ("caution", "Anchors stand farther out than the headland is wide."),
    "end-lever-short": (
        "caution",
        "Tie or brace stands steep, so it must hold a multiple of the pull.",
    ),
    "rows-long-for-ties": ("caution", "Rows are longer than tied ends are usually trusted with."),
    "wire-near-breaking": ("caution", "A wire comes near its breaking load in the cold."),
    "wire-slack": ("note", "A wire becomes slack in the heat."),
    "wire-over-joined": ("caution", "A wire needs more joins than the trellis allows."),
    "trellis-tall": ("caution", "The trellis is taller than the rows are apart."),
    "nothing-to-water": ("caution", "There are no vines, so there is nothing to water."),
    "source-assumed": ("note", "Nobody said what the water source gives; it is assumed."),
    "water-heights-unknown": ("note", "Drip lines lie where heights of the ground are not known."),
    "sets-not-as-asked": (
        "note",
        "A block is watered in another number of sets than was asked for.",
    ),
    "pipe-crosses": ("caution", "A main or submain is drawn through something rows keep clear of."),
    "source-short": ("wrong", "A set asks the source for more flow or pressure than it gives."),
    "vines-dry": ("wrong", "Some vines get no water."),
    "water-unsolved": ("wrong", "Flow in some drip lines could not be solved."),
    "emitters-below-range": ("caution", "Emitters have less pressure than they are made for."),
    "emitters-above-range": ("caution", "Emitters have more pressure than they are made for."),
    "set-uneven": ("caution", "Flows in a set differ by more than is permitted."),
    "uniformity-low": ("caution", "Emission uniformity is below what is usual for the ground."),
    "lateral-too-long": ("caution", "Drip lines are longer than their tube can feed evenly."),
    "pipe-fast": ("caution", "Water runs faster in a pipe than was permitted."),
    "surge-high": ("caution", "A valve that shuts at once could burst a pipe."),
    "flushing-short": ("note", "The source cannot flush all drip lines of a set at once."),
    "hazen-williams-used": ("caution", "Friction is by a law that says too little in small tube."),
    "climate-assumed": ("caution", "Nobody gave a climate; run times are from an assumed one."),
    "watering-too-long": ("caution", "All sets together take longer than the source may run."),
    "wetting-takes-days": ("note", "Wetting the ground before planting takes more than a day."),
    "water-approval": ("note", "Pressure, backflow and fertigation need a licensed designer."),
    "planting-day-unknown": ("note", "Nobody said when planting begins; no day is planned."),
    "vines-unassigned": ("caution", "Vines to which no plant is assigned."),
    "assignment-unfit": ("caution", "A plant is assigned to rows or vines that are not there."),
    "lot-over-assigned": ("wrong", "A lot is assigned to more vines than it has plants."),
    "plants-short": ("caution", "Fewer plants came or are ordered than are needed."),
    "order-due": ("note", "Plants must be ordered by a day that is near."),
    "order-late": ("caution", "Plants would have had to be ordered by now to come in time."),
    "attachment-missing": ("note", "A photo or scan of a lot is not where the project says."),
    "tags-missing": ("caution", "The planting of a lot waits until all its tags are recorded."),
    "tags-contradict": ("wrong", "A plant tag says another plant than its lot."),
    "planting-hot": ("caution", "Days of planting that are likely to be too hot."),
    "planting-dark": ("caution", "The crew's hours are longer than daylight."),
    "planting-too-long": ("caution", "Planting takes longer than days are planned for."),
    "planting-season": ("caution", "Plants are set in a season that is unusual for them."),
    "planting-waits": ("caution", "A day of planting waits for something."),
    "wetting-unknown": ("note", "No drip system says which sets wet the rows of a day."),
    "planting-work": ("note", "Cautions of the work: heat, lifting, tools; local rules govern."),
    "lot-not-accepted": ("wrong", "An inspected lot has more faulty vines than are accepted."),
    "vines-to-rework": ("caution", "Inspected vines are to be put right."),
    "losses": ("note", "Vines that are missing or dead are to be planted again."),
    "record-elsewhere": (
        "caution",
        "The plan has a vine elsewhere than where it stands on record.",
    ),
    "record-lost": ("caution", "Vines on record stand where the plan has none."),
    "register-changed": ("wrong", "Entries of the register were changed from outside."),
    "lot-over-planted": ("wrong", "More plants of a lot are on record as planted than it had."),
    "lot-other-than-assigned": ("note", "Another lot stands than the one that was assigned."),
    "exclusion-apart": ("note", "An exclusion touches no block."),
    "blocks-overlap": ("caution", "Two blocks cover the same ground."),
    "overhead-line": ("caution", "An overhead line is near the rows."),
    "buried-service": ("caution", "A buried service is near the rows."),
    "points-none": ("wrong", "The choice of points to hand off holds none."),
    "numbers-passed": ("note", "Point numbers that are names of control points were passed over."),
    "hand-off-unit": (
        "caution",
        "Coordinates are handed off in another unit than the survey grid's own.",
    ),
    "ground-coordinates": (
        "caution",
        "Ground coordinates are handed off, which no receiver takes for the grid's by itself.",
    ),
    "stated-elsewhere": (
        "wrong",
        "The ground point or control points are stated in another survey system than the plan's.",
    ),
    "calibration-refused": (
        "wrong",
        "The control points do not fit, or are too few: nothing is moved by them.",
    ),
    "calibration-unchecked": ("caution", "No control point is left over to check a calibration."),
    "control-far": (
        "caution",
        "The site lies outside the control points that a calibration rests on.",
    ),
    "format-limit": ("note", "A file format cannot hold all of it as it is; what was done."),
    "measured-dropped": (
        "caution",
        "Lines of a measured file without usable coordinates were left out.",
    ),
    "staked-unmeasured": (
        "wrong",
        "The file is one this program wrote, unchanged: it holds the plan, nothing measured.",
    ),
    "staked-missing": ("note", "Points of the plan that were not measured."),
    "staked-strange": ("caution", "Measured points that are no points of the plan."),
    "staked-off": ("caution", "Measured points farther from the plan than the tolerance."),
    "staked-explained": ("wrong", "Measured points that look like a mistake with a name."),
    "staked-outside": (
        "caution",
        "A row end that stands where it was measured is outside what is plantable.",
    ),
    "staked-spacing": (
        "caution",
        "Rows between measured ends stand nearer to each other, or farther apart, than is planned.",
    ),
}
"""Every finding code, its severity and its meaning. The help lists this table."""


@dataclass(frozen=True)
class Finding:
    """One thing the user should know about their data.

    `place` is a point in the site frame, (x_m, y_m), where there is one; `where` is the same in
    words (a row code, a file and line, a corner). Lengths in the message are told in metres unless
    `told` is asked for another way: `wording` has {} for each of `lengths_m`.

    Examples
    --------
    >>> finding = Finding("rows-short", wording="A piece shorter than {}.", lengths_m=(15.0,))
    >>> finding.message, finding.told(lambda m: f"{m / 0.3048:.2f} ft")
    ('A piece shorter than 15.00 m.', 'A piece shorter than 49.21 ft.')
    """

    code: str
    message: str = ""
    where: str = ""
    place: tuple[float, float] | None = None
    severity: str = field(default="")
    wording: str = ""
    lengths_m: tuple[float, ...] = ()

    def __post_init__(self):
        if self.code not in FINDINGS:
            raise ValueError(f"code: {self.code!r} is not in the FINDINGS table")
        if not self.severity:
            object.__setattr__(self, "severity", FINDINGS[self.code][0])
        if self.wording and not self.message:
            object.__setattr__(self, "message", self.told(lambda m: f"{m:.2f} m"))

    def told(self, shown: Callable[[float], str]) -> str:
        """The message with its lengths as `shown` writes them."""
        return self.wording.format(*map(shown, self.lengths_m)) if self.wording else self.message


def by_severity(findings) -> tuple[Finding, ...]:
    """What is wrong first, notes last; alike ones as they come."""
    return tuple(sorted(findings, key=lambda f: -SEVERITIES.index(f.severity)))


def in_wording(text: str) -> str:
    """A name as it may stand in a finding's wording, whatever braces it has.

    Examples
    --------
    >>> Finding("rows-short", wording=f"{in_wording('{x}')}: {{}}", lengths_m=(1.0,)).message
    '{x}: 1.00 m'
    """
    return text.replace("{", "{{").replace("}", "}}")


class InputProblem(Exception):
    """What the user gave cannot be used; the text is one sentence: what, where, what to do."""
