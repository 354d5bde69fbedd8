"""What the map shows: trees that stand on the day, margins, and the scene drawn from them, made in the background."""

from __future__ import annotations

import datetime as dt
import importlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from farmmap.progress import Progress
from farmmap.window.jobs import Jobs
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.farm.farm import Farm
    from farmmap.figures.margins import Margin
    from farmmap.figures.standing import Standing
    from farmmap.scene.scene import Scene


NEEDED_TO_PAINT = (
    "farmmap.drawing.map_painter",
    "farmmap.drawing.symbol_painter",
    "farmmap.scene.pick",
    "farmmap.window.find",
    "farmmap.window.map_overlay",
)


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
    """

    farm: Farm
    on: dt.date
    hidden: frozenset[str]
    standing: Standing
    margins: tuple[Margin, ...]
    scene: Scene

    def pickable(self) -> frozenset[str]:
        """Layers and species that are in sight, as `farmmap.scene.pick` wants them."""
        layers = {name for name in ("trees", "blocks", "margins") if name not in self.hidden}
        species = {f"species:{code}" for code in self.standing.species_names}
        hidden = species & self.hidden
        return frozenset(layers | (species - hidden if hidden else set()))


def make_contents(farm: Farm, on: dt.date, theme: str, hidden: frozenset[str], progress: Progress) -> Contents:
    """Work out what the map shows of a farm on a day; takes no part in any window."""
    from farmmap.figures.margins import margins
    from farmmap.figures.standing import standing
    from farmmap.scene.build import build_scene

    for name in NEEDED_TO_PAINT:  # brought in here, so that the window's thread does not have to wait for them
        importlib.import_module(name)
    progress.step(0, 3, "finding the trees that stand")
    trees = standing(farm, on)
    progress.step(1, 3, "laying out the margins")
    strips = tuple(margins(farm))
    progress.step(2, 3, "drawing the map")
    scene = build_scene(farm, on, theme=theme, hidden=hidden, margins=strips)
    return Contents(farm, on, hidden, trees, strips, scene)


class MapContents(QObject):
    """Keeps the map's contents in step with the session."""

    changed = Signal()

    def __init__(self, session: Session, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._jobs = jobs
        self._theme = "light"
        self.now: Contents | None = None
        session.farm_changed.connect(self.refresh)
        session.date_changed.connect(self.refresh)
        session.hidden_changed.connect(self.refresh)

    def set_theme(self, name: str) -> None:
        """Draw in the colours of ``light`` or ``dark``."""
        if name != self._theme:
            self._theme = name
            self.refresh()

    def refresh(self) -> None:
        """Work the contents out anew."""
        farm = self._session.farm
        if farm is None:
            self._jobs.stop("map")
            self.now = None
            self.changed.emit()
            return
        on, theme, hidden = self._session.on, self._theme, self._session.hidden
        self._jobs.start(
            "map",
            lambda progress: make_contents(farm, on, theme, hidden, progress),
            self._take,
            words="Drawing the map",
        )

    def _take(self, contents: Contents) -> None:
        if contents.farm is self._session.farm:
            self.now = contents
            self.changed.emit()
