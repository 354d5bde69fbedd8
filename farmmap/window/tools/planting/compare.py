"""Plans side by side: a table with a column for each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import BadInput, FarmmapError
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.progress import Progress
from farmmap.window.jobs import Jobs
from farmmap.window.tools.planting.plan_words import cover_figures, figures_of
from farmmap.window.tools.sentences import words_of_error

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.farm.heights import Heights
    from farmmap.plans.planting.keeping.kept import KeptPlan
    from farmmap.plans.planting.recipes.rule_set import RuleSet
    from farmmap.window.tools.planting.draft import Draft

Column = tuple[str, list[tuple[str, str]]]
"""Name of a plan, and its figures with their names; a single figure without a name says why there are none."""


def compared(
    farm: Farm, drafts: Sequence[tuple[str, Draft | FarmmapError]], heights: Heights | None, progress: Progress
) -> list[Column]:
    """Return the figures of plans, each worked out afresh for the farm as it is."""
    from farmmap.window.tools.planting.workings import look_ahead, work_out

    columns: list[Column] = []
    for place, (name, draft) in enumerate(drafts):
        progress.step(place, len(drafts), f"working out {name}")
        try:
            if isinstance(draft, FarmmapError):
                raise draft
            worked = work_out(farm, draft, heights)
            outlook = look_ahead(worked, exact=True)
            columns.append(
                (
                    name,
                    [
                        ("Width at the handles", _widths(worked.width_m)),
                        *figures_of(worked, None),
                        *cover_figures(outlook),
                        ("Creek", draft.creek),
                        ("Recipe", draft.recipe.title),
                    ],
                )
            )
        except FarmmapError as error:
            columns.append((name, [("", words_of_error(error))]))
    return columns


def _widths(width_m: Mapping[str, float]) -> str:
    """Return the widths of the banks in words: ``left 10.0 m, right 12.0 m``."""
    return ", ".join(f"{bank} {width:.1f} m" for bank, width in width_m.items()) or "–"


def drafts_of(
    farm: Farm, plans: Sequence[KeptPlan], own_rules: Mapping[str, RuleSet]
) -> list[tuple[str, Draft | FarmmapError]]:
    """Return kept plans as drafts, or why one cannot be read."""
    return [(plan.name, draft_of(farm, plan, own_rules)) for plan in plans]


def draft_of(farm: Farm, plan: KeptPlan, own_rules: Mapping[str, RuleSet]) -> Draft | FarmmapError:
    """Return a kept plan as a draft, or why it cannot be read.

    Parameters
    ----------
    farm : Farm
        The farm.
    plan : KeptPlan
        The plan.
    own_rules : mapping of str to RuleSet
        Rules of width of the grower's own that were opened, for a plan that names one without bringing it along.
    """
    from farmmap.plans.planting.keeping.kept import recipe_of
    from farmmap.plans.planting.recipes.faults import RecipeError
    from farmmap.plans.planting.recipes.rules import rule_sets
    from farmmap.window.tools.planting.draft import Draft

    try:
        stretch = plan.stretch
        return Draft(
            replace(recipe_of(farm, plan, {**rule_sets(), **own_rules}), lines={}),
            stretch.creek,
            stretch.banks,
            stretch.from_m,
            stretch.to_m,
            plan.name,
        )
    except RecipeError as error:
        if not any(fault.key.endswith("rule_set") for fault in error.faults):
            return error
        return BadInput(
            f"{plan.name} goes by a rule of width that is not here: {error.faults[0].why.partition(';')[0]}. If it is "
            "yours, open its file first (How wide, Open rules of your own), then open the plan again and keep it: from "
            "then on the plan holds the rule itself."
        )
    except FarmmapError as error:
        return error


class CompareDialog(QDialog):
    """Works the plans out in the background, then shows them.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    in_box : Draft or None
        The plan in the box.
    plans : sequence of KeptPlan
        The others.
    own_rules : mapping of str to RuleSet
        Rules of width of the grower's own that were opened.
    heights : Heights or None
        The ground.
    jobs : Jobs
        Works in the background.
    """

    def __init__(
        self,
        farm: Farm,
        in_box: Draft | None,
        plans: Sequence[KeptPlan],
        own_rules: Mapping[str, RuleSet],
        heights: Heights | None,
        jobs: Jobs,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Plans side by side")
        self.resize(860, 560)
        self.words = WrappedLabel("Working out the plans …")
        self.table = QTableWidget()
        self.table.setAccessibleName("Plans side by side")
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        for widget, stretch in ((self.words, 0), (self.table, 1), (buttons, 0)):
            column.addWidget(widget, stretch)

        def work(progress: Progress) -> list[Column]:
            now: list[tuple[str, Draft | FarmmapError]] = (
                [] if in_box is None else [(f"{in_box.name or 'New plan'} (in the box)", in_box)]
            )
            return compared(farm, [*now, *drafts_of(farm, plans, own_rules)], heights, progress)

        jobs.start("planting compare", work, self.show_columns, self._failed, words="Comparing plans", owner=self)

    def show_columns(self, columns: list[Column]) -> None:
        """Show the plans."""
        names = list(dict.fromkeys(name for _, figures in columns for name, _ in figures if name))
        self.table.setColumnCount(len(columns))
        self.table.setRowCount(len(names))
        self.table.setHorizontalHeaderLabels([name for name, _ in columns])
        self.table.setVerticalHeaderLabels(names)
        self.table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        troubles: list[str] = []
        for place, (plan, figures) in enumerate(columns):
            values = dict(figures)
            if "" in values:
                troubles.append(f"{plan}: {values['']}")
            for row, name in enumerate(names):
                item = QTableWidgetItem(values.get(name, "–"))
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(row, place, item)
        self.words.setText("\n".join(troubles) or "Each is worked out for the farm as it is now.")

    def _failed(self, error: BaseException) -> None:
        self.words.setText(words_of_error(error))
