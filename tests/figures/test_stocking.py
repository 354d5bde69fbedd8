"""Stocking of many blocks in one go beside a sum by hand, and after trees came and went."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from farmmap.figures.members import Members
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.standing import standing
from farmmap.figures.stocking import Stock, Stocking

ON = dt.date(2021, 1, 1)


@pytest.fixture(scope="module")
def there(farm_with):
    random = np.random.default_rng(5)
    return standing(
        farm_with(
            trees={
                "x": random.uniform(0, 9, 400),
                "y": random.uniform(0, 9, 400),
                "stems": random.choice([1, 2], 400),
                "status": random.choice(["alive", "dead"], 400, p=[0.9, 0.1]),
            },
            measurements={
                "tree": np.arange(1, 301),
                "measured_on": ["2020-01-01"] * 300,
                "dbh_cm": random.uniform(5, 50, 300),
                "height_m": np.where(random.random(300) < 0.5, random.uniform(2, 20, 300), np.nan),
            },
        ),
        ON,
    )


def _members() -> Members:
    return Members(np.random.default_rng(7).choice([NO_BLOCK, 2, 5, 9], 400).astype(np.int64))


def test_sums_of_each_block(there) -> None:
    members = _members()
    found = Stocking(there, members, np.array([2, 4, 9]))
    for number, block in enumerate((2, 4, 9)):
        here = np.flatnonzero(members.block[there.places] == block)
        basal, diameters = np.nansum(there.basal_area_m2[here]), there.diameters[here].sum()
        assert found.stems[number] == len(here)
        assert found.measured[number] == there.measured[here].sum()
        assert found.basal_area_m2[number] == pytest.approx(basal, rel=1e-11)
        assert found.diameters[number] == diameters
        if block == 4:
            assert math.isnan(found.qmd_cm[number])
            continue
        assert found.qmd_cm[number] == pytest.approx(math.sqrt(basal / diameters * 40_000 / math.pi), rel=1e-11)
        assert found.mean_dbh_cm[number] == pytest.approx(np.nanmean(there.dbh_cm[here]), rel=1e-12)
        assert found.mean_height_m[number] == pytest.approx(np.nanmean(there.height_m[here]), rel=1e-12)


def test_a_block_does_not_depend_on_which_others_are_asked_for(there) -> None:
    members = _members()
    every, one = Stocking(there, members, np.array([2, 5, 9])), Stocking(there, members, np.array([5]))
    for name in ("basal_area_m2", "qmd_cm", "mean_dbh_cm", "mean_height_m"):
        assert getattr(every, name)[1] == getattr(one, name)[0]


def test_after_trees_came_and_went_it_is_exactly_that_counted_again(there) -> None:
    random, members = np.random.default_rng(1), _members()

    def counted(of: Members) -> dict[int, Stock]:
        found = Stocking(there, of, np.array([2, 5, 9]))
        return {
            block: Stock(int(found.stems[n]), int(found.diameters[n]), float(found.basal_area_m2[n]))
            for n, block in enumerate((2, 5, 9))
        }

    stocks = counted(members)
    for _ in range(40):
        rows = random.choice(400, 12, replace=False)
        members, moved = members.moved(rows, random.choice([NO_BLOCK, 2, 5, 9], 12).astype(np.int64))
        for block, (lost, won) in moved.items():
            stocks[block] = stocks[block].after(there, lost, won)
        assert stocks == counted(members) == counted(Members(members.block.copy()))
    assert members.inside == (members.block != NO_BLOCK).sum()
