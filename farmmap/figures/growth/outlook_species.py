"""Outlook of species: the curve fitted to each, how well it fits, and the share of trees ready by five-year periods."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of, rows_at
from farmmap.figures.growth.curves import CURVES
from farmmap.figures.growth.increments_by_age import NO_STOCK
from farmmap.figures.growth.outlook import Outlook, State, outlook_part
from farmmap.figures.growth.outlook_trees import notes_of
from farmmap.figures.growth.species_growth import SpeciesGrowth
from farmmap.figures.result import FigureTable

COLUMNS = (
    "species",
    "stems",
    "curve",
    "parameters",
    "trees",
    "readings",
    "aicc",
    "left_out_error_cm",
    "oldest_age_years",
    "mean_annual_increment_cm",
    "increment_by_stock",
    "target_cm",
    "product",
    "ready_now_percent",
    "ready_by_period",
    "method",
)
BRIEF = (
    "species",
    "curve",
    "trees",
    "readings",
    "left_out_error_cm",
    "mean_annual_increment_cm",
    "target_cm",
    "ready_by_period",
    "method",
)

AHEAD = "years ahead of the others: "
"""How a shift of age of a kind of plant is called among the parameters."""

PERIOD_YEARS = 5
PERIODS = 12
"""So many periods are looked ahead at most."""

MOST_TOLD = 6
"""So many periods are told in one line at most."""

CURVES_BY_NAME = {curve.name: curve for curve in CURVES}

Row = dict[str, object]


def species_outlook(
    farm: Farm,
    on: dt.date | None = None,
    *,
    block: int | None = None,
    target_cm: float | None = None,
    product: str = "",
) -> FigureTable:
    """Return the outlook of every species that stands on a day, a row each, by trade name.

    Parameters
    ----------
    farm, on, block, target_cm, product
        As for `farmmap.figures.growth.outlook.outlook_part`. Curves are always those of the whole farm.

    Returns
    -------
    FigureTable
        Each row also holds ``curves_tried``, ``stocks`` and ``periods``: lists of mappings.

    Raises
    ------
    BadInput
        No tree has such a diameter as ``target_cm``.
    """
    part = outlook_part(farm, on, block=block, target_cm=target_cm, product=product)
    found = part.found
    stock = np.asarray(rows_at(columns_of(farm.trees)["stock"], found.taken.places), object)
    rows = tuple(_row(found, mine, at, stock) for at, mine in part.by_label() if mine.any())
    title = f"Outlook of species, {part.where}"
    notes = (
        "Curves are fitted to all readings of a species on the farm, its trees differing in size and pace.",
        "AICc compares curves of one species; the error is that of each tree's last reading told by its earlier ones.",
        *notes_of(farm, found),
    )
    return FigureTable("species", title, COLUMNS, rows, tuple(range(len(rows))), notes, BRIEF)


def _row(found: Outlook, mine: NDArray[np.bool_], at: int, stock: NDArray[np.object_]) -> Row:
    code = found.codes[at]
    growth = found.growth.by_species.get(code)
    target = found.targets.of(code)
    stocks = _stocks(found, mine, stock)
    periods, now = _periods(found, mine)
    tried = [] if growth is None else [asdict(one) for one in growth.choice]
    best: Mapping[str, Any] = next((one for one in tried if one["chosen"]), {})
    mean = found.taken.mean_cm[mine]
    return {
        "species": found.labels[at],
        "code": code,
        "stems": int(mine.sum()),
        "curve": "" if growth is None else growth.curve,
        "parameters": "" if growth is None else parameter_words(growth),
        "curve_meaning": "" if growth is None else curve_meaning(growth),
        "trees": 0 if growth is None else growth.trees,
        "readings": 0 if growth is None else growth.readings,
        "aicc": best.get("aicc"),
        "left_out_error_cm": best.get("error_cm"),
        "oldest_age_years": None if growth is None else growth.oldest_age,
        "mean_annual_increment_cm": float(np.nanmean(mean)) if np.isfinite(mean).any() else None,
        "increment_by_stock": "; ".join(f"{one['stock']} {one['mean_annual_increment_cm']:.2f}" for one in stocks),
        "target_cm": None if target is None else target.dbh_cm,
        "target_source": "" if target is None else target.source,
        "product": "" if target is None else target.product,
        "ready_now_percent": now,
        "ready_by_period": ", ".join(f"{one['to_year']} {share_words(one['ready_percent'])}" for one in _few(periods)),
        "method": _method(growth),
        "curves_tried": tried,
        "stocks": stocks,
        "periods": periods,
    }


def parameter_words(growth: SpeciesGrowth) -> str:
    """Return a curve's parameters as they are written beside its formula."""
    words = []
    for name, value in growth.parameters.items():
        if name.startswith(AHEAD):
            way = "ahead of" if value > 0 else "behind"
            words.append(f"{name.removeprefix(AHEAD)} {abs(value):.1f} years {way} the others")
        else:
            words.append(f"{name} {value:.3g}")
    return ", ".join(words)


