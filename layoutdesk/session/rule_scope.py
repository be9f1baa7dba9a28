"""The rules of several blocks at once: what they show, and edits of all of them.

Blocks in scope are given by name. Common blocks share one set of rules, so an edit of one of them
is an edit of all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..core.model import Block, InputProblem, Project, RowRules
from .alley_text import (
    alley_name,
    alley_words,
    is_alley,
    stepped_alley_m,
    typed_alley_m,
    with_alley_width,
)
from .exclusions import (
    clearance_name,
    clearance_sentence,
    is_clearance,
    stepped_clearance_m,
    typed_clearance_m,
    with_clearance,
)
from .numbering import COMPASS, corners, start_corner, typed_corner, with_start_corner
from .rule_typing import stepped, with_typed
from .rule_words import MEANINGS, NAMES, choice_text
from .specification import Paragraph, Sentence, Value, merged_value, specification
from .wording import listed

Names = tuple[str, ...]
_COMMON = tuple(MEANINGS["common"].items())


def common_names(project: Project) -> Names:
    """Blocks that share their rules, in the project's order."""
    return tuple(b.name for b in project.blocks if b.common)


def names_edited(project: Project, names: Names) -> Names:
    """Blocks that an edit of some blocks' rules changes: with one common block all of them."""
    wanted, common = set(names), set(common_names(project))
    if wanted & common:
        wanted |= common
    return tuple(b.name for b in project.blocks if b.name in wanted)


def scoped_paragraph(project: Project, names: Names, unit: str = "m") -> Paragraph:
    """The specification of some blocks; where they differ a value tells what each of them has."""
    blocks = tuple(project.block(name) for name in names)
    several = len(project.blocks) > 1
    prefix: Sentence = ("; codes begin with ", _block_name(blocks[0]))
    if len(blocks) > 1:
        prefix = ("; codes begin with the block's name",)
    return specification(
        blocks[0].rules,
        unit,
        clearance_sentence(project.exclusions, unit),
        blocks=tuple((b.name, b.rules) for b in blocks),
        alleys=alley_words(_with_own_alleys(blocks), unit),
        codes=prefix,
        shared=_shared(project, blocks[0]) if several and len(blocks) == 1 else (),
        curved=all(b.guide is not None for b in blocks),
    )


