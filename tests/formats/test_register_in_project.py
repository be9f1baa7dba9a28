"""The register in the project file: it comes back whole, nothing of it is lost, and changes show."""

from __future__ import annotations

import datetime
import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import time
import zlib
from dataclasses import replace
from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely

from layoutdesk import lay_rows
from layoutdesk.core.model import (
    Block,
    InputProblem,
    Lot,
    Plant,
    Project,
    Register,
    RowRules,
    Site,
    SiteFrame,
)
from layoutdesk.core.model.register import STATES
from layoutdesk.core.planting.on_record import codes_on_record
from layoutdesk.core.planting.standing import recorded, standing
from layoutdesk.formats.project_file import open_project, revision_of, save_project
from layoutdesk.formats.register_tables import FORMAT_TABLE, TABLE
from layoutdesk.session.stakeout import lay_project, stake_set, write_stake_set

SITE = Site(SiteFrame(-34.47043, 148.62046), "EPSG:7844", "EPSG:7855")
RULES = RowRules(bearing_deg=12.0, headland_m=6.0)
BLOCK = Block("B1", shapely.box(0, 0, 90, 120), RULES)
A = Lot(
    "A7", Plant("Saperavi", "9", "5BB"), "a nursery", grafted=datetime.date(2027, 2, 1), tray=54
)
B = Lot("Ölberg 2", Plant("Roter Veltliner"), delivered=400, rejected=3)
SPRING = datetime.date(2027, 9, 1)
WHO = {"by": "N. N.", "when": "2027-09-01T10:00:00+10:00", "source": "form 1.csv", "revision": "0a"}


@pytest.fixture(scope="module")
def plan():
    return lay_rows(BLOCK, None, ())


@pytest.fixture(scope="module")
def project(plan) -> Project:
    """Two lots planted, some lost, one block name changed since."""
    register = recorded(None, [plan], np.arange(600), "planted", SPRING, lots=A, **WHO)
    later = SPRING + datetime.timedelta(40)
    register = recorded(register, [plan], np.arange(500, 900), "planted", None, lots=B, **WHO)
    dead = np.array([3, 70, 510])
    register = recorded(
        register, [plan], dead, "dead", later, causes="frost “hard”", note="☃", **WHO
    )
    register = recorded(
        register, [plan], dead[:1], "replanted", later, lots=replace(B, tray=10), **WHO
    )
    register = recorded(
        register, [plan], np.arange(20), "checked", later, faults=np.arange(20), **WHO
    )
    register = register.with_batch(recorded="", by="", source="rename", renamed=(("B1", "North"),))
    return Project("x", SITE, (replace(BLOCK, name="North"),), register=register)


def same_arrays(a: Register, b: Register) -> bool:
    pairs = [(x.events, y.events) for x, y in zip(a.batches, b.batches, strict=True)]
    pairs += [(x.stand, y.stand) for x, y in zip(a.batches, b.batches, strict=True)]
    return all(
        np.array_equal(value, getattr(y, name)) and getattr(y, name).dtype == value.dtype
        for x, y in pairs
        for name, value in vars(x).items()
        if isinstance(value, np.ndarray)
    )


def test_a_register_comes_back_as_it_was(project, tmp_path):
    save_project(tmp_path / "x.gpkg", project)
    again = open_project(tmp_path / "x.gpkg")
    assert again == project
    register = again.register
    assert register.broken_at is None
    assert same_arrays(project.register, register)
    for a, b in zip(project.register.batches, register.batches, strict=True):
        for name in ("recorded", "by", "source", "revision", "note", "lots", "words", "renamed"):
            assert getattr(a, name) == getattr(b, name)
    assert register.lots == (A, replace(B, tray=10))
    assert (
        revision_of(again) == revision_of(project) != revision_of(replace(project, register=None))
    )


@pytest.mark.parametrize("register", [None, Register()])
def test_a_project_with_nothing_on_record_comes_back(project, tmp_path, register):
    empty = replace(project, register=register)
    save_project(tmp_path / "x.gpkg", empty)
    assert open_project(tmp_path / "x.gpkg").register == register


def test_a_project_of_before_there_was_a_register_opens(project, tmp_path):
    path = tmp_path / "x.gpkg"
    save_project(path, replace(project, register=None))
    with sqlite3.connect(path) as db:
        (text,) = db.execute("SELECT json FROM layoutdesk_document").fetchone()
        said = {k: v for k, v in json.loads(text).items() if k != "planting"} | {"version": 4}
        db.execute("UPDATE layoutdesk_document SET json = ?", (json.dumps(said),))
    assert open_project(path) == replace(project, register=None)


# ----------------------------------------------------------------------------- nothing is lost


