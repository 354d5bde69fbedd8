"""The menus, as a list: what each line says, which keys it has, and what it does."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMainWindow


@dataclass(frozen=True)
class Line:
    """One line of a menu.

    Attributes
    ----------
    menu : str
        Menu that it stands in; "" for one that has keys only.
    words : str
        What it says; "" for a rule between lines.
    does : str
        Method of the window that it calls, with ``:word`` after it to hand on a word.
    keys : tuple of str
        Keys that do the same.
    needs_farm : bool
        Whether a farm has to be open.
    one_of : str
        Group of which one line is ticked.
    """

    menu: str
    words: str = ""
    does: str = ""
    keys: tuple[str, ...] = ()
    needs_farm: bool = False
    one_of: str = ""


LINES = (
    Line("Farm", "New farm…", "new_farm", ("Ctrl+N",)),
    Line("Farm", "Open farm…", "choose_farm", ("Ctrl+O",)),
    Line("Farm", "Open the sample farm", "open_sample"),
    Line("Farm"),
    Line("Farm", "Bring in…", "bring_in", ("Ctrl+B",), needs_farm=True),
    Line("Farm", "Print map…", "print_map", ("Ctrl+P",), needs_farm=True),
    Line("Farm"),
    Line("Farm", "Close farm", "close_farm", ("Ctrl+W",), needs_farm=True),
    Line("Farm", "Leave farmmap", "close", ("Ctrl+Q",)),
    Line("View", "Whole farm", "whole_farm", ("Ctrl+0",), needs_farm=True),
    Line("View", "Larger", "larger", ("Ctrl++", "Ctrl+="), needs_farm=True),
    Line("View", "Smaller", "smaller", ("Ctrl+-",), needs_farm=True),
    Line("View"),
    Line("View", "Colours as on this computer", "set_colours:system", one_of="colours"),
    Line("View", "Light colours", "set_colours:light", one_of="colours"),
    Line("View", "Dark colours", "set_colours:dark", one_of="colours"),
    Line("Help", "How figures are worked out…", "explain_figures"),
    Line("Help", "Keys and mouse…", "show_keys", ("Ctrl+K",)),
    Line("Help", "About farmmap…", "show_about"),
    Line("", "Find", "go_to_find", ("Ctrl+F",), needs_farm=True),
)


def fill_menus(window: QMainWindow, lines: tuple[Line, ...] = LINES) -> dict[str, QAction]:
    """Make the menus of a window; return its actions by what they do."""
    actions: dict[str, QAction] = {}
    groups: dict[str, QActionGroup] = {}
    menus = {name: window.menuBar().addMenu(name) for name in dict.fromkeys(line.menu for line in lines) if name}
    for line in lines:
        if not line.words:
            menus[line.menu].addSeparator()
            continue
        action = QAction(line.words, window)
        action.setShortcuts([QKeySequence(keys) for keys in line.keys])
        action.triggered.connect(_doing(window, line.does))
        if line.one_of:
            action.setCheckable(True)
            groups.setdefault(line.one_of, QActionGroup(window)).addAction(action)
        if line.menu:
            menus[line.menu].addAction(action)
        else:
            window.addAction(action)
        actions[line.does] = action
    return actions


def _doing(window: QMainWindow, does: str) -> object:
    method, _, word = does.partition(":")

    def do() -> None:
        getattr(window, method)(*([word] if word else []))

    return do


KEYS = """\
On the map
    drag                      move the map
    wheel, or pinch           larger and smaller
    two fingers               move the map
    click                     pick a tree, block or margin; again: what lies under it
    double click              come closer
    arrow keys                move the map
    +  and  −                 larger and smaller
    Home                      the whole farm
    Enter                     pick what is in the middle
    Escape                    let go of what is picked

On the date line
    drag                      go to another date
    ←  and  →                 a month back or on
    Page Up, Page Down        the next and the last measurement
    Home, End                 the first day and the last

In a table
    click on a heading        sort
    Enter, F1 or double click how the figure is worked out

Everywhere
    Tab                       from one part to the next
    Ctrl+F                    find a block or a tag
    Ctrl+K                    this page
"""
"""What keys and mouse do."""
