"""What is done with a plan: kept, accepted, planted, made good, compared, and written as files."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from farmmap.errors import FarmmapError
from farmmap.progress import Progress
from farmmap.window.tools.planting.box import PlantingBox
from farmmap.window.tools.planting.draft import Draft
from farmmap.window.tools.planting.live import Live
from farmmap.window.tools.sentences import sentence, words_of_error

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm
    from farmmap.plans.planting.keeping.kept import KeptPlan
    from farmmap.plans.planting.recipes.recipe import Recipe
    from farmmap.plans.planting.recipes.rule_set import RuleSet
    from farmmap.window.tools.bench import Bench
    from farmmap.window.tools.planting.gaps import Replaced
    from farmmap.window.tools.planting.workings import Worked

PEGGING_KINDS = "GPX (*.gpx);;GeoJSON (*.geojson);;CSV (*.csv);;GeoPackage (*.gpkg)"
ORDER_KINDS = "CSV (*.csv)"
MAP_KINDS = "PDF (*.pdf);;Picture (*.png)"
RULE_KINDS = "Rules of width (*.csv);;All files (*)"
RECIPE_KINDS = "Recipes (*.toml);;All files (*)"


class PlanActions(QObject):
    """Joins the buttons of the box to what they do.

    Parameters
    ----------
    bench : Bench
        Where edits go.
    live : Live
        The plan.
    box : PlantingBox
        The buttons.
    """

    def __init__(self, bench: Bench, live: Live, box: PlantingBox) -> None:
        super().__init__(live)
        self._bench, self._live, self._box = bench, live, box
        box.keep_wanted.connect(self.keep)
        box.accept_wanted.connect(self.accept)
        plans = box.plans
        plans.open_wanted.connect(self.open_plan)
        plans.back_wanted.connect(self.take_back)
        plans.planted_wanted.connect(self.ask_planted)
        plans.gapping_wanted.connect(self.ask_gapping)
        plans.compare_wanted.connect(self.compare)
        plans.pegging_wanted.connect(self.ask_pegging)
        plans.order_wanted.connect(self.ask_order)
        plans.map_wanted.connect(self.ask_map)
        plans.print_wanted.connect(self.print_plan)
        box.recipe.save_wanted.connect(self.ask_save_recipe)
        box.recipe.open_wanted.connect(self.ask_open_recipe)
        box.width_part.own_wanted.connect(self.ask_own_rules)

    # On the farm

    def keep(self) -> None:
        """Keep the plan beside others."""

        def keep(worked: Worked) -> None:
            def make(farm: Farm) -> Proposed:
                from farmmap.plans.planting.keeping.kept import plan_kept

                _must_be_read_again(farm, worked.plan.recipe)
                return plan_kept(farm, worked.plan)

            self._propose(make)

        self._live.when_ready("keep", keep)

    def accept(self) -> None:
        """Take the plan into the farm as planned."""

        def accept(worked: Worked) -> None:
            def make(farm: Farm) -> Proposed:
                from farmmap.plans.planting.keeping.accept import plan_accepted

                _must_be_read_again(farm, worked.plan.recipe)
                return plan_accepted(farm, worked.plan)

            self._propose(make, lambda: self._live.put_down(worked))

        self._live.when_ready("accept", accept)

    def take_back(self, plan: KeptPlan) -> None:
        """Take a plan back by one step."""

        def make(farm: Farm) -> Proposed:
            from farmmap.plans.planting.keeping.kept import plan_taken_back

            return plan_taken_back(farm, plan.name)

        self._propose(make)

    def ask_planted(self, plan: KeptPlan) -> None:
        """Ask when a plan was planted and how many of each kind, and mark it so."""
        from farmmap.window.tools.planting.planted import CountsDialog, planned_counts

        farm = self._bench.farm
        if farm is None:
            return
        counts = planned_counts(farm, plan.name)
        if not counts:
            self._bench.strip.note(f"Nothing of {plan.name} is only planned any more.", warning=True)
            return
        words = f"How many of {plan.name} were planted? What was not planted stays planned."
        dialog = CountsDialog("Mark as planted", words, counts, "Mark as planted", self._window())

        def agreed(on: dt.date, planted: dict[str, int]) -> None:
            def make(farm: Farm) -> Proposed:
                from farmmap.plans.planting.keeping.accept import plan_planted

                return plan_planted(farm, plan.name, on, planted=planted)

            def show() -> None:
                if self._bench.session.on < on:  # else they would be gone from the map
                    self._bench.session.set_date(on)

            self._propose(make, show)

        dialog.agreed.connect(agreed)
        _open(dialog)

    def ask_gapping(self, plan: KeptPlan) -> None:
        """Ask how many live of each kind, and plan to replace the dead."""
        from farmmap.window.tools.planting.compare import draft_of
        from farmmap.window.tools.planting.gaps import replaced, standing_counts
        from farmmap.window.tools.planting.planted import CountsDialog

        farm, now = self._bench.farm, self._bench.contents.now
        if farm is None:
            return
        counts = standing_counts(farm, plan.name)
        if not counts:
            self._bench.strip.note(f"Nothing of {plan.name} was planted yet.", warning=True)
            return
        heights = None if now is None else now.backdrops.heights
        words = f"How many of {plan.name} did you find alive? Leave a number as it is where none died."
        yes = "Show what to plant again"
        dialog = CountsDialog("Replace the dead", words, counts, yes, self._window(), target=True)
        own_rules = self._box.width_part.own_rules

        def agreed(target_percent: float, alive: dict[str, int]) -> None:
            planted = {code: count for code, (_, count) in counts.items()}

            def work(_progress: Progress) -> Replaced:
                draft = draft_of(farm, plan, own_rules)
                if isinstance(draft, FarmmapError):
                    raise draft
                return replaced(farm, draft, alive, planted, heights, target_percent=target_percent)

            self._bench.jobs.start(
                "planting gaps",
                work,
                lambda found: self._show_gaps(plan.name, found),
                lambda error: self._bench.strip.note(words_of_error(error), warning=True),
                words="Working out what to plant again",
                owner=self,
            )

        dialog.agreed.connect(agreed)
        _open(dialog)

    def _show_gaps(self, name: str, found: Replaced) -> None:
        from farmmap.window.tools.planting.gaps import GapsDialog, write_order_of

        dialog = GapsDialog(name, found.gaps, self._window())

        def write(path: Path) -> None:
            self._in_background(lambda: write_order_of(found, path), path, dialog.say)

        dialog.order_wanted.connect(
            lambda: self._ask_file("Order list", "order to replace the dead.csv", ORDER_KINDS, write, name, dialog)
        )
        _open(dialog)

    def open_plan(self, plan: KeptPlan) -> None:
        """Put a kept plan into the box."""
        farm = self._bench.farm
        if farm is None:
            return
        own_rules = self._box.width_part.own_rules

        def read(_progress: Progress) -> Draft | FarmmapError:
            from farmmap.window.tools.planting.compare import draft_of

            return draft_of(farm, plan, own_rules)

        def show(draft: Draft | FarmmapError) -> None:
            if isinstance(draft, FarmmapError):
                self._bench.strip.note(words_of_error(draft), warning=True)
            else:
                self._live.change(draft)

        self._bench.jobs.start("planting recipe", read, show, owner=self)

    def compare(self, plans: tuple[KeptPlan, ...]) -> None:
        """Show plans side by side, with the one in the box."""
        from farmmap.window.tools.planting.compare import CompareDialog

        farm, now = self._bench.farm, self._bench.contents.now
        if farm is None:
            return
        draft = self._live.draft if self._live.worked is not None and not self._live.trouble else None
        if draft is not None and any(plan.name == draft.name for plan in plans):
            draft = None  # it is among them
        heights = None if now is None else now.backdrops.heights
        own_rules = self._box.width_part.own_rules
        _open(CompareDialog(farm, draft, plans, own_rules, heights, self._bench.jobs, self._window()))

    # Files

    def ask_pegging(self) -> None:
        """Ask for a file, and write where each plant stands into it."""

        def write(path: Path, worked: Worked) -> None:
            from farmmap.plans.planting.keeping.handing_on import write_pegging

            write_pegging(worked.plan, worked.farm, path)

        self._hand_on("Pegging list", "pegging.gpx", PEGGING_KINDS, write)

    def ask_order(self) -> None:
        """Ask for a file, and write what to order into it."""

        def write(path: Path, worked: Worked) -> None:
            from farmmap.plans.planting.keeping.handing_on import write_order

            write_order(worked.plan, path, worked.farm)

        self._hand_on("Order list", "order.csv", ORDER_KINDS, write)

    def ask_map(self) -> None:
        """Ask for a file, and write the printed map of the plan in the box into it."""
        session = self._bench.session
        on, folder = session.on, None if session.path is None else session.path.parent
        hidden = session.hidden

        def write(path: Path, worked: Worked) -> None:
            from farmmap.sheets.page import SheetOptions
            from farmmap.sheets.plan_sheet import compose_plan
            from farmmap.sheets.write import write_sheet

            options = SheetOptions(hidden=hidden, folder=folder)
            write_sheet(compose_plan(worked.farm, on, worked.plan, options), path)

        self._hand_on("Map of the planting", "map.pdf", MAP_KINDS, write)

    def print_plan(self, plan: KeptPlan) -> None:
        """Print a plan of the farm, with the choice of paper, scale and title."""
        from farmmap.sheets.chosen import SheetChoices
        from farmmap.window.printing.dialog import PrintDialog

        bench = self._bench
        if bench.farm is not None:
            first = SheetChoices("plan", plan.name)
            _open(PrintDialog(bench.session, bench.jobs, bench.files, self._window(), first=first))

    def ask_save_recipe(self) -> None:
        """Ask for a file, and write the recipe into it."""
        recipe = self._live.draft.recipe

        def write(path: Path) -> None:
            from farmmap.window.tools.planting.workings import write_recipe

            self._in_background(lambda: write_recipe(recipe, path), path)

        self._ask_file("Save recipe", "recipe.toml", RECIPE_KINDS, write)

    def ask_open_recipe(self) -> None:
        """Ask for a recipe file, and go on with it."""
        dialog = QFileDialog(self._window(), "Open recipe", self._folder(), RECIPE_KINDS)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(lambda name: self._live.read(Path(name)))
        _open(dialog)

    def ask_own_rules(self) -> None:
        """Ask for a file of rules of width of the grower's own, and offer what it holds."""
        dialog = QFileDialog(self._window(), "Open rules of your own", self._folder(), RULE_KINDS)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)

        def read(path: Path) -> dict[str, RuleSet]:
            from farmmap.plans.planting.recipes.rules import rule_sets

            return {name: one for name, one in rule_sets(path).items() if one.own}

        def show(rules: dict[str, RuleSet]) -> None:
            self._box.width_part.offer_own(rules)
            many = f"{len(rules)} rule{'' if len(rules) == 1 else 's'} of your own"
            self._bench.strip.note(f"{many} can be chosen now, by a rule from the list: {', '.join(rules)}.")

        def failed(error: BaseException) -> None:
            self._bench.strip.note(words_of_error(error), warning=True)
            if not isinstance(error, FarmmapError):
                self._bench.jobs.failed.emit(error)

        def start(name: str) -> None:
            self._bench.jobs.start("planting rules", lambda _progress: read(Path(name)), show, failed, owner=self)

        dialog.fileSelected.connect(start)
        _open(dialog)

    # How it is done

    def _propose(self, make: Callable[[Farm], Proposed], then: Callable[[], None] | None = None) -> None:
        """Work an edit out in the background, as it may be of many plants, and carry it out."""
        farm = self._bench.farm
        why = self._bench.why_not()
        if farm is None or why:
            self._bench.strip.note(why, warning=True)
            return

        def carry_out(proposed: Proposed) -> None:
            def same(now: Farm) -> Proposed:
                return proposed if now is farm else make(now)

            self._bench.propose(same, (), lambda _done: None if then is None else then())

        def refused(error: BaseException) -> None:
            self._bench.strip.note(words_of_error(error), warning=True)
            if not isinstance(error, FarmmapError):
                self._bench.jobs.failed.emit(error)

        self._bench.jobs.start(
            "planting edit", lambda _progress: make(farm), carry_out, refused, words="Working out the edit", owner=self
        )

    def _hand_on(self, title: str, ending: str, kinds: str, write: Callable[[Path, Worked], None]) -> None:
        """Ask for a file, and write the plan in the box into it, or else the one that was accepted last."""
        live = self._live
        if live.trouble:
            self._bench.strip.note(f"Put this right first: {live.trouble}", warning=True)
            return

        def chosen(path: Path) -> None:
            def take(worked: Worked) -> None:
                self._in_background(lambda: write(path, worked), path)

            if live.draft.creek:
                live.when_ready(str(path), take)
            elif live.accepted is not None:
                take(live.accepted)

        self._ask_file(title, ending, kinds, chosen)

    def _in_background(self, do: Callable[[], None], path: Path, say: Callable[[str], None] | None = None) -> None:
        """Write a file, and say what became of it under the map and, if asked for, elsewhere too."""

        def tell(words: str, *, warning: bool = False) -> None:
            self._bench.strip.note(words, warning=warning)
            if say is not None:
                say(words)

        def failed(error: BaseException) -> None:
            tell(words_of_error(error), warning=True)
            if not isinstance(error, FarmmapError):
                self._bench.jobs.failed.emit(error)

        self._bench.jobs.start(
            f"planting file {path.name}",
            lambda _progress: do(),
            lambda _done: tell(sentence(f"Written: {path.name}")),
            failed,
            words=f"Writing {path.name}",
            owner=self,
            may_stop=False,
        )

    def _ask_file(
        self,
        title: str,
        ending: str,
        kinds: str,
        take: Callable[[Path], None],
        name: str = "",
        over: QWidget | None = None,
    ) -> None:
        accepted = self._live.accepted
        name = name or self._live.draft.name or (accepted.plan.name if accepted else "planting")
        safe = "".join(letter if letter.isalnum() or letter in " -_" else "-" for letter in name)
        dialog = QFileDialog(over or self._window(), title, str(Path(self._folder()) / f"{safe} {ending}"), kinds)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        suffix = Path(ending).suffix

        def follow(kind: str) -> None:
            dialog.setDefaultSuffix(kind.partition("*.")[2].rstrip(")").split()[0] if "*." in kind else suffix[1:])

        dialog.setDefaultSuffix(suffix[1:])
        dialog.filterSelected.connect(follow)
        dialog.fileSelected.connect(lambda chosen: take(Path(chosen)))
        _open(dialog)

    def _folder(self) -> str:
        path = self._bench.session.path
        return str(path.parent if path is not None else Path.home())

    def _window(self) -> QDialog:
        return self._bench.map_view.window()  # type: ignore[return-value]


def _must_be_read_again(farm: Farm, recipe: Recipe) -> None:
    """Refuse to keep a recipe that could not be read again.

    Raises
    ------
    RecipeError
        What is wrong with it.
    """
    from farmmap.plans.planting.recipes.kinds import plant_kinds
    from farmmap.plans.planting.recipes.recipe_file import recipe_as_text, recipe_from_text

    recipe_from_text(recipe_as_text(recipe), "this plan", plant_kinds(farm).find)


def _open(dialog: QDialog) -> None:
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.open()
