"""The species of a farm in a drop-down list, with one entry for all of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QComboBox

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

EVERY_SPECIES = "every species"


def fill_species(field: QComboBox, farm: Farm) -> None:
    """Offer every species and each of the farm's, by name; a code is the data behind each."""
    field.clear()
    field.addItem(EVERY_SPECIES, "")
    for code, name in zip(farm.species["code"], farm.species["name"], strict=True):
        field.addItem(str(name or code), str(code))
