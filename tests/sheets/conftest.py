import pytest

from tests.scene.made_farm import made_farm


@pytest.fixture(scope="session")
def hill_farm():
    return made_farm()


@pytest.fixture(scope="session", autouse=True)
def _application(qapp: object) -> object:
    """Fonts need an application; the window's own kind serves the other tests too."""
    return qapp
