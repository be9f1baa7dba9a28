"""Where the cards of the planting stage say what is wrong: at the field that a sentence is about."""

from __future__ import annotations

from ..core.model import InputProblem
from .asking import Field, Unfit

_ABOUT = (
    # words of a problem, and the fields it can be about
    ("Not all tags of lot ", ("although",)),
    ("There is no lot ", ("lot", "what")),
    ("name the lot that was planted", ("lot",)),
    ("is assigned there already", ("lot",)),
    ("Nobody said how many plants lot ", ("lot",)),
    ("Nothing of lot ", ("lot",)),
    (" is still to come", ("day",)),
    ("correct the day", ("day",)),
    ("needs its reason", ("reason",)),
    ("Say what the mistake was", ("note",)),
    ("Nothing is said of what stands there", ("what",)),
    (" is no use: ", ("use",)),
    (" is no way of filling", ("order",)),
    ("Nothing of the tag is typed", ("text",)),
)


def at_its_field(problem: InputProblem, fields: tuple[Field, ...]) -> InputProblem:
    """The problem as one of the field that its sentence is about; as it is where it is about none."""
    said = str(problem)
    for field in fields:
        if said.casefold().startswith(f"{field.label.casefold()}: "):
            return Unfit(problem, field.name)
    names = {field.name for field in fields}
    for words, about in _ABOUT:
        name = next((name for name in about if name in names), "")
        if words in said and name:
            return Unfit(problem, name)
    return problem
