"""A trellis that cannot stand is refused, with the name of what is wrong."""

from __future__ import annotations

import pytest

from layoutdesk.core.model.trellis import FoliageWire, Trellis, Wire


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("ends", {"ends": "hope"}),
        ("stake_driven_m", {"stake_driven_m": 1.9}),
        ("line_post_driven_m", {"line_post_length_m": 2.4, "line_post_driven_m": 2.4}),
        ("line_post_length_m", {"line_post_length_m": 2.0}),
        ("end_post_length_m", {"end_post_length_m": 2.4}),
        ("end_post_length_m", {"end_angle_deg": 60}),
        ("tie_height_m", {"tie_height_m": 2.1}),
        ("end_angle_deg", {"end_angle_deg": 95}),
        ("fruiting_wire_height_m", {"fruiting_wire_height_m": float("nan")}),
        ("joins_allowed", {"joins_allowed": 1.5}),
        ("wrap_m", {"wrap_m": None}),
        ("staples_per_post", {"staples_per_post": -1}),
        ("spares_pct", {"spares_pct": {"bottles": 3}}),
        ("spares_pct of shelters", {"spares_pct": {"shelters": 300}}),
    ],
)
def test_refused(field, wrong):
    with pytest.raises(ValueError, match=rf"^{field}: "):
        Trellis(**wrong)


def test_wires_and_heights_are_refused_too():
    with pytest.raises(ValueError, match=r"^diameter_mm: "):
        Wire(diameter_mm=0)
    with pytest.raises(ValueError, match=r"^height_m: "):
        FoliageWire(9.0)


def test_wires_are_listed_from_the_lowest_and_pairs_count_as_two():
    trellis = Trellis()
    assert [(run.height_m, run.lines) for run in trellis.wires] == [
        (0.45, 1),
        (0.9, 1),
        (1.2, 2),
        (1.5, 2),
        (1.8, 1),
    ]
    assert trellis.n_wires == 7
    assert trellis.tie_m == trellis.height_m == 1.8


def test_equal_spares_make_equal_trellises():
    one = Trellis(spares_pct={"shelters": 3, "anchors": 4})
    assert one == Trellis(spares_pct=(("anchors", 4.0), ("shelters", 3.0)))
    assert hash(one) == hash(Trellis(spares_pct={"anchors": 4, "shelters": 3}))
    assert one.spare_pct("shelters") == 3.0
    assert one.spare_pct("end_posts") == 0.0


def test_no_stake_needs_no_depth():
    assert Trellis(stake_length_m=0.0).stake_length_m == 0.0
