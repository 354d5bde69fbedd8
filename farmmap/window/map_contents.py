"""What the map shows: trees that stand on the day, margins, and the scene drawn from them, made in the background."""

from __future__ import annotations

import datetime as dt
import importlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from farmmap.progress import Progress
from farmmap.window.edit_queue import Coming, Show
from farmmap.window.jobs import Jobs
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.farm.edits import Edit
    from farmmap.farm.farm import Farm
    from farmmap.figures.margins import Margin
    from farmmap.figures.standing import Standing
    from farmmap.scene.backdrops import Backdrops
    from farmmap.scene.scene import Scene
    from farmmap.scene.view import Bounds


NEEDED_TO_PAINT = (
    "farmmap.drawing.map_painter",
    "farmmap.drawing.symbol_painter",
    "farmmap.scene.pick",
    "farmmap.window.find",
    "farmmap.window.map_overlay",
)
EVERYWHERE = (-1e9, -1e9, 1e9, 1e9)
"""Ground that holds any farm. [m]"""


@dataclass(frozen=True, eq=False)
class Contents:
    """One farm on one day, ready to be painted and picked from.

    Attributes
    ----------
    farm, on
        What it was made from.
    hidden : frozenset of str
        Layers that are left out.
    standing : Standing
        Trees that count on the day.
    margins : tuple of Margin
        Creek margins of the farm.
    scene : Scene
        What is painted.
    backdrops : Backdrops
        What lies under it.
    edited : list of tuple or None
        Rectangles of ground where it differs from ``edited_from``; None if that is not known. [m]
    edited_from : Contents or None
        What it was made from by an edit, until it is shown.
    """

    farm: Farm
    on: dt.date
    hidden: frozenset[str]
    standing: Standing
    margins: tuple[Margin, ...]
    scene: Scene
    backdrops: Backdrops
    edited: list[Bounds] | None = None
    edited_from: Contents | None = None

    @property
    def bounds(self) -> Bounds | None:
        """Ground of all that is drawn; where nothing is, of the backdrops in sight; None if there are none. [m]."""
        if self.scene.bounds is not None:
            return self.scene.bounds
        under = [] if "backdrops" in self.hidden else [one.file.bounds for one in self.backdrops.pictures if one.file]
        if self.backdrops.heights is not None and self.backdrops.elevation and "relief" not in self.hidden:
            under.append(self.backdrops.heights.bounds)
        if not under:
            return None
        west, south, east, north = zip(*under, strict=True)
        return min(west), min(south), max(east), max(north)

    def pickable(self) -> frozenset[str]:
        """Layers and species that are in sight, as `farmmap.scene.pick` wants them."""
        layers = {name for name in ("trees", "blocks", "margins") if name not in self.hidden}
        species = {f"species:{code}" for code in self.standing.species_names}
        hidden = species & self.hidden
        return frozenset(layers | (species - hidden if hidden else set()))


def make_contents(
    farm: Farm,
    on: dt.date,
    theme: str,
    hidden: frozenset[str],
    progress: Progress,
    backdrops: Backdrops | None = None,
) -> Contents:
    """Work out what the map shows of a farm on a day over its backdrops; takes no part in any window."""
    from farmmap.figures.margins import margins
    from farmmap.figures.standing import standing
    from farmmap.scene.backdrops import NONE
    from farmmap.scene.build import build_scene

    for name in NEEDED_TO_PAINT:  # brought in here, so that the window's thread does not have to wait for them
        importlib.import_module(name)
    progress.step(0, 3, "finding the trees that stand")
    trees = standing(farm, on)
    progress.step(1, 3, "laying out the margins")
    strips = tuple(margins(farm))
    progress.step(2, 3, "drawing the map")
    backdrops = backdrops or NONE
    scene = build_scene(farm, on, theme=theme, hidden=hidden, margins=strips, backdrops=backdrops)
    return Contents(farm, on, hidden, trees, strips, scene, backdrops)


