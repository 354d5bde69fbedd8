"""The script that makes the sample farm is no package; its folder is put where it can be imported from."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

SAMPLE_FARM = Path(__file__).resolve().parents[2] / "sample_farm"
sys.path.insert(0, str(SAMPLE_FARM))

if TYPE_CHECKING:
    from pipit_ground import Ground

    from farmmap.farm.farm import Farm


@pytest.fixture(scope="session")
def folder() -> Path:
    """Return the folder of the sample farm."""
    return SAMPLE_FARM


@pytest.fixture(scope="session")
def built() -> tuple[Farm, Ground]:
    """Return the farm as the script builds it now, and its ground."""
    from make_pipit_downs import pipit_downs

    farm, where, _ = pipit_downs()
    return farm, where
