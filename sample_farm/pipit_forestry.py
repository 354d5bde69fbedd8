"""What the grower of Pipit Downs wrote down to prune, thin and sell by: form, stubs, targets, products, plots."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pipit_ground import Ground

SEED = 20_261_126
INVENTED = "invented for Pipit Downs"

GRADED = ("Ridge Pines", "North Terrace", "Lusitanica Corner", "Stringybark Spur", "Blackwood Gully", "Walnut Rows")
"""Blocks in which the form of the stems was graded."""

TARGETS = (
    ("PRAD", "pruned log", 60.0), ("SSEM", "pruned log", 70.0), ("HLUS", "pruned log", 60.0),
    ("HMAC", "sawlog", 65.0), ("EGLI", "sawlog", 55.0), ("EBOS", "sawlog", 50.0), ("AMEL", "pruned log", 60.0),
    ("JNIG", "pruned log", 50.0), ("QROB", "sawlog", 60.0), ("PCAN", "sawlog", 55.0), ("PTOT", "sawlog", 60.0),
)  # fmt: skip

REGIMES = (
    # species, lift, to_m, tree_height_m, dos_cm, stems_per_ha, crown_left_percent
    ("PRAD", 1, 2.2, 5.0, 17.0, 500.0, 50.0), ("PRAD", 2, 4.3, 8.0, 17.0, 350.0, 45.0),
    ("PRAD", 3, 6.0, 11.0, 17.0, 300.0, 40.0),
    ("SSEM", 1, 2.4, 5.5, 16.0, 400.0, 50.0), ("SSEM", 2, 4.2, 8.0, 16.0, 350.0, 45.0),
    ("SSEM", 3, 6.0, 11.5, 16.0, 300.0, 45.0),
)  # fmt: skip

PRODUCTS = (
    # name, kind, species, small end, large end, length, per, price
    ("Pruned butt log", "pruned log", "", 35.0, np.nan, 5.5, "m3", 190.0),
    ("Sawlog", "sawlog", "", 25.0, np.nan, 4.9, "m3", 105.0),
    ("Strainer post", "post", "EBOS", 20.0, 32.0, 2.7, "piece", 24.0),
    ("Post", "post", "EGLI", 12.0, 20.0, 1.8, "piece", 7.5),
    ("Mushroom log", "mushroom log", "QROB", 8.0, 18.0, 1.0, "piece", 4.0),
    ("Firewood", "firewood", "", 8.0, np.nan, 1.2, "m3", 45.0),
)  # fmt: skip

PLOT_BLOCK = "Kānuka Remnant"
PLOTS = 9
PLOT_RADIUS_M = 7.98
PLOT_SLOPE_DEG = 14.0
PLOTS_ON = "2026-04-30"


def with_form(trees: pd.DataFrame, rng: np.random.Generator) -> NDArray[np.object_]:
    """Return the form of each tree, "" where it was not graded."""
    graded = trees["block"].isin(GRADED) & (trees["stage"] == "existing")
    form = rng.choice(["good", "fair", "poor"], len(trees), p=[0.3, 0.5, 0.2])
    return np.where(graded & (trees["stems"] == 1), form, "")


def with_stubs(measurements: pd.DataFrame, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return the diameter over the stubs at the first reading after each lift, for half of the trees lifted. [cm]."""
    rows = measurements.sort_values(["tree", "measured_on", "stem"])
    before = rows["pruned_m"].groupby(rows["tree"]).transform(lambda lifts: lifts.cummax().shift().fillna(0.0))
    lifted = (rows["pruned_m"] > before) & (rng.random(len(rows)) < 0.5)
    stubs = np.round(np.clip(rng.normal(15.5, 1.8, len(rows)), 9.0, 24.0), 1)
    return pd.Series(np.where(lifted, stubs, np.nan), index=rows.index).reindex(measurements.index).to_numpy()


def written_down() -> dict[str, dict[str, object]]:
    """Return the rows of targets, lifts, products and stem volumes."""
    targets, regimes, products = (list(map(list, zip(*rows, strict=True))) for rows in (TARGETS, REGIMES, PRODUCTS))
    lifts = ("species", "lift", "to_m", "tree_height_m", "dos_cm", "stems_per_ha", "crown_left_percent")
    sold = ("name", "kind", "species", "small_end_cm", "large_end_cm", "length_m", "per", "price")
    return {
        "targets": dict(zip(("species", "product", "dbh_cm"), targets, strict=True)),
        "regimes": {**dict(zip(lifts, regimes, strict=True)), "source": [INVENTED] * len(REGIMES)},
        "products": {**dict(zip(sold, products, strict=True)), "source": [INVENTED] * len(PRODUCTS)},
        "volumes": {
            "species": ["PRAD", "EBOS"],
            "kind": ["form factor", "power"],
            "a": [0.40, 0.0000425],
            "b": [np.nan, 1.92],
            "c": [np.nan, 0.98],
            "bark_ratio": [0.92, 0.90],
            "source": [INVENTED] * 2,
        },
    }


def sampled(
    trees: pd.DataFrame, measurements: pd.DataFrame, where: Ground, rng: np.random.Generator
) -> dict[str, dict[str, object]]:
    """Return circles in the remnant, and what was counted in them: its tagged trees and small ones without a tag."""
    block = where.blocks[PLOT_BLOCK]
    shapely.prepare(block)
    west, south, east, north = block.bounds
    thrown = rng.uniform((west, south), (east, north), (40 * PLOTS, 2))
    places = np.round(thrown[shapely.contains_xy(block, *thrown.T)][:PLOTS], 1)
    newest = measurements.dropna(subset=["dbh_cm"]).query("stem == 1").groupby("tree")["dbh_cm"].last()
    alive = trees.index[(trees["status"] == "alive") & (trees["block"] == PLOT_BLOCK)].intersection(newest.index)
    x, y = trees.loc[alive, "x"].to_numpy(), trees.loc[alive, "y"].to_numpy()
    counted: dict[str, list[object]] = {"plot": [], "species": [], "dbh_cm": [], "counts": []}
    for number, (east_m, north_m) in enumerate(places, start=1):
        inside = alive[np.hypot(x - east_m, y - north_m) <= PLOT_RADIUS_M]
        small = rng.poisson(3.0)
        counted["plot"] += [number] * (len(inside) + small)
        counted["species"] += [*trees.loc[inside, "species"], *rng.choice(["KROB", "MRAM"], small)]
        counted["dbh_cm"] += [*newest[inside].round(1), *np.round(rng.uniform(2.5, 7.5, small), 1)]
        beyond = shapely.distance(block.boundary, shapely.Point(east_m, north_m)) < PLOT_RADIUS_M
        edge = rng.random(len(inside) + small) < (0.25 if beyond else 0.0)
        counted["counts"] += np.where(edge, 2.0, 1.0).tolist()
    plots: dict[str, object] = {
        "name": [f"K{number}" for number in range(1, PLOTS + 1)],
        "block": [PLOT_BLOCK] * PLOTS,
        "design": ["random"] * PLOTS,
        "radius_m": [PLOT_RADIUS_M] * PLOTS,
        "slope_deg": [PLOT_SLOPE_DEG] * PLOTS,
        "measured_on": np.full(PLOTS, np.datetime64(PLOTS_ON, "s")),
        "x": places[:, 0],
        "y": places[:, 1],
    }
    return {"plots": plots, "plot_trees": dict(counted)}
