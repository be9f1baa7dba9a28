"""The comparison as plain text, for a terminal: the best of each line is marked, nothing is added up."""

from __future__ import annotations

from ..formats.compareset import CompareSet, Line, shown_number

_WIDE = 7
"""Candidates that stand as columns; more of them stand as lines."""
_BEST = "*"
_LISTED = 24
"""Candidates named in one sentence at most."""
_PLAIN = str.maketrans({"\u202f": ",", "−": "-", "–": "-"})
"""Signs that not every terminal has."""
_COLUMNS_OF_MANY = (
    "vines",
    "mean_row_m",
    "short_rows",
    "end_posts",
    "grade_along_p95_pct",
    "grade_across_p95_pct",
    "sun_hot_mj_m2",
    "sun_share_pct",
)


def comparison_text(compare: CompareSet, explain: bool = False) -> str:
    """The table, who beats whom, notes, and the definitions where they are asked for."""
    few = len(compare) <= _WIDE
    lines = _measures_down(compare) if few else _candidates_down(compare)
    base = compare.names[compare.study.base]
    lines += [
        "",
        f"{_BEST} best of its line. Base: {base}." if few else f"{_BEST} best of its column.",
    ]
    beaten = [
        f"{compare.names[i]} by {compare.names[b]}"
        for i, b in enumerate(compare.beaten.tolist())
        if b >= 0
    ]
    chosen = ", ".join(
        line.label.lower() for line in compare.lines if line.name in compare.study.chosen
    )
    if beaten and few:
        lines.append(f"Beaten in every chosen measure ({chosen}): {'; '.join(beaten)}.")
    elif beaten:
        left = [n for n, b in zip(compare.names, compare.beaten.tolist(), strict=True) if b < 0]
        told = ", ".join(left) if len(left) <= _LISTED else f"{len(left)} of {len(compare)}"
        lines.append(f"Not beaten in every chosen measure ({chosen}): {told}.")
    lines += [
        f"{name}: {problem}"
        for name, problem in zip(compare.names, compare.problems, strict=True)
        if problem
    ]
    lines += compare.notes[1:]
    if compare.terrain:
        lines.append(f"Terrain: {compare.terrain['statement']}")
    if explain:
        lines += ["", *_definitions(compare)]
    return "\n".join(lines)


def _measures_down(compare: CompareSet) -> list[str]:
    rows = [["", *compare.names]]
    for line in (*compare.rules, *compare.lines):
        rows.append([line.heading, *_cells(line)])
    return aligned(rows)


def _candidates_down(compare: CompareSet) -> list[str]:
    by_name = {line.name: line for line in compare.lines}
    names = dict.fromkeys((*compare.study.chosen, *_COLUMNS_OF_MANY))
    shown = [by_name[n] for n in names if n in by_name]
    columns = [_cells(line) for line in shown]
    rows = [["", *(line.heading for line in shown)]]
    for i, name in enumerate(compare.names):
        rows.append([name, *(column[i] for column in columns)])
    return aligned(rows)


def _cells(line: Line) -> list[str]:
    return [
        shown_number(v, line.decimals).translate(_PLAIN) + (_BEST if b else " ")
        for v, b in zip(line.values.tolist(), line.best.tolist(), strict=True)
    ]


def aligned(rows: list[list[str]]) -> list[str]:
    """Cells in columns: the first from the left, all others from the right."""
    widths = [max(len(row[c]) for row in rows) for c in range(len(rows[0]))]
    return [
        "  ".join(
            cell.ljust(width) if c == 0 else cell.rjust(width)
            for c, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _definitions(compare: CompareSet) -> list[str]:
    better = {"more": " More is better.", "less": " Less is better.", "": ""}
    return [f"{line.heading}: {line.definition}{better[line.better]}" for line in compare.lines]
