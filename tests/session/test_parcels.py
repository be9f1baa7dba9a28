"""Many parcels compared in one run: the same figures as one by one, and no row lost or doubled."""

from __future__ import annotations

import csv
import json
import os
import signal
import time
from collections import Counter
from dataclasses import replace

import geopandas
import numpy as np
import pytest
import shapely

from layoutdesk.core.compare.sweep import sweep
from layoutdesk.core.model import Candidate, InputProblem, RowRules, Study
from layoutdesk.core.model.study import Canopy
from layoutdesk.session.opening import project_from_outline
from layoutdesk.session.parcels import ParcelsRequest, compare_parcels
from layoutdesk.session.parcels_crew import KILLS, LocalCrew, results
from layoutdesk.session.parcels_parts import WORK, WorkFolder
from layoutdesk.session.parcels_work import ParcelSettings, Task, joined, work_parcels
from tests.parcels_made import CHILE, PORTUGAL, SOUTH_AFRICA, dying_work, fields, layer

BEARINGS = (0.0, 40.0, 90.0, 130.0)
SETTINGS = ParcelSettings(BEARINGS, RowRules(headland_m=9), sun=False)
FILES = ["parcels.csv", "parcels.json", "parcels_best.csv"]


class InProcess:
    """A crew of nobody: tasks are done where they are begun."""

    def __init__(self, settings, work=work_parcels, stop_after=None):
        self.settings, self.work, self.stop_after, self.begun = settings, work, stop_after, {}

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass

    def free(self):
        return not self.begun

    def begin(self, task):
        if self.stop_after is not None:
            if not self.stop_after:
                raise KeyboardInterrupt
            self.stop_after -= 1
        key = object()
        self.begun[key] = self.work(self.settings, task)
        return key

    def ended(self, begun):
        return set(begun)

    def result(self, begun):
        return self.begun.pop(begun)


@pytest.fixture
def here(monkeypatch):
    """Runs of this test work in this process; a number stops them after so many parts."""
    crews = {"stop_after": None}

    def crew(request):
        return InProcess(request.settings, stop_after=crews["stop_after"])

    monkeypatch.setattr("layoutdesk.session.parcels._crew", crew)
    return crews


@pytest.fixture(scope="module")
def parcels(tmp_path_factory):
    return layer(tmp_path_factory.mktemp("parcels") / "parcels.gpkg", 70)


def asked(path, out, **how) -> ParcelsRequest:
    how = {"settings": SETTINGS, "id_field": "code", **how}
    return ParcelsRequest(path, out, **how)