def _with_own_alleys(blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """Blocks, common ones only once: their alleys are the same."""
    common = [b.name for b in blocks if b.common]
    return tuple(b for b in blocks if not b.common or b.name == common[0])


def _block_name(block: Block) -> Value:
    return Value("block_name", block.name, NAMES["block_name"], each=((block.name, block.name),))


def _shared(project: Project, block: Block) -> Sentence:
    word = "shared" if block.common else "own"
    text = choice_text("common", word)
    each = ((block.name, text),)
    value = merged_value("common", NAMES["common"], each, options=_COMMON, chosen=word)
    others = [n for n in common_names(project) if n != block.name]
    if not block.common:
        return ("The rules of ", block.name, " are ", value, ".")
    if not others:
        return ("The rules of ", block.name, " are ", value, ", so far with no other block.")
    return ("The rules of ", block.name, " are ", value, f" with {listed(others)}.")


def edit_name(project: Project, names: Names, rule: str) -> str:
    """What an edit of a value is called, with its blocks where there are several.

    Examples
    --------
    >>> import shapely
    >>> from layoutdesk.core.model import Site, SiteFrame
    >>> site = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
    >>> blocks = tuple(Block(f"B{i}", shapely.box(0, 0, 9, 9)) for i in (1, 2))
    >>> project = Project("x", site, blocks)
    >>> edit_name(project, ("B2",), "bearing_deg"), edit_name(project, ("B1", "B2"), "anchor_m")
    ('bearing of B2', 'anchors of all blocks')
    """
    if is_clearance(rule):
        return clearance_name(project, rule)
    if is_alley(rule):
        return alley_name(rule)
    names = names if rule in ("common", "block_name") else names_edited(project, names)
    if len(project.blocks) == 1:
        return NAMES[rule]
    if len(names) == len(project.blocks):
        return f"{NAMES[rule]} of all blocks"
    return f"{NAMES[rule]} of {listed(names) if len(names) < 4 else f'{len(names)} blocks'}"


def with_rules(project: Project, names: Names, change: Callable[[RowRules], RowRules]) -> Project:
    """The project with the rules of some blocks, and of those that share theirs, changed."""
    for name in names_edited(project, names):
        block = project.block(name)
        project = project.with_block(replace(block, rules=change(block.rules)))
    return project


def with_typed_value(
    project: Project,
    names: Names,
    rule: str,
    text: str,
    unit: str = "m",
    true_from: Callable | None = None,
) -> Project:
    """The project with one value of the paragraph as typed or chosen, the same for all blocks.

    Parameters
    ----------
    project : Project
    names : tuple of str
        Blocks in scope.
    rule, text : str
    unit : str
        Of a bare number.
    true_from : function of (convention, degrees), optional
        Turns grid and magnetic bearings into true ones.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    if is_clearance(rule):
        return with_clearance(project, rule, typed_clearance_m(text, unit))
    if is_alley(rule):
        width_m = typed_alley_m(text, unit)
        return with_alley_width(project, names_edited(project, names), rule, width_m)
    if rule == "start_corner":
        return _with_corner(project, names, typed_corner(text))
    if rule == "block_name":
        return _renamed(project, names[0], text.strip())
    if rule == "common":
        return with_common(project, names[0], text in ("shared", "common"))
    value = getattr(with_typed(project.block(names[0]).rules, rule, text, unit, true_from), rule)
    return with_rules(project, names, lambda rules: replace(rules, **{rule: value}))


def with_stepped_value(
    project: Project, names: Names, rule: str, steps: float, unit: str = "m"
) -> Project:
    """The project with one value moved by so many steps, in each block from what it has there."""
    if is_clearance(rule):
        metres = stepped_clearance_m(project, rule, steps, unit)
        return with_clearance(project, rule, metres)
    if is_alley(rule):
        width_m = stepped_alley_m(project, rule, steps, unit)
        return with_alley_width(project, names_edited(project, names), rule, width_m)
    if rule == "start_corner":
        first = project.block(names[0]).rules
        return _with_corner(project, names, _next_corner(first, int(steps)))
    if rule in ("block_name", "common"):
        return project
    return with_rules(project, names, lambda rules: stepped(rules, rule, steps, unit))


def with_turned_rows(project: Project, names: Names, bearing_deg: float) -> Project:
    """The project with the first block's rows at a bearing and the others' turned by as much."""
    by_deg = bearing_deg - project.block(names[0]).rules.bearing_deg
    first = project.block(names[0]).rules.bearing_deg

    def turned(rules: RowRules) -> RowRules:
        own = rules.bearing_deg
        to_deg = bearing_deg if own == first else round(own + by_deg, 9)
        return replace(rules, bearing_deg=to_deg % 360)

    return with_rules(project, names, turned)


def with_common(project: Project, name: str, on: bool) -> Project:
    """The project with a block among those that share their rules, or with rules of its own.

    Switched on, it takes the rules of the other common blocks, bearing and alleys included, if
    there are any. Switched off, it keeps what it has.
    """
    block = project.block(name)
    if on and not block.common:
        others = [b for b in project.blocks if b.common]
        block = replace(block, rules=others[0].rules if others else block.rules)
    return project.with_block(replace(block, common=on))


def _next_corner(rules: RowRules, steps: int) -> str:
    words = sorted((c.word for c in corners(rules.bearing_deg)), key=COMPASS.index)
    return words[(words.index(start_corner(rules).word) + steps) % len(words)]


def _with_corner(project: Project, names: Names, word: str) -> Project:
    edited = names_edited(project, names)
    for name in edited:
        project = with_start_corner(project, name, word)
    common = common_names(project)
    shared = [project.block(name).rules for name in common if name in edited]
    if not shared or all(_agree(shared[0], rules) for rules in shared):
        for name in common if shared else ():  # a row's offset may differ by rounding
            project = project.with_block(replace(project.block(name), rules=shared[0]))
        return project
    raise InputProblem(
        f"{listed(common)} share their rules, and rows of some would move if they began at the "
        "other end: give the block rules of its own first."
    )


def _agree(a: RowRules, b: RowRules) -> bool:
    near = "best" in (a.first_row_m, b.first_row_m) or abs(a.first_row_m - b.first_row_m) < 1e-6
    return near and replace(a, first_row_m=0.0) == replace(b, first_row_m=0.0)


def _renamed(project: Project, old: str, new: str) -> Project:
    if new == old:
        return project
    from .ground_edits import renamed

    return renamed(project, old, new)
