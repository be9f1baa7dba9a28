"""Explanations of measured points: what they say, with amounts, where, and what they do not claim."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.staking.blunders import EXPLANATIONS, Facts, explained

FOOT_M, US_FOOT_M = 0.3048, 1200 / 3937
FACTS = Facts(
    1.0, 0.9996, (288832.0, 6180001.0), "grid", convergence_deg=1.2, declination_deg=9.0
)  # fmt: skip
N_ROWS, LENGTH_M = 30, 180.0


def grid(n_rows=N_ROWS, vines=0, slant=0.8, blocks=("B1",), spacing=2.4):
    """Frame places, row ids and codes of rows to the north, each begun farther north than the one before."""
    xy, row, code = [], [], []
    for b, block in enumerate(blocks):
        for r in range(n_rows):
            east, south = b * 300.0 + r * spacing, r * slant
            for index, along in ((1, 0.0), (2, LENGTH_M)):
                xy.append((east, south + along))
                code.append(f"{block}-R{r + 1:03d}A-E{index}")
            for v in range(vines):
                xy.append((east, south + 1.0 + v * 1.2))
                code.append(f"{block}-R{r + 1:03d}A-V{v + 1:03d}")
            row += [b * n_rows + r] * (2 + vines)
    return np.array(xy), np.array(row), tuple(code)


def told(stood, xy, row, code, facts=FACTS, seed=1, about=(288832.0, 6180001.0), **more):
    """What is explained when the plan's places (frame) were staked at `stood`, read with 2 cm of noise."""
    noise = np.random.default_rng(seed).normal(0, 0.02, xy.shape)
    return explained(
        xy + about, stood + about + noise, facts, xy_m=xy, row=row, end=code, **more
    )  # fmt: skip


def turned(xy, deg, about=(0.0, 0.0)):
    """Clockwise."""
    c, s = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    return (xy - about) @ np.array([[c, -s], [s, c]]) + about


def codes(found):
    return [e.code for e in found]


def test_a_foot_mixed_up_is_told_with_direction_amount_and_what_to_do():
    xy, row, code = grid()
    facts = replace(FACTS, unit_m=US_FOOT_M)
    about = np.array([1_500_000.0, 300_000.0])
    stood = (xy + about) * (FOOT_M / US_FOOT_M) - about
    (found,) = told(stood, xy, row, code, facts, about=about)
    # 2 parts in a million of 1,500 km and 300 km: 3.00 m and 0.60 m, 10.04 US survey feet together
    assert found.code == "survey-foot"
    assert found.words.startswith(
        "Looks like US survey feet read as international feet: all of it lies 10.04 US ft to the west."
    )
    assert "controller's unit to US survey feet" in found.words
    assert found.amount == pytest.approx(-2.0, abs=0.01)
    assert found.left_rms_m == pytest.approx(0.02 * math.sqrt(2), rel=0.25)


@pytest.mark.parametrize(
    ("turn_deg", "code", "words"),
    [
        (-1.2, "bearing-convergence", "grid north taken for true north"),
        (1.2, "bearing-convergence", "true north taken for grid north"),
        (9.0, "bearing-magnetic", "magnetic north taken for true north"),
        (7.8, "bearing-magnetic", "magnetic north taken for grid north"),
        (3.3, "turn", "All of it is turned by 3."),
    ],
)
def test_a_turn_is_known_by_its_size_and_its_side(turn_deg, code, words):
    """Grid north 1.2° east of true north: a grid bearing laid off from true north falls 1.2° short on the grid.

    By the definition of convergence (grid bearing = true bearing - convergence) and declination (true bearing =
    magnetic bearing + declination).
    """
    xy, row, names = grid()
    found = told(turned(xy, turn_deg, (70.0, 20.0)), xy, row, names)
    assert codes(found) == [code]
    assert words in found[0].words
    assert found[0].amount == pytest.approx(turn_deg, abs=0.02)


