"""Figures carried over an edit equal those worked out afresh, and untouched rows are kept as they are."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from farmmap.farm.edits import rows_changed, rows_taken_away
from farmmap.farm.farm import Farm, Settings, new_farm, shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import TABLES
from farmmap.figures import blocks as blocks_module
from farmmap.figures.after_edit import carry_over
from farmmap.figures.blocks import block_figures, block_of_each_tree, members_of
from farmmap.figures.grounds import grounds
from farmmap.figures.margins import margin_figures
from farmmap.figures.standing import Standing, standing
from farmmap.figures.trees import tree_figures
from farmmap.figures.whole_farm import farm_figures
from tests.figures.kinds_of_edit import KINDS, ON, corner_moved, invented


def _tables(farm: Farm, on):
    return block_figures(farm, on), margin_figures(farm, on), farm_figures(farm, on), tree_figures(farm, on)


def _fresh(farm: Farm) -> Farm:
    """Return the same farm in tables of its own, so that nothing that is remembered is found."""
    return Farm(farm.settings, {name: frame.copy() for name, frame in farm.tables.items()})


def _same(quick: object, afresh: object, where: str) -> None:
    if isinstance(afresh, dict):
        assert list(quick) == list(afresh), where
        for key, value in afresh.items():
            _same(quick[key], value, f"{where}.{key}")
    elif isinstance(afresh, list | tuple):
        assert len(quick) == len(afresh), where
        for place, value in enumerate(afresh):
            _same(quick[place], value, f"{where}[{place}]")
    elif isinstance(afresh, float):
        assert quick == pytest.approx(afresh, rel=1e-12, abs=1e-12, nan_ok=True), where
    else:
        assert quick == afresh, where


def _same_figures(farm: Farm, on) -> None:
    other = _fresh(farm)
    for quick, afresh in zip(_tables(farm, on), _tables(other, on), strict=True):
        assert (quick.title, list(quick.ids), quick.notes) == (afresh.title, list(afresh.ids), afresh.notes)
        _same(list(quick.rows), list(afresh.rows), quick.name)
    assert block_of_each_tree(farm).tolist() == block_of_each_tree(other).tolist()
    for block in grounds(farm).ids.tolist():
        assert members_of(farm).trees_of(block).tolist() == members_of(other).trees_of(block).tolist()
    quick, afresh = standing(farm, on), standing(other, on)
    for field in dataclasses.fields(Standing):
        np.testing.assert_equal(getattr(quick, field.name), getattr(afresh, field.name), field.name)


@settings(max_examples=30)
@given(
    st.lists(st.tuples(st.sampled_from(list(KINDS)), st.integers(0, 2**32 - 1)), min_size=1, max_size=6), st.booleans()
)
def test_after_any_edits_the_figures_are_those_worked_out_afresh(edits, dated: bool) -> None:
    farm, on = _fresh(invented()), ON if dated else None
    _tables(farm, on)
    done = []
    for kind, seed in edits:
        edit = KINDS[kind](farm, np.random.default_rng(seed))
        after = edit.apply(farm)
        carry_over(farm, after, edit, on)
        _same_figures(after, on)
        done.append((edit, farm))
        farm = after
    for edit, before in reversed(done):
        after = edit.turned_round().apply(farm)
        carry_over(farm, after, edit.turned_round(), on)
        farm = after
        _same(list(block_figures(farm, on).rows), list(block_figures(_fresh(before), on).rows), "undone")


@pytest.mark.parametrize("kind", list(KINDS))
def test_each_kind_of_edit(kind: str) -> None:
    for seed in range(2):
        farm = _fresh(invented())
        _tables(farm, ON)
        edit = KINDS[kind](farm, np.random.default_rng(seed))
        after = edit.apply(farm)
        carry_over(farm, after, edit, ON)
        _same_figures(after, ON)


@pytest.mark.parametrize(
    ("kind", "most"), [("corner moved", 6), ("reading changed", 9), ("trees moved", 12), ("trees put in", 9)]
)
def test_only_what_was_touched_is_worked_out_again(kind: str, most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    farm = _fresh(invented())
    table = block_figures(farm, ON)
    edit = KINDS[kind](farm, np.random.default_rng(3))
    after, asked = edit.apply(farm), []
    real = blocks_module.Stocking
    monkeypatch.setattr(blocks_module, "Stocking", lambda a, b, ids: asked.append(len(ids)) or real(a, b, ids))
    carry_over(farm, after, edit, ON)
    quick = block_figures(after, ON)
    assert len(asked) == 1
    assert asked[0] <= most
    kept = [a is b for a, b in zip(quick.rows, table.rows, strict=True)]
    assert kept.count(False) == asked[0]


def test_an_edge_that_two_blocks_share_recounts_both() -> None:
    farm = _fresh(invented())
    before = block_figures(farm, ON)
    first, second = (set(map(tuple, shapely.get_coordinates(farm.blocks.geometry.loc[block]))) for block in (4, 5))
    shared = np.array(sorted(first & second))
    rows = farm.blocks.loc[[4, 5]].copy()
    off = lambda c: np.where((c[:, None] == shared).all(axis=2).any(axis=1)[:, None], c + np.array([9.0, 0.0]), c)  # noqa: E731
    rows["geometry"] = shapely.transform(rows.geometry.to_numpy(), off)
    edit = rows_changed(farm, "Move the edge between two blocks", "blocks", rows)
    after = edit.apply(farm)
    carry_over(farm, after, edit, ON)
    now = block_figures(after, ON)
    for block in (4, 5):
        assert now.row_of(block)["stems"] != before.row_of(block)["stems"]
    _same_figures(after, ON)


def test_nothing_is_worked_out_that_nobody_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    farm = _fresh(invented())
    edit = corner_moved(farm, np.random.default_rng(1))
    monkeypatch.setattr(blocks_module, "Stocking", lambda *_: pytest.fail("worked out"))
    carry_over(farm, edit.apply(farm), edit, ON)


def test_all_trees_taken_away_and_put_back() -> None:
    every = _fresh(invented())
    few = every.trees.index[::9]
    farm = rows_taken_away(
        every,
        "x",
        {
            "trees": every.trees.index.difference(few),
            "measurements": every.measurements.index[~every.measurements["tree"].isin(few)],
        },
    ).apply(every)
    _tables(farm, ON)
    steps = [few[:1], few[1:-1], few[-1:]]
    for ids in ([few], steps):
        now, done = farm, []
        for some in ids:
            readings = now.measurements.index[now.measurements["tree"].isin(some)]
            edit = rows_taken_away(now, "x", {"trees": some, "measurements": readings})
            after = edit.apply(now)
            carry_over(now, after, edit, ON)
            _same_figures(after, ON)
            done.append(edit)
            now = after
        assert not len(now.trees)
        for edit in reversed(done):
            after = edit.turned_round().apply(now)
            carry_over(now, after, edit.turned_round(), ON)
            _same_figures(after, ON)
            now = after


@pytest.mark.parametrize("table", ["tracks", "measurements"])
def test_widths_are_looked_for_at_the_scale_of_the_grid(table: str) -> None:
    """On EPSG:3857 a metre of ground is 1.3 m of grid, so a block further off than the width is still touched."""
    west, south = 19_400_000.0, -5_010_000.0
    rows = {
        "blocks": {"name": ["Flat"], "stage": ["existing"], "geometry": [box(west, south, west + 100, south + 100)]},
        "tracks": {
            "stage": ["existing"],
            "width_m": [20.0],
            "geometry": [LineString([(west - 12, south - 50), (west - 12, south + 30)])],
        },
        "trees": {"x": [west - 12], "y": [south + 60]},
        "measurements": {
            "tree": [1],
            "stem": [1],
            "measured_on": np.array([ON], "datetime64[s]"),
            "dbh_cm": [30.0],
            "crown_m": [20.0],
        },
    }
    tables = {name: shaped(TABLES[name], values, np.array([1]), Grid(3857)) for name, values in rows.items()}
    farm = Farm(Settings("Wide", 3857), {**new_farm("Wide", 3857).tables, **tables})
    block_figures(farm, ON)
    edit = rows_taken_away(farm, "Take away", {table: pd.Index([1])})
    after = edit.apply(farm)
    carry_over(farm, after, edit, ON)
    row, afresh = block_figures(after, ON).rows[0], block_figures(_fresh(after), ON).rows[0]
    assert row == afresh
    assert row != block_figures(farm, ON).rows[0]
