"""The hand-off, and what was staked, worked out off the GUI thread."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from ..core.model import Project
from .background import Asked, same_plans

# What counts is imported on the worker's thread: the first picture waits for none of it.


@dataclass(frozen=True, eq=False)
class Wanted:
    """The hand-off of a project as it is laid."""

    revision: int
    project: Project
    plans: tuple
    path: Path | None
    day: datetime.date
    unit: str

    def same(self, other: Wanted | None) -> bool:
        """Whether the other asks for the same."""
        return (
            other is not None
            and self.project is other.project
            and (self.path, self.day, self.unit) == (other.path, other.day, other.unit)
            and same_plans(self, other)
        )


@dataclass(frozen=True, eq=False)
class Handed:
    """An answer, with what there is to draw and list of it."""

    answer: object
    points: object
    effect: object
    control: tuple[tuple[str, float, float], ...]
    kinds: tuple
    counted: str
    decided: tuple
    check_ends: dict[str, tuple]


def handed(wanted: Wanted) -> Handed:
    """Answer what is wanted; what the window needs to show it is loaded here too, so that it does not wait."""
    from ..session import adopting, hand_off_words, verifying  # noqa: F401
    from ..session.check_line_words import checked_lines
    from ..session.decided_lines import decided_lines
    from ..session.hand_off_set import control_places
    from ..session.handing_off import HandOffRequest, hand_off_answer
    from ..session.point_kinds import point_kind_lines, points_sentence
    from .handoff_painting import ArrowLayer, PointsLayer

    answer = hand_off_answer(
        HandOffRequest(
            wanted.revision,
            wanted.project,
            wanted.plans,
            wanted.path,
            wanted.day,
            wanted.unit,
        )
    )
    chosen = answer.hand.points
    points = chosen.all()
    control = control_places(wanted.project, answer.hand.placing)
    return Handed(
        answer,
        PointsLayer(points.xy_m, points.kind, control if "control" in chosen.counts else ()),
        ArrowLayer(
            answer.arrows,
            control,
            beyond="a residual larger than allowed",
            within="moved, or within what is allowed",
        ),
        control,
        point_kind_lines(chosen, points),
        points_sentence(points),
        decided_lines(wanted.project, wanted.unit),
        {" ".join(c.line.codes): c.line.ends_m for c in checked_lines(answer.hand)},
    )


class HandingOver(Asked):
    """The hand-off of the document's project; `newest` is a Handed, of an earlier state until another comes."""

    sorry = "The hand-off could not be worked out."

    def wanted(self) -> Wanted | None:
        """The project as it is now with its newest rows; None while these are still being laid."""
        rows = self.rows_of_document()
        if rows is None:
            return None
        document, laid = rows
        return Wanted(
            document.revision,
            document.project,
            laid.plans,
            document.path,
            datetime.date.today(),
            self.window.unit,
        )

    def follow(self) -> None:
        """Have the project worked out as it is now, unless it is or is being."""
        wanted = self.wanted()
        if wanted is None or wanted.same(self._asked):
            return
        self.problem = ""
        self._submit(wanted, lambda: handed, "hand-off")

    @property
    def holds_for_the_rows(self) -> bool:
        return _holds(self)

    @property
    def is_done(self) -> bool:
        """Whether the newest answer is of the project as it is."""
        newest, wanted = self.newest, self.wanted()
        return (
            newest is not None
            and wanted is not None
            and newest.answer.request.project is wanted.project
            and newest.answer.request.unit == wanted.unit
            and wanted.same(self._asked)
        )


@dataclass(frozen=True, eq=False)
class MeasuredFile:
    """A file that was measured, and how it is to be read; empty for what is found out."""

    path: Path
    columns: str = ""
    unit: str = ""
    way: str = ""
    layer: str = ""


@dataclass(frozen=True, eq=False)
class WantedCheck:
    """Measured points against a project as it is laid."""

    file: MeasuredFile
    wanted: Wanted

    @property
    def revision(self) -> int:
        return self.wanted.revision

    def same(self, other: WantedCheck | None) -> bool:
        return other is not None and self.file is other.file and self.wanted.same(other.wanted)


