"""What a crew brings back, held against the plan: matched, told, explained, and never more certain than it is."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.core.model.handoff import PointChoice
from layoutdesk.session.hand_off_set import hand_off_set, order_mark, seal_of
from layoutdesk.session.staked import StakedRequest, as_staked
from layoutdesk.session.staked_drawing import MOST_ARROWS, staked_arrows
from layoutdesk.session.staked_lines import (
    explanation_lines,
    histogram_bars,
    place_of_key,
    staked_notes,
    staked_row_lines,
    staked_sentences,
    worst_lines,
)
from tests.staked_project import FEET, Staked, project


@pytest.fixture(scope="module")
def site():
    return Staked()


def answered(site, path, known=None, **said):
    return as_staked(StakedRequest(3, known or site.project, site.plans, path, **said))


def codes(answer):
    return [f.code for f in answer.findings]


def in_rows(site, along_m, across_m, which):
    """Written coordinates with some points moved along and across their rows. [m]"""
    step = np.zeros_like(site.en)
    for plan, first in zip(site.plans, (0, site.plans[0].n_segments), strict=True):
        mine = which[
            (site.points.owner[which] >= first)
            & (site.points.owner[which] < first + plan.n_segments)
        ]
        bearing = np.radians(plan.rules.bearing_deg)
        along = np.array([np.sin(bearing), np.cos(bearing)])
        across = np.array([np.cos(bearing), -np.sin(bearing)])
        step[mine] = along_m * along + across_m * across
    return site.placing.placed(site.points.xy_m + step)


def test_residuals_are_those_that_were_put_in(tmp_path, site):
    which = site.of_kind("end_post", "vine")
    en = in_rows(site, 0.021, -0.012, which)
    answer = answered(site, site.csv(tmp_path / "a.csv", en, which))
    assert answer.request.revision == 3
    assert answer.matched.way == "code"
    # Four decimals of a metre are written.
    assert np.allclose(answer.residuals.along_m, 0.021, atol=2e-4)
    assert np.allclose(answer.residuals.across_m, -0.012, atol=2e-4)
    assert not len(answer.worst)
    assert np.allclose(np.unique(answer.tolerance_m), [0.03, 0.05])


@pytest.mark.parametrize("survey_crs", ["EPSG:32633", "EPSG:3857"])
def test_on_any_grid_a_centimetre_on_the_ground_is_a_centimetre(tmp_path, survey_crs):
    """Web Mercator draws everything half as large again here, and changes no residual."""
    known = Staked(project(survey_crs))
    which = known.of_kind("end_post")
    en = in_rows(known, 0.4, 0.3, which)
    answer = answered(known, known.csv(tmp_path / "a.csv", en, which))
    assert np.allclose(answer.residuals.along_m, 0.4, atol=3e-4)
    assert np.allclose(answer.residuals.across_m, 0.3, atol=3e-4)
    assert np.allclose(answer.residuals.distance_m, 0.5, atol=3e-4)


def test_an_honest_measurement_is_within_tolerance_and_nothing_is_explained(tmp_path, site):
    which = site.of_kind("end_post")
    answer = answered(site, site.csv(tmp_path / "a.csv", site.noisy(0.006), which))
    assert answer.explanations == ()
    assert codes(answer) == []
    verdict, *rest = staked_sentences(answer)
    assert (
        verdict
        == f"All {len(which)} points that were measured stand within tolerance (30 mm at posts): accept them."
    )
    assert (
        f"{len(which)} points of a.csv matched with the plan by code: {len(which)} end posts."
        in rest
    )
    assert worst_lines(answer) == ()
    assert len(answer.checksum) == 12
    assert any("one-call service" in n for n in staked_notes(answer))


def test_points_off_are_listed_the_farthest_first_with_where_they_stand(tmp_path, site):
    which = site.of_kind("end_post")
    en = site.noisy(0.004)
    one, two = which[5], which[20]
    en[one] = in_rows(site, 0.25, 0.0, which)[one]
    en[two] = in_rows(site, 0.0, -0.6, which)[two]
    answer = answered(site, site.csv(tmp_path / "a.csv", en, which))
    lines = worst_lines(answer)
    assert [w.code for w in lines] == [site.code[two], site.code[one]]
    assert lines[0].across == "−60.0 cm"
    assert lines[1].along == "+25.0 cm"
    assert "60.0 cm to the left" in lines[0].told
    assert "25.0 cm too far on" in lines[1].told
    assert place_of_key(answer, lines[0].key) == pytest.approx(site.points.xy_m[two])
    off = next(f for f in answer.findings if f.code == "staked-off")
    assert off.place == pytest.approx(site.points.xy_m[two])
    assert off.told(lambda m: f"{m * 100:.0f} cm").startswith("2 points stand farther")
    rows = staked_row_lines(answer)
    assert [r.flag for r in rows[:3]] == ["caution", "caution", ""]
    assert rows[0].row == site.code[two].rpartition("-")[0]
    assert worst_lines(answer, "ft")[0].across == "−1.97 ft"
    bars = histogram_bars(answer)
    assert sum(b.count for b in bars) == len(which)
    assert sum(b.count for b in bars if b.is_off) == 2


def test_what_is_missing_strange_and_doubled_is_counted(tmp_path, site):
    which = site.of_kind("end_post")
    path = site.csv(tmp_path / "a.csv", site.noisy(0.004), which[4:])
    row = next(site.rows(site.en, which[6:7]))
    path.write_text(path.read_text() + ",".join(row) + "\n900,5339100.0,581700.0,gate post\n")
    answer = answered(site, path)
    told = {f.code: f.message for f in answer.findings}
    assert told["staked-missing"].startswith("4 points of kinds that were measured")
    assert site.code[which[0]] in told["staked-missing"]
    assert "gate post" in told["staked-strange"]
    assert len(answer.matched.doubled) == 1
    assert "1 was measured more than once: the last counts." in " ".join(staked_sentences(answer))


def test_a_mistake_with_a_name_comes_first_and_forbids_planting(tmp_path):
    known = Staked(project(FEET, replace_frame()))
    which = known.of_kind("end_post")
    en = known.noisy(0.02) * (0.3048 / (1200 / 3937))
    answer = answered(known, known.csv(tmp_path / "a.csv", en, which))
    assert answer.explanations[0].code == "survey-foot"
    assert answer.findings[0].code == "staked-explained"
    assert answer.findings[0].severity == "wrong"
    sentences = staked_sentences(answer, "usft")
    assert sentences[0].startswith("Do not plant from these points yet")
    assert sentences[1] == answer.explanations[0].words
    (line, *_) = explanation_lines(answer)
    assert line.where == "all of it"
    assert line.amount == "−2.0 ppm"


def replace_frame():
    from layoutdesk.core.model import SiteFrame

    return SiteFrame(46.2, -119.8, 120.0, datum="EPSG:4152")


@pytest.mark.parametrize("blunder", ["feet", "swapped"])
def test_points_carried_far_away_are_compared_all_the_same(tmp_path, site, blunder):
    which = site.of_kind("end_post")
    en = site.noisy(0.02) / 0.3048 if blunder == "feet" else site.noisy(0.02)[:, ::-1]
    answer = answered(site, site.csv(tmp_path / "a.csv", en, which))
    assert (
        answer.explanations[0].code
        == {"feet": "feet-as-metres", "swapped": "axes-swapped"}[blunder]
    )
    assert np.isfinite(answer.residuals.distance_m).all()
    assert staked_arrows(answer).times == 1.0


def test_rows_that_were_exchanged_are_found_and_can_be_looked_at(tmp_path, site):
    which = site.of_kind("end_post")
    owner = site.points.owner
    en = site.noisy(0.01)
    first, second = owner[which[8]], owner[which[10]]
    a, b = (which[owner[which] == w] for w in (first, second))
    en[a], en[b] = en[b].copy(), en[a].copy()
    answer = answered(site, site.csv(tmp_path / "a.csv", en, which))
    found = answer.explanations[0]
    assert found.code == "rows-swapped"
    line = explanation_lines(answer)[0]
    x, y = place_of_key(answer, line.key)
    rows = site.points.xy_m[np.concatenate([a, b])]
    assert np.hypot(*(rows - (x, y)).T).min() < 60


def test_numbers_are_of_the_projects_own_choice_and_not_of_another_seal(tmp_path):
    chosen = PointChoice(kinds=("end_post",), order="serpentine", first_number=501)
    known = project(points=chosen)
    site = Staked(known)
    own = hand_off_set(known, site.plans)
    points = own.points.all()
    en = own.placing.placed(points.xy_m)
    lines = ["point,northing,easting"]
    lines += [f"{n},{e[1] + 0.01:.4f},{e[0]:.4f}" for n, e in zip(points.number, en, strict=True)]
    path = tmp_path / "back.csv"
    path.write_text("\n".join(lines) + "\n")
    answer = answered(site, path, known)
    assert answer.matched.way == "number"
    assert len(answer.matched.planned) == len(points)
    assert np.allclose(answer.residuals.distance_m, 0.01, atol=3e-4)
    other = replace(seal_of(own), order="another")
    assert seal_of(own).order == order_mark(known.hand_off)
    path.write_text("\n".join(lines) + f"\n#,,{other.text('0' * 64)}\n")
    assert answered(site, path, known).matched.way == "place"
    assert answered(site, path, known, way="number").matched.way == "number"


def test_by_place_it_says_what_cannot_be_seen(tmp_path, site):
    which = site.of_kind("end_post", "anchor")
    answer = answered(site, site.csv(tmp_path / "a.csv", site.noisy(0.01), which), way="place")
    assert answer.matched.way == "place"
    assert len(answer.matched.planned) == len(which)
    assert any("rows exchanged" in n for n in staked_notes(answer))


def test_heights_are_compared_where_both_are_known(tmp_path, site, monkeypatch):
    import layoutdesk.session.staked as staked

    plane = lambda xy: 90.0 + 0.01 * xy[:, 0]  # noqa: E731
    made = staked.hand_off_set
    monkeypatch.setattr(
        staked, "hand_off_set", lambda *a, **k: replace(made(*a, **k), heights=plane)
    )
    which = site.of_kind("end_post")
    heights = plane(site.points.xy_m[which]) + 0.02
    heights[3] += 0.2
    lines = ["point,northing,easting,elevation,description"]
    for k, (name, north, east, code) in enumerate(site.rows(site.en, which)):
        lines.append(
            f"{name},{north},{east},{heights[k]:.3f},{code}"
            if k % 2
            else f"{name},{north},{east},,{code}"
        )
    path = tmp_path / "a.csv"
    path.write_text("\n".join(lines))
    answer = answered(site, path)
    known = np.isfinite(answer.residuals.height_m)
    assert known.sum() == len(which) // 2
    assert (
        np.isclose(answer.residuals.height_m[known], 0.02, atol=1e-3).sum() == len(which) // 2 - 1
    )
    told = " ".join(staked_sentences(answer))
    assert "1 point is off by more than 50 mm" in told


def test_the_plan_handed_back_is_not_taken_for_a_measurement(tmp_path, site):
    from layoutdesk.formats.seal import SealedFile

    which = site.of_kind("end_post")
    text = site.csv(tmp_path / "x.csv", site.en, which).read_bytes()
    path = tmp_path / "points.csv"
    with SealedFile(path) as file:
        file.write(text + b"#,,,")
        file.write(file.seal_text(seal_of(site.hand)).encode())
        file.write(b"\n")
    answer = answered(site, path)
    assert codes(answer) == ["staked-unmeasured"]
    assert "Nothing can be said" in staked_sentences(answer)[0]
    path.write_bytes(path.read_bytes().replace(text[60:61], b"7", 1))
    assert "staked-unmeasured" not in codes(answered(site, path))


@pytest.mark.parametrize(
    ("way", "told"),
    [("", "number of the hand-off"), ("code", "code of the plan"), ("place", "km from the site")],
)
def test_a_file_of_another_site_is_refused_in_one_sentence(tmp_path, site, way, told):
    path = tmp_path / "other.csv"
    path.write_text(
        "point,northing,easting,description\nx,5000000,400000,gate\ny,5000010,400000,fence\n"
    )
    with pytest.raises(InputProblem, match=told) as problem:
        answered(site, path, way=way)
    assert "other.csv" in str(problem.value)


def test_arrows_show_all_beyond_tolerance_and_some_of_the_rest(tmp_path, site, monkeypatch):
    import layoutdesk.session.staked_drawing as drawing

    which = site.of_kind("vine")
    en = site.noisy(0.02)
    answer = answered(site, site.csv(tmp_path / "a.csv", en, which))
    assert len(which) < MOST_ARROWS
    arrows = staked_arrows(answer)
    assert len(arrows.at_m) == len(which)
    assert arrows.amiss.sum() == len(answer.worst)
    assert np.allclose(arrows.at_m, answer.planned_xy_m)
    assert np.allclose(arrows.step_m, answer.residuals.offset_m)
    digits = arrows.times / 10 ** np.floor(np.log10(arrows.times))
    assert round(float(digits), 6) in (1, 2, 5)
    drawn = np.quantile(np.hypot(*arrows.step_m.T), 0.99) * arrows.times
    assert 1.0 - 1e-9 <= drawn <= 2.5 + 1e-9  # no step of 1, 2, 5 leaves less than 2 of 5
    assert f"{arrows.times:g} times" in arrows.said
    monkeypatch.setattr(drawing, "MOST_ARROWS", 300)
    few = staked_arrows(answer)
    assert len(few.at_m) <= 300
    assert few.amiss.sum() == len(answer.worst)


def test_the_day_of_the_project_says_where_magnetic_north_was(tmp_path, site):
    from layoutdesk.session.staked import _facts

    known = replace(site.project, day=datetime.date(2026, 6, 1))
    facts = _facts(replace(site.hand, project=known), known)
    assert facts.combined_factor == pytest.approx(site.placing.grid.combined_factor)
    assert facts.convergence_deg == pytest.approx(site.placing.grid.convergence_deg)
    assert (
        4.0 < facts.declination_deg < 6.5
    )  # near Vienna in 2026, by the World Magnetic Model 2025
    assert facts.row_spacing_m == 2.5
