"""A small site with posts and vines, and what a crew measured of it, for tests of the way back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from layoutdesk.core.model import Block, Exclusion, HandOff, Project, RowRules, Site, SiteFrame
from layoutdesk.core.model.handoff import POINT_KINDS, PointChoice
from layoutdesk.session.hand_off_set import hand_off_set
from layoutdesk.session.stakeout import lay_project

RULES = RowRules(
    bearing_deg=20.0, row_spacing_m=2.5, vine_spacing_m=1.5, anchor_m=1.2, line_post_every=4
)
BLOCKS = (
    Block("B1", shapely.Polygon([(0, 0), (70, 0), (70, 60), (20, 80)]), RULES),
    Block("North bank", shapely.box(110, 0, 150, 60), replace(RULES, bearing_deg=95.0)),
)
POND = Exclusion(shapely.Point(45, 35).buffer(6), 3.0, "Pond", "pond")
FRAME = SiteFrame(48.2, 16.1, 90.0)
UTM, FEET = "EPSG:32633", "EPSG:2927"


def project(survey_crs: str = UTM, frame: SiteFrame = FRAME, blocks=BLOCKS, **said) -> Project:
    """The site; `said` goes into its hand-off."""
    site = Site(frame, survey_crs, survey_crs)
    return Project("Two Banks", site, blocks, (POND,), hand_off=HandOff(**said) if said else None)


class Staked:
    """Every point of the plan, with its code and where it is handed off, in the written unit."""

    def __init__(self, known: Project | None = None):
        self.project = known or project()
        self.plans = tuple(lay_project(self.project))
        everything = replace(
            self.project.hand_off or HandOff(), points=PointChoice(kinds=POINT_KINDS[1:])
        )
        self.hand = hand_off_set(replace(self.project, hand_off=everything), self.plans)
        self.points = self.hand.points.all()
        self.placing = self.hand.placing
        self.en = self.placing.placed(self.points.xy_m)
        self.code = [
            self.hand.points.code(*p)
            for p in zip(
                self.points.owner.tolist(),
                self.points.kind.tolist(),
                self.points.index.tolist(),
                strict=True,
            )
        ]

    def of_kind(self, *kinds: str) -> np.ndarray:
        """Indices of all points of some kinds."""
        return np.flatnonzero(np.isin(self.points.kind, [POINT_KINDS.index(k) for k in kinds]))

    def noisy(self, sigma_m: float = 0.005, seed: int = 7) -> np.ndarray:
        """Where all points are measured, with noise on each axis, in the written unit."""
        noise = np.random.default_rng(seed).normal(0, sigma_m, self.en.shape)
        return self.en + noise / self.placing.unit_m

    def rows(self, en, which, names=None):
        """(name, northing, easting, code) as texts, of some points."""
        for i in which.tolist():
            name = self.points.number[i] if names is None else names[i]
            yield str(name), f"{en[i, 1]:.4f}", f"{en[i, 0]:.4f}", self.code[i]

    def csv(self, path, en, which, header="point,northing,easting,description", separator=","):
        """A table of some measured points."""
        lines = [header] if header else []
        lines += [separator.join(row) for row in self.rows(en, which)]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path
