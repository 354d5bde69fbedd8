"""What stems are cut into: the grower's own products, else those of common practice, and in which order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from farmmap.farm.farm import Farm
from farmmap.farm.growing_tables import PRODUCT_KINDS
from farmmap.farm.species import plain
from farmmap.figures.remembered import Remembered
from farmmap.plans.harvest.wood_kinds import number_or_nan, resource_rows, scientific_names

ORDER = ("pruned log", "sawlog", "pole", "post", "mushroom log", "other", "firewood")
"""Kinds in the order in which they are cut."""
STRAIGHT = frozenset({"pruned log", "sawlog", "pole"})
"""Kinds that a stem of poor form gives none of."""
LEAST_LOG_M, LEAST_BIT_M = 2.0, 0.3
"""A piece of a product without a length is at least so long: logs and poles, and all others. Common practice, in m."""
TONNES_PER_M3 = 1.0
"""Weight of a fresh cubic metre, for what is sold by the tonne. Common practice, from memory. [t/m³]"""


@dataclass(frozen=True)
class Product:
    """One product that stems may be cut into.

    Attributes
    ----------
    name, kind : str
        What it is called, and what kind of wood it is.
    species : str
        Code of the species that it is cut from; "" for all.
    genera : tuple of str
        Genera that it is cut from, in small letters; empty for all.
    small_end_cm, large_end_cm : float
        Least diameter at the small end and greatest at the large end, under bark; 0 and inf where unbounded. [cm]
    length_m : float
        Length of a piece; nan: as long as it comes. [m]
    per : str
        ``m3``, ``piece`` or ``tonne``: what the price is for.
    price : float
        What one brings, in the farm's own money; nan if not known.
    source : str
        Where the figures come from.
    is_own : bool
        Whether it is one of the farm's own.
    """

    name: str
    kind: str
    species: str = ""
    genera: tuple[str, ...] = ()
    small_end_cm: float = 0.0
    large_end_cm: float = math.inf
    length_m: float = float("nan")
    per: str = "m3"
    price: float = float("nan")
    source: str = ""
    is_own: bool = False

    @property
    def has_price(self) -> bool:
        """Whether it is known what it brings."""
        return not math.isnan(self.price)

    @property
    def least_m(self) -> float:
        """Shortest piece, in m."""
        if not math.isnan(self.length_m):
            return self.length_m
        return LEAST_LOG_M if self.kind in STRAIGHT else LEAST_BIT_M


@dataclass(frozen=True, eq=False)
class ProductList:
    """The products of a farm in the order in which they are cut, and which of them each species gives."""

    products: tuple[Product, ...]
    are_own: bool
    scientific: dict[str, str]

    @property
    def cut_alike(self) -> tuple[object, ...]:
        """What cutting depends on: all of the products but prices and sources; equal where stems are cut the same."""
        sizes = (
            (p.name, p.kind, p.species, p.genera, p.small_end_cm, p.large_end_cm, str(p.length_m))
            for p in self.products
        )
        return tuple(sizes)

    def of_species(self, code: str) -> tuple[int, ...]:
        """Places of the products that a species is cut into, in the order of cutting.

        A product of that name for the species itself goes before one for every species.
        """
        genus = (plain(self.scientific.get(code, "")).split() or [""])[0]
        own_names = {plain(p.name) for p in self.products if p.species and p.species == code}
        return tuple(
            place
            for place, product in enumerate(self.products)
            if (product.species == code if product.species else plain(product.name) not in own_names)
            and (not product.genera or genus in product.genera)
        )


_LISTS: Remembered[ProductList] = Remembered(3)


def product_list(farm: Farm) -> ProductList:
    """Return what a farm's stems are cut into: its own products, if it has any, else `general_products`."""
    return _LISTS.get((farm.tables["products"], farm.species), (), lambda: _listed(farm))


def general_products() -> tuple[Product, ...]:
    """Return the products of ``resources/products.csv``, without prices, in the order in which they are cut."""
    return in_order(
        [
            Product(
                row["name"],
                row["kind"],
                genera=tuple(plain(genus) for genus in row["of"].split(";") if genus.strip()),
                small_end_cm=_or(number_or_nan(row["small_end_cm"]), 0.0),
                large_end_cm=_or(number_or_nan(row["large_end_cm"]), math.inf),
                length_m=number_or_nan(row["length_m"]),
                per=row["per"],
                source=row["source"],
            )
            for row in resource_rows("products.csv")
        ]
    )


def in_order(products: Sequence[Product]) -> tuple[Product, ...]:
    """Return products in the order of cutting: kinds as in `ORDER`, of one kind the thicker small end first."""
    assert set(ORDER) == set(PRODUCT_KINDS)
    return tuple(sorted(products, key=lambda product: (ORDER.index(product.kind), -product.small_end_cm)))


def _listed(farm: Farm) -> ProductList:
    rows = farm.tables["products"]
    own = [
        Product(
            str(row["name"]),
            str(row["kind"]),
            str(row["species"]),
            (),
            _or(row["small_end_cm"], 0.0),
            _or(row["large_end_cm"], math.inf),
            float(row["length_m"]),
            str(row["per"]),
            float(row["price"]),
            str(row["source"]),
            is_own=True,
        )
        for row in rows.to_dict("records")
    ]
    return ProductList(in_order(own) if own else general_products(), bool(own), scientific_names(farm))


def _or(value: float, otherwise: float) -> float:
    return otherwise if math.isnan(value) else float(value)
