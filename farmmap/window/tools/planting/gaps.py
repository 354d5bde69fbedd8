"""Replacing the dead of a planting: how many live is asked, and what to plant again is shown."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QVBoxLayout, QWidget

from farmmap.errors import FarmmapError
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.window.tools.planting.results import PlainTable

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.farm.heights import Heights
    from farmmap.plans.planting.keeping.gapping import Gapping
    from farmmap.plans.planting.keeping.kept import KeptPlan


def standing_counts(farm: Farm, name: str) -> dict[str, tuple[str, int]]:
    """Return how many plants of a plan were planted, by code of their species, with its name."""
    mine = farm.trees[((farm.trees["plan"] == name) & (farm.trees["stage"] == "existing")).to_numpy(bool)]
    names = dict(zip(farm.species["code"], farm.species["name"], strict=True))
    counts = mine["species"].value_counts().items()
    return {str(code): (str(names.get(code) or code), int(count)) for code, count in counts}


def replaced(
    farm: Farm, kept: KeptPlan, alive: Mapping[str, int], planted: Mapping[str, int], heights: Heights | None
) -> Gapping:
    """Return what to plant again.

    Parameters
    ----------
    farm : Farm
        The farm.
    kept : KeptPlan
        The plan that was planted.
    alive, planted : mapping of str to int
        Found alive, and planted, by code of the species.
    heights : Heights or None
        The ground.

    Raises
    ------
    FarmmapError
        The plan cannot be made again, or a count cannot be.
    """
    from farmmap.plans.planting.keeping.gapping import Counted, gapping
    from farmmap.plans.planting.make import make_plan
    from farmmap.window.tools.planting.compare import draft_of
    from farmmap.window.tools.planting.workings import ground_of, kinds_of, named_by

    draft = draft_of(farm, kept)
    if isinstance(draft, FarmmapError):
        raise draft
    ground = ground_of(farm, kept.name)
    plan = make_plan(ground, draft.stretch, draft.recipe, name=kept.name, heights=heights)
    named = named_by(kinds_of(farm, draft.recipe).find)
    counts = []
    for species in dict.fromkeys(kin.species for _, kin in plan.kinds):
        code = named(species)[0]
        if planted.get(code):
            counts.append(Counted(alive.get(code, planted[code]), planted[code], species=species))
    return gapping(plan, counts)


class GapsDialog(QDialog):
    """What to plant again, zone by zone, and what to order for it."""

    def __init__(self, name: str, gaps: Gapping, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(f"Replace the dead of {name}")
        self.resize(640, 460)
        self.words = WrappedLabel("\n".join(gaps.notes))
        self.table = PlainTable("What to plant again", ("Zone", "Plant", "Planted", "Alive", "Again", "To order"))
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
        column = QVBoxLayout(self)
        for widget in (self.words, self.table, buttons):
            column.addWidget(widget)
        column.insertStretch(2, 1)
