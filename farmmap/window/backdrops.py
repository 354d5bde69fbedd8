"""What lies under the map in the window: found and read in the background, and shown as it comes."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal

from farmmap.progress import Progress
from farmmap.window.jobs import Jobs
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.scene.backdrop_tiles import BackdropTiles, Tile
    from farmmap.scene.backdrops import Backdrops
    from farmmap.scene.raster_layer import Patch, RasterLayer
    from farmmap.scene.view import View

READ_FOR_S = 0.6
"""What was read so far is shown after so long, and the rest is read then. [s]"""
_FIND, _READ = "find backdrops", "read backdrops"


class MapBackdrops(QObject):
    """Finds what lies under the map, and is the `TileSource` of the map on the screen.

    It gives what is at hand, and has the rest read. The map does not wait for
    any of it.
    """

    found = Signal(object, object)
    """Path of the farm file, and the `Backdrops` that lie under its map now."""
    arrived = Signal()
    """There is more to be seen than before."""
    trouble = Signal(str)
    """Why a picture cannot be read."""
    _missing = Signal(object)

    def __init__(self, session: Session, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session, self._jobs = session, jobs
        self._now: tuple[Path | None, Backdrops] | None = None
        self._tiles: BackdropTiles | None = None
        self._making = threading.Lock()
        self._read_last: frozenset[Tile] = frozenset()
        self._told: frozenset[str] = frozenset()
        self._missing.connect(self._read, Qt.ConnectionType.QueuedConnection)
        session.farm_changed.connect(self._find)

    def fetch(self, layer: RasterLayer, view: View, dots_per_mm: float) -> Patch | None:
        """Return what is at hand of a picture; called by the threads that paint."""
        with self._making:
            if self._tiles is None:
                from farmmap.scene.backdrop_tiles import BackdropTiles

                self._tiles = BackdropTiles(self._missing.emit)
        return self._tiles.fetch(layer, view, dots_per_mm)

    def _find(self) -> None:
        farm, path = self._session.farm, self._session.path
        if farm is None:
            self._now = None
            return
        if not len(farm.tables["backdrops"]) and (self._now is None or not self._now[1].all):
            return

        def find(progress: Progress) -> tuple[Path | None, Backdrops]:
            from farmmap.scene.backdrops import contour_words, find_backdrops

            found = find_backdrops(farm, None if path is None else path.parent, progress)
            contour_words(found)  # they are drawn here, so that the map need not wait for them
            return path, found

        self._jobs.start(_FIND, find, self._take_found, words="Looking at what lies under the map", owner=self)

    def _take_found(self, answer: tuple[Path | None, Backdrops]) -> None:
        path, backdrops = answer
        before = self._now
        if path != self._session.path or (before is not None and before[0] == path and before[1].same_as(backdrops)):
            return
        self._now = answer
        self.found.emit(path, backdrops)

    def _read(self, tiles: list[Tile]) -> None:
        kept, wanted = self._tiles, frozenset(tiles)
        if kept is None or wanted <= self._read_last:
            return  # they were let go at once, as all that is to be seen takes more room than there is

        def read(progress: Progress) -> frozenset[Tile]:
            def step(done: int, total: int) -> None:
                progress.step(done, total, "reading the picture under the map")

            return wanted if kept.read(tiles, step, READ_FOR_S) else frozenset()

        self._jobs.start(_READ, read, self._take_read, words="Reading the picture under the map", owner=self)

    def _take_read(self, read: frozenset[Tile]) -> None:
        assert self._tiles is not None
        for words in self._tiles.troubles:
            if words not in self._told:
                self._told |= {words}
                self.trouble.emit(words)
        if read:
            self._read_last = frozenset(tile for tile in read if self._tiles.holds(tile))
            self.arrived.emit()
