"""Parts of pictures and elevation grids, laid on the farm's grid."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
import rasterio
from affine import Affine
from rasterio.enums import ColorInterp, Resampling

from farmmap.errors import BadInput, Stopped
from farmmap.farm.grids import Grid, transform
from farmmap.files import raster_reading
from farmmap.files.raster_reading import heights_at, heights_under, pictures
from farmmap.files.rasters import look_at
from tests.files.raster_files import laid, north_up, raster_file, turned
from tests.place import EAST, NORTH

NZTM = Grid(2193)


def read(path, bounds, size, grid=NZTM):
    (dots,) = pictures(look_at(path, grid), grid.epsg, [(bounds, size)])
    return dots


def chequered(rows=40, columns=60, bands=3):
    rng = np.random.default_rng(3)
    return rng.integers(0, 255, (bands, rows, columns)).astype(np.uint8)


def test_dot_for_dot_on_the_farms_own_grid(tmp_path):
    bands = chequered()
    path = raster_file(tmp_path / "a.tif", bands, north_up(EAST, NORTH, 2.0))
    dots = read(path, (EAST + 10, NORTH - 50, EAST + 70, NORTH - 20), (30, 15))
    assert (np.moveaxis(dots[..., :3], -1, 0) == bands[:, 10:25, 5:35]).all()
    assert (dots[..., 3] == 255).all()


def test_beyond_the_file_everything_is_clear(tmp_path):
    path = raster_file(tmp_path / "a.tif", chequered(), north_up(EAST, NORTH, 2.0))
    dots = read(path, (EAST - 20, NORTH - 20, EAST + 20, NORTH + 20), (20, 20))
    assert (dots[:10] == 0).all()
    assert (dots[:, :10] == 0).all()
    assert (dots[10:, 10:, 3] == 255).all()
    assert (read(path, (EAST - 500, NORTH, EAST - 400, NORTH + 100), (7, 5)) == 0).all()


def test_alpha_and_nodata_stay_clear_and_colours_are_multiplied(tmp_path):
    bands = np.stack([*np.full((3, 8, 8), 200, np.uint8), np.full((8, 8), 128, np.uint8)])
    bands[3, :, :4] = 0
    rgba = (ColorInterp.red, ColorInterp.green, ColorInterp.blue, ColorInterp.alpha)
    path = raster_file(tmp_path / "a.tif", bands, north_up(EAST, NORTH, 1.0), colorinterp=rgba)
    dots = read(path, (EAST, NORTH - 8, EAST + 8, NORTH), (8, 8))
    assert (dots[:, :4] == 0).all()
    assert (dots[:, 5:] == [100, 100, 100, 128]).all()
    holed = np.full((1, 8, 8), 50, np.uint8)
    holed[0, 2, 3] = 0
    path = raster_file(tmp_path / "b.tif", holed, north_up(EAST, NORTH, 1.0), nodata=0)
    dots = read(path, (EAST, NORTH - 8, EAST + 8, NORTH), (8, 8))
    assert dots[2, 3].tolist() == [0, 0, 0, 0]
    assert dots[5, 5].tolist() == [50, 50, 50, 255]


@pytest.mark.parametrize(
    ("dtype", "opaque"), [("uint16", 65535), ("float32", 1.0), ("float32", 255.0), ("float64", 1.0)]
)
def test_alpha_of_more_than_eight_bits(tmp_path, dtype, opaque):
    bands = np.empty((4, 8, 8), dtype)
    bands[:3] = np.linspace(0, 200, 64).reshape(8, 8)
    bands[3] = opaque
    bands[3, :, :4] = 0
    bands[3, :2, 4:] = opaque / 2
    if dtype != "uint16":
        bands[3, 7, 7] = np.nan
    rgba = (ColorInterp.red, ColorInterp.green, ColorInterp.blue, ColorInterp.alpha)
    path = raster_file(tmp_path / "a.tif", bands, north_up(EAST, NORTH, 1.0), colorinterp=rgba)
    dots = read(path, (EAST, NORTH - 8, EAST + 8, NORTH), (8, 8))
    assert (dots[:, :4] == 0).all()
    assert (dots[2:7, 4:, 3] == 255).all()
    assert dots[:2, 4:, 3].astype(int) == pytest.approx(np.full((2, 4), 127), abs=1)
    assert dots[7, 7, 3] == (255 if dtype == "uint16" else 0)


def test_a_palette_becomes_its_colours(tmp_path):
    bands = np.array([[[0, 1], [2, 1]]], np.uint8)
    palette = {0: (255, 0, 0, 255), 1: (0, 255, 0, 255), 2: (0, 0, 255, 255)}
    path = raster_file(tmp_path / "a.tif", bands, north_up(EAST, NORTH, 5), palette=palette, photometric="palette")
    dots = read(path, (EAST, NORTH - 10, EAST + 10, NORTH), (2, 2))
    assert dots[..., :3].tolist() == [[[255, 0, 0], [0, 255, 0]], [[0, 0, 255], [0, 255, 0]]]


def test_sixteen_bits_are_stretched_over_what_there_is(tmp_path):
    ramp = np.linspace(1000, 3000, 100 * 100).reshape(1, 100, 100).astype(np.uint16)
    path = raster_file(tmp_path / "a.tif", np.repeat(ramp, 3, 0), north_up(EAST, NORTH, 1.0), photometric="rgb")
    dots = read(path, (EAST, NORTH - 100, EAST + 100, NORTH), (100, 100))
    assert dots[0, 0, 0] == 0
    assert dots[-1, -1, 0] == 255
    assert int(dots[50, 0, 0]) == pytest.approx(127, abs=3)


def test_a_coarse_view_averages_and_reads_from_the_smaller_versions_inside(tmp_path, monkeypatch):
    bands = np.zeros((3, 512, 512), np.uint8)
    bands[:, :, ::2] = 200
    path = raster_file(tmp_path / "a.tif", bands, north_up(EAST, NORTH, 1.0), tiled=True, blockxsize=64, blockysize=64)
    with rasterio.open(path, "r+") as file:
        file.build_overviews([2, 4, 8, 16], Resampling.average)
    asked = []
    held = raster_reading._held

    def counted(file, *arguments, **more):
        found = held(file, *arguments, **more)
        asked.append(found.bands.shape)
        return found

    monkeypatch.setattr(raster_reading, "_held", counted)
    dots = read(path, (EAST, NORTH - 512, EAST + 512, NORTH), (32, 32))
    assert dots[4:-4, 4:-4, 0] == pytest.approx(np.full((24, 24), 100), abs=2)
    assert asked == [(3, 32, 32)]


def test_no_more_is_held_at_once_than_agreed(tmp_path, monkeypatch):
    monkeypatch.setattr(raster_reading, "MOST_READ_DOTS", 400)
    path = raster_file(tmp_path / "a.tif", np.full((1, 200, 200), 77, np.uint8), north_up(EAST, NORTH, 1.0))
    assert (read(path, (EAST, NORTH - 200, EAST + 200, NORTH), (200, 200))[..., 0] == 77).all()


@pytest.mark.parametrize("grid", ["EPSG:4326", "EPSG:32760", "EPSG:27200"])
def test_a_file_on_another_grid_is_laid_where_its_points_belong(tmp_path, grid):
    """A smooth ramp over the file's own grid must be found again at the places that PROJ carries it to."""
    epsg = int(grid[5:])
    x, y = transform(np.array([EAST, EAST + 1000.0]), np.array([NORTH, NORTH + 800.0]), 2193, epsg)
    west, north = x.min() - (x[1] - x[0]) * 0.1, y.max() + (y[1] - y[0]) * 0.1
    across, down = (x[1] - x[0]) * 1.2 / 400, (y[1] - y[0]) * 1.2 / 400
    row, column = np.mgrid[0:400, 0:400]
    ramp = (100 + 0.5 * column + 0.25 * row).astype(np.float32)[None]
    path = raster_file(tmp_path / "a.tif", ramp, Affine(across, 0, west, 0, -down, north), grid)
    found = heights_at(look_at(path, NZTM), 2193, (EAST, NORTH, EAST + 1000, NORTH + 800), (50, 40))
    at_x, at_y = np.meshgrid(EAST + (np.arange(50) + 0.5) * 20, NORTH + 800 - (np.arange(40) + 0.5) * 20)
    to_x, to_y = transform(at_x.ravel(), at_y.ravel(), 2193, epsg)
    want = 100 + 0.5 * ((to_x - west) / across - 0.5) + 0.25 * ((north - to_y) / down - 0.5)
    # averaged over the cells that one dot covers: a ramp keeps its values; nothing may be off by a tenth of a cell
    assert np.abs(found.ravel() - want).max() < 0.05


