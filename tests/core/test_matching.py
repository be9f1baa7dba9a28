"""Which measured point is which of the plan: by code in any habit, by number, by place, and what is left over."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Exclusion, PointChoice, RowRules
from layoutdesk.core.model.handoff import POINT_KINDS
from layoutdesk.core.staking.matching import Measured, matched
from layoutdesk.core.staking.points import point_set

RULES = RowRules(
    bearing_deg=20.0, row_spacing_m=3.0, vine_spacing_m=1.5, line_post_every=4, anchor_m=1.2
)
POND = Exclusion(shapely.Point(50, 60).buffer(12), 3.0, "Pond", "pond")
ORIGIN = np.array([581_700.0, 5_339_100.0])


class Site:
    def __init__(self):
        blocks = [
            Block("B1", shapely.box(0, 0, 100, 120), RULES),
            Block("North bank-2", shapely.box(120, 0, 170, 90), RULES),
        ]
        plans = [lay_rows(b, b.rules, [POND]) for b in blocks]
        control = [("CP1", -5.0, -5.0), ("77", 180.0, 100.0)]
        self.set = point_set(plans, [POND], PointChoice(kinds=POINT_KINDS[1:]), control=control)
        self.plans, self.control = plans, control
        self.points = self.set.all()
        self.en = self.points.xy_m + ORIGIN
        self.codes = [
            self.set.code(*p)
            for p in zip(
                self.points.owner.tolist(),
                self.points.kind.tolist(),
                self.points.index.tolist(),
                strict=True,
            )
        ]


@pytest.fixture(scope="module")
def site():
    return Site()


def measured(en, name=None, description=None):
    n = len(en)
    blank = [""] * n
    return Measured(
        tuple(name or blank),
        tuple(description or blank),
        np.asarray(en, float),
        np.full(n, np.nan),
        np.arange(1, n + 1),
    )


def some(site, n=400, seed=2):
    return np.random.default_rng(seed).choice(len(site.points), n, replace=False)


@pytest.mark.parametrize(
    "written",
    [
        lambda code: code,
        str.lower,
        lambda code: f"STK {code} ok",
        lambda code: f" {code} ",
    ],
)
def test_codes_are_found_in_any_case_and_among_other_words(site, written):
    row_kinds = np.flatnonzero(site.points.owner < site.set.owners.n_segments)
    which = np.random.default_rng(1).choice(row_kinds, 500, replace=False)
    found = matched(
        site.set,
        site.en,
        measured(site.en[which], description=[written(site.codes[i]) for i in which]),
    )
    assert found.way == "code"
    assert len(found.planned) == 500
    assert not len(found.strange)
    assert (found.planned == which[found.measured]).all()


def test_every_point_has_its_code_whichever_kind_it_is(site):
    every = np.arange(len(site.points))
    found = matched(site.set, site.en, measured(site.en, description=site.codes), "code")
    assert found.planned.tolist() == every.tolist()
    assert found.measured.tolist() == every.tolist()


def test_codes_may_stand_in_the_name(site):
    which = some(site)
    names = [site.codes[i] for i in which]
    found = matched(
        site.set, site.en, measured(site.en[which], name=names, description=["EP"] * 400)
    )
    assert found.way == "code"
    assert (found.planned == which[found.measured]).all()


def test_what_looks_like_a_code_and_is_none_is_strange(site):
    texts = [
        "B1-R999A-E1",
        "B1-R012Z-E1",
        "B9-R012A-E1",
        "B1-R012A-E10x",
        "B1-R012A",
        "B1-R012A-V9999",
    ]
    texts += [site.codes[0]]
    found = matched(
        site.set, site.en, measured(np.tile(site.en[:1], (7, 1)), description=texts), "code"
    )
    assert found.strange.tolist() == [0, 1, 2, 3, 4, 5]
    assert found.planned.tolist() == [0]


def test_descriptions_by_the_users_own_template_say_which_point(site):
    template = "{feature} {block}/{row}{segment}/{index}"
    features = (("end_post", "EP"), ("line_post", "LP"), ("anchor", "AN"), ("vine", "V"))
    own = dict(features)
    owners, points = site.set.owners, site.points
    which = np.flatnonzero(points.owner < owners.n_segments)[::7]
    texts = []
    for i in which.tolist():
        w, kind = int(points.owner[i]), POINT_KINDS[points.kind[i]]
        texts.append(
            f"{own[kind]} {owners.block[w]}/{owners.row[w]}{owners.letter[w]}/{points.index[i]}".lower()
        )
    known = measured(site.en[which], description=texts)
    found = matched(site.set, site.en, known, template=template, features=features)
    assert found.way == "code"
    assert len(found.planned) == len(which)
    assert (found.planned == which[found.measured]).all()


def test_a_code_for_two_kinds_means_neither(site):
    features = (("end_post", "P"), ("line_post", "P"), ("vine", "V"))
    owners, points = site.set.owners, site.points
    i = int(np.flatnonzero(points.kind == POINT_KINDS.index("line_post"))[0])
    w = int(points.owner[i])
    text = f"P {owners.code[w].split('-R')[0]} {owners.row[w]}{owners.letter[w]} {points.index[i]}"
    known = measured(site.en[[i]], description=[text])
    template = "{feature} {block} {row}{segment} {index}"
    found = matched(site.set, site.en, known, "code", template=template, features=features)
    assert found.strange.tolist() == [0]


def test_numbers_are_those_of_the_choice_that_was_handed_off(site):
    chosen = point_set(
        site.plans,
        [POND],
        PointChoice(kinds=("end_post", "vine"), order="serpentine", first_number=70, vine_every=3),
        control=site.control,
    )
    own = chosen.all()
    found = matched(
        site.set,
        site.en,
        measured(own.xy_m + ORIGIN + 4.0, name=[f"{n:05d}" for n in own.number.tolist()]),
        numbered=chosen,
    )
    assert found.way == "number"
    assert len(found.planned) == len(own)
    assert 77 not in own.number  # the name of a control point
    assert np.allclose(site.points.xy_m[found.planned], own.xy_m[found.measured])


def test_a_crews_own_numbers_give_way_to_places(site):
    which = some(site, 600)
    names = [str(i + 1) for i in range(600)]
    found = matched(
        site.set, site.en, measured(site.en[which] + 0.01, name=names), numbered=site.set
    )
    assert found.way == "place"
    assert (found.planned == which[found.measured]).mean() > 0.98


def test_places_match_to_the_nearest_and_never_more_than_half_the_way_to_another(site):
    rng = np.random.default_rng(5)
    asked = rng.uniform(-10, 180, (4000, 2)) + ORIGIN
    found = matched(site.set, site.en, measured(asked), "place", most_m=0.5)
    away = np.hypot(*(asked[:, None] - site.en[None]).transpose(2, 0, 1))
    between = np.hypot(*(site.en[:, None] - site.en[None]).transpose(2, 0, 1))
    # A corner or control point on a post is told as the post; none is here.
    between[np.arange(len(site.en)), np.arange(len(site.en))] = np.inf
    apart = between.min(axis=1)
    pairs = {}
    for i in np.argsort(away.min(axis=1)).tolist():
        nearest = int(away[i].argmin())
        if away[i, nearest] <= min(0.5, apart[nearest] / 2):
            pairs.setdefault(nearest, i)
    assert len(pairs) > 200
    assert dict(zip(found.planned.tolist(), found.measured.tolist(), strict=True)) == pairs


def test_of_points_measured_twice_the_last_counts_and_by_place_the_nearest():
    known = Site()
    twice = np.array([known.en[3] + 0.2, known.en[3] + 0.1, known.en[9], known.en[3] + 0.15])
    codes = [known.codes[i] for i in (3, 3, 9, 3)]
    found = matched(known.set, known.en, measured(twice, description=codes), "code")
    assert found.planned.tolist() == [3, 9]
    assert found.measured.tolist() == [3, 2]
    assert found.doubled.tolist() == [0, 1]
    found = matched(known.set, known.en, measured(twice), "place")
    assert found.planned.tolist() == [3, 9]
    assert found.measured.tolist() == [1, 2]
    assert found.doubled.tolist() == [0, 3]


def test_a_corner_under_a_post_gives_way_to_the_post():
    block = Block("B1", shapely.box(0, 0, 60, 60), RowRules(bearing_deg=0.0, headland_m=0.0, side_margin_m=0.0, row_spacing_m=3.0, vine_spacing_m=1.5))  # fmt: skip
    plan = lay_rows(block, block.rules, [])
    known = point_set([plan], [], PointChoice(kinds=POINT_KINDS[1:]))
    points = known.all()
    corner = points.kind == POINT_KINDS.index("outline")
    posts = points.xy_m[~corner]
    shared = [
        i for i in np.flatnonzero(corner) if np.hypot(*(posts - points.xy_m[i]).T).min() < 1e-6
    ]
    assert shared  # the first row runs along the edge
    found = matched(known, points.xy_m, measured(points.xy_m[shared] + 0.01), "place")
    assert not corner[found.planned].any()
    assert len(found.planned) == len(shared)
