"""A small farm with a picture and an elevation grid under it."""

import numpy as np

from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import BACKDROPS
from tests.conftest import small_farm
from tests.files.raster_files import north_up, raster_file
from tests.place import EAST, NORTH


def with_backdrops(farm: Farm, **columns) -> Farm:
    """A farm with these backdrops instead of its own."""
    rows = len(next(iter(columns.values())))
    return farm.with_tables(backdrops=shaped(BACKDROPS, columns, np.arange(1, rows + 1), farm.grid))


def backdrop_farm(folder) -> Farm:
    """The small farm with ``hills.tif`` (heights) and ``above.tif`` (a picture) in a folder."""
    row, column = np.mgrid[0:120, 0:140]
    hills = 100 + 0.2 * column + 20 * np.sin(row / 12)
    raster_file(folder / "hills.tif", hills.astype(np.float32)[None], north_up(EAST - 200, NORTH + 300, 5.0))
    picture = np.stack([np.full((120, 140), shade, np.uint8) for shade in (60, 120, 40)])
    raster_file(folder / "above.tif", picture, north_up(EAST - 200, NORTH + 300, 5.0))
    return with_backdrops(
        small_farm(), name=["Hills", "From above"], path=["hills.tif", "above.tif"], kind=["elevation", "picture"]
    )
