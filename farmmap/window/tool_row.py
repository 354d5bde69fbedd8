"""The row of tools above the map, and the same tools in a menu."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QMenu, QMenuBar, QToolButton, QWidget

from farmmap.installed_parts import BrokenPart
from farmmap.window.jobs import Jobs
from farmmap.window.map_tool import ToolKind, find_tools
from farmmap.window.messages import show_report
from farmmap.window.tools.bench import Bench


class ToolRow(QWidget):
    """A button for each tool, with a list that drops down where there is a choice.

    Parameters
    ----------
    bench : Bench
        Where the tools work.
    menu_bar : QMenuBar
        Its menu Tools offers the same.
    """

    def __init__(self, bench: Bench, menu_bar: QMenuBar, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self._menu_bar = menu_bar
        self.buttons: dict[str, QToolButton] = {}
        self.actions_by_choice: dict[tuple[str, str], QAction] = {}
        self._kinds: dict[str, ToolKind] = {}
        self.setAccessibleName("Tools")
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(10, 0, 10, 6)
        self._row.setSpacing(2)
        self._row.addStretch(1)
        self.setFixedHeight(_button("Pick").sizeHint().height() + 8)
        self._group = QActionGroup(self)
        self._group.setExclusionPolicy(QActionGroup.ExclusionPolicy.ExclusiveOptional)
        bench.changed.connect(self.follow)

    def find_tools(self, jobs: Jobs) -> None:
        """Find the tools that are installed in the background, and fill the row with them; called once."""
        jobs.start("tools", lambda _progress: find_tools(), lambda found: self.show_tools(*found), owner=self)

    def show_tools(self, kinds: tuple[ToolKind, ...], broken: tuple[BrokenPart, ...] = ()) -> None:
        """Fill the row; called once."""
        menu = next(action for action in self._menu_bar.actions() if action.text() == "Tools").menu()
        assert isinstance(menu, QMenu)
        lines = QMenu(menu)
        for kind in kinds:
            self._kinds[kind.name] = kind
            self._add(kind, lines)
        first = menu.actions()[0]
        menu.insertActions(first, lines.actions())
        menu.insertSeparator(first)
        for shut in broken:
            self._add_shut(shut)
        before: QWidget = self._bench.map_view
        for button in self.buttons.values():  # Tab goes from the map to its tools
            QWidget.setTabOrder(before, button)
            before = button
        resting = next((kind for kind in kinds if not kind.changes and not kind.choices), None)
        if resting is not None:
            self._bench.rest_with(resting)
        self.follow()

    def follow(self) -> None:
        """Show which tool is in the hand, and which are not to be had, and why."""
        why = self._bench.why_not()
        no_farm = self._bench.farm is None
        for name, button in self.buttons.items():
            kind = self._kinds[name]
            shut = why if kind.changes or no_farm else ""
            button.setEnabled(not shut)
            button.setChecked(self._bench.kind is kind)
            keys = f" ({kind.key})" if kind.key else ""
            button.setToolTip(f"{shut} {kind.tip}{keys}".strip())
            button.setAccessibleDescription(button.toolTip())
        for (name, choice), action in self.actions_by_choice.items():
            wanted, tool = self._kinds[name], self._bench.tool
            action.setEnabled(not (why if wanted.changes or no_farm else ""))
            action.setChecked(self._bench.kind is wanted and tool is not None and choice in ("", tool.choice))

    def take_up(self, name: str, choice: str = "") -> None:
        """Take up a tool by its name; one with a choice drops its list down if none was made."""
        kind = self._kinds[name]
        if kind.choices and not choice and self.buttons[name].isEnabled():
            self.buttons[name].showMenu()
        else:
            self._bench.take_up(kind, choice)

    def _add(self, kind: ToolKind, lines: QMenu) -> None:
        button = _button(f"{kind.name} ▾" if kind.choices else kind.name)
        button.setAccessibleName(kind.name)
        self.buttons[kind.name] = button
        self._row.insertWidget(self._row.count() - 1, button)
        if not kind.choices:
            action = self._action(kind.name, kind, "")
            lines.addAction(action)
            button.clicked.connect(lambda: self._pressed(kind))
            return
        menu = QMenu(button)
        menu.setToolTipsVisible(True)
        submenu = lines.addMenu(f"{kind.name}\t{kind.key}")
        for choice in kind.choices:
            action = self._action(choice.words, kind, choice.name)
            action.setToolTip(choice.tip)
            menu.addAction(action)
            submenu.addAction(action)
        button.setMenu(menu)
        button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu.aboutToHide.connect(self.follow)  # the press has checked the button, whatever was chosen
        if kind.key:
            opens = QAction(kind.name, self)
            opens.setShortcut(QKeySequence(kind.key))
            opens.triggered.connect(lambda: self.take_up(kind.name))
            self.addAction(opens)

    def _action(self, words: str, kind: ToolKind, choice: str) -> QAction:
        action = QAction(words, self)
        action.setCheckable(True)
        self._group.addAction(action)
        if not choice and kind.key:
            action.setShortcut(QKeySequence(kind.key))
        action.triggered.connect(lambda: self._chosen(kind, choice))
        self.actions_by_choice[kind.name, choice] = action
        return action

    def _chosen(self, kind: ToolKind, choice: str) -> None:
        self._bench.take_up(kind, choice)
        self.follow()

    def _pressed(self, kind: ToolKind) -> None:
        """Take the tool up, or lay it down if it is in the hand."""
        if self._bench.kind is kind:
            self._bench.lay_down()
        else:
            self._bench.take_up(kind)
        self.follow()

    def _add_shut(self, shut: BrokenPart) -> None:
        button = _button(f"{shut.name} (shut)")
        button.setCheckable(False)
        button.setToolTip(f"The tool {shut.name} does not work and was shut. Press to see the report.")
        button.clicked.connect(
            lambda: show_report(self.window(), f"The tool {shut.name} could not be loaded.", shut.report)
        )
        self._row.insertWidget(self._row.count() - 1, button)


def _button(words: str) -> QToolButton:
    button = QToolButton()
    button.setText(words)
    button.setCheckable(True)
    button.setProperty("tool", True)
    button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    return button
