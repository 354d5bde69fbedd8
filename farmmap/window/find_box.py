"""The field in which a block's name or a tree's tag is typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QModelIndex, QStringListModel, Qt, QTimer, Signal
from PySide6.QtWidgets import QCompleter, QLineEdit, QToolTip, QWidget

from farmmap.window.jobs import Jobs
from farmmap.window.map_contents import MapContents
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before it is needed
    from farmmap.scene.scene import Chosen
    from farmmap.window.find import Found


class FindBox(QLineEdit):
    """Offers what fits while typing; Enter takes the first."""

    found = Signal(object)
    """The rectangle of ground that shows what was found. [m]"""

    def __init__(self, session: Session, contents: MapContents, jobs: Jobs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._contents, self._jobs = session, contents, jobs
        self._found: list[Found] = []
        self._enter_waits = False
        self._offered = QStringListModel(self)
        self.setPlaceholderText("Find a block or a tag")
        self.setAccessibleName("Find a block or a tag")
        self.setToolTip("Type the name of a block or creek, or a tree's tag, then Enter (Ctrl+F comes here)")
        self.setClearButtonEnabled(True)
        self._completer = completer = QCompleter(self._offered, self)
        completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setMaxVisibleItems(12)
        self.setCompleter(completer)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(120)
        self._pause.timeout.connect(self._look)
        self.textEdited.connect(lambda _text: self._pause.start())
        self.returnPressed.connect(self._enter)
        chosen: Any = completer.activated  # the stub does not know that it comes in two kinds
        chosen[QModelIndex].connect(lambda index: self._take(index.row()))

    def _show_ground(self, chosen: Chosen) -> None:
        from farmmap.window.find import ground_of

        now = self._contents.now
        bounds = None if now is None else ground_of(now.farm, now.margins, chosen)
        if bounds is not None:
            self.found.emit(bounds)

    def _look(self) -> None:
        now, text = self._contents.now, self.text()
        if now is None:
            return

        def look(_progress: object) -> tuple[str, list[Found]]:
            from farmmap.window.find import find_things

            return text, find_things(now.farm, now.margins, text)

        self._jobs.start("find", look, self._show)

    def _show(self, answer: tuple[str, list[Found]]) -> None:
        text, found = answer
        if text != self.text():
            return
        self._found = found
        self._offered.setStringList([one.words for one in found])
        if self._enter_waits:
            self._enter_waits = False
            self._take(0)
        elif self.window().focusWidget() is self and found:
            self._completer.complete()

    def _enter(self) -> None:
        self._enter_waits = True
        self._pause.stop()
        self._look()

    def _take(self, place: int) -> None:
        popup = self._completer.popup()
        if popup is not None:
            popup.hide()
        if place < len(self._found):
            self._session.choose(self._found[place].chosen)
            self._show_ground(self._found[place].chosen)
            self.setStyleSheet("")
            self.setToolTip(f"Found: {self._found[place].words}")
        elif self.text().strip():
            self.selectAll()
            self._session.choose(None)
            words = f"Nothing on this farm is called “{self.text()}”."
            self.setToolTip(words)
            QToolTip.showText(self.mapToGlobal(self.rect().bottomLeft()), words, self)
