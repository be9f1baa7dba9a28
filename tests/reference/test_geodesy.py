"""Coordinates, scales and bearings against printed numbers and against engines other than ours."""

from __future__ import annotations

import datetime
import itertools
import math

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic

from layoutdesk import Block, RowRules, SiteFrame, lay_rows
from layoutdesk.formats.bearings import NorthOffsets, declination_deg, north_offsets
from layoutdesk.formats.crs import (
    FOOT_M,
    US_SURVEY_FOOT_M,
    crs_named,
    frame_to_geographic,
    frame_to_survey,
    make_frame,
    survey_grid,
    to_frame,
)
from tests.zoo import turned


def on_grid(datum: str, longitude_deg: float, latitude_deg: float, grid: str):
    """Easting and northing of one geographic point by the path the stake-out files take."""
    frame = make_frame(crs_named(datum), np.array([longitude_deg]), np.array([latitude_deg]))
    assert (frame.longitude_deg, frame.latitude_deg) == (longitude_deg, latitude_deg)
    return frame_to_survey(frame, grid)(np.zeros((1, 2)))[0], survey_grid(frame, grid)


class TestTransverseMercator:
    """Title: Coordinate Conversions and Transformations including Formulas (Guidance Note 7-2).

    Publisher: IOGP, Publication 373-7-2; section Transverse Mercator, example OSGB 1936 / British
    National Grid (EPSG:4277 to EPSG:27700), 50°30'N 0°30'E. The printed numbers are from memory.
    """

    def test_printed_example_to_its_rounding(self):
        (easting, northing), _ = on_grid("EPSG:4277", 0.5, 50.5, "EPSG:27700")
        # The note's own worked example rounds intermediate values: 2 cm.
        assert easting == pytest.approx(577_274.99, abs=0.02)
        assert northing == pytest.approx(69_740.50, abs=0.02)

    def test_two_independent_implementations_to_a_tenth_of_a_millimetre(self):
        (easting, northing), grid = on_grid("EPSG:4277", 0.5, 50.5, "EPSG:27700")
        assert easting == pytest.approx(577_274.98381, abs=1e-4)
        assert northing == pytest.approx(69_740.49227, abs=1e-4)
        assert grid.point_scale == pytest.approx(0.999987286701, abs=1e-9)
        assert grid.convergence_deg == pytest.approx(1.929560856, abs=1e-6)


def test_lambert_conic_printed_example_in_us_survey_feet():
    """IOGP Publication 373-7-2, section Lambert Conic Conformal (2SP): NAD27 / Texas South Central

    (EPSG:4267 to EPSG:32040), 28°30'N 96°W. From memory.
    """
    (easting, northing), grid = on_grid("EPSG:4267", -96.0, 28.5, "EPSG:32040")
    # Printed to 0.01 ft.
    assert easting == pytest.approx(2_963_503.91, abs=0.01)
    assert northing == pytest.approx(254_759.80, abs=0.01)
    assert grid.unit == "US survey foot"


@pytest.mark.parametrize(
    ("grid", "longitude", "latitude", "easting", "northing", "scale", "convergence"),
    [
        ("EPSG:32754", 138.7, -34.5, 288_832.0439, 6_180_001.3208, 1.000149667733, 1.303216315),
        ("EPSG:32631", 4.0, 49.05, 573_068.7639, 5_433_495.6928, 0.999665586992, 0.755315042),
    ],
    ids=["UTM 54S", "UTM 31N"],
)
def test_utm_points_with_scale_and_convergence(
    grid, longitude, latitude, easting, northing, scale, convergence
):
    """Numbers of two implementations that agree, run for the project; not printed anywhere."""
    (x, y), at = on_grid("EPSG:4326", longitude, latitude, grid)
    assert (x, y) == pytest.approx((easting, northing), abs=1e-4)
    assert at.point_scale == pytest.approx(scale, abs=1e-10)
    assert at.convergence_deg == pytest.approx(convergence, abs=1e-7)


def test_convergence_is_the_turn_from_grid_to_true_bearing():
    """A step due true north in the frame runs, on the grid, at minus the convergence."""
    frame = SiteFrame(-34.5, 138.7)
    (x0, y0), (x1, y1) = frame_to_survey(frame, "EPSG:32754")(np.array([[0.0, 0.0], [0.0, 10.0]]))
    grid_bearing = math.degrees(math.atan2(x1 - x0, y1 - y0)) % 360
    at = survey_grid(frame, "EPSG:32754")
    assert NorthOffsets(at.convergence_deg, None).grid(0.0) == pytest.approx(grid_bearing, abs=1e-5)


