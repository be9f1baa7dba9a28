"""What is said on a printed plan: survey, findings, every block's rules and tally, cautions."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from ..core.model import Project
from .layouts import LayoutAnswer
from .rule_scope import common_names, scoped_paragraph
from .specification import as_text, shown_exactly, shown_length
from .stakeout import CAUTIONS
from .survey import SurveyView
from .tally import figures_of
from .wording import window_words

_FINDINGS_AT_MOST = 40


@dataclass(frozen=True)
class Section:
    """A heading with what stands under it: paragraphs, then names with values.

    `kind` tells how it is set: "rules" in the text face, "text" and "caution" in the plain one.
    """

    heading: str
    paragraphs: tuple[str, ...] = ()
    figures: tuple[tuple[str, str], ...] = ()
    kind: str = "text"


def sections_of(
    project: Project, answer: LayoutAnswer, survey: SurveyView, unit: str = "m"
) -> tuple[Section, ...]:
    """All that is said on a sheet: survey, heights, findings, rules and tallies, cautions."""
    found = _findings(answer, unit)
    sections = (
        Section("Survey", survey_lines(project, survey)),
        *_ground(project, answer, unit),
        *((Section("Before anyone stakes this", found, kind="caution"),) if found else ()),
        *rule_sections(project, unit),
        *_tallies(answer, unit),
        Section("Cautions", CAUTIONS, kind="caution"),
    )
    return tuple(replace(s, paragraphs=tuple(map(bound, s.paragraphs))) for s in sections)


def _ground(project: Project, answer: LayoutAnswer, unit: str):
    """Where the heights of the ground are from, and how far apart contours are."""
    if answer.terrain is None or project.terrain is None:
        return
    lines = [f"{answer.terrain.statement}."]
    if project.terrain.contour_m:
        lines.append(
            f"Contours every {shown_exactly(project.terrain.contour_m, unit, 0)} of height."
        )
    yield Section("Heights of the ground", tuple(lines))


def rule_sections(project: Project, unit: str = "m") -> tuple[Section, ...]:
    """Every block's rules in words, those of blocks that share them together."""
    return tuple(_rules(project, names, unit) for names in _sharing(project))


def bound(text: str) -> str:
    """A text whose numbers are never parted from their units by the end of a line."""
    return re.sub(r"(?<=\d) (?=(m|mm|cm|ft|ppm|ha|ac|%)\b|US ft|%)", "\u00a0", text).replace(
        "US ft", "US\u00a0ft"
    )


def _sharing(project: Project) -> tuple[tuple[str, ...], ...]:
    """Names of blocks, those that share their rules together."""
    common = common_names(project)
    groups = ((common if b.name in common else (b.name,)) for b in project.blocks)
    return tuple(dict.fromkeys(groups))


def _rules(project: Project, names: tuple[str, ...], unit: str) -> Section:
    words = as_text(scoped_paragraph(project, names, unit)).split("\n")
    return Section(f"Rows of {', '.join(names)}", tuple(words), kind="rules")


def _tallies(answer: LayoutAnswer, unit: str):
    def tally(heading, of):
        return Section(
            heading, figures=tuple((f.name, f.value) for f in figures_of(of, None, unit))
        )

    if len(answer.plans) > 1:
        yield tally("Tally of all blocks", answer.tally)
    for plan, of in zip(answer.plans, answer.block_tallies, strict=True):
        yield tally(f"Tally of {plan.block.name}", of)


def survey_lines(project: Project, survey: SurveyView) -> tuple[str, ...]:
    """How the plan lies to the survey grid and to the norths, in sentences."""
    norths = survey.norths
    lines = [
        "The plan is drawn true north up, with lengths on the ground.",
        f"Stake-out files: {survey.grid.statement}.",
        f"{survey.factor}.",
        f"Convergence {_signed(norths.convergence_deg)}: "
        + _north_words("grid", norths.convergence_deg),
    ]
    if norths.declination_deg is not None:
        on = f" on {project.day.isoformat()}" if project.day else ""
        lines.append(
            f"Declination {_signed(norths.declination_deg, 1)}{on}: "
            + _north_words("magnetic", norths.declination_deg, 1)
        )
    return tuple(lines)


def _signed(degrees: float, decimals: int = 4) -> str:
    sign = "−" if round(degrees, decimals) < 0 else "+"
    return f"{sign}{abs(degrees):.{decimals}f}°"


def _north_words(north: str, degrees: float, decimals: int = 4) -> str:
    if not round(degrees, decimals):
        return f"{north} north is true north."
    side = "east" if degrees > 0 else "west"
    return f"{north} north lies {abs(degrees):.{decimals}f}° {side} of true north."


def _findings(answer: LayoutAnswer, unit: str) -> tuple[str, ...]:
    serious = [f for f in answer.findings if f.severity != "note"]
    lines = []
    for f in serious[:_FINDINGS_AT_MOST]:
        told = window_words(f.told(lambda m: shown_length(m, unit)))
        where = f"{f.where}: " if f.where and f.where not in told else ""
        lines.append(f"{f.severity.capitalize()}. {where}{told}")
    more = len(serious) - len(lines)
    return (*lines, f"And {more} more, listed in the program.") if more else tuple(lines)
