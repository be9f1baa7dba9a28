"""What a project says of its hand-off: which points, how written, in which coordinates, and what was staked."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field

from .limits import hold_one_of, hold_whole, hold_within
from .planting import Part

POINT_KINDS = (
    *("row_end", "end_post", "line_post", "anchor", "vine"),
    *("outline", "exclusion", "control"),
)
"""What points are of. A row end is the first or last end post of a whole row, gaps and alleys aside; of an
outline and an exclusion its corners are points."""
ORDERS = ("by kind", "row by row", "serpentine")
"""One kind after the other; or along each row with all that stands in it, every row by its bearing, or every
other row back, as one walks."""
COORDINATES = ("grid", "ground", "calibrated")
"""On the survey grid; scaled about a point to lengths on the ground; moved onto what a crew measured at
control points."""
MOVES = ("shift", "shift and turn", "shift, turn and scale")
"""What a calibration may do in plan."""
HEIGHT_MOVES = ("none", "shift", "plane")
"""What a calibration may do to heights."""
COLUMNS = (
    *("point", "northing", "easting", "elevation", "description", "code", "kind"),
    *("block", "row", "segment", "index"),
)
"""Columns a table of points may have."""
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "space": " "}
DECIMAL_MARKS = {"point": ".", "comma": ","}
UNITS = ("", "metre", "foot", "US survey foot")
"""Of written coordinates; empty for the survey grid's own."""
FORMATS = {
    "csv": "table of points",
    "txt": "points in columns of fixed width",
    "dxf": "drawing",
    "dxf-3d": "drawing with heights",
    "landxml": "LandXML 1.2",
    "kml": "KML for a map",
    "kmz": "KMZ for a phone",
    "gpx": "GPX for a hand-held receiver",
    "gpkg": "GeoPackage",
    "shp": "Shapefiles in a zip",
    "geojson": "GeoJSON",
    "lines": "guidance lines",
    "taskdata": "guidance lines as ISO 11783-10 task data",
}
"""What a hand-off may be written as."""
VERDICTS = ("accepted", "adopted")
"""What was decided of measured points: the plan stands as it is, or its rows were moved to where they stand."""

_FEATURES = tuple((kind, "") for kind in POINT_KINDS)


@dataclass(frozen=True)
class PointChoice:
    """Which points are handed off, in which order, and how they are numbered.

    Attributes
    ----------
    kinds : tuple of str
        Of POINT_KINDS, in that order.
    parts : tuple of Part
        Rows and vines it is about; all of the site where there is none. Corners and control points are
        there whatever the parts.
    day : int
        Number of the planting day whose vines, and the rows they stand in, are meant; 0 for all.
    vine_every : int
        Every nth vine of a segment, the first in it, and the last whatever it is.
    order : str
        Of ORDERS.
    first_number : int
        Of the first point; numbers that are names of control points are passed over.
    most_points : int
        Tables of more points are split into several files; 0 never.
    """

    kinds: tuple[str, ...] = ("end_post", "line_post", "anchor", "vine")
    parts: tuple[Part, ...] = ()
    day: int = 0
    vine_every: int = 1
    order: str = "by kind"
    first_number: int = 1
    most_points: int = 0

    def __post_init__(self):
        hold_whole(self, ("day", "vine_every", "first_number", "most_points"))
        for kind in self.kinds:
            hold_one_of("kinds", kind, POINT_KINDS)
        object.__setattr__(self, "kinds", tuple(k for k in POINT_KINDS if k in self.kinds))
        hold_one_of("order", self.order, ORDERS)
        if self.vine_every < 1 or min(self.day, self.first_number, self.most_points) < 0:
            raise ValueError("vine_every, day, first_number, most_points: one is too small")