def rows(out) -> list[dict]:
    with open(out / "parcels.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def content(out) -> dict:
    return {p.name: p.read_bytes() for p in out.iterdir()}


def keys(out) -> Counter:
    return Counter((r["parcel"], r["bearing_deg"]) for r in rows(out))


@pytest.fixture(scope="module")
def undisturbed(parcels, tmp_path_factory):
    """What one run from beginning to end writes."""
    out = tmp_path_factory.mktemp("undisturbed") / "out"
    compare_parcels(asked(parcels, out, n_processes=2))
    return out


def test_every_parcel_has_one_row_a_bearing_in_the_order_of_the_layer(undisturbed):
    found = rows(undisturbed)
    assert [(r["parcel"], float(r["bearing_deg"])) for r in found] == [
        (f"Q{k:05d}", b) for k in range(70) for b in BEARINGS
    ]
    assert {r["name"] for r in found} == {f"Field {k}" for k in range(70)}
    facts = json.loads((undisturbed / "parcels.json").read_text())
    assert facts["counts"] == {
        "parcels": 70, "compared": 70, "refused": 0, "without_rows": 0, "bearings": 4, "rows": 280,
    }  # fmt: skip
    assert sorted(p.name for p in undisturbed.iterdir()) == FILES


@pytest.mark.parametrize("crs", [PORTUGAL, CHILE, SOUTH_AFRICA, "EPSG:4326"])
def test_figures_are_those_of_the_parcel_opened_by_itself(tmp_path, here, crs):
    """In a frame of its own, made the quick way: the counts are equal and the lengths to 0.1 mm."""
    made = fields(5, PORTUGAL if crs == "EPSG:4326" else crs, seed=8).to_crs(crs)
    made.to_file(tmp_path / "all.gpkg", layer="parcels")
    settings = replace(SETTINGS, height_m=350.0)
    compare_parcels(asked(tmp_path / "all.gpkg", tmp_path / "out", settings=settings))
    found = iter(rows(tmp_path / "out"))
    for k in range(5):
        made.iloc[[k]].to_file(tmp_path / f"{k}.gpkg")
        project = project_from_outline(tmp_path / f"{k}.gpkg", height_m=350.0)
        own = sweep(project.blocks, (), Candidate(headland_m=9), BEARINGS)
        for b in range(len(BEARINGS)):
            row = next(found)
            for name in ("vines", "rows", "segments", "short_rows", "end_posts"):
                assert int(row[name]) == own.values[name][b], name
            assert float(row["row_length_m"]) == pytest.approx(
                own.values["row_length_m"][b], abs=0.06
            )
            assert float(row["first_row_m"]) == pytest.approx(own.first_row_m[b], abs=1e-4)


def test_the_best_first_row_is_told_so_that_the_row_can_be_laid(tmp_path, here):
    """Looked for more coarsely than for one layout; what is written is what that offset gives."""
    fields(1, CHILE).to_file(tmp_path / "p.gpkg")
    best = replace(SETTINGS, rules=RowRules(first_row_m="best"))
    compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out", settings=best))
    project = project_from_outline(tmp_path / "p.gpkg")
    for row in rows(tmp_path / "out"):
        first, bearing = float(row["first_row_m"]), float(row["bearing_deg"])
        own = sweep(project.blocks, (), Candidate(first_row_m=first), [bearing]).values
        flush = sweep(project.blocks, (), Candidate(first_row_m=0.0), [bearing]).values
        assert int(row["vines"]) == own["vines"][0] >= flush["vines"][0]


def test_a_hedge_as_wide_as_the_rows_leaves_the_sun_empty(tmp_path, here):
    fields(1).to_file(tmp_path / "p.gpkg")
    wide = Study(canopy=Canopy(width_m=2.4))
    settings = replace(SETTINGS, study=wide, sun=True)
    compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out", settings=settings))
    row = rows(tmp_path / "out")[0]
    assert row["sun_left_h"] == ""
    assert int(row["vines"]) > 0


def test_parts_of_a_parcel_are_blocks_whose_counts_add_up(tmp_path, here):
    a, b = shapely.box(0, 0, 100, 150), shapely.box(200, 0, 280, 150)
    shift = shapely.transform([a, b], lambda xy: xy + [560_000, 4_250_000])
    both = geopandas.GeoDataFrame(
        {"code": ["A", "B", "AB"]},
        geometry=[*shift, shapely.MultiPolygon(list(shift))],
        crs=PORTUGAL,
    )
    both.to_file(tmp_path / "p.gpkg")
    compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    of = {(r["parcel"], r["bearing_deg"]): r for r in rows(tmp_path / "out")}
    for bearing in ("0", "40"):
        alone = [int(of[p, bearing]["vines"]) for p in ("A", "B")]
        assert int(of["AB", bearing]["vines"]) == pytest.approx(sum(alone), abs=3)
        assert int(of["AB", bearing]["segments"]) == sum(
            int(of[p, bearing]["segments"]) for p in "AB"
        )


def test_neighbours_that_share_an_edge_stay_two_parcels(tmp_path, here):
    """In one project touching outlines are joined; in a cadastre nearly every parcel touches another."""
    shapes = shapely.transform(
        [shapely.box(0, 0, 100, 150), shapely.box(100, 0, 200, 150)],
        lambda xy: xy + [560_000, 4_250_000],
    )
    geopandas.GeoDataFrame({"code": ["A", "B"]}, geometry=list(shapes), crs=PORTUGAL).to_file(
        tmp_path / "p.gpkg"
    )
    compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    assert keys(tmp_path / "out") == Counter(
        {(p, f"{b:g}"): 1 for p in ("A", "B") for b in BEARINGS}
    )


def test_the_best_bearing_of_each_measure_is_that_of_the_rows(undisturbed):
    with open(undisturbed / "parcels_best.csv", newline="", encoding="utf-8") as file:
        best = list(csv.DictReader(file))
    by_parcel: dict = {}
    for row in rows(undisturbed):
        by_parcel.setdefault(row["parcel"], []).append(row)
    assert len(best) == 70 * len({b["measure"] for b in best})
    for line in best:
        values = {r["bearing_deg"]: float(r[line["measure"]]) for r in by_parcel[line["parcel"]]}
        pick, other = (max, min) if line["better"] == "more" else (min, max)
        assert float(line["value"]) == pick(values.values()) == values[line["bearing_deg"]]
        assert float(line["worst_value"]) == other(values.values())
        assert int(line["as_good"]) == sum(v == float(line["value"]) for v in values.values())


def test_a_bearing_at_which_nothing_stands_is_not_the_best_for_its_few_short_rows(tmp_path, here):
    """A strip 30 m wide holds rows along it only: across it all pieces are under the least row."""
    strip = shapely.box(560_000, 4_250_000, 560_030, 4_250_400)
    geopandas.GeoDataFrame({"code": ["S"]}, geometry=[strip], crs=PORTUGAL).to_file(
        tmp_path / "p.gpkg"
    )
    compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    of = {r["bearing_deg"]: r for r in rows(tmp_path / "out")}
    assert of["90"]["segments"] == "0"
    assert int(of["0"]["segments"]) > 0
    with open(tmp_path / "out" / "parcels_best.csv", newline="", encoding="utf-8") as file:
        best = {line["measure"]: line for line in csv.DictReader(file)}
    assert best["end_posts"]["bearing_deg"] == "0"
    assert int(best["end_posts"]["value"]) > 0


def test_exclusions_reach_the_parcels_they_are_near(tmp_path, here):
    """From a file in another coordinate system, each with its clearance or that of its kind."""
    made = fields(4)
    made.to_file(tmp_path / "p.gpkg")
    pond = made.geometry.iloc[2].representative_point().buffer(15)
    geopandas.GeoDataFrame({"kind": ["pond"]}, geometry=[pond], crs=PORTUGAL).to_crs(4326).to_file(
        tmp_path / "pond.geojson"
    )

    def vines(out, **how):
        compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / out, **how))
        return np.array([int(r["vines"]) for r in rows(tmp_path / out)]).reshape(4, -1)

    free = vines("free")
    near = vines("near", exclusions=((tmp_path / "pond.geojson", None),))
    far = vines("far", exclusions=((tmp_path / "pond.geojson", None),), keep_from=("pond=20",))
    assert (near[[0, 1, 3]] == free[[0, 1, 3]]).all()
    assert (near[2] < free[2]).all()
    assert (far[2] < near[2]).all()


