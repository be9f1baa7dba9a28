"""Tables of points and text in fixed columns, read back by readers of other people."""

import csv
import dataclasses
import re

import numpy as np
import pandas
import pytest
import shapely

from layoutdesk import Block, Exclusion, InputProblem, RowRules
from layoutdesk.core.model.handoff import COLUMNS, POINT_KINDS, PointChoice
from layoutdesk.formats.point_descriptions import check_template
from layoutdesk.formats.points_csv import MOST_FILES, write_points_tables
from layoutdesk.formats.seal import read_seal
from tests.formats.point_hands import EVERYTHING, HIGH, LOW, POND, SEAL, hand_of, slope, told

SIGNS = {",": "comma", ";": "semicolon", "\t": "tab", " ": "space"}


def written(folder, hand, **more):
    names = write_points_tables(folder, "points", hand, SEAL, **more)
    assert sorted(names) == sorted(p.name for p in folder.iterdir())
    return [folder / name for name in names]


def cells(path, separator=","):
    raw = path.read_bytes()
    assert b"\r" not in raw
    assert raw.endswith(b"\n")
    return list(csv.reader(raw.decode("utf-8").splitlines(), delimiter=separator, strict=True))


def fixed_places(line):
    """Columns by the places that the first line tells, from 0."""
    found = re.findall(r"(\w+)\((\d+)-(\d+)\)", line)
    return {name: (int(a) - 1, int(b)) for name, a, b in found}


@pytest.mark.parametrize("separator", SIGNS)
def test_all_columns_in_any_order_come_back_from_the_csv_module(tmp_path, separator):
    columns = tuple(np.random.default_rng(3).permutation(COLUMNS).tolist())
    hand = hand_of(
        EVERYTHING,
        heights=slope,
        columns=columns,
        separator=SIGNS[separator],
        decimal_mark="point" if separator == "," else "comma",
        decimals=3,
        description="{feature} {block}/{row}{segment}.{index} no {number} {kind} {code}",
        features=(("end_post", "EP"), ("vine", "V")),
    )
    (path,) = written(tmp_path, hand)
    head, *rows, last = cells(path, separator)
    assert tuple(head) == columns
    assert {len(row) for row in (*rows, last)} == {len(columns)}
    wanted, points = told(hand), hand.points.all()
    assert len(rows) == len(wanted) == len(points)
    assert {w["kind"] for w in wanted} == set(POINT_KINDS[1:])
    found = [dict(zip(columns, row, strict=True)) for row in rows]
    own = {"outline": "outline_corner", "exclusion": "exclusion_corner"}
    features = {"end_post": "EP", "vine": "V"}
    for f, w in zip(found, wanted, strict=True):
        kind, feature = own.get(w["kind"], w["kind"]), features.get(w["kind"])
        assert {k: f[k] for k in ("code", "block", "row", "segment", "index", "point", "kind")} == {
            **{k: w[k] for k in ("code", "block", "row", "segment", "index")},
            "point": w["number"],
            "kind": kind,
        }
        assert f["description"] == (
            f"{feature or w['kind'].replace('_', ' ')} {w['block']}/{w['row']}{w['segment']}."
            f"{w['index']} no {w['number']} {kind} {w['code']}"
        )
    mark = "." if separator == "," else ","
    number = re.compile(rf"-?\d+\{mark}\d{{3}}")
    assert all(number.fullmatch(f[k]) for f in found for k in ("easting", "northing"))
    en = [[float(f[k].replace(",", ".")) for k in ("easting", "northing")] for f in found]
    np.testing.assert_allclose(en, hand.placing.placed(points.xy_m), rtol=0, atol=0.50001e-3)
    z = [float(f["elevation"].replace(",", ".") or "nan") for f in found]
    np.testing.assert_allclose(z, slope(points.xy_m), rtol=0, atol=0.50001e-3)
    assert 10 < np.isnan(z).sum() < len(z) / 2


def test_pandas_reads_the_usual_table(tmp_path):
    hand = hand_of()
    (path,) = written(tmp_path, hand)
    table = pandas.read_csv(path, comment="#", dtype={"point": str})
    assert table.columns.tolist() == ["point", "northing", "easting", "elevation", "description"]
    assert table.description.tolist() == [w["code"] for w in told(hand)]
    placed = hand.placing.placed(hand.points.all().xy_m)
    np.testing.assert_allclose(table[["easting", "northing"]], placed, rtol=0, atol=0.50001e-4)
    assert table.elevation.isna().all()


