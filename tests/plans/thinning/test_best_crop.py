"""The best set of crop trees: never too close, never better than it can be, the best where that is proven."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.plans.thinning import best_crop as module
from farmmap.plans.thinning.best_crop import best_crop
from farmmap.plans.thinning.best_set import tighter
from farmmap.plans.thinning.best_set.cliques import cliques_of
from farmmap.plans.thinning.best_set.conflicts import conflicts_of
from farmmap.plans.thinning.best_set.exchange import exchanged
from farmmap.plans.thinning.best_set.many_cliques import many_cliques_of
from farmmap.plans.thinning.best_set.prices import prices_of
from farmmap.plans.thinning.best_set.windows import Windows, bettered, first_choice


def close_pairs(x, y, least):
    away = np.hypot(np.subtract.outer(x, x), np.subtract.outer(y, y))
    return np.argwhere(np.triu(away < least * (1 - 1e-9), 1))


def tried_all(x, y, worth, least):
    """Return what the best of all sets is worth, by trying every one of them."""
    bars = [0] * len(x)
    for one, other in close_pairs(x, y, least).tolist():
        bars[one] |= 1 << other
        bars[other] |= 1 << one

    def best(left):
        if not left:
            return 0.0
        one = (left & -left).bit_length() - 1
        rest = left & ~(1 << one)
        return max(best(rest), worth[one] + best(rest & ~bars[one])) if worth[one] > 0 else best(rest)

    return best((1 << len(x)) - 1)


def greedy(x, y, worth, least):
    """Return what comes out when the worthiest tree left is always taken."""
    kept = []
    for one in np.argsort(-worth, kind="stable"):
        if all(np.hypot(x[one] - x[other], y[one] - y[other]) >= least for other in kept):
            kept.append(one)
    return float(worth[kept].sum())


def scattered(count, seed, per_ha=1000.0):
    draw = np.random.default_rng(seed)
    side = np.sqrt(count / per_ha * 1e4)
    return (*draw.random((2, count)) * side, draw.normal(1, 0.25, count).clip(0.05))


def in_rows(count, seed):
    draw = np.random.default_rng(seed)
    long = round(np.sqrt(count * 1.6))
    x, y = np.meshgrid(np.arange(count // long) * 4.0, np.arange(long) * 2.5)
    x, y = (axis.ravel() + draw.normal(0, 0.25, axis.size) for axis in (x, y))
    return x, y, draw.normal(1, 0.25, len(x)).clip(0.05)


places = st.lists(
    st.tuples(st.integers(0, 24), st.integers(0, 24), st.sampled_from([0.0, 0.25, 0.5, 0.75, 1.0, 1.5, -1.0])),
    max_size=15,
)


@settings(max_examples=40)
@given(places, st.sampled_from([0.0, 1.0, 5.0, 7.5, 10.0, 60.0]))
def test_the_best_of_all_sets_is_found(trees, least) -> None:
    x, y, worth = np.array(trees, float).reshape(-1, 3).T
    found = best_crop(x, y, worth, least)
    assert found.worth == pytest.approx(tried_all(x, y, worth, least))
    assert found.exact
    assert found.bound == pytest.approx(found.worth)
    chosen = np.flatnonzero(found.chosen)
    assert not len(close_pairs(x[chosen], y[chosen], least))
    assert found.worth == pytest.approx(worth[chosen].sum())


@given(st.integers(0, 2**32 - 1), st.integers(1, 20), st.floats(2.0, 30.0))
def test_scattered_trees_too(seed, count, least) -> None:
    x, y, worth = scattered(count, seed)
    found = best_crop(x, y, worth, least)
    assert found.exact
    assert found.worth == pytest.approx(tried_all(x, y, worth, least))


@settings(max_examples=30)
@given(st.integers(0, 1000), st.integers(20, 120), st.floats(3.0, 12.0))
def test_bounds_hold_and_no_two_are_too_close(seed, count, least) -> None:
    x, y, worth = scattered(count, seed)
    found = best_crop(x, y, worth, least, quick=True)
    chosen = found.chosen
    assert not len(close_pairs(x[chosen], y[chosen], least))
    assert greedy(x, y, worth, least) <= found.worth * (1 + 1e-9) <= found.bound * (1 + 2e-9)


def test_greedy_is_beaten_where_it_is_poor() -> None:
    """One tree a little better than each of five around it that do not bar each other: taking it first loses four."""
    angle = np.arange(5) * 2 * np.pi / 5
    x, y = np.append(6.9 * np.cos(angle), 0.0), np.append(6.9 * np.sin(angle), 0.0)
    worth = np.array([1.0] * 5 + [1.2])
    assert greedy(x, y, worth, 7.0) == pytest.approx(1.2)
    found = best_crop(x, y, worth, 7.0)
    assert found.exact
    assert found.worth == pytest.approx(5.0)


def test_agrees_with_a_general_solver() -> None:
    """The same problem given to HiGHS as whole numbers, a line for each clique."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    for seed in range(4):
        x, y, worth = scattered(90, seed, 700.0)
        order = np.argsort(-worth)
        graph = conflicts_of(np.column_stack([x, y])[order], worth[order], 8.0)
        cliques = cliques_of(graph)
        lines = csr_array((np.ones(len(cliques.member)), cliques.member, cliques.start), (len(cliques), len(graph)))
        solved = milp(-graph.worth, constraints=LinearConstraint(lines, ub=1.0), integrality=1, bounds=Bounds(0, 1))
        found = best_crop(x, y, worth, 8.0)
        assert found.exact
        assert found.worth == pytest.approx(-solved.fun, rel=1e-6)