def test_convergence_and_declination_that_are_nearly_alike_are_both_told():
    xy, row, code = grid()
    facts = replace(FACTS, convergence_deg=2.05, declination_deg=2.2)
    (found,) = told(turned(xy, 2.2), xy, row, code, facts)
    assert found.code == "bearing-magnetic"
    facts = replace(FACTS, convergence_deg=2.2, declination_deg=2.3)
    (found,) = told(turned(xy, 2.2), xy, row, code, facts)
    assert found.code == "bearing-convergence"
    assert "the declination (+2.3°" in found.words
    assert "nearly as well" in found.words


@pytest.mark.parametrize(
    ("coordinates", "scale", "words"),
    [
        ("grid", 0.9996, "grid coordinates staked as lengths on the ground"),
        ("grid", 1 / 0.9996, "the combined factor applied the wrong way round, or twice"),
        ("ground", 1 / 0.9996, "ground coordinates staked as if they were on the grid"),
    ],
)
def test_a_scale_by_the_combined_factor_says_which_coordinates_were_taken_for_which(
    coordinates, scale, words
):
    xy, row, code = grid(n_rows=60)
    xy = xy * 3
    (found,) = told(xy * scale, xy, row, code, replace(FACTS, coordinates=coordinates))
    assert found.code == "grid-as-ground"
    assert words in found.words
    assert f"the factor makes {(scale - 1) * 1e6:+,.0f} ppm" in found.words
    assert found.amount == pytest.approx((scale - 1) * 1e6, abs=30)


def test_several_things_at_once_are_told_from_all_points_to_single_ones():
    xy, row, code = grid(vines=20)
    stood = xy.copy()
    one, other = row == 4, row == 9
    stood[one], stood[other] = xy[other], xy[one]
    stood[300] += (0.9, -0.4)
    stood = turned(stood, -1.2, (10, 10)) + (0.2, 0.1)
    found = told(stood, xy, row, code)
    assert codes(found) == ["bearing-convergence", "rows-swapped", "point-off"]
    assert found[1].where == ("B1-R005A", "B1-R010A")
    assert "B1-R005A and B1-R010A stand in each other's place" in found[1].words
    assert found[2].where == (code[300],)
    assert found[2].amount == pytest.approx(math.hypot(0.9, 0.4), abs=0.08)


def test_stray_points_and_exchanged_rows_turn_and_shift_nothing():
    """A sixth of all points, up to the length of a row away, and all on one side."""
    xy, row, code = grid()
    stood = xy.copy()
    for r in (0, 1, 2):
        first, second = np.flatnonzero(row == r)
        stood[first], stood[second] = xy[second], xy[first]
    stood[-4:] += (6.0, 3.0)
    found = told(stood, xy, row, code)
    assert codes(found) == ["row-reversed", "point-off"]
    assert found[0].where == ("B1-R001A", "B1-R002A", "B1-R003A")
    assert len(found[1].where) == 4


def test_rows_numbered_wrong_are_not_taken_for_a_shift_where_rows_are_of_one_length():
    xy, row, code = grid(slant=0.0)
    for by in (1, -2):
        stood = xy + (by * 2.4, 0.0)
        (found,) = told(stood, xy, row, code)
        assert (found.code, found.amount, found.where) == ("rows-shifted", by, ())
        assert f"too {'low' if by > 0 else 'high'}" in found.words
        assert (
            "A shift of the whole by as many row spacings would look much the same" in found.words
        )
    (found,) = told(xy + (1.7, 0.0), xy, row, code)
    assert found.code == "shift"
    assert "1.70 m to the east" in found.words


def test_a_run_of_rows_numbered_wrong_is_told_with_its_rows():
    xy, row, code = grid()
    stood = xy.copy()
    chosen = (row >= 10) & (row < 15)
    stood[chosen] += (2.4, 0.8)
    chosen = chosen | (row == 15)
    stood[row == 15] = np.nan  # its stakes bear the numbers of the one before
    (found,) = told(stood, xy, row, code)
    assert found.code == "rows-shifted"
    assert found.amount == 1
    assert found.where == tuple(f"B1-R{r:03d}A" for r in range(11, 16))


