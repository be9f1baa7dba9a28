"""Hand-offs for tests of tables, drawings and GeoJSON: two small blocks about a pond, with plain transforms."""

import dataclasses
import datetime

import numpy as np
import shapely

from layoutdesk import Block, Exclusion, RowRules
from layoutdesk.core.layout.numbering import segment_letter
from layoutdesk.core.model.handoff import POINT_KINDS, HandOff, PointChoice, PointTable
from layoutdesk.core.staking.lines import plan_lines
from layoutdesk.core.staking.points import code_tail, point_set
from layoutdesk.formats.seal import Seal
from layoutdesk.formats.stake_chunks import handed_off
from tests.formats.test_stakes_csv import stakes_of

SEAL = Seal("Two Gums", "r7", "p1", "2026-11-28", "EPSG:32754", "grid", "metre", 1.0)
LOW = Block("Unten-Süd", shapely.box(0, 0, 24, 40), RowRules(bearing_deg=12.0))
HIGH = Block("B2", shapely.box(80, 0, 135, 45), RowRules(bearing_deg=0, first_number=990))
POND = Exclusion(shapely.Point(115, 25).buffer(5), 3.0, "pond")
CONTROL = (("K1", 40.0, -5.0), ("95", 155.0, 160.0))
EVERYTHING = PointChoice(kinds=POINT_KINDS[1:], order="serpentine", first_number=91)


def slope(xy_m):
    """Ground that falls to the north and rises to the east, and is not known beyond x = 120."""
    return np.where(xy_m[:, 0] > 120, np.nan, 200 + 0.05 * xy_m[:, 0] - 0.02 * xy_m[:, 1])


def hand_of(
    choice=None,
    *,
    blocks=(LOW, HIGH),
    exclusions=(POND,),
    control=CONTROL,
    segments=None,
    heights=None,
    stakes=None,
    **table,
):
    """A hand-off on the grid; `table` goes into its table, `stakes` into its stake-out set."""
    choice = choice or PointChoice()
    said = {"heights": heights, "heights_said": "made for a test"} if heights else {}
    made = stakes_of(*blocks, exclusions=exclusions, **said, **(stakes or {}))
    return dataclasses.replace(
        handed_off(made),
        hand=HandOff(points=choice, table=PointTable(**table)),
        points=point_set(made.plans, exclusions, choice, control=control, segments=segments),
        lines=plan_lines(made.plans, exclusions, segments),
        plan="p1",
        day=datetime.date(2026, 11, 28),
    )


def told(hand):
    """Every point in words, one at a time."""
    points, owners = hand.points.all(), hand.points.owners
    letters = [segment_letter(i) for plan in hand.plans for i in plan.segments.letter.tolist()]
    found = []
    for i in range(len(points)):
        owner, kind, index = int(points.owner[i]), POINT_KINDS[points.kind[i]], int(points.index[i])
        in_row = owner < len(letters)
        found.append(
            {
                "kind": kind,
                "code": owners.code[owner] + code_tail(kind, index),
                "block": owners.block[owner],
                "row": str(owners.row[owner]) if in_row else "",
                "segment": letters[owner] if in_row else "",
                "index": str(index) if index else "",
                "number": str(points.number[i]),
            }
        )
    return found
