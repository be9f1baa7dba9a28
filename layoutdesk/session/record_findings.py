"""What the register says that its user should look at: findings about what stands."""

from __future__ import annotations

import numpy as np

from ..core.model import Finding, Project, Register
from ..core.model.register import STATES
from ..core.planting.assigned import Assigned
from ..core.planting.on_record import codes_on_record
from ..core.planting.standing import Matching, Standing
from ..core.planting.survival import Result, Survival
from .vine_places import code_of_vine, place_of_vine, vine_of_index
from .wording import listed

_STANDS = (STATES.index("planted"), STATES.index("replanted"))
_GONE = (STATES.index("missing"), STATES.index("dead"))
_PAIRS_AT_MOST = 12
_ROWS_AT_MOST = 6


def record_findings(
    project: Project,
    found: Assigned,
    match: Matching,
    now: Standing,
    result: Result,
    lost: Survival,
) -> tuple[Finding, ...]:
    """Records that the plan does not fit any more, other lots than assigned, more of a lot than it had, lots
    not accepted, vines to rework, and losses.

    Parameters
    ----------
    project : Project
    found : Assigned
        Of the same plans as `match`.
    match : Matching
    now : Standing
    result : Result
    lost : Survival
    """
    return (
        *_elsewhere(found.plans, match),
        *_without_vine(match, now),
        *_other_lots(found, match, now),
        *_over_planted(found, lost),
        *_not_accepted(result, project),
        *_to_rework(result, now),
        *_losses(now, lost),
    )


def _elsewhere(plans, match: Matching):
    if not len(match.moved):
        return
    vine = vine_of_index(plans, int(match.moved[0]))
    n, code = len(match.moved), code_of_vine(plans, vine)
    yield Finding(
        "record-elsewhere",
        f"{_vines(n, code)} on the plan where another place is on record under the same code: "
        "nothing can be recorded there until the rows have the numbers they were planted by.",
        code,
        place_of_vine(plans, vine),
    )


def _without_vine(match: Matching, now: Standing):
    places = match.lost[now.state[match.lost] != STATES.index("not planted")]
    if not len(places):
        return
    code, xy = _on_record(now.register, int(places[0]))
    yield Finding(
        "record-lost",
        f"{_vines(len(places), code)} on record where the plan has no vine: what was recorded there is "
        "kept, and counts in what stands.",
        code,
        xy,
    )


def _other_lots(found: Assigned, match: Matching, now: Standing):
    """A finding for each pair of lots, those of most vines first."""
    known = np.flatnonzero(match.place >= 0)
    place = match.place[known]
    stands = np.isin(now.state[place], _STANDS) & (now.lot[place] >= 0) & (found.lot[known] >= 0)
    known, place = known[stands], place[stands]
    if not len(known):
        return
    names: dict[str, int] = {}

    def number(lots) -> np.ndarray:
        folded = [names.setdefault(lot.name.casefold(), len(names)) for lot in lots]
        return np.array(folded, np.int64)

    wanted = number(found.planting.lots)[found.lot[known]]
    there = number(now.register.lots)[now.lot[place]]
    other = wanted != there
    known, place, wanted, there = known[other], place[other], wanted[other], there[other]
    pairs, first, counts = np.unique(
        wanted * len(names) + there, return_index=True, return_counts=True
    )
    order = np.argsort(-counts, kind="stable")
    for k in order[:_PAIRS_AT_MOST].tolist():
        vine = vine_of_index(found.plans, int(known[first[k]]))
        code = code_of_vine(found.plans, vine)
        was = found.planting.lots[found.lot[known[first[k]]]].name
        is_now = now.register.lots[now.lot[place[first[k]]]].name
        yield Finding(
            "lot-other-than-assigned",
            f"Lot {is_now} stands where lot {was} is assigned, at {_counted(int(counts[k]), code)}.",
            code,
            place_of_vine(found.plans, vine),
        )
    if len(pairs) > _PAIRS_AT_MOST:
        rest = int(counts[order[_PAIRS_AT_MOST:]].sum())
        yield Finding(
            "lot-other-than-assigned",
            f"Other lots than assigned stand at {rest:,} more vines; the row table has them all.",
        )