def test_a_turned_file_is_laid_by_its_corners(tmp_path):
    place = turned(EAST, NORTH, 2.0, 25)
    row, column = np.mgrid[0:100, 0:150]
    path = raster_file(tmp_path / "a.tif", (column + 10.0 * row).astype(np.float32)[None], place)
    at = np.array([laid(place, c + 0.5, r + 0.5) for c, r in ((40, 30), (90, 70))])
    for (x, y), want in zip(at, (340.0, 790.0), strict=True):
        found = heights_at(look_at(path, NZTM), 2193, (x - 0.5, y - 0.5, x + 0.5, y + 0.5), (1, 1))
        assert found[0, 0] == pytest.approx(want, abs=1e-3)


def test_heights_keep_the_files_own_cells_and_what_is_not_known(tmp_path):
    values = np.arange(30 * 20, dtype=np.float32).reshape(1, 20, 30)
    values[0, 4, 5], values[0, 6, 7] = -9999, -32768  # the second is not declared, but no ground lies there
    path = raster_file(tmp_path / "a.tif", values, north_up(EAST, NORTH, 10.0), nodata=-9999)
    found = heights_under([look_at(path, NZTM)], 2193, (EAST + 33, NORTH - 88, EAST + 99, NORTH - 22), 10_000)
    assert (found.west, found.north, found.across_m, found.down_m) == (EAST + 30, NORTH - 20, 10, 10)
    want = values[0, 2:9, 3:10].astype(float)
    want[2, 2] = want[4, 4] = np.nan
    np.testing.assert_array_equal(found.values, want)


