"""How a farm writes where its backdrops are."""

from pathlib import Path

import numpy as np

from farmmap.farm.farm import shaped
from farmmap.farm.schema import BACKDROPS
from farmmap.files.raster_backdrops import bounds_around, path_of, path_text, with_paths_from
from tests.place import EAST, NORTH


def test_paths_inside_the_farms_folder_are_written_from_there_and_others_in_full(tmp_path):
    inside, outside = tmp_path / "farm" / "pictures" / "a b.tif", tmp_path / "b.tif"
    folder = tmp_path / "farm"
    assert path_text(inside, folder) == "pictures/a b.tif"
    assert path_text(outside, folder) == str(outside)
    assert path_text(inside, None) == str(inside)
    for path in (inside, outside):
        assert path_of(path_text(path, folder), folder) == path
    assert path_of("a.tif", None) == Path("a.tif")


def test_a_farm_written_elsewhere_still_finds_its_pictures(farm, tmp_path):
    rows = {"name": ["a", "b"], "path": ["sub/a.tif", str(tmp_path / "other" / "b.tif")]}
    one = farm.with_tables(backdrops=shaped(BACKDROPS, rows, np.arange(1, 3), farm.grid))
    moved = with_paths_from(one, tmp_path / "farm", tmp_path / "other").tables["backdrops"]
    assert moved["path"].tolist() == [str(tmp_path / "farm" / "sub" / "a.tif"), "b.tif"]
    assert (moved.dtypes == one.tables["backdrops"].dtypes).all()
    assert with_paths_from(farm, tmp_path, tmp_path) is farm


def test_heights_are_read_for_whole_steps_around_the_farm(farm):
    west, south, east, north = bounds_around(farm)
    assert west <= EAST - 20 - 400
    assert north >= NORTH + 120 + 400
    assert all(side % 500 == 0 for side in (west, south, east, north))
    assert bounds_around(farm.with_tables(notes=farm.notes.iloc[:0])) == (west, south, east, north)
