"""What products bring at the grower's own prices, now and brought back to today: an estimate, no advice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.errors import BadInput
from farmmap.plans.harvest.product_list import Product
from farmmap.plans.harvest.rates import LEAST_RATE, MOST_RATE
from farmmap.plans.harvest.tally import Tally

Floats = NDArray[np.float64]

NO_ADVICE = "Estimate, no advice."


@dataclass(frozen=True, eq=False)
class Worth:
    """What groups of trees bring.

    Attributes
    ----------
    value : ndarray, shape (k,)
        At today's prices, of the products that have one; nan where none of those that were cut has. [own money]
    unpriced_m3 : ndarray, shape (k,)
        Volume of products without a price. [m³]
    """

    value: Floats
    unpriced_m3: Floats


def worth_of(tally: Tally, products: tuple[Product, ...]) -> Worth:
    """Return what each group of a tally brings; a price that is not known counts as not known, never as nought."""
    amounts = tally.amounts(products)
    prices = np.array([product.price for product in products])
    known = np.isfinite(prices)
    value = amounts[:, known] @ prices[known]
    is_priced = (tally.pieces[:, known] > 0).any(axis=1)
    return Worth(np.where(is_priced, value, np.nan), tally.product_m3[:, ~known].sum(axis=1))


def present_value(value: ArrayLike, years: ArrayLike, rate_percent: float) -> Floats:
    """Value of later money today: PV = V/(1 + i)^t.

    Parameters
    ----------
    value : array_like, shape (n,)
        Money then.
    years : array_like, shape (n,)
        Years until then. [years]
    rate_percent : float
        Rate i. [%/year]

    Raises
    ------
    BadInput
        The rate is not from 0 to 30 %.
    """
    refuse_rate(rate_percent)
    return np.asarray(value, float) / (1.0 + rate_percent / 100.0) ** np.asarray(years, float)


def refuse_rate(rate_percent: float) -> None:
    """Say that a rate is none, or too high to be one.

    Raises
    ------
    BadInput
        The rate is not from 0 to 30 %.
    """
    if not LEAST_RATE <= rate_percent <= MOST_RATE:
        raise BadInput(f"a rate is {LEAST_RATE:g} to {MOST_RATE:g} % a year, not {rate_percent:g}")
