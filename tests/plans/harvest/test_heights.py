"""Heights: read off a curve through the heights of their like, or not said at all."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.standing import standing
from farmmap.plans.harvest.heights import HeightFrom, Heights, heights_ahead, heights_of
from tests.place import EAST, NORTH

P, Q = 1.4, 0.19
ON = dt.date(2021, 1, 1)


def naslund(dbh: np.ndarray, p: float = P, q: float = Q) -> np.ndarray:
    return 1.4 + (dbh / (p + q * dbh)) ** 2  # breast height of the small farm


def row_of_trees(farm: Farm, dbh: np.ndarray, height: np.ndarray, x: float = 10.0, **more: object) -> Farm:
    """Put trees of one species in a row into North Terrace, or elsewhere."""
    count = len(dbh)
    ids = np.arange(1, count + 1)
    trees = {"tag": [str(i) for i in ids], "species": ["TOTA"] * count, "x": np.full(count, EAST + x)}
    trees |= {"y": NORTH + 10 + 80 * np.arange(count) / max(count, 1)}
    taken = {"tree": ids, "measured_on": np.full(count, "2020-06-01", "datetime64[s]"), "dbh_cm": dbh}
    return farm.with_tables(
        trees=shaped(TABLES["trees"], trees | more, ids, farm.grid),
        measurements=shaped(TABLES["measurements"], taken | {"height_m": height}, ids, farm.grid),
    )


def found(farm: Farm) -> Heights:
    there = standing(farm, ON)
    return heights_of(farm, there, block_of_each_tree(farm)[there.places])


def test_the_curve_is_found_again_and_fills_the_gaps(farm: Farm) -> None:
    dbh = np.linspace(12, 60, 20)
    height = naslund(dbh)
    gaps = np.arange(20) % 3 == 0
    heights = found(row_of_trees(farm, dbh, np.where(gaps, np.nan, height)))
    assert heights.height_m == pytest.approx(height, rel=1e-9)
    assert (heights.came_from[gaps] == HeightFrom.BLOCK_CURVE).all()
    assert (heights.came_from[~gaps] == HeightFrom.MEASURED).all()
    assert heights.p[0] == pytest.approx(P)
    assert heights.q[0] == pytest.approx(Q)
    assert heights.beyond == 0


def test_too_few_heights_say_nothing(farm: Farm) -> None:
    dbh = np.linspace(12, 60, 12)
    height = np.where(np.arange(12) < 4, naslund(dbh), np.nan)
    heights = found(row_of_trees(farm, dbh, height))
    assert np.isnan(heights.height_m[4:]).all()
    assert (heights.came_from[4:] == HeightFrom.NOWHERE).all()


def test_a_curve_of_the_farm_serves_a_block_with_few_heights(farm: Farm) -> None:
    dbh = np.linspace(12, 60, 7)
    height = np.where(np.arange(7) < 6, naslund(dbh), np.nan)
    heights = found(row_of_trees(farm, dbh, height))
    assert heights.came_from[-1] == HeightFrom.SPECIES_CURVE
    assert heights.height_m[-1] == pytest.approx(naslund(dbh)[-1])
    assert heights.beyond == 1


@pytest.mark.parametrize("height", [np.full(10, 12.0), np.linspace(20, 8, 10)], ids=["one size", "falling"])
def test_heights_that_follow_no_curve_give_none(farm: Farm, height: np.ndarray) -> None:
    dbh = np.full(10, 30.0) if height[0] == height[-1] else np.linspace(12, 60, 10)
    height = np.append(height[:9], np.nan)
    assert np.isnan(found(row_of_trees(farm, dbh, height)).height_m[-1])


def test_an_old_height_is_raised_but_never_lowered(farm: Farm) -> None:
    dbh = np.linspace(12, 60, 12)
    old = row_of_trees(farm, dbh, np.where(np.arange(12) < 10, naslund(dbh), np.nan))
    extra = {"tree": [11, 12], "measured_on": np.array(["2010-01-01"] * 2, "datetime64[s]"), "height_m": [9.0, 60.0]}
    tape = shaped(TABLES["measurements"], extra, np.array([101, 102]), farm.grid)
    heights = found(old.with_tables(measurements=pd.concat([old.measurements, tape])))
    assert heights.height_m[10] == pytest.approx(naslund(dbh)[10])
    assert heights.height_m[11] == 60.0
    assert heights.came_from[10:].tolist() == [HeightFrom.BLOCK_CURVE, HeightFrom.MEASURED]


def test_heights_grow_along_the_curve(farm: Farm) -> None:
    dbh = np.linspace(12, 60, 20)
    heights = found(row_of_trees(farm, dbh, naslund(dbh)))
    rows = np.array([3, 8])
    later = heights.grown(rows, dbh[rows], dbh[rows] + 20)
    assert later == pytest.approx(naslund(dbh[rows] + 20))
    assert heights.grown(rows, dbh[rows], dbh[rows] - 5) == pytest.approx(heights.height_m[rows])


def test_heights_of_a_day_to_come_follow_the_forecast_diameters(farm: Farm) -> None:
    dbh = np.linspace(12, 60, 20)
    here = row_of_trees(farm, dbh, naslund(dbh))
    last = standing(here, ON)
    some = last.some(np.arange(5, 15))
    ahead = replace(some, dbh_cm=some.dbh_cm + 10, grown=np.arange(10) > 0, forecast=True)
    heights = heights_ahead(found(here), last, ahead)
    assert heights.height_m[1:] == pytest.approx(naslund(ahead.dbh_cm)[1:])
    assert heights.height_m[0] == pytest.approx(naslund(dbh)[5])
    nobody = heights_ahead(found(here), last.some(np.arange(0)), ahead)
    assert np.isnan(nobody.height_m).all()
