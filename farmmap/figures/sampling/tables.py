"""Tables of what sample plots say: a row for each sampled block, and a row for each plot."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of
from farmmap.figures.areas import M2_PER_HA
from farmmap.figures.grounds import grounds
from farmmap.figures.result import FigureTable
from farmmap.figures.sampling.block_rows import interval_keys, sampled_row
from farmmap.figures.sampling.counts import PlotCounts, how_many, plot_counts, size_words
from farmmap.figures.sampling.sampled import (
    Interval,
    Sample,
    all_together,
    block_of_each_plot,
    part_of,
    sample_of,
    samples,
)
from farmmap.figures.sampling.tally import shares_inside
from farmmap.figures.sampling.zones import ANGLE_COUNT
from farmmap.figures.standing import the_day

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Row = dict[str, object]

AS_COUNTED, INSIDE_ONLY = "as counted", "inside only"
EDGES = (AS_COUNTED, INSIDE_ONLY)
"""How trees at the edge were counted: with the weights that the counts carry; or only those inside, once each."""

COLUMNS = (
    "name",
    "design",
    "net_area_ha",
    "plots",
    "plots_waiting",
    "trees_counted",
    "stems_per_ha",
    "stems_per_ha_low",
    "stems_per_ha_high",
    "stems_per_ha_se",
    "basal_area_m2_per_ha",
    "basal_area_m2_per_ha_low",
    "basal_area_m2_per_ha_high",
    "basal_area_m2_per_ha_se",
    "qmd_cm",
    "qmd_cm_low",
    "qmd_cm_high",
    "error_percent",
    "plots_needed",
    "plots_more",
)
BRIEF = (
    "name",
    "plots",
    "plots_waiting",
    "stems_per_ha",
    "stems_per_ha_low",
    "stems_per_ha_high",
    "basal_area_m2_per_ha",
    "basal_area_m2_per_ha_low",
    "basal_area_m2_per_ha_high",
    "qmd_cm",
    "error_percent",
    "plots_more",
)
PLOT_COLUMNS = (
    "plot",
    "block",
    "plot_size",
    "design",
    "x",
    "y",
    "inside_percent",
    "measured_on",
    "trees_counted",
    "stems_per_ha",
    "basal_area_m2_per_ha",
)
OUTSIDE_M = 10.0
"""A middle so far outside its block is more than the tape's or the GPS's error. Common practice. [m]"""
MOST_NAMED = 5
"""Plots that are named in a note."""
TOGETHER = "All sampled blocks"


def plot_figures(
    farm: Farm, on: dt.date | None = None, blocks: Sequence[int] | None = None, edge: str = AS_COUNTED
) -> FigureTable:
    """Return what the sample plots say, a row for each sampled block, and one for all together if there are several.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; plots measured later do not count. None for the newest day on which a tree or plot was measured.
    blocks : sequence of int, optional
        Ids of the blocks that are asked for; all that have plots if not given.
    edge : str
        One of `EDGES`.

    Raises
    ------
    BadInput
        ``edge`` is neither.
    """
    if edge not in EDGES:
        raise BadInput(f"trees at the edge are counted {' or '.join(EDGES)}, not '{edge}'")
    day = the_day(farm, on)
    ground, counts = grounds(farm), plot_counts(farm)
    found = samples(farm, day)
    wanted = [block for block in found if blocks is None or block in blocks]
    if edge == INSIDE_ONLY:
        of = block_of_each_plot(farm)
        found = {
            block: sample_of(
                counts,
                found[block].places,
                np.flatnonzero(of == block),
                inside_shares(farm, counts, found[block].places, block),
            )
            for block in wanted
        }
    areas = dict(zip(ground.ids.tolist(), ground.net_ha.tolist(), strict=True))
    names = dict(zip(ground.ids.tolist(), map(str, columns_of(farm.blocks)["name"]), strict=True))
    rows = [_row(farm, counts, names[block], areas[block], found[block]) for block in wanted]
    ids = list(wanted)
    measured = [(areas[block], found[block]) for block in wanted if len(found[block].places)]
    if len(measured) > 1 and edge == AS_COUNTED:
        rows.append(_together(measured, counts))
        ids.append(0)
    without = [name for block, name in names.items() if blocks is not None and block in blocks and block not in found]
    notes = (
        *_notes(farm, day, counts, {names[block]: found[block] for block in wanted}),
        *_place_notes(farm, counts, {block: found[block] for block in wanted}),
        *_edge_notes(farm, counts, {block: found[block] for block in wanted}, edge),
        *([f"No sample plots are laid out in {', '.join(without)}."] if without else []),
    )
    title = f"Sample plots of {farm.settings.name}, {day.isoformat()}"
    return FigureTable("plots", title, COLUMNS, tuple(rows), tuple(ids), notes, BRIEF)


def plot_list(farm: Farm, on: dt.date | None = None, blocks: Sequence[int] | None = None) -> FigureTable:
    """Return the plots themselves, a row each: where they are (strips: where they begin), how large, what was counted.

    Parameters
    ----------
    farm, on, blocks
        As for `plot_figures`.
    """
    day = the_day(farm, on)
    counts, of, ground = plot_counts(farm), block_of_each_plot(farm), grounds(farm)
    names = dict(zip(ground.ids.tolist(), map(str, columns_of(farm.blocks)["name"]), strict=True))
    measured = counts.by_day(day)
    trees = np.bincount(counts.trees.plot, counts.trees.trees, len(counts.ids))
    x, y = (columns_of(farm.plots)[axis].tolist() for axis in "xy")
    inside = np.full(len(counts.ids), np.nan)
    for block in np.unique(of[of >= 0]).tolist():
        here = np.flatnonzero(of == block)
        inside[here] = 100.0 * inside_shares(farm, counts, here, block)
    inside[[shape.kind == ANGLE_COUNT for shape in counts.shapes]] = np.nan
    rows = [
        {
            "plot": counts.names[place],
            "block": names.get(int(of[place]), ""),
            "plot_size": size_words(counts.shapes[place]),
            "design": counts.designs[place],
            "x": x[place],
            "y": y[place],
            "inside_percent": _known(inside[place]),
            "measured_on": None if np.isnat(counts.day[place]) else str(counts.day[place]),
            "trees_counted": int(trees[place]) if measured[place] else None,
            "stems_per_ha": _known(counts.stems[place]) if measured[place] else None,
            "basal_area_m2_per_ha": _known(counts.basal_area_m2[place]) if measured[place] else None,
        }
        for place in range(len(counts.ids))
        if blocks is None or of[place] in blocks
    ]
    ids = [int(one) for one, block in zip(counts.ids, of, strict=True) if blocks is None or block in blocks]
    return FigureTable("plot list", f"Plots of {farm.settings.name}", PLOT_COLUMNS, tuple(rows), tuple(ids))


def inside_shares(farm: Farm, counts: PlotCounts, places: Ints, block: int) -> Floats:
    """Share of the ground of each of some plots that is net ground of a block, shape (p,); 1 for an angle count."""
    ground = grounds(farm)
    at = int(np.searchsorted(ground.ids, block))
    region, scale = ground.net[at], float(ground.scales[at])
    out = np.ones(len(places))
    for number, place in enumerate(places.tolist()):
        if counts.sized[place]:
            out[number] = shares_inside(counts.middles[place], counts.shapes[place], region, scale=scale)[0]
    return out


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _row(farm: Farm, counts: PlotCounts, name: str, net_ha: float, sample: Sample) -> Row:
    figures = sampled_row(sample, counts, net_ha, farm.settings.class_cm)
    kept = ("species", "diameter_classes", "mean_dbh_cm", "mean_height_m", "counted")
    return {
        "name": name,
        "design": " and ".join(sorted({counts.designs[place] for place in sample.places.tolist()})),
        "net_area_ha": net_ha,
        "plots": len(sample.places),
        "plots_waiting": sample.waiting,
        "trees_counted": sample.trees,
        **_figure("stems_per_ha", sample.stems),
        **_figure("basal_area_m2_per_ha", sample.basal_area),
        **_figure("qmd_cm", sample.qmd),
        **_error(sample.basal_area or sample.stems, len(sample.places)),
        **{key: figures[key] for key in kept},
    }


def _together(measured: Sequence[tuple[float, Sample]], counts: PlotCounts) -> Row:
    stems, basal = all_together(measured, counts)
    plots = sum(len(sample.places) for _, sample in measured)
    return {
        "name": TOGETHER,
        "design": "each block a part",
        "net_area_ha": sum(area for area, _ in measured),
        "plots": plots,
        "plots_waiting": sum(sample.waiting for _, sample in measured),
        "trees_counted": sum(sample.trees for _, sample in measured),
        **_figure("stems_per_ha", stems),
        **_figure("basal_area_m2_per_ha", basal),
        **_figure("qmd_cm", None),
        **_error(basal or stems, plots),
    }


def _figure(name: str, found: Interval | None) -> Row:
    return {
        name: None if found is None else _known(found.mean),
        **interval_keys(name, found),
        f"{name}_se": None if found is None else _known(found.se),
    }


def _error(main: Interval | None, plots: int) -> Row:
    needed = None if main is None else main.needed
    return {
        "error_percent": None if main is None else _known(main.error_percent),
        "plots_needed": needed,
        "plots_more": None if needed is None else max(needed - plots, 0),
    }


def _notes(farm: Farm, day: dt.date, counts: PlotCounts, found: dict[str, Sample]) -> tuple[str, ...]:
    """Say what the figures rest on, and what to look at, for blocks by their names."""
    places = np.concatenate([np.empty(0, np.int64), *(sample.places for sample in found.values())]).astype(np.int64)
    notes = [
        f"Plots measured on or before {day.isoformat()}; 95 % intervals with Student's t.",
        f"Diameters at {farm.settings.breast_height_m:.1f} m (breast height), over bark; areas and plots on the level.",
    ]
    designs = {counts.designs[place] for place in places.tolist()}
    if "grid" in designs:
        notes.append("Plots on a grid are treated as random; their intervals are usually too wide.")
    if "by hand" in designs:
        notes.append(
            "Plots placed by hand are treated as random; if they were chosen for what grows there, they mislead."
        )
    for name, sample in found.items():
        notes += _sample_notes(name, sample, counts)
    late = int((counts.counted & (counts.day > np.datetime64(day, "D"))).sum())
    if late:
        notes.append(f"{how_many(late)} measured after {day.isoformat()}, left out; look at the day if that is wrong.")
    undated = int(np.isnat(counts.day[places]).sum())
    if undated:
        notes.append(f"{how_many(undated)} with trees but no day on which they were measured; they count on any day.")
    lost = int((counts.counted & (block_of_each_plot(farm) < 0)).sum())
    if lost:
        notes.append(f"{how_many(lost)} in no block, left out; give them the name of their block.")
    unsized = int((counts.counted & ~counts.sized).sum())
    if unsized:
        notes.append(f"{how_many(unsized)} without a radius, size or factor above 0, left out; give it to them.")
    if counts.left_out:
        notes.append(
            f"{how_many(counts.left_out, 'line')} of counted trees left out, as fewer than one tree or a negative "
            "count is written there; mend it."
        )
    return tuple(notes)


def _sample_notes(name: str, sample: Sample, counts: PlotCounts) -> list[str]:
    """Say what to look at in what the plots of one block say."""
    notes = []
    main = sample.basal_area or sample.stems
    if main is not None and main.mean > 0 and not np.isfinite(main.se):
        where = "in each of its parts" if sample.parts > 1 else "in it"
        notes.append(f"{name}: not enough to say how sure this is; measure at least two plots {where}.")
    if len(sample.places) and not sample.trees:
        notes.append(f"{name}: no tree stood in any of its plots, which is no proof that none grows there.")
    if sample.parts == 1 and any(part_of(counts, place) for place in sample.places.tolist()):
        notes.append(
            f"{name}: its plots were laid out in parts, but are treated as random over the whole block: a part is not "
            "measured, other plots lie among them, or only trees inside were counted."
        )
    lines = np.isin(counts.trees.plot, sample.places) & np.isnan(counts.trees.dbh_cm)
    for by_angle, words in (
        (False, "without a diameter; basal area leaves them out, so it is too low."),
        (True, "in an angle count without a diameter, so stems/ha cannot be told."),
    ):
        missing = int(counts.trees.trees[lines & (counts.trees.by_angle == by_angle)].sum())
        if missing and (by_angle or sample.basal_area is not None):
            notes.append(f"{name}: {how_many(missing, 'tree')} counted {words}")
    return notes


def _place_notes(farm: Farm, counts: PlotCounts, found: dict[int, Sample]) -> list[str]:
    """Say which plots lie outside the block that they name, or cannot be as large as is written."""
    ground, notes = grounds(farm), []
    for block, sample in found.items():
        at = int(np.searchsorted(ground.ids, block))
        name = str(farm.blocks["name"].loc[block]) or f"block {block}"
        middles = counts.middles[sample.places]
        off = shapely.distance(ground.outlines[at], shapely.points(middles)) > OUTSIDE_M * float(ground.scales[at])
        if off.any():
            notes.append(
                f"{how_many(int(off.sum()))} of {name} with the middle outside it, counted as if inside; mend the "
                "place, or the name of the block."
            )
        whole_m2 = float(ground.net_ha[at]) * M2_PER_HA
        wide = [counts.names[place] for place in sample.places.tolist() if counts.shapes[place].area_m2 > whole_m2]
        if wide:
            notes.append(
                f"{name}: the block is smaller than {how_many(len(wide))} ({', '.join(wide[:MOST_NAMED])}), so the "
                "figures cannot be right; look at the size of the plots."
            )
    return notes


def _edge_notes(farm: Farm, counts: PlotCounts, found: dict[int, Sample], edge: str) -> list[str]:
    if edge == INSIDE_ONLY:
        notes = ["Trees inside the block are taken to count once each, and sums are divided by the ground inside."]
        if any(counts.shapes[place].kind == ANGLE_COUNT for one in found.values() for place in one.places.tolist()):
            notes.append("An angle count has no ground of its own, so its edge is not corrected this way.")
        return notes
    cut = 0
    for block, sample in found.items():
        if len(sample.places) and not counts.edge_noted[sample.places].any():
            cut += int((inside_shares(farm, counts, sample.places, block) < 0.995).sum())
    if cut:
        words = (
            f"The edge cuts {how_many(cut)}, and no tree of their blocks counts twice. If only trees inside were "
            f"counted, choose edges “{INSIDE_ONLY}”; otherwise the estimate is too low."
        )
        return [words]
    return []