def test_saving_over_a_file_never_loses_what_is_on_record_in_it(project, tmp_path):
    path, plans = tmp_path / "x.gpkg", ()
    register = project.register
    short = replace(project, register=Register(register.batches[:3]))
    save_project(path, short, plans)
    save_project(path, project, plans)  # more entries
    other = short.register.with_batch(recorded="", by="", source="another")
    for lost in (short, replace(project, register=None), replace(project, register=other)):
        before = path.read_bytes()
        with pytest.raises(InputProblem) as problem:
            save_project(path, lost, plans)
        assert re.fullmatch(
            r"\S+x\.gpkg holds 6 entries of planting records that would be lost: .+ name[^.]*\.",
            str(problem.value),
        )
        assert path.read_bytes() == before
        assert [p.name for p in tmp_path.iterdir()] == ["x.gpkg"]
    save_project(tmp_path / "other.gpkg", short, plans)
    assert open_project(tmp_path / "other.gpkg") == short


def test_a_stake_out_set_over_a_project_with_records_is_refused(project, tmp_path):
    save_project(tmp_path / "project.gpkg", project)
    bare = replace(project, register=None)
    with pytest.raises(InputProblem, match="planting records that would be lost"):
        write_stake_set(tmp_path, stake_set(bare, lay_project(bare)))
    assert [p.name for p in tmp_path.iterdir()] == ["project.gpkg"]
    write_stake_set(tmp_path, stake_set(project, lay_project(project)))
    assert open_project(tmp_path / "project.gpkg").register == project.register


def test_unsaved_work_may_go_back_behind_what_its_journal_held(project, tmp_path):
    save_project(tmp_path / "x.gpkg", project, draft=True)
    save_project(tmp_path / "x.gpkg", replace(project, register=None), draft=True)
    assert open_project(tmp_path / "x.gpkg").register is None


@pytest.mark.parametrize("statement", [f"DELETE FROM {TABLE}", f"UPDATE {TABLE} SET note = ''"])
def test_the_file_itself_refuses_to_change_or_take_out_entries(project, tmp_path, statement):
    save_project(tmp_path / "x.gpkg", project)
    with (
        sqlite3.connect(tmp_path / "x.gpkg") as db,
        pytest.raises(sqlite3.IntegrityError, match="only added to"),
    ):
        db.execute(statement)


_SAVER = """
import sys
from layoutdesk.formats.project_file import open_project, save_project
from dataclasses import replace
project = open_project(sys.argv[1])
for n in range(1000):
    register = project.register.with_batch(recorded="", by="", source=f"run {n}")
    project = replace(project, register=register)
    save_project(sys.argv[1], project)
    print(n, flush=True)
"""


@pytest.mark.skipif(os.name != "posix", reason="signals as on POSIX")
@pytest.mark.parametrize("after_s", [0.01, 0.02, 0.035, 0.05])
def test_a_kill_while_saving_leaves_the_entries_of_before_or_of_after(project, tmp_path, after_s):
    path = tmp_path / "x.gpkg"
    save_project(path, project)
    saver = subprocess.Popen(
        [sys.executable, "-c", _SAVER, str(path)],
        cwd=Path(__file__).parents[2], stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    for _ in range(3):
        saver.stdout.readline()
    time.sleep(after_s)
    saver.send_signal(signal.SIGKILL)
    said = saver.communicate(timeout=60)[0].split()
    done = int(said[-1]) if said else 2
    register = open_project(path).register
    assert register.broken_at is None
    assert register.begins_with(project.register)
    n = len(register.batches) - len(project.register.batches)
    assert n in (done + 1, done + 2)  # the last one may have been in place but not told


# ------------------------------------------------------------------------- changed from outside


def changed(path, column, value, number) -> None:
    """Another program writes to an entry, triggers or not."""
    with sqlite3.connect(path) as db:
        db.execute(f"DROP TRIGGER {TABLE}_no_update")
        db.execute(f"UPDATE {TABLE} SET {column} = ? WHERE number = ?", (value, number))


@pytest.mark.parametrize("what", ["note", "day"])
def test_what_was_changed_from_outside_shows_and_stays_shown(project, tmp_path, what):
    path = tmp_path / "x.gpkg"
    save_project(path, project)
    if what == "note":
        changed(path, "note", "never mind", 3)
    else:
        days = project.register.batches[2].events.day - 300
        changed(path, "event_day", zlib.compress(days.tobytes()), 3)
    opened = open_project(path)
    assert opened.register.broken_at == 2
    assert opened != project
    longer = opened.register.with_batch(recorded="", by="", source="window")
    save_project(path, replace(opened, register=longer))
    assert open_project(path).register.broken_at == 2


def test_an_entry_taken_out_from_outside_shows(project, tmp_path):
    path = tmp_path / "x.gpkg"
    save_project(path, project)
    with sqlite3.connect(path) as db:
        db.execute(f"DROP TRIGGER {TABLE}_no_delete")
        db.execute(f"DELETE FROM {TABLE} WHERE number = 5")
    assert open_project(path).register.broken_at == 4


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("event_day", b"no zlib"),
        ("event_day", zlib.compress(b"\0" * 4)),
        ("event_place", zlib.compress(b"\xff\x00\xff\x00" * 600)),
        ("lots", "[{}]"),
        ("lots", "["),
        ("events", 10**12),
        ("stand_count", zlib.compress(b"")),
    ],
)
def test_a_register_that_cannot_be_read_is_no_whole_project(project, tmp_path, column, value):
    path = tmp_path / "x.gpkg"
    save_project(path, project)
    changed(path, column, value, 1)
    with pytest.raises(InputProblem, match="is no whole Layout Desk project"):
        open_project(path)


