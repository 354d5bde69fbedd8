"""Figures after an edit equal those worked out afresh, and untouched rows are kept as they are."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest
import shapely
from shapely import LineString, box

from farmmap.farm.edits import Change, Edit, rows_changed, rows_put_in, rows_taken_away
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.figures import after_edit
from farmmap.figures.after_edit import block_figures_after, touched_blocks
from farmmap.figures.blocks import block_figures

ON = dt.date(2020, 6, 1)
WEST, SOUTH = 1_600_000.0, 5_480_000.0


@pytest.fixture(scope="module")
def farm(farm_with):
    random = np.random.default_rng(8)
    outlines = [
        box(WEST + i * 50, SOUTH + j * 50, WEST + i * 50 + 45, SOUTH + j * 50 + 48) for i in range(4) for j in range(4)
    ]
    xy = random.uniform(0, 200, (600, 2)) + np.array([WEST, SOUTH])
    return farm_with(
        blocks={"name": [f"B{n}" for n in range(16)], "geometry": outlines},
        tracks={"name": ["t"], "geometry": [LineString([(WEST, SOUTH + 20), (WEST + 200, SOUTH + 25)])]},
        trees={"x": xy[:, 0], "y": xy[:, 1], "species": random.choice(["A", "B"], 600)},
        species={"code": ["A", "B"], "name": ["alder", "beech"]},
        measurements={
            "tree": np.arange(1, 601),
            "measured_on": ["2020-01-01"] * 600,
            "dbh_cm": random.uniform(5, 50, 600),
        },
    )


def _edits(farm) -> dict[str, Edit]:
    blocks, trees = farm.blocks.loc[[6]].copy(), farm.trees.loc[[17, 400]].copy()
    blocks["geometry"] = shapely.transform(blocks.geometry.to_numpy(), lambda c: c + np.array([12, -7]))
    trees["x"] += 30.0
    dead = farm.trees.loc[[5]].copy()
    dead["status"] = "dead"
    measured = farm.measurements.loc[[50]].copy()
    measured["dbh_cm"] = 80.0
    wide = farm.tracks.loc[[1]].copy()
    wide["width_m"] = 11.0
    new = shaped(
        TABLES["blocks"],
        {"name": ["new"], "geometry": [box(WEST + 210, SOUTH, WEST + 240, SOUTH + 40)]},
        np.array([99]),
        farm.grid,
    )
    creek = shaped(
        TABLES["creeks"],
        {
            "name": ["c"],
            "geometry": [LineString([(WEST + 70, SOUTH + 70), (WEST + 120, SOUTH + 70)])],
            "channel_m": [30.0],
        },
        np.array([1]),
        farm.grid,
    )
    named = farm.species.loc[[1]].copy()
    named["name"] = "black alder"
    newer = farm.measurements.loc[[9]].copy()
    newer["measured_on"] = np.datetime64("2019-01-01", "s")
    return {
        "move a block": rows_changed(farm, "x", "blocks", blocks),
        "move two trees": rows_changed(farm, "x", "trees", trees),
        "a tree dies": rows_changed(farm, "x", "trees", dead),
        "a tree is measured": rows_changed(farm, "x", "measurements", measured),
        "a reading is dated": rows_changed(farm, "x", "measurements", newer),
        "a track grows wide": rows_changed(farm, "x", "tracks", wide),
        "a block is drawn": rows_put_in(farm, "x", {"blocks": new}),
        "a creek is drawn": rows_put_in(farm, "x", {"creeks": creek}),
        "a block is taken away": rows_taken_away(farm, "x", {"blocks": farm.blocks.index[[3]]}),
        "trees are taken away": rows_taken_away(farm, "x", {"trees": farm.trees.index[[3, 4]]}),
        "a species is renamed": rows_changed(farm, "x", "species", named),
        "breast height": Edit("x", {}, (farm.settings, dataclasses.replace(farm.settings, breast_height_m=1.4))),
        "nothing": Edit("x", {"blocks": Change(farm.blocks.iloc[:0], farm.blocks.iloc[:0])}),
    }


@pytest.mark.parametrize(
    "name",
    [
        "move a block",
        "move two trees",
        "a tree dies",
        "a tree is measured",
        "a reading is dated",
        "a track grows wide",
        "a block is drawn",
        "a creek is drawn",
        "a block is taken away",
        "trees are taken away",
        "a species is renamed",
        "breast height",
        "nothing",
    ],
)
@pytest.mark.parametrize("on", [ON, None])
def test_equals_figures_worked_out_afresh(farm, name: str, on) -> None:
    edit = _edits(farm)[name]
    after = edit.apply(farm)
    quick, afresh = block_figures_after(block_figures(farm, on), farm, after, edit, on), block_figures(after, on)
    assert list(quick.ids) == list(afresh.ids)
    assert quick.rows == afresh.rows
    assert quick.notes == afresh.notes


def test_only_what_was_touched_is_worked_out_again(farm, monkeypatch: pytest.MonkeyPatch) -> None:
    edit = _edits(farm)["a tree is measured"]
    after, table = edit.apply(farm), block_figures(farm, ON)
    touched = touched_blocks(farm, after, edit, ON)
    assert touched is not None
    assert 1 <= len(touched) <= 4
    asked = []
    real = after_edit.some_block_figures
    monkeypatch.setattr(
        after_edit, "some_block_figures", lambda f, ids, *more: asked.extend(ids) or real(f, ids, *more)
    )
    quick = block_figures_after(table, farm, after, edit, ON)
    assert asked == touched.tolist()
    kept = [a is b for a, b in zip(quick.rows, table.rows, strict=True)]
    assert kept.count(False) == len(touched)


def test_fences_touch_no_block(farm) -> None:
    fence = shaped(
        TABLES["fences"],
        {"name": ["f"], "geometry": [LineString([(WEST, SOUTH), (WEST + 200, SOUTH)])]},
        np.array([1]),
        farm.grid,
    )
    edit = rows_put_in(farm, "x", {"fences": fence})
    assert touched_blocks(farm, edit.apply(farm), edit, ON).tolist() == []