# What cannot be used


def test_a_parcel_that_cannot_be_used_is_refused_in_a_sentence_and_the_others_go_on(tmp_path, here):
    made = fields(6)
    line = shapely.Polygon([(560_000, 4_250_000), (560_050, 4_250_000), (560_100, 4_250_000)])
    geometry = [None, *made.geometry[1:4], line, made.geometry[5]]
    geopandas.GeoDataFrame(made.drop(columns="geometry"), geometry=geometry, crs=PORTUGAL).to_file(
        tmp_path / "p.gpkg"
    )
    facts = compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    assert {r["parcel"] for r in rows(tmp_path / "out")} == {"Q00001", "Q00002", "Q00003", "Q00005"}
    why = {r["parcel"]: r["why"] for r in facts["refused"]}
    assert why["Q00000"] == "Feature 1 of p.gpkg has no geometry; draw it or leave it out."
    assert why["Q00004"].startswith("Feature 5 of p.gpkg holds no shape with usable corners")
    assert facts["counts"]["refused"] == 2


def test_a_crossing_outline_is_mended_and_said(tmp_path, here):
    made = fields(2)
    tie = shapely.Polygon([(0, 0), (200, 200), (200, 0), (0, 200)])
    tie = shapely.transform(tie, lambda xy: xy + [560_000, 4_250_000])
    made.loc[1, "geometry"] = tie
    made.to_file(tmp_path / "p.gpkg")
    facts = compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    assert facts["findings"]["counts"] == {"outline-repaired": 1}
    assert facts["findings"]["first"][0]["parcel"] == "Q00001"
    assert len(rows(tmp_path / "out")) == 2 * len(BEARINGS)


