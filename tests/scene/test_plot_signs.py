"""Sample plots on the map: to scale, with their names and a line of the key, hidden and repainted like all else."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
import shapely

from farmmap.figures.grounds import grounds
from farmmap.figures.sampling.zones import PlotShape
from farmmap.plans.sampling.counting import plots_measured
from farmmap.plans.sampling.layout import Layout, plots_laid_out
from farmmap.scene.build import build_scene
from farmmap.scene.edited import edited_grounds
from farmmap.scene.scene import AreaLayer, LabelLayer, MarkLayer
from farmmap.scene.styles import THEMES

ON = dt.date(2021, 1, 1)
SHAPES = {
    "circle": PlotShape("circle", radius_m=8.0),
    "strip": PlotShape("strip", length_m=20.0, width_m=6.0, bearing_deg=30.0),
    "angle count": PlotShape("angle count", baf_m2=2.0),
}


@pytest.fixture
def with_plots(farm):
    for place, shape in enumerate(SHAPES.values()):
        farm = plots_laid_out(farm, [2], Layout(plots=2, shape=shape, seed=place)).edit.apply(farm)
    return farm


def layers(scene, kind):
    return [layer for layer in scene.layers if layer.name == "plots" and isinstance(layer, kind)]


def test_circles_and_strips_are_to_scale_and_angle_counts_have_a_sign(with_plots):
    scene = build_scene(with_plots, ON)
    (areas,) = layers(scene, AreaLayer)
    scale = grounds(with_plots).scales[1]
    assert areas.ids.tolist() == [1, 2, 3, 4]
    expected = np.array([np.pi * 64] * 2 + [120.0] * 2) * scale**2
    assert shapely.area(areas.shapes) == pytest.approx(expected, rel=1e-3)
    assert areas.style.dash
    pegs, signs = layers(scene, MarkLayer)
    assert (pegs.style.shape, pegs.ids.tolist()) == ("peg", [1, 2, 3, 4])
    assert (signs.style.shape, signs.ids.tolist()) == ("angle", [5, 6])


def test_measured_plots_are_drawn_in_full(with_plots):
    after = plots_measured(with_plots, [1], ON).edit.apply(with_plots)
    to_do, done = layers(build_scene(after, ON), AreaLayer)
    assert (done.ids.tolist(), to_do.ids.tolist()) == ([1], [2, 3, 4])
    assert not done.style.dash


@pytest.mark.parametrize("look", list(THEMES))
def test_the_key_and_the_names(with_plots, look):
    after = plots_measured(with_plots, [1], ON).edit.apply(with_plots)
    scene = build_scene(after, ON, theme=look)
    lines = [(entry.words, entry.count) for entry in scene.key if entry.layer == "plots"]
    assert lines == [("sample plot", 1), ("sample plot, to measure", 3), ("angle count", 2)]
    (labels,) = [layer for layer in scene.layers if isinstance(layer, LabelLayer)]
    assert {"1", "2", "6"} <= {wording.text for wording in labels.wordings}


def test_hidden_plots_are_gone_with_their_names(with_plots):
    scene = build_scene(with_plots, ON, hidden=frozenset({"plots"}))
    assert not layers(scene, object)
    assert not any(entry.shown for entry in scene.key if entry.layer == "plots")
    assert not {"1", "2"} & scene.texts


def test_a_farm_without_plots_says_nothing_of_them(farm):
    scene = build_scene(farm, ON)
    assert not layers(scene, object)
    assert "plots" not in {entry.layer for entry in scene.key}


def test_the_map_is_painted_anew_where_plots_come_and_go(farm):
    edit = plots_laid_out(farm, [2], Layout(plots=1, shape=SHAPES["strip"], seed=4)).edit
    after = edit.apply(farm)
    none = np.empty(0, np.int64)
    (box,) = edited_grounds(farm, after, edit, none, (), ())
    (areas,) = layers(build_scene(after, ON), AreaLayer)
    assert shapely.box(*box).contains(areas.shapes[0])
    assert edited_grounds(after, farm, edit.turned_round(), none, (), ()) == [box]
