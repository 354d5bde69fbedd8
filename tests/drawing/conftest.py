import datetime as dt

import pytest

from farmmap.scene.build import build_scene
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)


@pytest.fixture(scope="session")
def hill_farm():
    return made_farm()


@pytest.fixture(scope="session")
def hill_scene(hill_farm):
    return build_scene(hill_farm, ON, theme="light")


@pytest.fixture(scope="session", autouse=True)
def _application(qapp: object) -> object:
    """Fonts need an application; the window's own kind serves the other tests too."""
    return qapp