@dataclass(frozen=True)
class PointTable:
    """How tables of points are written.

    Attributes
    ----------
    columns : tuple of str
        Of COLUMNS, in the order they are written.
    has_header : bool
    separator : str
        A key of SEPARATORS.
    decimal_mark : str
        A key of DECIMAL_MARKS.
    decimals : int
        Of coordinates.
    unit : str
        Of UNITS: the unit of all written coordinates.
    description : str
        What a description is made of: words with `{code}`, `{feature}`, `{kind}`, `{block}`, `{row}`,
        `{segment}`, `{index}` and `{number}` in them.
    features : tuple of (str, str)
        The user's own code for each of POINT_KINDS; empty for the kind in words.
    is_sealed : bool
        Whether tables end in a line with revision and checksum, whose coordinates are empty.
    """

    columns: tuple[str, ...] = ("point", "northing", "easting", "elevation", "description")
    has_header: bool = True
    separator: str = "comma"
    decimal_mark: str = "point"
    decimals: int = 4
    unit: str = ""
    description: str = "{code}"
    features: tuple[tuple[str, str], ...] = _FEATURES
    is_sealed: bool = True

    def __post_init__(self):
        hold_whole(self, ("decimals",))
        for column in self.columns:
            hold_one_of("columns", column, COLUMNS)
        if len(set(self.columns)) != len(self.columns) or not self.columns:
            raise ValueError(f"columns: {self.columns!r} is empty or has one twice")
        hold_one_of("separator", self.separator, SEPARATORS)
        hold_one_of("decimal_mark", self.decimal_mark, DECIMAL_MARKS)
        hold_one_of("unit", self.unit, UNITS)
        if self.separator == "comma" and self.decimal_mark == "comma":
            raise ValueError("separator, decimal_mark: both cannot be a comma")
        if not 0 <= self.decimals <= 6:
            raise ValueError(f"decimals: {self.decimals!r} is outside 0 to 6")

    def feature(self, kind: str) -> str:
        """What stands for a kind in descriptions."""
        return dict(self.features).get(kind, "") or kind.replace("_", " ")


@dataclass(frozen=True)
class GroundScale:
    """Ground coordinates: those on the grid, scaled about a point by one over the combined factor, and offset.

    Attributes
    ----------
    easting, northing : float or None
        The point that keeps its coordinates, on the grid. [unit of the grid]; None for the site's middle,
        rounded to whole units.
    factor : float or None
        Combined factor, grid over ground; None for that at the point.
    offset_e, offset_n : float
        Added afterwards, so that nobody takes ground for grid coordinates. [unit of the grid]
    """

    easting: float | None = None
    northing: float | None = None
    factor: float | None = None
    offset_e: float = 0.0
    offset_n: float = 0.0

    def __post_init__(self):
        if (self.easting is None) != (self.northing is None):
            raise ValueError("easting, northing: both are said or none")
        if self.factor is not None and not 0.5 < self.factor < 2.0:
            raise ValueError(f"factor: {self.factor!r} is no combined factor")


@dataclass(frozen=True)
class ControlPoint:
    """A point that is known on the survey grid, and what a crew measured there.

    Attributes
    ----------
    name : str
        Short and unique.
    easting, northing : float
        Known. [unit of the grid]
    elevation : float or None
        Known. [unit of the grid]
    measured_easting, measured_northing, measured_elevation : float or None
        As the crew's instrument shows them. [unit of the grid]
    in_plan, in_height : bool
        Whether the calibration is to use it.
    """

    name: str
    easting: float
    northing: float
    elevation: float | None = None
    measured_easting: float | None = None
    measured_northing: float | None = None
    measured_elevation: float | None = None
    in_plan: bool = True
    in_height: bool = True

    @property
    def is_measured(self) -> bool:
        return self.measured_easting is not None and self.measured_northing is not None

    @property
    def has_heights(self) -> bool:
        return self.elevation is not None and self.measured_elevation is not None


