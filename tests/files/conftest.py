import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from farmmap.farm.farm import Farm, new_farm
from farmmap.files.bring import Brought, bring

EAST, NORTH = 1812000.0, 5478000.0
TODAY = dt.date(2026, 5, 31)


@pytest.fixture
def empty() -> Farm:
    return new_farm("Pipit Downs", "EPSG:2193")


@pytest.fixture
def put(tmp_path: Path) -> Callable[..., Path]:
    """Write a text or bytes to a file and return where it lies."""

    def write(name: str, content: str | bytes) -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return write


@pytest.fixture
def brought(put: Callable[..., Path], empty: Farm) -> Callable[..., tuple[Brought, Farm]]:
    """Bring a text in, check that the count adds up, and return what came and the farm after."""

    def go(content: str | bytes, table: str, farm: Farm | None = None, name: str = "from.csv", **options: Any):
        farm = farm or empty
        found = bring(farm, put(name, content), table, **({"today": TODAY} | options))
        assert found.read == found.came_in + len(found.bad)
        assert all(isinstance(row.raw, Mapping) and row.reason for row in found.bad)
        return found, farm if found.edit is None else found.edit.apply(farm)

    return go
