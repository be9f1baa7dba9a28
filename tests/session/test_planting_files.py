"""The files of a site's planting as the window writes them: how far it is, cancelled, one by one, again."""

from __future__ import annotations

import csv
import datetime
import io
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model import InputProblem, Water
from layoutdesk.core.model.water import Demand
from layoutdesk.session.planted import PlantingCounter, PlantingRequest
from layoutdesk.session.planting_files import (
    FILES,
    FORM_FILES,
    write_planting_file,
    write_planting_set,
)
from layoutdesk.session.recording import with_checked, with_planted
from tests.session.planted_cases import DAY, LATER, PLANS, PROJECT, SAID, TODAY, code, vines_of_row

KNOWN = replace(PROJECT, water=Water(demand=Demand(planting=DAY)))


def answer_of(project=KNOWN):
    return PlantingCounter().answer(PlantingRequest(0, project, PLANS, TODAY))


def codes(path) -> list[str]:
    return [line["code"] for line in csv.DictReader(io.StringIO(path.read_text("utf-8-sig")))]


def test_how_far_a_set_is_never_goes_back(tmp_path):
    told = []
    names = write_planting_set(
        tmp_path, answer_of(), day=TODAY, progress=lambda share, what: told.append(share)
    )
    assert names == FILES == tuple(dict.fromkeys(names))
    assert {p.name for p in tmp_path.iterdir()} == set(FILES)
    assert told == sorted(told)
    assert (told[0], told[-1]) == (0.0, 1.0)


def test_a_set_that_is_cancelled_leaves_what_was_there(tmp_path):
    (tmp_path / "lots.csv").write_text("mine", encoding="utf-8")

    def cancel(share, what):
        if what == "planting.json":
            raise InterruptedError

    with pytest.raises((InterruptedError, InputProblem)):
        write_planting_set(tmp_path, answer_of(), progress=cancel)
    assert [p.name for p in tmp_path.iterdir()] == ["lots.csv"]
    assert (tmp_path / "lots.csv").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", [*FILES, *FORM_FILES])
def test_each_file_is_written_alone_as_its_name_or_its_kind_says(name, tmp_path):
    when = datetime.datetime(2027, 6, 20, 9, 30, tzinfo=datetime.UTC)
    by_name, by_kind = tmp_path / name, tmp_path / f"other{name[name.rindex('.') :]}"
    write_planting_file(by_name, answer_of(), "m", TODAY, when=when)
    write_planting_file(by_kind, answer_of(), "m", TODAY, kind=name, when=when)
    assert by_name.stat().st_size == pytest.approx(by_kind.stat().st_size, rel=0.02)


def test_a_name_that_says_no_file_is_refused(tmp_path):
    with pytest.raises(InputProblem, match=r"\.ics"):
        write_planting_file(tmp_path / "planting.doc", answer_of())
    assert not list(tmp_path.iterdir())


def test_forms_hold_the_vines_that_are_asked_for(tmp_path):
    row, other = vines_of_row(2), vines_of_row(3)
    project = with_planted(KNOWN, PLANS, row, DAY, **SAID)
    project = with_checked(project, PLANS, row[:2], np.array([1, 0]), LATER, **SAID)
    answer = answer_of(project)
    write_planting_file(tmp_path / "inspection.csv", answer, which="again")
    assert codes(tmp_path / "inspection.csv") == [code(row[0])]
    write_planting_set(tmp_path / "set", answer, form_vines=other)
    assert sorted(codes(tmp_path / "set" / "as-planted.csv")) == sorted(map(code, other))
