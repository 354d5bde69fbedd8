"""A known growth in place of the fitted one: every stem grows by so much a year, so harvests can be told by hand."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.growth.outlook import State
from farmmap.figures.growth.targets import target_cm_of, targets_of
from farmmap.figures.standing import standing
from farmmap.plans.harvest import harvest
from tests.place import EAST, NORTH

CM_A_YEAR = 2.0
LOW, HIGH = 0.9, 1.2
ON = dt.date(2020, 7, 1)


class _Outlook(SimpleNamespace):
    def __len__(self) -> int:
        return len(self.taken.ids)


def grow_evenly(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every stem grow by `CM_A_YEAR`, with bounds at `LOW` and `HIGH` of its size; unmeasured ones say nothing."""

    def outlook(farm: Farm, on: dt.date) -> _Outlook:
        there = standing(farm, on)
        target = target_cm_of(targets_of(farm), there.species_names)[there.species]
        year = on.year + 0.5 + (target - there.dbh_cm) / CM_A_YEAR
        state = np.select(
            [np.isnan(target), there.dbh_cm >= target, np.isnan(year), year > on.year + 100],
            [State.NO_TARGET, State.READY, State.NOT_ENOUGH, State.FAR],
            State.YEAR,
        )
        known = np.where(state == State.YEAR, year, np.nan)
        return _Outlook(taken=SimpleNamespace(ids=there.ids), state=state, year=known, on=on, then=farm)

    def forecast(farm: Farm, on: dt.date, ids: np.ndarray) -> SimpleNamespace:
        there = standing(farm, ON)
        dbh = there.dbh_cm[np.searchsorted(there.ids, ids)] + CM_A_YEAR * (on - ON).days / 365.25
        return SimpleNamespace(dbh_cm=dbh, low_cm=dbh * LOW, high_cm=dbh * HIGH)

    monkeypatch.setattr(harvest, "outlook_of", outlook)
    monkeypatch.setattr(harvest, "forecast", forecast)


def planted(
    farm: Farm,
    dbh_cm: list[float],
    height_m: list[float],
    species: list[str] | None = None,
    **more: object,
) -> Farm:
    """Put measured trees into North Terrace; those with ``x`` beyond 200 m stand in no block."""
    count = len(dbh_cm)
    ids = np.arange(1, count + 1)
    trees: dict[str, object] = {"tag": [str(one) for one in ids], "species": species or ["TOTA"] * count}
    trees |= {"x": EAST + 10.0 + np.zeros(count), "y": NORTH + 10.0 + 70.0 * np.arange(count) / max(count, 1)}
    taken = {
        "tree": ids,
        "measured_on": np.full(count, "2020-05-01", "datetime64[s]"),
        "dbh_cm": dbh_cm,
        "height_m": height_m,
    }
    taken |= {"pruned_m": more.pop("pruned_m", np.full(count, np.nan))}
    return farm.with_tables(
        trees=shaped(TABLES["trees"], trees | more, ids, farm.grid),
        measurements=shaped(TABLES["measurements"], taken, ids, farm.grid),
    )


def with_rows(farm: Farm, table: str, **values: object) -> Farm:
    """Put rows into a table that has none."""
    count = len(next(iter(values.values())))
    return farm.with_tables(**{table: shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)})


def priced(farm: Farm) -> Farm:
    """Give a farm sawlogs and firewood with prices, and posts without."""
    return with_rows(
        farm,
        "products",
        name=["log", "post", "firewood"],
        kind=["sawlog", "post", "firewood"],
        small_end_cm=[25.0, 10.0, 5.0],
        large_end_cm=[np.nan, 15.0, np.nan],
        length_m=[4.0, 1.8, np.nan],
        per=["m3", "piece", "tonne"],
        price=[100.0, np.nan, 40.0],
    )
