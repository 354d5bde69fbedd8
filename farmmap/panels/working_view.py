"""How one figure was worked out, shown on demand under the table that it stands in."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtWidgets import QFrame, QHBoxLayout, QPlainTextEdit, QToolButton, QWidget

from farmmap.figures.catalogue import CATALOGUE, explain, working
from farmmap.panels.wrapped_label import WrappedLabel


def working_in_words(name: str, numbers: Mapping[str, object] | None) -> str:
    """Return the working of a figure: formula, numbers put in, meaning and source.

    Parameters
    ----------
    name : str
        Key of the figure.
    numbers : mapping or None
        The row that it stands in; None explains it without numbers.
    """
    if numbers is None:
        return explain(name)
    told = explain(name).splitlines()[1:]
    rest = [line for line in told if not line.startswith(("Symbol:", "Formula:", "Unit:"))]
    return "\n".join([working(name, numbers), "", *rest]).strip()


class WorkingView(QFrame):
    """A strip that names the figure under the cursor, with a button that shows its working.

    Attributes
    ----------
    text : QPlainTextEdit
        The working; whoever has the strip puts it where there is room.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self._name = ""
        self._numbers: Mapping[str, object] | None = None
        self._of = ""
        self.button = QToolButton()
        self.button.setText("?  How is this worked out")
        self.button.setCheckable(True)
        self.button.setToolTip(
            "Shows formula, numbers and source of the figure chosen in the table (F1, or Enter on it)"
        )
        self._heading = WrappedLabel()
        self.text = QPlainTextEdit()
        self.text.setReadOnly(True)
        self.text.setTabChangesFocus(True)
        self.text.setAccessibleName("How the figure is worked out")
        self.text.setVisible(False)
        self.text.setMinimumHeight(self.fontMetrics().lineSpacing() * 5)
        head = QHBoxLayout()
        head.addWidget(self.button)
        head.addWidget(self._heading, 1)
        head.setContentsMargins(0, 4, 0, 4)
        self.setLayout(head)
        self.button.toggled.connect(self._toggled)
        self.show_figure("", None, "")

    def show_figure(self, name: str, numbers: Mapping[str, object] | None, of: str) -> None:
        """Be about a figure: its key, the row it stands in, and the name of what that row is about."""
        self._name, self._numbers, self._of = name, numbers, of
        known = name in CATALOGUE
        self.button.setEnabled(known)
        if known:
            title = CATALOGUE[name].title
            self._heading.setText(f"{title} – {of}" if of else title)
        else:
            self._heading.setText("Choose a figure in the table.")
        self._fill()

    def open_working(self) -> None:
        """Show the working."""
        if self.button.isEnabled():
            self.button.setChecked(True)

    def _toggled(self, shown: bool) -> None:
        self.text.setVisible(shown)
        self._fill()

    def _fill(self) -> None:
        if self.button.isChecked():
            words = working_in_words(self._name, self._numbers) if self._name in CATALOGUE else ""
            self.text.setPlainText(words)
