"""A project with everything in it: laid as it was saved, and every value of it can be given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.commandline import _command_parser, asked_of
from layoutdesk.core.model import (
    Alley,
    Block,
    EdgeWidth,
    Exclusion,
    Guide,
    Override,
    Project,
    RowRules,
    Site,
)
from layoutdesk.formats.crs import crs_named, make_frame
from layoutdesk.formats.project_file import open_project, save_project
from layoutdesk.session.asked_rules import OPTIONS, RULE_OPTIONS, with_asked
from layoutdesk.session.rule_scope import scoped_paragraph
from layoutdesk.session.rule_words import NAMES
from layoutdesk.session.specification import Value, as_text
from layoutdesk.session.stakeout import lay_project, stake_set, write_stake_set
from tests.commandline.laying import lay, table

GRID = "EPSG:32754"


@pytest.fixture(scope="module")
def everything() -> Project:
    """Straight, curved and shared blocks with all that the window can set in them."""
    frame = make_frame(crs_named(GRID), np.array([288_000.0]), np.array([6_180_000.0]), 120.0)
    own = RowRules(
        bearing_deg=11, first_row_m="best", alleys=(Alley(60, 60, 6), Alley(60, 90, 5, 80))
    )
    straight = Block("B1", shapely.box(0, 0, 120, 150), own, edge_widths=(EdgeWidth(0, 1, 11.0),))
    segment = lay_project(Project("", Site(frame, GRID, GRID), (straight,)))[0]
    vine = segment.vines.xy_m[len(segment.vines.xy_m) // 2]
    line = int(segment.segments.line[segment.vines.segment[len(segment.vines.xy_m) // 2]])
    straight = replace(straight, overrides=(Override("vine left out", line, *map(float, vine)),))
    guide = Guide(((200.0, 0.0), (230.0, 80.0), (220.0, 160.0)))
    curved = Block("B2", shapely.box(180, 0, 300, 150), RowRules(bearing_deg=7), guide=guide)
    alike = RowRules(
        bearing_deg=30, leftover="stretch", alley_every_m=40, alleys=(Alley(400, 70, 4),)
    )
    shared = tuple(
        Block(f"B{i}", shapely.box(x, 0, x + 100, 150), alike, common=True)
        for i, x in ((3, 350), (4, 500))
    )
    poles = tuple(Exclusion(shapely.Point(30 * i, 40), 2.0, kind="pole") for i in (1, 2))
    pond = Exclusion(shapely.Point(400, 100).buffer(8), 5.0, "North pond", "pond")
    bare = Exclusion(shapely.Point(250, 60), 1.0)
    site = Site(frame, GRID, GRID)
    return Project("Everything", site, (straight, curved, *shared), (pond, *poles, bare))


@pytest.fixture(scope="module")
def saved(everything, tmp_path_factory):
    path = tmp_path_factory.mktemp("everything") / "x.gpkg"
    save_project(path, everything)
    return path


def asked(*options):
    """What the options ask, through the real parser."""
    return asked_of(_command_parser().parse_args(["lay", "x", "--out", "y", *map(str, options)]))


def values(project, names) -> list[Value]:
    return [p for s in scoped_paragraph(project, names) for p in s if isinstance(p, Value)]


def test_a_project_of_the_window_is_laid_as_the_window_lays_it(everything, saved, tmp_path):
    write_stake_set(tmp_path / "window", stake_set(everything))
    lay(saved, tmp_path / "line")
    for name in ("stakes.csv", "stakes.geojson", "summary.json"):
        written = (tmp_path / "line" / name).read_bytes()
        assert written == (tmp_path / "window" / name).read_bytes(), name
    assert open_project(tmp_path / "line" / "project.gpkg") == everything


def test_what_is_special_in_the_project_is_in_the_stakes(everything, saved, tmp_path):
    """So that the test above compares something."""
    plain = tuple(
        replace(b, overrides=(), guide=None, edge_widths=(), rules=replace(b.rules, alleys=()))
        for b in everything.blocks
    )
    counts = [
        [p.n_vines for p in lay_project(replace(everything, blocks=blocks))]
        for blocks in (everything.blocks, plain)
    ]
    assert all(a != b for a, b in zip(*counts, strict=True))


SINGLE = {
    "bearing": "77", "row-spacing": "3", "vine-spacing": "1.1", "headland": "9", "side-margin": "4",
    "side-angle": "40", "first-row": "0.7", "first-vine": "0.9", "last-vine": "0.6", "min-row": "20",
    "line-post-every": "5", "anchor": "1.5", "leftover": "both ends", "stretch-max": "2",
    "lattice": "staggered", "alley-every": "55", "alley-width": "7", "number-from": "right",
    "first-number": "101", "start-corner": "south-east", "prefix": "V", "share-rules": "yes",
}  # fmt: skip


def test_every_value_of_the_paragraph_has_an_option(everything):
    """Each value is changed by its option, and by it alone, told by the paragraph itself."""
    across = replace(everything.block("B1").rules, leftover="across")
    across = everything.with_block(replace(everything.block("B1"), rules=across))
    seen = set()
    for project, names in (
        *((everything, (b.name,)) for b in everything.blocks),
        (everything, tuple(b.name for b in everything.blocks)),
        (across, ("B1",)),
    ):
        for value in values(project, names):
            kind, *which = value.rule.split(" ", 2)
            seen.add(kind)
            option = {rule: option for option, rule in OPTIONS.items()}[kind]
            if kind == "clearance":
                text = f"{value.name.removeprefix('clearance of ')}=7.5"
            elif kind == "alley":
                text = f"{int(which[0]) + 1}=3.5"
            else:
                text = SINGLE[option]
                text = "no" if kind == "common" and project.block(names[0]).common else text
            blocks = [word for name in names for word in ("--block", name)]
            after = with_asked(
                project, asked(f"--{option}", text, *blocks, *_unbent(project, names, kind))
            )
            if kind == "block_name":
                assert after.block("V")
                continue
            now = {v.rule: v.text for v in values(after, names)}
            assert now.get(value.rule) != value.text, (value.rule, option, text)
    assert seen == set(NAMES) - {"number_from"} | {"clearance", "alley"}


def _unbent(project, names, kind) -> list[str]:
    curved = any(project.block(name).guide is not None for name in names)
    return ["--straight"] if curved and kind in ("bearing_deg", "start_corner") else []


def test_every_option_of_the_rules_is_in_the_names_and_the_other_way_round():
    assert {OPTIONS[o] for o in OPTIONS} == set(NAMES) | {"clearance", "alley"}
    assert set(RULE_OPTIONS) < set(OPTIONS)


def rules(project, rule) -> list:
    return [getattr(b.rules, rule) for b in project.blocks]


def test_rules_for_a_block_reach_it_and_those_it_shares_them_with(everything):
    one = with_asked(everything, asked("--block", "b1", "--row-spacing", "3"))
    assert rules(one, "row_spacing_m") == [3, 2.4, 2.4, 2.4]
    two = with_asked(everything, asked("--block", "B4", "--row-spacing", "3"))
    assert rules(two, "row_spacing_m") == [2.4, 2.4, 3, 3]
    own = with_asked(
        everything, asked("--block", "B4", "--share-rules", "no", "--row-spacing", "3")
    )
    assert rules(own, "row_spacing_m") == [2.4, 2.4, 2.4, 3]
    assert [b.common for b in own.blocks] == [False, False, True, False]
    every = with_asked(everything, asked("--row-spacing", "3", "--block", "B1", "--block", "B2"))
    assert rules(every, "row_spacing_m") == [3, 3, 2.4, 2.4]


def test_a_block_that_begins_to_share_takes_the_shared_rules(everything):
    project = with_asked(everything, asked("--block", "B1", "--share-rules", "Yes"))
    assert project.block("B1").rules == everything.block("B3").rules


def test_the_prefix_names_one_block_or_numbers_several(everything):
    names = [b.name for b in with_asked(everything, asked("--prefix", "V", "--block", "B2")).blocks]
    assert names == ["B1", "V", "B3", "B4"]
    names = [b.name for b in with_asked(everything, asked("--prefix", "V")).blocks]
    assert names == ["V1", "V2", "V3", "V4"]
    some = asked("--prefix", "B", "--block", "B3", "--block", "B4")
    with pytest.raises(Exception, match=r"--prefix: There is a block B1 already"):
        with_asked(everything, some)
    shifted = replace(everything, blocks=everything.blocks[1:])
    assert [b.name for b in with_asked(shifted, asked("--prefix", "B")).blocks] == [
        "B1",
        "B2",
        "B3",
    ]


@pytest.mark.parametrize(
    ("what", "wanted"),
    [
        ("pond", [6, 2, 2, 1]),
        ("North Pond", [6, 2, 2, 1]),
        ("the pond", [6, 2, 2, 1]),
        ("pole", [5, 6, 6, 1]),
        ("2 poles", [5, 6, 6, 1]),
        ("poles", [5, 6, 6, 1]),
        ("the exclusion", [5, 2, 2, 6]),
    ],
)
def test_exclusions_are_named_as_files_and_the_paragraph_name_them(everything, what, wanted):
    project = with_asked(everything, asked("--keep-from", f"{what}=6"))
    assert [e.clearance_m for e in project.exclusions] == wanted


def test_several_clearances_and_alleys_are_given_at_once(everything):
    project = with_asked(
        everything,
        asked(
            "--keep-from", "pond=20ft", "--keep-from", "pole=0", "--alley", "1=0", "--alley", "2=8"
        ),
    )
    assert [round(e.clearance_m, 6) for e in project.exclusions] == [6.096, 0, 0, 1]
    alleys = [[a.width_m for a in b.rules.alleys] for b in project.blocks]
    assert alleys == [[8.0], [], [], []]


def test_an_alley_of_blocks_that_share_their_rules_goes_from_all(everything):
    project = with_asked(everything, asked("--alley", "1=0", "--block", "B3"))
    assert [len(b.rules.alleys) for b in project.blocks] == [2, 0, 0, 0]


def test_a_new_start_corner_moves_no_row(everything):
    placed = asked("--first-row", "0.7", "--block", "B1")  # "best" is found anew, to a centimetre
    before = with_asked(everything, placed).block("B1")
    after = with_asked(everything, replace(placed, start_corner="NE")).block("B1")
    assert (after.rules.bearing_deg, before.rules.bearing_deg) == (191, 11)
    lengths = [
        sum(p.segments.length_m.sum() for p in lay_project(replace(everything, blocks=(b,))))
        for b in (before, after)
    ]
    assert lengths[0] == pytest.approx(lengths[1], abs=1e-6)


def test_a_start_corner_of_a_block_is_that_of_those_it_shares_rules_with(everything):
    project = with_asked(everything, asked("--start-corner", "south", "--block", "B4"))
    assert rules(project, "number_from") == ["left", "left", "right", "right"]


@pytest.mark.parametrize("bearing", ["12", "40"])
def test_a_bearing_for_curved_rows_is_refused_until_they_are_straight(everything, bearing):
    with pytest.raises(
        Exception, match=r"turns no row of B2, which follow a drawn line: add --str"
    ):
        with_asked(everything, asked("--bearing", bearing))
    project = with_asked(everything, asked("--bearing", bearing, "--straight"))
    assert rules(project, "bearing_deg") == [float(bearing)] * 4
    assert project.block("B2").guide is None
    assert "guide" not in as_text(scoped_paragraph(project, ("B2",)))


@pytest.mark.parametrize("form", ["csv", "geojson"])
def test_rows_follow_a_line_from_a_file(outline, tmp_path, form):
    import geopandas

    at = [(288_800, 6_180_000), (288_840, 6_180_060), (288_850, 6_180_120)]
    if form == "csv":
        rows = "".join(f"{e},{n}\n" for e, n in at)
        (tmp_path / "line.csv").write_text(f"easting,northing\n{rows}")
    else:
        line = geopandas.GeoDataFrame(geometry=[shapely.LineString(at)], crs=GRID)
        line.to_crs(4326).to_file(tmp_path / "line.geojson")
    lay(outline, tmp_path / "straight", "--bearing", "20")
    lay(outline, tmp_path / "out", "--guide", tmp_path / f"line.{form}", "--headland", "4")
    block = open_project(tmp_path / "out" / "project.gpkg").blocks[0]
    assert len(block.guide.points_m) == 3
    # every stake of row 12 is as far from the line, less than the millimetre it is written to
    rows = [r for r in table(tmp_path / "out") if "-R012A-V" in r["description"]]
    assert len(rows) > 20
    project = open_project(tmp_path / "out" / "project.gpkg")
    plan = lay_project(project)[0]
    from layoutdesk.core.geometry.curves import to_lines

    _, across = to_lines(plan.course.guide, plan.vines.xy_m)
    lines = plan.segments.line[plan.vines.segment]
    for one in np.unique(lines)[::7]:
        assert np.ptp(across[lines == one]) < 1e-3
    again = lay(tmp_path / "out" / "project.gpkg", tmp_path / "again", "--straight")
    assert open_project(tmp_path / "again" / "project.gpkg").blocks[0].guide is None
    assert again["vines"] > 0