def test_a_folder_is_gone_through_file_by_file(tmp_path, here):
    """Formats mixed, one file in a folder below, one that is nothing, results lying in it already."""
    folder = tmp_path / "outlines"
    (folder / "north").mkdir(parents=True)
    made = fields(4)
    made.iloc[[0]].to_file(folder / "east.gpkg")
    made.iloc[[1, 2]].to_crs(4326).to_file(folder / "north" / "two.geojson")
    made.iloc[[3]].to_file(folder / "west.shp")
    (folder / "broken.kml").write_text("<kml")
    how = {"id_field": None}
    facts = compare_parcels(asked(folder, folder / "out", **how))
    expected = ["east", "north/two-1", "north/two-2", "west"]
    assert list(dict.fromkeys(r["parcel"] for r in rows(folder / "out"))) == expected
    assert [r["parcel"] for r in facts["refused"]] == ["broken"]
    first = content(folder / "out")
    compare_parcels(asked(folder, folder / "out", **how))
    assert content(folder / "out") == first


def test_ids_that_are_there_twice_are_told_apart(tmp_path, here):
    made = fields(3)
    made["code"] = ["A", "A", ""]
    made.to_file(tmp_path / "p.gpkg")
    facts = compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    found = list(dict.fromkeys(r["parcel"] for r in rows(tmp_path / "out")))
    assert found == ["A", "A #2", "3"]
    assert [f["code"] for f in facts["findings"]["of_files"]] == ["parcel-id-twice"]


def test_whole_numbers_that_are_kept_as_decimals_are_ids_without_them(tmp_path, here):
    made = fields(2)
    made["code"] = [12.0, np.nan]
    made.to_file(tmp_path / "p.gpkg")
    compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    assert list(dict.fromkeys(r["parcel"] for r in rows(tmp_path / "out"))) == ["12", "2"]


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"id_field": "nr"}, "--id 'nr' is no field of p.gpkg: its fields are code, name."),
        ({"layer": "x"}, "--layer 'x' is not in p.gpkg: its layers are p."),
    ],
)
def test_fields_and_layers_that_are_not_there_are_named(tmp_path, here, how, said):
    fields(1).to_file(tmp_path / "p.gpkg")
    with pytest.raises(InputProblem, match=f"^{said}$"):
        compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out", **how))
    assert not (tmp_path / "out").exists()


def test_of_several_layers_one_must_be_named(tmp_path, here):
    path = tmp_path / "p.gpkg"
    fields(1).to_file(path, layer="a")
    fields(2).to_file(path, layer="b")
    with pytest.raises(InputProblem, match=r"\(a, b\): name one with --layer\.$"):
        compare_parcels(asked(path, tmp_path / "out"))
    facts = compare_parcels(asked(path, tmp_path / "out", layer="b"))
    assert facts["counts"]["parcels"] == 2


def test_numbers_that_fit_no_parcel_stop_the_run_at_once(tmp_path, here):
    """A layer in metres that says it is in degrees: one sentence, not one for each parcel."""
    fields(50).set_crs(4326, allow_override=True).to_file(tmp_path / "p.gpkg")
    with pytest.raises(InputProblem, match="which are no degrees although"):
        compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    assert not (tmp_path / "out").exists()


def test_a_formula_in_a_name_is_made_harmless(tmp_path, here):
    made = fields(1)
    made["name"] = ["=1+1"]
    made.to_file(tmp_path / "p.gpkg")
    compare_parcels(asked(tmp_path / "p.gpkg", tmp_path / "out"))
    assert rows(tmp_path / "out")[0]["name"] == "'=1+1"


# Going on


@pytest.mark.parametrize("parts", [0, 1, 30])
def test_a_stopped_run_goes_on_and_ends_with_the_same_files(
    parcels, undisturbed, tmp_path, here, parts
):
    out = tmp_path / "out"
    here["stop_after"] = parts
    with pytest.raises(KeyboardInterrupt):
        compare_parcels(asked(parcels, out))
    assert [p.name for p in out.iterdir()] == [WORK]
    here["stop_after"] = None
    shown = []
    compare_parcels(asked(parcels, out), lambda g: shown.append((g.taken_up, g.done)))
    assert shown[0] == (parts, parts)
    assert content(out) == content(undisturbed)


