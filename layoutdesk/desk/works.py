"""The stages that count for themselves, each made when it is first wanted: no start waits for them."""

from __future__ import annotations

from functools import cached_property

_NAMES = ("comparing", "materials", "watering", "planting", "handing_off")
SIDE_STAGES = {
    "materials": "materials",
    "water": "watering",
    "planting": "planting",
    "handoff": "handing_off",
}
"""Stages with a card on either side of the plan, and what works there."""


class Works:
    """What compares, takes off, waters, plants and hands off, and word to those that are there."""

    def __init__(self, window):
        self.window = window

    @cached_property
    def comparing(self):
        from .compare_stage import CompareStage
        from .comparing import Comparing

        work = Comparing(self.window, CompareStage(self.window.theme, self.window.canvas))
        work.tie(self.window.actions_by_id)
        work.stage.plans.show_terrain(self.window.canvas.terrain)
        return work

    @cached_property
    def materials(self):
        from .materials import MaterialsWork

        return MaterialsWork(self.window)

    @cached_property
    def watering(self):
        from .watering import WaterWork

        return WaterWork(self.window)

    @cached_property
    def planting(self):
        from .planting import PlantingWork

        return PlantingWork(self.window)

    @cached_property
    def handing_off(self):
        from .handing_off import HandOffWork

        return HandOffWork(self.window)

    def made(self) -> tuple:
        """Those that were wanted so far."""
        return tuple(self.__dict__[name] for name in _NAMES if name in self.__dict__)

    def wanted_for(self, stage: str) -> None:
        """Make what a stage needs."""
        name = {"compare": "comparing", **SIDE_STAGES}.get(stage)
        if name is not None:
            getattr(self, name)

    def beside(self) -> dict[str, object]:
        """Those with cards beside the plan, by their stage."""
        names = SIDE_STAGES.items()
        return {stage: self.__dict__[name] for stage, name in names if name in self.__dict__}

    @property
    def covers_plan(self) -> bool:
        """Whether small plans are on show and not the plan."""
        return self.has_compared and self.comparing.is_shown

    @property
    def has_compared(self) -> bool:
        """Whether the compare stage was wanted so far."""
        return "comparing" in self.__dict__

    def wear(self, theme) -> None:
        if self.has_compared:
            self.comparing.stage.wear(theme)

    def show_terrain(self, terrain) -> None:
        if self.has_compared:
            self.comparing.stage.plans.show_terrain(terrain)

    def follow(self) -> None:
        for work in self.made():
            work.follow()

    def forget(self) -> None:
        for work in self.made():
            work.forget()

    def close(self) -> None:
        for work in self.made():
            work.close()