@pytest.mark.parametrize("separator", SIGNS)
def test_separators_quotes_and_line_ends_in_names_and_templates_stay_in_their_cell(
    tmp_path, separator
):
    block = dataclasses.replace(LOW, name="Low; side\tof it")
    odd = Exclusion(POND.shape, 3.0, 'the "old", well\nby the road')
    hand = hand_of(
        PointChoice(kinds=("row_end", "exclusion")),
        blocks=(block,),
        exclusions=(odd,),
        separator=SIGNS[separator],
        columns=("description", "point", "easting", "northing"),
        description='{feature}, "{code}"\t=;',
        features=(("exclusion", "a;b,c d"), ("end_post", "=EP")),
    )
    (path,) = written(tmp_path, hand)
    _, *rows, last = cells(path, separator)
    for row, w in zip(rows, told(hand), strict=True):
        feature = "=EP" if w["kind"] == "end_post" else "a;b,c d"
        code = w["code"].replace("\t", " ").replace("\n", " ")
        assert row[:2] == [f'{feature}, "{code}" =;', w["number"]]
    assert last[0].startswith("#")
    assert read_seal(path).is_whole


def test_names_without_the_separator_need_no_quotes(tmp_path):
    (path,) = written(tmp_path, hand_of(PointChoice(kinds=("end_post",))))
    assert b'"' not in path.read_bytes()


def test_a_space_between_columns_hides_no_empty_place(tmp_path):
    hand = hand_of(
        EVERYTHING,
        heights=slope,
        separator="space",
        columns=("point", "elevation", "easting", "northing", "row", "code"),
    )
    (path,) = written(tmp_path, hand)
    table = pandas.read_csv(path, sep=r"\s+", comment="#", dtype=str)
    wanted = told(hand)
    assert table.code.tolist() == [w["code"] for w in wanted]
    assert table.row.fillna("").tolist() == [w["row"] for w in wanted]
    unknown = np.isnan(slope(hand.points.all().xy_m))
    assert table.elevation.isna().to_numpy().tolist() == unknown.tolist()


