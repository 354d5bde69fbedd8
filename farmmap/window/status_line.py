"""The line under the map: where the pointer is, on which block, and that a map is no survey."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QWidget

from farmmap.window.map_contents import MapContents
from farmmap.window.messages import CAUTION, POWER_LINE

if TYPE_CHECKING:  # heavy to import: the window paints before it is needed
    from geopandas import GeoDataFrame

    from farmmap.window.map_contents import Contents

NO_SURVEY = "A map to work by, not a survey", "A map, not a survey"
KEEP_CLEAR = "Power line on this farm: keep clear", "Power line: keep clear"
"""Cautions, each in full and as it stands where there is little room."""
LOOK_EVERY_MS = 60
"""How long the pointer may rest before its block is looked up. [ms]"""


def in_threes(metres: float) -> str:
    """Return whole metres with a space between thousands: ``5 478 020``."""
    return f"{metres:,.0f}".replace(",", " ")


class StatusLine(QWidget):
    """Coordinates, the block under the pointer, and a caution."""

    def __init__(self, contents: MapContents, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._contents = contents
        self._point: tuple[float, float] | None = None
        self.place = QLabel()
        self.block = QLabel()
        self._cautions = NO_SURVEY
        self._hazards: GeoDataFrame | None = None
        self.caution = QLabel(NO_SURVEY[0])
        self.caution.setProperty("quiet", True)
        self.caution.setToolTip(CAUTION)
        self.caution.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.caution.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.place.setMinimumWidth(self.fontMetrics().horizontalAdvance("E 1 812 340   N 5 478 020  "))
        contents.changed.connect(self._caution)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 2, 10, 6)
        row.setSpacing(18)
        row.addWidget(self.place)
        row.addWidget(self.block)
        row.addWidget(self.caution, 1)
        self._row = row
        self._reading: QLabel | None = None
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(LOOK_EVERY_MS)
        self._pause.timeout.connect(self._look)

    def put_in(self, reading: QLabel) -> None:
        """Show lengths and areas that a tool reads off the map, after the coordinates."""
        self._reading = reading
        self._row.insertWidget(1, reading)

    def make_room(self) -> None:
        """Shorten the caution where there is little room, and leave it out where a reading takes its room."""
        parts = [part for part in (self.place, self._reading, self.block) if part is not None]
        margins = self._row.contentsMargins()
        taken = sum(max(part.sizeHint().width(), part.minimumWidth()) + self._row.spacing() for part in parts)
        room = self.width() - taken - margins.left() - margins.right()
        reads = self._reading is not None and bool(self._reading.text())
        wide = self.caution.fontMetrics().horizontalAdvance
        fits = next((words for words in self._cautions if wide(words) <= room), None)
        self.caution.setText(fits or self._cautions[-1])
        self.caution.setVisible(fits is not None or not reads)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as much of the caution as there is room for now."""
        super().resizeEvent(event)
        self.make_room()

    def point_at(self, ground: tuple[float, float] | None) -> None:
        """Follow the pointer."""
        self._point = ground
        if ground is None:
            self._pause.stop()
            self.place.clear()
            self.block.clear()
            self.make_room()
            return
        self.place.setText(f"E {in_threes(ground[0])}   N {in_threes(ground[1])}")
        if not self._pause.isActive():
            self._pause.start()

    def _caution(self) -> None:
        now = self._contents.now
        hazards = None if now is None else now.farm.hazards
        if hazards is self._hazards:
            return
        self._hazards = hazards
        line = hazards is not None and bool((hazards["kind"] == "power line").any())
        self._cautions = KEEP_CLEAR if line else NO_SURVEY
        self.caution.setToolTip(f"{POWER_LINE}\n\n{CAUTION}" if line else CAUTION)
        self.make_room()

    def _look(self) -> None:
        now = self._contents.now
        if now is not None and self._point is not None:
            self.block.setText(_block_at(now, *self._point))
            self.make_room()


def _block_at(now: Contents, x: float, y: float) -> str:
    from farmmap.scene.pick import pick

    found = pick(now.farm, now.standing, now.margins, x, y, 0.0, frozenset({"blocks"}))
    return "" if found is None else str(now.farm.blocks["name"].loc[found.id])