def stopped(parcels, out, here, **how):
    here["stop_after"] = 5
    with pytest.raises(KeyboardInterrupt):
        compare_parcels(asked(parcels, out, **how))
    here["stop_after"] = None


def test_a_run_with_other_options_is_refused_unless_asked_anew(parcels, tmp_path, here):
    out = tmp_path / "out"
    stopped(parcels, out, here)
    other = replace(SETTINGS, rules=replace(SETTINGS.rules, row_spacing_m=2.2))
    with pytest.raises(InputProblem, match=r"rules\.row_spacing_m 2\.4, now 2\.2.*add --anew"):
        compare_parcels(asked(parcels, out, settings=other))
    compare_parcels(asked(parcels, out, settings=other, anew=True))
    assert {r["row_spacing_m"] for r in rows(out)} == {"2.2"}
    assert keys(out) == Counter({(f"Q{k:05d}", f"{b:g}"): 1 for k in range(70) for b in BEARINGS})


def test_a_run_over_a_changed_input_is_refused(tmp_path, here):
    path, out = layer(tmp_path / "p.gpkg", 12), tmp_path / "out"
    stopped(path, out, here)
    path.unlink()
    layer(path, 12, seed=4)
    with pytest.raises(InputProblem, match="of another input, or of one that has changed since"):
        compare_parcels(asked(path, out))


def test_damaged_parts_are_made_anew(parcels, undisturbed, tmp_path, here):
    out = tmp_path / "out"
    stopped(parcels, out, here)
    cut, flipped = out / WORK / "part-000001", out / WORK / "part-000003"
    cut.write_bytes(cut.read_bytes()[:-40])
    data = bytearray(flipped.read_bytes())
    data[-40] ^= 1
    flipped.write_bytes(data)
    compare_parcels(asked(parcels, out))
    assert content(out) == content(undisturbed)


def test_a_second_run_in_the_same_folder_waits_outside(parcels, tmp_path, here):
    with (
        WorkFolder(tmp_path / "out", {"program": "", "input": "", "options": {}}),
        pytest.raises(InputProblem, match="Another run is at work"),
    ):
        compare_parcels(asked(parcels, tmp_path / "out"))


def test_earlier_results_stay_until_new_ones_are_whole(parcels, undisturbed, tmp_path, here):
    out = tmp_path / "out"
    compare_parcels(asked(parcels, out))
    stopped(parcels, out, here, settings=replace(SETTINGS, bearings_deg=(5.0,)))
    assert {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()} == content(undisturbed)


# Processes that die


def tasks_of(made, size, tmp_path):
    from layoutdesk.formats.reading.parcel_files import parcel_files
    from layoutdesk.formats.reading.parcels import ParcelReader

    made.to_file(tmp_path / "p.gpkg")
    read = list(ParcelReader(parcel_files(tmp_path / "p.gpkg"), id_field="code"))
    groups = [tuple(read[k : k + size]) for k in range(0, len(read), size)]
    return [(k, Task(g, ((),) * len(g))) for k, g in enumerate(groups)]


posix = pytest.mark.skipif(os.name != "posix", reason="signals as on POSIX")


@posix
def test_a_process_that_dies_costs_no_row_and_a_parcel_that_kills_twice_is_refused(tmp_path):
    made = fields(12)
    made.loc[1, "name"] = f"dies once {tmp_path / 'mark'}"
    made.loc[7, "name"] = "dies"
    tasks = tasks_of(made, 4, tmp_path)
    with LocalCrew(SETTINGS, 2, dying_work) as crew:
        found = dict(results(crew, tasks))
    assert sorted(found) == [0, 1, 2]
    for k, task in tasks:
        whole = work_parcels(SETTINGS, task)
        if k != 1:
            assert found[k] == whole
    rest = [p for p in tasks[1][1].parcels if p.parcel != "Q00007"]
    assert found[1].rows == work_parcels(SETTINGS, Task(tuple(rest), ((),) * 3)).rows
    assert [(r.parcel, r.why) for r in found[1].refused] == [("Q00007", KILLS)]
    assert found[1].n_parcels == 4


