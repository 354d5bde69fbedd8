"""Figures of a block from its sample plots, under the same keys as those of a block whose trees are mapped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.sampling.counts import PlotCounts, how_many
from farmmap.figures.sampling.sampled import Interval, Sample
from farmmap.figures.stand import ON_THE_BOUND

Floats = NDArray[np.float64]
Row = dict[str, object]

MAPPED = "mapped trees"
"""What stands in the column ``counted`` of a block whose trees are on the map."""

SAMPLED_NOTE = (
    "Counted “… plots”: the block's figures are estimated from sample plots; ± is half of the 95 % interval of basal "
    "area, or of stems where no diameters were taken. Plots on a grid are treated as random."
)


def counted_words(sample: Sample) -> str:
    """Say on how many plots the figures of a block rest and how sure they are, such as ``12 plots, ±14 %``."""
    number, error = len(sample.places), sample.error_percent
    plots = how_many(number)
    return f"{plots}, ±{error:.0f} %" if np.isfinite(error) else f"{plots}, ± not known"


def beside_mapped(sample: Sample) -> Row:
    """Return what is told of plots in a block whose trees are mapped: the map's figures stand, these beside them."""
    return {
        "counted": f"{MAPPED}, {how_many(len(sample.places))}",
        "plots_stems_per_ha": None if sample.stems is None else sample.stems.mean,
        **interval_keys("plots_stems_per_ha", sample.stems),
    }


def plot_notes(rows: Sequence[Mapping[str, object]]) -> tuple[str, ...]:
    """Say what to know of the rows that rest on plots, and of those where plots tell of more trees than are mapped.

    Parameters
    ----------
    rows : sequence of mapping
        Rows of the table of blocks.
    """
    notes = [SAMPLED_NOTE] if any("plots" in row for row in rows) else []
    for row in rows:
        low, high, there = (
            row.get(f"{key}stems_per_ha{end}") for key, end in (("plots_", "_low"), ("plots_", "_high"), ("", ""))
        )
        if isinstance(low, float) and isinstance(high, float) and isinstance(there, float) and there < low:
            more = f"{low:.0f} to {high:.0f} stems/ha, more than the {there:.0f} on the map"
            notes.append(f"{row['name']}: its plots say {more}; see Plots.")
    return tuple(notes)


def sampled_row(sample: Sample, counts: PlotCounts, net_ha: float, class_cm: float) -> Row:
    """Return the figures of a sampled block.

    Parameters
    ----------
    sample : Sample
        What its plots say.
    counts : PlotCounts
        The farm's plots.
    net_ha : float
        Net area of the block. [ha]
    class_cm : float
        Width of a diameter class. [cm]
    """
    stems, basal = sample.stems, sample.basal_area
    lines = np.flatnonzero(np.isin(counts.trees.plot, sample.places))
    of = np.searchsorted(sample.places, counts.trees.plot[lines])
    per_ha = counts.trees.per_ha[lines] * sample.weights[of]
    dbh, height = counts.trees.dbh_cm[lines], counts.trees.height_m[lines]
    heights = int(counts.trees.trees[lines][np.isfinite(height)].sum())
    return {
        "stems": None if stems is None else round(stems.mean * net_ha),
        "stems_per_ha": None if stems is None else stems.mean,
        "basal_area_m2": None if basal is None else basal.mean * net_ha,
        "basal_area_m2_per_ha": None if basal is None else basal.mean,
        "qmd_cm": None if sample.qmd is None else sample.qmd.mean,
        "diameters": sample.with_dbh,
        "mean_dbh_cm": _mean(dbh, per_ha),
        "mean_height_m": _mean(height, per_ha),
        "heights": heights,
        "top_height_m": None,
        "top_trees": None,
        "top_heights": None,
        "measured": sample.with_dbh,
        "measured_percent": None,
        "species": _species(sample, counts, net_ha),
        "diameter_classes": _classes(dbh, per_ha, net_ha, class_cm),
        "counted": counted_words(sample),
        "plots": len(sample.places),
        **interval_keys("stems_per_ha", stems),
        **interval_keys("basal_area_m2_per_ha", basal),
        **interval_keys("qmd_cm", sample.qmd),
    }


def interval_keys(name: str, found: Interval | None) -> Mapping[str, float | None]:
    """Return the ends of the interval of a figure, under its key with ``_low`` and ``_high``."""
    ends = (None, None) if found is None or not np.isfinite(found.high) else (found.low, found.high)
    return dict(zip((f"{name}_low", f"{name}_high"), ends, strict=True))


def _mean(values: Floats, per_ha: Floats) -> float | None:
    known = np.isfinite(values) & np.isfinite(per_ha)
    together = float(per_ha[known].sum())
    return float((values[known] * per_ha[known]).sum() / together) if together > 0 else None


def _species(sample: Sample, counts: PlotCounts, net_ha: float) -> list[Row]:
    whole = sample.stems.mean if sample.stems is not None else 0.0
    return [
        {
            "species": counts.species_labels[kind],
            "code": counts.species_names[kind],
            "stems": None if stems is None else round(stems.mean * net_ha),
            "stems_per_ha": None if stems is None else stems.mean,
            "basal_area_m2_per_ha": None if sample.basal_area is None else basal.mean,
            "percent": 100.0 * stems.mean / whole if stems is not None and whole > 0 else None,
            **interval_keys("stems_per_ha", stems),
            **interval_keys("basal_area_m2_per_ha", basal if sample.basal_area is not None else None),
        }
        for kind, stems, basal in sample.by_species
    ]


def _classes(dbh_cm: Floats, per_ha: Floats, net_ha: float, class_cm: float) -> list[Row]:
    known = np.isfinite(dbh_cm) & np.isfinite(per_ha)
    if not known.any():
        return []
    place = np.floor(dbh_cm[known] / class_cm + ON_THE_BOUND).astype(np.int64)
    first = int(place.min())
    return [
        {
            "from_cm": (first + step) * class_cm,
            "to_cm": (first + step + 1) * class_cm,
            "stems": round(each * net_ha),
            "stems_per_ha": each,
        }
        for step, each in enumerate(np.bincount(place - first, per_ha[known]).tolist())
    ]
