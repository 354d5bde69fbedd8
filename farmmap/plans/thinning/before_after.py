"""The stand before a thinning, what is taken, and what stands after."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.day_words import in_words
from farmmap.figures.blocks import crown_map
from farmmap.figures.crowns import CrownMap
from farmmap.figures.result import FigureTable
from farmmap.figures.stand import mean, per_ha, qmd_from_basal_area_cm, stems_per_ha
from farmmap.figures.standing import BASAL_UNIT_M2, is_ahead
from farmmap.plans.thinning.final_stocking import spacing_m
from farmmap.plans.thinning.stand import BlockTrees

Bools = NDArray[np.bool_]
Row = dict[str, object]

COLUMNS = (
    "part",
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "mean_dbh_cm",
    "mean_height_m",
    "mean_spacing_m",
    "crown_cover_percent",
    "species_mix",
    "stems_percent",
    "basal_area_percent",
    "qmd_to_before",
    "qmd_to_after",
    "thinning_ratio",
    "basal_area_m2",
    "diameters",
)
BRIEF = (
    "part",
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "mean_spacing_m",
    "crown_cover_percent",
    "species_mix",
)
PARTS = ("before", "taken", "after")

NAMED = 4
"""So many species are named, the rest counted together."""


def before_after(trees: BlockTrees, mark: NDArray[np.object_], notes: tuple[str, ...]) -> FigureTable:
    """Return the figures of a thinning, a row for the stand before, what is taken, and the stand after.

    Parameters
    ----------
    trees : BlockTrees
        The trees of the block.
    mark : ndarray of str, shape (n,)
        A mark for each.
    notes : tuple of str
        What is to be said beside them.
    """
    goes, ahead = mark == "take", is_ahead(trees.farm, trees.on)
    rows = [_row(trees, part, which) for part, which in zip(PARTS, (goes | True, goes, ~goes), strict=True)]
    before, gone, after = rows
    gone["mean_spacing_m"] = None  # those that go stand among the others: how far apart says nothing
    for row, (share, opened) in zip(rows, _covers(trees, goes), strict=True):
        row["crown_cover_percent"] = share
        row["crown_opened_percent"] = opened
    gone |= _ratios(before, gone, after)
    return FigureTable(
        "thinning",
        f"Thinning of {trees.name}, {'forecast for ' if ahead else ''}{in_words(trees.on)}",
        COLUMNS,
        tuple({"name": trees.name} | row for row in rows),
        (0, 1, 2),
        (*_conventions(trees), *notes),
        BRIEF,
    )


def _row(trees: BlockTrees, part: str, which: Bools) -> Row:
    stems, net = int(which.sum()), trees.net_ha
    diameters = int(trees.diameters[which].sum())
    basal = int(trees.there.basal_units[trees.places][which].sum()) * BASAL_UNIT_M2
    per = stems_per_ha(stems, net)
    known = diameters > 0 or not stems
    return {
        "part": part,
        "stems": stems,
        "net_area_ha": net,
        "stems_per_ha": per,
        "basal_area_m2": basal if known else None,
        "basal_area_m2_per_ha": per_ha(basal, net) if known else None,
        "qmd_cm": qmd_from_basal_area_cm(basal, diameters),
        "diameters": diameters,
        "mean_dbh_cm": mean(trees.dbh_cm[which]),
        "mean_height_m": mean(trees.height_m[which]),
        "mean_spacing_m": spacing_m(per) if per else None,
        **dict.fromkeys(COLUMNS[COLUMNS.index("stems_percent") : COLUMNS.index("basal_area_m2")]),
        **_species(trees, which),
    }


def _species(trees: BlockTrees, which: Bools) -> Row:
    counts = np.bincount(trees.species[which], minlength=len(trees.there.species_labels))
    order = np.argsort(-counts, kind="stable")[: int(np.count_nonzero(counts))].tolist()
    listed = [
        {
            "species": trees.there.species_labels[kind],
            "code": trees.there.species_names[kind],
            "stems": int(counts[kind]),
        }
        for kind in order
    ]
    said = [f"{one['species']} {one['stems']}" for one in listed[:NAMED]]
    rest = sum(int(counts[kind]) for kind in order[NAMED:])
    return {"species_mix": ", ".join(said + ([f"others {rest}"] if rest else [])), "species": listed}


def _covers(trees: BlockTrees, goes: Bools) -> list[tuple[float | None, float | None]]:
    """Crown cover before, of the taken crowns alone, and after; crowns of other blocks reach in as well. [%]."""
    region, crowned = trees.net, np.nan_to_num(trees.crown_m) > 0
    if trees.planned or float(region.area) <= 0 or (len(trees) and not crowned.any()):
        return [(None, None)] * 3
    whole = crown_map(trees.there)
    share, _, _ = whole.over(region, trees.scale)
    after = share
    if (goes & crowned).any():
        near = whole.reaching(region, trees.scale)
        stays = near[~np.isin(near, trees.places[goes])]
        there = trees.there
        left = CrownMap(there.x[stays], there.y[stays], there.crown_m[stays], there.crown_estimated[stays])
        after = left.over(region, trees.scale)[0]
    opened = share - after
    return [(100 * share, None), (100 * opened, 100 * opened), (100 * after, 100 * opened)]


def _ratios(before: Row, gone: Row, after: Row) -> Row:
    """Thinning ratios, for the row of what is taken."""

    def part(key: str, of: Row) -> float | None:
        one, other = gone[key], of[key]
        if not isinstance(one, int | float) or not isinstance(other, int | float) or not other:
            return None
        return float(one) / float(other)

    stems, basal = part("stems", before), part("basal_area_m2", before)
    return {
        "stems_percent": None if stems is None else 100 * stems,
        "basal_area_percent": None if basal is None else 100 * basal,
        "qmd_to_before": part("qmd_cm", before),
        "qmd_to_after": part("qmd_cm", after),
        "thinning_ratio": None if stems is None or not basal else stems / basal,
        "qmd_before_cm": before["qmd_cm"],
        "qmd_after_cm": after["qmd_cm"],
        "stems_before": before["stems"],
        "basal_area_before_m2": before["basal_area_m2"],
    }


def _conventions(trees: BlockTrees) -> tuple[str, ...]:
    forecast = ("Diameters are forecast.",) if is_ahead(trees.farm, trees.on) else ()
    return (
        *forecast,
        f"Diameters at {trees.there.breast_height_m:.1f} m, over bark; rates are per hectare of net area.",
        "Cover taken is the ground that only crowns of trees to be taken stand over.",
    )