# ------------------------------------------------------------------ without this program


def test_the_file_tells_how_it_is_read_and_a_plain_reading_has_every_lot(project, tmp_path):
    """As somebody would do it in 25 years: the standard library, and what is written in the file."""
    path = tmp_path / "x.gpkg"
    save_project(path, project)
    with sqlite3.connect(path) as db:
        told = "\n".join(what for (what,) in db.execute(f"SELECT what FROM {FORMAT_TABLE}"))
        db.row_factory = sqlite3.Row
        entries = db.execute(f"SELECT * FROM {TABLE} ORDER BY number").fetchall()
    for column in dict(entries[0]):
        assert column in told or column in ("number", "recorded", "by_whom", "places", "events")
    assert "B1-R012A-V034" in told
    assert "\\u00" not in told.replace("\\u escapes", "")

    def numbers(entry, column, kind):
        return np.frombuffer(zlib.decompress(entry[column]), kind).tolist()

    codes, lots, stands = [], {}, {}
    for entry in entries:
        pieces = zip(
            [name for name, times in json.loads(entry["blocks"]) for _ in range(times)],
            *(numbers(entry, f"stand_{c}", "<i4") for c in ("number", "letter", "first", "count")),
            strict=True,
        )
        for block, number, letter, first, count in pieces:
            head = f"{block}-R{number:03d}{chr(65 + letter)}"
            codes += [f"{head}-V{i:03d}" for i in range(first, first + count)]
        for lot in json.loads(entry["lots"]):
            lots.setdefault(lot["name"].casefold(), lot["name"])
        names = list(lots.values())
        for place, what, lot in zip(
            numbers(entry, "event_place", "<i4"),
            numbers(entry, "event_what", "|u1"),
            numbers(entry, "event_lot", "<i2"),
            strict=True,
        ):
            if what in (0, 1):  # no day is out of order here
                stands[codes[place]] = names[lot]
    now = standing(project.register)
    places = np.flatnonzero(now.lot >= 0)
    wanted = [project.register.lots[i].name for i in now.lot[places]]
    assert stands == dict(zip(codes_on_record(project.register, places), wanted, strict=True))
    assert len(stands) == 900


def test_a_gis_shows_what_stands(project, tmp_path):
    path = tmp_path / "x.gpkg"
    plans = lay_project(project)
    save_project(path, project, plans)
    shown = geopandas.read_file(path, layer="as_planted")
    now = standing(project.register)
    places = np.flatnonzero(now.state)
    assert shown["code"].tolist() == codes_on_record(project.register, places, today=True)
    assert shown["state"].tolist() == [STATES[i] for i in now.state[places]]
    lots = [project.register.lots[i] for i in now.lot[places]]
    for column, values in {
        "lot": [lot.name for lot in lots],
        "variety": [lot.plant.variety for lot in lots],
        "clone": [lot.plant.clone for lot in lots],
        "rootstock": [lot.plant.rootstock for lot in lots],
        "nursery": [lot.nursery for lot in lots],
        "cause": [project.register.words[c] if c >= 0 else "" for c in now.cause[places]],
    }.items():
        assert shown[column].tolist() == values
    days = [None if not d else datetime.date.fromordinal(d) for d in now.planted[places].tolist()]
    found = [None if day is geopandas.pd.NaT else day.date() for day in shown["planted"]]
    assert found == days
    assert None in days
    assert np.abs(shown.get_coordinates().to_numpy() - plans[0].vines.xy_m[:900]).max() < 6e-4
    vines = geopandas.read_file(path, layer="vines")
    labels = ["code", "block", "row", "segment", "idx"]
    assert shown[labels].equals(vines.loc[:899, labels])
