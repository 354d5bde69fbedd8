"""What the window remembers from one day to the next: its colours, its place and the farms opened before."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings

from farmmap.window.theme import CHOICES

MOST_RECENT = 5


class Preferences:
    """Kept in the user's own settings.

    Parameters
    ----------
    settings : QSettings, optional
        Where they are kept; the user's own place if not given.
    """

    def __init__(self, settings: QSettings | None = None) -> None:
        self._settings = settings or QSettings("farmmap", "farmmap")

    @property
    def colours(self) -> str:
        """Which colours were chosen, one of `farmmap.window.theme.CHOICES`."""
        choice = str(self._settings.value("window/colours", "system"))
        return choice if choice in CHOICES else "system"

    @colours.setter
    def colours(self, choice: str) -> None:
        self._settings.setValue("window/colours", choice)

    @property
    def recent(self) -> list[Path]:
        """Farm files that were opened before and are still there, the last one first."""
        return [path for path in self.remembered if path.is_file()]

    @property
    def remembered(self) -> list[Path]:
        """Farm files that were opened before, the last one first, whether they are still there or not."""
        kept = self._settings.value("farms/recent", [])
        texts = kept if isinstance(kept, list) else [kept] if kept else []
        return [Path(str(text)) for text in texts]

    def remember_farm(self, path: Path) -> None:
        """Put a farm file first among those opened."""
        path = path.resolve()
        kept = [path, *[other for other in self.remembered if other != path]][:MOST_RECENT]
        self._settings.setValue("farms/recent", [str(one) for one in kept])

    @property
    def place(self) -> QByteArray | None:
        """Size and place of the window, as Qt saves them."""
        value = self._settings.value("window/place")
        return value if isinstance(value, QByteArray) else None

    @place.setter
    def place(self, value: QByteArray) -> None:
        self._settings.setValue("window/place", value)
