"""The plan that follows the draft: worked out in the background, the newest wins, the last good one stays shown.

Each change is answered at once by its ground and about-figures (`Sketched`),
then by the whole plan, and at rest by the exact one (`Worked`). What is shown
never goes back to an older draft.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from farmmap.errors import FarmmapError
from farmmap.progress import Progress
from farmmap.window.tools.planting.draft import Draft
from farmmap.window.tools.sentences import words_of_error

if TYPE_CHECKING:  # heavy to import
    import numpy as np
    from numpy.typing import NDArray

    from farmmap.farm.farm import Farm
    from farmmap.farm.heights import Heights
    from farmmap.plans.planting.recipes.recipe import Recipe
    from farmmap.window.tools.bench import Bench
    from farmmap.window.tools.planting.workings import Outlook, Sketched, Worked

REST_MS = 350
"""Areas and crowns are worked out exactly once nothing was changed for so long. [ms]"""
PAINTED_MS = 12
"""The whole plan is begun so long after its ground is there, so that this is painted first. [ms]"""
SOON_S = 0.2
"""A plan that takes no longer than this needs no sketch before it: rows follow the mouse themselves. [s]"""
KEYS = ("planting sketch", "planting", "planting outlook", "planting outlook at rest", "planting crowns")
"""Work that is done in the background, the newest of each in place of those before it."""


class Live(QObject):
    """Keeps plan, outlook and crowns in step with the draft."""

    changed = Signal()
    """The draft is another."""
    worked_out = Signal()
    """Another plan is there."""
    sketched = Signal()
    """The ground of another draft is there, and about what it comes to; its plan is on its way."""
    looked_ahead = Signal()
    """Another outlook is there."""
    crowns_grew = Signal()
    """Crowns of another year are there."""
    troubled = Signal()
    """What is wrong is another."""

    def __init__(self, bench: Bench, draft: Draft, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self.draft = draft
        self.worked: Worked | None = None
        """The last good plan."""
        self.sketch: Sketched | None = None
        """About what the draft comes to, until its plan is there; None once it is."""
        self._asked = 0
        self._took_s = float("inf")
        """How long the last quick plan took to work out, in s."""
        self.accepted: Worked | None = None
        """The plan that was taken into the farm last, for handing on."""
        self._when_ready: dict[str, Callable[[Worked], None]] = {}
        self.outlook: Outlook | None = None
        self.year = 0
        self.crowns: NDArray[np.float64] | None = None
        """Diameters of the crowns of the last good plan in the year that is shown. [grid m]"""
        self.trouble = ""
        """Why the draft cannot be worked out, in words; "" if it can."""
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._work_out_exactly)
        self._then = QTimer(self)
        self._then.setSingleShot(True)
        self._then.setInterval(PAINTED_MS)
        self._then.timeout.connect(self._work_out_after_sketch)

    @property
    def is_up_to_date(self) -> bool:
        """Whether plan and outlook are those of the draft, and nothing is being worked out."""
        waits = self._rest.isActive() or self._then.isActive()
        return not waits and not any(map(self._bench.jobs.is_busy, KEYS))

    @property
    def shown(self) -> Worked | Sketched | None:
        """What the map shows: the newest that is there."""
        return self.sketch or self.worked

    def change(self, draft: Draft) -> None:
        """Go on with another draft."""
        if draft == self.draft:
            return
        same_plan = self._same_plan(draft, self.draft)
        self.draft = draft
        self.changed.emit()
        if not same_plan:
            self.work_out()

    @property
    def is_current(self) -> bool:
        """Whether the plan is that of the draft and of the farm as it is, exactly or not."""
        worked = self.worked
        return worked is not None and worked.farm is self._bench.farm and self._same_plan(worked.draft, self.draft)

    def _same_plan(self, one: Draft, other: Draft) -> bool:
        """Whether drafts come to the same plan; a name matters only if a plan of that name stands on the farm."""
        if replace(one, name=other.name) != other:
            return False
        farm = self._bench.farm
        return one.name == other.name or farm is None or not _stand_on(farm, {one.name, other.name})

    def when_ready(self, what: str, do: Callable[[Worked], None]) -> None:
        """Do something with the exact plan of the draft, now or once it is worked out; not at all if it cannot be.

        Asked for the same ``what`` again meanwhile, it is done once.
        """
        if self.is_current and self.worked is not None and self.worked.is_exact:
            do(replace(self.worked, plan=replace(self.worked.plan, name=self.draft.name or self.worked.plan.name)))
            return
        self._when_ready[what] = do
        if self._rest.isActive():  # nobody has to wait for the rest
            self._rest.stop()
            self._work_out_exactly()

    def put_down(self, accepted: Worked) -> None:
        """Begin anew with the same recipe: the plan was taken into the farm."""
        self.stop()
        self._when_ready.clear()
        self.accepted, self.worked, self.sketch, self.outlook, self.crowns = accepted, None, None, None, None
        self.draft = replace(self.draft, creek="", from_m=None, to_m=None, name="")
        self._say("")
        self.changed.emit()
        self.worked_out.emit()

    def work_out(self, *, quick: bool = True) -> None:
        """Work the draft out, unless something is wrong with it already; quickly first, exactly at rest."""
        self._rest.stop()
        self._then.stop()
        farm, draft = self._bench.farm, self.draft
        if farm is None:
            return
        self._asked += 1
        self._bench.jobs.stop("planting outlook at rest")
        troubles = draft.troubles() if draft.creek else ()
        if not draft.creek or troubles:
            self._bench.jobs.stop("planting sketch")
            self._bench.jobs.stop("planting")
            self.sketch = None
            self._when_ready.clear()
            if not troubles:
                self.worked = self.outlook = self.crowns = None
            self._say(" ".join(troubles))
            self.worked_out.emit()
        elif quick and not self._is_soon_there(farm, draft):
            self._sketch_out(farm, draft)
        else:
            self._bench.jobs.stop("planting sketch")
            self._work_out_whole(farm, draft, quick=quick)

    def _sketch_out(self, farm: Farm, draft: Draft) -> None:
        """Find the ground of the draft and about what it comes to, then its plan."""
        heights, asked, worked, outlook = self._heights(), self._asked, self.worked, self.outlook

        def work(_progress: Progress) -> Sketched:
            from farmmap.window.tools.planting.workings import sketch_out

            return sketch_out(farm, draft, heights, worked, outlook)

        def take(sketch: Sketched) -> None:
            if farm is not self._bench.farm or draft.creek != self.draft.creek:
                return  # stale
            last = self.worked
            self.sketch = sketch.with_plants_of(last) if last and last.draft.creek == draft.creek else sketch
            if asked == self._asked:
                self._say("")
                self._then.start()
            self.sketched.emit()

        self._bench.jobs.start("planting sketch", work, take, partial(self._failed, asked), owner=self)

    def _work_out_after_sketch(self) -> None:
        if self._bench.farm is not None:
            self._work_out_whole(self._bench.farm, self.draft, quick=True)

    def _work_out_whole(self, farm: Farm, draft: Draft, *, quick: bool) -> None:
        heights, asked, last = self._heights(), self._asked, self.worked

        def work(_progress: Progress) -> tuple[Worked, float]:
            from farmmap.window.tools.planting.workings import work_out

            began = time.perf_counter()
            return work_out(farm, draft, heights, quick=quick, last=last), time.perf_counter() - began

        def take(done: tuple[Worked, float]) -> None:
            worked, took_s = done
            if quick and (last is None or worked.plan.plants is not last.plan.plants):
                self._took_s = took_s
            self._take(asked, worked)

        self._bench.jobs.start("planting", work, take, partial(self._failed, asked), owner=self)

    def _is_soon_there(self, farm: Farm, draft: Draft) -> bool:
        """Whether a whole plan takes little time: the last one did, or only what things cost is another than in it."""
        last = self.worked
        if last is None or last.farm is not farm:
            return False
        if self.sketch is None and self._took_s <= SOON_S and last.draft.stretch == draft.stretch:
            return True
        from farmmap.window.tools.planting.workings import ground_of, stands_alike

        return stands_alike(last, ground_of(farm, draft.name), draft, self._heights())

    def show_year(self, year: int) -> None:
        """Show crowns as they will be in a year after planting; 0 shows none."""
        self.year = year
        self._grow()

    def read(self, path: Path) -> None:
        """Go on with the recipe of a file."""
        farm = self._bench.farm
        if farm is None:
            return

        def work(_progress: Progress) -> Recipe:
            from farmmap.window.tools.planting.workings import read_recipe

            return read_recipe(farm, path)

        self._bench.jobs.start("planting recipe", work, self.take_recipe, self._tell, owner=self)

    def take_recipe(self, recipe: Recipe) -> None:
        """Go on with another recipe."""
        self.change(replace(self.draft, recipe=replace(recipe, lines={})))  # lines of a file say nothing in the box

    def stop(self) -> None:
        """Work nothing more out."""
        self._rest.stop()
        self._then.stop()
        for key in (*KEYS, "planting recipe"):
            self._bench.jobs.stop(key)

    # How it is done

    def _heights(self) -> Heights | None:
        now = self._bench.contents.now
        return None if now is None else now.backdrops.heights

    def _take(self, asked: int, worked: Worked) -> None:
        if worked.draft.creek != self.draft.creek or worked.farm is not self._bench.farm:
            return  # stale
        self.worked = worked
        if self.crowns is not None and len(self.crowns) != len(worked.plan.plants):
            self.crowns = None
        self._grow()
        is_newest = asked == self._asked
        if not is_newest and self.sketch is not None and self.sketch.draft != worked.draft:
            # the ground that is shown is newer already
            self.sketch = self.sketch.with_plants_of(worked)
            self.sketched.emit()
            return
        self.sketch = None
        if self.is_current:
            self._say("")
        self.worked_out.emit()
        self._look_ahead(worked)
        if not is_newest:
            return  # a newer one is on its way
        if worked.is_exact:
            waiting, self._when_ready = self._when_ready, {}
            for what, do in waiting.items():
                self.when_ready(what, do)
        elif self._when_ready:
            self._work_out_exactly()
        else:
            self._rest.start()

    def _work_out_exactly(self) -> None:
        self.work_out(quick=False)

    def _look_ahead(self, worked: Worked) -> None:
        """Look ahead quickly, and exactly if the plan is exact; that takes longer, and gives way to what is newer."""

        def look(progress: Progress, *, exact: bool) -> Outlook:
            from farmmap.window.tools.planting.workings import look_ahead

            return look_ahead(worked, exact=exact, progress=progress)

        for key, exact in (("planting outlook", False), ("planting outlook at rest", True)):
            if worked.is_exact or not exact:
                self._bench.jobs.start(key, partial(look, exact=exact), self._take_outlook, owner=self)

    def _take_outlook(self, outlook: Outlook) -> None:
        worked, now = self.worked, self.outlook
        if worked is None or (outlook.is_exact and outlook.plan is not worked.plan):
            return
        if now is not None and now.is_exact and now.plan is outlook.plan:
            return  # it came after the exact one
        self.outlook = outlook
        self.looked_ahead.emit()

    def _grow(self) -> None:
        worked, year = self.worked, self.year
        if worked is None or year <= 0:
            self.crowns = None
            self.crowns_grew.emit()
            return

        def work(_progress: Progress) -> tuple[Worked, NDArray[np.float64]]:
            from farmmap.window.tools.planting.workings import crowns_at

            return worked, crowns_at(worked, year)

        self._bench.jobs.start("planting crowns", work, self._take_crowns, owner=self)

    def _take_crowns(self, grown: tuple[Worked, NDArray[np.float64]]) -> None:
        worked, crowns = grown
        if worked is self.worked and self.year > 0:
            self.crowns = crowns
            self.crowns_grew.emit()

    def _failed(self, asked: int, error: BaseException) -> None:
        if asked != self._asked:
            return  # the newer draft will say what is wrong with it
        self._when_ready.clear()
        if self.sketch is not None:
            self.sketch = None  # the last good plan stays shown
            self.worked_out.emit()
        self._tell(error)

    def _tell(self, error: BaseException) -> None:
        if isinstance(error, FarmmapError):
            self._say(words_of_error(error))
        else:
            self._say("This could not be worked out; the last plan stays shown.")
            self._bench.jobs.failed.emit(error)

    def _say(self, trouble: str) -> None:
        if trouble != self.trouble:
            self.trouble = trouble
            self.troubled.emit()

    @property
    def farm(self) -> Farm | None:
        """The farm as it is."""
        return self._bench.farm


def _stand_on(farm: Farm, names: set[str]) -> bool:
    """Whether anything of a plan of one of these names may have come into the farm."""
    from farmmap.plans.planting.keeping.kept import kept_plans

    return any(plan.name in names for plan in kept_plans(farm))
