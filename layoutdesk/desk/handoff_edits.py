"""Wishes on the hand-off stage, as edits of the document: values, files, control points."""

from __future__ import annotations

from ..core.model import InputProblem
from . import choosing
from .asking import Field, Unfit

_TABLES = "Tables (*.csv *.txt);;All files (*)"
_OF_A_POINT = ("control-change", "control-leave", "control-remove")
_PARTS = ("name", "known", "measured", "used")


class HandOffEdits:
    """Edits what the project says of its hand-off."""

    def __init__(self, window, work):
        self.window, self.work = window, work
        self._worded: tuple = ()
        work.card.formats_chosen.connect(self.choose_formats)

    def tie(self, page) -> None:
        """Follow the values of a page that was made."""
        w = self.window
        for key, _ in page.paragraphs:
            p = self.work.card.paragraphs[key]
            p.began.connect(lambda _: w.document.settle())
            p.typed.connect(self.type)
            p.chosen.connect(self.type)
            p.moved.connect(self.move)
            p.put_back.connect(lambda key: w.document.withdraw(_scrub(key)))
            p.settled.connect(lambda _: w.document.settle())

    @property
    def project(self):
        return self.window.document.project

    def forget(self) -> None:
        self._worded = ()

    # words

    def show_words(self) -> None:
        """The paragraphs of the page on show, as the project is."""
        from ..session import hand_off_words as words
        from ..session.hand_off_set import hand_off_of

        project, unit, page = self.project, self.window.unit, self.work.page
        worded = (page, project.hand_off, project.site, project.blocks, unit)
        if len(worded) == len(self._worded) and all(
            a is b for a, b in zip(worded, self._worded, strict=True)
        ):
            return
        self._worded = worded
        for key, _ in page.paragraphs:
            said = getattr(words, f"{key}_paragraph")(project, unit)
            self.work.card.paragraphs[key].show_paragraph(said)
        if page.name == "files":
            self.work.card.tick(hand_off_of(project).formats)
        self.show_buttons()

    def show_buttons(self) -> None:
        """Allow the buttons that have something to be about."""
        from ..session.hand_off_set import hand_off_of

        card, actions = self.work.card, self.window.actions_by_id
        held = hand_off_of(self.project).control_point(self.held_point or "")
        bar = card.bar_buttons
        bar((actions[f"handoff-{name}"] for name in _OF_A_POINT), held is None)
        out = held is not None and not (held.in_plan or held.in_height)
        for button in card.buttons.get("handoff-control-leave", ()):
            button.setText("Use the point again" if out else "Leave the point out")

    def type(self, key: str, text: str) -> None:
        """Take a value as typed or chosen; what cannot be is said at the value."""
        from ..session.hand_off_words import with_typed_hand_off

        self._try(key, lambda p: with_typed_hand_off(p, key, text, self.window.unit))

    def move(self, key: str, steps: float) -> None:
        """Step a value; steps in a row are one edit."""
        from ..session.hand_off_words import with_stepped_hand_off

        unit = self.window.unit
        self._try(key, lambda p: with_stepped_hand_off(p, key, steps, unit), _scrub(key))

    def _try(self, key: str, change, merge: str | None = None) -> None:
        from ..session.hand_off_words import HAND_OFF_NAMES

        try:
            self.window.document.edit(f"Change {HAND_OFF_NAMES[key]}", change, merge)
        except InputProblem as problem:
            paragraph = self.work.card.paragraph_with(key)
            if paragraph is None:
                self.window.filing.complain(problem)
            else:
                paragraph.refuse(key, str(problem))

    def choose_formats(self, formats: tuple[str, ...]) -> None:
        """Have the hand-off written as what is ticked; one file is written at least."""
        from ..session.hand_off_set import hand_off_of
        from ..session.hand_off_words import with_typed_hand_off

        try:
            self.window.document.edit(
                "Change files of the hand-off",
                lambda p: with_typed_hand_off(p, "formats", ", ".join(formats)),
            )
        except InputProblem as problem:
            self.window.filing.complain(problem)
            self.work.card.tick(hand_off_of(self.project).formats)

    # which rows

    def take_parts(self) -> None:
        """Hand off the selected rows alone."""
        from ..session.part_words import parts_of_selection, parts_text

        selection = self.window.selecting.selection
        if not selection:
            self.window.filing.say("Select rows first: Shift and a drag on the plan.")
            return
        self.type("points.parts", parts_text(parts_of_selection(selection)))

    def take_whole_site(self) -> None:
        self.type("points.parts", "the whole site")

    # control points

    @property
    def held_point(self) -> str | None:
        """Name of the control point in hand."""
        table = self.work.side.tables.get("control")
        line = table.held_line if table is not None else None
        return None if line is None else line.key

    def ask_grid(self) -> None:
        self.window.site.ask_survey_crs()

    def add_control(self) -> None:
        """Ask for a control point."""
        from ..session.control_points import typed_control

        def change(project, texts):
            name = texts["name"].strip()
            if not name or any(c in name for c in " ,;"):
                raise Unfit("A control point needs a name without blanks, like K1.", "name")
            if not texts["known"].strip():
                raise Unfit("Write easting and northing as they are known.", "known")
            project = _at("known", lambda: typed_control(project, None, "known", f"{name} {texts['known']}"))  # fmt: skip
            return _with_parts(project, name, texts, ("measured",))

        self._ask(
            "New control point",
            f"Coordinates are those of {self.window.survey.grid.name}, easting first, in its own unit.",
            (
                Field("name", "Name", hint="K1"),
                Field("known", "Known: easting, northing, elevation", hint="512345.67 6101234.50 120.3"),
                Field("measured", "Measured there", hint="empty: not measured"),
            ),
            "Add the point",
            "control point",
            change,
        )  # fmt: skip

    def change_control(self) -> None:
        """Ask for what is to be different of the control point in hand."""
        from ..session.control_lines import NOT_MEASURED
        from ..session.control_points import USES

        line = self._held_line()
        if line is None:
            return
        before = {
            "name": line.name,
            "known": line.known,
            "measured": "" if line.measured == NOT_MEASURED else line.measured,
            "used": line.used,
        }

        def change(project, texts):
            changed = [p for p in _PARTS if texts[p].strip() != before[p]]
            return _with_parts(project, line.key, texts, changed)

        self._ask(
            f"Control point {line.name}",
            f"Coordinates are those of {self.window.survey.grid.name}, easting first, in its own unit.",
            (
                Field("name", "Name", before["name"]),
                Field("known", "Known: easting, northing, elevation", before["known"]),
                Field("measured", "Measured there", before["measured"], hint="empty: not measured"),
                Field("used", "Used for", before["used"], hint=", ".join(USES)),
            ),
            "Keep it",
            f"control point {line.name}",
            change,
        )

    def leave_control(self) -> None:
        """Leave the control point in hand out of the calibration, or use it again."""
        from ..session.control_points import with_control_used
        from ..session.hand_off_set import hand_off_of

        line = self._held_line()
        if line is None:
            return
        point = hand_off_of(self.project).control_point(line.key)
        again = not (point.in_plan or point.in_height)
        self._edit(
            f"{line.name} {'used again' if again else 'left out'}",
            lambda p: with_control_used(p, line.key, again, again),
        )

    def remove_control(self) -> None:
        from ..session.control_points import without_control

        line = self._held_line()
        if line is not None:
            self._edit(f"{line.name} taken away", lambda p: without_control(p, line.key))

    def read_control(self) -> None:
        w = self.window
        start = choosing.usual_folder(str(w.settings.value("folder", "")))
        path = choosing.chosen_path(w, "Control points, as a table", start, _TABLES)
        if path is not None:
            w.settings.setValue("folder", str(path.parent))
            self.read_control_from(path)

    def read_control_from(self, path) -> None:
        """Read a table of control points; what was assumed of it is told."""
        from ..session.control_points import read_control_csv, with_control

        w = self.window
        try:
            points, told = read_control_csv(path, self.project)
            w.document.edit("control points read", lambda p: with_control(p, points))
        except InputProblem as problem:
            w.filing.complain(problem)
            return
        w.filing.say(f"{path.name} is read.")
        if told:
            w.filing.tell("\n".join(f.message for f in told), f"Of {path.name}")

    def _held_line(self):
        table = self.work.side.tables.get("control")
        line = table.held_line if table is not None else None
        if line is None:
            self.window.filing.say("Pick a control point in the list first.")
        return line

    def _edit(self, label: str, change) -> None:
        try:
            self.window.document.edit(label, change)
        except InputProblem as problem:
            self.window.filing.complain(problem)

    def _ask(self, title: str, sentence: str, fields, primary: str, label: str, change) -> None:
        """Ask for what a change needs; `change(project, texts)` gives the project."""

        def edit(texts):
            self.window.document.edit(label, lambda p: change(p, texts))

        self.window.site.ask(title, sentence, fields, primary, edit)


def _with_parts(project, name: str, texts: dict[str, str], parts):
    """The project with parts of a control point as typed; its name last, for the others are found by it."""
    from ..session.control_points import typed_control

    for part in sorted(parts, key=lambda p: p == "name"):
        text = texts[part].strip()
        if part == "measured" and not text:
            text = "not measured"
        project = _at(part, lambda t=text, p=part, now=project: typed_control(now, name, p, t))
    return project


def _at(field: str, change):
    """What a change gives; a problem is said at its field."""
    try:
        return change()
    except InputProblem as problem:
        raise Unfit(problem, field) from problem


def _scrub(key: str) -> str:
    return f"scrub {key}"
