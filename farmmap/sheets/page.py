"""Pages and what may be chosen for them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from farmmap.farm.farm import Farm
from farmmap.scene.page_items import Box, Item
from farmmap.scene.page_moves import Moved
from farmmap.scene.paper import Paper
from farmmap.scene.scene import Scene
from farmmap.scene.sheet_layout import PagePlan
from farmmap.scene.styles import Theme
from farmmap.scene.view import View


@dataclass(frozen=True)
class SheetOptions:
    """What may be chosen for a page.

    Attributes
    ----------
    paper : str
        Such as ``A4``.
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
        Folder of the farm file, from which its backdrops and photographs are looked for; None to do without them.
    look : str
        ``colour``, ``safe`` for eyes that tell few colours apart, or ``grey`` for photocopies.
    graticule : bool
        Whether lines of latitude and longitude are drawn, and written at the frame besides the grid's coordinates.
    declination : bool
        Whether it is said how a compass needle lies to the map.
    overview : bool or None
        Whether a small map shows where the page lies; None where the page shows only a part of the farm.
    beside : bool
        Whether what stands and what is planned are shown on two maps side by side.
    photos : bool
        Whether photographs are printed on the page.
    note, credits, version : str
        The grower's own words: a note, whose work it is, and which version of the page.
    left_out : frozenset of str
        Names of elements that are left out.
    moved : tuple of Moved
        Elements that were put somewhere by hand.
    """

    paper: str = "A4"
    landscape: bool | None = None
    scale: int | None = None
    title: str | None = None
    hidden: frozenset[str] = frozenset()
    printed_on: dt.date | None = None
    folder: Path | None = None
    look: str = "colour"
    graticule: bool = False
    declination: bool = False
    overview: bool | None = None
    beside: bool = False
    photos: bool = False
    note: str = ""
    credits: str = ""
    version: str = ""
    left_out: frozenset[str] = frozenset()
    moved: tuple[Moved, ...] = ()


@dataclass(frozen=True, eq=False)
class MapOnPage:
    """A map in its frame.

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
    name : str
        Which element of the page it is.
    """

    frame: tuple[float, float, float, float]
    view: View
    scene: Scene
    over_map: tuple[Item, ...]
    name: str = "map"


@dataclass(frozen=True)
class Bookmark:
    """A place that a reader of the file can go to.

    Attributes
    ----------
    words : str
        What it is called.
    level : int
        1 for a chapter, 2 for a part of one, and so on.
    y_mm : float
        How far below the upper edge of its page. [mm]
    """

    words: str
    level: int = 1
    y_mm: float = 0.0


@dataclass(frozen=True, eq=False)
class Page:
    """One page, with everything in its place.

    Attributes
    ----------
    paper : Paper
        The sheet.
    theme : Theme
        The look of what is not map.
    maps : tuple of MapOnPage
        Painted first.
    boxes : tuple of Box
        All else.
    bookmarks : tuple of Bookmark
        Places on it, from top to bottom.
    """

    paper: Paper
    theme: Theme
    maps: tuple[MapOnPage, ...]
    boxes: tuple[Box, ...]
    bookmarks: tuple[Bookmark, ...] = ()


@dataclass(frozen=True, eq=False)
class Document:
    """Pages that are written, printed or looked at together.

    Attributes
    ----------
    title, about : str
        What it is called, and what it is in a sentence.
    farm : Farm
        Whose ground the maps show.
    pages : tuple of Page
        One or more.
    keywords : tuple of str
        What it may be searched by.
    author : str
        Whose work it is; "" if that is not said.
    """

    title: str
    about: str
    farm: Farm
    pages: tuple[Page, ...]
    keywords: tuple[str, ...] = ()
    author: str = ""


@dataclass(frozen=True, eq=False)
class Sheet:
    """A map on a page, with further pages that belong to it, ready to be written.

    Attributes
    ----------
    title : str
        Its title.
    farm : Farm
        Whose map it is.
    plan : PagePlan
        Where everything stands.
    scene : Scene
        What the map shows.
    messages : tuple of str
        What the person who asked for it should know.
    insets : tuple of MapOnPage
        Small maps beside the large one.
    second : tuple of Box
        What is on a second page; empty if there is none.
    further : tuple of tuple of Box
        What is on each page after the second.
    map_second : bool
        Whether the first of the other pages goes before that of the map, which is then on its back.
    """

    title: str
    farm: Farm
    plan: PagePlan
    scene: Scene
    messages: tuple[str, ...]
    insets: tuple[MapOnPage, ...] = ()
    second: tuple[Box, ...] = ()
    further: tuple[tuple[Box, ...], ...] = ()
    map_second: bool = False

    @property
    def more_pages(self) -> tuple[tuple[Box, ...], ...]:
        """What is on each page after the first."""
        return (self.second, *self.further) if self.second else ()

    @property
    def pages(self) -> tuple[Page, ...]:
        """Its pages, each with everything in its place."""
        plan, look = self.plan, self.scene.theme
        large = MapOnPage(plan.frame, plan.view, self.scene, plan.over_map)
        others = [Page(plan.paper, look, (), boxes) for boxes in self.more_pages]
        before = others[: int(self.map_second)]
        return (*before, Page(plan.paper, look, (large, *self.insets), plan.boxes), *others[len(before) :])

    def document(self) -> Document:
        """Return it as what is written and printed."""
        about = f"Map of {self.farm.settings.name}, 1:{self.plan.scale} on {self.plan.paper.name}"
        return Document(self.title, about, self.farm, self.pages)

    @property
    def words(self) -> str:
        """What it is in a line, such as ``A4 landscape, 1:10 000``, and what to know about it."""
        way = "landscape" if self.plan.paper.is_landscape else "portrait"
        scale = f"{self.plan.scale:,}".replace(",", " ")
        number = 1 + len(self.more_pages)
        pages = "" if number == 1 else ", two pages" if number == 2 else f", {number} pages"
        return ". ".join((f"{self.plan.paper.name} {way}, 1:{scale}{pages}", *self.messages))
