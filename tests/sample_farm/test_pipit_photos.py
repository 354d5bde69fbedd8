"""The pictures that stand for photographs are what the script paints, small, and marked as invented."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
import shapely
from rasterio.errors import NotGeoreferencedWarning


@pytest.mark.filterwarnings(f"ignore::{NotGeoreferencedWarning.__module__}.{NotGeoreferencedWarning.__name__}")
def test_the_pictures_are_what_the_script_paints(folder):
    from pipit_photos import HIGH, PHOTOS, WIDE, painted

    assert len(PHOTOS) == 3
    for _, name, _, _ in PHOTOS:
        assert (folder / name).stat().st_size < 60_000
        with rasterio.open(folder / name) as file:
            kept = np.moveaxis(file.read(), 0, 2).astype(float)
        assert kept.shape == (HIGH, WIDE, 3)
        assert np.abs(kept - painted(name)).mean() < 5
        mark = kept[HIGH - 48 : HIGH - 10, 8:120]
        assert mark.max() > 220  # letters on a dark ground
        assert np.median(mark) < 110


def test_points_and_photographs_of_the_farm(built, folder):
    farm, where = built
    points, photos = farm.tables["photo_points"], farm.tables["photos"]
    assert set(photos["photo_point"]) < set(points.index)
    assert all((folder / path).is_file() for path in photos["path"])
    assert shapely.contains_xy(where.boundary, points["x"], points["y"]).all()
