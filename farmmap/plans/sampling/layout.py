"""Sample plots laid out on a block, as rows put into the farm by one edit that can be undone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.editing.proposed import Proposed, added_change, edit_of, removed_change
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import PLOTS
from farmmap.figures.areas import M2_PER_HA
from farmmap.figures.grounds import grounds
from farmmap.figures.sampling.counts import how_many, is_sized, plot_counts
from farmmap.figures.sampling.sampled import block_of_each_plot, part_of
from farmmap.figures.sampling.zones import CIRCLE, STRIP, PlotShape
from farmmap.plans.sampling.drawing import grid_points, shared_out, slices, uniform_points
from farmmap.plans.sampling.route import walking_order

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RANDOM, GRID, STRATIFIED = "random", "grid", "stratified"
DESIGNS = (RANDOM, GRID, STRATIFIED)
MOST_PLOTS = 2_000
MOST_PARTS = 26

NOT_SHIFTED = (
    "No plot is moved away from the edge, as trees at the edge would then be counted too seldom. Where the edge cuts a "
    "plot, count a tree twice if a walk from the middle to it and as far again ends outside."
)


@dataclass(frozen=True)
class Layout:
    """How plots are to be laid out.

    Attributes
    ----------
    design : str
        One of `DESIGNS`.
    plots : int or None
        How many; on a grid about how many. None where a spacing is given.
    spacing_m : float or None
        From one plot to the next on a grid; it goes before ``plots``. [m]
    bearing_deg : float
        How the rows of a grid run, or in which direction the parts of a block follow one another; nan for parts along
        its long way. [degrees from grid north]
    parts : int
        Into how many parts of equal area a single block is divided, where the design is stratified.
    by_spread : bool
        Whether blocks or parts get plots by area times spread between earlier plots, instead of by area alone.
    seed : int
        Where the chance begins; the same seed gives the same plots on the same ground.
    shape : PlotShape
        Of each plot.
    slope_deg : float
        Slope that is noted with each plot; nan for not known. [degrees]
    replace : bool
        Whether plots of the same blocks that were not measured yet make way.
    """

    design: str = RANDOM
    plots: int | None = None
    spacing_m: float | None = None
    bearing_deg: float = math.nan
    parts: int = 4
    by_spread: bool = False
    seed: int = 1
    shape: PlotShape = field(default_factory=PlotShape)
    slope_deg: float = math.nan
    replace: bool = False


@dataclass(frozen=True, eq=False)
class _Drawn:
    """Middles in one block, and the letter of the part that each lies in."""

    block: int
    middles: Floats
    letters: tuple[str, ...]


def plots_laid_out(farm: Farm, blocks: Sequence[int], layout: Layout) -> Proposed:
    """Propose sample plots on the net ground of blocks.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    blocks : sequence of int
        Ids of existing blocks. With several and a stratified design each block is a part of its own.
    layout : Layout
        How.

    Raises
    ------
    BadInput
        Something does not fit: no such block, no ground, too few or too many plots, no size.
    """
    _refuse(layout)
    chosen = _ground_of(farm, blocks)
    random = np.random.default_rng(layout.seed)
    drawn = _drawn(farm, chosen, layout, random)
    total = sum(len(one.middles) for one in drawn)
    if not total:
        raise BadInput("no plot falls into the block; take a smaller spacing, or another start (seed)")
    if total > MOST_PLOTS:
        raise BadInput(
            f"that would be {total:,} plots; more than {MOST_PLOTS:,} cannot be walked. Take a wider spacing"
        )
    gone = _making_way(farm, [block for block, *_ in chosen]) if layout.replace else np.empty(0, np.int64)
    _refuse_other_parts(farm, drawn, set(gone.tolist()))
    rows = _rows(farm, drawn, layout, set(gone.tolist()))
    changes: dict[str, Change] = {}
    if len(gone):
        removed = removed_change(farm, "plots", gone)
        changes["plots"] = Change(removed.before, rows)
    else:
        changes["plots"] = added_change(farm, "plots", rows)
    names = _listed([name for _, name, *_ in chosen])
    many = how_many(total, "sample plot")
    edit = edit_of(f"Lay out {many} in {names}", changes)
    return Proposed(edit, (*_notes(farm, drawn, layout, len(gone)), *_too_narrow(chosen, layout.shape), NOT_SHIFTED))


_Ground = tuple[int, str, shapely.Geometry, float, float]
"""Id, name, net ground, net area [ha] and grid metres for a metre, of one block."""


def _ground_of(farm: Farm, blocks: Sequence[int]) -> list[_Ground]:
    ground = grounds(farm)
    if not ground.existing.any():
        raise BadInput("the farm has no block yet to lay plots out in; draw one or bring it in first")
    if not len(blocks):
        raise BadInput("choose the block to lay plots out in")
    out: list[_Ground] = []
    for block in dict.fromkeys(int(one) for one in blocks):
        place = int(np.searchsorted(ground.ids, block))
        if place >= len(ground.ids) or ground.ids[place] != block:
            raise BadInput(f"there is no block with the id {block}")
        name = str(farm.blocks["name"].loc[block]) or f"block {block}"
        if not ground.existing[place]:
            raise BadInput(f"{name} is only planned; sample plots need trees that stand")
        if ground.net_ha[place] <= 0:
            raise BadInput(f"{name} has no net ground to lay plots out on")
        out.append((block, name, ground.net[place], float(ground.net_ha[place]), float(ground.scales[place])))
    return out


def _refuse(layout: Layout) -> None:
    if layout.design not in DESIGNS:
        raise BadInput(f"plots are laid out {', '.join(DESIGNS)}, not '{layout.design}'")
    for name in ("radius_m", "length_m", "width_m", "baf_m2"):
        column, value = PLOTS.column(name), getattr(layout.shape, name)
        if math.isfinite(value) and not (column.least or 0) <= value <= (column.most or math.inf):
            raise BadInput(
                f"{column.words}: {value:g} {column.unit}; {column.least:g} to {column.most:g} is believable"
            )
    if not is_sized(layout.shape):
        sizes = {"circle": "a radius", "strip": "a length and a width"}
        raise BadInput(f"a plot of the kind {layout.shape.kind} needs {sizes.get(layout.shape.kind, 'a factor')}")
    slope = PLOTS.column("slope_deg")
    if math.isfinite(layout.slope_deg) and not 0 <= layout.slope_deg <= (slope.most or 90):
        raise BadInput(f"a slope of {layout.slope_deg:g}° is not believable; 0 to {slope.most:g}° is")
    if layout.design == GRID and layout.spacing_m is not None:
        if not 1.0 <= layout.spacing_m <= 5_000.0:
            raise BadInput(f"plots on a grid lie 1 to 5000 m apart, not {layout.spacing_m:g} m")
    elif layout.plots is None or not 1 <= layout.plots <= MOST_PLOTS:
        raise BadInput(f"say how many plots, 1 to {MOST_PLOTS}")
    if layout.design == STRATIFIED and not 1 <= layout.parts <= MOST_PARTS:
        raise BadInput(f"a block is divided into 2 to {MOST_PARTS} parts, not {layout.parts}")


def _drawn(farm: Farm, chosen: list[_Ground], layout: Layout, random: np.random.Generator) -> list[_Drawn]:
    if layout.design == GRID:
        return [_on_grid(one, chosen, layout, random) for one in chosen]
    assert layout.plots is not None
    if layout.design == STRATIFIED and len(chosen) == 1:
        return [_in_parts(farm, chosen[0], layout, random)]
    least = 2 if layout.design == STRATIFIED else min(1, layout.plots // len(chosen))
    spreads = _spreads(farm, [block for block, *_ in chosen]) if layout.by_spread else None
    shares = shared_out(layout.plots, [area for *_, area, _ in chosen], spreads, least)
    return [
        _in_order(block, uniform_points(region, count, random))
        for (block, _, region, _, _), count in zip(chosen, shares.tolist(), strict=True)
        if count
    ]


def _on_grid(one: _Ground, chosen: list[_Ground], layout: Layout, random: np.random.Generator) -> _Drawn:
    block, _, region, _, scale = one
    spacing = layout.spacing_m
    if spacing is None:
        assert layout.plots is not None
        spacing = math.sqrt(sum(area for *_, area, _ in chosen) * M2_PER_HA / layout.plots)
    bearing = 0.0 if math.isnan(layout.bearing_deg) else layout.bearing_deg
    points = grid_points(region, spacing * scale, bearing, random)
    return _Drawn(block, points, ("",) * len(points))


def _in_parts(farm: Farm, one: _Ground, layout: Layout, random: np.random.Generator) -> _Drawn:
    block, name, region, _, _ = one
    if layout.parts < 2:
        raise BadInput(f"{name}: plots in parts need 2 parts or more")
    assert layout.plots is not None
    bearing = None if math.isnan(layout.bearing_deg) else layout.bearing_deg
    parts = slices(region, layout.parts, bearing)
    spreads = _spreads_of_parts(farm, block, parts) if layout.by_spread else None
    shares = shared_out(layout.plots, np.ones(len(parts)), spreads)
    found = [uniform_points(part, count, random) for part, count in zip(parts, shares.tolist(), strict=True)]
    ordered = [points[walking_order(points)] for points in found]
    letters = [chr(ord("A") + place) for place, points in enumerate(found) for _ in points]
    return _Drawn(block, np.concatenate(ordered), tuple(letters))


def _in_order(block: int, points: Floats) -> _Drawn:
    return _Drawn(block, points[walking_order(points)], ("",) * len(points))


def _spreads(farm: Farm, blocks: Sequence[int]) -> Floats:
    """Return the standard deviation between the measured plots of each block."""
    counts, of = plot_counts(farm), block_of_each_plot(farm)
    return _spread_of([np.flatnonzero((of == block) & counts.counted & counts.sized) for block in blocks], farm)


def _spreads_of_parts(farm: Farm, block: int, parts: Sequence[shapely.Geometry]) -> Floats:
    counts, of = plot_counts(farm), block_of_each_plot(farm)
    mine = (of == block) & counts.counted & counts.sized
    inside = [shapely.contains_xy(part, counts.middles[:, 0], counts.middles[:, 1]) for part in parts]
    return _spread_of([np.flatnonzero(mine & here) for here in inside], farm)


def _spread_of(groups: Sequence[Ints], farm: Farm) -> Floats:
    counts = plot_counts(farm)
    if any(len(group) < 2 for group in groups):
        raise BadInput(
            "to share plots out by spread, two measured plots or more are needed in each part; share them out by area"
        )
    values = counts.basal_area_m2 if (counts.basal_area_m2 > 0).any() else counts.stems
    return np.array([float(np.std(values[group], ddof=1)) for group in groups])


def _making_way(farm: Farm, blocks: Sequence[int]) -> Ints:
    """Return the plots of blocks that were not measured yet."""
    counts, of = plot_counts(farm), block_of_each_plot(farm)
    return np.asarray(counts.ids[np.isin(of, blocks) & ~counts.counted], np.int64)


def _rows(farm: Farm, drawn: list[_Drawn], layout: Layout, gone: set[int]) -> object:
    names: list[str] = []
    blocks: list[str] = []
    for one in drawn:
        name = str(farm.blocks["name"].loc[one.block])
        taken = _taken(farm, one.block, gone)
        next_number: dict[str, int] = {}
        for letter in one.letters:
            number = next_number.get(letter, 1)
            while f"{letter}{number}" in taken:
                number += 1
            names.append(f"{letter}{number}")
            next_number[letter] = number + 1
        blocks += [name] * len(one.letters)
    middles = np.concatenate([one.middles for one in drawn])
    x, y = _begins(
        middles,
        layout.shape,
        np.repeat([_scale(farm, one.block) for one in drawn], [len(one.middles) for one in drawn]),
    )
    n = len(names)
    shape = layout.shape
    columns = {
        "name": names,
        "block": blocks,
        "design": [layout.design] * n,
        "shape": [shape.kind] * n,
        "radius_m": np.full(n, shape.radius_m),
        "length_m": np.full(n, shape.length_m),
        "width_m": np.full(n, shape.width_m),
        "bearing_deg": np.full(n, shape.bearing_deg % 360.0 if shape.kind == STRIP else np.nan),
        "baf_m2": np.full(n, shape.baf_m2),
        "slope_deg": np.full(n, layout.slope_deg),
        "note": [_how(layout)] * n,
        "x": x,
        "y": y,
    }
    return shaped(PLOTS, columns, next_ids(farm.plots, n), farm.grid)


def _taken(farm: Farm, block: int, gone: set[int]) -> set[str]:
    """Names that plots of a block have and keep."""
    of = block_of_each_plot(farm)
    return {
        str(name)
        for one, name, where in zip(farm.plots.index.tolist(), farm.plots["name"], of.tolist(), strict=True)
        if where == block and one not in gone
    }


def _scale(farm: Farm, block: int) -> float:
    ground = grounds(farm)
    return float(ground.scales[int(np.searchsorted(ground.ids, block))])


def _begins(middles: Floats, shape: PlotShape, scale: Floats) -> tuple[Floats, Floats]:
    """Where plots are kept: their middles, or where a strip begins."""
    if shape.kind != STRIP:
        return middles[:, 0], middles[:, 1]
    half, turn = shape.length_m * scale / 2, math.radians(shape.bearing_deg)
    return middles[:, 0] - half * math.sin(turn), middles[:, 1] - half * math.cos(turn)


def _how(layout: Layout) -> str:
    """Say how the plots came to lie where they do, so that it can be done again."""
    how = f"seed {layout.seed}"
    if layout.design == GRID and layout.spacing_m is not None:
        how += f", every {layout.spacing_m:g} m"
    return how


def _refuse_other_parts(farm: Farm, drawn: list[_Drawn], gone: set[int]) -> None:
    """Say that a block is divided otherwise already: its letters would then stand for parts of two kinds."""
    counts, of = plot_counts(farm), block_of_each_plot(farm)
    for one in drawn:
        mine = [place for place in np.flatnonzero(of == one.block).tolist() if int(counts.ids[place]) not in gone]
        kept, new = {part_of(counts, place) for place in mine} - {""}, set(one.letters) - {""}
        if kept and new and kept != new:
            raise BadInput(
                f"{farm.blocks['name'].loc[one.block]} has plots in parts {', '.join(sorted(kept))} already; lay plots "
                f"out in {len(kept)} parts again, or take those away first"
            )


def _too_narrow(chosen: list[_Ground], shape: PlotShape) -> list[str]:
    """Say in which blocks no whole plot fits in, so that a second count of edge trees does not make up for it."""
    short = shape.radius_m if shape.kind == CIRCLE else min(shape.length_m, shape.width_m) / 2
    if not math.isfinite(short):
        return []
    names = [name for _, name, net, _, scale in chosen if net.buffer(-short * scale).is_empty]
    if not names:
        return []
    words = "Trees are then counted too seldom even if those at the edge count twice; take smaller plots."
    return [f"No whole plot fits into {_listed(names)}. {words}"]


def _notes(farm: Farm, drawn: list[_Drawn], layout: Layout, gone: int) -> tuple[str, ...]:
    notes = []
    if layout.design == GRID and layout.spacing_m is None:
        total = sum(len(one.middles) for one in drawn)
        if total != layout.plots:
            notes.append(f"The grid begins at random: {how_many(total)}, about the number asked for.")
    if gone:
        notes.append(f"{how_many(gone)} not measured yet will make way.")
    for one in drawn:
        if len(one.middles) == 1:
            name = farm.blocks["name"].loc[one.block]
            notes.append(f"{name}: one plot tells nothing of its uncertainty; two are the least.")
    return tuple(notes)


def _listed(names: Sequence[str]) -> str:
    return (
        names[0]
        if len(names) == 1
        else f"{', '.join(names[:-1])} and {names[-1]}"
        if len(names) < 4
        else (f"{len(names)} blocks")
    )
