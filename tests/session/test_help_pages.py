"""The help holds what it says it holds, and its figures are those of the program."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from layoutdesk.core.model import CHOICES, LIMITS, Project, RowRules
from layoutdesk.core.model.findings import FINDINGS
from layoutdesk.session.edges import edge_view, with_rows_along
from layoutdesk.session.help_pages import HAND_KEYS, ORDER, page, page_of_link, pages, pages_with
from layoutdesk.session.kinds import KINDS
from layoutdesk.session.places import resource
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.specification import NAMES, Value, shown_length, specification
from layoutdesk.session.stakeout import CAUTIONS, lay_project, project_findings, stake_set

LINK = re.compile(r"\[[^\]]+\]\(([^)]+)\)")


@pytest.fixture(scope="module")
def pond() -> Project:
    return open_sample(next(s for s in samples() if s.title == "Field with a Pond"))


def flowing(name: str) -> str:
    """A page with its lines joined, so that a phrase is found wherever the line breaks."""
    return " ".join(page(name).split())


@pytest.mark.parametrize("name", ORDER)
def test_every_page_has_one_title_and_says_something(name):
    text = page(name)
    assert text.startswith("# ")
    assert len(re.findall(r"^# ", text, re.MULTILINE)) == 1
    assert len(text) > 200


def test_the_pages_are_listed_in_reading_order_and_no_file_is_left_out():
    assert [name for name, _ in pages()] == list(ORDER)
    assert len({title for _, title in pages()}) == len(ORDER)
    files = {p.stem for p in resource("help").glob("*.md")}
    assert files == set(ORDER) - {"findings", "keys", "kinds"}


def test_a_page_that_is_not_there_is_named():
    with pytest.raises(KeyError, match="'trellis'"):
        page("trellis")


@pytest.mark.parametrize("name", ORDER)
def test_every_link_goes_to_a_page(name):
    for link in LINK.findall(page(name)):
        assert page_of_link(link) in ORDER, link


def test_every_page_is_linked_from_another():
    linked = {page_of_link(link) for name in ORDER for link in LINK.findall(page(name))}
    assert set(ORDER) - linked <= {"first-layout"}


def test_every_finding_stands_under_its_severity_with_its_code():
    parts = re.split(r"^## \S (\w+)$", page("findings"), flags=re.MULTILINE)
    under = dict(zip((p.lower() for p in parts[1::2]), parts[2::2], strict=True))
    for code, (severity, meaning) in FINDINGS.items():
        assert f"| {meaning} | `{code}` |" in under[severity]


def test_the_page_of_keys_lists_what_it_is_given():
    assert "| Measure | `Ctrl+M` |" in page("keys", [("Measure", "Ctrl+M")])


def test_the_page_of_keys_tells_what_keys_do_where_no_menu_does():
    told = page("keys")
    for place, keys in HAND_KEYS.items():
        part = told.partition(f"## {place}\n")[2].partition("\n## ")[0]
        for what, key in keys:
            assert f"| {what} | {key} |" in part, (place, what)


def test_every_kind_is_told_with_its_clearance_and_its_caution():
    told = page("kinds")
    for kind in KINDS.values():
        assert f"| {kind.name} | {kind.clearance_m:g} m |" in told
        if kind.caution:
            assert f"**{kind.name.capitalize()}.** {kind.caution}" in told


def test_kinds_that_can_hurt_name_whom_to_ask_or_what_governs():
    told = page("kinds")
    assert "no safe distance" in told
    for name in ("overhead line", "buried service"):
        line = next(n for n in told.splitlines() if n.startswith(f"- **{name.capitalize()}"))
        assert "owner" in line


def _sections() -> dict[str, str]:
    parts = re.split(r"^## (.+)$", page("rules"), flags=re.MULTILINE)
    return dict(zip((p.lower() for p in parts[1::2]), parts[2::2], strict=True))


def _shown_rules() -> set[str]:
    """Every rule that any form of the paragraph shows."""
    forms = [RowRules(leftover=leftover) for leftover in CHOICES["leftover"]]
    return {
        part.rule
        for rules in [*forms, RowRules(first_row_m="best", line_post_every=0)]
        for sentence in specification(rules)
        for part in sentence
        if isinstance(part, Value)
    }


def test_every_value_of_the_paragraph_has_a_section_by_its_plain_name():
    assert {NAMES[rule] for rule in _shown_rules()} <= set(_sections())


def test_the_limits_told_are_those_of_the_rules():
    told = _sections()
    for rule in _shown_rules() & set(LIMITS) - {"bearing_deg"}:
        low, high = LIMITS[rule]
        assert f"{low:g} to {high:.0f}" in " ".join(told[NAMES[rule]].split()), rule


def test_every_choice_is_told():
    told = _sections()
    for rule, choices in CHOICES.items():
        for choice in choices:
            assert choice in told[NAMES[rule]].lower(), (rule, choice)


def test_customary_figures_are_marked_as_such():
    """Figures in feet are customs; the rules themselves are told in metres."""
    for paragraph in page("rules").split("\n\n"):
        if re.search(r"\d ft\b", paragraph):
            assert "*Common practice:*" in paragraph, paragraph


def test_the_cautions_defer_to_whom_the_printed_ones_defer_to():
    printed, told = " ".join(CAUTIONS), flowing("cautions")
    for whom in ("one-call service", "owner", "licensed surveyor", "manual", "employer's rules"):
        assert whom in printed
        assert whom in told
    assert "safe" not in told.replace("not say that anything is safe", "").replace(
        "no grade and no bearing that is safe", ""
    )


def _laid(project: Project, **rules):
    block = project.blocks[0]
    return lay_project(
        project.with_block(replace(block, rules=replace(block.rules, **rules))), check=False
    )[0]


def _grouped(n: int) -> str:
    return f"{n:,}".replace(",", " ")


def test_the_figures_of_the_first_layout_are_the_programs(pond):
    told, plan = flowing("first-layout"), lay_project(pond)[0]
    assert f"{_grouped(plan.n_vines)} vines in {plan.n_rows} rows" in told
    assert f"{pond.blocks[0].outline.area / 1e4:.2f} hectares" in told
    assert len(project_findings(pond, (plan,))) == 5
    assert "five findings" in told
    turned = _laid(pond, bearing_deg=140.0)
    assert f"{_grouped(turned.n_vines)} vines in {turned.n_rows} rows" in told
    assert f"+{turned.n_vines - plan.n_vines}, the difference" in told
    wider = _laid(pond, headland_m=9.0)
    assert f"9.0 m, and {_grouped(wider.n_vines)} vines" in told
    edge = edge_view(pond.blocks[0], 0, 4)
    assert f"{edge.length_m:.2f} m long" in told
    assert "*edge 5*" in told
    along = lay_project(with_rows_along(pond, edge), check=False)[0]
    assert f"{_grouped(along.n_vines)} vines in {along.n_rows} rows" in told


def test_the_row_to_tape_is_as_told(pond):
    told, plan = flowing("stake-out"), lay_project(pond)[0]
    s, spacing = plan.segments, plan.rules.vine_spacing_m
    i = next(i for i in range(len(s)) if s.number[i] == 7 and s.letter[i] == 0)
    vines, length, first = int(s.n_vines[i]), float(s.length_m[i]), float(s.first_vine_m[i])
    factor = stake_set(pond, (plan,)).survey.combined_factor
    assert f"{length:.1f} m, {vines} vines" in told
    assert f"Expect {length:.2f} m. On the grid it is {length * factor:.2f} m" in told
    assert f"first vine: {first:.2f} m. That is the {plan.rules.first_vine_m:.2f} m" in told
    assert f"{vines - 1} spaces of {spacing:.2f} m" in told
    assert f"it stands {first + (vines - 1) * spacing:.2f} m from E1" in told
    assert f"at right angles: {shown_length(plan.rules.row_spacing_m)}" in told
    assert f"100 m on the ground are {100 * factor:.4f} m on the grid" in told


def test_a_tape_on_a_slope_reads_more_by_pythagoras():
    told = flowing("stake-out")
    for grade in (10, 20):
        more = 100 * (math.hypot(1, grade / 100) - 1)
        assert re.search(rf"{grade} %.{{0,45}} {float(f'{more:.1g}'):g} % more", told), grade


def test_the_files_told_are_the_files_written(pond, tmp_path):
    from layoutdesk.session.stakeout import write_stake_set

    corner = replace(pond, exclusions=())
    block = replace(pond.blocks[0], rules=RowRules(min_row_m=260.0, bearing_deg=148.0))
    write_stake_set(tmp_path / "set", stake_set(corner.with_block(block)))
    written = {p.name for p in (tmp_path / "set").iterdir()}
    told = set(re.findall(r"^\| `([^`]+)` \|", page("stake-out"), re.MULTILINE))
    assert told == written
    assert len(written) == 6
    header = (tmp_path / "set" / "stakes.csv").read_text().partition("\n")[0]
    assert header.index("northing") < header.index("easting")


def test_pages_are_found_by_all_words_in_any_case():
    assert pages_with("") == list(ORDER)
    assert pages_with("TAPE datum") == ["stake-out", "hand-off"]
    assert pages_with("tape marmalade") == []
    assert pages_with("F9", [("Measure", "F9")]) == ["keys"]
