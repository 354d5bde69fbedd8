"""The source of the map's pictures, asked by several threads at once."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from farmmap.scene import backdrop_tiles
from farmmap.scene.raster_layer import Patch, RasterLayer
from farmmap.scene.view import View
from farmmap.window.backdrops import MapBackdrops
from farmmap.window.jobs import Jobs
from farmmap.window.session import Session


def test_all_threads_that_paint_share_what_was_read(qtbot, monkeypatch):
    made, together = [], threading.Barrier(6)

    class Slow(backdrop_tiles.BackdropTiles):
        def __init__(self, when_missing=None):
            made.append(self)
            time.sleep(0.02)
            super().__init__(when_missing)

    monkeypatch.setattr(backdrop_tiles, "BackdropTiles", Slow)
    source = MapBackdrops(Session(), Jobs())
    bounds = (0.0, 0.0, 8.0, 8.0)
    layer = RasterLayer("relief", 1.0, bounds, None, 2193, (Patch(np.zeros((8, 8, 4), np.uint8), bounds),))

    def fetch(_number):
        together.wait()
        return source.fetch(layer, View(4, 4, 1, 8, 8), 1.0)

    with ThreadPoolExecutor(6) as pool:
        assert set(pool.map(fetch, range(6))) == {layer.held[0]}
    assert len(made) == 1