@posix
def test_processes_that_cannot_begin_end_the_run_instead_of_refusing_all(tmp_path, monkeypatch):
    monkeypatch.setattr("layoutdesk.session.parcels_crew.ready", os.abort)
    tasks = tasks_of(fields(8), 1, tmp_path)
    with (
        pytest.raises(InputProblem, match="cannot be started here"),
        LocalCrew(SETTINGS, 1) as crew,
    ):
        list(results(crew, tasks))


@posix
def test_processes_go_when_the_crew_is_left(tmp_path):
    """At once, also amid a task: after Ctrl+C nobody waits for parcels that are not wanted any more."""
    tasks = tasks_of(fields(2), 1, tmp_path)
    with LocalCrew(replace(SETTINGS, bearings_deg=tuple(np.arange(0, 180, 0.001))), 2) as crew:
        begun = [crew.begin(task) for _, task in tasks]
        pids = [p for m in crew._members for p in m._pool._processes]
        time.sleep(0.5)
        assert not any(f.done() for f in begun)
    until = time.monotonic() + 5
    while any(map(_alive, pids)):
        assert time.monotonic() < until
        time.sleep(0.02)


def _alive(pid: int) -> bool:
    try:
        with open(f"/proc/{pid}/stat") as file:
            return file.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_joined_results_add_up():
    assert joined([]) == joined([joined([]), joined([])])


# A cluster


@posix
def test_a_cluster_worker_that_is_killed_costs_no_row(tmp_path):
    """One of two worker processes is killed half way; the other, and its successor, do the rest."""
    distributed = pytest.importorskip("distributed")
    import dask

    path, out = layer(tmp_path / "p.gpkg", 64), tmp_path / "out"
    settings = replace(SETTINGS, bearings_deg=tuple(range(0, 180, 2)))
    quiet = {
        "distributed.worker.memory.terminate": False,
        "distributed.comm.timeouts.connect": "5s",
        "distributed.admin.log-format": "",
    }
    killed = []
    with (
        dask.config.set(quiet),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=2, processes=True, dashboard_address=None,
            silence_logs=50,
        ) as cluster,
    ):  # fmt: skip

        def kill(going):
            if going.done >= 12 and not killed:
                killed.append(cluster.workers[0].pid)
                os.kill(killed[0], signal.SIGKILL)

        request = asked(path, out, settings=settings, scheduler=cluster.scheduler_address)
        facts = compare_parcels(request, kill)
    assert killed
    assert facts["counts"]["refused"] == 0
    assert keys(out) == Counter(
        {(f"Q{k:05d}", str(b)): 1 for k in range(64) for b in range(0, 180, 2)}
    )
    compare_parcels(asked(path, tmp_path / "alone", settings=settings, n_processes=2))
    assert content(out) == content(tmp_path / "alone")


def test_a_scheduler_that_is_not_there_is_one_sentence(parcels, tmp_path, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("layoutdesk.session.parcels_cluster._CONNECT_S", 1)
    with pytest.raises(InputProblem, match="'tcp://127.0.0.1:1' cannot be reached"):
        compare_parcels(asked(parcels, tmp_path / "out", scheduler="tcp://127.0.0.1:1"))
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("address", ["nonsense", "nonsense:8786", "carrier://pigeon:1"])
def test_an_address_that_is_none_begins_no_client(address, parcels, tmp_path, monkeypatch):
    """A client that never began complains when it is thrown away, long after the sentence."""
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(distributed, "Client", None)
    with pytest.raises(InputProblem, match=f"The scheduler '{address}' cannot be reached"):
        compare_parcels(asked(parcels, tmp_path / "out", scheduler=address))
    assert not (tmp_path / "out").exists()


def test_a_layer_is_not_named_in_vain(parcels, tmp_path):
    shapes = tmp_path / "shapes.shp"
    geopandas.read_file(parcels).to_file(shapes)
    with pytest.raises(InputProblem, match="--layer 'north' is for a GeoPackage, and shapes.shp"):
        compare_parcels(asked(shapes, tmp_path / "out", layer="north"))
    assert not (tmp_path / "out").exists()


def test_without_the_extra_the_option_says_how_to_have_it(parcels, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(InputProblem, match=r"pip install 'layoutdesk\[cluster\]'"):
        compare_parcels(asked(parcels, tmp_path / "out", scheduler="tcp://127.0.0.1:1"))
