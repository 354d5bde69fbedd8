"""Figures of blocks: area, stocking, basal area, heights, crown cover."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.splice import column_of
from farmmap.figures.crowns import CrownMap
from farmmap.figures.grounds import Grounds, grounds, overlaps
from farmmap.figures.members import Members
from farmmap.figures.membership import block_of_trees
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.sampling.block_rows import MAPPED, beside_mapped, plot_notes, sampled_row
from farmmap.figures.sampling.counts import plot_counts
from farmmap.figures.sampling.sampled import samples
from farmmap.figures.stand import diameter_classes, per_ha, stems_per_ha, top_height
from farmmap.figures.standing import Standing, basis_note, later_note, standing, the_day
from farmmap.figures.stocking import Stocking
from farmmap.figures.tree_index import TreeIndex, places_among

Row = dict[str, object]

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
    "counted",
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

MANY = 20
"""Crowns over so many blocks are worked out together."""

INDEXES: Remembered[TreeIndex] = Remembered(3)
MEMBERS: Remembered[Members] = Remembered(4)
CROWNS: Remembered[CrownMap] = Remembered(3)
TABLES: Remembered[FigureTable] = Remembered(6)
_BANK_LINES: Remembered[int] = Remembered(2)


def tree_index(farm: Farm) -> TreeIndex:
    """Return the index of all trees of a farm, kept for the last few tables of trees."""
    trees = farm.trees
    return INDEXES.get((trees,), (), lambda: TreeIndex(trees["x"].to_numpy(), trees["y"].to_numpy()))


def members_of(farm: Farm) -> Members:
    """Return which block each tree stands in, and the trees of each block; only existing blocks hold trees."""

    def work_out() -> Members:
        ground = grounds(farm)
        here = ground.existing
        return Members(block_of_trees(tree_index(farm), ground.ids[here], ground.outlines[here]))

    return MEMBERS.get((farm.trees, farm.blocks), (), work_out)


def block_of_each_tree(farm: Farm) -> NDArray[np.int64]:
    """Block that each row of ``farm.trees`` stands in: its id, or -1. Only existing blocks hold trees. Shape (n,)."""
    return members_of(farm).block


def crown_map(there: Standing) -> CrownMap:
    """Return the crowns of the trees that stand on a day, kept for the last few days."""
    return CROWNS.get((there,), (), lambda: CrownMap(there.x, there.y, there.crown_m, there.crown_estimated))


def block_figures(farm: Farm, on: dt.date | None = None, class_cm: float | None = None) -> FigureTable:
    """Return the figures of every block, a row each in the order of their ids; the last few answers are kept.

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

    def work_out() -> FigureTable:
        there, ground = standing(farm, day), grounds(farm)
        return block_table(farm, there, ground, block_rows(farm, there, ground.ids, width, ground))

    day, width = the_day(farm, on), class_width(farm, class_cm)
    return TABLES.get(*table_key(farm, day, width), work_out)


def class_width(farm: Farm, class_cm: float | None) -> float:
    """Return ``class_cm``, or the farm's own width of a diameter class if it is None, in cm."""
    return farm.settings.class_cm if class_cm is None else class_cm


def table_key(farm: Farm, day: dt.date, class_cm: float) -> tuple[tuple[object, ...], tuple[object, ...]]:
    """Tables that `block_figures` reads, and what else its answer depends on."""
    tables = (farm.blocks, farm.tracks, farm.creeks, farm.hazards, farm.trees, farm.measurements, farm.species)
    settings = farm.settings
    return (*tables, farm.plots, farm.plot_trees), (settings.name, settings.breast_height_m, farm.grid, day, class_cm)


