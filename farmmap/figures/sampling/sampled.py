"""What the sample plots of each block say of it on a day."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of
from farmmap.figures.grounds import grounds
from farmmap.figures.membership import NO_BLOCK, block_of_points
from farmmap.figures.remembered import Remembered
from farmmap.figures.sampling.counts import PlotCounts, plot_counts
from farmmap.figures.sampling.estimators import Estimate, plots_needed, qmd_estimate, ratio, simple, stratified

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STRATIFIED = "stratified"
_PART = re.compile(r"([A-Z]+) ?\d+")


@dataclass(frozen=True)
class Interval:
    """One figure from plots.

    Attributes
    ----------
    mean, low, high : float
        The estimate and its 95 % interval, which does not go below 0; nan where nothing can be said.
    se, df : float
        Standard error and its degrees of freedom.
    needed : int or None
        Plots that would bring it to ±10 %, in all; None where nothing can be said.
    """

    mean: float
    low: float
    high: float
    se: float
    df: float
    needed: int | None = None

    @property
    def error_percent(self) -> float:
        """Half of the 95 % interval in per cent of the mean, before it is cut off at 0."""
        return 100.0 * (self.high - self.mean) / self.mean if self.mean > 0 else float("nan")


@dataclass(frozen=True, eq=False)
class Sample:
    """What the plots of one block say.

    Attributes
    ----------
    places : ndarray of int64, shape (p,)
        Places of its measured plots among the farm's plots.
    waiting : int
        Plots that are laid out but not measured by the day.
    weights : ndarray, shape (p,)
        What the mean over the block takes of each plot; for plots without cut edges they add up to 1.
    parts : int
        Parts of the block that the plots were drawn in; 1 if it was not divided.
    stems, basal_area, qmd : Interval or None
        None where the plots do not tell. [1/ha, m²/ha, cm]
    by_species : tuple of (int, Interval or None, Interval)
        Place of the species in the farm's plot counts, its stems and basal area, the commonest first.
    trees, with_dbh : int
        Trees that were counted, and those of them with a diameter.
    """

    places: Ints
    waiting: int
    weights: Floats
    parts: int
    stems: Interval | None
    basal_area: Interval | None
    qmd: Interval | None
    by_species: tuple[tuple[int, Interval | None, Interval], ...]
    trees: int
    with_dbh: int

    @property
    def error_percent(self) -> float:
        """Half of the 95 % interval of basal area, or of stems without it, in per cent; nan if nothing can be said."""
        main = self.basal_area or self.stems
        return main.error_percent if main is not None else float("nan")


_SAMPLES: Remembered[dict[int, Sample]] = Remembered(6)


def block_of_each_plot(farm: Farm) -> Ints:
    """Return the block that each plot samples, its id or -1, shape (n,).

    That is the block of the name that the plot carries, the first if several have it and it lies in none of them; if
    there is none of that name, the one that it lies in.
    Planned blocks are sampled by none.
    """
    ground, counts = grounds(farm), plot_counts(farm)
    here = ground.existing
    lies = block_of_points(ground.ids[here], ground.outlines[here], counts.middles[:, 0], counts.middles[:, 1])
    ids: dict[str, list[int]] = {}
    for block, name in zip(ground.ids[here].tolist(), columns_of(farm.blocks)["name"][here], strict=True):
        ids.setdefault(str(name), []).append(block)
    out = lies.astype(np.int64)
    for place, name in enumerate(columns_of(farm.plots)["block"]):
        called = ids.get(str(name), []) if name else []
        if called and out[place] not in called:
            out[place] = called[0]
    return out


def samples(farm: Farm, on: dt.date) -> dict[int, Sample]:
    """Return what the plots of each block say on a day, by the block's id; only blocks with plots are in it."""
    if not len(farm.plots):
        return {}
    tables = (farm.plots, farm.plot_trees, farm.species, farm.blocks)
    return _SAMPLES.get(tables, (farm.grid, on), lambda: _worked_out(farm, on))


def resampled(before: dict[int, Sample], after: dict[int, Sample]) -> list[int]:
    """Return the blocks of which plots say something else than before; plots that were left alone give the same."""
    return [block for block in before.keys() | after.keys() if before.get(block) is not after.get(block)]


def _worked_out(farm: Farm, on: dt.date) -> dict[int, Sample]:
    counts, blocks = plot_counts(farm), block_of_each_plot(farm)
    measured = counts.by_day(on)
    out: dict[int, Sample] = {}
    for block in np.unique(blocks[blocks != NO_BLOCK]).tolist():
        here = np.flatnonzero(blocks == block)
        key = (tuple(here.tolist()), tuple(measured[here].tolist()))
        found = counts.kept.get(key)
        if found is None:
            found = sample_of(counts, here[measured[here]], here)
            counts.kept[key] = found
        out[block] = found
    return out


