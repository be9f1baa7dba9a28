"""Inspection in words: how many vines to look at, what was found by lot and row, what is to be gone over again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.planting.again import to_inspect_again
from ..core.planting.on_record import codes_on_record
from ..core.planting.sampling import SamplePlan, TableRow, accept_chance, least_faulty
from ..core.planting.survival import Tally
from .day_words import NO_LOT, vines_text
from .planted import PlantingAnswer, planting_of
from .tally import grouped
from .wording import listed

_MOST_CODES = 12
"""More vines than that are not named one by one in a sentence."""


@dataclass(frozen=True)
class CheckedLine:
    """A lot or a row as inspected, as text.

    Attributes
    ----------
    key : str
        Name of the lot, or code of the row.
    name, size, faulty, share, bounds, verdict : str
        `size` is how many were looked at, "12 of 59" where a sample is not done.
    told : str
        All of it in words.
    flag : str
        "wrong" for a lot that is not accepted, "caution" for what is faulty otherwise, else "".
    """

    key: str
    name: str
    size: str
    faulty: str
    share: str
    bounds: str
    verdict: str
    told: str
    flag: str


@dataclass(frozen=True)
class ReworkLine:
    """A row to go over again, as text.

    `places` are positions of the register that have faults; `key` is the row's code.
    """

    key: str
    row: str
    why: str
    told: str
    flag: str
    places: tuple[int, ...]


def checked_lot_lines(answer: PlantingAnswer, unit: str = "m") -> tuple[CheckedLine, ...]:
    """One line a lot that is sampled or was inspected."""
    by_lot, accepted = {}, {}
    if answer.result is not None:
        by_lot = {tally.name: tally for tally in answer.result.by_lot}
        accepted = dict(answer.result.accepted)
    plans = {} if answer.sample is None else dict(zip(answer.sample.lots, answer.sample.plans, strict=True))  # fmt: skip
    names = dict.fromkeys([*plans, *(n for n, t in by_lot.items() if t.size)])
    return tuple(
        _lot_line(name, by_lot.get(name), plans.get(name), accepted.get(name)) for name in names
    )


def _lot_line(name: str, tally: Tally | None, plan: SamplePlan | None, accepted) -> CheckedLine:
    looked, faulty = (tally.size, tally.faulty) if tally is not None else (0, 0)
    wanted = plan.size if plan is not None else looked
    accept = plan.accept if plan is not None else 0
    flag = "caution" if faulty else ""
    if faulty > accept and not accepted:
        verdict, flag = "not accepted: go over all of it", "wrong"
    elif faulty > accept:
        verdict, flag = "gone over and accepted", ""
    elif looked < wanted:
        verdict = f"{grouped(wanted - looked)} more to look at"
    else:
        verdict = "accepted"
    lot = f"Lot {name}" if name else "Vines whose lot nobody said"
    size = grouped(looked) if looked >= wanted else f"{grouped(looked)} of {grouped(wanted)}"
    told = f"{lot}: {_found_text(tally)} {verdict[0].upper()}{verdict[1:]}."
    return CheckedLine(
        name, name or NO_LOT, size, grouped(faulty), _share(tally), _bounds(tally), verdict, told, flag
    )  # fmt: skip


def checked_row_lines(answer: PlantingAnswer, unit: str = "m") -> tuple[CheckedLine, ...]:
    """One line a row that was inspected, those with the most faulty vines first."""
    if answer.result is None:
        return ()
    rows = [t for t in answer.result.by_row if t.size]
    rows.sort(key=lambda t: -t.faulty)
    return tuple(
        CheckedLine(
            t.name, t.name, grouped(t.size), grouped(t.faulty), _share(t), _bounds(t), _items(t),
            f"Row {t.name}: {_found_text(t)}", "caution" if t.faulty else "",
        )
        for t in rows
    )  # fmt: skip


def _items(tally: Tally) -> str:
    from ..core.model.planting import CHECKS

    items = [f"{CHECKS.get(item, item)} {n}" for item, n in tally.items if n]
    return f"not right: {', '.join(items)}" if items else ""


def _found_text(tally: Tally | None) -> str:
    if tally is None or not tally.size:
        return "nobody has looked yet."
    text = (
        f"{grouped(tally.faulty)} of {grouped(tally.size)} inspected are faulty, {_share(tally)}, with 95\u00a0% "
        f"confidence {_bounds(tally)}."
    )
    items = _items(tally)
    return f"{text} {items[0].upper()}{items[1:]}." if items else text


def _share(tally: Tally | None) -> str:
    return f"{tally.share_pct:.1f}\u00a0%" if tally is not None and tally.size else ""


def _bounds(tally: Tally | None) -> str:
    if tally is None or not tally.size:
        return ""
    return f"{tally.low_pct:.1f}–{tally.high_pct:.1f}\u00a0%"


def rework_lines(answer: PlantingAnswer, unit: str = "m") -> tuple[ReworkLine, ...]:
    """Rows to go over again, and which vines of them are known to be faulty."""
    if answer.result is None:
        return ()
    return tuple(
        ReworkLine(
            r.row, r.row, r.why, f"Row {r.row}: {r.why}.{_codes_text(answer, r.places)}",
            "caution" if r.places else "wrong", r.places,
        )
        for r in answer.result.rework
    )  # fmt: skip


def _codes_text(answer: PlantingAnswer, places) -> str:
    if not places:
        return ""
    codes = codes_on_record(answer.standing.register, list(places[:_MOST_CODES]))
    more = len(places) - len(codes)
    return f" Faulty: {', '.join(codes)}" + (f" and {grouped(more)} more." if more else ".")


def inspection_sentences(answer: PlantingAnswer, unit: str = "m") -> tuple[str, ...]:
    """What stands above the lists: the sample, what is on record, what is to be looked at again."""
    return (*sampling_sentences(answer), *again_sentences(answer))


def sampling_sentences(answer: PlantingAnswer, most: int = 6) -> tuple[str, ...]:
    """How many vines of every lot are looked at, and what the printed table takes; `most` lots at most."""
    sample = answer.sample
    if sample is None or not sample.lots:
        return (
            "There are no vines to look at yet: lay a block out, and say which lot stands where.",
        )
    confidence = planting_of(answer.project).inspecting.confidence_pct
    said = [
        sampling_text(name, plan, printed, confidence)
        for name, plan, printed in zip(sample.lots, sample.plans, sample.printed, strict=True)
    ]
    if len(said) > most:
        rest = sample.plans[most:]
        vines, lots = sum(p.size for p in rest), len(rest)
        said[most:] = [f"And {vines_text(vines)} of {grouped(lots)} other lot{'s' * (lots > 1)}."]
    return tuple(said)


def sampling_text(
    lot: str, plan: SamplePlan, printed: TableRow | None, confidence_pct: float
) -> str:
    """The sample of a lot as a sentence or two, beside what the printed table takes.

    Examples
    --------
    >>> plan = SamplePlan(1240, 58, 0, 5.0, 95.06)
    >>> print(sampling_text("A", plan, None, 95.0).replace("\\u202f", ",").replace("\\xa0", " "))
    Look at 58 of 1,240 vines of lot A and accept none that is faulty: a lot with 5 % faulty vines or more is \
