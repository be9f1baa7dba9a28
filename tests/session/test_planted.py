"""Planting worked out as a whole: what depends on the day, on water and on records is there when these are."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model import Water
from layoutdesk.core.model.water import Climate, Drip, Source
from layoutdesk.session.assigning import typed_parts, with_assignment
from layoutdesk.session.planted import PlantingCounter, PlantingRequest
from layoutdesk.session.planting_drawing import WAYS, planting_drawing
from layoutdesk.session.planting_lines import (
    bounds_of_line,
    lines_of,
    segments_of_day,
    sentences_of,
    told_of_vine,
)
from layoutdesk.session.recording import with_loss, with_planted
from layoutdesk.session.stakeout import lay_project
from layoutdesk.session.vine_places import vine_of_index
from tests.session.planted_site import MONDAY, project

TODAY = datetime.date(2026, 11, 28)
WHEN = "2027-04-20T18:00:00+02:00"


def planted_site():
    found = project()
    for parts, lot in (("B1", 0), ("B2; B1 every 9th vine", 1)):
        known = found.planting.lots[lot]
        found = with_assignment(found, typed_parts(parts, found), known.plant, known.name)
    return found


@pytest.fixture(scope="module")
def plans():
    return lay_project(planted_site())


def answered(found, plans, counter=None):
    request = PlantingRequest(1, found, plans, TODAY)
    return (counter or PlantingCounter()).answer(request)


def test_days_come_with_their_day_and_sets_with_the_drip_system(plans):
    said = replace(planted_site().water, drips=(("B1", Drip()),))
    answer = answered(replace(planted_site(), water=said), plans)
    assert answer.begins == MONDAY == answer.days.days[0].day
    assert answer.days.vines == sum(p.n_vines for p in plans)
    assert set(answer.set_of_segment) >= {1}
    assert all(d.sets for d in answer.days.days)
    assert answered(planted_site(), plans).set_of_segment is None, "nobody planned any"
    dry = answered(replace(planted_site(), water=None), plans)
    assert (dry.days, dry.years, dry.set_of_segment) == (None, None, None)
    assert "planting-day-unknown" in [f.code for f in dry.findings]


def test_the_climate_read_from_a_file_warns_of_hot_days(plans):
    found = planted_site()
    warm = Climate(warm_c=(20.0,) * 3 + (36.0,) + (20.0,) * 8)
    hot = replace(found, water=replace(found.water or Water(), climate=warm))
    assert "planting-hot" in [f.code for f in answered(hot, plans).findings]
    assert "planting-hot" not in [f.code for f in answered(found, plans).findings]


def test_what_was_planted_needs_no_day_and_the_rest_keeps_its_numbers(plans):
    found, counter = planted_site(), PlantingCounter()
    before = answered(found, plans, counter)
    first = before.days.days[0]
    vines = np.flatnonzero(
        planting_drawing(before, "day").vine_class == 0  # the first day's
    )
    assert len(vines) == first.vines
    found = with_planted(found, plans, vines, MONDAY, by="Ana", when=WHEN)
    after = answered(found, plans, counter)
    assert after.days.vines == before.days.vines - first.vines
    assert [d.day for d in after.days.days] == [d.day for d in before.days.days[1:]]


@pytest.mark.parametrize("way", list(WAYS))
def test_every_vine_is_in_one_class_of_every_way_of_colouring(plans, way):
    found = with_planted(planted_site(), plans, np.arange(300), MONDAY, by="Ana", when=WHEN)
    drawing = planting_drawing(answered(found, plans), way)
    counts = np.bincount(drawing.vine_class, minlength=len(drawing.legend))
    assert counts.tolist() == [entry.count for entry in drawing.legend]
    assert len(drawing.vine_xy_m) == counts.sum() == sum(p.n_vines for p in plans)
    assert all(entry.label for entry in drawing.legend)


def test_a_lot_on_record_goes_before_the_one_that_was_assigned(plans):
    found = with_planted(
        planted_site(), plans, np.arange(50), MONDAY, lot="27-P", by="Ana", when=WHEN
    )
    answer = answered(found, plans)
    labels = [e.label for e in planting_drawing(answer, "lot").legend]
    classes = planting_drawing(answer, "lot").vine_class[:50]
    assert {labels[c] for c in classes} == {"lot 27-P"}
    assert "lot-other-than-assigned" in [f.code for f in answer.findings]


def test_a_vine_tells_its_plant_lot_and_day_and_later_what_is_on_record(plans):
    found = planted_site()
    vine = vine_of_index(plans, 1)  # the first of every nine is of the other lot
    told = told_of_vine(answered(found, plans), vine)
    assert "27-A" in told
    assert "planned for 2027-04-05" in told
    found = with_planted(found, plans, [1], MONDAY, by="Ana", when=WHEN)
    later = MONDAY + datetime.timedelta(days=10)
    found = with_loss(found, plans, [1], "dead", "frost", later, by="Ana", when=WHEN)
    told = told_of_vine(answered(found, plans), vine)
    assert "on record: dead, lot 27-A" in told
    assert "planned" not in told


def test_lines_lead_to_the_rows_they_are_about(plans):
    found = with_planted(planted_site(), plans, np.arange(300), MONDAY, by="Ana", when=WHEN)
    later = MONDAY + datetime.timedelta(days=10)
    found = with_loss(found, plans, [0, 1], "dead", "frost", later, by="Ana", when=WHEN)
    answer = answered(found, plans)
    xy = np.concatenate([p.vines.xy_m for p in plans])
    x0, y0, x1, y1 = bounds_of_line("stand_rows", answer, 0)
    x, y = xy[0].tolist()  # on record to the millimetre
    assert x0 - 1e-3 <= x <= x1 + 1e-3
    assert y0 - 1e-3 <= y <= y1 + 1e-3
    assert lines_of("stand_rows", answer)[0].faulty == "2"
    for at, day in enumerate(answer.days.days):
        assert len(segments_of_day(answer, at)) == len({(r.plan, r.segment) for r in day.runs})
    x0, y0, x1, y1 = bounds_of_line("assignments", answer, 1)
    assert x1 > 150.0, "the second assignment reaches into B2"


def test_entries_changed_from_outside_are_told(plans):
    found = with_planted(planted_site(), plans, np.arange(5), MONDAY, by="Ana", when=WHEN)
    broken = replace(found, register=replace(found.register, broken_at=0))
    assert "register-changed" in [f.code for f in answered(broken, plans).findings]
    assert "register-changed" not in [f.code for f in answered(found, plans).findings]


def test_empty_pages_say_what_to_do(plans):
    bare = replace(planted_site(), planting=None, water=None)
    answer = answered(bare, plans)
    for page in ("lots", "plants", "days", "checks", "record", "years"):
        assert " ".join(sentences_of(page, answer)).strip(), page


def test_a_scan_that_is_not_beside_the_project_is_told(plans, tmp_path):
    found = planted_site()
    lot = replace(found.planting.lots[0], attachments=("passport.pdf",))
    found = replace(found, planting=found.planting.with_lot(lot))

    def told():
        request = PlantingRequest(1, found, plans, TODAY, beside=tmp_path)
        return [f.code for f in PlantingCounter().answer(request).findings]

    assert "attachment-missing" in told()
    (tmp_path / "passport.pdf").write_bytes(b"scan")
    assert "attachment-missing" not in told()


def test_no_vine_is_inspected_where_no_plant_is_to_stand(plans):
    found = planted_site()
    only = replace(found.planting, assignments=found.planting.assignments[:1])
    answer = answered(replace(found, planting=only), plans)
    assert answer.sample.lots == ("27-A",)
    assert (answer.assigned.plant[answer.sample.vines] >= 0).all()
    nobody = replace(found.planting, assignments=())
    assert answered(replace(found, planting=nobody), plans).sample.lots == ("",)


def test_sets_are_those_of_the_drip_system_as_it_is_not_as_it_was(plans):
    counter, found = PlantingCounter(), planted_site()

    def sets_of(emitter_l_h):
        source = Source(curve=((0.0, 50.0), (4.0, 45.0)), is_assumed=False)
        drips = tuple((b.name, Drip(emitter_l_h=emitter_l_h)) for b in found.blocks)
        water = replace(found.water, source=source, drips=drips)
        of_segment = answered(replace(found, water=water), plans, counter).set_of_segment
        return len(np.unique(of_segment))

    few = sets_of(1.0)
    assert sets_of(8.0) > few
    assert sets_of(1.0) == few