@settings(max_examples=30)
@given(st.integers(0, 1000), st.floats(2.0, 9.0))
def test_cliques_are_cliques_and_hold_every_pair(seed, least) -> None:
    x, y, worth = scattered(80, seed)
    order = np.argsort(-worth)
    graph = conflicts_of(np.column_stack([x, y])[order], worth[order], least)
    cliques = cliques_of(graph)
    pairs = {tuple(pair) for pair in graph.pairs.tolist()}
    held = set()
    for clique in range(len(cliques)):
        members = sorted(cliques.member[cliques.start[clique] : cliques.start[clique + 1]].tolist())
        held |= set(itertools.combinations(members, 2))
    assert held == pairs
    prices = prices_of(graph.worth, cliques)
    assert (prices.clique >= 0).all()
    bound = prices.clique.sum() + prices.tree.sum()
    assert bound >= best_crop(x, y, worth, least).worth * (1 - 1e-9)


@pytest.mark.parametrize(
    ("trees", "most_percent"),
    [(scattered(400, 1), 1.5), (in_rows(400, 1), 5.0), (scattered(3000, 2), 4.5), (in_rows(3000, 2), 8.0)],
    ids=["400 scattered", "400 in rows", "3000 scattered", "3000 in rows"],
)
def test_large_blocks_are_bounded_tightly(trees, most_percent) -> None:
    """Of what is open most is the bound's: trees that may be chosen in part are worth more than whole ones."""
    x, y, worth = trees
    found = best_crop(x, y, worth, 8.0, quick=True)
    assert not len(close_pairs(x[found.chosen], y[found.chosen], 8.0))
    assert 100 * (found.bound / found.worth - 1) <= most_percent
    assert found.worth >= 1.04 * greedy(x, y, worth, 8.0)


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.floats(1.0, 3.0), st.floats(0.8, 2.5))
def test_bounds_from_small_windows_hold(seed, long, wide) -> None:
    """Windows so small that most cliques reach over an edge: the bound is looser, and still one."""
    x, y, worth = scattered(40, seed)
    graph = conflicts_of(np.column_stack([x, y]), worth, 8.0)
    if not len(graph.pairs):
        return
    cliques = cliques_of(graph)
    prices = prices_of(graph.worth, cliques)
    best = best_crop(x, y, worth, 8.0)
    assert best.exact
    parts = np.ones(int(graph.part.max()) + 1, bool)
    with pytest.MonkeyPatch.context() as patch:
        for most in (2, 50):
            patch.setattr(tighter, "CUTS", ((1000, ((long, wide, most, 0.0),)),))
            for chosen in (best.chosen, first_choice(graph, prices)):
                bound = tighter.tighter_bound(graph, cliques, prices, chosen, parts)
                own = np.bincount(graph.part, np.where(best.chosen, worth, 0.0))
                assert (bound >= own - 1e-9).all()


@given(st.integers(0, 10_000), st.integers(1, 6))
def test_windows_only_ever_make_a_choice_better(seed, most) -> None:
    x, y, worth = scattered(150, seed)
    graph = conflicts_of(np.column_stack([x, y]), worth, 6.0)
    cliques = cliques_of(graph)
    prices = prices_of(graph.worth, cliques)
    first = first_choice(graph, prices)
    better = bettered(graph, cliques, prices, first, Windows(3.0, 2.0, most, 3))
    for chosen in (first, better):
        assert not len(close_pairs(x[chosen], y[chosen], 6.0))
    assert worth[better].sum() >= worth[first].sum() * (1 - 1e-12)


heaps = st.sampled_from(["scattered", "one place each twice", "even grid", "in a line", "one spot"])


