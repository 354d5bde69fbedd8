"""Carbon in living trees, from stem volume by IPCC default factors.

Where the basic density of the wood is known, biomass above ground is
V·D·BEF; else V·BCEF, by the growing stock of the block. Roots are a share of
it by what stands above ground on a hectare, carbon a share of both, and CO₂ is
carbon times 44/12. What stands on a hectare is that of all trees of the block,
also those without a volume (`farmmap.plans.harvest.block_stock`). Which factor was taken from where stands in
``resources/carbon.csv``; most of them are from memory and say so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.species import plain
from farmmap.figures.remembered import Remembered
from farmmap.plans.harvest.block_stock import BlockStock, block_stock
from farmmap.plans.harvest.counted import trees
from farmmap.plans.harvest.timber import Timber
from farmmap.plans.harvest.wood_kinds import entry_for, number_or_nan, resource_rows, scientific_names

Floats = NDArray[np.float64]

CO2_PER_CARBON = 44.0 / 12.0
"""Weight of a molecule of carbon dioxide over that of its carbon."""

WHAT_IT_IS = (
    "Carbon of living trees, above and below ground, by default factors of the IPCC, without dead wood, litter and "
    "soil. Estimate, not what a scheme would credit."
)

POOR_STOCK_M3_PER_HA = 40.0
"""Below this growing stock the conversion factors of the IPCC are far above what is usual. [m³/ha]"""

CONVERSION, EXPANSION, ROOTS, FRACTION = "conversion", "expansion", "roots", "carbon fraction"


@dataclass(frozen=True)
class Factor:
    """One factor: for which group of species, between which bounds, and from where.

    ``at_least`` and ``below`` are growing stock in m³/ha for a conversion, biomass above ground in t/ha for roots.
    """

    name: str
    group: str
    at_least: float
    below: float
    value: float
    unit: str
    source: str
    read: str


@dataclass(frozen=True)
class WoodKind:
    """Group of a species in the tables of the IPCC, and the basic density of its wood; nan if not known. [t/m³]."""

    group: str
    density_t_m3: float
    source: str
    read: str


NO_KIND = WoodKind("", float("nan"), "", "")


@cache
def factors() -> tuple[Factor, ...]:
    """Return the factors of ``resources/carbon.csv``."""
    return tuple(
        Factor(
            row["factor"],
            row["group"],
            float(row["from"] or 0.0),
            float(row["below"] or "inf"),
            float(row["value"]),
            row["unit"],
            row["source"],
            row["read"],
        )
        for row in resource_rows("carbon.csv")
    )


@cache
def wood_kinds() -> dict[str, WoodKind]:
    """Return the kinds of ``resources/carbon_kinds.csv`` by genus or full name."""
    return {
        plain(row["of"]): WoodKind(row["group"], number_or_nan(row["density_t_m3"]), row["source"], row["read"])
        for row in resource_rows("carbon_kinds.csv")
    }


def factor_at(name: str, group: str, at: ArrayLike = 0.0) -> Floats:
    """Return a factor for a group of species, by what stands on a hectare; nan where the tables have none.

    Parameters
    ----------
    name : str
        ``CONVERSION`` (BCEF, t/m³, by growing stock in m³/ha), ``EXPANSION`` (BEF), ``ROOTS`` (root:shoot R, by
        biomass above ground in t/ha) or ``FRACTION`` (carbon in dry wood).
    group : str
        ``pine``, ``conifer``, ``eucalypt``, ``oak`` or ``broadleaf``; "" where it is not known.
    at : array_like
        Growing stock or biomass of a hectare; a bound belongs to the class above it.
    """
    values = np.asarray(at, float)
    out = np.full(values.shape, np.nan)
    for factor in factors():
        if factor.name == name and factor.group == group:
            out = np.where((values >= factor.at_least) & (values < factor.below), factor.value, out)
    return out


@dataclass(frozen=True, eq=False)
class Held:
    """What trees hold; all of one shape, nan where not known.

    Attributes
    ----------
    above_t, below_t : ndarray
        Dry weight above and below ground. [t]
    carbon_t, co2_t : ndarray
        Carbon in both, and as carbon dioxide. [t]
    """

    above_t: Floats
    below_t: Floats
    carbon_t: Floats
    co2_t: Floats


def held(above_t: ArrayLike, root_shoot: ArrayLike, fraction: ArrayLike) -> Held:
    """Return roots, carbon and CO₂ for a biomass above ground: B = A·R, C = (A + B)·CF, CO₂ = C·44/12.

    Source: IPCC (2006), Guidelines for National Greenhouse Gas Inventories,
    volume 4, chapter 2 (from memory).
    """
    above = np.asarray(above_t, float)
    below = above * np.asarray(root_shoot, float)
    carbon = (above + below) * np.asarray(fraction, float)
    return Held(above, below, carbon, carbon * CO2_PER_CARBON)


@dataclass(frozen=True, eq=False)
class Carbon:
    """Carbon of the standing trees.

    Attributes
    ----------
    held : Held
        Arrays of shape (n,), in the order of the timber's trees.
    by_density : ndarray of bool, shape (n,)
        Trees whose weight was worked out from the density of their wood.
    kinds : tuple of WoodKind
        Kind of wood of each species of the timber.
    stock : BlockStock
        What stands in each block, by which factors were chosen.
    block_names : mapping of int to str
        Name of each block by its id.
    """

    held: Held
    by_density: NDArray[np.bool_]
    kinds: tuple[WoodKind, ...]
    stock: BlockStock
    block_names: Mapping[int, str]

    def notes(self, timber: Timber, among: NDArray[np.intp] | None = None) -> tuple[str, ...]:
        """Say the factors and sources for some or all trees, and what is not known."""
        rows = np.arange(len(timber.there)) if among is None else among
        known = rows[np.isfinite(self.held.carbon_t[rows])]
        used = [self.kinds[kind] for kind in np.unique(timber.there.species[known]).tolist()]
        groups = sorted({kind.group for kind in used if kind.group})
        said = [WHAT_IT_IS, *(words for name in _TOLD if (words := _factor_words(name, groups)))]
        dense = sorted({f"{kind.density_t_m3:g}" for kind in used if np.isfinite(kind.density_t_m3)})
        if dense:
            said.append(f"D, basic density, t/m³ (the farm's own, else {_DENSITY_SOURCE}): {', '.join(dense)}.")
        if groups:
            said += self.stock.words(lambda block: self.block_names.get(block) or f"block {block}", timber.block[known])
        if self._is_poor_stock(timber, known).any():
            said.append(
                f"Below {POOR_STOCK_M3_PER_HA:g} m³/ha BCEF is that of young stands of small trees, and too high for "
                "large trees that stand far apart; give the species the density of its wood among the stem volumes, "
                "and BEF is taken instead."
            )
        unknown = np.isfinite(timber.stems.volume_m3[rows]) & np.isnan(self.held.carbon_t[rows])
        if unknown.any():
            said.append(
                f"{trees(int(np.count_nonzero(unknown)), 'has', 'have')} a volume, but no factor fits: the group of "
                "species is not known, or the tree stands in no block and the density of its wood is not known. Such "
                "trees are not counted."
            )
        if groups:
            said.append("Check factors from memory against the guidelines before the figures go into any claim.")
        return tuple(said)

    def _is_poor_stock(self, timber: Timber, rows: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Which of some trees have a conversion factor of a growing stock below `POOR_STOCK_M3_PER_HA`."""
        poor = self.stock.ground.ids[self.stock.m3_per_ha < POOR_STOCK_M3_PER_HA]
        return np.isin(timber.block[rows], poor) & ~self.by_density[rows]


