"""A hand-off, and what was staked, as plain text for a terminal."""

from __future__ import annotations

from ..core.model import Finding
from .handing_off import HandOffAnswer
from .planting_text import plain
from .specification import shown_length
from .staked import StakedAnswer
from .staked_lines import explanation_lines, staked_notes, staked_sentences, worst_lines

_LISTED = 20


def hand_off_text(answer: HandOffAnswer, notes: tuple[str, ...] = ()) -> str:
    """Statement, files, control points, check distances."""
    hand = answer.hand
    parts = [
        [f"{hand.project.name}: hand-off, revision {hand.revision}", hand.statement + "."],
        [answer.effect] if answer.effect else [],
        [f"  {f.name:<22}{f.holds}; {f.system}" for f in answer.files],
    ]
    if answer.control:
        parts.append(["Control points:", *(f"  {c.told or c.name}" for c in answer.control)])
    if answer.calibrated is not None and answer.calibrated.refused:
        parts.append([answer.calibrated.refused])
    if answer.checks:
        rows = [f"  {c.name}: grid {c.grid}, ground {c.ground}, {c.bearing}" for c in answer.checks]
        parts.append(["Check distances:", *rows])
    if notes:
        parts.append([*notes])
    return plain("\n\n".join("\n".join(lines) for lines in parts if lines))


def staked_text(answer: StakedAnswer, unit: str = "m") -> str:
    """Sentences, explanations, and the farthest points."""
    sentences = staked_sentences(answer, unit)
    explained = [e.words for e in explanation_lines(answer) if e.words not in sentences]
    worst = worst_lines(answer, unit)
    table = [
        f"  {w.code}: {w.distance} off, {w.along} along, {w.across} across"
        + (f", {w.height} in height" if w.height else "")
        for w in worst[:_LISTED]
    ]
    if len(worst) > _LISTED:
        table.append(f"  and {len(worst) - _LISTED:,} more")
    parts = [
        [*sentences, *explained],
        ["Beyond tolerance, the farthest first:", *table] if table else [],
        [*staked_notes(answer)],
    ]
    return plain("\n\n".join("\n".join(lines) for lines in parts if lines))


def findings_text(findings: tuple[Finding, ...], unit: str = "m") -> tuple[str, ...]:
    """What is amiss, most pressing first."""
    told = []
    for finding in findings:
        words = finding.told(lambda m: shown_length(m, unit))
        before = f"{finding.where}: " if finding.where and finding.where not in words else ""
        told.append(plain(f"{finding.severity.capitalize()}. {before}{words}"))
    return tuple(told)
