"""What stands and what is planned, on two maps of the same ground side by side."""

from __future__ import annotations

from dataclasses import replace

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.scene.scene import Scene
from farmmap.scene.sheet_layout import Content, PagePlan
from farmmap.sheets.page import MapOnPage

TITLES = ("Existing", "Planned")


def as_it_stands(farm: Farm) -> Farm:
    """Return a farm without anything that is only planned; the same if nothing is."""
    kept = {}
    for name, table in farm.tables.items():
        if "stage" in table.columns:
            planned = (table["stage"] == "planned").to_numpy(bool)
            if planned.any():
                kept[name] = table[~planned]
    if "trees" in kept:
        there = farm.measurements["tree"].isin(kept["trees"].index).to_numpy(bool)
        kept["measurements"] = farm.measurements[there]
    return farm.with_tables(**kept) if kept else farm


def need_planned(farm: Farm, stands: Farm) -> None:
    """Refuse two maps of a farm on which nothing is planned.

    Raises
    ------
    BadInput
        Both maps would be the same.
    """
    if stands is farm:
        raise BadInput(
            f"nothing is planned on {farm.settings.name}, so there is nothing to show beside what stands; print one map"
        )


def in_two_maps(content: Content) -> Content:
    """Return what a page says with two maps instead of one."""
    return replace(content, maps=TITLES)


def second_maps(plan: PagePlan, scene: Scene) -> tuple[MapOnPage, ...]:
    """Return the second map of a page, with what it shows; none if the page has one map."""
    return tuple(MapOnPage(one.frame, one.view, scene, one.over_map, one.name) for one in plan.beside)
