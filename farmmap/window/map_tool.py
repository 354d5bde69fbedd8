"""What a map tool is, and finding those that are installed: ours and anybody's, by the same door."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import QWidget

from farmmap.installed_parts import BrokenPart, installed_parts

if TYPE_CHECKING:
    from farmmap.scene.scene import KeyEntry
    from farmmap.window.tools.bench import Bench

GROUP = "farmmap.map_tools"
"""Entry-point group under which a package offers its map tools."""


class MapTool:
    """A tool that is in the hand: the map offers it every event first, and it paints over the map.

    A method that returns whether it took the event leaves the map to do what
    it always does where the answer is no: drags move the map, arrow keys move
    it, clicks pick. Override what the tool needs.

    Parameters
    ----------
    bench : Bench
        The farm, the map, the way edits go into the file, and where words are shown.
    choice : str
        Which of its `ToolChoice` was taken, "" if it has none.
    """

    cursor: Qt.CursorShape = Qt.CursorShape.ArrowCursor
    """Shape of the pointer while nothing is dragged."""

    def __init__(self, bench: Bench, choice: str = "") -> None:
        self.bench = bench
        self.choice = choice

    def begin(self) -> None:
        """Be taken into the hand."""

    def end(self) -> None:
        """Be laid down; what is half done is given up."""

    def take_focus(self) -> None:
        """Take the keyboard; the map has it unless the tool has fields of its own."""
        self.bench.map_view.setFocus(Qt.FocusReason.OtherFocusReason)

    def words(self) -> str:
        """Return what a person may do next, for the strip under the map."""
        return ""

    def answers(self) -> tuple[tuple[str, Callable[[], None]], ...]:
        """Return buttons for the strip under the map: words, and what each does."""
        return ()

    def options(self) -> QWidget | None:
        """Return what a person may set while the tool is in the hand, shown in the strip; made anew each time."""
        return None

    def beside(self) -> QWidget | None:
        """Return a box that stands beside the map, in place of the panels, while the tool is in the hand."""
        return None

    def key(self) -> tuple[KeyEntry, ...]:
        """Return lines for the key that tell the signs it paints; it emits ``MapView.key_changed`` on new ones."""
        return ()

    def pressed(self, event: QMouseEvent) -> bool:  # noqa: ARG002 - for those who override
        """Take hold of something; True if the drag that follows is the tool's and not the map's."""
        return False

    def dragged(self, event: QMouseEvent) -> None:
        """Drag what it took hold of."""

    def released(self, event: QMouseEvent) -> None:
        """Let go of what it took hold of."""

    def clicked(self, event: QMouseEvent) -> bool:  # noqa: ARG002 - for those who override
        """Take a click that was no drag."""
        return False

    def double_clicked(self, event: QMouseEvent) -> bool:  # noqa: ARG002 - for those who override
        """Take a double click; its first click was told as a click."""
        return False

    def hovered(self, event: QMouseEvent) -> None:
        """Follow the pointer while the tool drags nothing."""

    def left(self) -> None:
        """Know that the pointer has left the map."""

    def key_pressed(self, event: QKeyEvent) -> bool:  # noqa: ARG002 - for those who override
        """Take a key, Tab among them."""
        return False

    def wants_shortcut(self, event: QKeyEvent) -> bool:  # noqa: ARG002 - for those who override
        """Return whether a key that is a menu's too is the tool's for now, such as Ctrl+Z while something is drawn."""
        return False

    def farm_changed(self) -> None:
        """Know that the farm is another one, by an edit, an undo, or because another was opened."""

    def paint(self, painter: QPainter) -> None:
        """Paint over the map, in dots of the widget."""


@dataclass(frozen=True)
class ToolChoice:
    """One line of the list that drops down from a tool's button.

    Attributes
    ----------
    name : str
        Handed to the tool.
    words : str
        What the line says.
    tip : str
        What it is for.
    """

    name: str
    words: str
    tip: str = ""


@dataclass(frozen=True)
class ToolKind:
    """One tool of the row above the map.

    Attributes
    ----------
    name : str
        What its button says.
    tip : str
        What it is for, in a sentence.
    make : str
        ``module:name`` of a `MapTool` class, or of a function that makes one from the same two things; brought in
        when first taken up.
    choices : tuple of ToolChoice
        What drops down from its button; empty for none.
    changes : bool
        Whether it changes the farm, and so is not to be had on one that is only looked at.
    place : int
        Where it stands in the row, small numbers first.
    key : str
        Keys that take it up, such as ``F2``.
    """

    name: str
    tip: str
    make: str
    choices: tuple[ToolChoice, ...] = ()
    changes: bool = True
    place: int = 100
    key: str = ""

    def made(self, bench: Bench, choice: str) -> MapTool:
        """Return the tool, ready to be taken into the hand."""
        module, _, name = self.make.partition(":")
        tool = getattr(importlib.import_module(module), name)(bench, choice)
        if not isinstance(tool, MapTool):
            raise TypeError(f"{self.make} is a {type(tool).__name__}, not a MapTool")
        return tool


def find_tools() -> tuple[tuple[ToolKind, ...], tuple[BrokenPart, ...]]:
    """Return the tools that are installed in the order of the row, and those that could not be loaded."""
    tools, broken = installed_parts(GROUP, ToolKind)
    return tuple(sorted(tools, key=lambda kind: kind.place)), broken
