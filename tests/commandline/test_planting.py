"""layoutdesk planting: plans, files, forms read back, what is recorded and told, one sentence for bad input."""

from __future__ import annotations

import csv
import io
import json
import shutil
import signal
import subprocess
import sys
import time

import pytest

from layoutdesk.commandline import main
from layoutdesk.formats.project_file import open_project
from layoutdesk.session.asked_planting import LISTED_OPTIONS, PLANTING_MEANINGS, PLANTING_OPTIONS
from layoutdesk.session.field_forms import planted_form, write_form
from layoutdesk.session.planting_counted import counted_planting
from layoutdesk.session.planting_files import FILES
from tests.commandline.laying import ROOT, posix

LOT = "27-A; Grüner Veltliner; GV 3; 5BB; ordered=6000; delivered=6000; tray=25; came=2026-01-15; tags=all"
ASKED = ("--begins", "2026-02-02", "--lot", LOT, "--assign", "27-A: B1")
DAY = ("--day", "2026-02-02")
BY = ("--by", "Mara")


def planted(capsys, source, *options) -> dict:
    """What --json prints of a planting that must succeed."""
    capsys.readouterr()
    assert main(["planting", str(source), "--json", *map(str, options)]) == 0
    return json.loads(capsys.readouterr().out)


def said(capsys, *arguments, status=0) -> str:
    """What a command prints on standard output."""
    capsys.readouterr()
    assert main(["planting", *map(str, arguments)]) == status
    return capsys.readouterr().out