def test_every_row_or_every_second_one_may_be_counted_from_its_other_end():
    xy, row, code = grid(slant=0.0)
    for every in (1, 2):
        stood = xy.copy()
        for r in range(0, N_ROWS, every):
            stood[row == r] = xy[row == r][::-1]
        (found,) = told(stood, xy, row, code)
        assert found.code == "row-reversed"
        assert len(found.where) == N_ROWS // every


def test_one_block_of_several_that_was_shifted_is_told_by_name():
    xy, row, code = grid(blocks=("B1", "B2", "B3"))
    stood = xy.copy()
    stood[row >= 2 * N_ROWS] += (0.0, -0.4)
    (found,) = told(stood, xy, row, code)
    assert (found.code, found.where) == ("shift", ("B3",))
    assert found.words.startswith("In B3: all of it lies 40")
    assert "to the south" in found.words


def test_exchanged_axes_and_metres_for_feet():
    xy, row, code = grid()
    about = np.array([288832.0, 6180001.0])
    noise = np.random.default_rng(3).normal(0, 0.02, xy.shape)
    (found,) = explained(
        xy + about, (xy + about)[:, ::-1] + noise, FACTS, xy_m=xy, row=row, end=code
    )
    assert found.code == "axes-swapped"
    (found,) = explained(
        xy + about, (xy + about) / FOOT_M + noise, FACTS, xy_m=xy, row=row, end=code
    )
    assert found.code == "feet-as-metres"
    assert "feet read as metres" in found.words


def test_what_is_below_half_the_tolerance_is_not_worth_telling():
    """10,000 points tell a shift of 1 cm without any doubt, and still nobody has to move a stake."""
    xy, row, code = grid(n_rows=100, vines=100)
    assert told(xy + (0.01, 0.0), xy, row, code) == ()
    assert codes(told(xy + (0.02, 0.0), xy, row, code)) == ["shift"]


def test_sloppy_measurements_are_noise_and_no_mistake_with_a_name():
    xy, row, code = grid()
    rng = np.random.default_rng(8)
    assert told(xy + rng.normal(0, 0.1, xy.shape), xy, row, code) == ()
    found = told(xy + rng.normal(0, 4.0, xy.shape), xy, row, code)
    assert codes(found) == ["point-off"]
    assert "See that the measured file belongs to this plan" in found[0].words


def test_few_points_claim_no_more_than_they_can():
    xy, row, code = grid(n_rows=2)
    assert told(xy, xy, row, code) == ()
    assert explained(xy[:1], xy[:1] + 5, FACTS, xy_m=xy[:1], row=row[:1], end=code[:1]) == ()
    assert explained(xy[:0], xy[:0], FACTS, xy_m=xy[:0], row=row[:0]) == ()
    assert codes(told(xy + (0.5, 0.5), xy, row, code)) == ["shift"]


@pytest.mark.parametrize(
    ("heights", "code", "words"),
    [
        (lambda z: z, None, ""),
        (lambda z: z + 0.34, "height-shift", "34.0 cm higher"),
        (lambda z: z * FOOT_M, "height-unit", "metres read as feet"),
        (lambda z: z / FOOT_M, "height-unit", "feet read as metres"),
    ],
)
def test_heights_by_another_datum_or_unit(heights, code, words):
    xy, row, names = grid()
    rng = np.random.default_rng(4)
    planned = 80 + 0.05 * xy[:, 1] + rng.normal(0, 0.03, len(xy))
    read = heights(planned) + rng.normal(0, 0.03, len(xy))
    read[3] += 2.0
    planned[5] = np.nan
    found = told(xy, xy, row, names, heights_m=np.column_stack([planned, read]))
    assert codes(found) == ([code] if code else [])
    if code == "height-shift":
        assert found[0].amount == pytest.approx(0.34, abs=0.02)
    assert not code or code == "height-shift" or words in found[0].words


def test_every_code_has_a_meaning_and_pairs_of_different_lengths_are_our_mistake():
    xy, row, code = grid()
    with pytest.raises(ValueError, match="different lengths"):
        explained(xy, xy[:-1], FACTS, xy_m=xy, row=row)
    found = told(turned(xy, 3.3), xy, row, code)
    assert {e.code for e in found} <= set(EXPLANATIONS)
