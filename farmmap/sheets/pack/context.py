"""What all parts of a pack draw from: the farm on a day, its figures, and the plans that the pack is for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_figures
from farmmap.figures.margins import margin_figures
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.standing import the_day
from farmmap.figures.whole_farm import farm_figures
from farmmap.plans.planting.keeping.kept import KeptPlan, plan_called
from farmmap.plans.planting.outcome.cover import CoverForecast, expected_cover
from farmmap.plans.planting.outcome.margin_cover import margin_covers
from farmmap.plans.planting.outcome.months import latitude_deg
from farmmap.plans.planting.outcome.report import PlanReport, plan_report
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import PlantKinds, plant_kinds
from farmmap.scene.backdrops import NONE, Backdrops, find_backdrops
from farmmap.scene.page_plan import farm_without, planting_bounds
from farmmap.scene.planting_layer import PlantingPicture, planting_picture
from farmmap.scene.styles import Theme
from farmmap.scene.view import Bounds
from farmmap.sheets.pack.options import PackOptions
from farmmap.sheets.plan_sheet import kept_plan

BEFORE = -1.0
"""Years since planting that stand for today: nothing of the plan has a crown."""

COVER_YEARS = (BEFORE, 0.0, 5.0, 10.0, 20.0)
"""Years after planting for which cover is told."""

MARGIN_YEARS = tuple(year for year in COVER_YEARS if year != 0.0)
"""The same for the creek margins."""


@dataclass(frozen=True, eq=False)
class PlanOfPack:
    """A plan that the pack is for.

    Attributes
    ----------
    kept : KeptPlan
        As the farm keeps it.
    plan : PlantingPlan
        Made again from its recipe.
    farm : Farm
        The farm without what came into it from the plan.
    """

    kept: KeptPlan
    plan: PlantingPlan
    farm: Farm

    @cached_property
    def kinds(self) -> PlantKinds:
        """What is known of its plants."""
        return plant_kinds(self.farm, self.plan.recipe)

    @cached_property
    def cover(self) -> CoverForecast:
        """Its cover today and later."""
        return expected_cover(self.farm, self.plan, self.kinds, COVER_YEARS)

    @cached_property
    def report(self) -> PlanReport:
        """What follows from it."""
        return plan_report(self.plan, self.cover, latitude_deg(self.farm, self.plan), self.kinds)

    @cached_property
    def picture(self) -> PlantingPicture:
        """How it is drawn."""
        return planting_picture(self.farm, self.plan, self.kinds.code_and_name)

    @property
    def bounds(self) -> Bounds | None:
        """Ground that it covers; None if it has none. [m]."""
        return planting_bounds(self.plan)


_PLANS: Remembered[PlanOfPack] = Remembered(4)


@dataclass(frozen=True, eq=False)
class PackContext:
    """What all parts draw from.

    Attributes
    ----------
    farm : Farm
        The farm.
    day : date
        Day that the figures hold for.
    printed : date
        Day of printing.
    options : PackOptions
        What was chosen.
    plans : tuple of PlanOfPack
        Plans that the pack is for.
    look : Theme
        How maps are drawn.
    """

    farm: Farm
    day: dt.date
    printed: dt.date
    options: PackOptions
    plans: tuple[PlanOfPack, ...]
    look: Theme

    @cached_property
    def without(self) -> Farm:
        """The farm as it stands, without what came into it from the plans."""
        farm = self.farm
        for one in self.plans:
            farm = farm_without(farm, one.kept.name)
        return farm

    @cached_property
    def backdrops(self) -> Backdrops:
        """What lies under the maps."""
        return NONE if self.options.folder is None else find_backdrops(self.farm, self.options.folder)

    @cached_property
    def blocks(self) -> FigureTable:
        """Figures of the blocks, without those that the plans are for."""
        figures = block_figures(self.farm, self.day)
        planned = self.farm.blocks.index[self._in_plans]
        kept = [place for place, row in enumerate(figures.ids) if row not in planned]
        rows, ids = [figures.rows[place] for place in kept], [figures.ids[place] for place in kept]
        return replace(figures, rows=rows, ids=ids)

    @property
    def has_blocks(self) -> bool:
        """Whether there are blocks besides those that the plans are for."""
        return not self._in_plans.all()

    @property
    def _in_plans(self) -> np.ndarray:
        blocks = self.farm.blocks
        of_plans = blocks["plan"].isin({one.kept.name for one in self.plans}) & (blocks["stage"] == "planned")
        return of_plans.to_numpy(bool)

    @cached_property
    def margins(self) -> FigureTable:
        """Figures of the creek margins."""
        return margin_figures(self.farm, self.day)

    @cached_property
    def margin_covers(self) -> np.ndarray:
        """Cover of every margin in `MARGIN_YEARS` with all plans grown, shape (margins, years). [%]."""
        plantings = [(one.plan, one.kinds) for one in self.plans]
        return margin_covers(self.without, self.day, plantings, MARGIN_YEARS)

    @cached_property
    def whole(self) -> FigureTable:
        """Figures of the farm."""
        return farm_figures(self.farm, self.day)

    @property
    def titled(self) -> Iterator[tuple[PlanOfPack, str]]:
        """Plans with what goes before the name of a table, which is nothing where there is but one."""
        for one in self.plans:
            yield one, f"{one.plan.name}: " if len(self.plans) > 1 else ""


def context_of(farm: Farm, on: dt.date | None, options: PackOptions, look: Theme) -> PackContext:
    """Gather what the parts of a pack draw from.

    Raises
    ------
    BadInput
        The farm has no such plan, or it can no longer be made.
    """
    plans = []
    for name in dict.fromkeys(options.plans):
        kept = plan_called(farm, name)
        plan = kept_plan(farm, kept.name, options.folder)
        plans.append(_PLANS.get((farm, plan), (kept,), partial(PlanOfPack, kept, plan, farm_without(farm, kept.name))))
    printed = options.printed_on or dt.datetime.now().astimezone().date()
    return PackContext(farm, the_day(farm, on), printed, options, tuple(plans), look)