def refusal(capsys, *arguments) -> str:
    """The one sentence with which a command is refused."""
    capsys.readouterr()
    assert main(["planting", *map(str, arguments)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    (sentence,) = told.err.splitlines()
    assert sentence.startswith("layoutdesk: ")
    return sentence


@pytest.fixture(scope="module")
def saved(tmp_path_factory, project):
    """A project with a lot in every row, planting begins on a Monday."""
    path = tmp_path_factory.mktemp("saved") / "project.gpkg"
    shutil.copy(project, path)
    assert main(["planting", str(path), *ASKED, "--save"]) == 0
    return path


@pytest.fixture
def site(saved, tmp_path):
    path = tmp_path / "project.gpkg"
    shutil.copy(saved, path)
    return path


def form_of(path, folder, vines) -> list[list[str]]:
    """Lines of an as-planted form of the first vines of a project, its head first."""
    import datetime

    found = counted_planting(open_project(path), path, today=datetime.date(2026, 2, 3))
    file = folder / "empty.csv"
    write_form(file, planted_form(found.answer, list(range(vines))), "as_planted")
    return list(csv.reader(io.StringIO(file.read_text(encoding="utf-8-sig"))))


def filled(path, folder, vines, name="form.csv", **cells) -> str:
    """The form with the same words in every line."""
    head, *lines = form_of(path, folder, vines)
    for line in lines:
        for column, text in cells.items():
            line[head.index(column)] = text
    file = folder / name
    with file.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([head, *lines])
    return str(file)


def test_all_files_are_written_and_printed_json_is_the_file(saved, tmp_path, capsys):
    out = tmp_path / "made" / "here"
    told = planted(capsys, saved, "--out", out)
    assert {p.name for p in out.iterdir()} == set(FILES)
    assert {
        "plan-sheet.pdf",
        "row-table.csv",
        "lots.csv",
        "day-cards.pdf",
        "inspection.csv",
    } <= set(FILES)
    assert {"calendar.ics", "first-years.xlsx", "planting.json"} <= set(FILES)
    assert told == json.loads((out / "planting.json").read_text(encoding="utf-8"))
    assert all(p.stat().st_size > 200 for p in out.iterdir())


def test_every_staked_vine_has_a_plant_and_one_day(saved, project, capsys):
    told = planted(capsys, saved)
    with (project.parent / "stakes.csv").open(newline="", encoding="utf-8") as file:
        staked = [r["description"] for r in csv.DictReader(file) if "-V" in r["description"]]
    assert told["vines"] == {
        "count": len(staked),
        "with_plant": len(staked),
        "with_lot": len(staked),
    }
    runs = [run for day in told["days"]["days"] for run in day["runs"]]
    assert sum(run["vines"] for run in runs) == told["days"]["vines"] == len(staked)
    assert {run["first"] for run in runs} | {run["last"] for run in runs} <= set(staked)
    (sample,) = told["sample"]
    assert len(sample["codes"]) == sample["size"] == len(set(sample["codes"]) & set(staked))
    # 2 % of spares, rounded up
    assert told["needs"][0]["wanted"] == len(staked) + -(-len(staked) * 2 // 100)


def test_without_a_day_every_file_is_there_and_says_what_is_missing(project, tmp_path, capsys):
    text = said(capsys, project, "--lot", LOT, "--assign", "27-A: B1", "--out", tmp_path)
    assert "No planting day is said yet" in text
    assert {p.name for p in tmp_path.iterdir()} == set(FILES)
    told = json.loads((tmp_path / "planting.json").read_text(encoding="utf-8"))
    assert told["days"] is None
    assert "say when planting begins" in told["missing"][0]
    assert any(f["code"] == "planting-day-unknown" for f in told["findings"])
    assert b"BEGIN:VEVENT" not in (tmp_path / "calendar.ics").read_bytes()


def test_options_change_the_plan(saved, capsys):
    usual = planted(capsys, saved)
    rates = [f"--rate={task}=30" for task in ("holes", "setting", "firming", "shelter", "checking")]
    found = planted(
        capsys, saved, "--people", "2", "--hours", "6", *rates, "--weekdays-off", "none", "--union", "5 to 10 cm",
        "--tolerated", "2.5", "--seed", "7", "--counting", "second harvest", "--spares", "10",
    )  # fmt: skip
    # five tasks at 30 an hour are 6 vines a person and hour: 2 people plant 72 in 6 hours
    assert found["crew"]["vines_a_day"] == 72
    assert len(found["days"]["days"]) > len(usual["days"]["days"])
    assert (found["setting"]["union_low_m"], found["setting"]["union_high_m"]) == (0.05, 0.1)
    assert found["sample"][0]["size"] > usual["sample"][0]["size"]
    assert found["sample"][0]["codes"] != usual["sample"][0]["codes"]
    small = [c["number"] for c in found["first_years"]["crops"] if c["is_first_small"]]
    assert small != [c["number"] for c in usual["first_years"]["crops"] if c["is_first_small"]]
    assert found["needs"][0]["spares"] > usual["needs"][0]["spares"]


def test_lots_tags_and_assignments_are_asked_for(saved, capsys):
    found = planted(
        capsys, saved, "--lot", "27-B; Saperavi; ; SO4; delivered=40; rejected=3; grown=bare root",
        "--tag", "27-B; Sap. SO4 2026; variety=Saperavi; plants=2", "--assign", "27-B (pollinator): B1 row 2",
        "--assign", "Furmint; ; SO4: B1-R004A-V002..V004", "--swap", "27-A: B1-R002A-V001: broken in the tray",
        "--strike-tag", "1: it was another lot's", "--unassign", "1", "--title", "client=Two Gums Farm", *BY,
    )  # fmt: skip
    lot = found["lots"][1]
    assert (lot["usable"], lot["grown"], lot["plant"]["rootstock"]) == (37, "bare root", "SO4")
    tag = found["tags"][0]
    assert (tag["by"], tag["plants"], tag["struck"]) == ("Mara", 2, "it was another lot's")
    assert [(a["lot"], a["use"], a["reason"]) for a in found["assignments"]] == [
        ("27-B", "pollinator", ""),
        ("", "crop", ""),
        ("27-A", "pollinator", "broken in the tray"),
    ]
    assert [a["vines"] for a in found["assignments"]][1:] == [3, 1]
    assert found["title"]["client"] == "Two Gums Farm"


def test_nothing_is_written_into_the_project_unless_it_is_asked_for(site, capsys):
    before = site.read_bytes()
    planted(capsys, site, "--people", "3")
    assert site.read_bytes() == before
    assert "Saved into" in said(capsys, site, "--people", "3", "--save")
    assert open_project(site).planting.crew.people == 3
    assert planted(capsys, site)["crew"]["people"] == 3


def test_an_outline_is_planned_and_cannot_be_saved_into(outline, capsys):
    found = planted(capsys, outline, "--height", "100", "--assign", "Furmint: B1")
    assert found["vines"]["with_plant"] == found["vines"]["count"] > 0
    assert "no project" in refusal(capsys, outline, "--height", "100", "--save")


def test_what_is_recorded_is_told_vine_by_vine(site, capsys):
    said(capsys, "record", site, "--planted", "B1 rows 2-3", *DAY, *BY)
    said(capsys, "record", site, "--dead", "B1-R002A-V003", "--cause", "frost", *DAY, *BY)
    said(capsys, "record", site, "--checked", "B1-R003A-V001..V009", "--faults", "firm", *DAY, *BY)
    said(capsys, "record", site, "--reworked", "B1-R003A-V001", *DAY, *BY)
    told = said(capsys, "tell", site, "b1-r002a-v003", "B1-R003A-V001", "B1-R009A-V001")
    assert "planted, lot 27-A (Grüner Veltliner, clone GV 3, on 5BB)" in told
    assert "dead, frost. Recorded by Mara" in told
    assert "not right: firm in the soil" in told
    assert "B1-R009A-V001: nothing is on record here." in told
    row = said(capsys, "tell", site, "B1-R002").splitlines()
    assert row[2].startswith("B1-R002A-V003: dead, lot 27-A")
    found = planted(capsys, site)
    assert found["record"]["entries"] == 4
    assert found["record"]["states"]["dead"] == found["survival"]["by_cause"]["frost"] == 1
    rework = {r["row"]: r["codes"] for r in found["inspection"]["rework"]}
    assert rework["B1-R003"] == [f"B1-R003A-V{i:03d}" for i in range(2, 10)]
    assert found["survival"]["replant"][0]["codes"] == ["B1-R002A-V003"]
    # what stands needs no day of planting any more
    assert found["days"]["vines"] == found["vines"]["count"] - found["record"]["positions"]
    assert "9" in said(
        capsys, "record", site, "--mistake", "B1-R003A-V001..V009", "--note", "wrong row", *BY
    )
    assert planted(capsys, site)["record"]["states"]["not planted"] == 9


def test_a_vine_is_told_by_its_code_of_then_and_by_that_of_rows_numbered_anew(
    site, tmp_path, capsys
):
    said(capsys, "record", site, "--planted", "B1 rows 2-30", *DAY, *BY)
    said(capsys, "record", site, "--missing", "B1-R012A-V003", *DAY, *BY)
    anew = tmp_path / "anew"
    assert main(["lay", str(site), "--first-number", "11", "--out", str(anew)]) == 0
    project = anew / "project.gpkg"
    then = said(capsys, "tell", project, "B1-R012A-V003").splitlines()
    assert then[0] == "B1-R022A-V003, recorded as B1-R012A-V003:"
    assert "missing" in then[2]
    assert then[-1] == (
        "  On today's plan B1-R012A-V003 is another vine: the one recorded as B1-R002A-V003."
    )
    # On record as rows 2 to 30: row 40 of today is known by its place alone.
    today = said(capsys, "tell", project, "B1-R040A-V003").splitlines()
    assert today[0] == "B1-R040A-V003, recorded as B1-R030A-V003:"
    row = said(capsys, "tell", project, "B1-R040A").splitlines()
    assert row[0] == "B1-R040A, recorded as:"
    assert row[3].startswith("B1-R030A-V003: planted, lot 27-A")


def test_tables_without_a_line_are_told_of(saved, tmp_path, capsys):
    (tmp_path / "lots.csv").write_text("name,variety\n", encoding="utf-8")
    (tmp_path / "tags.csv").write_text("lot,text\n", encoding="utf-8")
    tables = ("--lots", tmp_path / "lots.csv", "--tags", tmp_path / "tags.csv")
    lots, tags = planted(capsys, saved, *tables)["notes"]
    assert lots == "lots.csv: there is no lot below its head; nothing was taken."
    assert tags == "tags.csv: there is no tag below its head; nothing was taken."


def test_a_filled_form_is_read_line_by_line_and_twice_changes_nothing(site, tmp_path, capsys):
    form = filled(site, tmp_path, 12, state="planted", date="2026-02-02", by="Ana")
    dry = said(capsys, "read", site, form, "--dry-run", *BY)
    assert "dry run" in dry
    assert open_project(site).register is None
    told = said(capsys, "read", site, form, *BY).splitlines()
    assert told[0].startswith("form.csv, line 2: B1-R002A-V001 taken: ")
    assert sum(" taken: " in line for line in told) == 12
    assert told[-1] == f"Saved into {site}"
    before = site.read_bytes()
    again = said(capsys, "read", site, form, *BY)
    assert "12 same" in again
    assert "Saved" not in again
    assert site.read_bytes() == before
    assert planted(capsys, site)["record"]["states"]["planted"] == 12


def test_lines_that_clash_are_told_and_left_over_to_be_corrected(site, tmp_path, capsys):
    head, *lines = form_of(site, tmp_path, 3)
    for line, state in zip(lines, ("planted", "planted", "flowering"), strict=True):
        line[head.index("state")], line[head.index("date")] = state, "2026-02-02"
    lines[1][head.index("code")] = "B1-R999A-V001"
    for column in ("row", "vine"):
        lines[1][head.index(column)] = "999"
    form, left = tmp_path / "form.csv", tmp_path / "left.csv"
    with form.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([head, *lines])
    told = said(capsys, "read", site, form, "--leftover", left, *BY)
    assert "1 taken" in told
    rest = list(csv.reader(io.StringIO(left.read_text(encoding="utf-8-sig"))))
    assert [line[0] for line in rest[1:]] == ["B1-R999A-V001", "B1-R002A-V003"]
    before = site.read_bytes()
    capsys.readouterr()
    assert main(["planting", "read", str(site), str(left), *BY]) == 2
    out, err = capsys.readouterr()
    assert "left.csv, line 2" in out
    assert err.count("\n") == 1
    assert "Nothing of these forms could be used" in err
    assert site.read_bytes() == before


@posix
def test_a_kill_while_forms_are_merged_leaves_the_record_before_or_after(site, tmp_path):
    form = filled(site, tmp_path, 2000, state="planted", date="2026-02-02", by="Ana")
    command = [
        sys.executable,
        "-m",
        "layoutdesk.commandline",
        "planting",
        "read",
        str(site),
        form,
        *BY,
    ]
    process = subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    until = time.monotonic() + 60
    while process.poll() is None and not list(tmp_path.glob(".layoutdesk-*-project.gpkg")):
        assert time.monotonic() < until
        time.sleep(0.002)
    process.send_signal(signal.SIGKILL)
    process.wait(60)
    register = open_project(site).register
    assert register is None or len(register.events) == 2000
    assert main(["planting", "read", str(site), form, *BY]) == 0
    assert len(open_project(site).register.events) == 2000
    assert not list(tmp_path.glob(".layoutdesk-*"))


def test_a_project_may_be_called_as_the_second_word_is(site, tmp_path, monkeypatch, capsys):
    (tmp_path / "read").write_bytes(site.read_bytes())
    monkeypatch.chdir(tmp_path)
    assert planted(capsys, "./read")["vines"]["count"] > 0
    assert "planting read --help" in refusal(capsys, "read")


def test_help_tells_every_option(capsys):
    assert set(PLANTING_MEANINGS) == set(PLANTING_OPTIONS)
    with pytest.raises(SystemExit):
        main(["planting", "--help"])
    out = capsys.readouterr().out
    assert all(f"--{option} " in out for option in (*PLANTING_OPTIONS, *LISTED_OPTIONS))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--begins", "soon"), "--begins"),
        (("--people", "0"), "--people"),
        (("--starts", "noon"), "--starts"),
        (("--union", "8 to 5 cm"), "--union"),
        (("--union", "thumb"), "--union"),
        (("--rate", "singing=3"), "--rate"),
        (("--rate", "holes"), "--rate"),
        (("--title", "motto=x"), "--title"),
        (("--lot", "27-B"), "--lot"),
        (("--lot", "27-B; Furmint; colour=red"), "--lot"),
        (("--lot", "; Furmint"), "--lot"),
        (("--lot", "27-A; delivered=some"), "--lot"),
        (("--lots", "nowhere.csv"), "nowhere.csv"),
        (("--tags", "nowhere.csv"), "nowhere.csv"),
        (("--tag", "99-Z; text"), "--tag"),
        (("--strike-tag", "1: misread"), "--strike-tag"),
        (("--assign", "27-A"), "--assign"),
        (("--assign", "27-A: B9"), "--assign"),
        (("--assign", "27-A (beauty): B1"), "--assign"),
        (("--unassign", "7"), "--unassign"),
        (("--remove-lot", "27-A"), "--remove-lot"),
        (("--fill", "27-A: B1-R999A-V001"), "--fill"),
        (("--swap", "27-A: B1"), "--swap"),
        (("--days-off", " "), "--days-off"),
        (("--paper", "A9"), "--paper"),
        (("--scale", "big"), "--scale"),
        (("--planted-form", "B9"), "--planted-form"),
        (("--out", " "), "--out is empty"),
        (("--terrain", "nowhere.tif"), "nowhere.tif"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_in_one_sentence(options, words, saved, tmp_path, capsys):
    before = saved.read_bytes()
    out = () if "--out" in options else ("--out", tmp_path / "x")
    assert words in refusal(capsys, saved, *options, *out, "--save")
    assert not (tmp_path / "x").exists()
    assert saved.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("record", "SITE"), "--planted"),
        (("record", "SITE", "--planted", "B1", "--dead", "B1"), "one after the other"),
        (("record", "SITE", "--planted", "B9"), "B9"),
        (("record", "SITE", "--planted", "B1", "--cause", "frost"), "--cause"),
        (("record", "SITE", "--planted", "B1", "--day", "2099-01-01"), "still to come"),
        (("record", "SITE", "--planted", "B1", "--lot", "99-Z"), "99-Z"),
        (("record", "SITE", "--dead", "B1"), "planting first"),
        (("record", "SITE", "--mistake", "B1-R002A-V001"), "mistake"),
        (("record", "SITE", "--planted", " "), "--planted is empty"),
        (("record", "nowhere.gpkg", "--planted", "B1"), "nowhere.gpkg"),
        (("record", "OUTLINE", "--planted", "B1"), "no project"),
        (("read", "SITE", "nowhere.csv"), "nowhere.csv"),
        (("read", "SITE", "SITE", "--leftover", "SITE"), "--leftover"),
        (("read", "SITE"), "FORM"),
        (("read", "SITE", " "), "FORM is empty"),
        (("record", "FOLDER", "--planted", "B1"), "is a folder"),
        (("tell", "SITE", "B1"), "no code"),
        (("tell", "nowhere.gpkg", "B1-R002A-V001"), "nowhere.gpkg"),
    ],
)
def test_records_that_cannot_be_are_refused_and_change_nothing(
    arguments, words, site, outline, capsys
):
    before = site.read_bytes()
    named = {"SITE": str(site), "OUTLINE": str(outline), "FOLDER": str(site.parent)}
    assert words in refusal(capsys, *(named.get(a, a) for a in arguments))
    assert site.read_bytes() == before


def test_a_table_of_lots_without_a_usable_line_is_refused(capsys, site, tmp_path):
    table = tmp_path / "bad.csv"
    table.write_text("name;variety\n;x\n;y\n")
    before = site.read_bytes()
    sentence = refusal(capsys, site, "--lots", table, "--save")
    assert "line 2" in sentence
    assert "nor was any of the other 1" in sentence
    assert site.read_bytes() == before
