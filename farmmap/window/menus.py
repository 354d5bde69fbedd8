"""The menus, as a list: what each line says, which keys it has, and what it does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMainWindow

if TYPE_CHECKING:  # the window paints before they are needed
    from farmmap.window.farm_files import FarmFiles
    from farmmap.window.session import Session


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
    changes : bool
        Whether it changes the farm, so that one that is only looked at does not let it be done.
    """

    menu: str
    words: str = ""
    does: str = ""
    keys: tuple[str, ...] = ()
    needs_farm: bool = False
    one_of: str = ""
    changes: bool = False


LINES = (
    Line("Farm", "New farm…", "new_farm", ("Ctrl+N",)),
    Line("Farm", "Open farm…", "choose_farm", ("Ctrl+O",)),
    Line("Farm", "Open the sample farm", "open_sample"),
    Line("Farm"),
    Line("Farm", "Bring in…", "bring_in", ("Ctrl+B",), changes=True),
    Line("Farm", "Print map…", "print_map", ("Ctrl+P",), needs_farm=True),
    Line("Farm", "Application pack…", "print_map:pack", ("Ctrl+Shift+P",), needs_farm=True),
    Line("Farm"),
    Line("Farm", "Go back to an earlier copy…", "show_copies", needs_farm=True),
    Line("Farm", "Close farm", "close_farm", ("Ctrl+W",), needs_farm=True),
    Line("Farm", "Leave farmmap", "close", ("Ctrl+Q",)),
    Line("Edit", "Undo", "undo", ("Ctrl+Z",), changes=True),
    Line("Edit", "Redo", "redo", ("Ctrl+Shift+Z", "Ctrl+Y"), changes=True),
    Line("Edit", "What was done…", "show_history", needs_farm=True),
    Line("Tools", "Change fields of what is picked…", "change_fields", ("Ctrl+E",), changes=True),
    Line("Tools", "Take away what is picked…", "take_away_picked", changes=True),
    Line("Tools", "Photographs…", "show_photos", needs_farm=True),
    Line("View", "Whole farm", "whole_farm", ("Ctrl+0",), needs_farm=True),
    Line("View", "Larger", "larger", ("Ctrl++", "Ctrl+="), needs_farm=True),
    Line("View", "Smaller", "smaller", ("Ctrl+-",), needs_farm=True),
    Line("View"),
    Line("View", "Backdrops…", "show_backdrops", needs_farm=True),
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
    for menu in menus.values():
        menu.setToolTipsVisible(True)  # a line that cannot be used says why
    for line in lines:
        if not line.words:
            menus[line.menu].addSeparator()
            continue
        action = QAction(line.words, window)
        action.setEnabled(not (line.needs_farm or line.changes))
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


def enable_lines(actions: Mapping[str, QAction], session: Session, files: FarmFiles) -> None:
    """Let the menus offer what can be done, name what can be taken back, and say why something cannot be done."""
    has_farm, may_edit = session.farm is not None, session.may_edit
    for line in LINES:
        action = actions.get(line.does)
        if action is not None and (line.needs_farm or line.changes):
            action.setEnabled(may_edit if line.changes else has_farm)
            action.setToolTip(session.held_by if line.changes and has_farm and not may_edit else line.words)
    for does, words, name in (("undo", "Undo", files.undo_name), ("redo", "Redo", files.redo_name)):
        actions[does].setText(f"{words}: {name}" if name else words)
        actions[does].setEnabled(may_edit and bool(name))


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

With Pick (F2)
    Shift and click           pick more, or let go of one
    Shift and drag            pick all in a rectangle
    Enter, Shift and Enter    pick what is in the middle, pick more
    Delete                    take away what is picked, once it was shown what goes
    Ctrl+E                    change fields of what is picked

Drawing (Draw, F3), mending blocks (Blocks, F6), measuring (Measure, F9)
    click                     set a corner
    double click              end
    Backspace, Ctrl+Z         take the last corner back
    Escape                    give up; again: lay the tool down
    Ctrl held                 no snapping
    arrow keys                move the cross-hair; with Shift a little
    Enter                     set a corner at the cross-hair; again: end
    type a number             exact: 25 @ 90, +12 -5, or E 1812000 N 5478000

With Reshape (F4)
    drag a corner             move it; neighbours that share it move along
    click or drag an edge     add a corner
    Tab, Shift and Tab        the next corner, the one before
    arrow keys                move the chosen corner 1 m; with Shift 0.1 m
    Delete, A                 take the chosen corner out, add one after it
    type a number             move it exactly: 2 @ 90

With Draw (F3), Photo point
    click, and click          where the camera stands, and where it looks
    Enter after one click     a photo point whose bearing is left open
    drag, Shift and drag      move one that is there, turn it towards the view

With Tree (F7)
    click, or Enter           place a tree
    drag                      move it, and all that are picked with it
    Space, then arrow keys    take it up and move it; Enter sets it down

With Tape (F8)
    Enter                     from tag to diameter, and on to the next tree
    Tab                       height and pruned height, where they were taken
    K                         keep a reading that is hardly believable
    Escape                    end

With Mark (F5)
    click, or Enter           turn a tree: crop, take out, leave
    C, T, L                   mark the tree under the pointer at once
    drag from a tree          mark all that it passes over
    Shift and drag            mark all in a rectangle

With Plant (F10)
    click a creek             plan a planting along it
    click along it, twice     where the planting begins, and where it ends
    drag a square             the width, or an end; with Shift in small steps
    Tab, Shift and Tab        from field to field in the box
    ↑  and  ↓  in a number    more, less
    Escape                    from the box to the map; again: lay the tool down

In Backdrops (menu View)
    ↑  and  ↓                 another backdrop
    Space                     show or hide it

Where a sheet is composed (Print map)
    click, and drag           pick an element of the page, and move it; the map once it is picked
    drag a corner or edge     make it larger or smaller; Ctrl held: no snapping
    Tab, Shift and Tab        the next element, the one before
    arrow keys                move it 1 mm; with Shift 5 mm; with Ctrl make it larger or smaller
    Delete                    leave it out; tick it in the list to bring it back
    Escape                    take a drag back; let go of what is picked
    wheel, +  and  −, Home    larger, smaller, the whole page
    Page Up, Page Down        the page before, the next
    Ctrl+Z, Ctrl+Y            take a step back, do it again

Where an application pack is put together
    Space on a part           take it in or leave it out; Up and Down move it
    Enter on a bookmark       go to its page
    wheel, +  and  −, Home    larger, smaller, the whole page
    Page Up, Page Down        the page before, the next

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
    F2 to F10                 take up a tool; the menu Tools names them
    Ctrl+F                    find a block or a tag
    Ctrl+Z                    take back what was done last
    Ctrl+Y, Ctrl+Shift+Z      do again what was taken back
    Ctrl+K                    this page
"""
"""What keys and mouse do."""
