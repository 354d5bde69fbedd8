"""A page and what may be chosen for it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from farmmap.scene.page_items import Box, Item
from farmmap.scene.scene import Scene
from farmmap.scene.sheet_layout import PagePlan
from farmmap.scene.view import View


@dataclass(frozen=True)
class SheetOptions:
    """What may be chosen for a page.

    Attributes
    ----------
    paper : str
        ``A4`` to ``A0``.
    landscape : bool or None
        Lying or upright; None for the way that shows the farm larger.
    scale : int or None
        The N of a scale 1:N; None for the largest round scale that shows the whole farm.
    title : str or None
        None for the name of the farm.
    hidden : frozenset of str
        Layers that are left out, as in `farmmap.scene.build.build_scene`.
    printed_on : date or None
        Day that is printed as that of printing; None for today.
    folder : Path or None
        Folder of the farm file, from which its backdrops are looked for; None to do without them.
    """

    paper: str = "A4"
    landscape: bool | None = None
    scale: int | None = None
    title: str | None = None
    hidden: frozenset[str] = frozenset()
    printed_on: dt.date | None = None
    folder: Path | None = None


@dataclass(frozen=True, eq=False)
class Inset:
    """A small map of its own on a page.

    Attributes
    ----------
    frame : tuple of float
        Left, top, width and height. [mm]
    view : View
        What it shows.
    scene : Scene
        The map.
    over_map : tuple of Item
        Drawn upon it, from the upper left corner of the page.
    """

    frame: tuple[float, float, float, float]
    view: View
    scene: Scene
    over_map: tuple[Item, ...]


@dataclass(frozen=True, eq=False)
class Sheet:
    """A page, ready to be written.

    Attributes
    ----------
    title : str
        Its title.
    farm_name : str
        Whose map it is.
    plan : PagePlan
        Where everything stands.
    scene : Scene
        What the map shows.
    messages : tuple of str
        What the person who asked for it should know.
    insets : tuple of Inset
        Small maps beside the large one.
    second : tuple of Box
        What is on a second page; empty if there is none.
    further : tuple of tuple of Box
        What is on each page after the second.
    """

    title: str
    farm_name: str
    plan: PagePlan
    scene: Scene
    messages: tuple[str, ...]
    insets: tuple[Inset, ...] = ()
    second: tuple[Box, ...] = ()
    further: tuple[tuple[Box, ...], ...] = ()

    @property
    def more_pages(self) -> tuple[tuple[Box, ...], ...]:
        """What is on each page after the first."""
        return (self.second, *self.further) if self.second else ()

    @property
    def words(self) -> str:
        """What it is in a line, such as ``A4 landscape, 1:10 000``, and what to know about it."""
        way = "landscape" if self.plan.paper.is_landscape else "portrait"
        scale = f"{self.plan.scale:,}".replace(",", " ")
        number = 1 + len(self.more_pages)
        pages = "" if number == 1 else ", two pages" if number == 2 else f", {number} pages"
        return ". ".join((f"{self.plan.paper.name} {way}, 1:{scale}{pages}", *self.messages))
