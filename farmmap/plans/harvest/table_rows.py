"""Rows of figures that tables of what stands and of what is harvested share."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.sampling.sampled import samples
from farmmap.plans.harvest.harvest import BLOCK
from farmmap.plans.harvest.product_list import Product, ProductList
from farmmap.plans.harvest.tally import Tally
from farmmap.plans.harvest.timber import Timber
from farmmap.plans.harvest.worth import NO_ADVICE, worth_of

Row = dict[str, object]
Floats = NDArray[np.float64]

COSTS = "Costs are counted only as far as your prices are net of them."
LOW_AND_HIGH = "Low and high: the trees' own 80 % bounds added up."
_AMOUNTS = ("pieces", "product_volume_m3", "own_value")
_SOLD_BY = {"m3": "m³", "piece": "piece", "tonne": "tonne"}


def product_rows(tally: Tally, listed: ProductList, *, everything: bool = False) -> list[Row]:
    """Return pieces, volume and value of each product over all groups of a tally.

    Parameters
    ----------
    tally : Tally
        The sums.
    listed : ProductList
        The products.
    everything : bool
        Also those of which there is none, and those of which nothing is known as no tree has a volume.
    """
    if everything and not tally.counted.any():
        return [_called(product) | dict.fromkeys(_AMOUNTS) for product in listed.products]
    amounts = tally.amounts(listed.products).sum(axis=0)
    pieces, volume = tally.pieces.sum(axis=0), tally.product_m3.sum(axis=0)
    return [
        _called(product)
        | {
            "pieces": int(pieces[place]),
            "product_volume_m3": float(volume[place]),
            "own_value": float(amounts[place] * product.price) + 0.0 if product.has_price else None,
        }
        for place, product in enumerate(listed.products)
        if everything or pieces[place]
    ]


def _called(product: Product) -> Row:
    return {
        "sold_as": product.name,
        "product_kind": product.kind,
        "sold_by": _SOLD_BY[product.per],
        "price": product.price if product.has_price else None,
    }


def product_notes(listed: ProductList) -> tuple[str, ...]:
    """Say whose products they are, how they are cut, and which have no price."""
    if listed.are_own:
        said = "Products are the farm's own."
    else:
        said = "The farm has no products of its own, so general ones are cut, without prices; set your own."
    cutting = (
        "Cut by kind: pruned log, sawlog, pole, post, mushroom log, other, firewood; of one kind the thicker small end "
        "first. Stump 0.2 m, trim 0.1 m a piece. A pruned log ends at the pruned height of today."
    )
    cutting = " ".join([cutting, *_never_cut(listed)])
    missing = [product.name for product in listed.products if not product.has_price]
    if len(missing) == len(listed.products):
        return said, cutting, "No product has a price, so no value is given."
    unpriced = (f"Without a price, and so in no value: {', '.join(missing)}.",) if missing else ()
    return said, cutting, *unpriced, f"{COSTS} {NO_ADVICE}"


def _never_cut(listed: ProductList) -> list[str]:
    """Say which products nothing can be cut into, whatever stands."""
    return [
        f"Nothing can be cut into {product.name}, as its small end of {product.small_end_cm:g} cm is not thinner than "
        f"its large end of {product.large_end_cm:g} cm; change one."
        for product in listed.products
        if product.small_end_cm >= product.large_end_cm
    ]


def sampled_notes(farm: Farm, timber: Timber, block: int | None) -> tuple[str, ...]:
    """Say which blocks are known from sample plots only, and so are in no volume.

    Parameters
    ----------
    farm : Farm
        The farm.
    timber : Timber
        The trees that stand on the day.
    block : int or None
        Only this block is told of.
    """
    mapped = np.unique(timber.block[np.isfinite(timber.stems.volume_m3)])
    found = samples(farm, timber.there.on).items()
    only = [one for one, sample in found if sample.trees and one not in mapped and block in (None, one)]
    if not only:
        return ()
    names = ", ".join(of_what(farm, one) for one in only)
    return (f"Known from sample plots only, and so in none of these volumes: {names}.",)


def within(tally: Tally, block: int | None) -> Tally:
    """Return the groups of one block, or all."""
    return tally if block is None else tally.of(tally.keys[:, BLOCK] == block)


def of_what(farm: Farm, block: int | None) -> str:
    """Return the name of a block, or of the farm."""
    if block is None:
        return farm.settings.name
    return str(farm.blocks["name"].get(block, "")) or f"block {block}"


def wood_rows(tally: Tally, listed: ProductList) -> list[Row]:
    """Return volumes, products and their value, a row for each group of a tally."""
    worth = worth_of(tally, listed.products)
    known = tally.counted > 0
    return [
        {
            "stems": int(tally.trees[place]),
            "stem_volume_m3": float(tally.stem_m3[place]) if known[place] else None,
            "under_bark_m3": float(tally.under_bark_m3[place]) if known[place] else None,
            "product_volume_m3": float(tally.product_m3[place].sum()) if known[place] else None,
            "pieces": int(tally.pieces[place].sum()) if known[place] else None,
            "own_value": float(worth.value[place]) if np.isfinite(worth.value[place]) else None,
            "unpriced_m3": float(worth.unpriced_m3[place]) if known[place] else None,
            "volume_known": int(tally.counted[place]),
            "volume_known_percent": 100.0 * float(tally.counted[place]) / float(tally.trees[place]),
            "products": product_rows(tally.of(np.arange(len(tally)) == place), listed),
        }
        for place in range(len(tally))
    ]


def edge_or_none(tally: Tally, place: int, edge_m3: Floats) -> float | None:
    """Return the low or the high volume of a group, None where it is not known."""
    known = tally.counted[place] > 0 and np.isfinite(edge_m3[place])
    return float(edge_m3[place]) if known else None


def totals(rows: Sequence[Mapping[str, object]], rate_percent: float | None = None) -> list[str]:
    """Return the sums of rows in words, as far as they are known.

    Parameters
    ----------
    rows : sequence of mapping
        Rows of one table.
    rate_percent : float or None
        Rate of the present values of a harvest to come; None for what stands, which has its carbon told. [%/year]
    """
    words: list[tuple[str, Callable[[float], str]]] = [
        ("stem_volume_m3", lambda total: f"{total:,.1f} m³ of stems"),
        ("product_volume_m3", lambda total: f"{total:,.1f} m³ of products"),
        ("own_value", lambda total: f"value {total:,.0f}"),
    ]
    if rate_percent is None:
        words.append(("co2_t", lambda total: f"{total:,.1f} t CO₂"))
    else:
        words.append(("present_value", lambda total: f"net present value {total:,.0f} at {rate_percent:g} % a year"))
    out = []
    for name, say in words:
        known = [value for row in rows if isinstance(value := row.get(name), float)]
        if known:
            out.append(say(sum(known)).replace(",", "\u202f"))
    return out
