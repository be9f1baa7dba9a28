"""A hand-off with awkward names, a hole and exclusions of all kinds, for tests of its files."""

from __future__ import annotations

import dataclasses

import numpy as np
import shapely

from layoutdesk.core.model import Block, ControlPoint, Exclusion, PointTable
from layoutdesk.core.model.handoff import POINT_KINDS, PointChoice
from layoutdesk.session.hand_off_set import hand_off_set, seal_of
from tests.staked_project import RULES, UTM, project

NAMES = ("Côte <d'été> & 北", "B2")
HOLED = shapely.Polygon(
    shapely.box(110, 0, 170, 60).exterior.coords,
    [shapely.box(130, 20, 145, 40).exterior.coords],
)
BLOCKS = (
    Block(NAMES[0], shapely.Polygon([(0, 0), (70, 0), (70, 60), (20, 80)]), RULES),
    Block(NAMES[1], HOLED, dataclasses.replace(RULES, bearing_deg=95.0)),
)
EXCLUSIONS = (
    Exclusion(shapely.Point(40, 30), 2.0, "Well", "well"),
    Exclusion(shapely.LineString([(0, 40), (60, 20)]), 1.0, "Ditch", "ditch"),
    Exclusion(shapely.Point(50, 50).buffer(4), 1.0, "Pond", "pond"),
)
TABLE = PointTable(description='{feature} "{block}" {row}{segment}/{index} #{number}')


def handed_off(crs=UTM, order="by kind", heights=True, control=(), **said):
    """The hand-off of the site; `said` goes into what a project says of its hand-off."""
    points = PointChoice(POINT_KINDS, order=order, first_number=101)
    said = {"points": points, "table": TABLE, "vertical_datum": "Old Pier 1911"} | said
    whole = dataclasses.replace(
        project(crs, blocks=BLOCKS, control=control, **said), exclusions=EXCLUSIONS
    )
    hand = hand_off_set(whole)
    if not heights:
        return hand
    return dataclasses.replace(hand, heights=ground_m, heights_said="invented ground")


def ground_m(xy_m: np.ndarray) -> np.ndarray:
    """Ground that is known but for a strip, and below the datum in the west."""
    return np.where(np.abs(xy_m[:, 0] - 40) < 3, np.nan, -2.5 + 0.05 * xy_m[:, 0])


def many():
    """A hand-off of more points than are made and encoded at a time, with the code of each."""
    rules = dataclasses.replace(RULES, bearing_deg=0.0, line_post_every=0, anchor_m=0.0)
    blocks = tuple(
        Block(f"M{i}", shapely.box(i * 700, 0, i * 700 + 600, top), rules)
        for i, top in enumerate((300, 150))
    )
    chosen = PointChoice(("end_post", "vine"), order="row by row", first_number=99_000)
    hand = hand_off_set(project(blocks=blocks, points=chosen))
    return dataclasses.replace(hand, heights=ground_m, heights_said="invented ground")


def control_beside(hand, x_m: float, y_m: float) -> ControlPoint:
    """A control point at a place of the frame."""
    east, north = hand.placing.to_grid(np.array([[x_m, y_m]]))[0].tolist()
    return ControlPoint("CP-7", east, north)


def codes_of(hand) -> list[str]:
    points = hand.points.all()
    fields = (points.owner, points.kind, points.index)
    return [hand.points.code(*p) for p in zip(*(f.tolist() for f in fields), strict=True)]


def described(hand) -> list[str]:
    """Descriptions as TABLE asks for them, made one by one."""
    points, owners = hand.points.all(), hand.points.owners
    told = []
    for owner, kind, index, number in zip(
        points.owner.tolist(),
        points.kind.tolist(),
        points.index.tolist(),
        points.number.tolist(),
        strict=True,
    ):
        row = owners.row[owner] or ""
        feature = hand.hand.table.feature(POINT_KINDS[kind])
        place = f"{row}{owners.letter[owner]}/{index or ''}"
        told.append(f'{feature} "{owners.block[owner]}" {place} #{number}')
    return told


def sealed(hand, wgs84=False):
    return seal_of(hand, "wgs84" if wgs84 else "")
