"""A block's rules as a paragraph of plain language with values in it.

The window shows it with the values to be changed in place; sheets and reports print it.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..core.model import CHOICES, RowRules
from .numbering import corners, start_corner
from .rule_words import BEST_WORDS, MEANINGS, NAMES, NONE_WORDS, choice_text, step_of
from .units import unit_label, unit_length_m

__all__ = [
    "NAMES",
    "Paragraph",
    "Sentence",
    "Value",
    "as_text",
    "choice_text",
    "merged_value",
    "shown_bearing",
    "shown_exactly",
    "shown_length",
    "shown_rule",
    "specification",
]


@dataclass(frozen=True)
class Value:
    """One value of the paragraph.

    Attributes
    ----------
    rule : str
        The field of RowRules it stands for, or another key of NAMES.
    text : str
        As shown.
    name : str
        What it is, for tooltips, undo and screen readers.
    step : float
        What a wheel notch or an arrow key changes, in the unit shown; 0 where there are no steps.
    choices, meanings : tuple of str
        All that can be chosen, where it is a choice, and what each of them does.
    chosen : str
        The choice as it is; empty where blocks differ.
    each : tuple of (str, str)
        Every block it stands for, with the block's own text.
    """

    rule: str
    text: str
    name: str
    step: float = 0.0
    choices: tuple[str, ...] = ()
    meanings: tuple[str, ...] = ()
    chosen: str = ""
    each: tuple[tuple[str, str], ...] = ()

    @property
    def differs(self) -> bool:
        """Whether the blocks it stands for have values of their own."""
        return len({text for _, text in self.each}) > 1


Sentence = tuple[str | Value, ...]
Paragraph = tuple[Sentence, ...]

_DECIMALS = {"headland_m": 1, "min_row_m": 1, "alley_every_m": 1, "alley_width_m": 1}
_MOST_DECIMALS = 3


def shown_length(metres: float, unit: str = "m", decimals: int = 2) -> str:
    """A length with its unit.

    Examples
    --------
    >>> shown_length(2.4), shown_length(2.4384, "ft"), shown_length(8.0, decimals=1)
    ('2.40 m', '8.00 ft', '8.0 m')
    """
    return f"{metres / unit_length_m(unit):.{decimals}f} {unit_label(unit)}"


def shown_exactly(metres: float, unit: str = "m", decimals: int = 1) -> str:
    """A length with so many decimals, or more, up to three: never shown as rounder than it is.

    Examples
    --------
    >>> shown_exactly(8.0), shown_exactly(2.5908), shown_exactly(2.4384, "ft")
    ('8.0 m', '2.591 m', '8.0 ft')
    """
    shown = metres / unit_length_m(unit)
    while decimals < _MOST_DECIMALS and abs(round(shown, decimals) - shown) > 5e-4:
        decimals += 1
    return shown_length(metres, unit, decimals)


def shown_bearing(degrees: float) -> str:
    """A bearing with three whole digits and at least one decimal, as many as it has up to four.

    Examples
    --------
    >>> shown_bearing(18), shown_bearing(7.25)
    ('018.0°', '007.25°')
    """
    text = f"{round(degrees, 4) % 360:08.4f}".rstrip("0")
    return f"{text}0°" if text.endswith(".") else f"{text}°"


def shown_rule(rules: RowRules, rule: str, unit: str = "m") -> str:
    """One rule as the paragraph says it.

    Examples
    --------
    >>> shown_rule(RowRules(), "row_spacing_m"), shown_rule(RowRules(anchor_m=0), "anchor_m")
    ('2.40 m', 'no anchors')
    """
    if rule == "start_corner":
        return choice_text(rule, start_corner(rules).word)
    value = getattr(rules, rule)
    if rule in CHOICES:
        return choice_text(rule, value)
    if value == "best":
        return BEST_WORDS
    if value == 0 and rule in NONE_WORDS:
        return NONE_WORDS[rule]
    if rule == "bearing_deg":
        return shown_bearing(value)
    if rule.endswith("_m"):
        return shown_exactly(value, unit, _DECIMALS.get(rule, 2) if unit == "m" else 1)
    return f"{value:g}" + {"_deg": "°", "_pct": " %"}.get(rule[-4:], "")


def merged_value(
    rule: str, name: str, each: tuple[tuple[str, str], ...], *, step=0.0, options=(), chosen=""
) -> Value:
    """A value that stands for several blocks: their common text, both texts, or "differs"."""
    texts = list(dict.fromkeys(text for _, text in each))
    text = texts[0] if len(texts) == 1 else " / ".join(texts) if len(texts) == 2 else "differs"
    choices, meanings = zip(*options, strict=True) if options else ((), ())
    return Value(rule, text, name, step, choices, meanings, chosen if len(texts) == 1 else "", each)


def _options(rule: str, rules: RowRules) -> tuple[tuple[str, str], ...]:
    """Choices with what they do."""
    if rule == "start_corner":
        return tuple((c.word, c.meaning) for c in corners(rules.bearing_deg))
    return tuple((c, MEANINGS.get(rule, {}).get(c, "")) for c in CHOICES.get(rule, ()))


def specification(
    rules: RowRules,
    unit: str = "m",
    kept_clear: Sentence = (),
    *,
    blocks: tuple[tuple[str, RowRules], ...] = (),
    alleys: Sentence = (),
    codes: Sentence = (),
    shared: Sentence = (),
    curved: bool = False,
) -> Paragraph:
    """The paragraph of a block's rules, or of several blocks' rules at once.

    Parameters
    ----------
    rules : RowRules
        The only ones where `blocks` is empty.
    unit : str
        Of lengths.
    kept_clear, shared : tuple of str or Value
        Sentences put into it.
    blocks : tuple of (str, RowRules), optional
        All blocks it stands for, by name.
    curved : bool
        Whether rows follow a guide line and no bearing.
    alleys, codes : tuple of str or Value
        Ends of the sentences about alleys and about numbering, without their full stops.
    """
    blocks = blocks or (("", rules),)
    every = tuple(r for _, r in blocks)

    def v(rule: str, capital: bool = False) -> Value:
        each = tuple((name, shown_rule(r, rule, unit)) for name, r in blocks)
        if capital:
            each = tuple((name, text[:1].upper() + text[1:]) for name, text in each)
        chosen = start_corner(every[0]).word if rule == "start_corner" else getattr(every[0], rule)
        return merged_value(
            rule,
            NAMES[rule],
            each,
            step=step_of(rule, unit),
            options=_options(rule, every[0]),
            chosen=chosen if isinstance(chosen, str) else "",
        )

    def all_are(rule: str, *values) -> bool:
        return all(getattr(r, rule) in values for r in every)

    return (
        (
            *(
                ("Rows follow a guide line, ",)
                if curved
                else ("Rows run at ", v("bearing_deg"), " true, ")
            ),
            v("row_spacing_m"),
            " apart, with a vine every ",
            v("vine_spacing_m"),
            ".",
        ),
        (
            "Leave ",
            v("headland_m"),
            " clear at row ends and ",
            v("side_margin_m"),
            " along the sides; edges at ",
            v("side_angle_deg"),
            " or more to the rows are row ends. ",
            *((*kept_clear, " ") if kept_clear else ()),
            *_first_row(v, all_are),
        ),
        (
            *_posts(v, all_are),
            "The first vine stands ",
            v("first_vine_m"),
            " from its end post and the last at least ",
            v("last_vine_m"),
            ". ",
            *_leftover(v, all_are),
        ),
        (
            *(
                (v("min_row_m", capital=True), " is left out for being short. ")
                if all_are("min_row_m", 0)
                else ("Rows shorter than ", v("min_row_m"), " are left out. ")
            ),
            *_alleys(v, all_are),
            *alleys,
            ".",
        ),
        (
            "Numbering begins in the ",
            v("start_corner"),
            ", with row ",
            v("first_number"),
            *codes,
            ".",
            *((" ", *shared) if shared else ()),
        ),
    )


def _first_row(v, all_are) -> Sentence:
    if all_are("first_row_m", "best"):
        return ("The leftmost row stands ", v("first_row_m"), ".")
    if all_are("first_row_m", 0, "best"):
        return ("The leftmost row stands ", v("first_row_m"), " the plantable ground.")
    return ("The leftmost row stands ", v("first_row_m"), " into the plantable ground.")


def _posts(v, all_are) -> Sentence:
    posts: Sentence = ("A line post stands every ", v("line_post_every"), " vines")
    if all_are("line_post_every", 0):
        posts = (v("line_post_every", capital=True), " stand in the rows")
    elif all_are("line_post_every", 1):
        posts = ("A line post stands after every ", v("line_post_every"), " vine")
    if all_are("anchor_m", 0):
        return (*posts, "; ", v("anchor_m"), " stand beyond the end posts. ")
    return (*posts, "; anchors sit ", v("anchor_m"), " beyond the end posts. ")


def _leftover(v, all_are) -> Sentence:
    if all_are("leftover", "stretch"):
        return (
            "What is left over is taken up by a ",
            v("leftover"),
            " of at most ",
            v("stretch_max_pct"),
            ".",
        )
    if all_are("leftover", "across"):
        return ("Vines line up ", v("leftover"), " the rows on a ", v("lattice"), " lattice.")
    return ("What is left over goes to ", v("leftover"), ".")


def _alleys(v, all_are) -> Sentence:
    if all_are("alley_every_m", 0):
        return (v("alley_every_m", capital=True), " cross the rows at intervals")
    return ("An alley ", v("alley_width_m"), " wide crosses the rows every ", v("alley_every_m"))


def as_text(paragraph: Paragraph) -> str:
    """The paragraph without controls.

    Examples
    --------
    >>> as_text(specification(RowRules(bearing_deg=18)))[:60]
    'Rows run at 018.0° true, 2.40 m apart, with a vine every 1.5'
    """
    return "\n".join(
        "".join(part.text if isinstance(part, Value) else part for part in sentence)
        for sentence in paragraph
    )
