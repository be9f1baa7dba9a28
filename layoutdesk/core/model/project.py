"""The project: one immutable value that holds everything the user decided."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace

from .findings import Finding
from .ground import Block, Exclusion, SiteFrame
from .handoff import HandOff
from .materials import Materials
from .planting import Planting
from .register import Register
from .study import Study
from .terrain import Terrain
from .water import Water


@dataclass(frozen=True)
class Site:
    """Where the project lies and in which systems its data came and go.

    Attributes
    ----------
    frame : SiteFrame
    source_crs, survey_crs : str
        Coordinate systems of the outline as read and of the stake-out files (a code or WKT).
    findings : tuple of Finding
        What was found while reading the source data.
    """

    frame: SiteFrame
    source_crs: str
    survey_crs: str
    source: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Backdrop:
    """A picture under the plan: where it is, how strongly it shows, and whether."""

    path: str
    opacity: float = 0.7
    shown: bool = True

    def __post_init__(self):
        if not 0 <= self.opacity <= 1:
            raise ValueError(f"opacity: {self.opacity!r} is outside 0 to 1")


@dataclass(frozen=True)
class Project:
    """A site with its blocks and exclusions.

    `day` is the date bearings are magnetic at; `study` what is compared, `materials`, `water`, `planting` and
    `hand_off` what is said of them, where anything is. `register` is what was recorded at vines; it is only added to.
    """

    name: str
    site: Site
    blocks: tuple[Block, ...]
    exclusions: tuple[Exclusion, ...] = ()
    day: datetime.date | None = None
    backdrop: Backdrop | None = None
    terrain: Terrain | None = None
    study: Study | None = None
    materials: Materials | None = None
    water: Water | None = None
    planting: Planting | None = None
    register: Register | None = None
    hand_off: HandOff | None = None

    def block(self, name: str) -> Block:
        """The block of that name; KeyError names the ones there are."""
        for block in self.blocks:
            if block.name == name:
                return block
        raise KeyError(f"no block {name!r}; there are {', '.join(b.name for b in self.blocks)}")

    def with_block(self, block: Block) -> Project:
        """The project with the block of the same name exchanged."""
        self.block(block.name)
        return replace(
            self, blocks=tuple(block if b.name == block.name else b for b in self.blocks)
        )
