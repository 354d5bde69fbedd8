"""Gapping: what to plant again, from a survival count."""

from __future__ import annotations

import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from farmmap.errors import BadInput
from farmmap.plans.planting.keeping.gapping import Counted, by_plots, gapping, wilson, write_gapping
from farmmap.plans.planting.outcome.order import bought
from farmmap.plans.planting.recipes.recipe import StockOrder
from tests.plans.counted_plan import counted_plan

ORDERS = {"seedling": StockOrder(lost_percent=20, pack=40), "pole": StockOrder(pack=5, pack_words="bundle")}


def plan():
    return counted_plan([[("TOTA", "seedling", 500), ("willow", "pole", 100)], [("TOTA", "seedling", 300)]], ORDERS)


@given(st.integers(1, 3000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.5, 0.999))
def test_wilson_as_scipy_has_it(pair, sure):
    alive, counted = pair
    found = wilson(alive, counted, sure)
    theirs = binomtest(alive, counted).proportion_ci(sure, method="wilson")
    assert (found.least, found.most) == pytest.approx((theirs.low, theirs.high), abs=1e-12)
    assert found.least <= found.share + 1e-12
    assert found.share <= found.most + 1e-12


def test_by_plots_worked_by_hand():
    """3 plots of 10: 9, 7, 8 alive. Share 0.8; spread (1 + 1 + 0) / 2 = 1; error sqrt(1 / 3) / 10; t(0.975, 2) 4.3027."""
    found = by_plots([(9, 10), (7, 10), (8, 10)])
    assert found.share == pytest.approx(0.8)
    assert 0.8 - found.least == pytest.approx(4.302653 * 0.0577350, rel=1e-5)
    assert found.most == pytest.approx(1.0)  # held to what can be
    assert by_plots([(8, 10), (16, 20)]).least == pytest.approx(0.8)  # plots alike: no spread


def test_gaps_by_species_and_zone():
    found = gapping(
        plan(),
        [
            Counted(400, 500, zone="Zone 1", species="TOTA"),
            Counted(60, 100, species="willow"),
            Counted(90, 100),
        ],
    )
    assert [(gap.zone, gap.species, gap.alive, gap.to_replace) for gap in found.gaps] == [
        ("Zone 1", "TOTA", 400, 100),
        ("Zone 1", "willow", 60, 40),
        ("Zone 2", "TOTA", 270, 30),
    ]
    seedlings, poles = bought(plan().recipe, found.orders)
    assert (seedlings.plants, seedlings.with_losses, seedlings.packs, seedlings.to_order) == (130, 163, 5, 200)
    assert (poles.plants, poles.packs, poles.to_order) == (40, 8, 40)
    assert "ordered for losses at first" in found.notes[-1]
    assert found.notes[0].startswith("730 of 900 plants live (81 %); 170 are to be planted again to reach 100 %")


def test_the_order_for_the_gaps_as_csv(tmp_path):
    """163 of 130 at 20 % lost are 5 trays of 40, which zone 1 (100 of 130) gets 153.8 and zone 2 46.2 plants of."""
    counts = [Counted(400, 500, zone="Zone 1", species="TOTA"), Counted(100, 100, species="willow"), Counted(90, 100)]
    write_gapping(plan(), gapping(plan(), counts), tmp_path / "again.csv")
    raw = (tmp_path / "again.csv").read_bytes()
    assert raw.startswith(b"\xef\xbb\xbfzone,species,name,stock,")
    assert raw.count(b"\r\n") == 4
    with (tmp_path / "again.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    columns = ("zone", "species", "planted", "alive", "to_replace", "lost_percent", "to_order", "pack", "packs")
    assert [tuple(row[column] for column in columns) for row in rows] == [
        ("Zone 1", "TOTA", "500", "400", "100", "20", "154", "40", "3.85"),
        ("Zone 1", "willow", "100", "100", "0", "0", "0", "5", "0"),
        ("Zone 2", "TOTA", "300", "270", "30", "20", "46", "40", "1.15"),
    ]
    with pytest.raises(BadInput, match="is a folder"):
        write_gapping(plan(), gapping(plan(), counts), tmp_path)
    with pytest.raises(BadInput, match="cannot be written"):
        write_gapping(plan(), gapping(plan(), counts), tmp_path / "no" / "again.csv")


def test_a_target_below_what_was_planted():
    found = gapping(plan(), [Counted(80, 100)], target_percent=90)
    assert [(gap.alive, gap.to_replace) for gap in found.gaps] == [(400, 50), (80, 10), (240, 30)]
    assert all(gap.to_replace == 0 for gap in gapping(plan(), [Counted(95, 100)], target_percent=90).gaps)
    assert gapping(plan(), [Counted(95, 100)], target_percent=90).orders == ()


def test_a_sample_says_how_sure_it_is():
    found = gapping(plan(), [Counted(0, 0, plots=((18, 20), (10, 20), (14, 20)))])
    first = found.gaps[0]
    assert first.survival.share == pytest.approx(0.7)
    assert first.to_replace == 150
    assert first.least < 150 < first.most
    whole = wilson(42, 60)
    assert first.survival.least < whole.least  # the plots differ more than single plants would
    assert any("As not all were counted" in note for note in found.notes)
    every = gapping(plan(), [Counted(gap.alive, gap.planted, gap.zone, gap.species) for gap in found.gaps])
    assert not any("not all were counted" in note for note in every.notes)


def test_what_was_not_counted_is_said():
    found = gapping(plan(), [Counted(450, 500, zone="Zone 1", species="TOTA")])
    assert len(found.gaps) == 1
    assert found.notes[-2] == "Not counted, and taken to live: willow in Zone 1, TOTA in Zone 2."


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ([Counted(11, 10)], "11 alive of 10"),
        ([Counted(1, 0)], "1 alive of 0"),
        ([], "nothing was counted"),
        ([Counted(1, 2, zone="Timber")], "no zone 'Timber'; it has Zone 1, Zone 2"),
        ([Counted(1, 2, species="oak")], "no 'oak' was planted"),
        ([Counted(0, 0, plots=((3, 2), (0, 5)))], "two plots or more"),
    ],
)
def test_counts_that_cannot_be(counts, words):
    with pytest.raises(BadInput, match=words):
        gapping(plan(), counts)


def test_targets_and_intervals_that_cannot_be():
    with pytest.raises(BadInput, match="target of 0 %"):
        gapping(plan(), [Counted(1, 2)], target_percent=0)
    with pytest.raises(BadInput, match="cannot be"):
        wilson(3, 2)
    with pytest.raises(BadInput, match="two plots or more"):
        by_plots([(1, 2)])
    with pytest.raises(BadInput, match="nothing was planted"):
        by_plots([(0, 0), (0, 0)])


@given(
    st.lists(st.tuples(st.integers(0, 20), st.integers(20, 30)), min_size=1, max_size=5),
    st.floats(1, 100),
)
def test_never_fewer_than_the_gap(plots, target):
    found = gapping(plan(), [Counted(0, 0, plots=tuple(plots))], target_percent=target)
    for gap in found.gaps:
        assert gap.alive + gap.to_replace >= gap.planted * target / 100 - 0.51
        assert gap.least <= gap.to_replace + 1
        assert gap.to_replace <= gap.most + 1
    assert sum(line.plants for line in found.orders) == sum(gap.to_replace for gap in found.gaps)
