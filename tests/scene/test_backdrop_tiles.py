"""Tiles of pictures: which are asked for, kept, let go, and shown until the right ones come."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from farmmap.errors import BadInput
from farmmap.farm.grids import Grid
from farmmap.files.rasters import look_at
from farmmap.scene import backdrop_tiles
from farmmap.scene.backdrop_tiles import TILE, BackdropTiles, tiles_of
from farmmap.scene.raster_layer import RasterLayer
from farmmap.scene.view import View
from tests.files.raster_files import north_up, raster_file
from tests.place import EAST, NORTH


@pytest.fixture
def layer(tmp_path):
    row, column = np.mgrid[0:900, 0:1000]
    bands = np.stack([column // 4, row // 4, np.full_like(row, 99)]).astype(np.uint8)
    file = look_at(raster_file(tmp_path / "a.tif", bands, north_up(EAST, NORTH, 1.0)), Grid(2193))
    return RasterLayer("backdrops", 1.0, file.bounds, file, 2193)


def view(metres_per_mm=4.0, wide=200.0):
    return View(EAST + 500, NORTH - 450, metres_per_mm, wide, wide)


def dot_under(patch, x, y):
    west, south, east, north = patch.bounds
    rows, columns = patch.dots.shape[:2]
    return patch.dots[int((north - y) / (north - south) * rows), int((x - west) / (east - west) * columns)]


def test_read_at_once_they_make_one_picture(layer):
    patch = BackdropTiles().fetch(layer, view(), 4.0)
    assert dot_under(patch, EAST + 100.5, NORTH - 200.5).tolist() == [25, 50, 99, 255]
    assert dot_under(patch, EAST - 5, NORTH - 200)[3] == 0


@pytest.mark.parametrize(("metres_per_mm", "level"), [(4.0, 0), (8.0, 1), (9.0, 1), (64.0, 4), (0.1, 0)])
def test_no_finer_than_the_view_and_no_finer_than_the_file(layer, metres_per_mm, level):
    tiles = tiles_of(layer.file, 2193, view(metres_per_mm, 40.0), 4.0)
    assert {tile.level for tile in tiles} == {level}
    west, south, east, north = tiles[0].bounds
    assert (east - west) == (north - south) == TILE * 2**level


def test_a_view_of_too_many_dots_is_given_a_coarser_picture(layer):
    tiles = tiles_of(layer.file, 2193, view(), 4.0, most_dots=100_000)
    assert {tile.level for tile in tiles} == {2}
    assert tiles_of(layer.file, 2193, View(0, 0, 4, 9, 9), 4.0) == []


def test_missing_ones_are_asked_for_and_coarser_ones_shown_until_they_come(layer):
    asked = []
    tiles = BackdropTiles(asked.append)
    assert tiles.fetch(layer, view(16.0), 4.0) is None
    assert tiles.read(asked[-1])
    coarse = tiles.fetch(layer, view(16.0), 4.0)
    assert len(asked) == 1
    meanwhile = tiles.fetch(layer, view(4.0), 4.0)
    assert len(asked) == 2
    assert meanwhile.dots.shape[0] > coarse.dots.shape[0]
    at = EAST + 642.2, NORTH - 333.3
    assert dot_under(meanwhile, *at).astype(int) == pytest.approx([160, 83, 99, 255], abs=2)
    assert tiles.read(asked[-1])
    assert not tiles.read(asked[-1])
    assert dot_under(tiles.fetch(layer, view(4.0), 4.0), *at).tolist() == [160, 83, 99, 255]
    assert len(asked) == 2


def test_reading_stops_after_its_time_with_what_there_is(layer):
    asked = []
    tiles = BackdropTiles(asked.append)
    tiles.fetch(layer, view(), 4.0)
    told = []
    assert tiles.read(asked[-1], lambda done, total: told.append((done, total)), for_s=0.0)
    assert told == [(1, len(asked[-1]))]


def test_no_more_is_kept_than_agreed(layer, monkeypatch):
    monkeypatch.setattr(backdrop_tiles, "MOST_BYTES", 3 * TILE * TILE * 4)
    asked = []
    tiles = BackdropTiles(asked.append)
    tiles.fetch(layer, view(), 4.0)
    tiles.read(asked[-1])
    assert sum(map(tiles.holds, asked[-1])) == 3
    at_once = BackdropTiles()
    assert dot_under(at_once.fetch(layer, view(), 4.0), EAST + 900.5, NORTH - 800.5).tolist() == [225, 200, 99, 255]


def test_a_file_that_cannot_be_read_is_told_once_and_not_tried_again(layer):
    asked = []
    tiles = BackdropTiles(asked.append)
    tiles.fetch(layer, view(), 4.0)
    layer.file.path.unlink()
    assert not tiles.read(asked[-1])
    assert "a.tif is not in" in tiles.troubles[0]
    assert tiles.fetch(layer, view(), 4.0) is None
    assert len(asked) == 1
    assert BackdropTiles().fetch(layer, view(), 4.0) is None


def test_a_file_that_breaks_the_reading_is_not_tried_again_either(layer, monkeypatch):
    def broken(*_):
        raise ValueError("no such band")
        yield

    monkeypatch.setattr(backdrop_tiles, "pictures", broken)
    asked = []
    tiles = BackdropTiles(asked.append)
    tiles.fetch(layer, view(), 4.0)
    with pytest.raises(ValueError, match="no such band"):
        tiles.read(asked[-1])
    assert tiles.troubles == ("a.tif cannot be shown: no such band",)
    assert tiles.fetch(layer, view(), 4.0) is None
    assert len(asked) == 1


class Words(str):
    """Words that other threads may come between while they are looked at."""

    __slots__ = ()

    def __hash__(self):
        time.sleep(0.0002)
        return super().__hash__()


class Trouble(BadInput):
    def __str__(self):
        return Words(self.args[0])


def test_troubles_may_be_asked_for_while_files_are_read(layer, monkeypatch):
    """A dictionary that grows while it is gone through raises."""

    def gone(file, *_):
        raise Trouble(file.path.name)
        yield

    monkeypatch.setattr(backdrop_tiles, "pictures", gone)
    files = [replace(layer.file, path=layer.file.path.with_name(f"gone {n}.tif")) for n in range(60)]
    tiles, done = BackdropTiles(lambda _missing: None), threading.Event()

    def ask():
        while not done.wait(0.001):
            assert len(tiles.troubles) <= len(files)

    with ThreadPoolExecutor(1) as pool:
        asking = pool.submit(ask)
        tile = tiles_of(layer.file, 2193, view(), 4.0)[0]
        for file in files:
            tiles.read([replace(tile, file=file)])
            time.sleep(0.0005)
        done.set()
        asking.result()
    assert len(tiles.troubles) == len(files)
