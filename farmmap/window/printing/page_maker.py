"""Setting pages in the background: composed anew when the choices change, painted anew when they are shown larger."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QImage

from farmmap.progress import Progress
from farmmap.sheets.page import Document, Page
from farmmap.sheets.subjects import Composed
from farmmap.sheets.write import page_picture
from farmmap.window.jobs import Jobs
from farmmap.window.printing.handing_on import pauses
from farmmap.window.printing.seen import Seen

MM_PER_INCH = 25.4
COMPOSING = "sheet preview"


@dataclass(frozen=True)
class SetPage:
    """A page as it was composed, with its picture.

    Attributes
    ----------
    asked : object
        What was asked for.
    composed : Composed
        All the pages, and what to know about them.
    number : int
        Which of them it is, from 0.
    image : QImage
        Its picture.
    """

    asked: object
    composed: Composed
    number: int
    image: QImage

    @property
    def page(self) -> Page:
        """The page."""
        return self.composed.document.pages[self.number]

    @property
    def document(self) -> Document:
        """All the pages."""
        return self.composed.document


class PageMaker(QObject):
    """Composes pages and paints one of them; the newest wish counts.

    Parameters
    ----------
    jobs : Jobs
        Where the work runs.
    parent : QObject
        Who asks.
    """

    made = Signal(object)
    """A `SetPage`, composed anew."""
    painted = Signal(object)
    """A `SetPage` that was only painted anew."""
    refused = Signal(object)
    stopped = Signal()

    def __init__(self, jobs: Jobs, parent: QObject) -> None:
        super().__init__(parent)
        self._jobs = jobs

    def compose(
        self,
        asked: object,
        make: Callable[[Progress], Composed],
        number: int,
        seen: Seen,
        words: str = "",
    ) -> None:
        """Compose pages, and paint one of them, or the last if there are fewer; what was asked before is dropped.

        Parameters
        ----------
        asked : object
            What is asked for; it comes back with the page.
        make : callable
            Composes the pages, in the background.
        number : int
            Which page is painted, from 0.
        seen : Seen
            How large it will be shown.
        words : str
            What is being done, for a person who waits; "" to say nothing.
        """

        def work_out(progress: Progress) -> SetPage:
            composed = make(progress)
            at = min(number, len(composed.document.pages) - 1)
            return SetPage(asked, composed, at, _painted(composed.document.pages[at], seen, progress))

        self._jobs.stop(COMPOSING)
        self._jobs.start(
            COMPOSING, work_out, self.made.emit, self.refused.emit, words, self, stopped=self._tell_stopped
        )

    def _tell_stopped(self) -> None:
        """Tell that the work was stopped, unless only newer work took its place."""
        if not self._jobs.is_busy(COMPOSING):
            self.stopped.emit()

    def paint(self, before: SetPage, number: int, seen: Seen) -> None:
        """Paint a page of those that were composed, as large as it will be shown."""

        def work_out(progress: Progress) -> SetPage:
            return replace(before, number=number, image=_painted(before.document.pages[number], seen, progress))

        self._jobs.start("sheet picture", work_out, self.painted.emit, self.refused.emit, owner=self)


def _painted(page: Page, seen: Seen, progress: Progress) -> QImage:
    dots_per_inch = seen.dots_per_mm(page.paper) * MM_PER_INCH
    return page_picture(page, dots_per_inch, pause=pauses(progress, "setting the page"))
