import pytest

from tests.scene.made_farm import made_farm


@pytest.fixture(scope="session")
def hill_farm():
    return made_farm()
