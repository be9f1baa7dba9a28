"""Trellis and drip system follow their block when it is renamed, split, joined or removed."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.model import (
    Block,
    Drip,
    Materials,
    Project,
    SettledTakeOff,
    Site,
    SiteFrame,
    Trellis,
    Water,
)
from layoutdesk.session.ground_edits import merged, renamed, split, without_shape
from layoutdesk.session.reshaping import ShapeId

TALL = Trellis(end_post_length_m=3.5, line_post_length_m=2.8)
WIDE = Drip(tube_mm=20.0)


@pytest.fixture
def project():
    settled = SettledTakeOff(None, (("B1", (("end_posts", 10.0),)),))
    return Project(
        "Two blocks",
        Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832"),
        (Block("B1", shapely.box(0, 0, 200, 100)), Block("B2", shapely.box(200, 0, 300, 100))),
        materials=Materials((("B1", TALL),), settled=settled),
        water=Water((("B1", WIDE),)),
    )


def test_a_renamed_block_keeps_them(project):
    project = renamed(project, "B1", "North")
    assert project.materials.trellis_of("North") == TALL
    assert project.water.drip_of("North") == WIDE
    assert project.materials.settled.amounts[0][0] == "North"
    assert project.materials.trellis_of("B1") == Trellis()


def test_both_parts_of_a_split_block_have_them(project):
    project = split(project, "B1", [(100.0, -10.0), (100.0, 110.0)])
    assert len(project.blocks) == 3
    (other,) = {b.name for b in project.blocks} - {"B1", "B2"}
    assert project.materials.trellis_of(other) == TALL
    assert project.water.drip_of(other) == WIDE
    assert project.materials.trellis_of("B2") == Trellis()


def test_joined_blocks_have_those_of_the_first(project):
    project = merged(project, ("B2", "B1"))
    assert [b.name for b in project.blocks] == ["B2"]
    assert project.materials.trellis_of("B2") == Trellis()
    assert dict(project.water.drips) == {}


def test_a_new_block_does_not_inherit_from_one_that_is_gone(project):
    project = without_shape(project, ShapeId("block", "B1"))
    assert project.materials.trellises == ()
    back = replace(project, blocks=(*project.blocks, Block("B1", shapely.box(0, 0, 50, 50))))
    assert back.water.drip_of("B1") == Drip()