def curve_meaning(growth: SpeciesGrowth) -> str:
    """Return what a curve says in words: when a middling tree grows fastest, and how thick it is then and later."""
    curve = CURVES_BY_NAME.get(growth.curve)
    if curve is None:
        return ""
    own = [growth.parameters[name] for name in curve.parameters]
    oldest = growth.oldest_age
    parts = [f"{float(curve.value(oldest, *own)):.0f} cm at {oldest:.0f} years"]
    fastest = float(curve.inflection(*own))
    if 0 < fastest < oldest:
        parts.append(f"growing fastest at {fastest:.0f}")
    later = oldest + 10
    parts.append(f"going on to {float(curve.value(later, *own)):.0f} cm at {later:.0f}")
    return "a middling tree: " + ", ".join(parts)


def _method(growth: SpeciesGrowth | None) -> str:
    if growth is None:
        return "not enough to say: no tree of it was measured"
    return growth.why_not or " ".join(growth.notes)


def share_words(percent: float) -> str:
    """Return a share in words, never 0 % for a few trees nor 100 % for nearly all."""
    if 0 < percent < 1:
        return "under 1 %"
    return "over 99 %" if 99 < percent < 100 else f"{percent:.0f} %"


def _few(periods: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return no more periods than are easily read, the last among them."""
    every = -(-len(periods) // MOST_TOLD) or 1
    return periods[(len(periods) - 1) % every :: every]


def _stocks(found: Outlook, mine: NDArray[np.bool_], stock: NDArray[np.object_]) -> list[dict[str, Any]]:
    """Mean increments of the trees of each stock that have one."""
    known = mine & np.isfinite(found.taken.mean_cm)
    out = []
    for kind in sorted(set(stock[known].tolist())):
        of_kind = known & (stock == kind)
        recent = found.taken.recent_cm[of_kind]
        out.append(
            {
                "stock": kind or NO_STOCK,
                "trees": int(of_kind.sum()),
                "mean_annual_increment_cm": float(found.taken.mean_cm[of_kind].mean()),
                "recent_increment_cm": float(np.nanmean(recent)) if np.isfinite(recent).any() else None,
            }
        )
    return out


def _periods(found: Outlook, mine: NDArray[np.bool_]) -> tuple[list[dict[str, Any]], float | None]:
    """Share of the measured trees ready by the end of each five-year period, and now. [%]."""
    state = found.state[mine]
    measured = np.isfinite(found.taken.dbh_cm[mine]) & (state != State.NO_TARGET)
    many = int(measured.sum())
    if not many:
        return [], None
    year = np.where(state == State.READY, -np.inf, np.where(state == State.YEAR, np.floor(found.year[mine]), np.inf))
    year = year[measured]
    first = found.on.year - found.on.year % PERIOD_YEARS
    out: list[dict[str, Any]] = []
    for period in range(PERIODS):
        begin = first + period * PERIOD_YEARS
        ready = int((year < begin + PERIOD_YEARS).sum())
        out.append(
            {
                "from_year": begin,
                "to_year": begin + PERIOD_YEARS - 1,
                "ready_trees": ready,
                "ready_percent": 100.0 * ready / many,
            }
        )
    changes = [place for place in range(1, PERIODS) if out[place]["ready_trees"] != out[place - 1]["ready_trees"]]
    begins = changes[0] if changes and not out[0]["ready_trees"] else 0
    ends = changes[-1] + 1 if changes else (1 if out[0]["ready_trees"] else 0)
    return out[begins:ends], 100.0 * int(np.isneginf(year).sum()) / many
