"""Lots and tags from tables in the habits of many spreadsheets, and lines that are refused for what is wrong."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import pytest

from layoutdesk.core.model import InputProblem, Lot, Plant, Planting, Tag
from layoutdesk.core.planting.assigned import assigned
from layoutdesk.core.planting.needs import lot_uses
from layoutdesk.formats.lots_csv import LotRegister, write_lots_csv
from layoutdesk.formats.reading.lot_tables import (
    LOT_COLUMNS,
    TAG_COLUMNS,
    read_lots,
    read_tags,
    says_thousands,
)
from tests.core.planting.planted_rows import PLANS

WHITE = Plant("Furmint", "F 5", "5BB")
APRIL, MARCH = datetime.date(2026, 4, 2), datetime.date(2027, 3, 13)
LOTS = (
    Lot("27-A", WHITE, "Älg & Co", "potted", APRIL, None, MARCH, 50, 1200, 1180, 4, "passport; test"),
    Lot("27-B", Plant("Saperavi"), grown="bare root", ordered=950),
)  # fmt: skip
HEAD = "name{0}variety{0}clone{0}rootstock{0}nursery{0}grown{0}grafted{0}came{0}tray{0}ordered{0}delivered{0}rejected{0}references"


def table(mark: str, grafted: str, came: str, number=str, grown=("potted", "bare root")) -> str:
    one = ["27-A", "Furmint", "F 5", "5BB", "Älg & Co", grown[0], grafted, came]
    one += [number(n) for n in (50, 1200, 1180, 4)] + ['"passport; test"']
    two = ["27-B", "Saperavi", "", "", "", grown[1], "", "", "", number(950), "", "", ""]
    return "\n".join((HEAD.format(mark), mark.join(one), mark.join(two), ""))


def dotted(n: int) -> str:
    return f"{n:,}".replace(",", ".")


ZOO = {
    "plain": table(",", "2026-04-02", "2027-03-13").encode(),
    "semicolons, dots in days": table(";", "2.4.2026", "13.3.2027").encode(),
    "tabs, words for months": table("\t", "2 April 2026", "13 March 2027").encode(),
    "bars": table("|", "2026-04-02", "2027-03-13").encode(),
    "month first": table(",", "4/2/2026", "3/13/2027").encode(),
    "numbers of a spreadsheet": table(",", "46114", "46459").encode(),
    "dotted thousands": table(";", "2026-04-02", "2027-03-13", dotted).encode(),
    "decimals of whole numbers": table(";", "2026-04-02", "2027-03-13", "{},00".format).encode(),
    "thousands set apart": table(",", "2026-04-02", "2027-03-13", lambda n: f"{n:,}".replace(",", " ")).encode(),
    "byte order mark": table(",", "2026-04-02", "2027-03-13").encode("utf-8-sig"),
    "old Windows": table(",", "2026-04-02", "2027-03-13").encode("cp1252"),
    "UTF-16": table("\t", "2026-04-02", "2027-03-13").encode("utf-16"),
    "Windows line ends": table(",", "2026-04-02", "2027-03-13").replace("\n", "\r\n").encode(),
    "a title and empty lines": ("Lots of spring\n\n" + table(",", "2026-04-02", "2027-03-13") + ",,,\n").encode(),
    "other names of columns": table(",", "2026-04-02", "2027-03-13")
    .replace("name,variety", "Lot No.,Cultivar").replace("came", "Delivery date").replace("tray", "Plants per tray")
    .encode(),
    "other words for grown": table(",", "2026-04-02", "2027-03-13", grown=("Green-growing", "Dormant")).encode(),
}  # fmt: skip


@pytest.mark.parametrize("habit", ZOO)
def test_the_same_lots_are_read_from_every_habit(habit, tmp_path):
    path = tmp_path / "lots.csv"
    path.write_bytes(ZOO[habit])
    found = read_lots(path)
    assert found.problems == ()
    assert found.lots == LOTS


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("27-A,Furmint,,1,,", "line 3: there is a lot 27-A in an earlier line"),
        (",Furmint,,1,,", "line 3: it has no name or no variety"),
        ("27-C,,,1,,", "line 3: it has no name or no variety"),
        ("27-C,Furmint,soon,1,,", "line 3: came: 'soon' is no day"),
        ("27-C,Furmint,2027-02-30,1,,", "line 3: came:"),
        ("27-C,Furmint,,many,,", "line 3: ordered: 'many' is no whole number of plants"),
        ("27-C,Furmint,,-4,,", "line 3: ordered: '-4' is no whole number of plants"),
        ("27-C,Furmint,,12.5,,", "line 3: ordered: '12.5' is no whole number of plants"),
        ("27-C,Furmint,,2.000,,", "line 3: ordered: '2.000' can be 2000 or 2"),
        ("27-C,Furmint,,1,7,", "line 3: rejected: 7 of 0 that were delivered are too many"),
        ("27-C,Furmint,,1,,in water", "line 3: grown: 'in water' is neither potted nor bare root"),
        ("27-C,Furmint,,1,,,,too,many", "line 3: it has 9 cells under 6 names of columns"),
    ],
)
def test_a_line_that_cannot_be_is_told_and_the_others_are_taken(line, said, tmp_path):
    path = tmp_path / "lots.csv"
    path.write_text(
        f"name,variety,came,ordered,rejected,grown\n27-A,Furmint,,10,,\n{line}\n27-Z,Saperavi,,20,,\n"
    )
    found = read_lots(path)
    assert [(lot.name, lot.ordered) for lot in found.lots] == [("27-A", 10), ("27-Z", 20)]
    (told,) = found.problems
    assert told.startswith(f"lots.csv, {said}")
    assert told.endswith("the line was not taken.")


def test_round_thousands_are_read_where_another_cell_shows_what_the_mark_means(tmp_path):
    assert says_thousands(["2.000", "1.250"])
    assert not says_thousands(["2.000", "50"])
    path = tmp_path / "lots.csv"
    path.write_text("name;variety;ordered\na;Furmint;2.000\nb;Furmint;1.250\n")
    assert [lot.ordered for lot in read_lots(path).lots] == [2000, 1250]


def test_days_that_can_be_two_are_not_guessed(tmp_path):
    path = tmp_path / "lots.csv"
    path.write_text("name,variety,came\na,Furmint,1/4/2027\nb,Furmint,\n")
    found = read_lots(path)
    assert [lot.name for lot in found.lots] == ["b"]
    assert "1/4/2027" in found.problems[0]


def test_of_a_known_lot_what_the_table_does_not_say_stays(tmp_path):
    path = tmp_path / "lots.csv"
    path.write_text("lot,clone,delivered,variety\n27-a,F 9,1190,\n27-Q,,5,\n")
    found = read_lots(path, LOTS)
    assert found.lots == (replace(LOTS[0], plant=Plant("Furmint", "F 9", "5BB"), delivered=1190),)
    assert "line 3: it has no name or no variety" in found.problems[0]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b"PK\x03\x04rest", "is a workbook or archive"),
        (b"1,2\n3,4\n", "has no line that names its columns"),
        (b"name,ordered\na,3\n", "has no column 'variety'"),
        (bytes(range(256)) * 40, "is no text file"),
    ],
)
def test_files_that_are_no_table_of_lots_are_refused(data, said, tmp_path):
    path = tmp_path / "lots.csv"
    path.write_bytes(data)
    with pytest.raises(InputProblem, match=re.escape(said)):
        read_lots(path)
    with pytest.raises(InputProblem, match="cannot be read"):
        read_lots(tmp_path / "gone.csv")


def test_tags_are_read_by_lot_and_lines_without_one_are_told(tmp_path):
    path = tmp_path / "tags.csv"
    path.write_text(
        "Lot;As read;Variety;Grafted;How many;Date;Read by\n"
        "27-a;F5/5BB;Furmint;2.4.2026;30;13.3.2027;R.\n"
        "27-Z;x;;;;;\n27-B;;;;3;;\n27-B;S;;;0;;\n27-B;S;;;;;\n"
    )
    found = read_tags(path, ("27-A", "27-B"))
    assert found.tags == (
        Tag("27-A", "F5/5BB", "Furmint", grafted=APRIL, plants=30, recorded=MARCH, by="R."),
        Tag("27-B", "S"),
    )
    assert [p.split(": ")[0] for p in found.problems] == [f"tags.csv, line {n}" for n in (3, 4, 5)]
    assert "there is no lot '27-Z'" in found.problems[0]
    assert "it says nothing of the tag" in found.problems[1]


def test_columns_are_read_by_the_names_that_are_told(tmp_path):
    path = tmp_path / "lots.csv"
    values = {"name": "a", "variety": "Furmint", "grown": "potted", "tags_recorded": "yes", "delivered": "3"}  # fmt: skip
    path.write_text(",".join(LOT_COLUMNS) + "\n" + ",".join(values.get(c, "") for c in LOT_COLUMNS))
    assert read_lots(path).lots == (Lot("a", Plant("Furmint"), delivered=3, tags_recorded=True),)
    values = {"lot": "a", "text": "F5", "struck": "misread"}
    path.write_text(",".join(TAG_COLUMNS) + "\n" + ",".join(values.get(c, "") for c in TAG_COLUMNS))
    assert read_tags(path, ("a",)).tags == (Tag("a", "F5", struck="misread"),)


def test_the_register_of_lots_that_is_written_is_read_back_lots_and_tags_apart(tmp_path):
    lots = tuple(replace(lot, attachments=("a.jpg", "b.pdf")) for lot in LOTS)
    tags = (
        Tag("27-A", "F5/5BB", "Furmint", grafted=APRIL, plants=30, recorded=MARCH, by="R."),
        Tag("27-B", "S", struck="misread"),
    )
    planting = Planting(lots=lots, tags=tags)
    uses = lot_uses(assigned(PLANS, planting))
    register = LotRegister("Two", "", None, (210.0, 297.0), uses, None, (), tags, (), (), ())
    path = tmp_path / "lots.csv"
    assert write_lots_csv(path, register) == 4
    found = read_lots(path)
    assert (found.lots, found.problems) == (lots, ())
    read = read_tags(path, ("27-A", "27-B"))
    assert (read.tags, read.problems) == (tags, ())