def block_table(farm: Farm, there: Standing, ground: Grounds, rows: Sequence[Mapping[str, object]]) -> FigureTable:
    """Return rows of figures, one for each block in the order of ``ground``, as a table with its notes."""
    has_plots = len(farm.plots) > 0 and any("plots" in row or "plots_stems_per_ha" in row for row in rows)
    return FigureTable(
        "blocks",
        f"Blocks of {farm.settings.name}, {there.on.isoformat()}",
        COLUMNS,
        tuple(rows),
        tuple(map(int, ground.ids)),
        (*block_notes(farm, there, ground), *(plot_notes(rows) if has_plots else ())),
        (BRIEF[0], "counted", *BRIEF[1:]) if has_plots else BRIEF,
    )


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
        basis_note(there),
        f"Diameters at {there.breast_height_m:.1f} m (breast height), over bark.",
        f"Areas are level ground area {plane}; net: less tracks, creek channels and hazards.",
    ]
    if there.other_breast_height:
        notes.append(
            f"{there.other_breast_height} trees were measured at another height than {there.breast_height_m:.1f} m; "
            "their diameters are used as they are."
        )
    bare = len(there) - there.crowned
    if bare:
        notes.append(f"{bare} trees have neither a crown nor a diameter and add nothing to crown cover.")
    if overlaps(ground).claimed_m2:
        notes.append("Some blocks overlap; a tree there counts in the block drawn first, the ground in each.")
    if _BANK_LINES.get((farm.creeks,), (), lambda: int((farm.creeks["drawn_as"] != "centre line").sum())):
        notes.append("Creeks drawn as a bank line have no known channel, so nothing is taken out for them.")
    return (*notes, *later_note(farm, there.on))


def block_rows(
    farm: Farm, there: Standing, blocks: NDArray[np.int64], class_cm: float, was: Grounds | None = None
) -> list[Row]:
    """Rows of figures for some or all blocks; each is the same whichever others are asked for.

    Parameters
    ----------
    farm : Farm
        The farm.
    there : Standing
        Trees that count on the day.
    blocks : ndarray of int64, shape (k,)
        Ids of the blocks to work out, all or increasing ones.
    class_cm : float
        Width of a diameter class. [cm]
    was : Grounds, optional
        Ground of blocks before a few corners of some moved.
    """
    ground = grounds(farm)
    before = _nets_before(was, blocks)
    places = np.arange(len(blocks)) if blocks is ground.ids else places_among(ground.ids, blocks)
    crowns = crown_map(there)
    stock = Stocking(there, members_of(farm), blocks)
    of_stand = _stands(there, stock, ground.net_ha[places], class_cm)
    said, sampled = _texts(farm, places), samples(farm, there.on)
    if len(places) >= MANY:
        covered = places[ground.existing[places]]
        crowns.make_ready(ground.net[covered], ground.scales[covered])
    rows: list[Row] = []
    for number, (place, name, purpose, stage) in enumerate(zip(places.tolist(), *said, strict=True)):
        gross, net = float(ground.gross_ha[place]), float(ground.net_ha[place])
        row: Row = {
            "name": name,
            "purpose": purpose,
            "stage": stage,
            "gross_area_ha": gross,
            "net_area_ha": net,
            "taken_out_ha": gross - net,
        }
        sample = sampled.get(int(blocks[number]))
        if not ground.existing[place]:
            row |= dict.fromkeys(COLUMNS[COLUMNS.index("stems") :]) | {"species": [], "diameter_classes": []}
        elif stock.stems[number] and not stock.with_crown[number]:
            row |= of_stand[number] | NO_COVER  # trees whose crowns nobody knows are not the same as no crowns
        else:
            found = crowns.over(ground.net[place], float(ground.scales[place]), before[number], keep=True)
            row |= of_stand[number] | cover_row(found, ground.net[place], net)
        if sample is not None and len(sample.places):
            if stock.stems[number]:
                row |= beside_mapped(sample)
            elif net > 0:
                row |= NO_COVER | sampled_row(sample, plot_counts(farm), net, class_cm)
        rows.append(row)
    return rows


def _nets_before(was: Grounds | None, blocks: NDArray[np.int64]) -> list[shapely.Geometry | None]:
    """Net ground of blocks as it was, None where it is not known."""
    if was is None or not len(was.ids):
        return [None] * len(blocks)
    at = np.minimum(was.ids.searchsorted(blocks), len(was.ids) - 1)
    return [
        net if one == block else None
        for net, one, block in zip(was.net[at], was.ids[at].tolist(), blocks.tolist(), strict=True)
    ]


def _texts(farm: Farm, places: NDArray[np.intp]) -> list[list[str]]:
    """Name, purpose and stage of blocks."""
    columns = (column_of(farm.blocks, name) for name in ("name", "purpose", "stage"))
    return [[held[place] for place in places] if len(places) < len(held) else list(held) for held in columns]