_CARBON: Remembered[Carbon] = Remembered(3)


def carbon_of(farm: Farm, timber: Timber) -> Carbon:
    """Return the carbon of the trees that stand on the timber's day."""
    tables = (timber, farm.blocks, farm.tracks, farm.creeks, farm.hazards, farm.plots, farm.plot_trees)
    return _CARBON.get(tables, (), lambda: _carbon(farm, timber))


def _carbon(farm: Farm, timber: Timber) -> Carbon:
    volume = timber.stems.volume_m3 * timber.each
    kinds = kinds_of(farm, timber)
    whole = block_stock(farm, timber, volume)
    stock = whole.on_a_hectare(timber.block, volume)
    above, by_density = np.full(len(volume), np.nan), np.zeros(len(volume), bool)
    for places, kind in zip(timber.by_species, kinds, strict=True):
        if not len(places):
            continue
        if np.isfinite(kind.density_t_m3) and kind.group:
            by_density[places] = True
            above[places] = volume[places] * kind.density_t_m3 * factor_at(EXPANSION, kind.group)
        else:
            above[places] = volume[places] * factor_at(CONVERSION, kind.group, stock[places])
    loaded = whole.on_a_hectare(timber.block, above)
    loaded = np.where(np.isnan(loaded), np.finfo(float).max, loaded)
    roots, fraction = np.full(len(volume), np.nan), np.full(len(volume), np.nan)
    for places, kind in zip(timber.by_species, kinds, strict=True):
        roots[places] = factor_at(ROOTS, kind.group, loaded[places])
        fraction[places] = factor_at(FRACTION, kind.group)
    names = dict(zip(farm.blocks.index.tolist(), map(str, farm.blocks["name"]), strict=True))
    return Carbon(held(above, roots, fraction), by_density, tuple(kinds), whole, names)


def kinds_of(farm: Farm, timber: Timber) -> list[WoodKind]:
    """Return the kind of wood of each species of the timber; the farm's own density goes first."""
    names, out = scientific_names(farm), []
    for number, code in enumerate(timber.there.species_names):
        kind = entry_for(names.get(code, ""), wood_kinds()) or NO_KIND
        own = timber.of_species(number).density_t_m3
        if np.isfinite(own):
            kind = WoodKind(kind.group, own, "the farm's own figures", "")
        out.append(kind)
    return out


_TOLD = {
    EXPANSION: "BEF, whole tree above ground over stem",
    CONVERSION: "BCEF, t/m³, by growing stock in m³/ha where the density is not known",
    ROOTS: "R, roots over what is above ground, by its t/ha",
    FRACTION: "CF, carbon in dry wood",
}
_DENSITY_SOURCE = "IPCC 2006 Guidelines, volume 4, table 4.14; from memory"


def _factor_words(name: str, groups: list[str]) -> str:
    """Return one factor for several groups of species, with its source, in words; "" if none has it."""
    told: dict[str, list[str]] = {}
    sources: dict[str, None] = {}
    for group in groups:
        own = [factor for factor in factors() if factor.name == name and factor.group == group]
        if own:
            told.setdefault(", ".join(f"{factor.value:g}{_bounds(factor)}" for factor in own), []).append(group)
            sources[f"{own[0].source}; {own[0].read}"] = None
    values = "; ".join(f"{', '.join(of)} {words}" for words, of in told.items())
    return f"{_TOLD[name]} ({', '.join(sources)}): {values}." if told else ""


def _bounds(factor: Factor) -> str:
    if factor.name not in (CONVERSION, ROOTS):
        return ""
    return f" from {factor.at_least:g}" if np.isinf(factor.below) else f" below {factor.below:g}"