found out with a chance of 95.1 %.
    """
    of = f"of lot {lot}" if lot else "whose lot nobody said"
    share, accept = _pct(plan.tolerated_pct), accept_words(plan.accept)
    look = (
        f"Look at all {vines_text(plan.lot_size)} {of}"
        if plan.is_all
        else f"Look at {grouped(plan.size)} of {vines_text(plan.lot_size)} {of}"
    )
    if plan.found_out_pct < confidence_pct - 1e-6:
        least = least_faulty(plan.lot_size, plan.tolerated_pct)
        text = (
            f"{look}: even so, {share} of it are only {grouped(least)}, and {grouped(plan.accept)} faulty are "
            "accepted. Lower the number that is accepted."
        )
    else:
        text = (
            f"{look} and accept {accept}: a lot with {share} faulty vines or more is found out with "
            f"{chance_text(plan.found_out_pct)}."
        )
    return f"{text} {_printed_text(plan, printed)}" if printed is not None else text


def _printed_text(plan: SamplePlan, printed: TableRow) -> str:
    size = min(printed.size, plan.lot_size)
    faulty = least_faulty(plan.lot_size, plan.tolerated_pct)
    out = 100 * (1 - accept_chance(plan.lot_size, faulty, size, printed.accept))
    takes = "all of it" if size == plan.lot_size else grouped(size)
    return (
        f"For comparison, the printed table (MIL-STD-105E, level II, normal, AQL {_pct(printed.aql_pct)}) takes "
        f"{takes} and accepts {accept_words(printed.accept)}: it finds such a lot out with {chance_text(out)}, for "
        "it is made to pass lots at its AQL nearly always."
    )


def accept_words(accept: int) -> str:
    """How many faulty vines are accepted.

    Examples
    --------
    >>> accept_words(0), accept_words(1), accept_words(3)
    ('none that is faulty', '1 faulty vine', 'up to 3 faulty vines')
    """
    if not accept:
        return "none that is faulty"
    return "1 faulty vine" if accept == 1 else f"up to {grouped(accept)} faulty vines"


def _pct(value: float) -> str:
    return f"{value:g}\u00a0%"


def chance_text(pct: float) -> str:
    """A chance, never rounded up to certainty.

    Examples
    --------
    >>> chance_text(99.98).replace("\\xa0", " "), chance_text(100.0)
    ('a chance of 99.9 %', 'certainty')
    """
    if pct >= 100 - 1e-9:
        return "certainty"
    return f"a chance of {min(pct, 99.9):.1f}\u00a0%"


def again_sentences(answer: PlantingAnswer) -> tuple[str, ...]:
    if answer.standing is None or answer.result is None:
        return ()
    said = []
    looked = sum(t.size for t in answer.result.by_lot)
    if looked:
        faulty = sum(t.faulty for t in answer.result.by_lot)
        said.append(f"{vines_text(looked)} looked at, {grouped(faulty)} of them faulty.")
    refused = [name for name, yes in answer.result.accepted if yes is False]
    if refused:
        lots = f"lot{'s' * (len(refused) > 1)} {listed(n or NO_LOT for n in refused)}"
        said.append(
            f"Go over every vine of {lots}, put right what is wrong, then look at every one of them again."
        )
    wrong, again = (
        int(np.count_nonzero(answer.standing.faults)),
        len(to_inspect_again(answer.standing)),
    )
    if wrong:
        said.append(f"{vines_text(wrong)} to put right.")
    if again:
        said.append(
            f"{vines_text(again)} {'was' if again == 1 else 'were'} put right and "
            f"{'waits' if again == 1 else 'wait'} to be looked at again."
        )
    return tuple(said)
