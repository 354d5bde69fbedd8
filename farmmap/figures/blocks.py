"""Figures of blocks: area, stocking, basal area, heights, crown cover."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.crowns import CrownMap
from farmmap.figures.grounds import Grounds, grounds, grounds_of
from farmmap.figures.membership import TreeIndex, block_of_trees, blocks_overlap_m2
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.stand import diameter_classes, mean, per_ha, qmd_from_basal_area_cm, stems_per_ha, top_height
from farmmap.figures.standing import Standing, later_note, standing, the_day

COLUMNS = (
    "name",
    "purpose",
    "stage",
    "gross_area_ha",
    "net_area_ha",
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "mean_dbh_cm",
    "mean_height_m",
    "top_height_m",
    "measured_percent",
    "crown_cover_percent",
    "crown_estimated_percent",
    "basal_area_m2",
    "diameters",
)
BRIEF = (
    "name",
    "gross_area_ha",
    "net_area_ha",
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "top_height_m",
    "measured_percent",
    "crown_cover_percent",
)

_INDEXES: Remembered[TreeIndex] = Remembered(3)
_BLOCK_OF: Remembered[NDArray[np.int64]] = Remembered(6)
_CROWNS: Remembered[CrownMap] = Remembered(3)


def tree_index(farm: Farm) -> TreeIndex:
    """Return the index of all trees of a farm, kept for the last few tables of trees."""
    trees = farm.trees
    return _INDEXES.get((trees,), (), lambda: TreeIndex(trees["x"].to_numpy(), trees["y"].to_numpy()))


def block_of_each_tree(farm: Farm) -> NDArray[np.int64]:
    """Block that each row of ``farm.trees`` stands in: its id, or -1. Only existing blocks hold trees. Shape (n,)."""

    def work_out() -> NDArray[np.int64]:
        ground = grounds(farm)
        return block_of_trees(tree_index(farm), ground.ids[ground.existing], ground.outlines[ground.existing])

    return _BLOCK_OF.get((farm.trees, farm.blocks), (), work_out)


def crown_map(there: Standing) -> CrownMap:
    """Return the crowns of the trees that stand on a day, kept for the last few days."""
    return _CROWNS.get((there,), (), lambda: CrownMap(there.x, there.y, there.crown_m, there.crown_estimated))


def block_figures(farm: Farm, on: dt.date | None = None, class_cm: float | None = None) -> FigureTable:
    """Return the figures of every block, a row each in the order of their ids.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the day of the newest measurement.
    class_cm : float or None
        Width of a diameter class; None for the farm's own. [cm]

    Returns
    -------
    FigureTable
        Each row also holds ``species`` and ``diameter_classes`` (lists of
        mappings) and the numbers that its figures rest on. A planned block has
        areas only.
    """
    width = farm.settings.class_cm if class_cm is None else class_cm
    there = standing(farm, the_day(farm, on))
    ground = grounds(farm)
    rows = block_rows(farm, there, ground, block_of_each_tree(farm)[there.places], width)
    return block_table(farm, there, ground, rows)


def block_table(farm: Farm, there: Standing, ground: Grounds, rows: Sequence[Mapping[str, object]]) -> FigureTable:
    """Return rows of figures, one for each block in the order of ``ground``, as a table with its notes."""
    return FigureTable(
        "blocks",
        f"Blocks of {farm.settings.name}, {there.on.isoformat()}",
        COLUMNS,
        tuple(rows),
        tuple(map(int, ground.ids)),
        block_notes(farm, there, ground),
        BRIEF,
    )


def some_block_figures(
    farm: Farm, ids: NDArray[np.int64], on: dt.date | None = None, class_cm: float | None = None
) -> dict[int, Mapping[str, object]]:
    """Rows of `block_figures` for some blocks only, worked out by the same functions on fewer rows.

    Parameters
    ----------
    farm : Farm
        The farm.
    ids : array_like of int, shape (k,)
        Blocks that an edit touched.
    on, class_cm
        As for `block_figures`.
    """
    width = farm.settings.class_cm if class_cm is None else class_cm
    there = standing(farm, the_day(farm, on))
    chosen = farm.blocks[farm.blocks.index.isin(ids)]
    ground = grounds_of(farm, chosen)
    rows = block_rows(farm, there, ground, block_of_each_tree(farm)[there.places], width)
    return dict(zip(map(int, ground.ids), rows, strict=True))


def block_notes(farm: Farm, there: Standing, ground: Grounds) -> tuple[str, ...]:
    """Conventions and shares to be printed beside the figures of blocks."""
    notes = [
        *ground_notes(farm, there, ground),
        "Rates are per hectare of net area.",
        "Top height: plain mean height of the 100 thickest trees a hectare, if half of them have a height.",
    ]
    if not ground.existing.all():
        notes.append("Planned blocks are listed with their areas only.")
    return tuple(notes)


def ground_notes(farm: Farm, there: Standing, ground: Grounds) -> tuple[str, ...]:
    """Conventions and shares that hold for the figures of blocks and for those of the whole farm."""
    plane = "on the farm's own plane (local coordinates)" if farm.grid.local else "on the ellipsoid"
    notes = [
        f"What was measured on or before {there.on.isoformat()}; living trees, each counted once.",
        f"Diameters at {there.breast_height_m:.1f} m (breast height), over bark.",
        f"Areas are level ground area {plane}; net: less tracks, creek channels and hazards.",
    ]
    if there.other_breast_height:
        notes.append(
            f"{there.other_breast_height} trees were measured at another height than {there.breast_height_m:.1f} m; "
            "their diameters are used as they are."
        )
    bare = len(there) - len(there.with_crown)
    if bare:
        notes.append(f"{bare} trees have neither a crown nor a diameter and add nothing to crown cover.")
    if blocks_overlap_m2(ground.outlines[ground.existing]):
        notes.append("Some blocks overlap; a tree there counts in the block drawn first, the ground in each.")
    if (farm.creeks["drawn_as"] != "centre line").any():
        notes.append("Creeks drawn as a bank line have no known channel, so nothing is taken out for them.")
    return (*notes, *later_note(farm, there.on))


def block_rows(
    farm: Farm, there: Standing, ground: Grounds, block: NDArray[np.int64], class_cm: float
) -> list[dict[str, object]]:
    """Rows of figures for some or all blocks.

    Parameters
    ----------
    farm : Farm
        The farm.
    there : Standing
        Trees that count on the day.
    ground : Grounds
        The blocks to work out.
    block : ndarray of int64, shape (n,)
        Block that each of those trees stands in.
    class_cm : float
        Width of a diameter class. [cm]
    """
    crowns = crown_map(there)
    sorted_trees = np.argsort(block, kind="stable")
    ordered = block[sorted_trees]
    blocks = farm.blocks.loc[ground.ids]
    rows: list[dict[str, object]] = []
    for place, (name, purpose, stage) in enumerate(
        zip(blocks["name"], blocks["purpose"], blocks["stage"], strict=True)
    ):
        row: dict[str, object] = {
            "name": name,
            "purpose": purpose,
            "stage": stage,
            "gross_area_ha": float(ground.gross_ha[place]),
            "net_area_ha": float(ground.net_ha[place]),
            "taken_out_ha": float(ground.gross_ha[place] - ground.net_ha[place]),
        }
        if ground.existing[place]:
            begin, end = np.searchsorted(ordered, [ground.ids[place], ground.ids[place] + 1])
            trees = sorted_trees[begin:end]
            row |= _stand(there, trees, float(ground.net_ha[place]), class_cm)
            if len(trees) and not (there.crown_m[trees] > 0).any():
                row |= NO_COVER  # trees whose crowns nobody knows are not the same as no crowns
            else:
                row |= cover(crowns, ground.net[place], float(ground.net_ha[place]), float(ground.scales[place]))
        else:
            row |= dict.fromkeys(COLUMNS[COLUMNS.index("stems") :]) | {"species": [], "diameter_classes": []}
        rows.append(row)
    return rows


def _stand(there: Standing, trees: NDArray[np.intp], net_ha: float, class_cm: float) -> dict[str, object]:
    """Stocking figures of the trees at these places."""
    stems = len(trees)
    measured = int(there.measured[trees].sum())
    diameters = int(there.diameters[trees].sum())
    basal = float(np.nansum(there.basal_area_m2[trees]))
    dbh, heights = there.dbh_cm[trees], there.height_m[trees]
    top = top_height(dbh, heights, net_ha)
    known = measured > 0 or stems == 0
    return {
        "stems": stems,
        "stems_per_ha": stems_per_ha(stems, net_ha),
        "basal_area_m2": basal if known else None,
        "basal_area_m2_per_ha": per_ha(basal, net_ha) if known else None,
        "qmd_cm": qmd_from_basal_area_cm(basal, diameters),
        "diameters": diameters,
        "mean_dbh_cm": mean(dbh),
        "mean_height_m": mean(heights),
        "heights": int(np.isfinite(heights).sum()),
        "top_height_m": top.height_m,
        "top_trees": top.trees,
        "top_heights": top.with_height,
        "measured": measured,
        "measured_percent": 100.0 * measured / stems if stems else None,
        "species": _by_species(there, trees, net_ha),
        "diameter_classes": _classes(dbh, net_ha, class_cm),
    }


def _by_species(there: Standing, trees: NDArray[np.intp], net_ha: float) -> list[dict[str, object]]:
    """Stocking of each species, the commonest first."""
    kinds = len(there.species_names)
    of = there.species[trees]
    stems = np.bincount(of, minlength=kinds)
    measured = np.bincount(of, there.measured[trees], minlength=kinds)
    basal = np.bincount(of, np.nan_to_num(there.basal_area_m2[trees]), minlength=kinds)
    order = [int(kind) for kind in np.argsort(-stems, kind="stable") if stems[kind]]
    return [
        {
            "species": there.species_labels[kind],
            "code": there.species_names[kind],
            "stems": int(stems[kind]),
            "stems_per_ha": stems_per_ha(int(stems[kind]), net_ha),
            "basal_area_m2_per_ha": per_ha(float(basal[kind]), net_ha) if measured[kind] else None,
            "percent": 100.0 * float(stems[kind]) / len(trees),
        }
        for kind in order
    ]


def _classes(dbh_cm: NDArray[np.float64], net_ha: float, class_cm: float) -> list[dict[str, object]]:
    lower, counts = diameter_classes(dbh_cm, class_cm)
    return [
        {
            "from_cm": float(low),
            "to_cm": float(low + class_cm),
            "stems": int(count),
            "stems_per_ha": stems_per_ha(int(count), net_ha),
        }
        for low, count in zip(lower, counts, strict=True)
    ]


NO_COVER: dict[str, object] = {"crown_cover_percent": None, "crown_area_ha": None, "crown_estimated_percent": None}


def cover(crowns: CrownMap, region: shapely.Geometry, area_ha: float, scale: float) -> dict[str, object]:
    """Crown cover of a region: share covered, ground covered, share of its crowns that was estimated.

    Parameters
    ----------
    crowns : CrownMap
        The crowns.
    region : shapely Polygon or MultiPolygon
        On the grid.
    area_ha : float
        Its ground area. [ha]
    scale : float
        Grid metres for a metre of ground.
    """
    planar = float(region.area)
    if planar <= 0:
        return NO_COVER
    share, number, estimated = crowns.over(region, scale)
    return {
        "crown_cover_percent": 100.0 * share,
        "crown_area_ha": share * area_ha,
        "crown_estimated_percent": 100.0 * estimated / number if number else None,
    }
