"""What the panel Growth shows, worked out in the background: list, calendar, species, and the tree that is chosen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.growth.outlook import outlook_of
from farmmap.figures.growth.outlook_course import SpeciesCourse, TreeCourse, species_courses, tree_course
from farmmap.figures.growth.outlook_farm import farm_outlook
from farmmap.figures.growth.outlook_species import species_outlook
from farmmap.figures.growth.outlook_trees import tree_outlook
from farmmap.figures.growth.targets import Targets
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options

MOST_LISTED = 5_000
"""So many trees are listed at most, those that are ready first."""

TREES_SHOWN = ("tag", "species", "ready", "dbh_cm", "target_cm", "mean_annual_increment_cm", "recent_increment_cm")
SPECIES_SHOWN = ("species", "stems", "ready_by_period", "curve", "trees", "readings", "left_out_error_cm")
"""What stands in the narrow tables before all columns are asked for."""

TARGET_COLUMNS = ("species", "target_cm", "product", "target_source")

_COURSES: Remembered[dict[str, SpeciesCourse]] = Remembered(2)


@dataclass(frozen=True, eq=False)
class GrowthFigures(FigureTable):
    """The list of trees, and besides it all that the panel shows.

    Attributes
    ----------
    on : date
        The day whose readings it rests on; not after today, however far ahead the map is looked at.
    of : str
        What it is about: the name of a block, or "" for the whole farm.
    calendar, species, target_table : FigureTable
        Calendar of ready trees, curves of the species, and their targets.
    targets : Targets
        The targets of the farm.
    courses : mapping of str to SpeciesCourse
        Readings and curve of each species, by code.
    tree : mapping or None
        Outlook of the tree that is chosen; None if none is, or if it does not stand.
    course : TreeCourse or None
        Its readings and forecast.
    """

    on: dt.date = dt.date.min
    of: str = ""
    calendar: FigureTable = field(default_factory=lambda: FigureTable("calendar", "", (), (), ()))
    species: FigureTable = field(default_factory=lambda: FigureTable("species", "", (), (), ()))
    target_table: FigureTable = field(default_factory=lambda: FigureTable("targets", "", (), (), ()))
    targets: Targets = field(default_factory=lambda: Targets({}, {}))
    courses: Mapping[str, SpeciesCourse] = field(default_factory=dict[str, SpeciesCourse])
    tree: Mapping[str, object] | None = None
    course: TreeCourse | None = None


def growth_figures(farm: Farm, options: Options) -> GrowthFigures:
    """Return the outlook of the block that is chosen, of the block of the tree that is chosen, or of the whole farm."""
    found = outlook_of(farm, options.on)
    block, tree = _about(farm, options)
    listed = tree_outlook(farm, options.on, block=block, first=MOST_LISTED)
    by_species = species_outlook(farm, options.on, block=block)
    row, course = None, None
    if tree is not None:
        alone = tree_outlook(farm, options.on, ids=(tree,)).rows
        row = alone[0] if len(alone) else None
        course = tree_course(farm, found, tree)
    return GrowthFigures(
        listed.name,
        listed.title,
        listed.columns,
        listed.rows,
        listed.ids,
        listed.notes,
        TREES_SHOWN,
        on=found.on,
        of="" if block is None else str(farm.blocks["name"].loc[block]),
        calendar=farm_outlook(farm, options.on, block=block),
        species=replace(by_species, brief=SPECIES_SHOWN),
        target_table=_target_table(by_species),
        targets=found.targets,
        courses=_COURSES.get((found,), (), lambda: species_courses(found)),
        tree=row,
        course=course,
    )


def _target_table(by_species: FigureTable) -> FigureTable:
    """Return the target of every species that stands."""
    notes = (
        "Your own targets go before the usual ones; of several lines of a species the first counts.",
        "A usual target is common practice, and yours to change.",
    )
    ids = tuple(range(len(by_species.rows)))
    return FigureTable("targets", "Targets", TARGET_COLUMNS, by_species.rows, ids, notes)


def _about(farm: Farm, options: Options) -> tuple[int | None, int | None]:
    """Block and tree that are meant by what is chosen."""
    chosen = options.chosen
    if chosen is None:
        return None, None
    if chosen.kind == "block" and chosen.id in farm.blocks.index:
        return chosen.id, None
    if chosen.kind == "tree" and chosen.id in farm.trees.index:
        inside = int(block_of_each_tree(farm)[farm.trees.index.get_loc(chosen.id)])
        return (None if inside == NO_BLOCK else inside), chosen.id
    return None, None