def test_heights_are_read_more_coarsely_where_there_are_too_many(tmp_path):
    row, column = np.mgrid[0:400, 0:400]
    path = raster_file(tmp_path / "a.tif", (column + row).astype(np.float32)[None], north_up(EAST, NORTH, 1.0))
    found = heights_under([look_at(path, NZTM)], 2193, (EAST, NORTH - 400, EAST + 400, NORTH), 10_000)
    assert found.values.shape == (100, 100)
    assert found.across_m == 4.0
    assert found.values[10, 20] == pytest.approx(4 * 20 + 1.5 + 4 * 10 + 1.5)


def test_sheets_of_a_survey_are_put_together(tmp_path):
    row, column = np.mgrid[0:40, 0:80]
    whole = (column * 1.0 + row * 3.0).astype(np.float32)
    files = [
        look_at(raster_file(tmp_path / f"{n}.tif", part[None], north_up(EAST + left, NORTH, 2.0)), NZTM)
        for n, (part, left) in enumerate(((whole[:, :40], 0), (whole[:, 40:], 80)))
    ]
    found = heights_under(files, 2193, (EAST, NORTH - 80, EAST + 160, NORTH), 10_000)
    np.testing.assert_allclose(found.values, whole)
    assert heights_under(files, 2193, (EAST - 900, NORTH, EAST - 800, NORTH + 50), 10_000) is None


def test_a_file_that_is_another_than_it_was_is_refused(tmp_path):
    path = raster_file(tmp_path / "a.tif", chequered(), north_up(EAST, NORTH, 2.0))
    file = look_at(path, NZTM)
    raster_file(path, chequered(80, 80), north_up(EAST, NORTH, 2.0))
    with pytest.raises(BadInput, match=r"a\.tif was changed meanwhile"):
        list(pictures(file, 2193, [((EAST, NORTH - 10, EAST + 10, NORTH), (4, 4))]))
    path.unlink()
    with pytest.raises(BadInput, match=r"a\.tif is not in"):
        list(pictures(file, 2193, [((EAST, NORTH - 10, EAST + 10, NORTH), (4, 4))]))


def test_a_file_damaged_inside_is_said_to_be(tmp_path):
    path = raster_file(tmp_path / "a.tif", chequered(256, 256), north_up(EAST, NORTH, 2.0), compress="deflate")
    whole = bytearray(path.read_bytes())
    whole[len(whole) // 2 : len(whole) // 2 + 60_000] = b"\x00" * 60_000
    path.write_bytes(bytes(whole[: path.stat().st_size]))
    with pytest.raises(BadInput, match=r"a\.tif is damaged"):
        read(path, (EAST, NORTH - 512, EAST + 512, NORTH), (256, 256))


def test_threads_read_the_same_file_at_once(tmp_path):
    path = raster_file(
        tmp_path / "a.tif", chequered(600, 600), north_up(EAST, NORTH, 1.0), tiled=True, blockxsize=64, blockysize=64
    )
    parts = [((EAST + n, NORTH - 300 - n, EAST + 300 + n, NORTH - n), (300, 300)) for n in range(0, 160, 10)]
    file = look_at(path, NZTM)
    one_by_one = [next(iter(pictures(file, 2193, [part]))) for part in parts]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda part: next(iter(pictures(file, 2193, [part]))), parts))
    assert all(np.array_equal(one, other) for one, other in zip(one_by_one, together, strict=True))


def test_reading_heights_can_be_stopped(tmp_path, monkeypatch):
    monkeypatch.setattr(raster_reading, "STRIP", 10)
    path = raster_file(tmp_path / "a.tif", np.ones((1, 40, 40), np.float32), north_up(EAST, NORTH, 1.0))
    told = []

    class Stopping:
        def step(self, done, total, what):
            told.append((done, total))
            if done == 20:
                raise Stopped("Stopped.")

    with pytest.raises(Stopped):
        heights_under([look_at(path, NZTM)], 2193, (EAST, NORTH - 40, EAST + 40, NORTH), 10_000, Stopping())
    assert told == [(0, 40), (10, 40), (20, 40)]