@dataclass(frozen=True)
class Calibration:
    """How what is known is moved onto what is measured.

    Attributes
    ----------
    moves : str
        Of MOVES.
    heights : str
        Of HEIGHT_MOVES.
    worst_m, worst_height_m : float
        A fit with a larger residual is refused. [m]
    """

    moves: str = "shift and turn"
    heights: str = "none"
    worst_m: float = 0.03
    worst_height_m: float = 0.05

    def __post_init__(self):
        hold_one_of("moves", self.moves, MOVES)
        hold_one_of("heights", self.heights, HEIGHT_MOVES)
        hold_within(self, {"worst_m": (0.001, 10.0), "worst_height_m": (0.001, 10.0)})


@dataclass(frozen=True)
class StakedCheck:
    """What was decided of measured points, as it stays on record.

    Attributes
    ----------
    day : datetime.date
    by : str
    file : str
        Name of the file that was read.
    checksum : str
        First 12 hexadecimal digits of its SHA-256.
    n_points : int
        Matched with the plan.
    rms_m, worst_m : float
        Of the distances from plan to ground. [m]
    verdict : str
        Of VERDICTS.
    plan : str
        Mark of the plan they were compared with.
    note : str
    """

    day: datetime.date
    by: str
    file: str
    checksum: str
    n_points: int
    rms_m: float
    worst_m: float
    verdict: str
    plan: str
    note: str = ""

    def __post_init__(self):
        hold_one_of("verdict", self.verdict, VERDICTS)


CONTACTS = ("surveyor", "crew", "site", "client")
"""Whose lines stand on the hand-off sheet, to be filled in by hand where nothing is said."""


@dataclass(frozen=True)
class HandOff:
    """Everything a project says of its hand-off.

    Attributes
    ----------
    points : PointChoice
    table : PointTable
    formats : tuple of str
        Of FORMATS, in that order.
    coordinates : str
        Of COORDINATES.
    vertical_datum : str
        What elevations count from, in words.
    ground : GroundScale
    control : tuple of ControlPoint
    calibration : Calibration
    stated_in : str
        Survey system that the ground point and the control points are stated in; empty where nothing is.
    tolerance_m, vine_tolerance_m, height_tolerance_m : float
        Asked for at posts, at vines, and in height. [m] 3 cm, 5 cm and 5 cm are common practice.
    contacts : tuple of (str, str)
        Of CONTACTS, with name and telephone in words.
    checks : tuple of StakedCheck
        In the order they were made.
    """

    points: PointChoice = PointChoice()
    table: PointTable = PointTable()
    formats: tuple[str, ...] = ("csv", "dxf", "landxml", "geojson")
    coordinates: str = "grid"
    vertical_datum: str = ""
    ground: GroundScale = GroundScale()
    control: tuple[ControlPoint, ...] = ()
    calibration: Calibration = Calibration()
    stated_in: str = ""
    tolerance_m: float = 0.03
    vine_tolerance_m: float = 0.05
    height_tolerance_m: float = 0.05
    contacts: tuple[tuple[str, str], ...] = field(
        default_factory=lambda: tuple((c, "") for c in CONTACTS)
    )
    checks: tuple[StakedCheck, ...] = ()

    def __post_init__(self):
        for name in self.formats:
            hold_one_of("formats", name, FORMATS)
        object.__setattr__(self, "formats", tuple(f for f in FORMATS if f in self.formats))
        hold_one_of("coordinates", self.coordinates, COORDINATES)
        limits = ("tolerance_m", "vine_tolerance_m", "height_tolerance_m")
        hold_within(self, dict.fromkeys(limits, (0.001, 10.0)))
        names = [p.name.casefold() for p in self.control]
        if len(set(names)) != len(names):
            raise ValueError("control: two points have one name")

    def control_point(self, name: str) -> ControlPoint | None:
        """The control point of that name, in any case; None where there is none."""
        known = name.strip().casefold()
        return next((p for p in self.control if p.name.casefold() == known), None)