def laid_with_frame(latitude_deg, height_m, centre_m, bearing_deg=27.0):
    """A layout about `centre_m` of a frame there, its vines and start posts as lon, lat."""
    frame = SiteFrame(latitude_deg, 21.3, height_m)
    outline = shapely.affinity.translate(
        turned(shapely.box(-60, -150, 60, 150), bearing_deg), *centre_m
    )
    plan = lay_rows(Block("B1", outline, RowRules(bearing_deg=bearing_deg)))
    to_geographic = frame_to_geographic(frame)
    return frame, plan, to_geographic(plan.vines.xy_m), to_geographic(plan.segment_ends_m[:, 0])


def on_ellipsoid_m(a, b) -> float:
    return Geodesic.WGS84.Inverse(a[1], a[0], b[1], b[0])["s12"]


@pytest.mark.parametrize("latitude", [-45.0, -34.5, 0.1, 38.5, 49.0, 60.0])
@pytest.mark.parametrize("height", [0.0, 300.0, 1500.0])
def test_spacings_on_the_ground_by_geodesics(latitude, height):
    """GeographicLib (its own code, not PROJ's) measures between neighbouring vines and rows."""
    for centre in ((0.0, 0.0), (1800.0, -300.0), (-900.0, 1600.0)):
        frame, plan, vines, starts = laid_with_frame(latitude, height, centre)
        up = 1 + height / frame.mean_radius_m
        segment = plan.vines.segment
        # Every 97th vine and its neighbour: all rows, all places along a row.
        pairs = [i for i in range(0, len(vines) - 1, 97) if segment[i] == segment[i + 1]]
        assert len(pairs) > 50
        for i in pairs:
            ground = on_ellipsoid_m(vines[i], vines[i + 1]) * up
            assert ground == pytest.approx(1.5, rel=1e-7)
        for a, b in itertools.pairwise(starts):
            assert on_ellipsoid_m(a, b) * up == pytest.approx(2.4, rel=1e-7)
        first, last = starts[0], starts[-1]
        rows = plan.n_rows - 1
        assert on_ellipsoid_m(first, last) * up == pytest.approx(2.4 * rows, rel=1e-7)


def in_space_m(lon_lat, height_m):
    """Earth-centred x, y, z of points at one ellipsoidal height on WGS 84."""
    a, f = 6_378_137.0, 1 / 298.257223563
    lon, lat = np.radians(lon_lat).T
    e2 = f * (2 - f)
    n = a / np.sqrt(1 - e2 * np.sin(lat) ** 2)
    return np.column_stack(
        [
            (n + height_m) * np.cos(lat) * np.cos(lon),
            (n + height_m) * np.cos(lat) * np.sin(lon),
            (n * (1 - e2) + height_m) * np.sin(lat),
        ]
    )


@pytest.mark.parametrize("bearing", [0.0, 90.0, 27.0])
@pytest.mark.parametrize(
    ("latitude", "height"), [(0.1, 0.0), (0.1, 1500.0), (38.5, 300.0), (60.0, 900.0)]
)
def test_spacings_on_the_ground_by_straight_lines_in_space(latitude, height, bearing):
    """The height factor takes the mean radius; the true one depends on the direction by 0.3 %."""
    _, plan, vines, _ = laid_with_frame(latitude, height, (0.0, 0.0), bearing)
    n = int(plan.segments.n_vines[0])
    first, last = in_space_m(vines[[0, n - 1]], height)
    # 0.1 ppm of the frame itself, and 0.55 ppm a kilometre of height for the mean radius.
    allowed = (0.1 + 0.55 * height / 1000) * 1e-6
    assert float(np.linalg.norm(last - first)) == pytest.approx(1.5 * (n - 1), rel=allowed)


def test_scale_grows_with_height():
    """0.1569 ppm a metre; mean radius 6,373,286 m at 38.5°N. Computed for the project."""
    frame = SiteFrame(38.5, 0.0, 300.0)
    assert frame.mean_radius_m == pytest.approx(6_373_286, abs=1)
    assert (frame.scale - 1) * 1e6 / 300 == pytest.approx(0.1569, abs=5e-5)
    assert (frame.scale - 1) * 1e6 == pytest.approx(47.07, abs=0.005)


def test_combined_factor_of_the_surveyors_example():
    """0.999981 × 20,906,000 / 20,906,500 = 0.999957: surveyors' worked example, from memory."""
    radius = 20_906_000 * FOOT_M
    sphere = f"+proj=longlat +R={radius!r} +no_defs +type=crs"
    grid = f"+proj=tmerc +lat_0=38 +lon_0=20 +k=0.999981 +R={radius!r} +units=m +no_defs +type=crs"
    frame = SiteFrame(38.0, 20.0, 500 * FOOT_M, radius, 0.0, sphere)
    found = survey_grid(frame, grid)
    assert found.point_scale == pytest.approx(0.999981, abs=1e-9)
    assert found.combined_factor == pytest.approx(0.999981 * 20_906_000 / 20_906_500, abs=1e-10)
    assert round(found.combined_factor, 6) == 0.999957


