"""The planting stage at work: its pages kept true, the plan coloured, wishes handed on."""

from __future__ import annotations

from .planting_counting import Planning
from .planting_edits import PlantingEdits
from .planting_files import PlantingFiles
from .planting_legend import PlantingLegend
from .planting_pages import PAGE, PAGES
from .planting_records import PlantingRecords
from .planting_stage import PlantingCard, PlantingSide
from .planting_tool import PlantingTool
from .side_work import SideWork

_NO_ROWS = (
    "No vine stands on this site yet. Draw a block on the stage Ground, lay its rows on the stage "
    "Rows, and what is planted where is kept here."
)


class PlantingWork(SideWork):
    """Shows the planting of the document on the planting stage."""

    stage = "planting"

    def __init__(self, window):
        self.planning = Planning(window)
        super().__init__(window, self.planning)
        self.card = PlantingCard(window.canvas)
        self.side = PlantingSide(window.theme, window.canvas)
        self.legend = PlantingLegend(window.theme, window.canvas)
        self.page = PAGE["lots"]
        self.planning.way = self.page.way
        self.tool = PlantingTool(window, self)
        self.edits = PlantingEdits(window, self)
        self.records = PlantingRecords(window, self)
        self.files = PlantingFiles(window, self)
        self._written: tuple = ()
        self._lot_to_hold = ""
        self._tie()

    def _tie(self) -> None:
        actions, card, side = self.window.actions_by_id, self.card, self.side
        for page in PAGES:
            pairs = [(actions[f"planting-{name}"], words) for name, words in page.actions]
            card.add_buttons(page.name, pairs)
        card.bar.wanted.connect(self.turn_to)
        self.legend.way_wanted.connect(self.colour_by)
        side.tables["lots"].pointed.connect(lambda _: self._show_lot())
        side.tables["days"].pointed.connect(lambda _: self._mark_day())
        for key in ("assignments", "stand_rows", "rework", "days"):
            side.tables[key].wanted.connect(lambda i, k=key: self._go_to_line(k, i))
        side.sheet.clicked.connect(actions["planting-set"].trigger)
        names = ("plan-sheet", "day-cards", "sheets", "form", "calendar", "years-xlsx")
        side.files_menu.addActions([actions[f"planting-{n}"] for n in names])

    def act(self, method: str, *arguments) -> None:
        """Do what an action names, on its stage."""
        if self.window.document is None:
            return
        if not self.is_shown:
            self.window.show_stage("planting")
        for part in (self.edits, self.records, self.files):
            if hasattr(part, method):
                getattr(part, method)(*arguments)
                return
        raise ValueError(f"method: nothing on the planting stage does {method!r}")

    # being on show

    def forget(self) -> None:
        """Put down everything of the project that is left."""
        super().forget()
        self.tool.forget()
        self._written = ()
        self._lot_to_hold = ""
        for table in self.side.tables.values():
            table.hold(None)
        self.window.canvas.show_planting(None)

    def follow(self) -> None:
        """Show the document's planting as it is, and have worked out what is not yet."""
        canvas = self.window.canvas
        if not self.is_shown:
            canvas.show_planting(None)
            self.tool.forget()
            return
        canvas.stage_tool = self.tool
        self.turn_to(self.page.name, again=True)
        self.edits.show_words()
        self.planning.follow()
        self.show()
        self._wait()

    def turn_to(self, name: str, *, again: bool = False) -> None:
        """Turn to a page; the plan is coloured as suits it."""
        page = PAGE[name]
        changed = page is not self.page
        self.page = page
        self.card.show_page(page)
        self.side.show_page(page)
        if changed:
            self.tool.point_at(None)  # what was told of a vine was for the page that is left
        if changed and not again:
            self.colour_by(page.way)

    def colour_by(self, way: str) -> None:
        """Colour vines by another of the ways there are."""
        self.planning.way = way
        if self.is_shown:
            self.follow()

    def legend_px(self) -> int:
        return self.legend.wanted_height() if self.window.canvas.planting is not None else 0

    # showing

    def show(self) -> None:
        """Show the newest answer, where it is of the rows on show."""
        w, side, answer = self.window, self.side, self.answer
        if not self.is_shown:
            return
        self._say_state()
        vines = w.answer is None or any(p.n_vines for p in w.answer.plans)
        side.say_empty("" if vines else _NO_ROWS)
        if answer is None or not vines:
            w.canvas.show_planting(None)
            return
        fresh = self.holds
        w.canvas.show_planting(self.planning.newest.layer if fresh else None)
        written = (self.planning.newest, w.unit, w.theme)
        if fresh and written != self._written:
            self._written = written
            self.legend.show_layer(self.planning.newest.layer, w.theme)
            self._write()
            self.window.arrange()
        self.show_held()

    def _write(self) -> None:
        """Everything that is told of the newest answer."""
        from ..session.planting_lines import lines_of, notes_of, sentences_of

        w, side, answer = self.window, self.side, self.answer
        held = self.held_lot
        for page in PAGES:
            side.say(page.name, sentences_of(page.name, answer), notes_of(page.name, answer))
            for part in page.tables:
                side.show_lines(part.key, lines_of(part.key, answer, w.unit, held), w.theme)
        self._hold_lot()
        self.edits.show_words()

    def take_lot(self, name: str) -> None:
        """Take a lot in hand as soon as it is in the list."""
        self._lot_to_hold = name
        self._hold_lot()

    def _hold_lot(self) -> None:
        table = self.side.tables["lots"]
        at = next((i for i, line in enumerate(table.lines) if line.name == self._lot_to_hold), None)
        if at is not None:
            self._lot_to_hold = ""
            table.hold(at)

    @property
    def held_lot(self) -> str:
        """Name of the lot in hand; the first one where none is, empty where there are none."""
        planting, line = self.window.document.project.planting, self.side.tables["lots"].held_line
        if planting is None or not planting.lots:
            return ""
        for name in (self._lot_to_hold, line.name if line is not None else ""):
            if name and planting.lot(name) is not None:  # a list that is not yet told anew may err
                return name
        return planting.lots[0].name

    def _show_lot(self) -> None:
        """The words and tags of the lot in hand."""
        from ..session.planting_lines import lines_of

        if not self.is_shown or self.answer is None:
            return
        self.edits.show_words()
        lines = lines_of("tags", self.answer, self.window.unit, self.held_lot)
        self.side.show_lines("tags", lines, self.window.theme)

    def _mark_day(self) -> None:
        """Light up the rows of the day in hand."""
        from ..session.planting_lines import segments_of_day

        at = self.side.tables["days"].held
        if at is None or self.answer is None or self.answer.days is None or not self.holds:
            return
        self.window.selecting.take_places(segments_of_day(self.answer, at))

    def _go_to_line(self, key: str, at: int) -> None:
        """Show the rows that a line is about."""
        from ..session.planting_lines import bounds_of_line

        bounds = bounds_of_line(key, self.answer, at) if self.holds else None
        if bounds is not None:
            self.window.canvas.look_over(bounds)

    # the vine in hand

    def told_of(self, vine) -> str:
        """What is planned and known of a vine, in short."""
        from ..session.planting_lines import told_of_vine

        return told_of_vine(self.answer, vine)

    def hold_at(self, x_m: float, y_m: float) -> None:
        """Take the vine at a place in hand."""
        from ..session.vine_places import vine_at

        vine = vine_at(self.tool.plans, x_m, y_m, 5.0)
        self.tool.point_at(vine, by_key=True)
        self.tool.take(vine)

    def show_held(self) -> None:
        """The history of the vine in hand, above the page of records."""
        self.card.say("record", self.records.words())