def _stands(there: Standing, stock: Stocking, net_ha: NDArray[np.float64], class_cm: float) -> list[Row]:
    """Stocking figures of blocks."""
    dbh, heights = there.dbh_cm[stock.trees], there.height_m[stock.trees]
    species = _by_species(there, stock, net_ha)
    out: list[Row] = []
    for number, (stems, measured, diameters, basal, with_height) in enumerate(
        zip(
            *(
                values.tolist()
                for values in (stock.stems, stock.measured, stock.diameters, stock.basal_area_m2, stock.heights)
            ),
            strict=True,
        )
    ):
        here = slice(stock.starts[number], stock.starts[number + 1])
        area = float(net_ha[number])
        top = top_height(dbh[here], heights[here], area)
        known = measured > 0 or stems == 0
        out.append(
            {
                "stems": stems,
                "stems_per_ha": stems_per_ha(stems, area),
                "basal_area_m2": basal if known else None,
                "basal_area_m2_per_ha": per_ha(basal, area) if known else None,
                "qmd_cm": float(stock.qmd_cm[number]) if diameters else None,
                "diameters": diameters,
                "mean_dbh_cm": float(stock.mean_dbh_cm[number]) if measured else None,
                "mean_height_m": float(stock.mean_height_m[number]) if with_height else None,
                "heights": with_height,
                "top_height_m": top.height_m,
                "top_trees": top.trees,
                "top_heights": top.with_height,
                "measured": measured,
                "measured_percent": 100.0 * measured / stems if stems else None,
                "species": species[number],
                "diameter_classes": _classes(dbh[here], area, class_cm),
                "counted": MAPPED if stems else None,
            }
        )
    return out


def _by_species(there: Standing, stock: Stocking, net_ha: NDArray[np.float64]) -> list[list[Row]]:
    """Stocking of each species of each block, the commonest first."""
    kinds, blocks = max(len(there.species_names), 1), len(stock.stems)
    cell = stock.block * kinds + there.species[stock.trees]
    basal = there.basal_area_m2[stock.trees]
    counts = np.bincount(cell, minlength=blocks * kinds).reshape(blocks, kinds)
    measured = np.bincount(cell, there.measured[stock.trees], blocks * kinds).reshape(blocks, kinds)
    together = np.bincount(cell, np.where(np.isfinite(basal), basal, 0.0), blocks * kinds).reshape(blocks, kinds)
    orders = np.argsort(-counts, axis=1, kind="stable")
    return [
        [
            {
                "species": there.species_labels[kind],
                "code": there.species_names[kind],
                "stems": int(counts[number, kind]),
                "stems_per_ha": stems_per_ha(int(counts[number, kind]), area),
                "basal_area_m2_per_ha": per_ha(float(together[number, kind]), area) if measured[number, kind] else None,
                "percent": 100.0 * float(counts[number, kind]) / float(stock.stems[number]),
            }
            for kind in orders[number, : np.count_nonzero(counts[number])].tolist()
        ]
        for number, area in enumerate(net_ha.tolist())
    ]


def _classes(dbh_cm: NDArray[np.float64], net_ha: float, class_cm: float) -> list[Row]:
    lower, counts = diameter_classes(dbh_cm, class_cm)
    return [
        {"from_cm": low, "to_cm": low + class_cm, "stems": count, "stems_per_ha": stems_per_ha(count, net_ha)}
        for low, count in zip(lower.tolist(), counts.tolist(), strict=True)
    ]


NO_COVER: dict[str, object] = {"crown_cover_percent": None, "crown_area_ha": None, "crown_estimated_percent": None}


def cover(crowns: CrownMap, region: shapely.Geometry, area_ha: float, scale: float, *, quick: bool = False) -> Row:
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
    quick : bool
        Count it along rows, within 0.1 %, for while something moves.
    """
    if float(region.area) <= 0:
        return NO_COVER
    return cover_row(crowns.about_over(region, scale) if quick else crowns.over(region, scale), region, area_ha)


def cover_row(found: tuple[float, int, int], region: shapely.Geometry, area_ha: float) -> Row:
    """Return `cover` from what `CrownMap.over` found."""
    if float(region.area) <= 0:
        return NO_COVER
    share, number, estimated = found
    return {
        "crown_cover_percent": 100.0 * share,
        "crown_area_ha": share * area_ha,
        "crown_estimated_percent": 100.0 * estimated / number if number else None,
    }
