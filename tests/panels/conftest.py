"""What the offscreen platform warns of is of no use here."""

from pathlib import Path

import pytest


def pytest_itemcollected(item: pytest.Item) -> None:
    """It knows no size hints, as it has no window frame to put them on."""
    if Path(str(item.fspath)).is_relative_to(Path(__file__).parent):
        item.add_marker(pytest.mark.qt_log_ignore("This plugin does not support"))