def laid_out(laid, seed, alike):
    """Return 120 trees, many of them alike in place or worth."""
    x, y, worth = scattered(120, seed)
    if laid == "one place each twice":
        x, y = np.tile(x[:60], 2), np.tile(y[:60], 2)
    if laid == "even grid":
        x, y = np.divmod(np.arange(120.0), 10) * np.array([[4.0], [2.5]])
    if laid == "in a line":
        x, y = np.arange(120.0) * 2, np.zeros(120)
    if laid == "one spot":
        x, y = np.zeros((2, 120))
    return x, y, np.ones(120) if alike else worth


@settings(max_examples=30)
@given(st.integers(0, 10_000), heaps, st.booleans())
def test_exchanges_only_ever_make_a_choice_better(seed, laid, alike) -> None:
    x, y, worth = laid_out(laid, seed, alike)
    graph = conflicts_of(np.column_stack([x, y]), worth, 8.0)
    prices = prices_of(worth, many_cliques_of(graph), many=True)
    first, better = exchanged(graph, prices, 0), exchanged(graph, prices)
    for chosen in (first, better):
        assert not len(close_pairs(x[chosen], y[chosen], 8.0))
    assert worth[first].sum() <= worth[better].sum() <= (prices.clique.sum() + prices.tree.sum()) * (1 + 1e-9)
    assert (exchanged(graph, prices) == better).all()


@settings(max_examples=30)
@given(st.integers(0, 10_000), heaps, st.floats(4.0, 20.0))
def test_quick_cliques_are_cliques_and_hold_every_tree_that_bars_another(seed, laid, least) -> None:
    """At 20 m trees bar more others than are looked at for cliques."""
    x, y, worth = laid_out(laid, seed, alike=False)
    graph = conflicts_of(np.column_stack([x, y]), worth, least)
    assert len(graph.pairs)
    cliques = many_cliques_of(graph)
    pairs = {tuple(pair) for pair in graph.pairs.tolist()}
    seen = set()
    for clique in range(len(cliques)):
        members = tuple(sorted(cliques.member[cliques.start[clique] : cliques.start[clique + 1]].tolist()))
        assert len(members) > 1
        assert members not in seen
        assert set(itertools.combinations(members, 2)) <= pairs
        seen.add(members)
    assert set(cliques.member.tolist()) == set(graph.pairs.ravel().tolist())


@pytest.mark.parametrize("away_m", [0.0, 7_000.3])
def test_trees_just_far_enough_apart_are_in_no_quick_clique_together(away_m) -> None:
    """On a grid of 1.62 m, 3 rows up and 4 along it is just 8.1 m; also far from the middle of a large forest."""
    x, y = (1.62 * axis.ravel() + away_m for axis in np.meshgrid(np.arange(30.0), np.arange(30.0)))
    graph = conflicts_of(np.column_stack([x, y]), np.random.default_rng(1).random(len(x)) + 0.5, 8.1)
    cliques = many_cliques_of(graph)
    pairs = {tuple(pair) for pair in graph.pairs.tolist()}
    for clique in range(len(cliques)):
        members = sorted(cliques.member[cliques.start[clique] : cliques.start[clique + 1]].tolist())
        assert set(itertools.combinations(members, 2)) <= pairs


@settings(max_examples=40)
@given(st.integers(0, 10_000), heaps, st.booleans(), st.floats(3.0, 9.0))
def test_among_very_many_trees_bounds_hold_too(seed, laid, alike, least) -> None:
    """The way that is taken among very many, among few, of which the best is known."""
    x, y, worth = laid_out(laid, seed, alike)
    best = best_crop(x, y, worth, least)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "MANY", 0)
        for whole in (0, module.MOST_WHOLE):
            patch.setattr(module, "MOST_WHOLE", whole)
            found = best_crop(x, y, worth, least, quick=True)
            assert not len(close_pairs(x[found.chosen], y[found.chosen], least))
            assert found.worth == pytest.approx(worth[found.chosen].sum())
            assert 0.75 * best.worth <= found.worth <= best.bound * (1 + 1e-9)
            assert found.bound >= best.worth * (1 - 1e-9)
            assert not found.exact or found.worth == pytest.approx(best.bound)


def test_very_many_trees_are_bounded_well() -> None:
    x, y, worth = in_rows(22_000, 3)
    found = best_crop(x, y, worth, 8.0)
    one = np.flatnonzero(found.chosen)
    assert not conflicts_of(np.column_stack([x[one], y[one]]), worth[one], 8.0).pairs.size
    assert 100 * (1 - found.worth / found.bound) <= 14.0
    assert (best_crop(x, y, worth, 8.0).chosen == found.chosen).all()


