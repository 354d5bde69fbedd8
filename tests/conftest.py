"""What all tests share: no real home folder, hypothesis settings, and a small invented farm."""

from __future__ import annotations

import datetime as dt
import importlib.util
import os

import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from shapely import LineString, box

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.place import EAST, NORTH

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")  # tests need no screen; set it to see the windows

settings.register_profile(
    "farmmap", deadline=None, derandomize=True, max_examples=60, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("farmmap")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Know the settings of pytest-qt that pyproject.toml holds, also where pytest-qt and Qt are not installed."""
    if importlib.util.find_spec("pytestqt") is None:
        for name in ("qt_api", "qt_log_ignore", "qt_log_level_fail"):
            parser.addini(name, "setting of pytest-qt, which is not installed here")


@pytest.fixture(autouse=True)
def _own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep every test away from the real home folder."""
    home = tmp_path_factory.mktemp("home")
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(home))


def days(*texts: str) -> np.ndarray:
    """Days as the schema keeps them; "" for none."""
    return np.array([text or "NaT" for text in texts], "datetime64[s]")


def small_farm() -> Farm:
    """Two blocks side by side, a creek south of them, a fence, a track, six trees and their measurements."""
    farm = new_farm("Small Pipit", "EPSG:2193")

    def rows(table: str, /, **values: object) -> object:
        count = len(next(iter(values.values())))
        return shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)

    def at(*corners: tuple[float, float]) -> LineString:
        return LineString([(EAST + x, NORTH + y) for x, y in corners])

    def plot(west: float, south: float, east: float, north: float) -> object:
        return box(EAST + west, NORTH + south, EAST + east, NORTH + north)

    return farm.with_tables(
        boundary=rows("boundary", name=["Small Pipit"], geometry=[plot(-20, -60, 220, 120)]),
        blocks=rows(
            "blocks",
            name=["North Terrace", "Far Slope"],
            planted=["2004", "2010-07-15"],
            geometry=[plot(0, 0, 100, 100), plot(100, 0, 200, 100)],
        ),
        creeks=rows("creeks", name=["Sedge Creek"], channel_m=[2.0], geometry=[at((-20, -30), (220, -30))]),
        fences=rows("fences", name=["Creek fence"], geometry=[at((-20, -18), (100, -18))]),
        tracks=rows("tracks", name=["Ridge track"], geometry=[at((0, 95), (200, 95))]),
        hazards=rows(
            "hazards", name=["Line"], kind=["power line"], clear_m=[4.0], geometry=[at((150, -60), (150, 120))]
        ),
        species=rows(
            "species",
            code=["TOTA", "REDW"],
            name=["tōtara", "coast redwood"],
            scientific=["Podocarpus totara", "Sequoia sempervirens"],
            origin=["native", "introduced"],
        ),
        trees=rows(
            "trees",
            tag=["1", "2", "3", "4", "5", "6"],
            species=["TOTA", "TOTA", "REDW", "REDW", "TOTA", "REDW"],
            planted=["2004", "2004", "2004", "2010-07-15", "2010", "2010"],
            status=["alive", "alive", "dead", "alive", "alive", "alive"],
            status_on=days("", "", "2015-03-01", "", "", ""),
            x=EAST + np.array([10, 20, 30, 110, 120, 60]),
            y=NORTH + np.array([10, 10, 10, 10, 10, -25]),
        ),
        measurements=rows(
            "measurements",
            tree=[1, 1, 2, 3, 4, 6],
            measured_on=days("2012-05-01", "2020-05-01", "2020-05-01", "2012-05-01", "2020-05-01", "2020-05-01"),
            dbh_cm=[12.0, 22.5, 18.0, 10.0, 15.0, 20.0],
            height_m=[6.0, 11.0, 9.5, 5.0, 8.0, np.nan],
        ),
        notes=rows("notes", heading=["Soft ground"], written_on=days("2019-08-01"), geometry=[plot(5, 5, 6, 6)]),
    )


@pytest.fixture
def farm() -> Farm:
    """Return the small invented farm."""
    return small_farm()


@pytest.fixture
def day() -> dt.date:
    """Return a day on which all measurements of the small farm are taken."""
    return dt.date(2021, 1, 1)
