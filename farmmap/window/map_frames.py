"""Pictures of the map: painted in the background, kept, and laid where they belong while the map moves.

Three pictures are kept. The exact one shows what is to be seen, dot for dot. A
wide one carries on from its edges, so that the map can be pushed without an
empty strip. One of the whole farm lies beneath both, for what is farther away.
While the map moves these are shifted and stretched, which takes a millisecond
or two; the exact picture follows as soon as the map rests.
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QPointF, QRectF, QSize, QSizeF, QTimer, Signal
from PySide6.QtGui import QPainter

from farmmap.window.jobs import Jobs
from farmmap.window.map_picture import Picture, Turns, Work, lay

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.drawing.map_painter import MapPainter
    from farmmap.scene.raster_layer import TileSource
    from farmmap.scene.view import Bounds, View
    from farmmap.window.map_contents import Contents

REST_MS = 20
"""The map rests when it has not moved for so long. [ms]"""
WIDER = 0.35
"""How far the wide picture goes beyond each edge, in parts of the width."""
_KEY = "frame"


class MapFrames(QObject):
    """Keeps the pictures of one map and has the next one painted."""

    painted = Signal()
    """Another picture is to be laid on the screen."""

    def __init__(self, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._jobs = jobs
        self._wanted: Picture | None = None
        self._exact: Picture | None = None
        self._wide: Picture | None = None
        self._whole: Picture | None = None
        self._works: list[Work] = []
        self.tiles: TileSource | None = None
        """Who reads the pictures under the map."""
        self.turns = Turns()
        """Entered while the window paints, so that the background waits."""
        self._painter: MapPainter | None = None  # one picture at a time is painted, so they share what it remembers
        self._mender: MapPainter | None = None
        self._unseen = False  # whether a picture came that waits for the next frame
        self._is_frozen = False  # whether the collector passes over what this farm is made of
        self._edited: list[Bounds] = []  # ground where the wide picture and that of the whole farm are behind
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._rested)

    @property
    def has_picture(self) -> bool:
        """Whether there is anything to lay on the screen."""
        return self._exact is not None

    def forget(self) -> None:
        """Keep no picture: what comes next is another farm, or none."""
        self._rest.stop()
        self._drop_works()
        self._wanted = self._exact = self._wide = self._whole = None
        self._is_frozen = False
        self._edited = []

    def want(self, contents: Contents, view: View, dots_per_mm: float, size: QSize) -> None:
        """Say what is to be seen now; it will be painted in the background.

        Parameters
        ----------
        contents : Contents
            What is painted.
        view : View
            Which ground.
        dots_per_mm : float
            Resolution, in dots of the device.
        size : QSize
            Width and height. [dots]
        """
        before = self._wanted
        self._wanted = Picture(contents, view, dots_per_mm, size, 0 if before is None else before.edition)
        if before is None or before.contents is not contents:
            if before is not None and before.contents.farm is not contents.farm:
                self._drop_works()
            if before is not None and contents.edited is not None:
                self._mend(before.contents)
            self._ask()
        elif not self._wanted.shows(before):
            self.turns.claim()
            self._rest.start()
            if not self._is_covered():
                self._ask()

    def paint_again(self) -> None:
        """Paint afresh, as pictures under the map have come."""
        if self._wanted is not None:
            self._wanted = replace(self._wanted, edition=self._wanted.edition + 1)
            self._ask()

    def is_exact(self, contents: Contents | None, view: View | None) -> bool:
        """Whether the exact picture of contents in a view is there."""
        exact = self._exact
        return exact is not None and exact.contents is contents and exact.view == view and exact.shows(self._wanted)

    def lay(self, painter: QPainter) -> None:
        """Lay down the pictures that there are with a painter whose coordinates are dots of the device."""
        wanted, exact = self._wanted, self._exact
        if wanted is None or exact is None:
            return
        self._unseen = False
        if self._edited and not exact.place_in(wanted).contains(QRectF(QPointF(), QSizeF(wanted.size))):
            self._mend_others()
        lay(painter, [picture for picture in (exact, self._wide, self._whole) if picture is not None], wanted)

    # How it is done

    def _is_covered(self) -> bool:
        """Whether a picture at the right scale shows all that is wanted."""
        wanted = self._wanted
        assert wanted is not None
        whole = QRectF(0, 0, wanted.size.width(), wanted.size.height())
        return any(
            picture is not None and picture.is_as_near(wanted) and picture.place_in(wanted).contains(whole)
            for picture in (self._exact, self._wide)
        )

    def _rested(self) -> None:
        wanted = self._wanted
        if self._unseen:
            self.painted.emit()
        if wanted is None:
            return
        if wanted.shows(self._exact):
            self._ask_for_more()
            return
        self._drop_works(but=wanted)
        if not self._works:
            self._ask()

    def _drop_works(self, but: Picture | None = None) -> None:
        """Stop the painting of pictures that are not wanted any more."""
        kept: list[Work] = []
        for work in self._works:
            if but is not None and but.shows(work.picture) and not work.is_done:
                kept.append(work)
            work.is_dropped = work not in kept
        self._works = kept

    def _ask(self) -> None:
        if self._wanted is not None:
            self._start(self._wanted, self._take_exact)

    def _ask_for_more(self) -> None:
        """Have painted what the exact picture lacks while the map moves."""
        exact = self._exact
        assert exact is not None
        wide = exact.wider(round(exact.size.width() * WIDER))
        whole = exact.whole_farm()
        if not wide.shows(self._wide):
            self._start(wide, self._take_wide)
        elif not whole.shows(self._whole):
            self._start(whole, self._take_whole)

    def _start(self, picture: Picture, take: Callable[[Picture], None]) -> None:
        if self._painter is None:
            self._painter = _map_painter(self.tiles)
        map_painter, work = self._painter, Work(picture, self.turns)
        self._works = [*(one for one in self._works if not one.is_done), work]
        self._jobs.start(_KEY, lambda _progress: work.run(map_painter), take, owner=self)

    def _mend(self, before: Contents) -> None:
        """Paint at once what an edit changed over the pictures, until the exact one is there."""
        wanted, exact = self._wanted, self._exact
        assert wanted is not None
        if self._mender is None:
            self._mender = _map_painter(self.tiles)
        fits = exact is not None and exact.contents is before
        if not (fits or self._edited):
            self._wide = self._whole = None
        grounds = wanted.contents.edited or []
        self._edited += grounds
        mended = exact.mended_with(wanted.contents, grounds, self._mender) if exact is not None and fits else None
        # where so much is changed, painting all of it is quicker
        self._exact = mended or wanted.painted(self._mender, lambda: None)
        self.painted.emit()

    def _mend_others(self) -> None:
        """Paint what edits changed over the pictures that lie around and beneath the exact one, now they are seen."""
        assert self._wanted is not None
        if self._mender is not None:
            contents, painter = self._wanted.contents, self._mender
            self._wide = self._wide and self._wide.mended_with(contents, self._edited, painter)
            self._whole = self._whole and self._whole.mended_with(contents, self._edited, painter)
        self._edited = []

    def _take_exact(self, picture: Picture) -> None:
        wanted = self._wanted
        if wanted is None or picture.contents.farm is not wanted.contents.farm:
            return
        if wanted.shows(self._exact) and not wanted.shows(picture):
            return  # the map was moved there and back: what was wanted in between came too late
        self._exact, self._edited = picture, []
        self._wide = self._of_same_contents(self._wide)
        self._whole = self._of_same_contents(self._whole)
        self._unseen = self._rest.isActive()  # while the map moves, the next frame is not far
        if not self._unseen:
            self.painted.emit()
        self._take_more()

    def _of_same_contents(self, picture: Picture | None) -> Picture | None:
        """Return the picture if it goes with the exact one."""
        same = picture is not None and self._exact is not None and picture.contents is self._exact.contents
        return picture if same else None

    def _take_whole(self, picture: Picture) -> None:
        if self._wanted is not None and picture.contents is self._wanted.contents:
            self._whole = picture
            if not self._is_frozen:
                _keep_from_collections()
                self._is_frozen = True
            self._take_more()

    def _take_wide(self, picture: Picture) -> None:
        if self._wanted is not None and picture.contents is self._wanted.contents:
            self._wide = picture
            self._take_more()

    def _take_more(self) -> None:
        if self._wanted is not None and self._wanted.shows(self._exact) and not self._rest.isActive():
            self._ask_for_more()


def _keep_from_collections() -> None:
    """Have the garbage collector pass over all that the program has made by now, once a farm that was opened is shown.

    It would be looked through again and again for nothing, a tenth of a second
    each time, in the middle of a frame.
    """
    gc.freeze()


def _map_painter(tiles: TileSource | None) -> MapPainter:
    from farmmap.drawing.fonts import family
    from farmmap.drawing.map_painter import MapPainter

    family()  # typefaces are registered here, in the window's thread
    return MapPainter(tiles)
