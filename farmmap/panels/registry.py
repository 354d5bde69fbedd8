"""What a panel is, and finding those that are installed: ours and anybody's, by the same door."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.installed_parts import BrokenPart, installed_parts
from farmmap.scene.scene import Chosen

GROUP = "farmmap.panels"
"""Entry-point group under which a package offers its panels."""


@dataclass(frozen=True)
class Option:
    """A number that a person may set for a panel; the window makes the form.

    Attributes
    ----------
    name : str
        Name, unit last, such as ``class_cm``.
    words : str
        What it is, for people.
    unit : str
        Unit shown after the number.
    least, most, step : float
        Smallest and largest value, and what one press of the arrow adds.
    start : callable
        Given the farm, the value to start from.
    """

    name: str
    words: str
    unit: str
    least: float
    most: float
    step: float
    start: Callable[[Farm], float]


@dataclass(frozen=True)
class Options:
    """What a panel is asked for.

    Attributes
    ----------
    on : date
        The day to work out for.
    chosen : Chosen or None
        What is chosen on the map.
    values : mapping of str to float
        The panel's own options by name.
    folder : Path or None
        Folder of the farm file, from which its backdrops are looked for.
    asked : object
        What the view's own form asks for, see `farmmap.panels.panel_view.PanelView.asked`.
    """

    on: dt.date
    chosen: Chosen | None = None
    values: Mapping[str, float] = field(default_factory=dict[str, float])
    folder: Path | None = None
    asked: object = None


@dataclass(frozen=True)
class Panel:
    """One panel of the window.

    Attributes
    ----------
    name : str
        What stands on its tab.
    reads : frozenset of str
        Tables whose change makes it stale.
    work_out : callable
        Figures from a farm; pure, without Qt, run in the background.
    options : tuple of Option
        Numbers that a person may set.
    view : str or None
        ``module:Class`` of a `farmmap.panels.panel_view.PanelView`, loaded
        when first shown; None for the ready-made table.
    rows_are : str or None
        Kind of thing that a row's id stands for: ``block``, ``margin`` or ``tree``.
    follows_choice : bool
        Whether the figures depend on what is chosen.
    stays_for : frozenset of str
        Kinds of things that it shows when they are chosen on the map; then it stays in front.
    takes_long : bool
        Whether an edit is shown without waiting for its figures, which follow.
    rank : int
        Where it stands among the others, lowest first.
    """

    name: str
    reads: frozenset[str]
    work_out: Callable[[Farm, Options], FigureTable]
    options: tuple[Option, ...] = ()
    view: str | None = None
    rows_are: str | None = None
    follows_choice: bool = False
    stays_for: frozenset[str] = frozenset()
    takes_long: bool = False
    rank: int = 100


def find_panels() -> tuple[tuple[Panel, ...], tuple[BrokenPart, ...]]:
    """Return the panels that are installed, by rank, and those that could not be loaded."""
    panels, broken = installed_parts(GROUP, Panel)
    return tuple(sorted(panels, key=lambda panel: panel.rank)), broken
