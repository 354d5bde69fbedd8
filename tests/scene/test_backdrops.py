"""What lies under the map, as part of a scene."""

import datetime as dt

import numpy as np
import pytest

from farmmap.farm.farm import shaped
from farmmap.farm.schema import BACKDROPS
from farmmap.scene.backdrops import NONE, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.raster_layer import RasterLayer
from tests.files.raster_files import north_up, raster_file
from tests.place import EAST, NORTH
from tests.scene.backdrop_farm import backdrop_farm, with_backdrops

ON = dt.date(2021, 1, 1)


@pytest.fixture
def hilly(tmp_path):
    return backdrop_farm(tmp_path)


def scene(farm, folder, **more):
    return build_scene(farm, ON, backdrops=find_backdrops(farm, folder), **more)


def names(made):
    return list(dict.fromkeys(layer.name for layer in made.layers))


def test_picture_and_relief_lie_under_everything_but_the_ground(hilly, tmp_path):
    made = scene(hilly, tmp_path)
    assert names(made)[:5] == ["ground", "backdrops", "relief", "blocks", "margins"]
    assert names(made).index("contours") < names(made).index("creeks")
    picture, relief = (layer for layer in made.layers if isinstance(layer, RasterLayer))
    assert picture.file.path == tmp_path / "above.tif"
    assert relief.held[0].dots.shape[2] == 4
    assert {entry.layer for entry in made.key} >= {"backdrops", "relief", "contours"}
    words = {entry.layer: entry.words for entry in made.key}
    assert words["backdrops"] == "From above"
    assert words["contours"] == "contour every 5 m"


@pytest.mark.parametrize("name", ["backdrops", "relief", "contours"])
def test_each_can_be_taken_off_the_map(hilly, tmp_path, name):
    made = scene(hilly, tmp_path, hidden=frozenset({name}))
    assert name not in names(made)
    assert [entry.shown for entry in made.key if entry.layer == name] == [False]


def test_fills_let_what_lies_beneath_be_seen_and_only_then(hilly, tmp_path, farm):
    plain, under = build_scene(farm, ON), scene(hilly, tmp_path)
    off = scene(hilly, tmp_path, hidden=frozenset({"backdrops", "relief"}))
    blocks = [next(layer for layer in made.layers if layer.name == "blocks").style for made in (plain, under, off)]
    assert blocks[0].opacity == blocks[2].opacity == 1.0
    assert blocks[1].opacity < 0.3
    assert blocks[1].line == blocks[0].line
    assert scene(hilly, tmp_path).theme is under.theme  # so that layers made for it are found again


def test_contours_are_named_and_heavier_every_fifth(hilly, tmp_path):
    made = scene(hilly, tmp_path)
    lines = [layer for layer in made.layers if layer.name == "contours"]
    assert lines[0].style.width_mm < lines[1].style.width_mm
    said = [wording.text for wording in made.layers[-1].wordings if wording.text.endswith(" m")]
    assert said
    assert {float(text[:-2]) % 25 for text in said} == {0.0}
    every = scene(with_backdrops(hilly, name=["H"], path=["hills.tif"], kind=["elevation"], contour_m=[2.0]), tmp_path)
    assert any(entry.words == "contour every 2 m" for entry in every.key)
    assert len(next(x for x in every.layers if x.name == "contours").ids) > len(lines[0].ids)


def test_a_backdrop_that_is_not_shown_is_not_in_the_scene_but_gives_its_heights(hilly, tmp_path):
    hidden = with_backdrops(hilly, name=["Hills"], path=["hills.tif"], kind=["elevation"], shown=["no"])
    found = find_backdrops(hidden, tmp_path)
    assert found.heights is not None
    assert found.elevation is None
    assert not {"relief", "contours", "backdrops"} & set(names(build_scene(hidden, ON, backdrops=found)))


def test_a_file_that_moved_away_is_named_in_the_key(hilly, tmp_path):
    (tmp_path / "above.tif").unlink()
    made = scene(hilly, tmp_path)
    assert "backdrops" not in names(made)
    assert [entry.words for entry in made.key if entry.layer == "backdrops"] == ["From above (cannot be shown)"]
    found = find_backdrops(hilly, tmp_path)
    assert "above.tif is not in" in found.all[1].trouble
    (tmp_path / "hills.tif").write_bytes(b"II*\x00broken")
    found = find_backdrops(hilly, tmp_path)
    assert found.heights is None
    assert any("hills.tif cannot be read" in line for line in found.said)


def test_a_coloured_picture_is_no_elevation_grid(hilly, tmp_path):
    wrong = with_backdrops(hilly, name=["Wrong"], path=["above.tif"], kind=["elevation"])
    assert "call it a picture" in find_backdrops(wrong, tmp_path).all[0].trouble


def test_paths_are_looked_for_from_the_farm_files_folder(hilly, tmp_path):
    full = with_backdrops(hilly, name=["Hills"], path=[str(tmp_path / "hills.tif")], kind=["elevation"])
    assert find_backdrops(full, None).heights is not None
    assert find_backdrops(hilly, tmp_path / "elsewhere").heights is None


def test_nothing_is_read_twice(hilly, tmp_path):
    found = find_backdrops(hilly, tmp_path)
    trees = hilly.trees.iloc[:3]
    again = find_backdrops(hilly.with_tables(trees=trees), tmp_path)
    assert again.same_as(found)
    renamed = hilly.tables["backdrops"].assign(name=["A", "B"])
    assert find_backdrops(hilly.with_tables(backdrops=renamed), tmp_path).heights is found.heights
    raster_file(tmp_path / "hills.tif", np.ones((1, 50, 50), np.float32), north_up(EAST, NORTH, 5.0))
    changed = find_backdrops(hilly, tmp_path)
    assert not changed.same_as(found)
    assert np.nanmax(changed.heights.values) == 1


def test_a_farm_without_backdrops_reads_nothing(farm, tmp_path):
    assert find_backdrops(farm, tmp_path) is NONE
    assert find_backdrops(farm.with_tables(backdrops=shaped(BACKDROPS, {}, np.empty(0), farm.grid)), None) is NONE


def test_dark_and_light_ground_are_shaded_both_ways(hilly, tmp_path):
    for theme in ("light", "dark", "paper"):
        made = scene(hilly, tmp_path, theme=theme)
        relief = next(layer for layer in made.layers if layer.name == "relief").held[0].dots
        assert ((relief[..., 0] == 0) & (relief[..., 3] > 20)).any()
        assert ((relief[..., 0] == relief[..., 3]) & (relief[..., 3] > 5)).any()


@pytest.mark.parametrize("steeper", [0.3, 1.0, 3.0])
def test_gentle_and_steep_ground_are_shaded_about_alike(hilly, tmp_path, steeper):
    row, column = np.mgrid[0:120, 0:140]
    hills = steeper * (100 + 0.2 * column + 20 * np.sin(row / 12))
    raster_file(tmp_path / "hills.tif", hills.astype(np.float32)[None], north_up(EAST - 200, NORTH + 300, 5.0))
    made = scene(hilly, tmp_path)
    dots = next(layer for layer in made.layers if layer.name == "relief").held[0].dots[:120, :140]
    black = dots[..., 3][dots[..., 0] == 0]
    assert 45 < np.percentile(black, 95) < 90
