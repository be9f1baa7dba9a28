"""The window: puts the plan, the specification and the figures together and turns wishes into edits."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QSettings, Qt, QTimer
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QApplication,
    QMainWindow,
    QVBoxLayout,
    QWidget,
)

from ..core.model import InputProblem, Project
from ..session.document import Document
from ..session.drawing import drawing_of
from ..session.journal import Journal
from ..session.layouts import LayoutAnswer, Layouter, LayoutRequest
from ..session.specification import shown_bearing
from .actions import make_actions, needs_site
from .arranging import Panels
from .backdrop_view import BackdropView
from .background import Answers
from .bars import Foot, TopBar
from .canvas import PlanCanvas
from .edge_card import EdgeCard
from .edge_edits import EdgeEdits
from .filing import Filing
from .finder import ActionFinder
from .findings_card import FindingsCard
from .ground import GroundEdits
from .ground_card import GroundCard
from .measure import MeasureTool
from .picked_card import PickedCard
from .preferences import Preferences
from .row_strip import RowStrip
from .rows import RowEdits
from .rule_edits import RuleEdits
from .selecting import Selecting
from .site_edits import SiteEdits
from .sketch import SketchBar, Snapper
from .specification_card import SpecificationCard
from .stages import StageBar
from .tally_card import TallyCard
from .terrain_view import TerrainView
from .welcome import QuestionCard, RecoveryCard, WelcomeCard
from .works import Works

_SETTLE_MS = 160


class DeskWindow(QMainWindow):
    """One project on a drafting table."""

    def __init__(self, settings: QSettings | None = None, journal: Journal | None = None):
        super().__init__()
        self.settings = (
            settings if settings is not None else QSettings("Layout Desk", "Layout Desk")
        )
        self.journal = journal
        self.document: Document | None = None
        self.answer: LayoutAnswer | None = None
        self.survey = None
        self._surveyed_site = None
        self.unit = "m"
        self._settled_tally = None
        self._tally_before = None
        self.filing, self.rules, self.site = Filing(self), RuleEdits(self), SiteEdits(self)
        self.edges, self.measure, self.snapper = EdgeEdits(self), MeasureTool(self), Snapper(self)
        self.panels, self.works, self.stage = Panels(self), Works(self), "rows"
        self.help_window = None
        self.preferences = Preferences(self)
        self.theme = self.preferences.wanted_theme()
        self.setWindowTitle("Layout Desk")
        self.setMinimumSize(960, 600)
        self.setAcceptDrops(True)
        self._build()
        self.ground, self.rows = GroundEdits(self), RowEdits(self)
        self.selecting, self.backdrop = Selecting(self), BackdropView(self)
        self.terrain = TerrainView(self)
        self._build_stages()
        self.actions_by_id = make_actions(self)
        self._add_ground_buttons()
        self.layouts = Answers(Layouter().answer, self, "layout")
        self.layouts.answered.connect(self._take_answer)
        self._settle_timer = QTimer(self)
        self._settle_timer.setSingleShot(True)
        self._settle_timer.setInterval(_SETTLE_MS)
        self._settle_timer.timeout.connect(self.ask_settled)
        hints = QGuiApplication.styleHints()
        if hasattr(hints, "colorSchemeChanged"):
            hints.colorSchemeChanged.connect(self.preferences.follow_system)
        self.preferences.wear(self.theme)
        self.take_usual_size()
        geometry = self.settings.value("geometry")
        if geometry is not None:
            self.restoreGeometry(geometry)
        self.refresh()

    # building

    def _build(self) -> None:
        body = QWidget()
        self.setCentralWidget(body)
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        bar, foot = self._build_bars()
        column.addWidget(bar)
        self.canvas = PlanCanvas(self.theme)
        column.addWidget(self.canvas, 1)
        column.addWidget(foot)
        self._build_specification()
        self.tally = TallyCard(self.canvas)
        self.findings = FindingsCard(self.canvas)
        self.strip = RowStrip(self.theme, self.canvas)
        self.welcome = WelcomeCard(self.canvas)
        self.question = QuestionCard(self.canvas)
        self.question.hide()
        self.finder = ActionFinder(self)
        self.edge_card = EdgeCard(self.canvas)
        self.edge_card.width_typed.connect(self.edges.type_width)
        self.edge_card.given_back.connect(self.edges.give_back)
        self.edge_card.rows_wanted.connect(self.edges.rows_along)
        self.edge_card.dismissed.connect(self.edges.let_go)
        self.canvas.escaped.connect(self.edges.let_go)
        self.recovery = RecoveryCard(self.canvas)
        self.recovery.taken.connect(self.filing.take_up)
        self.recovery.discarded.connect(self.filing.discard_left)
        self.recovery.dismissed.connect(self.filing.leave_offer)
        self.canvas.installEventFilter(self)
        self.canvas.cursor_moved.connect(self._show_cursor)
        self.canvas.row_pointed.connect(self.strip.mark)
        self.strip.pointed.connect(self.canvas.point_at)
        self.strip.wanted.connect(self._go_to_row)
        self.findings.height_changed.connect(self.arrange)
        self.canvas.bearing_turned.connect(self.rules.turn)
        self.canvas.bearing_settled.connect(self.rules.settle)
        self.findings.wanted.connect(self.canvas.go_to)
        self.welcome.open_wanted.connect(self.filing.open)
        self.welcome.sample_wanted.connect(self.filing.open_sample)
        self.question.answered.connect(self.filing.open_again)
        self.question.dismissed.connect(self.filing.leave_question)

    def _build_stages(self) -> None:
        """What belongs to one stage alone: its bar, cards and tools."""
        self.stage_bar = StageBar(self.canvas)
        self.stage_bar.wanted.connect(self.show_stage)
        self.sketch_bar = SketchBar(self.canvas)
        self.sketch_bar.typed.connect(self._type_place)
        self.sketch_bar.done.connect(lambda: self.canvas.tool and self.canvas.tool.end())
        self.sketch_bar.left.connect(lambda: self.take_tool(None))
        card = self.ground_card = GroundCard(self.canvas)
        card.chosen.connect(self.ground.tool.hold)
        card.renamed.connect(self.ground.rename)
        card.kind_chosen.connect(self.ground.choose_kind)
        card.clearance_typed.connect(self.ground.type_clearance)
        card.place_typed.connect(self.ground.type_place)
        card.leg_typed.connect(self.ground.type_leg)
        card.delete_wanted.connect(self.ground.delete_shape)
        picked = self.picked_card = PickedCard(self.canvas)
        picked.typed.connect(self.rows.type)
        picked.wanted.connect(self.rows.act)
        picked.dismissed.connect(self.rows.let_go)
        self.strip.selected.connect(self.selecting.take_places)
        self.strip.copy_wanted.connect(self.selecting.copy_table)
        self.canvas.stage_tool = self.rows.tool

    def _add_ground_buttons(self) -> None:
        names = ("draw-block", "draw-exclusion-area", "draw-exclusion-line", "draw-exclusion-point")
        names += ("draw-hole", "split", "join", "delete-shape")
        self.ground_card.add_buttons([self.actions_by_id[n] for n in names])

    def _build_bars(self) -> tuple[TopBar, Foot]:
        bar, foot = TopBar(self.menuBar()), Foot()
        self.title, self.state, self.menu, self.work = bar.title, bar.state, bar.menu, bar.work
        self.stop, self.stakeout_button = bar.stop, bar.stakeout
        self.undo_button, self.redo_button = bar.undo, bar.redo
        self.cursor_label, self.crs_label, self.factor_label = foot.cursor, foot.system, foot.factor
        self.stop.clicked.connect(self.filing.cancel)
        return bar, foot

    def _build_specification(self) -> None:
        card = self.specification_card = SpecificationCard(self.canvas)
        self.block_choice, self.block_label = card.block_choice, card.block_label
        self.paragraph, self.notice, self.norths = card.paragraph, card.notice, card.norths
        self.block_choice.activated.connect(lambda _: self.show_rules())
        p = self.paragraph
        p.began.connect(self.rules.begin)
        p.typed.connect(self.rules.type)
        p.moved.connect(self.rules.move)
        p.chosen.connect(self.rules.type)
        p.put_back.connect(self.rules.put_back)
        p.settled.connect(lambda _: self.rules.settle())

    def eventFilter(self, watched, event):
        if watched is self.canvas and event.type() == event.Type.Resize:
            self.arrange()
        return super().eventFilter(watched, event)

    def take_usual_size(self) -> None:
        """As large as at the first start, within the screen."""
        room = self.screen().availableGeometry()
        self.resize(min(1280, room.width() - 8), min(800, room.height() - 40))

    def arrange(self) -> None:
        """Put the cards in their places and tell the canvas what room they leave."""
        self.panels.arrange()

    # stages and tools

    @property
    def comparing(self):
        return self.works.comparing

    @property
    def compare_stage(self):
        return self.works.comparing.stage

    @property
    def materials(self):
        return self.works.materials

    @property
    def watering(self):
        return self.works.watering

    @property
    def planting(self):
        return self.works.planting

    @property
    def handing_off(self):
        return self.works.handing_off

    @property
    def handoff_card(self):
        return self.works.handing_off.card

    def show_findings(self) -> None:
        """List what is found in the layout, and by the stage on show."""
        if self.answer is None:
            return
        work = self.works.beside().get(self.stage)
        found = (*(work.findings if work is not None else ()), *self.answer.findings)
        self.findings.show_findings(found, self.unit, self.theme)

    def show_stage(self, stage: str) -> None:
        """Change what is beside the plan and what the hand does on it."""
        if self.document is None:
            return
        self.stage = stage
        self.works.wanted_for(stage)
        self.stage_bar.show_stage(stage)
        self.take_tool(None)
        if stage != "rows":
            self.edges.let_go()
        self.canvas.stage_tool = {"ground": self.ground.tool, "rows": self.rows.tool}.get(stage)
        if stage == "ground":
            self.ground_card.show_ground(self, self.ground.tool)
        self.selecting.follow()
        self.rows.show()
        self._show_handle()
        self.works.follow()
        self.show_findings()
        self.arrange()
        self.canvas.refit()  # into the room that the stage's cards leave
        self.canvas.update()

    @property
    def lookout(self):
        """What shows the ground now: the plan, or the small plans that cover it."""
        return self.compare_stage.plans if self.works.covers_plan else self.canvas

    def take_tool(self, tool) -> None:
        """Have the hand set places for something; None gives it back to the stage."""
        if tool is None and self.canvas.tool is None:
            return
        self.canvas.take(tool)
        had_focus = self.sketch_bar.isAncestorOf(self.focusWidget() or self)
        if tool is None:
            self.sketch_bar.hide()
        else:
            self.sketch_bar.show_tool(tool)
        self.arrange()
        if had_focus or tool is not None:
            self.canvas.setFocus()

    def _type_place(self, text: str) -> None:
        try:
            self.canvas.tool.type(text)
        except InputProblem as problem:
            self.sketch_bar.refuse(str(problem))
            self.arrange()
            return
        if self.canvas.tool is not None:
            self.sketch_bar.field.clear()
            self.sketch_bar.refuse("")

    # opening and closing

    def show_project(
        self, project: Project, path: Path | None = None, *, recovered: bool = False
    ) -> None:
        """Start working on a project; `path` is its file where it has one."""
        saved = path is not None and not recovered
        self.document = Document(project, path, saved=saved, recovered=recovered)
        self.document.listen(self._document_changed)
        if self.journal is not None:
            self.journal.keep(self.document)
        self.answer = self._settled_tally = self._tally_before = None
        self.notify("")
        self._let_go()
        self.canvas.drawing = None
        from ..session.survey import survey_view

        self.survey = survey_view(project)
        self._surveyed_site = project.site
        self.unit = self.canvas.unit = self.strip.unit = self.survey.people_unit
        self.actions_by_id[f"unit-{self.unit}"].setChecked(True)
        self.block_choice.clear()
        self.rules.follow_blocks()
        if len({b.rules for b in project.blocks}) > 1:
            self.block_choice.setCurrentIndex(1)
        self.question.hide()
        self.stage = "ground" if self.stage == "ground" else "rows"
        self._document_changed()
        self.show_stage(self.stage)
        self.layouts.submit(LayoutRequest(self.document.revision, project, path=path))
        self.canvas.setFocus()

    def _let_go(self) -> None:
        """Put down everything of the project that is left."""
        self.edges.let_go()
        self.take_tool(None)
        self.ground.tool.held = self.ground.tool.corner = self.ground.tool.edge = None
        self.rows.picked = None
        self.selecting.selection = frozenset()
        self.canvas.select(())
        self.canvas.point_at(None)
        self.canvas.handle = None
        self.works.forget()

    def closeEvent(self, event):
        if not self.filing.may_leave():
            event.ignore()
            return
        self.settings.setValue("geometry", self.saveGeometry())
        self.filing.cancel()
        if self.filing.task is not None:
            self.filing.task.wait()
        self.layouts.close()
        self.works.close()
        self.backdrop.close()
        self.terrain.close()
        self.filing.let_go()
        if self.journal is not None:
            self.journal.close()
        if self.help_window is not None:
            self.help_window.close()
        event.accept()

    def dragEnterEvent(self, event):
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event):
        paths = [u.toLocalFile() for u in event.mimeData().urls() if u.isLocalFile()]
        if paths and self.filing.may_leave():
            self.filing.open_file(Path(paths[0]))

    def undo(self) -> None:
        if self.document is not None:
            self.document.undo()

    def redo(self) -> None:
        if self.document is not None:
            self.document.redo()

    # showing

    def _document_changed(self) -> None:
        if self._surveyed_site != self.document.project.site:
            self._surveyed_site = self.document.project.site
            from ..session.survey import survey_view

            self.survey = survey_view(self.document.project)
        self.show_rules()
        self.edges.refresh()
        self.ground.tool.follow()
        if self.stage == "ground":
            self.ground_card.show_ground(self, self.ground.tool)
        self.backdrop.follow()
        self.terrain.follow()
        self.works.follow()
        self.refresh()
        project, path = self.document.project, self.document.path
        if self.answer is None or not self.answer.answers(project, path):
            if self._tally_before is None:
                self._tally_before = self._settled_tally
            self.layouts.submit(LayoutRequest(self.document.revision, project, False, path))
            self._settle_timer.start()

    def _say_unkept(self) -> None:
        """Say once where unsaved work cannot be kept for the case of a crash."""
        if self.journal is not None and self.journal.problem:
            self.filing.say(f"Unsaved work is not kept for a crash: {self.journal.problem}")
            self.journal.problem = None

    def ask_settled(self) -> None:
        self._settle_timer.stop()
        self._say_unkept()
        if self.document is not None and (
            self.answer is None
            or not self.answer.settled
            or not self.answer.answers(self.document.project, self.document.path)
        ):
            document = self.document
            self.layouts.submit(
                LayoutRequest(document.revision, document.project, path=document.path)
            )

    def show_rules(self) -> None:
        if self.document is None:
            return
        self.rules.follow_blocks()
        rules = self.rules.current()
        self.paragraph.show_paragraph(self.rules.paragraph())
        several = len(self.document.project.blocks) > 1
        self.block_choice.setVisible(several)
        name = self.document.project.blocks[0].name
        self.block_label.setText(
            "how it is laid out" if several else f"Block {name}, how it is laid out"
        )
        text = "Grid and magnetic bearings differ"
        bearings = {
            self.document.project.block(n).rules.bearing_deg for n in self.rules.block_names()
        }
        if len(bearings) == 1:
            norths = self.survey.norths
            magnetic = norths.magnetic(rules.bearing_deg)
            bent = any(
                self.document.project.block(n).guide is not None for n in self.rules.block_names()
            )
            what = "From end to end of the guide line: grid bearing" if bent else "Grid bearing"
            text = f"{what} {shown_bearing(norths.grid(rules.bearing_deg))}"
            text += f", magnetic {magnetic:05.1f}°" if magnetic is not None else ""
        self.norths.setText(text)
        self._show_handle()
        self.arrange()

    def _show_handle(self) -> None:
        project = self.document.project
        blocks = [project.block(n) for n in self.rules.block_names()]
        if self.stage != "rows" or any(b.guide is not None for b in blocks):
            self.canvas.handle = None
            self.canvas.update()
            return
        middle = blocks[0].outline.centroid
        if len(blocks) > 1:
            import shapely

            middle = shapely.union_all([b.outline for b in blocks]).centroid
        self.canvas.show_handle(middle.x, middle.y, blocks[0].rules.bearing_deg)

    def _take_answer(self, request: LayoutRequest, answer: LayoutAnswer | None, problem) -> None:
        if self.document is None or request.revision < self.document.first_revision:
            return  # of a project that was left
        if isinstance(problem, InputProblem):
            self.notify(str(problem))
            return
        if problem is not None:
            raise problem
        shown = self.answer
        if shown is not None and answer.revision < shown.revision:
            return
        if answer.settled and answer.project == self.document.project:
            self._settled_tally = answer.tally
        elif shown is not None and not answer.settled:
            # what is dear to compute stays as it was until the hand rests
            same = shown.revision == answer.revision
            answer = replace(
                answer,
                findings=shown.findings,
                strips=shown.strips if same else (),
                kept_clear=shown.kept_clear,
                tally=replace(answer.tally, planted_m2=shown.tally.planted_m2),
            )
        self.answer = answer
        self.show_answer()
        if answer.settled:
            self._tally_before = None

    def show_answer(self) -> None:
        """Show the layout there is on the plan, the cards and the strip."""
        if self.answer is None:
            return
        self.canvas.show_drawing(drawing_of(self.answer))
        self.strip.show_answer(self.answer)
        self.tally.show_tally(self.answer.tally, self._tally_before, self.unit, self.theme)
        self.show_findings()
        self.selecting.follow()
        self.rows.follow()
        for work in self.works.beside().values():
            work.follow()
        self.rows.show()  # and everything in its place

    def _go_to_row(self, place: tuple[int, int]) -> None:
        """Show a row, all of it."""
        import shapely

        plan, segment = self.answer.plans[place[0]], place[1]
        self.canvas.look_over(shapely.bounds(plan.shapes[segment]).tolist())

    def notify(self, text: str) -> None:
        """Say under the specification what could not be taken; an empty text takes it back."""
        self.notice.setText(text)
        self.notice.setVisible(bool(text))
        self.arrange()

    def _show_cursor(self, x: float, y: float) -> None:
        if self.survey is not None:
            system = str(self.settings.value("cursor", "survey"))
            height = self.terrain.height_said(x, y)
            said = self.survey.told(system, x, y)
            self.cursor_label.setText(f"{said}   {height}" if height else said)

    def refresh(self) -> None:
        """Titles, buttons and the foot, as the document is now."""
        document = self.document
        has = document is not None
        self.title.setText(document.project.name if has else "Layout Desk")
        self.setWindowTitle(f"{document.project.name}[*] – Layout Desk" if has else "Layout Desk")
        self.setWindowModified(has and document.is_dirty)
        unsaved = "not saved" if has and document.path else "not saved as a project"
        self.state.setText((unsaved if document.is_dirty else "saved") if has else "")
        for button, word, label, action in (
            (self.undo_button, "Undo", has and document.undo_label, "undo"),
            (self.redo_button, "Redo", has and document.redo_label, "redo"),
        ):
            change = label.removeprefix("Change ") if label else ""
            button.setText(f"{word} {change}".strip())
            button.setEnabled(bool(label))
            self.actions_by_id[action].setText(f"{word} {change}".strip())
            self.actions_by_id[action].setEnabled(bool(label))
        self.redo_button.setVisible(bool(has and document.redo_label))
        for name, action in self.actions_by_id.items():
            if needs_site(name) and name not in ("undo", "redo"):
                action.setEnabled(has)
        self.stakeout_button.setEnabled(has)
        if has and self.survey is not None:
            self.crs_label.setText(self.survey.system)
            self.factor_label.setText(self.survey.factor)
        self.arrange()

    def find_action(self) -> None:
        """Offer everything that can be done, by name."""
        self.finder.offer()

    def print_plan(self) -> None:
        """Print the plan with its specification, or write it as a PDF."""
        if self.document is not None and self.answer is not None:
            from .printing import print_plan

            print_plan(self)

    def copy_tally(self) -> None:
        """Put the figures on the clipboard as text."""
        QApplication.clipboard().setText(self.tally.as_text())
        self.filing.say("The tally is copied.")

    def step_edge(self, by: int) -> None:
        """Take the next edge of the outline in hand."""
        self.show_stage("rows")
        self.edges.step(by)

    def step_corner(self, by: int) -> None:
        """Pick the next corner on the ground stage."""
        if self.stage != "ground":
            self.show_stage("ground")
        self.ground.tool.step(by)

    def focus_rules(self) -> None:
        """Put the keyboard on the first value of the specification."""
        if self.document is not None:
            self.show_stage("rows")
            next(iter(self.paragraph.fields.values())).setFocus(Qt.FocusReason.ShortcutFocusReason)

    def show_help(self, page: str = "") -> None:
        """Show the help at a page; without one where it was left, at first the first layout."""
        from .help_window import HelpWindow, keys_of

        if self.help_window is None:
            self.help_window = HelpWindow(self.theme, keys_of(self.actions_by_id.values()), self)
        self.help_window.show_page(page or self.help_window.shown or "first-layout")
        self.help_window.come_up()

    def show_cautions(self) -> None:
        from ..session.stakeout import CAUTIONS
        from ..session.take_off_set import CAUTIONS as OF_MATERIALS
        from ..session.take_off_set import WATER_CAUTION

        every = dict.fromkeys((*CAUTIONS, *OF_MATERIALS, WATER_CAUTION))
        self._tell("Before anyone drives a post", "\n\n".join(every))

    def show_about(self) -> None:
        from .. import __version__

        self._tell(
            f"Layout Desk {__version__}",
            "From a surveyed outline to staked rows, and on to the first crop. MIT licence.\n\n"
            "Faces: Source Serif 4 and Inter, SIL Open Font Licence.\n"
            "Magnetic bearings: World Magnetic Model 2025.",
        )

    def _tell(self, title: str, text: str) -> None:
        self.filing.tell(text, title)

    def close_site(self) -> None:
        """Leave the project and show what to do next."""
        if not self.filing.may_leave():
            return
        if self.journal is not None:
            self.journal.forget()
        self._let_go()
        self.filing.let_go()
        self.document = self.answer = self.survey = None
        self.canvas.show_drawing(None)
        self.canvas.show_backdrop(None)
        self.terrain.follow()
        for label in (self.cursor_label, self.crs_label, self.factor_label):
            label.clear()
        self.refresh()