def make_contents_after(
    contents: Contents,
    after: Farm,
    edit: Edit,
    on: dt.date,
    theme: str | None = None,
    hidden: frozenset[str] | None = None,
) -> Contents:
    """Return what the map shows after an edit; quick once the figures were carried over; takes no part in any window.

    Parameters
    ----------
    contents : Contents
        What it shows now.
    after : Farm
        The farm after the edit.
    edit : Edit
        What was changed.
    on : date
        The day that is shown.
    theme : str, optional
        The look; the one of ``contents`` if not given.
    hidden : frozenset of str, optional
        Layers that are left out; those of ``contents`` if not given.
    """
    from farmmap.figures.margins import margins
    from farmmap.figures.standing import standing
    from farmmap.scene.build import build_scene
    from farmmap.scene.edited import edited_grounds
    from farmmap.scene.trees_after import keep_trees

    before, now = contents.farm, standing(after, on)
    look, hidden = theme or contents.scene.theme.name, contents.hidden if hidden is None else hidden
    same = on == contents.on and look == contents.scene.theme.name and hidden == contents.hidden
    trees = keep_trees(before, after, edit, on, contents.standing, now) if same else None
    strips = tuple(margins(after))
    scene = build_scene(after, on, theme=look, hidden=hidden, margins=strips, backdrops=contents.backdrops)
    edited = [EVERYWHERE]
    if trees is not None:
        edited = edited_grounds(before, after, edit, trees, contents.margins, strips)
    return Contents(after, on, hidden, now, strips, scene, contents.backdrops, edited, contents)


class MapContents(QObject):
    """Keeps the map's contents in step with the session."""

    changed = Signal()

    def __init__(self, session: Session, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._jobs = jobs
        self._theme = "light"
        self.now: Contents | None = None
        self._under: tuple[Path | None, Backdrops] | None = None
        session.farm_changed.connect(self.refresh)
        session.date_changed.connect(self.refresh)
        session.hidden_changed.connect(self.refresh)

    def set_theme(self, name: str) -> None:
        """Draw in the colours of ``light`` or ``dark``."""
        if name != self._theme:
            self._theme = name
            self.refresh()

    def lay_on(self, path: Path | None, backdrops: Backdrops) -> None:
        """Draw the farm of a file over these backdrops from now on."""
        self._under = path, backdrops
        self.refresh(again=True)

    def refresh(self, *, again: bool = False) -> None:
        """Work the contents out anew, also ``again`` what is shown already."""
        farm = self._session.farm
        if farm is None:
            self._jobs.stop("map")
            self.now = None
            self.changed.emit()
            return
        on, theme, hidden = self._session.on, self._theme, self._session.hidden
        if not again and self._shows(farm, on, theme, hidden):
            return
        under = self._under[1] if self._under is not None and self._under[0] == self._session.path else None
        self._jobs.start(
            "map",
            lambda progress: make_contents(farm, on, theme, hidden, progress, under),
            self._take,
            words="Drawing the map",
        )

    def _shows(self, farm: Farm, on: dt.date, theme: str, hidden: frozenset[str]) -> bool:
        """Whether that is what the map shows already, and nothing else is on its way."""
        now = self.now
        return (
            now is not None
            and now.farm is farm
            and now.on == on
            and now.scene.theme.name == theme
            and now.hidden == hidden
            and not self._jobs.is_busy("map")
        )

    def _take(self, contents: Contents) -> None:
        farm = self._session.farm
        is_first = self.now is None or self.now.farm is not farm
        if contents.farm is not farm or (is_first and self._jobs.is_busy("map")):
            return  # stale, or better ones come at once, as most of what they take was worked out for these
        self.now = contents
        self.changed.emit()

    def prepare(self) -> Callable[[Coming], Show] | None:
        """Return what makes the contents after an edit in the background, from those that are shown now."""
        now = self.now
        if now is None or now.farm is not self._session.farm:
            return None

        def work(coming: Coming) -> Show:
            made = make_contents_after(now, coming.farm, coming.edit, coming.on)
            return lambda: self.take(made)

        return work

    def take(self, contents: Contents) -> None:
        """Show what `make_contents_after` made, in the window's thread; what was edited stands on the next frame."""
        self._jobs.stop("map")
        edited = contents.edited if contents.edited_from is self.now else None
        self.now = replace(contents, edited=edited, edited_from=None)
        self.changed.emit()