def sample_of(counts: PlotCounts, places: Ints, laid_out: Ints, inside: Floats | None = None) -> Sample:
    """Work out what some plots say of one block.

    Parameters
    ----------
    counts : PlotCounts
        The farm's plots.
    places : ndarray of int64, shape (p,)
        Those that were measured.
    laid_out : ndarray of int64
        All plots of the block, measured or not.
    inside : ndarray, shape (p,), optional
        Share of each plot's ground inside the block, where trees were counted there only and none was doubled: then
        sums are divided by the ground that was looked at (`farmmap.figures.sampling.estimators.ratio`).
    """
    strata, parts = _strata(counts, places, laid_out) if inside is None else (None, 1)
    if inside is not None:
        weights = np.full(len(places), 1.0 / inside.sum() if inside.sum() > 0 else 0.0)
    elif strata is None:
        weights = np.full(len(places), 1.0 / max(len(places), 1))
    else:
        weights = 1.0 / (parts * np.bincount(strata, minlength=parts)[strata])

    told_of = len(places) > 0 and weights.sum() > 0  # else nothing is measured, or none of it on the block's own ground

    def told(values: Floats) -> Interval | None:
        if not told_of or not np.isfinite(values).all():
            return None
        if inside is not None:
            return _interval(ratio(values, inside), len(places))
        if strata is not None:
            return _interval(stratified(values, strata, np.ones(parts)), len(places), parts)
        return _interval(simple(values), len(places))

    stems, basal = counts.stems[places], counts.basal_area_m2[places]
    lines = np.flatnonzero(np.isin(counts.trees.plot, places))
    trees = counts.trees.trees[lines]
    with_dbh = int(trees[np.isfinite(counts.trees.dbh_cm[lines])].sum())
    has_basal = with_dbh > 0 or bool(counts.trees.by_angle[lines].any()) or not len(lines)
    qmd = None
    if told_of and with_dbh == int(trees.sum()) > 0 and np.isfinite(stems).all() and stems @ weights > 0:
        qmd = _interval(qmd_estimate(stems, basal), 0)
        if strata is not None:  # the ratio of two means over parts; its interval is left to those of both
            each = [float(values @ weights) for values in (stems, basal)]
            middle = float(np.sqrt(each[1] / each[0] * 40_000 / np.pi))
            qmd = replace(qmd, mean=middle, low=np.nan, high=np.nan, se=np.nan)
    return Sample(
        places,
        len(laid_out) - len(places),
        weights,
        parts,
        told(stems),
        told(basal) if has_basal else None,
        qmd,
        _by_species(counts, places, lines, told) if told_of else (),
        int(trees.sum()),
        with_dbh,
    )


def _by_species(
    counts: PlotCounts, places: Ints, lines: Ints, told: object
) -> tuple[tuple[int, Interval | None, Interval], ...]:
    assert callable(told)
    trees = counts.trees
    plot = np.searchsorted(places, trees.plot[lines])
    found = []
    for kind in np.unique(trees.species[lines]).tolist():
        mine = trees.species[lines] == kind
        stems = np.bincount(plot[mine], trees.per_ha[lines][mine], len(places))
        area = np.bincount(plot[mine], trees.basal_area_m2[lines][mine], len(places))
        found.append((kind, told(stems), told(area)))
    return tuple(sorted(found, key=lambda one: -(one[1].mean if one[1] is not None else one[2].mean)))


def _strata(counts: PlotCounts, places: Ints, laid_out: Ints) -> tuple[Ints | None, int]:
    """Part of each plot by the letters that its name begins with, and how many parts there are; None if not divided."""
    letters = [part_of(counts, place) for place in laid_out.tolist()]
    names = sorted({letter for letter in letters if letter})
    if len(names) < 2 or not all(letters):
        return None, 1
    of = {place: names.index(letter) for place, letter in zip(laid_out.tolist(), letters, strict=True)}
    strata = np.array([of[place] for place in places.tolist()], np.int64)
    if len(np.unique(strata)) < len(names):
        return None, 1
    return strata, len(names)


def part_of(counts: PlotCounts, place: int) -> str:
    """Return the letters of the part of its block that a plot was drawn in, "" if the block was not divided."""
    found = _PART.fullmatch(counts.names[place]) if counts.designs[place] == STRATIFIED else None
    return found[1] if found else ""


def _interval(found: Estimate, plots: int, parts: int = 1) -> Interval:
    mean, se = float(found.mean), float(found.se)
    if mean == 0:  # plots without a tree are alike, but no proof that none grows there
        return Interval(mean, np.nan, np.nan, np.nan, float(found.df))
    needed = plots_needed(mean, se, plots, parts) if plots else None
    return Interval(mean, max(float(found.low), 0.0) if np.isfinite(found.low) else np.nan, float(found.high), se,
                    float(found.df), needed)  # fmt: skip


def all_together(each: Sequence[tuple[float, Sample]], counts: PlotCounts) -> tuple[Interval | None, Interval | None]:
    """Stems and basal area of several sampled blocks together, each block a part by its net area.

    Parameters
    ----------
    each : sequence of (float, Sample)
        Net area of each block and what its plots say. [ha]
    counts : PlotCounts
        The farm's plots.
    """
    places = np.concatenate([sample.places for _, sample in each]) if each else np.empty(0, np.int64)
    strata = np.repeat(np.arange(len(each)), [len(sample.places) for _, sample in each])
    areas = [area for area, _ in each]
    out: list[Interval | None] = []
    for values in (counts.stems[places], counts.basal_area_m2[places]):
        known = len(each) > 0 and all(len(sample.places) for _, sample in each) and np.isfinite(values).all()
        out.append(_interval(stratified(values, strata, areas), len(places), len(each)) if known else None)
    return out[0], out[1]
