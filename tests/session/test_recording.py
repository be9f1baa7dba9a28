"""What is recorded at vines: what is taken, what is refused and why, and what the history tells."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk import lay_rows
from layoutdesk.core.model import InputProblem
from layoutdesk.core.model.register import STATES
from layoutdesk.core.planting.assigned import assigned
from layoutdesk.core.planting.standing import matching, standing
from layoutdesk.core.planting.survival import Result, Rework, Survival, Tally
from layoutdesk.session.record_findings import record_findings
from layoutdesk.session.recording import (
    vine_history_lines,
    with_alive,
    with_checked,
    with_loss,
    with_mistake,
    with_planted,
    with_replanted,
    with_reworked,
)
from layoutdesk.session.recording_texts import with_recorded_texts
from tests.session.planted_cases import (
    DAY,
    LATER,
    PLANS,
    PROJECT,
    SAID,
    WHEN,
    code,
    vines_of_row,
)

ROW = vines_of_row(2)
MILL = vines_of_row(1, 1)


def states(project, vines, plans=PLANS):
    """Words for the states of vines by the register."""
    now, match = standing(project.register), matching(project.register, plans)
    return [STATES[now.state[p]] if p >= 0 else "not on record" for p in match.place[vines]]


def planted(vines=ROW, day=DAY, project=PROJECT, **more):
    return with_planted(project, PLANS, vines, day, **SAID | more)


def test_a_row_is_planted_with_the_lot_that_is_assigned_and_nothing_else_is_touched():
    project = planted()
    assert set(states(project, ROW)) == {"planted"}
    assert set(states(project, vines_of_row(3))) == {"not on record"}
    (batch,) = project.register.batches
    assert [lot.name for lot in batch.lots] == ["27-A"]
    assert batch.by == "Mara"
    assert replace(project, register=None) == PROJECT


def test_rows_of_two_lots_are_one_entry():
    project = planted(np.concatenate([ROW, MILL]))
    now, match = standing(project.register), matching(project.register, PLANS)
    names = [project.register.lots[i].name for i in now.lot[match.place[[ROW[0], MILL[0]]]]]
    assert names == ["27-A", "27-B"]
    assert len(project.register.batches) == 1


def test_another_lot_than_assigned_is_noted():
    project = planted(lot="27-b")
    assert (
        f"Lot 27-B where lot 27-A is assigned: {len(ROW)} vines."
        in project.register.batches[0].note
    )


def test_a_lot_waits_for_its_tags_unless_somebody_says_why_not():
    waiting = vines_of_row(4, 1)
    with pytest.raises(InputProblem, match="Not all tags of lot 27-C are recorded"):
        planted(waiting)
    project = planted(waiting, although="rain was coming.")
    note = project.register.batches[0].note
    assert "Although not all tags of lot 27-C are recorded: rain was coming." in note


def test_a_reason_is_not_noted_where_tags_are_recorded():
    assert planted(although="rain").register.batches[0].note == ""


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"day": datetime.date(2027, 6, 21)}, "21 June 2027 is still to come"),
        ({"day": datetime.date(2027, 3, 31)}, "Lot 27-A came on 1 April 2027"),
        ({"by": " "}, "Say who records it"),
        ({"lot": "99"}, "There is no lot '99' .there are 27-A, 27-B, 27-C."),
        ({"vines": vines_of_row(5, 1)}, "No lot is assigned at .* such as Old Mill-R005A-V001"),
        ({"vines": []}, "No vine is chosen"),
    ],
)
def test_what_cannot_have_happened_is_refused(said, words):
    with pytest.raises(InputProblem, match=words):
        planted(**said)


def test_a_lot_cannot_be_planted_before_it_was_grafted():
    lots = tuple(replace(lot, came=None) for lot in PROJECT.planting.lots)
    project = replace(PROJECT, planting=replace(PROJECT.planting, lots=lots))
    with pytest.raises(InputProblem, match="27-A was grafted on 1 December 2026"):
        planted(day=datetime.date(2026, 11, 30), project=project)


def test_vines_that_stand_are_not_planted_again_and_are_told_by_number_and_code():
    project = planted(ROW[:3])
    with pytest.raises(
        InputProblem, match=f"3 vines such as {code(ROW[0])} are on record as planted"
    ):
        planted(project=project)
    with pytest.raises(InputProblem, match="on record as standing: record it as missing or dead"):
        with_replanted(project, PLANS, ROW[:3], LATER, **SAID)


def test_a_loss_is_followed_by_planting_again_with_another_lot():
    project = planted()
    lost = with_loss(project, PLANS, ROW[:2], "dead", "FROST", LATER, **SAID)
    assert states(lost, ROW[:3]) == ["dead", "dead", "planted"]
    assert lost.register.words == ("frost",)
    with pytest.raises(InputProblem, match="on record as lost: record it as planted again"):
        planted(ROW[:1], project=lost)
    again = with_replanted(lost, PLANS, ROW[:2], LATER, lot="27-B", **SAID)
    assert states(again, ROW[:3]) == ["replanted", "replanted", "planted"]


def test_nothing_is_lost_where_nothing_was_planted_or_before_that():
    with pytest.raises(InputProblem, match="not on record as planted"):
        with_loss(PROJECT, PLANS, ROW, "missing", "", LATER, **SAID)
    with pytest.raises(InputProblem, match="4 April 2027 is before"):
        with_loss(planted(), PLANS, ROW, "missing", "", datetime.date(2027, 4, 4), **SAID)


def test_what_was_thought_missing_stands_again():
    project = with_loss(planted(), PLANS, ROW[:1], "missing", "", LATER, **SAID)
    project = with_alive(project, PLANS, ROW[:1], LATER, **SAID)
    assert states(project, ROW[:1]) == ["planted"]


def test_of_a_row_that_is_put_right_only_the_faulty_vines_are():
    faults = np.zeros(len(ROW), int)
    faults[4] = 0b10000
    project = with_checked(planted(), PLANS, ROW, faults, DAY, **SAID)
    mended = with_reworked(project, PLANS, ROW, DAY, **SAID)
    assert len(mended.register.batches[-1].events) == 1
    assert not standing(mended.register).faults.any()
    with pytest.raises(InputProblem, match="Nothing is on record as wrong"):
        with_reworked(mended, PLANS, ROW, DAY, **SAID)


def test_faults_stay_with_their_vines_whatever_order_they_are_given_in():
    project = with_checked(planted(), PLANS, ROW[[3, 1]], np.array([16, 1]), DAY, **SAID)
    now, match = standing(project.register), matching(project.register, PLANS)
    assert now.faults[match.place[ROW[:4]]].tolist() == [0, 1, 0, 16]


def test_an_inspection_needs_a_vine_that_stands():
    with pytest.raises(InputProblem, match="record the planting first"):
        with_checked(PROJECT, PLANS, ROW, 0, DAY, **SAID)
    lost = with_loss(planted(), PLANS, ROW[:1], "missing", "", LATER, **SAID)
    with pytest.raises(InputProblem, match="record what stands there first"):
        with_checked(lost, PLANS, ROW[:1], 0, LATER, **SAID)


def test_a_mistake_stays_in_the_history_and_the_right_day_can_be_recorded_though_it_is_earlier():
    project = planted(day=LATER)
    wrong = with_mistake(project, PLANS, ROW, **SAID, note="the day was another")
    assert set(states(wrong, ROW)) == {"not planted"}
    right = planted(day=DAY, project=wrong)
    assert set(states(right, ROW)) == {"planted"}
    assert right.register.begins_with(project.register)
    lines = vine_history_lines(right, PLANS, (0, int(ROW[0])))
    assert len(lines) == 3
    assert "The day was another" in lines[1]


def test_a_place_that_went_on_record_with_its_row_alone_has_no_history_and_no_mistake():
    project = planted(ROW[:1])
    assert vine_history_lines(project, PLANS, int(ROW[1])) == ("Nothing is on record here.",)
    with pytest.raises(InputProblem, match="there is no mistake to record"):
        with_mistake(project, PLANS, ROW[:2], **SAID, note="x")


def test_the_history_of_a_vine_follows_its_place_under_another_code():
    project = planted()
    rules = replace(PROJECT.blocks[0].rules, number_from="right")
    plans = (lay_rows(replace(PROJECT.blocks[0], rules=rules)), PLANS[1])
    last = int(vines_of_row(plans[0].segments.number.max() - 1, plans=plans)[0])
    assert code(last, plans) != code(ROW[0])
    lines = vine_history_lines(project, plans, last)
    assert lines[0] == f"On record as {code(ROW[0])}."
    assert lines[1].startswith("5 April 2027: planted, lot 27-A")


def test_a_mistake_needs_words_and_something_on_record():
    with pytest.raises(InputProblem, match="what the mistake was"):
        with_mistake(planted(), PLANS, ROW, **SAID)
    with pytest.raises(InputProblem, match="there is no mistake to record"):
        with_mistake(planted(), PLANS, vines_of_row(3), **SAID, note="x")


def test_the_history_tells_lot_cause_faults_and_who():
    project = planted(note="Moist soil.")
    project = with_checked(project, PLANS, ROW[:1], 0b10001, DAY, **SAID, source="form.csv")
    project = with_loss(project, PLANS, ROW[:1], "dead", "drought", LATER, **SAID)
    assert vine_history_lines(project, PLANS, (0, int(ROW[0]))) == (
        "5 April 2027: planted, lot 27-A (Grüner Veltliner, clone GV 3, on 5BB, north field). Moist soil. "
        "Recorded by Mara on 20 June 2027.",
        "5 April 2027: inspected, not right: container off and firm in the soil. "
        "Recorded by Mara on 20 June 2027 from form.csv.",
        "2 May 2027: dead, drought. Recorded by Mara on 20 June 2027.",
    )
    assert vine_history_lines(project, PLANS, int(MILL[0])) == ("Nothing is on record here.",)


def test_a_note_with_a_bar_in_it_is_told_whole():
    project = planted(note="north side | dry")
    assert "North side | dry." in vine_history_lines(project, PLANS, int(ROW[0]))[0]


# as typed

TYPED = {"parts": "B1-R002A", "day": "5 April 2027", "by": "Mara"}
FIELDS = dict.fromkeys(("note", "lot", "although", "cause", "faults"), "")


def typed(event, project=PROJECT, **texts):
    return with_recorded_texts(project, PLANS, event, FIELDS | TYPED | texts, WHEN)


def test_everything_can_be_recorded_as_typed():
    project = typed("planted", parts="B1 rows 2-3")
    project = typed("checked", project, faults="firm; shelter set", note="loose sand")
    project = typed("reworked", project)
    project = typed("dead", project, parts="B1-R002A-V001..V004", cause="Drought", day="2027-05-02")
    project = typed("replanted", project, parts="B1-R002A-V001", lot="27-B", day="2027-06-01")
    project = typed("missing", project, parts="B1-R003A-V001", day="2027-06-01")
    project = typed("alive", project, parts="B1-R003A-V001", day="2027-06-02")
    project = typed("void", project, parts="B1-R003A-V002", note="not planted after all")
    row = vines_of_row(3)
    assert states(project, ROW[:5]) == ["replanted", "dead", "dead", "dead", "planted"]
    assert states(project, row[:3]) == ["planted", "not planted", "planted"]
    told = vine_history_lines(project, PLANS, int(ROW[1]))
    assert "not right: firm in the soil and shelter set. Loose sand." in told[1]


@pytest.mark.parametrize(
    ("event", "texts", "words"),
    [
        ("planted", {"day": ""}, "say when it was"),
        ("planted", {"day": "soon"}, "'soon' is no day"),
        ("planted", {"parts": "B9"}, "'B9' begins with no block's name"),
        ("planted", {"lot": "99"}, "There is no lot '99'"),
        ("checked", {"faults": "crooked"}, "'crooked' is no single check"),
        ("void", {}, "Say what the mistake was"),
    ],
)
def test_what_is_typed_amiss_is_refused_with_a_sentence(event, texts, words):
    with pytest.raises(InputProblem, match=words):
        typed(event, planted() if event != "planted" else PROJECT, **texts)


# findings of the record

TALLY = Tally("27-A", 20, 3, 15.0, 3.2, 37.9, ())
NO_RESULT = Result((), (), (), ())
NO_LOSS = Survival(TALLY, (), (), (), 0.0, ())


def findings(project, result=NO_RESULT, lost=NO_LOSS, plans=PLANS):
    now, match = standing(project.register), matching(project.register, plans)
    found = assigned(plans, project.planting)
    return record_findings(project, found, match, now, result, lost)


def test_nothing_is_found_where_everything_is_as_assigned():
    assert findings(planted()) == ()


def test_another_lot_than_assigned_is_found_once_a_pair_with_its_first_vine():
    project = planted(ROW[3:8], lot="27-B")
    (finding,) = findings(project)
    assert finding.code == "lot-other-than-assigned"
    assert finding.where == code(ROW[3])
    assert "Lot 27-B stands where lot 27-A is assigned, at 5 vines" in finding.message
    assert finding.place == pytest.approx(PLANS[0].vines.xy_m[ROW[3]])


def test_more_plants_of_a_lot_than_came_are_found():
    lots = tuple(replace(lot, delivered=20, rejected=1) for lot in PROJECT.planting.lots)
    project = replace(planted(), planting=replace(PROJECT.planting, lots=lots))
    (finding,) = findings(project, lost=replace(NO_LOSS, by_lot=(TALLY,)))
    assert (finding.code, finding.where) == ("lot-over-planted", "27-A")
    assert "20 plants of lot 27-A are on record as planted, 19 came" in finding.message
    lots = tuple(replace(lot, delivered=0, rejected=0, ordered=20) for lot in lots)
    project = replace(project, planting=replace(PROJECT.planting, lots=lots))
    (finding,) = findings(project, lost=replace(NO_LOSS, by_lot=(TALLY,)))
    assert finding.severity == "caution"
    assert "nobody said that any came" in finding.message


def test_losses_are_found_with_their_counts_and_causes():
    project = with_loss(planted(), PLANS, ROW[:2], "dead", "frost", LATER, **SAID)
    project = with_loss(project, PLANS, ROW[5:6], "missing", "", LATER, **SAID)
    lost = replace(NO_LOSS, by_cause=(("frost", 2), ("", 1)))
    (finding,) = findings(project, lost=lost)
    assert finding.code == "losses"
    assert finding.where == code(ROW[0])
    assert finding.message.startswith("3 vines are to be planted again: 1 missing, 2 dead.")
    assert "frost: 2" in finding.message


def test_a_lot_that_is_not_accepted_and_its_vines_to_rework_are_found():
    project = with_checked(planted(), PLANS, ROW[:3], 1, DAY, **SAID)
    now, match = standing(project.register), matching(project.register, PLANS)
    places = tuple(match.place[ROW[:3]].tolist())
    result = Result((TALLY,), (), (Rework("B1-R002A", "faults", places),), (("27-A", False),))
    refused, rework = findings(project, result)
    assert (refused.code, rework.code) == ("lot-not-accepted", "vines-to-rework")
    assert "3 of 20 inspected vines are faulty" in refused.message
    assert "3 inspected vines are to be put right, in B1-R002A" in rework.message
    assert np.isfinite(now.planted).all()
    assert rework.place is not None


def test_vines_that_the_plan_has_no_more_and_codes_that_moved_are_found():
    project = planted()
    block = replace(PROJECT.blocks[0], rules=replace(PROJECT.blocks[0].rules, first_row_m=1.2))
    plans = (lay_rows(block), PLANS[1])
    codes = {finding.code: finding for finding in findings(project, plans=plans)}
    assert set(codes) == {"record-elsewhere", "record-lost"}
    assert codes["record-lost"].where == code(ROW[0])
    assert f"{len(ROW)} vines" in codes["record-lost"].message
    with pytest.raises(InputProblem, match="not where their codes are on record"):
        with_planted(project, plans, vines_of_row(2, plans=plans), DAY, **SAID)


def test_a_remark_on_one_lot_stands_in_the_history_of_its_own_vines_alone():
    planting = PROJECT.planting
    found = assigned(PLANS, planting)
    lots = np.unique(found.lot[found.lot >= 0])
    one, other = (np.flatnonzero(found.lot == lot)[:3] for lot in lots[:2])
    names = [planting.lots[lot].name for lot in lots[:2]]
    open_tags = tuple(
        replace(lot, tags_recorded=lot.name != names[1], came=None) for lot in planting.lots
    )
    project = replace(PROJECT, planting=replace(planting, lots=open_tags))
    both = planted(np.concatenate([one, other]), project=project, although="tags follow by post")
    told_one = " ".join(vine_history_lines(both, PLANS, int(one[0])))
    told_other = " ".join(vine_history_lines(both, PLANS, int(other[0])))
    assert "tags follow by post" in told_other
    assert names[1] in told_other
    assert "tags follow" not in told_one