def test_grid_metres_are_ground_metres_times_the_combined_factor():
    frame = SiteFrame(-34.5, 138.7, 420.0)
    found = survey_grid(frame, "EPSG:32754")
    (x0, y0), (x1, y1) = frame_to_survey(frame, "EPSG:32754")(np.array([[-50.0, 0.0], [50.0, 0.0]]))
    assert math.hypot(x1 - x0, y1 - y0) == pytest.approx(100 * found.combined_factor, abs=1e-6)


def test_us_survey_foot_and_international_foot_are_two():
    """1200/3937 m: NIST Special Publication 811, appendix B (2008); 0.3048 m: the 1959 agreement."""
    assert pytest.approx(1200 / 3937, rel=1e-15) == US_SURVEY_FOOT_M
    assert FOOT_M == 0.3048
    assert pytest.approx(13.12, abs=0.005) == 2_000_000 / FOOT_M - 2_000_000 / US_SURVEY_FOOT_M


def test_two_feet_differ_by_13_feet_at_a_false_easting_of_2_000_000_metres():
    """The classic bust, through the program: the same point on the same grid in both feet."""
    grid = (
        "+proj=lcc +lat_1=44 +lat_2=46 +lat_0=43.5 +lon_0=20 +x_0=2000000 +y_0=500000 +datum=WGS84"
    )
    frame = SiteFrame(45.0, 20.0)
    eastings = {}
    for unit in ("us-ft", "ft"):
        crs = f"{grid} +units={unit} +no_defs +type=crs"
        eastings[survey_grid(frame, crs).unit] = frame_to_survey(frame, crs)(np.zeros((1, 2)))[0, 0]
    assert eastings["foot"] - eastings["US survey foot"] == pytest.approx(13.12, abs=0.005)


@pytest.mark.parametrize(
    ("year", "height_km", "latitude", "longitude", "declination"),
    [
        (2025.0, 0, 80, 0, 1.28),
        (2025.0, 0, 0, 120, -0.16),
        (2025.0, 0, -80, 240, 68.78),
        (2025.0, 100, 80, 0, 0.85),
        (2025.0, 100, 0, 120, -0.15),
        (2025.0, 100, -80, 240, 68.21),
        (2027.5, 0, 80, 0, 2.59),
        (2027.5, 0, 0, 120, -0.24),
        (2027.5, 0, -80, 240, 68.49),
    ],
)
def test_world_magnetic_model_test_values(year, height_km, latitude, longitude, declination):
    """The US/UK World Magnetic Model for 2025-2030, NOAA NCEI and British Geological Survey, 2024,

    table of test values. Printed to 0.01°.
    """
    found = declination_deg(latitude, longitude, height_km * 1000, year)
    assert found == pytest.approx(declination, abs=0.0051)


def test_no_declination_outside_the_models_years():
    assert declination_deg(40, 20, 0, 2024.99) is None
    assert declination_deg(40, 20, 0, 2030.01) is None
    late = north_offsets(SiteFrame(40.0, 20.0), 0.5, datetime.date(2031, 1, 1))
    assert late.magnetic(10.0) is None
    with pytest.raises(ValueError, match="declination"):
        late.true_from("magnetic", 10.0)


@pytest.mark.parametrize("convention", ["true", "grid", "magnetic"])
def test_a_bearing_read_in_a_convention_is_shown_as_it_was_read(convention):
    offsets = NorthOffsets(1.303216315, 8.3)
    true = offsets.true_from(convention, 359.4)
    shown = {"true": true, "grid": offsets.grid(true), "magnetic": offsets.magnetic(true)}[
        convention
    ]
    assert shown == pytest.approx(359.4, abs=1e-9)


@pytest.mark.parametrize(
    ("code", "east", "north"),
    [
        ("EPSG:27572", 600400.0, 2200300.0),
        ("EPSG:27700", 400000.0, 300000.0),
        ("EPSG:2056", 2.61e6, 1.21e6),
    ],
)
def test_scale_and_convergence_are_those_of_short_lines_on_the_grid(code, east, north):
    """Also where the grid counts grads from Paris: 200 m of ground on the grid."""
    crs = crs_named(code)
    frame = make_frame(crs, np.array([east]), np.array([north]))
    grid = survey_grid(frame, code)
    places = np.array([[0.0, -100.0], [0.0, 100.0], [-100.0, 0.0], [100.0, 0.0]])
    ends = frame_to_survey(frame, code)(places)
    step = ends[1] - ends[0]
    assert np.hypot(*step) / 200 == pytest.approx(grid.combined_factor, abs=1e-8)
    # grid bearing of true north is minus the convergence
    assert -np.degrees(np.arctan2(*step)) == pytest.approx(grid.convergence_deg, abs=1e-5)
    assert np.abs(to_frame(crs, frame)(ends) - places).max() < 1e-6
