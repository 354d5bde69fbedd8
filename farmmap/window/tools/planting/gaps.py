"""Replacing the dead of a planting: how many live is asked, and what to plant again is shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QFrame, QScrollArea, QVBoxLayout, QWidget

from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.window.tools.planting.results import PlainTable

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.farm.heights import Heights
    from farmmap.plans.planting.keeping.gapping import Gapping
    from farmmap.plans.planting.plan import PlantingPlan
    from farmmap.window.tools.planting.draft import Draft


WIDE_PX, ROUND_ROWS_PX, MOST_HIGH_PX = 640, 200, 640
"""Width of the dialog, room above and below its rows, and its greatest height."""


def standing_counts(farm: Farm, name: str) -> dict[str, tuple[str, int]]:
    """Return how many plants of a plan were planted, by code of their species, with its name."""
    mine = farm.trees[((farm.trees["plan"] == name) & (farm.trees["stage"] == "existing")).to_numpy(bool)]
    names = dict(zip(farm.species["code"], farm.species["name"], strict=True))
    counts = mine["species"].value_counts().items()
    return {str(code): (str(names.get(code) or code), int(count)) for code, count in counts}


@dataclass(frozen=True, eq=False)
class Replaced:
    """What to plant again.

    Attributes
    ----------
    farm : Farm
        The farm.
    plan : PlantingPlan
        The plan as it was planted.
    gaps : Gapping
        What to plant again, and to order for it.
    """

    farm: Farm
    plan: PlantingPlan
    gaps: Gapping


def replaced(
    farm: Farm,
    draft: Draft,
    alive: Mapping[str, int],
    planted: Mapping[str, int],
    heights: Heights | None,
    *,
    target_percent: float = 100.0,
) -> Replaced:
    """Return what to plant again.

    Parameters
    ----------
    farm : Farm
        The farm.
    draft : Draft
        The plan that was planted.
    alive, planted : mapping of str to int
        Found alive, and planted, by code of the species.
    heights : Heights or None
        The ground.
    target_percent : float
        Of the plants planted, so many are to stand again. [%]

    Raises
    ------
    BadInput
        The plan cannot be made again, or a count cannot be.
    """
    from farmmap.plans.planting.keeping.gapping import Counted, gapping
    from farmmap.plans.planting.make import make_plan
    from farmmap.window.tools.planting.workings import ground_of, kinds_of

    ground = ground_of(farm, draft.name)
    plan = make_plan(ground, draft.stretch, draft.recipe, name=draft.name, heights=heights)
    kinds = kinds_of(farm, draft.recipe)
    counts = []
    for species in dict.fromkeys(kin.species for _, kin in plan.kinds):
        code = kinds.code_and_name(species)[0]
        if planted.get(code):
            counts.append(Counted(alive.get(code, planted[code]), planted[code], species=species))
    return Replaced(farm, plan, gapping(plan, counts, target_percent=target_percent))


def write_order_of(found: Replaced, path: Path) -> None:
    """Write what is planted again and ordered for it as CSV.

    Raises
    ------
    BadInput
        It cannot be written there.
    """
    from farmmap.plans.planting.keeping.gapping import write_gapping

    write_gapping(found.plan, found.gaps, path, found.farm)


class GapsDialog(QDialog):
    """What to plant again, zone by zone, and what to order for it."""

    order_wanted = Signal()
    """What to order is to be written as a file."""

    def __init__(self, name: str, gaps: Gapping, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(f"Replace the dead of {name}")
        self.words = WrappedLabel("\n".join(gaps.notes))
        heads = ("Zone", "Plant", "Planted", "Alive", "Again", "To order")
        self.table = PlainTable("What to plant again", heads, words=(0, 1))
        order = {(line.zone_name, line.species, line.stock): line.to_order for line in gaps.orders}
        self.table.show_rows(
            [
                (
                    gap.zone,
                    f"{gap.species}, {gap.stock}",
                    f"{gap.planted:,}",
                    f"{gap.alive:,}",
                    f"{gap.to_replace:,}",
                    f"{order.get((gap.zone, gap.species, gap.stock), 0):,}",
                )
                for gap in gaps.gaps
            ]
        )
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        self.order = buttons.addButton("Order list…", QDialogButtonBox.ButtonRole.ActionRole)
        self.order.setToolTip("What to plant again and to order for it, as CSV")
        self.order.setEnabled(bool(gaps.orders))
        self.order.clicked.connect(self.order_wanted)
        self.answer = WrappedLabel("" if gaps.orders else "There is nothing to order.")
        self.answer.setProperty("quiet", True)
        inside = QWidget()
        lines = QVBoxLayout(inside)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.addWidget(self.table)
        lines.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidget(inside)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        for part in (scroll.viewport(), inside):
            part.setAutoFillBackground(False)
        column = QVBoxLayout(self)
        for widget, stretch in ((self.words, 0), (scroll, 1), (self.answer, 0), (buttons, 0)):
            column.addWidget(widget, stretch)
        self.resize(WIDE_PX, min(self.table.height() + ROUND_ROWS_PX, MOST_HIGH_PX))

    def say(self, words: str) -> None:
        """Say what became of the file."""
        self.answer.setText(words)