@pytest.mark.parametrize("fixed", [False, True])
@pytest.mark.parametrize("has_header", [False, True])
def test_a_table_of_too_many_points_is_split_with_head_and_seal_in_each(
    tmp_path, fixed, has_header
):
    choice = dataclasses.replace(EVERYTHING, most_points=150)
    hand = hand_of(choice, has_header=has_header)
    paths = written(tmp_path, hand, fixed=fixed)
    n = len(hand.points)
    assert [p.stem for p in paths] == [f"points-{i}" for i in range(1, -(-n // 150) + 1)]
    numbers, lines = [], []
    for path in paths:
        text = path.read_text(encoding="utf-8").splitlines()
        assert has_header == text[0].startswith("point")
        assert text[-1].startswith("#")
        lines.append(text[has_header:-1])
        numbers += [re.split(r"[ ,]+", line.strip())[0] for line in lines[-1]]
        assert read_seal(path).is_whole
        assert read_seal(path).seal == SEAL
    assert list(map(len, lines)) == [150] * (len(paths) - 1) + [n - 150 * (len(paths) - 1)]
    assert numbers == [w["number"] for w in told(hand)]
    if fixed:  # columns stand alike in all files
        assert len({line.index(".") for some in lines for line in some}) == 1


def test_no_more_files_than_anybody_can_use(tmp_path):
    block = Block("Long", shapely.box(0, 0, 40, 150), RowRules(bearing_deg=0))
    hand = hand_of(PointChoice(most_points=1), blocks=(block,))
    assert len(hand.points) > MOST_FILES
    with pytest.raises(InputProblem, match="allow more points in a table"):
        written(tmp_path, hand)


def test_the_last_line_is_a_record_whose_coordinates_are_empty(tmp_path):
    (path,) = written(tmp_path, hand_of())
    *_, last = cells(path)
    assert last[:4] == ["#", "", "", ""]
    assert last[4].startswith("Layout-Desk-seal|project=Two%20Gums|revision=r7|")
    raw = path.read_bytes()
    path.write_bytes(raw.replace(b"5", b"6", 1))
    assert read_seal(path).is_whole is False


def test_a_table_for_programs_that_stumble_has_points_alone(tmp_path):
    (path,) = written(tmp_path, hand_of(is_sealed=False, has_header=False))
    assert len(cells(path)) == len(hand_of().points)
    assert read_seal(path) is None


@pytest.mark.parametrize("east_north", [(512_345.6, 6_123_456.7), (-40.0, -75.0)])
def test_fixed_columns_stand_where_the_first_line_says(tmp_path, east_north):
    hand = hand_of(
        EVERYTHING,
        heights=slope,
        columns=("description", "point", "easting", "northing", "elevation", "block", "index"),
        description="{feature} {code}",
        stakes={"east_north": east_north},
        decimal_mark="point",
    )
    (path,) = written(tmp_path, hand, fixed=True)
    head, *lines, last = path.read_text(encoding="utf-8").splitlines()
    places = fixed_places(head)
    assert list(places) == list(hand.hand.table.columns)
    assert last.startswith("# Layout-Desk-seal|")
    wanted, points = told(hand), hand.points.all()
    assert any("ü" in line for line in lines)
    for line, w in zip(lines, wanted, strict=True):
        cell = {name: line[a:b] for name, (a, b) in places.items()}
        assert cell["description"].rstrip() == f"{w['kind'].replace('_', ' ')} {w['code']}"
        assert cell["point"].endswith(w["number"])
        assert not cell["easting"].endswith(" ")
        outside = set(range(len(line))) - {i for a, b in places.values() for i in range(a, b)}
        assert {line[i] for i in outside} <= {" "}
    table = pandas.read_fwf(
        path, colspecs=list(places.values()), skiprows=1, skipfooter=1, header=None,
        names=list(places), dtype={"block": str}, engine="python",
    )  # fmt: skip
    placed = hand.placing.placed(points.xy_m)
    np.testing.assert_allclose(table[["easting", "northing"]], placed, rtol=0, atol=0.50001e-4)
    np.testing.assert_allclose(table.elevation, slope(points.xy_m), rtol=0, atol=0.50001e-4)
    assert table.block.fillna("").tolist() == [w["block"] for w in wanted]
    assert table["index"].fillna(0).astype(int).tolist() == [int(w["index"] or 0) for w in wanted]
    assert (placed.min() < 0) == (east_north[0] < 0)


@pytest.mark.parametrize("fixed", [False, True])
def test_no_points_leave_the_head_and_the_seal(tmp_path, fixed):
    hand = hand_of(blocks=(Block("Tiny", shapely.box(0, 0, 5, 5)),), exclusions=())
    (path,) = written(tmp_path, hand, fixed=fixed)
    assert len(path.read_text().splitlines()) == 2
    assert read_seal(path).is_whole


@pytest.mark.parametrize("fixed", [False, True])
def test_a_long_table_is_made_some_at_a_time_and_may_be_cancelled(tmp_path, fixed):
    rules = RowRules(bearing_deg=0, vine_spacing_m=0.3, row_spacing_m=1.0)
    hand = hand_of(blocks=(Block("Big", shapely.box(0, 0, 150, 200), rules),))
    sizes, shares = [], []

    def to_grid(xy):
        sizes.append(len(xy))
        return xy

    counted = dataclasses.replace(hand, placing=dataclasses.replace(hand.placing, to_grid=to_grid))
    write_points_tables(tmp_path, "s", counted, SEAL, fixed=fixed, progress=shares.append)
    assert max(sizes) <= 65_536
    assert sum(sizes) == len(hand.points) * (2 if fixed else 1) > 80_000
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_points_tables(tmp_path, "s", hand, SEAL, fixed=fixed, progress=stop)


def test_a_site_outside_the_survey_system_is_refused_in_a_sentence(tmp_path):
    hand = hand_of()
    placing = dataclasses.replace(hand.placing, to_grid=lambda xy: xy * np.inf)
    with pytest.raises(InputProblem, match="outside the survey system WGS 84 / UTM zone 54S"):
        written(tmp_path, dataclasses.replace(hand, placing=placing))


@pytest.mark.parametrize(
    ("template", "told"),
    [("", "empty"), ("{cod}", "{cod} is none of {code}"), ("{code", "brace"), ("}{code}", "brace")],
)
def test_a_template_that_cannot_be_written_is_refused_in_a_sentence(template, told):
    with pytest.raises(InputProblem, match=re.escape(told)):
        check_template(template)


def test_a_chosen_part_of_the_rows_is_written_alone(tmp_path):
    n = sum(p.n_segments for p in hand_of().plans)
    some = np.zeros(n, bool)
    some[[1, n - 1]] = True
    hand = hand_of(PointChoice(kinds=("end_post",)), segments=some)
    (path,) = written(tmp_path, hand)
    _, *rows, _ = cells(path)
    codes = hand.points.owners.code
    assert [r[-1] for r in rows] == [f"{codes[i]}-E{k}" for i in (1, n - 1) for k in (1, 2)]
    assert HIGH.name in codes[n - 1]