def _over_planted(found: Assigned, lost: Survival):
    """A finding for each lot of which more was planted than could be; lots that nobody counted are left out."""
    for tally in lost.by_lot:
        lot = found.planting.lot(tally.name) if tally.name else None
        if lot is None or not (lot.delivered or lot.ordered):
            continue
        set_out = f"{tally.size:,} plants of lot {lot.name} are on record as planted"
        if not lot.delivered:
            yield Finding(
                "lot-over-planted",
                f"{set_out}, and nobody said that any came: say what was delivered, or which lot stands there.",
                lot.name,
                severity="caution",
            )
        elif tally.size > lot.usable:
            yield Finding(
                "lot-over-planted",
                f"{set_out}, {lot.usable:,} came and can be planted: look which lot stands where, and correct "
                "the record or what was delivered.",
                lot.name,
            )


def _not_accepted(result: Result, project: Project):
    tallies = {tally.name: tally for tally in result.by_lot}
    planting = project.planting
    accept = planting.inspecting.accept if planting is not None else 0
    for name, accepted in result.accepted:
        tally = tallies.get(name)
        if accepted is not False or tally is None:
            continue
        lot = f"Lot {name}" if name else "What was planted without a lot"
        yield Finding(
            "lot-not-accepted",
            f"{lot}: {tally.faulty} of {tally.size:,} inspected vines are faulty and {accept} are "
            f"accepted; the share in the lot is {tally.low_pct:.1f} to {tally.high_pct:.1f} % at 95 %. "
            "Go over all of its vines, put right what is wrong, and inspect again.",
            name,
        )


def _to_rework(result: Result, now: Standing):
    places = np.unique(np.array([p for line in result.rework for p in line.places], np.int64))
    if not len(places):
        return
    code, xy = _on_record(now.register, int(places[0]))
    rows = [line.row for line in result.rework if line.places]
    more = f" and {len(rows) - _ROWS_AT_MOST} more rows" if len(rows) > _ROWS_AT_MOST else ""
    named = ", ".join(rows[:_ROWS_AT_MOST]) + more if more else listed(rows)
    is_one = len(places) == 1
    yield Finding(
        "vines-to-rework",
        f"{len(places):,} inspected {'vine is' if is_one else 'vines are'} to be put right, in {named}.",
        code,
        xy,
    )


def _losses(now: Standing, lost: Survival):
    gone = np.flatnonzero(np.isin(now.state, _GONE))
    if not len(gone):
        return
    missing, dead = ((now.state[gone] == k).sum() for k in _GONE)
    causes = [f"{cause}: {n:,}" for cause, n in lost.by_cause if cause and n]
    why = f" All losses so far by cause: {'; '.join(causes[:_ROWS_AT_MOST])}." if causes else ""
    code, xy = _on_record(now.register, int(gone[0]))
    one = len(gone) == 1
    yield Finding(
        "losses",
        f"{len(gone):,} {'vine is' if one else 'vines are'} to be planted again: {missing:,} missing, "
        f"{dead:,} dead.{why}",
        code,
        xy,
    )


def _on_record(register: Register, place: int) -> tuple[str, tuple[float, float]]:
    """Code and place of a position, by the names blocks have now."""
    x, y = register.stand.xy_m([place])[0].tolist()
    return codes_on_record(register, [place], today=True)[0], (x, y)


def _counted(n: int, code: str) -> str:
    return f"vine {code}" if n == 1 else f"{n:,} vines, {code} the first"


def _vines(n: int, code: str) -> str:
    return f"Vine {code} stands" if n == 1 else f"{n:,} vines, {code} the first, stand"
