"""A window on a small farm and on the sample farm, its preferences in a folder of the test's own."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QDialog
from pytestqt.qtbot import QtBot

from farmmap.farm.farm import Farm
from farmmap.files.farm_file import write_farm
from farmmap.resource_files import sample_farm_path
from farmmap.window.farm_window import FarmWindow
from farmmap.window.preferences import Preferences

WAIT_MS = 30_000


@pytest.fixture
def preferences(tmp_path: Path) -> Preferences:
    """Return preferences of the test's own, with light colours."""
    kept = Preferences(QSettings(str(tmp_path / "farmmap.ini"), QSettings.Format.IniFormat))
    kept.colours = "light"
    return kept


@pytest.fixture
def window(qtbot: QtBot, preferences: Preferences) -> Iterator[FarmWindow]:
    """Return a window without a farm, its panels loaded; leaves no thread behind."""
    made = FarmWindow(preferences)
    qtbot.addWidget(made)
    made.resize(1300, 800)
    made.show()
    qtbot.waitExposed(made)
    made.load_panels()
    qtbot.waitUntil(lambda: made.panels.count() >= 3, timeout=WAIT_MS)
    yield made
    made.close()
    assert not [thread.name for thread in threading.enumerate() if thread.name.startswith("farmmap")]


@pytest.fixture
def settle(qtbot: QtBot) -> Callable[[FarmWindow], None]:
    """Return what waits until the map and the panel in sight are those of the session."""

    def wait(window: FarmWindow) -> None:
        def is_still() -> bool:
            page = window.panels.currentWidget()
            return window.map_view.is_up_to_date and page.is_up_to_date and not window.jobs.is_busy()

        qtbot.waitUntil(is_still, timeout=WAIT_MS)

    return wait


@pytest.fixture
def farm_path(farm: Farm, tmp_path: Path) -> Path:
    """Return the path of the small farm's file."""
    path = tmp_path / "small pipit.gpkg"
    write_farm(farm, path)
    return path


@pytest.fixture
def opened(qtbot: QtBot, window: FarmWindow, farm_path: Path, settle: Callable[[FarmWindow], None]) -> FarmWindow:
    """Return a window with the small farm open."""
    window.open_farm(farm_path)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    settle(window)
    return window


@pytest.fixture
def sample(qtbot: QtBot, window: FarmWindow, settle: Callable[[FarmWindow], None]) -> FarmWindow:
    """Return a window with the sample farm open."""
    window.open_farm(sample_farm_path())
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    settle(window)
    return window


@pytest.fixture
def dialog_of(qtbot: QtBot) -> Callable[[FarmWindow, type[QDialog]], QDialog]:
    """Return what finds the dialog of a kind that is open over a window."""

    def find(window: FarmWindow, kind: type[QDialog]) -> QDialog:
        def seen() -> list[QDialog]:
            return [dialog for dialog in window.findChildren(kind) if dialog.isVisible()]

        qtbot.waitUntil(lambda: bool(seen()), timeout=WAIT_MS)
        return seen()[0]

    return find