@dataclass(frozen=True, eq=False)
class Checked:
    """An answer, with its arrows and everything that is told of it."""

    file: MeasuredFile
    answer: object
    layer: object
    told: object


@dataclass(frozen=True)
class CheckTold:
    """Sentences, notes and lists of measured points."""

    first: tuple[str, ...]
    sentences: tuple[str, ...]
    notes: tuple[str, ...]
    lines: dict[str, tuple]
    bars: tuple


def checked(asked: WantedCheck) -> Checked:
    """Answer what is asked."""
    from ..session.staked import StakedRequest, as_staked
    from ..session.staked_drawing import staked_arrows
    from .handoff_painting import ArrowLayer

    file, wanted = asked.file, asked.wanted
    answer = as_staked(
        StakedRequest(
            wanted.revision,
            wanted.project,
            wanted.plans,
            file.path,
            file.columns,
            file.unit,
            file.way,
            file.layer,
            wanted.path,
        )
    )
    layer = ArrowLayer(
        staked_arrows(answer, wanted.unit), beyond="beyond tolerance", within="within tolerance"
    )
    return Checked(file, answer, layer, _told(answer, wanted.unit))


def _told(answer, unit: str) -> CheckTold:
    from ..session import staked_lines as lines

    sentences = lines.staked_sentences(answer, unit)
    explained = lines.explanation_lines(answer)
    first: tuple[str, ...] = ()
    if any(line.flag for line in explained):  # the verdict, and why, are to be read before all else
        first = tuple(
            dict.fromkeys((sentences[0], *(line.words for line in explained if line.flag)))
        )
    return CheckTold(
        first,
        tuple(s for s in sentences if s not in first),
        lines.staked_notes(answer),
        {
            "explanations": explained,
            "worst": lines.worst_lines(answer, unit),
            "staked_rows": lines.staked_row_lines(answer, unit),
        },
        lines.histogram_bars(answer, unit),
    )


class Staking(Asked):
    """Measured points against the document's project; `newest` is a Checked.

    Attributes
    ----------
    file : MeasuredFile or None
        The file in hand.
    """

    sorry = "The measured points could not be compared."

    def __init__(self, window, handing: HandingOver):
        super().__init__(window)
        self.handing = handing
        self.file: MeasuredFile | None = None

    def forget(self) -> None:
        super().forget()
        self.file = None

    def read(self, file: MeasuredFile | None) -> None:
        """Take a file in hand, or none; what was told of another is put down."""
        super().forget()
        self.file = file
        self.follow()

    def follow(self) -> None:
        """Have the file in hand compared with the project as it is now, unless it is or is being."""
        asked = self.asked_now()
        if asked is None or asked.same(self._asked):
            return
        self.problem = ""
        self._submit(asked, lambda: checked, "as staked")

    def _take(self, wanted, answer, problem) -> None:
        if wanted.file is self.file:  # what comes late of another file is not of this one
            super()._take(wanted, answer, problem)

    def asked_now(self) -> WantedCheck | None:
        """The file in hand and the project as it is now; None while there is no file or no rows."""
        wanted = self.handing.wanted()
        return None if self.file is None or wanted is None else WantedCheck(self.file, wanted)

    @property
    def holds_for_the_rows(self) -> bool:
        return _holds(self)

    @property
    def is_done(self) -> bool:
        newest, asked = self.newest, self.asked_now()
        return (
            newest is not None
            and asked is not None
            and newest.file is self.file
            and newest.answer.request.project is asked.wanted.project
            and asked.same(self._asked)
        )

    @property
    def is_going_on(self) -> bool:
        return self.file is not None and super().is_going_on


def _holds(asked: Asked) -> bool:
    """Whether the newest answer is of the rows on show."""
    laid = asked.window.answer
    newest = asked.newest
    return newest is not None and laid is not None and same_plans(laid, newest.answer.request)
