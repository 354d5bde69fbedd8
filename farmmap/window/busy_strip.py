"""A strip that tells how far background work is, with a button that stops it."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QProgressBar, QPushButton, QWidget

from farmmap.window.jobs import Jobs

WIDE_CHARACTERS = 78
"""Width of the strip, in characters."""
SHOWN_AFTER_MS = 300
"""How long work may take before the strip comes up. [ms]"""


class BusyStrip(QFrame):
    """Comes up over the window for work that was started with words and takes a while."""

    def __init__(self, jobs: Jobs, over: QWidget) -> None:
        super().__init__(over)
        self._over = over
        self._jobs = jobs
        self._key = ""
        self._others: dict[str, str] = {}  # words of what runs besides, by key
        self._words = QLabel()
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setMaximumHeight(10)
        self.bar.setAccessibleName("Progress")
        self.stop_button = QPushButton("Stop")
        self.stop_button.clicked.connect(self._stop)
        self.setAutoFillBackground(True)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        over.installEventFilter(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 8, 6)
        self._words.setMinimumWidth(self.fontMetrics().averageCharWidth() * 30)
        row.addWidget(self._words)
        row.addWidget(self.bar, 1)
        row.addWidget(self.stop_button)
        self._wait = QTimer(self)
        self._wait.setSingleShot(True)
        self._wait.setInterval(SHOWN_AFTER_MS)
        self._wait.timeout.connect(self._come_up)
        self.setVisible(False)
        jobs.started.connect(self._started)
        jobs.progressed.connect(self._progressed)
        jobs.ended.connect(self._ended)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Stay at the top when what lies beneath changes its size."""
        if event.type() == QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)

    def _come_up(self) -> None:
        if self._key:
            self._place()
            self.raise_()
            self.setVisible(True)

    def _place(self) -> None:
        wide = min(self.fontMetrics().averageCharWidth() * WIDE_CHARACTERS, self._over.width() - 16)
        self.setGeometry((self._over.width() - wide) // 2, 8, wide, self.sizeHint().height())

    def _started(self, key: str, words: str) -> None:
        if words and (not self._key or self._key == key):
            self._tell_of(key, words)
            self._wait.start()
        elif words:
            self._others[key] = words

    def _tell_of(self, key: str, words: str) -> None:
        self._key = key
        self._words.setText(f"{words} …")
        self.bar.setRange(0, 0)
        self.stop_button.setEnabled(True)
        self.stop_button.setVisible(self._jobs.may_be_stopped(key))

    def _progressed(self, key: str, done: int, total: int, what: str) -> None:
        if key == self._key:
            self.bar.setRange(0, max(total, 1))
            self.bar.setValue(done)
            self._words.setText(f"{what[:1].upper()}{what[1:]} …")

    def _ended(self, key: str) -> None:
        if self._jobs.is_busy(key):
            return
        self._others.pop(key, None)
        if key != self._key:
            return
        if self._others:  # it takes longer than what was told of
            self._tell_of(*self._others.popitem())
            return
        self._key = ""
        self._wait.stop()
        self.setVisible(False)

    def _stop(self) -> None:
        self._words.setText("Stopping …")
        self.stop_button.setEnabled(False)
        self._jobs.stop(self._key)