def test_parts_that_hang_together_are_found() -> None:
    draw = np.random.default_rng(9)
    for per_ha in (100.0, 250.0, 400.0):
        x, y, worth = scattered(600, int(draw.integers(1000)), per_ha)
        graph = conflicts_of(np.column_stack([x, y]), worth, 6.0)
        left, part = set(range(600)), np.full(600, -1)
        while left:
            queue = [min(left)]
            number = queue[0]
            while queue:
                tree = queue.pop()
                if tree in left:
                    left.remove(tree)
                    part[tree] = number
                    queue += graph.neighbours[graph.starts[tree] : graph.starts[tree + 1]].tolist()
        assert len(np.unique(part)) == graph.part.max() + 1 == len(np.unique(part * 1000 + graph.part))


def test_a_shelterbelt_of_any_length_is_solved_exactly() -> None:
    draw = np.random.default_rng(4)
    x, y, worth = draw.random(1200) * 1800, draw.random(1200) * 6, draw.random(1200) + 0.5
    found = best_crop(x, y, worth, 8.0)
    assert found.exact
    assert found.worth > 1.02 * greedy(x, y, worth, 8.0)


def test_parts_that_do_not_touch_are_solved_each() -> None:
    x, y, worth = scattered(60, 5)
    many = 40
    all_x = np.concatenate([x + 1000 * number for number in range(many)])
    found = best_crop(all_x, np.tile(y, many), np.tile(worth, many), 8.0)
    assert found.exact
    assert found.worth == pytest.approx(many * best_crop(x, y, worth, 8.0).worth)


def test_the_same_input_gives_the_same_choice_wherever_it_lies() -> None:
    x, y, worth = scattered(300, 6)
    one, other = best_crop(x, y, worth, 8.0), best_crop(x, y, worth, 8.0)
    assert (one.chosen == other.chosen).all()
    moved = best_crop(x + 1_800_000.0, y + 5_400_000.0, worth, 8.0)
    assert moved.worth == pytest.approx(one.worth)
    for times in (1e-12, 1e12):
        scaled = best_crop(x, y, worth * times, 8.0)
        assert scaled.worth == pytest.approx(one.worth * times)
        assert scaled.exact == one.exact


def test_nothing_that_cannot_be_meant_is_chosen() -> None:
    x = np.array([0.0, np.nan, 50.0, 100.0, np.inf, 150.0])
    worth = np.array([1.0, 9.0, 0.0, np.nan, 9.0, -3.0])
    found = best_crop(x, np.zeros(6), worth, 5.0)
    assert found.chosen.tolist() == [True, False, False, False, False, False]
    assert found.exact
    assert best_crop([], [], [], 5.0).worth == 0.0
    with pytest.raises(BadInput, match="do not go together"):
        best_crop([1.0], [1.0, 2.0], [1.0], 5.0)
    with pytest.raises(BadInput, match="least distance"):
        best_crop([1.0], [1.0], [1.0], np.nan)


def test_trees_at_one_place() -> None:
    found = best_crop(np.zeros(150), np.zeros(150), np.arange(150.0), 4.0)
    assert found.exact
    assert np.flatnonzero(found.chosen).tolist() == [149]
    assert best_crop(np.zeros(5), np.zeros(5), np.ones(5), 0.0).chosen.all()


def test_a_heap_of_trees_is_bounded_without_listing_its_pairs(monkeypatch) -> None:
    monkeypatch.setattr(module, "MOST_CROWDED", (1e6, 1e6))
    draw = np.random.default_rng(7)
    x, y, worth = draw.random(3000) * 30, draw.random(3000) * 30, draw.random(3000) + 0.1
    found = best_crop(x, y, worth, 8.0)
    assert not len(close_pairs(x[found.chosen], y[found.chosen], 8.0))
    assert greedy(x, y, worth, 8.0) * 0.9 < found.worth <= found.bound
    assert not found.exact


def test_work_grows_with_the_trees_not_faster(monkeypatch) -> None:
    """Counted, not timed: clique members for each tree, and choices kept, are no more for four times the trees."""
    kept = []
    was = module.swept

    def counting(graph, cliques, prices, pieces, best, most):
        kept.append(len(cliques.member) / len(graph))
        return was(graph, cliques, prices, pieces, best, most)

    from farmmap.plans.thinning.best_set import windows

    monkeypatch.setattr(windows, "swept", counting)
    for count in (3000, 12000):
        best_crop(*scattered(count, 8), 8.0, quick=True)
    assert len(kept) <= 2 * windows.WINDOWS[1][1].rounds
    assert max(kept) <= 12
    assert kept[-1] == pytest.approx(kept[0], rel=0.1)
