"""Finds out in the background how the trees grow, once a day is asked for that has not come."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from farmmap.progress import Progress
from farmmap.window.jobs import Jobs
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before it is needed
    from farmmap.farm.farm import Farm

KEY, WORDS = "growth", "Working out how each species grows"


class Forecasts(QObject):
    """Lets the session show a forecast as soon as it can be had; until then it shows what is known.

    If it cannot be had, or the person stops it, the session goes back to the day that is shown. An edit or another
    farm begins it anew; species that were done already are not done again.
    """

    def __init__(self, session: Session, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session, self._jobs = session, jobs
        self._at_work: Farm | None = None
        self._in_vain: Farm | None = None
        session.wanted_changed.connect(self._look)
        session.farm_changed.connect(self._leave_other_farm)

    def _leave_other_farm(self) -> None:
        """Stop what is worked out for a farm that is not looked at any more."""
        if self._at_work is not None and self._at_work is not self._session.farm:
            self._at_work = None
            self._jobs.stop(KEY)

    def _look(self) -> None:
        farm = self._session.farm
        if farm is None or not self._session.is_waiting or farm is self._at_work:
            return
        if farm is self._in_vain:
            self._session.set_date(self._session.on)
            return
        self._at_work = farm
        self._jobs.start(
            KEY,
            lambda progress: _work_out(farm, progress),
            lambda _answer: self._take(farm),
            lambda error: self._fail(farm, error),
            words=WORDS,
            owner=self,
            stopped=lambda: self._give_up(farm),
        )

    def _take(self, farm: Farm) -> None:
        if farm is self._at_work:
            self._at_work = None
            self._session.growth_found()

    def _fail(self, farm: Farm, error: BaseException) -> None:
        """Tell of it once for each farm."""
        if farm is self._at_work:
            self._in_vain = farm
            self._give_up(farm)
            self._jobs.failed.emit(error)

    def _give_up(self, farm: Farm) -> None:
        if farm is self._at_work:
            self._at_work = None
            self._session.set_date(self._session.on)


def _work_out(farm: Farm, progress: Progress) -> None:
    from farmmap.figures.standing_ahead import growth_for

    progress.step(0, 1, WORDS)
    growth_for(farm)
