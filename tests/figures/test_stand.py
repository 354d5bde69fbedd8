"""Figures of a stand: their edges, and what is left out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.figures.stand import (
    basal_area_m2,
    basal_area_per_ha,
    dbh_from_basal_area_cm,
    dbh_from_girth_cm,
    diameter_classes,
    lorey_height_m,
    mean,
    per_ha,
    qmd_cm,
    qmd_from_basal_area_cm,
    stems_per_ha,
    top_height,
    top_number,
)

diameters = st.lists(st.floats(0.1, 300), min_size=1, max_size=60)


@given(diameters)
def test_quadratic_mean_lies_between_mean_and_thickest(dbh: list[float]) -> None:
    quadratic = qmd_cm(dbh)
    assert quadratic is not None
    assert mean(dbh) <= quadratic * (1 + 1e-12)
    assert quadratic <= max(dbh) * (1 + 1e-12)
    assert quadratic == pytest.approx(qmd_from_basal_area_cm(float(basal_area_m2(dbh).sum()), len(dbh)), rel=1e-9)


@given(diameters, st.floats(0.5, 20))
def test_classes_hold_every_diameter_once(dbh: list[float], width: float) -> None:
    lower, counts = diameter_classes(dbh, width)
    assert counts.sum() == len(dbh)
    assert lower[0] <= min(dbh) * (1 + 1e-9)
    assert max(dbh) < lower[-1] + width
    assert counts[0] > 0
    assert counts[-1] > 0


@given(diameters, st.randoms())
def test_order_of_trees_does_not_matter(dbh: list[float], random) -> None:
    mixed = list(dbh)
    random.shuffle(mixed)
    assert qmd_cm(mixed) == pytest.approx(qmd_cm(dbh), rel=1e-12)
    assert diameter_classes(mixed, 5)[1].tolist() == diameter_classes(dbh, 5)[1].tolist()


def test_lower_bound_belongs_to_the_class_also_after_conversion() -> None:
    metres = np.array([0.29, 0.35, 0.55, 0.57, 0.58])
    lower, counts = diameter_classes(metres * 100, 1)
    assert dict(zip(lower.tolist(), counts.tolist(), strict=True))[29.0] == 1
    assert counts[[0, 6, 26, 28, 29]].tolist() == [1, 1, 1, 1, 1]
    assert diameter_classes([10.0, 14.999, 15.0], 5)[1].tolist() == [2, 1]


def test_girth_becomes_diameter_and_back() -> None:
    assert dbh_from_girth_cm(np.pi * 30) == pytest.approx(30)
    assert dbh_from_basal_area_cm(basal_area_m2([12.5])) == pytest.approx([12.5])
    assert basal_area_per_ha(dbh_from_girth_cm([100.0]), 1.0) == pytest.approx(100**2 / (4 * np.pi) / 10_000)


def test_unmeasured_trees_are_left_out_not_counted_as_nought() -> None:
    assert qmd_cm([30, np.nan, 40]) == pytest.approx(np.sqrt((900 + 1600) / 2))
    assert mean([np.nan, 4.0]) == 4
    assert basal_area_per_ha([np.nan, 20], 1) == pytest.approx(basal_area_m2(20))


def test_nothing_known_gives_nothing() -> None:
    assert qmd_cm([]) is None
    assert qmd_from_basal_area_cm(0.0, 0) is None
    assert mean([np.nan]) is None
    assert per_ha(3, 0) is None
    assert stems_per_ha(3, 0) is None
    assert lorey_height_m([np.nan], [20]) is None
    assert diameter_classes([np.nan], 5)[0].shape == (0,)


def test_top_height_takes_the_thickest_hundred_a_hectare() -> None:
    dbh = np.arange(10, 40.0)
    height = dbh / 2
    top = top_height(dbh, height, 0.05)
    assert top.trees == 5
    assert top.height_m == pytest.approx(np.mean([39, 38, 37, 36, 35]) / 2)


@pytest.mark.parametrize(("area", "number"), [(0, 1), (0.004, 1), (0.2128, 21), (0.125, 13), (1, 100)])
def test_top_number_rounds_and_is_never_none(area: float, number: int) -> None:
    assert top_number(area) == number


def test_top_height_needs_half_of_the_heights() -> None:
    dbh = [50, 40, 30, 20]
    assert top_height(dbh, [20, np.nan, np.nan, 10], 0.03).height_m is None
    found = top_height(dbh, [20, 18, np.nan, 10], 0.03)
    assert (found.height_m, found.trees, found.with_height) == (19, 3, 2)
    assert top_height([np.nan], [12.0], 1).height_m is None
