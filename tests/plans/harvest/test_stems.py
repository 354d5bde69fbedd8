"""Stems: the shape agrees with the volume, pieces never exceed the stem, and more wood is never less."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.figures.stand import basal_area_m2
from farmmap.plans.harvest.cutting import STUMP_M, TRIM_M, cut
from farmmap.plans.harvest.logs import huber_m3, newton_m3, smalian_m3
from farmmap.plans.harvest.product_list import Product, general_products, in_order
from farmmap.plans.harvest.stems import Stems

DIAMETERS = st.floats(1.0, 250.0)
HEIGHTS = st.floats(1.4, 90.0)
FORMS = st.floats(0.2, 0.7)


def stems(dbh: object, height: object, form: object = 0.35, bark: float = 0.92, breast: float = 1.3) -> Stems:
    d, h = np.atleast_1d(np.asarray(dbh, float)), np.atleast_1d(np.asarray(height, float))
    return Stems(d, h, np.asarray(form) * basal_area_m2(d) * h, breast, np.full(len(d), bark))


@given(DIAMETERS, HEIGHTS, FORMS)
def test_pieces_of_a_stem_add_up_to_it(dbh: float, height: float, form: float) -> None:
    stem = stems(dbh, height, form)
    cuts = np.linspace(0.0, height, 12)
    pieces = [stem.piece_m3(low, high)[0] for low, high in itertools.pairwise(cuts)]
    assert min(pieces) >= 0
    assert sum(pieces) == pytest.approx(stem.volume_m3[0], rel=1e-9)


@given(DIAMETERS, st.floats(12.0, 90.0), st.floats(0.35, 0.6))
def test_a_stem_is_as_thick_as_was_measured(dbh: float, height: float, form: float) -> None:
    stem = stems(dbh, height, form)
    assert stem.diameter_cm(1.3)[0] == pytest.approx(dbh, rel=1e-7)
    steps = stem.diameter_cm(np.linspace(0.0, height, 30))
    assert (np.diff(steps) <= 1e-9).all()


@given(DIAMETERS, HEIGHTS, FORMS, st.floats(0.01, 1.0))
def test_height_of_a_diameter_is_where_the_stem_has_it(dbh: float, height: float, form: float, part: float) -> None:
    stem = stems(dbh, height, form)
    at = height * part * 0.99
    assert stem.height_of_cm(stem.diameter_cm(at))[0] == pytest.approx(at, rel=1e-5, abs=1e-6)


def test_a_diameter_that_a_stem_nowhere_has() -> None:
    assert stems(20, 15).height_of_cm(60.0)[0] == 0.0
    assert stems(20, 15).diameter_cm(15.0)[0] == 0.0


@given(DIAMETERS, HEIGHTS, FORMS, st.floats(0, 20.0), st.sampled_from([0.7, 0.92, 1.0]), st.booleans())
def test_products_never_exceed_the_stem(
    dbh: float, height: float, form: float, pruned: float, bark: float, poor: bool
) -> None:
    stem = stems(dbh, height, form, bark)
    products = general_products()
    found = cut(stem, products, np.array([pruned]), np.array([poor]))
    under_bark = stem.volume_m3[0] * bark**2
    assert found.volume_m3.min() >= 0
    assert found.volume_m3.sum() <= under_bark * (1 + 1e-9)
    assert ((found.count > 0) == (found.volume_m3 > 0)).all()


PRODUCTS = st.lists(
    st.builds(
        Product,
        st.just("some"),
        st.sampled_from(["sawlog", "pole", "post", "firewood", "mushroom log", "other"]),
        small_end_cm=st.sampled_from([0.0, 5.0, 10.0, 20.0, 30.0]),
        large_end_cm=st.sampled_from([12.0, 20.0, 40.0, np.inf]),
        length_m=st.sampled_from([0.5, 1.0, 1.8, 3.6, float("nan")]),
    ),
    max_size=6,
)


@given(st.floats(10, 120), st.floats(8, 50), PRODUCTS)
def test_any_products_fit_into_the_stem_with_their_trim(dbh: float, height: float, wanted: list[Product]) -> None:
    stem = stems(dbh, height)
    products = in_order(wanted)
    found = cut(stem, products, np.array([np.nan]), np.array([False]))
    assert found.volume_m3.sum() <= stem.volume_m3[0] * 0.92**2 * (1 + 1e-9)
    long = sum(
        int(count) * (product.length_m + TRIM_M)
        for count, product in zip(found.count[0], products, strict=True)
        if not np.isnan(product.length_m)
    )
    pieces = int(found.count.sum())
    assert long <= height - STUMP_M + TRIM_M * max(pieces, 1) + 1e-6


@given(DIAMETERS, HEIGHTS, st.floats(1.0, 1.5), st.floats(1.0, 1.5))
def test_a_thicker_or_higher_stem_has_no_less_volume(dbh: float, height: float, wider: float, higher: float) -> None:
    assert stems(dbh * wider, height * higher).volume_m3[0] >= stems(dbh, height).volume_m3[0]


@given(st.floats(5, 200), st.floats(5, 200), st.floats(5, 200), st.floats(0.1, 20))
def test_newton_is_two_hubers_and_a_smalian(large: float, mid: float, small: float, length: float) -> None:
    mixed = (2 * huber_m3(mid, length) + smalian_m3(large, small, length)) / 3
    assert newton_m3(large, mid, small, length) == pytest.approx(mixed, rel=1e-12)


def test_order_of_cutting_by_hand() -> None:
    """A cone of 50 cm at the ground and 25 m: it loses 2 cm a metre, so every height can be read off."""
    volume = basal_area_m2(50.0) * 25.0 / 3.0
    cone = Stems(np.array([50.0 * (1 - 1.3 / 25)]), np.array([25.0]), np.array([volume]), 1.3, np.ones(1))
    products = in_order(
        [
            Product("firewood", "firewood", small_end_cm=6.0),
            Product("post", "post", small_end_cm=10.0, large_end_cm=16.0, length_m=1.4),
            Product("log", "sawlog", small_end_cm=30.0, length_m=3.0),
            Product("butt", "pruned log", small_end_cm=30.0),
        ]
    )
    assert [product.name for product in products] == ["butt", "log", "post", "firewood"]
    found = cut(cone, products, np.array([4.2]), np.array([False]))
    # butt 0.2 to 4.2 m; 30 cm is at 10 m: one log of 3 m and its trim to 7.3, a second would end at 10.3
    # 16 cm is at 17 m, 10 cm at 20 m: posts from 17 to 18.4 and from 18.5 to 19.9; firewood: 7.3 to 17 and 20 to 22
    assert found.count[0].tolist() == [1, 1, 2, 2]
    piece = cone.piece_m3
    assert found.volume_m3[0, 0] == pytest.approx(piece(0.2, 4.2)[0])
    assert found.volume_m3[0, 1] == pytest.approx(piece(4.2, 7.2)[0])
    assert found.volume_m3[0, 2] == pytest.approx(piece(17.0, 18.4)[0] + piece(18.5, 19.9)[0])
    assert found.volume_m3[0, 3] == pytest.approx(piece(7.3, 17.0)[0] + piece(20.0, 22.0)[0], rel=1e-9)


def test_poor_or_unpruned_stems_give_no_pruned_log() -> None:
    stem = stems([60, 60, 60], [30, 30, 30])
    wanted = (Product("butt", "pruned log", small_end_cm=30.0), Product("wood", "firewood"))
    found = cut(stem, wanted, np.array([6.0, np.nan, 6.0]), np.array([False, False, True]))
    assert found.count[:, 0].tolist() == [1, 0, 0]
    assert (found.count[:, 1] == 1).all()


def test_many_stems_at_once_are_cut_as_each_alone() -> None:
    chance = np.random.default_rng(7)
    many = 300
    dbh, height = chance.uniform(4, 90, many), chance.uniform(4, 40, many)
    pruned = np.where(chance.random(many) < 0.5, chance.uniform(2, 8, many), np.nan)
    poor = chance.random(many) < 0.2
    together = cut(stems(dbh, height), general_products(), pruned, poor)
    for one in range(0, many, 17):
        alone = cut(stems(dbh[one], height[one]), general_products(), pruned[[one]], poor[[one]])
        assert alone.count[0].tolist() == together.count[one].tolist()
        assert alone.volume_m3[0] == pytest.approx(together.volume_m3[one], rel=1e-9)
